// What was hung: the run, its members, loads and stages, as the run sheet has them.
#include "core/quantity/units.hpp"
#include "tools/report/as_built/writer.hpp"

namespace hangtrue::report {

namespace {

std::string stiffness_words(double bending_N_m2, const Figures& figures) {
  if (figures.show.is_metric()) return figures.plain(bending_N_m2 * 1e-3, 1) + " kN m\xC2\xB2";
  return figures.plain(bending_N_m2 / (kPoundForce_N * kInch_m * kInch_m) * 1e-6, 2) +
         " \xC3\x97 10\xE2\x81\xB6 lbf in\xC2\xB2";
}

Table member_table(const AsBuiltWriter& of) {
  Table table{of.said("Members"),
              columns(of.said("member|>from|>to|material|>depth|>bending stiffness EI|carries")),
              {}};
  for (const sheet::MemberEntry& member : of.run.members)
    table.rows.push_back({{member.name, of.place(member.from_m), of.place(member.to_m),
                           member.material.empty() ? "-" : member.material,
                           member.depth_m > 0 ? of.length(member.depth_m) : of.said("given section"),
                           stiffness_words(member.bending_N_m2, of),
                           member.as_one ? of.said("as one with others") : of.said("by itself")}});
  return table;
}

Table load_table(const AsBuiltWriter& of) {
  const sheet::RunSheet& run = of.run;
  Table table{of.said("Loads"), columns(of.said("load|>mass|>sigma|>lasting share")), {}};
  for (const sheet::LoadEntry& load : run.loads)
    table.rows.push_back({{load.name + (load.is_member ? of.said(" (own weight)") : std::string()),
                           load.weight_N > 0 ? sheet::show_mass(load.weight_N / kGravity_m_per_s2, run.show)
                                             : of.said("couple or warmth"),
                           of.percentage(load.sigma, 1), of.percentage(load.permanent_share)}});
  return table;
}

Table stage_table(const AsBuiltWriter& of) {
  const sheet::RunSheet& run = of.run;
  Table table{
      of.said("Stages, in order of the work"), columns(of.said("stage|held by|loads on|surveys")), {}};
  for (std::size_t s = 0; s < run.stages.size(); ++s) {
    std::vector<std::string> held, on, surveys;
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      if (run.beam_stages[s].lists_support(int(i))) held.push_back(run.supports[i].name);
    for (std::size_t i = 0; i < run.loads.size(); ++i)
      if (run.beam_stages[s].lists_load(int(i))) on.push_back(run.loads[i].name);
    for (const job::FittedSurvey& survey : of.from.history.surveys)
      if (survey.stage == int(s)) surveys.push_back(survey.booked.record.begun.id);
    table.rows.push_back(
        {{run.stages[s] + (int(s) == run.tolerance.stage ? of.said(" (finished)") : std::string()),
          listed(held), listed(on), surveys.empty() ? "-" : listed(surveys)}});
  }
  return table;
}

}  // namespace

void AsBuiltWriter::hung() {
  document.add(Heading{said("What was hung")});
  document.add(
      Facts{{{said("Run"), run.title},
             {said("Length, width"), place(run.length_m) + ", " + place(run.width_m)},
             {said("Run sheet"), papers.run_file},
             {said("Stations"), text("{}, from {} to {}", run.stations_m.size(),
                                     place(run.stations_m.front()), place(run.stations_m.back()))}}});
  document.add(member_table(*this));
  document.add(load_table(*this));
  document.add(stage_table(*this));
}

}  // namespace hangtrue::report
