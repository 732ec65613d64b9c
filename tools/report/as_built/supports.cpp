// Supports as the run sheet has them, and the stable marks with the heights that were found.
#include <algorithm>
#include <cmath>

#include "core/quantity/units.hpp"
#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/charts.hpp"

namespace hangtrue::report {

namespace {

/// "rigid", "12.0 kN/mm", "18.0 kN m/rad, pulled home", "free". `turning`: pitch or roll.
std::string restraint_words(const beam::Restraint<double>& restraint, bool turning, const Figures& of) {
  if (!restraint.held) return of.said("free");
  std::string words = of.said("rigid");
  if (restraint.compliance > 0) {
    const double k = 1 / restraint.compliance;
    if (of.show.is_metric())
      words = turning ? of.plain(k * 1e-3, 1) + " kN m/rad" : of.plain(k * 1e-6, 1) + " kN/mm";
    else
      words = turning ? of.plain(k / (kPoundForce_N * kInch_m), 0) + " lbf in/rad"
                      : of.plain(k / kPoundForce_N * kInch_m, 0) + " lbf/in";
  }
  return words + (restraint.pulled_home ? of.said(", pulled home") : std::string());
}

std::string holds_words(beam::Holds holds, const Figures& of) {
  switch (holds) {
    case beam::Holds::both:
      return of.said("both ways");
    case beam::Holds::push:
      return of.said("pushes only");
    case beam::Holds::pull:
      return of.said("pulls only");
  }
  return "";
}

std::string adjust_words(const sheet::Adjust& adjust, const AsBuiltWriter& of) {
  const std::string travel =
      ", " + of.text("{} to {}", of.length(adjust.rise_from_m), of.length(adjust.rise_to_m));
  switch (adjust.by) {
    case sheet::AdjustBy::shims:
      return of.text("shims from \"{}\"", of.run.stocks[std::size_t(adjust.stock)].name) + travel +
             (adjust.pitch ? ", " + of.said("pitch") : "") + (adjust.roll ? ", " + of.said("roll") : "");
    case sheet::AdjustBy::rod:
      return of.text("rod, {} a turn, steps of {}", of.fine(adjust.thread_m),
                     sheet::show_turns(adjust.step_turns, of.show.language)) +
             travel;
    case sheet::AdjustBy::lift:
      return of.text("lift, steps of {}", of.length(adjust.step_m)) + travel;
    case sheet::AdjustBy::nothing:
      break;
  }
  return of.said("nothing");
}

std::string place_words(const beam::Support<double>& support, const AsBuiltWriter& of) {
  if (support.across_m == 0) return of.place(support.at_m);
  const std::string at = of.place(support.at_m), across = of.length(std::abs(support.across_m));
  return support.across_m > 0 ? of.text("{}, {} left", at, across) : of.text("{}, {} right", at, across);
}

Table support_table(const AsBuiltWriter& of) {
  Table table{
      of.said("Supports"), columns(of.said("|support|>at|>rise|>pitch|>roll|holds|adjusted by|>rating")), {}};
  for (std::size_t i = 0; i < of.run.supports.size(); ++i) {
    const beam::Support<double>& support = of.run.beam_supports[i];
    const sheet::SupportEntry& entry = of.run.supports[i];
    table.rows.push_back(
        {{letter(i), entry.name, place_words(support, of), restraint_words(support.rise, false, of),
          restraint_words(support.pitch, true, of), restraint_words(support.roll, true, of),
          holds_words(support.holds, of), adjust_words(entry.adjust, of),
          entry.rating_N ? sheet::show_force(*entry.rating_N, of.show) : of.said("none stated")}});
  }
  return table;
}

Table mark_table(const AsBuiltWriter& of) {
  Table table{
      of.said("Stable marks off the run"), columns(of.said("mark|>at|>height found|>sigma|>readings")), {}};
  for (const sheet::Mark& mark : of.run.marks) {
    const auto* const found = of.estimate({job::UnknownOf::mark_height, mark.name});
    const auto read = std::count_if(of.readings.begin(), of.readings.end(), [&](const JudgedReading& each) {
      return each.booked->kept && each.reading().mark == mark.name;
    });
    const bool known = found != nullptr && read > 0;
    table.rows.push_back(
        {{mark.name, of.place(mark.at_m), known ? of.fine(found->value - of.mean_m) : of.said("not read"),
          known ? of.sigma(found->sigma) : "-", std::to_string(read)}});
  }
  table.note =
      of.said("Heights are above the run's mean height; sigma includes the common height of run and marks.");
  return table;
}

}  // namespace

void AsBuiltWriter::supports() {
  document.add(Heading{said("Supports and stable marks")});
  document.add(support_table(*this));
  if (run.marks.empty())
    document.add(Paragraph{said("The run sheet names none. Without one, a later recheck can compare shape, "
                                "slope and roll, but not "
                                "heights."),
                           said("Stable marks.")});
  else
    document.add(mark_table(*this));
}

}  // namespace hangtrue::report
