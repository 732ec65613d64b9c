// Supports as the run sheet has them, and the stable marks with the heights that were found.
#include <algorithm>
#include <cmath>

#include "core/quantity/units.hpp"
#include "firmware-host/sheet/number.hpp"
#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/charts.hpp"

namespace hangtrue::report {

namespace {

/// "rigid", "12.0 kN/mm", "18.0 kN m/rad, pulled home", "free". `turning`: pitch or roll.
std::string restraint_words(const beam::Restraint<double>& restraint, bool turning, sheet::Show show) {
  if (!restraint.held) return "free";
  std::string text = "rigid";
  if (restraint.compliance > 0) {
    const double k = 1 / restraint.compliance;
    if (show.is_metric())
      text = turning ? sheet::show_number(k * 1e-3, 1) + " kN m/rad"
                     : sheet::show_number(k * 1e-6, 1) + " kN/mm";
    else
      text = turning ? sheet::show_number(k / (kPoundForce_N * kInch_m), 0) + " lbf in/rad"
                     : sheet::show_number(k / kPoundForce_N * kInch_m, 0) + " lbf/in";
  }
  return text + (restraint.pulled_home ? ", pulled home" : "");
}

std::string holds_words(beam::Holds holds) {
  switch (holds) {
    case beam::Holds::both:
      return "both ways";
    case beam::Holds::push:
      return "pushes only";
    case beam::Holds::pull:
      return "pulls only";
  }
  return "";
}

std::string adjust_words(const sheet::Adjust& adjust, const AsBuiltWriter& of) {
  const std::string travel = ", " + of.length(adjust.rise_from_m) + " to " + of.length(adjust.rise_to_m);
  switch (adjust.by) {
    case sheet::AdjustBy::shims:
      return "shims from \"" + of.run.stocks[std::size_t(adjust.stock)].name + '"' + travel +
             (adjust.pitch ? ", pitch" : "") + (adjust.roll ? ", roll" : "");
    case sheet::AdjustBy::rod:
      return "rod, " + of.fine(adjust.thread_m) + " a turn, steps of " +
             sheet::show_turns(adjust.step_turns) + travel;
    case sheet::AdjustBy::lift:
      return "lift, steps of " + of.length(adjust.step_m) + travel;
    case sheet::AdjustBy::nothing:
      break;
  }
  return "nothing";
}

std::string place_words(const beam::Support<double>& support, const AsBuiltWriter& of) {
  if (support.across_m == 0) return of.place(support.at_m);
  return of.place(support.at_m) + ", " + of.length(std::abs(support.across_m)) +
         (support.across_m > 0 ? " left" : " right");
}

Table support_table(const AsBuiltWriter& of) {
  Table table{"Supports", columns("|support|>at|>rise|>pitch|>roll|holds|adjusted by|>rating"), {}};
  for (std::size_t i = 0; i < of.run.supports.size(); ++i) {
    const beam::Support<double>& support = of.run.beam_supports[i];
    const sheet::SupportEntry& entry = of.run.supports[i];
    table.rows.push_back(
        {{letter(i), entry.name, place_words(support, of), restraint_words(support.rise, false, of.show),
          restraint_words(support.pitch, true, of.show), restraint_words(support.roll, true, of.show),
          holds_words(support.holds), adjust_words(entry.adjust, of),
          entry.rating_N ? sheet::show_force(*entry.rating_N, of.show) : "none stated"}});
  }
  return table;
}

Table mark_table(const AsBuiltWriter& of) {
  Table table{"Stable marks off the run", columns("mark|>at|>height found|>sigma|>readings"), {}};
  for (const sheet::Mark& mark : of.run.marks) {
    const auto* const found = of.estimate({job::UnknownOf::mark_height, mark.name});
    const auto read = std::count_if(of.readings.begin(), of.readings.end(), [&](const JudgedReading& each) {
      return each.booked->kept && each.reading().mark == mark.name;
    });
    const bool known = found != nullptr && read > 0;
    table.rows.push_back(
        {{mark.name, of.place(mark.at_m), known ? of.fine(found->value - of.mean_m) : "not read",
          known ? of.sigma(found->sigma) : "-", std::to_string(read)}});
  }
  table.note = "Heights are above the run's mean height; sigma includes the common height of run and marks.";
  return table;
}

}  // namespace

void AsBuiltWriter::supports() {
  document.add(Heading{"Supports and stable marks"});
  document.add(support_table(*this));
  if (run.marks.empty())
    document.add(Paragraph{
        "The run sheet names none. Without one, a later recheck can compare shape, slope and roll, but not "
        "heights.",
        "Stable marks."});
  else
    document.add(mark_table(*this));
}

}  // namespace hangtrue::report
