#include "firmware-host/say/doubts.hpp"

#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

#include "firmware-host/say/language.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/unknown.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {

namespace {

std::string places(const sheet::RunSheet& run, const std::vector<double>& at_m) {
  std::vector<std::string> words;
  for (const double at : at_m) words.push_back(sheet::show_place(at, run.show));
  return listed(words, run.show);
}

std::string channel_and_place(const sheet::RunSheet& run, const job::ReadingGroup& group) {
  return text(run.show, "{} at {}", channel_words(group.channel.channel, run.show),
              sheet::show_place(group.at_m, run.show));
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
  const sheet::Show show = run.show;
  std::string operator()(const job::MovedWhileRead& doubt) const {
    std::string words;
    for (const job::FoundMovement& each : doubt.movements)
      words += (words.empty() ? said(show, "While the run was read, ") : "; ") + movement_words(run, each);
    return words + said(show, ". What was read before does not count.");
  }
  std::string operator()(const job::BearingIsOpen& doubt) const {
    if (doubt.supports.empty())
      return said(show, "The readings leave open which supports bore at a former stage.");
    const std::string supports = listed(doubt.supports, show);
    return doubt.supports.size() == 1
               ? text(show, "The readings leave open whether {} bears or hangs free.", supports)
               : text(show, "The readings leave open whether {} bear or hang free.", supports);
  }
  std::string operator()(const job::StraysComeTogether& doubt) const {
    std::vector<std::string> rows;
    for (const std::size_t row : doubt.rows) rows.push_back(std::to_string(row));
    return rows.size() == 1
               ? text(show,
                      "Reading {} at the end of the walk contradicts the rest: something may have moved.",
                      rows.front())
               : text(show, "Readings {} contradict the rest together: they are no chance strays.",
                      listed(rows, show));
  }
  std::string operator()(const job::PlaceDisagrees& doubt) const {
    return text(
        show,
        "All readings of {} are off from what the others say by {}: a wrong place, or something under a "
        "foot.",
        channel_and_place(run, doubt.group), value_and_sigma(doubt.by, show));
  }
  std::string operator()(const job::ReadFromOtherEnd& doubt) const {
    if (doubt.why == job::StartDoubt::readings)
      return said(show, "The readings fit the sheet better if the run was read from its other end.");
    if (doubt.why == job::StartDoubt::told)
      return text(show, "The places of this walk begin at {}, which is at the run's end.", doubt.support);
    return said(show,
                "Nobody said at which end the places of this walk begin, and the readings fit nearly as well "
                "from the other end.");
  }
  std::string operator()(const job::ReadingsUnchecked& doubt) const {
    const std::string what = channel_and_place(run, doubt.group);
    if (!std::isfinite(doubt.unnoticed_m))
      return text(show, "A mistake in {} would not be noticed: no other reading checks it.", what);
    return text(
        show,
        "A mistake in {} could change the finished level error by {} before the other readings show it; "
        "{} would spoil the answer.",
        what, sheet::show_fine(doubt.unnoticed_m, show), sheet::show_fine(doubt.spoils_m, show));
  }
  std::string operator()(const job::WalkNotClosed&) const {
    return said(show, "The walk is not closed: something may have moved since the first places were read.");
  }
  std::string operator()(const job::ScaleNotChecked& doubt) const {
    std::vector<std::string> channels;
    for (const job::UncheckedScale& each : doubt.channels)
      channels.push_back(each.channel.instrument + ' ' + channel_words(each.channel.channel, show) + " (" +
                         said(show, gap_words(each.why)) + ')');
    return text(show, "Nobody checked scale, unit and sign of {}.", listed(channels, show)) +
           (doubt.sign_open
                ? said(show,
                       " With the other sign the readings would fit nearly as well: moves could go the wrong "
                       "way.")
                : "");
  }
  std::string operator()(const job::PriorLeftBehind& doubt) const {
    return text(show, "{} was found to be {}, assumed was {}: {} sigmas away.",
                name_words(doubt.unknown, show), value_and_sigma(doubt.found, show),
                value_and_sigma(doubt.assumed, show),
                sheet::with_decimal_sign(fmt::format("{:.1f}", doubt.sigmas), show.language));
  }
};

struct Next {
  const sheet::RunSheet& run;
  const sheet::Show show = run.show;
  std::string operator()(const job::MovedWhileRead& doubt) const {
    return text(show, "Find out why it moved and make it fast, then read again at {}.",
                places(run, doubt.read_again_m));
  }
  std::string operator()(const job::BearingIsOpen& doubt) const {
    if (doubt.supports.empty())
      return said(show, "Read again at more places, and look at what was released since.");
    std::string words;
    for (const std::string& support : doubt.supports) words += is_it_tight(run, support) + ' ';
    return words + text(show,
                        "Make fast what hangs free, and read again. Or say what you found: \"{} bears\" or "
                        "\"{} hangs free\" (in a readings file with # before it).",
                        doubt.supports.front(), doubt.supports.front());
  }
  std::string operator()(const job::StraysComeTogether&) const {
    return said(show,
                "Read again at these places; if they read the same, something has moved: read the whole walk "
                "again.");
  }
  std::string operator()(const job::PlaceDisagrees& doubt) const {
    return text(show, "Check the mark and the feet at {}, and read {} there again.",
                sheet::show_place(doubt.group.at_m, show), channel_words(doubt.group.channel.channel, show));
  }
  std::string operator()(const job::ReadFromOtherEnd& doubt) const {
    if (doubt.why == job::StartDoubt::nobody_said)
      return where_it_begins(show) + text(show,
                                          " If the start mark, place 0, is nearest to {}, say \"start at "
                                          "{}\" (in a readings file with # "
                                          "before it).",
                                          doubt.support, doubt.support);
    return said(show, "Make sure which end is the start mark, and read again from there.");
  }
  std::string operator()(const job::ReadingsUnchecked& doubt) const {
    const std::string channel = channel_words(doubt.group.channel.channel, show);
    if (doubt.read_at_m)
      return text(show, "Read {} at {} too.", channel, sheet::show_place(*doubt.read_at_m, show));
    return text(show, "Read {} at {} once more, set up anew.", channel,
                sheet::show_place(doubt.group.at_m, show));
  }
  std::string operator()(const job::WalkNotClosed& doubt) const {
    return text(show, "Close the walk: read again at {}.", places(run, doubt.read_again_m));
  }
  std::string operator()(const job::ScaleNotChecked& doubt) const {
    return text(
        show,
        "Check the scale of {}: a piece of known thickness under one foot, or two places a known length "
        "apart for a laser.",
        doubt.channels.front().channel.instrument);
  }
  std::string operator()(const job::PriorLeftBehind& doubt) const {
    return text(show, "Look at {}: if it is so, put it into the run sheet, and fit again.",
                name_words(doubt.unknown, show));
  }
};

}  // namespace

std::string movement_words(const sheet::RunSheet& run, const job::FoundMovement& movement) {
  const job::UnknownId& id = movement.what;
  const sheet::Show show = run.show;
  job::Quantity by = movement.by;
  const bool down = by.value < 0;
  by.value = std::abs(by.value);
  const std::string size = value_and_sigma(by, show);
  std::string words;
  switch (id.of) {
    case job::UnknownOf::move_rise:
      words = down ? text(show, "{} sank by {}", id.name, size) : text(show, "{} rose by {}", id.name, size);
      break;
    case job::UnknownOf::move_pitch:
      words = down ? text(show, "{} turned, its far side down, by {}", id.name, size)
                   : text(show, "{} turned, its far side up, by {}", id.name, size);
      break;
    case job::UnknownOf::move_roll:
      words = down ? text(show, "{} turned, its left side down, by {}", id.name, size)
                   : text(show, "{} turned, its left side up, by {}", id.name, size);
      break;
    default:
      words = text(show, "{} changed by {}", name_words(id, show), value_and_sigma(movement.by, show));
      break;
  }
  words += text(show, " after reading {}", movement.after_row);
  if (const std::string time = time_of_day(movement.time); !time.empty()) words += ", " + time;
  return words;
}

std::string is_it_tight(const sheet::RunSheet& run, const std::string& support) {
  const bool rod = run.supports[std::size_t(run.support(support))].adjust.by == sheet::AdjustBy::rod;
  return rod ? text(run.show, "Is {} tight? Try to turn its nut.", support)
             : text(run.show, "Is {} tight? Try to move it by hand.", support);
}
std::string bears_words(const std::string& support, bool bears, sheet::Show show) {
  return bears ? text(show, "{} is tight: it bears", support)
               : text(show, "{} is loose: it hangs free", support);
}
std::string where_it_begins(sheet::Show show) {
  return said(show, "At which support do your places begin, counted from 0?");
}
std::string begins_at(const std::string& support, sheet::Show show) { return text(show, "At {}", support); }

std::string_view kind_of(const job::Doubt& doubt) { return std::visit(Kind{}, doubt); }
std::string doubt_words(const sheet::RunSheet& run, const job::Doubt& doubt) {
  return std::visit(Says{run}, doubt);
}
std::string next_words(const sheet::RunSheet& run, const job::Doubt& doubt) {
  return std::visit(Next{run}, doubt);
}

}  // namespace hangtrue::say
