#include "firmware-host/say/checks.hpp"

#include <fmt/format.h>

#include <cmath>

#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::say {
namespace {

std::string p_words(double p_value, sheet::Show show) {
  return p_value < 0.001 ? "p < " + digits(0.001, 3, show) : "p = " + digits(p_value, 3, show);
}

std::string list_of(const std::vector<Channel>& channels, sheet::Show show) {
  std::vector<std::string> words;
  for (const Channel channel : channels) words.push_back(channel_words(channel, show));
  return listed(words, show);
}

bool is_of_datum(Channel channel) { return channel == Channel::distance; }

std::string check_of(Channel channel, sheet::Show show) {
  return is_of_datum(channel) ? said(show, "datum check")
                              : text(show, "zero check of {}", channel_words(channel, show));
}

struct WarningWords {
  sheet::Show show;

  std::string operator()(const job::NoCalibrationStated&) const {
    return said(show, "no calibration is stated in the kit sheet.");
  }
  std::string operator()(const job::CalibrationOverdue& it) const {
    return text(show, "calibration overdue since {}.", it.since);
  }
  std::string operator()(const job::CalibrationDue& it) const {
    return it.in_days == 1 ? text(show, "calibration due on {}, in {} day.", it.on, it.in_days)
                           : text(show, "calibration due on {}, in {} days.", it.on, it.in_days);
  }
  std::string operator()(const job::NoZeroCheck& it) const {
    return text(show,
                "no zero check of {} in the book: its zero error is known only as well as the kit sheet "
                "states.",
                list_of(it.channels, show));
  }
  std::string operator()(const job::NoDatumCheck&) const {
    return said(show,
                "no datum check in the book: the tilt of its plane is known only as well as the run sheet "
                "assumes.");
  }
  std::string operator()(const job::ZeroTooLarge& it) const {
    return text(
        show, "{} reads {} too much, more than three times what its kit sheet states, {}: have it serviced.",
        channel_words(it.channel, show), fine_slope_words(it.zero_rad, show),
        fine_slope_words(it.zero_sigma_rad, show));
  }
  std::string operator()(const job::HasDrifted& it) const {
    return text(
        show,
        "{} has drifted by {} +- {} from {} to {}: what was read between the two may be off by as much.",
        is_of_datum(it.channel) ? said(show, "the tilt of its plane")
                                : text(show, "{} zero", channel_words(it.channel, show)),
        fine_slope_words(it.by_rad, show), fine_slope_words(it.sigma_rad, show), date_of(it.from),
        date_of(it.to));
  }
  std::string operator()(const job::CheckIsOld& it) const {
    return text(show, "the last {} is {} days old; check it again.", check_of(it.channel, show), it.days);
  }
  std::string operator()(const job::TemperatureFar& it) const {
    return text(show, "read at {}, but its {} was made at {}; check it again at the temperature of the work.",
                temperature_words(it.now_C, show), check_of(it.channel, show),
                temperature_words(it.at_check_C, show));
  }
};

/// "Zero check of level", "Datum check of laser", "Scale check of level".
std::string title(job::CheckKind kind, const std::string& instrument, sheet::Show show) {
  return kind == job::CheckKind::zero    ? text(show, "Zero check of {}", instrument)
         : kind == job::CheckKind::datum ? text(show, "Datum check of {}", instrument)
                                         : text(show, "Scale check of {}", instrument);
}

std::string what_to_do(job::ZeroStep::Action action, sheet::Show show) {
  using Action = job::ZeroStep::Action;
  switch (action) {
    case Action::stand_and_mark:
      return said(show,
                  "stand it on a firm, clean place, nearly level, and mark where each foot stands. Nobody "
                  "touches that place or leans on it until the check is done.");
    case Action::turn_round:
      return said(show, "turn it round, end for end, each foot on the other's mark.");
    case Action::turn_back:
      break;
  }
  return said(show, "turn it back, each foot on its own mark.");
}

std::string what_to_do(const job::DatumStep& step, sheet::Show show) {
  using Action = job::DatumStep::Action;
  const std::string place = sheet::show_place(step.at_m, show);
  switch (step.action) {
    case Action::set_up_before_start:
      return text(
          show,
          "stand the laser beyond the start of the run, in line with it, and mark the side that faces "
          "the run. Let it level itself. Never look into a laser. Then read at {} and mark where "
          "exactly.",
          place);
    case Action::carry_beyond_end:
      return text(
          show,
          "carry the laser beyond the other end of the run, in line with it, and turn it about, so that "
          "the marked side faces the run again. Let it level itself. Then read at {}, on the mark.",
          place);
    case Action::level_anew:
      return text(
          show,
          "switch the laser off and on, so that it levels itself anew; do not move it. Then read at {}, "
          "on the mark.",
          place);
    case Action::read_far_and_mark:
      return text(show, "now read at {} and mark where exactly.", place);
    case Action::read_far:
      break;
  }
  return text(show, "now read at {}, on the mark.", place);
}

std::string what_to_do(const job::ScaleStep& step, sheet::Show show) {
  using Action = job::ScaleStep::Action;
  const std::string length = sheet::show_length(step.length_m, show);
  switch (step.action) {
    case Action::stand:
      return said(
          show,
          "stand it on a firm, clean place, nearly level, just as it stands on the run: face 1, along "
          "the run, its own end towards the end of the run. Mark where each foot stands. Nobody touches "
          "that place or leans on it until the check is done.");
    case Action::take_piece_out:
      return said(show, "take the piece out; each foot back on its mark.");
    case Action::piece_under_end:
      return text(
          show,
          "lay the piece of {} under the foot nearer to the END of the run (where places along the run "
          "are greatest; with four feet, under both of that end). Leave the other foot on its mark.",
          length);
    case Action::piece_under_left:
      return said(
          show,
          "take the piece out and lay it under the foot at the LEFT edge, left when one looks along the "
          "run from its start (with four feet, under both of that side). Leave the other foot on its "
          "mark.");
    case Action::first_place:
      return text(show,
                  "read a place that can be found again, and mark it. Never look into a laser. Mark a second "
                  "place, higher by {}, measured with a tape measure along the beam.",
                  length);
    case Action::first_place_again:
      return said(show, "read the first, lower place again, on its mark.");
    case Action::higher_place:
      break;
  }
  return text(show, "now read the second place, higher by {}, on its mark.", length);
}

struct RefusalWords {
  const std::string& instrument;
  sheet::Show show;

  std::string operator()(const job::GivesNoAngle&) const {
    return text(show,
                "{} gives neither slope nor roll: a zero check by faces is for inclinometers. A laser has a "
                "datum check.",
                instrument);
  }
  std::string operator()(const job::GivesNoDistance&) const {
    return text(show,
                "{} gives no distance: a datum check is for a laser datum. An inclinometer has a zero check.",
                instrument);
  }
  std::string operator()(const job::RoundsNotAllowed& it) const {
    return text(show, "{} rounds: ask for 1 to {}, usually {}.", it.rounds, job::kMostRounds, job::kRounds);
  }
  std::string operator()(const job::PlacesOffRun& it) const {
    return text(show, "The places {} and {} are not both on the run: name two from 0 to {}.",
                place(it.near_m), place(it.far_m), place(it.length_m));
  }
  std::string operator()(const job::PlacesTooClose& it) const {
    return text(show,
                "The places {} and {} are too close: name first the one nearer to the start, and at least {} "
                "between the two.",
                place(it.near_m), place(it.far_m), place(it.least_apart_m));
  }
  std::string operator()(const job::NotSettled& it) const {
    return text(show, "{} {}: no settled reading yet. Wait until it is still, then say next again.",
                instrument, channel_words(it.gives, show));
  }
  std::string operator()(const job::AllTaken& it) const {
    return text(show, "{}: all readings are taken already.", title(it.kind, instrument, show));
  }
  std::string operator()(const job::NoPieceUnderIt&) const {
    return text(
        show,
        "{} gives neither slope nor roll: a piece under one foot is for inclinometers. The scale of a "
        "laser is checked at two places: check scale places 500 mm apart.",
        instrument);
  }
  std::string operator()(const job::NoHeightForIt&) const {
    return text(
        show,
        "{} gives no distance: two places are for lasers. The scale of an inclinometer is checked with "
        "a piece: check scale 5 mm across 120 mm.",
        instrument);
  }
  std::string operator()(const job::NoBase&) const {
    return text(
        show,
        "{} slope: the kit sheet has no base for it, the distance between its feet along the run; write "
        "base = \"250 mm\", as you measure it, into that channel.",
        instrument);
  }
  std::string operator()(const job::FeetAcrossNotSaid&) const {
    return text(show,
                "{} gives roll too: say how far apart its feet are across the run, such as check scale 5 mm "
                "across 120 mm.",
                instrument);
  }
  std::string operator()(const job::FeetTooClose& it) const {
    return text(
        show,
        "{} {}: feet {} apart are too close, at least {} are needed: a quarter of a millimetre more or "
        "less would count too much.",
        instrument, channel_words(it.gives, show), sheet::show_length(it.feet_m, show),
        sheet::show_length(it.least_m, show));
  }
  std::string operator()(const job::LengthTooShort& it) const {
    const std::string length = sheet::show_fine(it.length_m, show),
                      least = sheet::show_fine(it.least_m, show);
    return it.by_places
               ? text(show,
                      "{}: a distance between the places of {} is too short: it would not tell 2 "
                      "percent. Take at least {}.",
                      instrument, length, least)
               : text(show, "{}: a piece of {} is too thin: it would not tell 2 percent. Take at least {}.",
                      instrument, length, least);
  }
  std::string operator()(const job::LengthTooLong& it) const {
    const std::string length = sheet::show_length(it.length_m, show),
                      most = sheet::show_fine(it.most_m, show);
    return it.by_places
               ? text(show,
                      "{}: a distance between the places of {} is too long for its range. Take at most {}.",
                      instrument, length, most)
               : text(show, "{}: a piece of {} is too thick for its base and range. Take at most {}.",
                      instrument, length, most);
  }
  [[nodiscard]] std::string place(double at_m) const { return sheet::show_place(at_m, show); }
};

/// Both kinds of check in the same sentences, but for the parts that tell them apart.
struct FindingWords {
  const std::string& instrument;
  Channel channel;
  sheet::Show show;

  std::string operator()(const job::StillToTake& it) const {
    return text(show, "{}: {} readings are still to be taken.", title(it.kind, instrument, show),
                it.readings);
  }
  std::string operator()(const job::FoundOffset& it) const {
    const std::string size = angle(std::abs(it.value_rad)),
                      fall = sheet::show_fine(std::abs(it.value_rad) * it.apart_m, show);
    const std::string value =
        !is_of_datum(channel) ? text(show, "zero {}", angle(it.value_rad))
        : it.value_rad < 0
            ? text(show, "its plane sinks away from the laser by {} ({} between the two places)", size, fall)
            : text(show, "its plane climbs away from the laser by {} ({} between the two places)", size,
                   fall);
    return text(
        show, "{}: {} +- {}, from {}{}.", name(), value, angle(it.sigma_rad), rounds(it.rounds),
        it.p_of_none ? text(show, "; as good as none ({})", p_words(*it.p_of_none, show)) : std::string());
  }
  std::string operator()(const job::FoundScatter& it) const {
    return text(show, "{}: one reading scatters by {}{}; {} is stated, up to {} would pass ({}). ", name(),
                reading(it.sigma),
                is_of_datum(channel) ? said(show, ", levelling anew included") : std::string(),
                reading(it.stated), reading(it.most), p_words(it.p_value, show)) +
           (it.too_much ? text(show, "That is too much: {}", when_rough(it.sigma))
                        : said(show, "That is as stated."));
  }
  std::string operator()(const job::BeyondExpected& it) const {
    const std::string sigma = angle(it.expected_sigma_rad);
    return is_of_datum(channel)
               ? text(show,
                      "{}: more than three times what the run sheet states, {}. Make sure that the marked "
                      "side "
                      "faced the run from both ends; if so, have it serviced before it is used.",
                      name(), sigma)
               : text(show,
                      "{}: more than three times what its kit sheet states, {}. Make sure that it was turned "
                      "round between the two faces; if so, have it serviced before it is used.",
                      name(), sigma);
  }
  std::string operator()(const job::FirstOfItsKind&) const {
    return text(show, "{}: the first such check of it in this book.", name());
  }
  std::string operator()(const job::ComparedWithFormer& it) const {
    return text(show, "{}: on {} it was {} +- {}; {} since, ", name(), date_of(it.former),
                angle(it.value_rad), angle(it.sigma_rad), angle(it.since.by)) +
           said(show, it.since.significant ? "more than " : "no more than ") +
           said(show, is_of_datum(channel) ? "the two checks" : "the two checks and zero_keeps") +
           text(show, " explain ({})", p_words(it.since.p_value, show)) +
           (it.since.significant
                ? said(show, ": it has drifted, and what was read in between may be off by as much.")
                : std::string("."));
  }
  std::string operator()(const job::ScattersMore& it) const {
    return text(show,
                "{}: on {} one reading scattered by no more than {} ({}): something has come loose, or the "
                "place is less firm.",
                name(), date_of(it.former), reading(it.former_sigma), p_words(it.p_value, show));
  }
  std::string operator()(const job::HowTiltCounts&) const {
    return text(
        show,
        "{}: this is allowed for where the book says beyond which end the laser stands. Keep the marked "
        "side towards the run.",
        instrument);
  }

  std::string operator()(const job::FoundScale& it) const {
    return text(show, "{} {}: it changed by {} where {} is due: scale {} +- {}, from {}.", instrument,
                channel_words(channel, show), change(it.seen), change(it.due), digits(it.scale, 3, show),
                digits(it.sigma, 3, show), rounds(it.rounds)) +
           (it.sound ? said(show, " Scale, unit and sign are right.") : std::string());
  }
  std::string operator()(const job::RoundsDisagree& it) const {
    return text(
        show,
        "{} {}: the rounds disagree: one reading scatters by {} where {} is stated ({}). Set each foot, "
        "or the beam, exactly on its mark, keep still, and check again.",
        instrument, channel_words(channel, show), change(it.sigma), change(it.stated),
        p_words(it.p_value, show));
  }
  std::string operator()(const job::ScaleIsWrong& it) const {
    std::string words = instrument + ' ' + channel_words(channel, show) + ": " + why(it);
    if (it.wrong_way)
      words += (it.why == job::ScaleIsWrong::Why::way ? std::string() : said(show, " And ")) + which_way(it);
    return words + said(show, " Then check again.");
  }

  /// "level slope", "laser".
  [[nodiscard]] std::string name() const {
    return is_of_datum(channel) ? instrument : instrument + ' ' + channel_words(channel, show);
  }
  [[nodiscard]] std::string rounds(int count) const {
    return count == 1 ? text(show, "{} round", count) : text(show, "{} rounds", count);
  }
  [[nodiscard]] std::string change(double value) const {
    return channel == Channel::distance ? sheet::show_fine(value, show) : angle(value);
  }
  [[nodiscard]] std::string why(const job::ScaleIsWrong& it) const {
    using Why = job::ScaleIsWrong::Why;
    switch (it.why) {
      case Why::way:
        return "";
      case Why::unit:
        return unit(it);
      case Why::inches:
        return said(show,
                    "it is off as inches are for millimetres: look at the unit of what you said of the piece "
                    "and the feet, and of base in the kit sheet.");
      case Why::exchanged:
        return text(show,
                    "it answered to the piece that was laid for {}: slope and roll are exchanged in the kit "
                    "sheet, or the piece lay under the wrong foot.",
                    channel_words(channel == Channel::slope ? Channel::roll : Channel::slope, show));
      case Why::no_change:
        return said(
            show,
            "it did not change: make sure that this is the instrument that was read, and that the piece "
            "lay under its foot; if so, its unit, its scale or where it is read from is wrong in the "
            "kit sheet.");
      case Why::calibration:
        break;
    }
    return text(
        show,
        "it reads {} times what is due, which no unit explains. Measure the {} again{}; if it stays so, "
        "have it serviced.",
        digits(std::abs(it.scale), 3, show),
        said(show, channel == Channel::distance ? "distance between the two places"
                                                : "piece and the distance between its feet"),
        it.has_scale ? said(show, ", and compare scale in the kit sheet with its manual") : std::string());
  }
  [[nodiscard]] std::string unit(const job::ScaleIsWrong& it) const {
    std::string words = text(show, "a wrong unit: it sends {}, which is taken for {}. ", it.meant, it.said);
    if (it.device_says_unit)
      words += text(show, "It calls it {} itself: set the instrument to send {}.", it.said, it.said);
    else if (it.meant == "%")
      words += said(show, it.has_scale
                              ? "One percent is 10 mm/m: write unit = \"mm/m\" and a scale ten times that of "
                                "percent into the kit sheet."
                              : "No sheet knows percent: set the instrument to send mm/m or deg, and write "
                                "that.");
    else
      words += text(show, "Write unit = \"{}\" into that channel of the kit sheet.", it.meant);
    if (it.has_scale)
      words += text(show, " Or its scale is wrong there: it is to be {} times what it is.",
                    sheet::with_decimal_sign(fmt::format("{:.4g}", 1 / std::abs(it.scale)), show.language));
    return words;
  }
  [[nodiscard]] std::string which_way(const job::ScaleIsWrong& it) const {
    const std::string sign = fmt::format("sign = {}", -it.sign);
    if (it.both_ways)
      return text(
          show,
          "both slope and roll changed the wrong way: it stood the other way round, or the start of the "
          "run was taken for its end. The end is where places are greatest, and left is left when one "
          "looks from the start to the end. If it stood right, write {} into this channel of the kit "
          "sheet.",
          sign);
    if (channel == Channel::distance)
      return text(
          show,
          "it changed the wrong way: the second place must be the higher one; if it was, write {} into "
          "that channel of the kit sheet.",
          sign);
    if (channel == Channel::slope)
      return text(
          show,
          "it changed the wrong way: a wrong sign, or the wrong end. Make sure that the piece lay under "
          "the foot nearer to the end of the run, where places are greatest; if it did, write {} into "
          "that channel of the kit sheet.",
          sign);
    return text(
        show,
        "it changed the wrong way: a wrong sign, or the wrong edge. Make sure that the piece lay under "
        "the foot at the left edge, left when one looks from the start to the end; if it did, write {} "
        "into that channel of the kit sheet.",
        sign);
  }
  [[nodiscard]] std::string angle(double value_rad) const { return fine_slope_words(value_rad, show); }
  [[nodiscard]] std::string reading(double sigma) const {
    return is_of_datum(channel) ? sheet::show_fine(sigma, show) : angle(sigma);
  }
  [[nodiscard]] std::string when_rough(double sigma) const {
    if (is_of_datum(channel))
      return said(
          show,
          "see that the laser stands firm and the marks are met, and check again; if it stays so, the "
          "laser does not level itself alike each time: read all of a survey from one set-up, or have "
          "it serviced.");
    return text(
        show,
        "set the feet exactly on their marks, keep still, and check again; if it stays so, {} is this "
        "channel's sigma: have it stated in the kit sheet.",
        angle(sigma));
  }
};

}  // namespace

std::string warning(const job::Warning& warning, sheet::Show show) {
  return warning.instrument + ": " + std::visit(WarningWords{show}, warning.what);
}

std::vector<std::string> warnings(const std::vector<job::Warning>& warnings, sheet::Show show) {
  std::vector<std::string> all;
  for (const job::Warning& each : warnings) all.push_back(warning(each, show));
  return all;
}

std::string instruction(const job::ZeroCheckGuide& guide, sheet::Show show) {
  const std::string check = title(job::CheckKind::zero, guide.instrument(), show);
  const std::optional<job::ZeroStep> step = guide.next();
  if (!step) return text(show, "{}: all readings are taken.", check);
  return text(show, "{}, round {} of {}, face {}: {} Take your hands off; when it is still, say next.", check,
              step->round, step->rounds, step->face, what_to_do(step->action, show));
}

std::string instruction(const job::DatumCheckGuide& guide, sheet::Show show) {
  const std::string check = title(job::CheckKind::datum, guide.instrument(), show);
  const std::optional<job::DatumStep> step = guide.next();
  if (!step) return text(show, "{}: all readings are taken.", check);
  return text(show, "{}, set-up {}, round {} of {}: {} When it is still, say next.", check, step->set_up,
              step->round, step->rounds, what_to_do(*step, show));
}

std::string instruction(const job::ScaleCheckGuide& guide, sheet::Show show) {
  const std::string check = title(job::CheckKind::scale, guide.instrument(), show);
  const std::optional<job::ScaleStep> step = guide.next();
  if (!step) return text(show, "{}: all readings are taken.", check);
  return text(show, "{}, round {} of {}: {} Take your hands off; when it is still, say next.", check,
              step->round, step->rounds, what_to_do(*step, show));
}

std::string refusal(const job::CheckRefusal& refusal, const std::string& instrument, sheet::Show show) {
  return std::visit(RefusalWords{instrument, show}, refusal);
}

std::vector<std::string> findings(const std::vector<job::CheckFinding>& findings,
                                  const std::string& instrument, sheet::Show show) {
  std::vector<std::string> all;
  for (const job::CheckFinding& each : findings)
    all.push_back(std::visit(FindingWords{instrument, each.channel, show}, each.what));
  return all;
}

std::string scale_found(const book::ScaleCheck& check, sheet::Show show) {
  return text(show, "{} scale {} +- {}, {}", said(show, check.channel), digits(check.scale, 3, show),
              digits(check.sigma, 3, show),
              said(show, check.sound ? "scale, unit and sign right" : "something is wrong"));
}

}  // namespace hangtrue::say
