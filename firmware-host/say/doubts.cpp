#include "firmware-host/say/doubts.hpp"

#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

std::string places(const sheet::RunSheet& run, const std::vector<double>& at_m) {
  std::vector<std::string> words;
  for (const double at : at_m) words.push_back(sheet::show_place(at, run.show));
  return listed(words);
}

std::string channel_and_place(const sheet::RunSheet& run, const job::ReadingGroup& group) {
  return std::string(word(group.channel.channel)) + " at " + sheet::show_place(group.at_m, run.show);
}

// The time of day of an RFC 3339 date-time, as it stands there: "14:02"; empty for any other text.
std::string time_of_day(const std::string& time) {
  return time.size() >= 16 && time[10] == 'T' ? time.substr(11, 5) : std::string();
}

std::string gap_words(job::ScaleGap gap) {
  switch (gap) {
    case job::ScaleGap::no_kit_sheet:
      return "no kit sheet vouches for it";
    case job::ScaleGap::never_checked:
      return "never checked";
    case job::ScaleGap::failed:
      return "the last check found something wrong";
    case job::ScaleGap::lines_changed:
      return "its lines in the kit sheet changed since";
    case job::ScaleGap::calibrated_since:
      return "calibrated since the check";
    case job::ScaleGap::calibration_past_due:
      return "its calibration was past due";
  }
  std::abort();  // every enumerator stands above
}

struct Kind {
  std::string_view operator()(const job::MovedWhileRead&) const { return "moved while read"; }
  std::string_view operator()(const job::BearingIsOpen&) const { return "bearing open"; }
  std::string_view operator()(const job::StraysComeTogether&) const { return "strays together"; }
  std::string_view operator()(const job::PlaceDisagrees&) const { return "place disagrees"; }
  std::string_view operator()(const job::ReadFromOtherEnd&) const { return "read from other end"; }
  std::string_view operator()(const job::ReadingsUnchecked&) const { return "too little read"; }
  std::string_view operator()(const job::WalkNotClosed&) const { return "walk not closed"; }
  std::string_view operator()(const job::ScaleNotChecked&) const { return "scale not checked"; }
  std::string_view operator()(const job::PriorLeftBehind&) const { return "prior left behind"; }
};

struct Says {
  const sheet::RunSheet& run;
  std::string operator()(const job::MovedWhileRead& doubt) const {
    std::string text;
    for (const job::FoundMovement& each : doubt.movements)
      text += (text.empty() ? "While the run was read, " : "; ") + movement_words(run, each);
    return text + ". What was read before does not count.";
  }
  std::string operator()(const job::BearingIsOpen& doubt) const {
    if (doubt.supports.empty()) return "The readings leave open which supports bore at a former stage.";
    return "The readings leave open whether " + listed(doubt.supports) +
           (doubt.supports.size() == 1 ? " bears or hangs free." : " bear or hang free.");
  }
  std::string operator()(const job::StraysComeTogether& doubt) const {
    std::vector<std::string> rows;
    for (const std::size_t row : doubt.rows) rows.push_back(std::to_string(row));
    return (rows.size() == 1 ? "Reading " : "Readings ") + listed(rows) +
           (rows.size() == 1 ? " at the end of the walk contradicts the rest: something may have moved."
                             : " contradict the rest together: they are no chance strays.");
  }
  std::string operator()(const job::PlaceDisagrees& doubt) const {
    return "All readings of " + channel_and_place(run, doubt.group) +
           " are off from what the others say by " + value_and_sigma(doubt.by, run.show) +
           ": a wrong place, or something under a foot.";
  }
  std::string operator()(const job::ReadFromOtherEnd& doubt) const {
    if (doubt.why == job::StartDoubt::readings)
      return "The readings fit the sheet better if the run was read from its other end.";
    if (doubt.why == job::StartDoubt::told)
      return "The places of this walk begin at " + doubt.support + ", which is at the run's end.";
    return "Nobody said at which end the places of this walk begin, and the readings fit nearly as well from "
           "the other end.";
  }
  std::string operator()(const job::ReadingsUnchecked& doubt) const {
    const std::string what = "A mistake in " + channel_and_place(run, doubt.group) + ' ';
    if (!std::isfinite(doubt.unnoticed_m)) return what + "would not be noticed: no other reading checks it.";
    return what + "could change the finished level error by " +
           sheet::show_fine(doubt.unnoticed_m, run.show) + " before the other readings show it; " +
           sheet::show_fine(doubt.spoils_m, run.show) + " would spoil the answer.";
  }
  std::string operator()(const job::WalkNotClosed&) const {
    return "The walk is not closed: something may have moved since the first places were read.";
  }
  std::string operator()(const job::ScaleNotChecked& doubt) const {
    std::vector<std::string> channels;
    for (const job::UncheckedScale& each : doubt.channels)
      channels.push_back(name_of(each.channel) + " (" + gap_words(each.why) + ')');
    return "Nobody checked scale, unit and sign of " + listed(channels) + '.' +
           (doubt.sign_open
                ? " With the other sign the readings would fit nearly as well: moves could go the wrong way."
                : "");
  }
  std::string operator()(const job::PriorLeftBehind& doubt) const {
    return name_of(doubt.unknown) + " was found to be " + value_and_sigma(doubt.found, run.show) +
           ", assumed was " + value_and_sigma(doubt.assumed, run.show) +
           fmt::format(": {:.1f} sigmas away.", doubt.sigmas);
  }
};

struct Next {
  const sheet::RunSheet& run;
  std::string operator()(const job::MovedWhileRead& doubt) const {
    return "Find out why it moved and make it fast, then read again at " + places(run, doubt.read_again_m) +
           '.';
  }
  std::string operator()(const job::BearingIsOpen& doubt) const {
    if (doubt.supports.empty()) return "Read again at more places, and look at what was released since.";
    std::string text;
    for (const std::string& support : doubt.supports) text += is_it_tight(run, support) + ' ';
    return text + "Make fast what hangs free, and read again. Or say what you found: \"" +
           doubt.supports.front() + " bears\" or \"" + doubt.supports.front() +
           " hangs free\" (in a readings file with # before it).";
  }
  std::string operator()(const job::StraysComeTogether&) const {
    return "Read again at these places; if they read the same, something has moved: read the whole walk "
           "again.";
  }
  std::string operator()(const job::PlaceDisagrees& doubt) const {
    return "Check the mark and the feet at " + sheet::show_place(doubt.group.at_m, run.show) + ", and read " +
           std::string(word(doubt.group.channel.channel)) + " there again.";
  }
  std::string operator()(const job::ReadFromOtherEnd& doubt) const {
    if (doubt.why == job::StartDoubt::nobody_said)
      return where_it_begins() + " If the start mark, place 0, is nearest to " + doubt.support +
             ", say \"start at " + doubt.support + "\" (in a readings file with # before it).";
    return "Make sure which end is the start mark, and read again from there.";
  }
  std::string operator()(const job::ReadingsUnchecked& doubt) const {
    const std::string what = "Read " + std::string(word(doubt.group.channel.channel)) + " at ";
    if (doubt.read_at_m) return what + sheet::show_place(*doubt.read_at_m, run.show) + " too.";
    return what + sheet::show_place(doubt.group.at_m, run.show) + " once more, set up anew.";
  }
  std::string operator()(const job::WalkNotClosed& doubt) const {
    return "Close the walk: read again at " + places(run, doubt.read_again_m) + '.';
  }
  std::string operator()(const job::ScaleNotChecked& doubt) const {
    return "Check the scale of " + doubt.channels.front().channel.instrument +
           ": a piece of known thickness under one foot, or two places a known length apart for a laser.";
  }
  std::string operator()(const job::PriorLeftBehind& doubt) const {
    return "Look at " + name_of(doubt.unknown) + ": if it is so, put it into the run sheet, and fit again.";
  }
};

}  // namespace

std::string movement_words(const sheet::RunSheet& run, const job::FoundMovement& movement) {
  const job::UnknownId& id = movement.what;
  job::Quantity by = movement.by;
  const bool down = by.value < 0;
  by.value = std::abs(by.value);
  std::string text;
  switch (id.of) {
    case job::UnknownOf::move_rise:
      text = id.name + (down ? " sank by " : " rose by ") + value_and_sigma(by, run.show);
      break;
    case job::UnknownOf::move_pitch:
      text = id.name + " turned, its far side " + (down ? "down, by " : "up, by ") +
             value_and_sigma(by, run.show);
      break;
    case job::UnknownOf::move_roll:
      text = id.name + " turned, its left side " + (down ? "down, by " : "up, by ") +
             value_and_sigma(by, run.show);
      break;
    default:
      text = name_of(id) + " changed by " + value_and_sigma(movement.by, run.show);
      break;
  }
  text += " after reading " + std::to_string(movement.after_row);
  if (const std::string time = time_of_day(movement.time); !time.empty()) text += ", " + time;
  return text;
}

std::string is_it_tight(const sheet::RunSheet& run, const std::string& support) {
  const bool rod = run.supports[std::size_t(run.support(support))].adjust.by == sheet::AdjustBy::rod;
  return "Is " + support + " tight? Try to " + (rod ? "turn its nut." : "move it by hand.");
}
std::string bears_words(const std::string& support, bool bears) {
  return support + (bears ? " is tight: it bears" : " is loose: it hangs free");
}
std::string where_it_begins() { return "At which support do your places begin, counted from 0?"; }
std::string begins_at(const std::string& support) { return "At " + support; }

std::string_view kind_of(const job::Doubt& doubt) { return std::visit(Kind{}, doubt); }
std::string doubt_words(const sheet::RunSheet& run, const job::Doubt& doubt) {
  return std::visit(Says{run}, doubt);
}
std::string next_words(const sheet::RunSheet& run, const job::Doubt& doubt) {
  return std::visit(Next{run}, doubt);
}

}  // namespace hangtrue::say
