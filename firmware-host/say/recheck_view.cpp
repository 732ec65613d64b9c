#include <algorithm>

#include <fmt/format.h>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/recheck.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

// As if alone it would have to be more than such a thing can be. The bounds: no source; hardly any load goes to nothing, or
// more than doubles, without anybody knowing.
bool absurd(const job::ChangeSeen& seen) {
  return seen.change.kind == job::QuantityKind::share &&
         (seen.change.value < -0.95 || seen.change.value > 1.5);
}

std::string answer_part(const sheet::RunSheet& run, const job::Recheck& recheck) {
  std::string text =
      folded(fmt::format("From survey {} ({}, {}) to survey {} ({}, {}), {:.0f} days.", recheck.from,
                         run.stages[std::size_t(recheck.from_stage)],
                         date_words(recheck.from_time, recheck.from_clock, run.show), recheck.to,
                         run.stages[std::size_t(recheck.to_stage)],
                         date_words(recheck.to_time, recheck.to_clock, run.show), recheck.drift.days));
  text += "\nWhat moved?  " + in_capitals(verdict(recheck)) + '\n' + folded(in_short(run, recheck)) +
          folded(reason(run, recheck)) + folded(keep_away());
  for (const job::Cause& cause : recheck.causes)
    if (!cause.or_else.empty()) {
      std::vector<std::string> others;
      for (const job::UnknownId& each : cause.or_else) others.push_back(change_words(each, run.show));
      text += folded(
          fmt::format("  In the place of {} these would explain the readings as well: {}. {}",
                      change_words(cause.change.id, run.show), fmt::join(others, "; "), tell_apart(cause)),
          4);
    }
  text += folded("Expected by itself: " + drift(recheck.drift, run.show));
  for (const std::string& each : drift_reasons(recheck.drift)) text += folded("  " + each, 4);
  return text +
         folded(
             recheck.heights_compared
                 ? fmt::format("Heights are compared, tied by the stable marks that both surveys read: {}.",
                               fmt::join(recheck.marks, ", "))
                 : "No stable mark that stood was read in both surveys, so only shape, slope and "
                   "roll are compared: which of two supports moved, and whether all moved, cannot be told.");
}

std::string stations_table(const sheet::RunSheet& run, const job::Recheck& recheck) {
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  std::string text = right_set("at", 14) + right_set("before", 13) + right_set("now", 13) +
                     right_set("change", 13) + right_set("+-", 11) + right_set("roll change", 16) + '\n';
  for (const job::StationChange& each : recheck.stations)
    text += right_set(sheet::show_place(each.at_m, run.show), 14) + right_set(fine(each.from_m), 13) +
            right_set(fine(each.to_m), 13) + right_set(fine(each.change_m), 13) +
            right_set(fine(each.sigma_m), 11) +
            right_set(fine_slope_words(each.roll_change_rad, run.show), 16) + '\n';
  return text + folded(std::string("Heights are less the mean of the earlier survey") +
                       (recheck.heights_compared ? "" : ", changes less their mean") + "; +- is one sigma.");
}

std::string shapes(const sheet::RunSheet& run, const job::Recheck& recheck) {
  if (recheck.stations.empty()) return {};
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  Curve before{'.', "before", {}, {}}, now{'#', "now", {}, {}};
  for (const job::StationChange& each : recheck.stations) {
    before.at_m.push_back(each.at_m);
    before.height_m.push_back(each.from_m);
    now.at_m.push_back(each.at_m);
    now.height_m.push_back(each.to_m);
  }
  std::string level = "Level error at this stage: " + fine(recheck.level.from_m) + " +- " +
                      fine(recheck.level.from_sigma_m) + " before, " + fine(recheck.level.to_m) + " +- " +
                      fine(recheck.level.to_sigma_m) + " now";
  if (recheck.tolerance.level_m > 0)
    level += "; allowed are " + fine(recheck.tolerance.level_m) + " at stage \"" +
             run.stages[std::size_t(recheck.tolerance.stage)] + '"';
  level += '.';
  if (recheck.level.straight)
    level += ' ' + straight_words(*recheck.tolerance.per, *recheck.level.straight, run.show);
  return profile(run, {before, now}, recheck.to_stage, recheck.hang_free) + '\n' + folded(level);
}

std::string changes_table(const job::Recheck& recheck, sheet::Show show) {
  std::string text = column("each change, as if alone", 30) + right_set("value", 13) +
                     right_set("sigma", 12) + right_set("chance", 10) + right_set("would show", 14) + '\n';
  for (const job::ChangeSeen& seen : recheck.seen) {
    text += column(change_words(seen.id, show), 30);
    if (seen.can_be_seen && absurd(seen))
      text += right_set("would not explain what was read", 50);
    else if (seen.can_be_seen)
      text += right_set(' ' + value(seen.change, show), 13) + right_set(' ' + sigma(seen.change, show), 12) +
              right_set(chance(seen.p_corrected), 10) +
              right_set(value({seen.change.kind, seen.smallest_detectable, 0}, show), 14);
    else
      text += right_set("cannot be seen by these readings", 50);
    text += '\n';
  }
  return text + folded(
                    "Chance: that chance alone would show as much in any of them. Would show: the smallest "
                    "that this pair of surveys would have found in four cases of five.");
}

}  // namespace

std::string recheck_view(const sheet::RunSheet& run, const job::Recheck& recheck) {
  std::string text = heading("RECHECK  " + run.title) + answer_part(run, recheck) + '\n' +
                     stations_table(run, recheck) + shapes(run, recheck) + '\n' +
                     changes_table(recheck, run.show);
  for (const auto& pair : recheck.cannot_be_told_apart)
    text += folded("These readings do not tell apart: " + twins(pair) + '.', 4);
  for (const job::Trend& each : recheck.trends)
    text += folded(fmt::format("Trend over {} surveys: {}", each.days.size(), trend(each, run.show)), 4);
  for (const std::string& each : remarks(recheck, run.show)) text += folded("Note: " + each, 6);
  return text;
}

}  // namespace hangtrue::say
