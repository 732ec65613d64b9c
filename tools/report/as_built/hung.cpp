// What was hung: the run, its members, loads and stages, as the run sheet has them.
#include "core/quantity/units.hpp"
#include "firmware-host/sheet/number.hpp"
#include "tools/report/as_built/writer.hpp"

namespace hangtrue::report {

namespace {

std::string stiffness_words(double bending_N_m2, sheet::Show show) {
  if (show.is_metric()) return sheet::show_number(bending_N_m2 * 1e-3, 1) + " kN m\xC2\xB2";
  return sheet::show_number(bending_N_m2 / (kPoundForce_N * kInch_m * kInch_m) * 1e-6, 2) +
         " \xC3\x97 10\xE2\x81\xB6 lbf in\xC2\xB2";
}

Table member_table(const AsBuiltWriter& of) {
  Table table{"Members", columns("member|>from|>to|material|>depth|>bending stiffness EI|carries"), {}};
  for (const sheet::MemberEntry& member : of.run.members)
    table.rows.push_back({{member.name, of.place(member.from_m), of.place(member.to_m),
                           member.material.empty() ? "-" : member.material,
                           member.depth_m > 0 ? of.length(member.depth_m) : "given section",
                           stiffness_words(member.bending_N_m2, of.show),
                           member.as_one ? "as one with others" : "by itself"}});
  return table;
}

Table load_table(const sheet::RunSheet& run) {
  Table table{"Loads", columns("load|>mass|>sigma|>lasting share"), {}};
  for (const sheet::LoadEntry& load : run.loads)
    table.rows.push_back({{load.name + (load.is_member ? " (own weight)" : ""),
                           load.weight_N > 0 ? sheet::show_mass(load.weight_N / kGravity_m_per_s2, run.show)
                                             : "couple or warmth",
                           percentage(load.sigma, 1), percentage(load.permanent_share)}});
  return table;
}

Table stage_table(const AsBuilt& from) {
  const sheet::RunSheet& run = from.run;
  Table table{"Stages, in order of the work", columns("stage|held by|loads on|surveys"), {}};
  for (std::size_t s = 0; s < run.stages.size(); ++s) {
    std::vector<std::string> held, on, surveys;
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      if (run.beam_stages[s].lists_support(int(i))) held.push_back(run.supports[i].name);
    for (std::size_t i = 0; i < run.loads.size(); ++i)
      if (run.beam_stages[s].lists_load(int(i))) on.push_back(run.loads[i].name);
    for (const job::FittedSurvey& survey : from.history.surveys)
      if (survey.stage == int(s)) surveys.push_back(survey.booked.record.begun.id);
    table.rows.push_back({{run.stages[s] + (int(s) == run.tolerance.stage ? " (finished)" : ""), listed(held),
                           listed(on), surveys.empty() ? "-" : listed(surveys)}});
  }
  return table;
}

}  // namespace

void AsBuiltWriter::hung() {
  document.add(Heading{"What was hung"});
  document.add(
      Facts{{{"Run", run.title},
             {"Length, width", place(run.length_m) + ", " + place(run.width_m)},
             {"Run sheet", papers.run_file},
             {"Stations", std::to_string(run.stations_m.size()) + ", from " + place(run.stations_m.front()) +
                              " to " + place(run.stations_m.back())}}});
  document.add(member_table(*this));
  document.add(load_table(run));
  document.add(stage_table(from));
}

}  // namespace hangtrue::report
