#include "firmware-host/say/checks.hpp"

#include <fmt/format.h>

#include <cmath>

#include "firmware-host/say/words.hpp"

namespace hangtrue::say {
namespace {

std::string chance(double p_value) {
  return p_value < 0.001 ? "p < 0.001" : fmt::format("p = {:.3f}", p_value);
}

std::string list_of(const std::vector<Channel>& channels) {
  std::vector<std::string> words;
  for (const Channel channel : channels) words.emplace_back(word(channel));
  return listed(words);
}

bool is_of_datum(Channel channel) { return channel == Channel::distance; }

std::string check_of(Channel channel) {
  return is_of_datum(channel) ? "datum check" : fmt::format("zero check of {}", word(channel));
}

struct WarningWords {
  sheet::Show show;

  std::string operator()(const job::NoCalibrationStated&) const {
    return "no calibration is stated in the kit sheet.";
  }
  std::string operator()(const job::CalibrationOverdue& it) const {
    return fmt::format("calibration overdue since {}.", it.since);
  }
  std::string operator()(const job::CalibrationDue& it) const {
    return fmt::format("calibration due on {}, in {} {}.", it.on, it.in_days,
                       it.in_days == 1 ? "day" : "days");
  }
  std::string operator()(const job::NoZeroCheck& it) const {
    return fmt::format(
        "no zero check of {} in the book: its zero error is known only as well as the kit sheet "
        "states.",
        list_of(it.channels));
  }
  std::string operator()(const job::NoDatumCheck&) const {
    return "no datum check in the book: the tilt of its plane is known only as well as the run sheet "
           "assumes.";
  }
  std::string operator()(const job::ZeroTooLarge& it) const {
    return fmt::format(
        "{} reads {} too much, more than three times what its kit sheet states, {}: have it serviced.",
        word(it.channel), fine_slope_words(it.zero_rad, show), fine_slope_words(it.zero_sigma_rad, show));
  }
  std::string operator()(const job::HasDrifted& it) const {
    return fmt::format(
        "{} has drifted by {} +- {} from {} to {}: what was read between the two may be off by as much.",
        is_of_datum(it.channel) ? "the tilt of its plane" : fmt::format("{} zero", word(it.channel)),
        fine_slope_words(it.by_rad, show), fine_slope_words(it.sigma_rad, show), date_of(it.from),
        date_of(it.to));
  }
  std::string operator()(const job::CheckIsOld& it) const {
    return fmt::format("the last {} is {} days old; check it again.", check_of(it.channel), it.days);
  }
  std::string operator()(const job::TemperatureFar& it) const {
    return fmt::format(
        "read at {}, but its {} was made at {}; check it again at the temperature of the work.",
        temperature_words(it.now_C, show), check_of(it.channel), temperature_words(it.at_check_C, show));
  }
};

/// "Zero check of level", "Datum check of laser", "Scale check of level".
std::string title(job::CheckKind kind, const std::string& instrument) {
  return fmt::format("{} check of {}",
                     kind == job::CheckKind::zero    ? "Zero"
                     : kind == job::CheckKind::datum ? "Datum"
                                                     : "Scale",
                     instrument);
}

std::string_view what_to_do(job::ZeroStep::Action action) {
  using Action = job::ZeroStep::Action;
  switch (action) {
    case Action::stand_and_mark:
      return "stand it on a firm, clean place, nearly level, and mark where each foot stands. Nobody touches "
             "that "
             "place or leans on it until the check is done.";
    case Action::turn_round:
      return "turn it round, end for end, each foot on the other's mark.";
    case Action::turn_back:
      break;
  }
  return "turn it back, each foot on its own mark.";
}

std::string what_to_do(const job::DatumStep& step, sheet::Show show) {
  using Action = job::DatumStep::Action;
  const std::string place = sheet::show_place(step.at_m, show);
  switch (step.action) {
    case Action::set_up_before_start:
      return "stand the laser beyond the start of the run, in line with it, and mark the side that faces the "
             "run. "
             "Let it level itself. Never look into a laser. Then read at " +
             place + " and mark where exactly.";
    case Action::carry_beyond_end:
      return "carry the laser beyond the other end of the run, in line with it, and turn it about, so that "
             "the "
             "marked side faces the run again. Let it level itself. Then read at " +
             place + ", on the mark.";
    case Action::level_anew:
      return "switch the laser off and on, so that it levels itself anew; do not move it. Then read at " +
             place + ", on the mark.";
    case Action::read_far_and_mark:
      return "now read at " + place + " and mark where exactly.";
    case Action::read_far:
      break;
  }
  return "now read at " + place + ", on the mark.";
}

std::string what_to_do(const job::ScaleStep& step, sheet::Show show) {
  using Action = job::ScaleStep::Action;
  const std::string length = sheet::show_length(step.length_m, show);
  switch (step.action) {
    case Action::stand:
      return "stand it on a firm, clean place, nearly level, just as it stands on the run: face 1, along the "
             "run, "
             "its own end towards the end of the run. Mark where each foot stands. Nobody touches that place "
             "or "
             "leans on it until the check is done.";
    case Action::take_piece_out:
      return "take the piece out; each foot back on its mark.";
    case Action::piece_under_end:
      return "lay the piece of " + length +
             " under the foot nearer to the END of the run (where places along the run are greatest; with "
             "four feet, "
             "under both of that end). Leave the other foot on its mark.";
    case Action::piece_under_left:
      return "take the piece out and lay it under the foot at the LEFT edge, left when one looks along the "
             "run "
             "from its start (with four feet, under both of that side). Leave the other foot on its mark.";
    case Action::first_place:
      return "read a place that can be found again, and mark it. Never look into a laser. Mark a second "
             "place, "
             "higher by " +
             length + ", measured with a tape measure along the beam.";
    case Action::first_place_again:
      return "read the first, lower place again, on its mark.";
    case Action::higher_place:
      break;
  }
  return "now read the second place, higher by " + length + ", on its mark.";
}

struct RefusalWords {
  const std::string& instrument;
  sheet::Show show;

  std::string operator()(const job::GivesNoAngle&) const {
    return instrument +
           " gives neither slope nor roll: a zero check by faces is for inclinometers. A laser has a datum "
           "check.";
  }
  std::string operator()(const job::GivesNoDistance&) const {
    return instrument +
           " gives no distance: a datum check is for a laser datum. An inclinometer has a zero check.";
  }
  std::string operator()(const job::RoundsNotAllowed& it) const {
    return fmt::format("{} rounds: ask for 1 to {}, usually {}.", it.rounds, job::kMostRounds, job::kRounds);
  }
  std::string operator()(const job::PlacesOffRun& it) const {
    return fmt::format("The places {} and {} are not both on the run: name two from 0 to {}.",
                       place(it.near_m), place(it.far_m), place(it.length_m));
  }
  std::string operator()(const job::PlacesTooClose& it) const {
    return fmt::format(
        "The places {} and {} are too close: name first the one nearer to the start, and at least {} between "
        "the two.",
        place(it.near_m), place(it.far_m), place(it.least_apart_m));
  }
  std::string operator()(const job::NotSettled& it) const {
    return fmt::format("{} {}: no settled reading yet. Wait until it is still, then say next again.",
                       instrument, word(it.gives));
  }
  std::string operator()(const job::AllTaken& it) const {
    return title(it.kind, instrument) + ": all readings are taken already.";
  }
  std::string operator()(const job::NoPieceUnderIt&) const {
    return instrument +
           " gives neither slope nor roll: a piece under one foot is for inclinometers. The scale of a laser "
           "is "
           "checked at two places: check scale places 500 mm apart.";
  }
  std::string operator()(const job::NoHeightForIt&) const {
    return instrument +
           " gives no distance: two places are for lasers. The scale of an inclinometer is checked with a "
           "piece: "
           "check scale 5 mm across 120 mm.";
  }
  std::string operator()(const job::NoBase&) const {
    return instrument +
           " slope: the kit sheet has no base for it, the distance between its feet along the run; write "
           "base = "
           "\"250 mm\", as you measure it, into that channel.";
  }
  std::string operator()(const job::FeetAcrossNotSaid&) const {
    return instrument +
           " gives roll too: say how far apart its feet are across the run, such as check scale 5 mm across "
           "120 "
           "mm.";
  }
  std::string operator()(const job::FeetTooClose& it) const {
    return fmt::format(
        "{} {}: feet {} apart are too close, at least {} are needed: a quarter of a millimetre more or less "
        "would "
        "count too much.",
        instrument, word(it.gives), sheet::show_length(it.feet_m, show),
        sheet::show_length(it.least_m, show));
  }
  std::string operator()(const job::LengthTooShort& it) const {
    return fmt::format("{}: {} of {} is too {}: it would not tell 2 percent. Take at least {}.", instrument,
                       it.by_places ? "a distance between the places" : "a piece",
                       sheet::show_fine(it.length_m, show), it.by_places ? "short" : "thin",
                       sheet::show_fine(it.least_m, show));
  }
  std::string operator()(const job::LengthTooLong& it) const {
    return fmt::format("{}: {} of {} is too {} for its {}. Take at most {}.", instrument,
                       it.by_places ? "a distance between the places" : "a piece",
                       sheet::show_length(it.length_m, show), it.by_places ? "long" : "thick",
                       it.by_places ? "range" : "base and range", sheet::show_fine(it.most_m, show));
  }
  [[nodiscard]] std::string place(double at_m) const { return sheet::show_place(at_m, show); }
};

/// Both kinds of check in the same sentences, but for the parts that tell them apart.
struct FindingWords {
  const std::string& instrument;
  Channel channel;
  sheet::Show show;

  std::string operator()(const job::StillToTake& it) const {
    return fmt::format("{}: {} readings are still to be taken.", title(it.kind, instrument), it.readings);
  }
  std::string operator()(const job::FoundOffset& it) const {
    const double size = std::abs(it.value_rad);
    const std::string value =
        is_of_datum(channel)
            ? fmt::format("its plane {} away from the laser by {} ({} between the two places)",
                          it.value_rad < 0 ? "sinks" : "climbs", angle(size),
                          sheet::show_fine(size * it.apart_m, show))
            : "zero " + angle(it.value_rad);
    return fmt::format("{}: {} +- {}, from {} {}{}.", name(), value, angle(it.sigma_rad), it.rounds,
                       it.rounds == 1 ? "round" : "rounds",
                       it.p_of_none ? fmt::format("; as good as none ({})", chance(*it.p_of_none)) : "");
  }
  std::string operator()(const job::FoundScatter& it) const {
    return fmt::format("{}: one reading scatters by {}{}; {} is stated, up to {} would pass ({}). {}", name(),
                       reading(it.sigma), is_of_datum(channel) ? ", levelling anew included" : "",
                       reading(it.stated), reading(it.most), chance(it.p_value),
                       it.too_much ? "That is too much: " + when_rough(it.sigma) : "That is as stated.");
  }
  std::string operator()(const job::BeyondExpected& it) const {
    return fmt::format(
        "{}: more than three times what {} states, {}. Make sure that {}; if so, have it serviced before it "
        "is used.",
        name(), is_of_datum(channel) ? "the run sheet" : "its kit sheet", angle(it.expected_sigma_rad),
        is_of_datum(channel) ? "the marked side faced the run from both ends"
                             : "it was turned round between the two faces");
  }
  std::string operator()(const job::FirstOfItsKind&) const {
    return name() + ": the first such check of it in this book.";
  }
  std::string operator()(const job::ComparedWithFormer& it) const {
    return fmt::format(
        "{}: on {} it was {} +- {}; {} since, {} {} explain ({}){}", name(), date_of(it.former),
        angle(it.value_rad), angle(it.sigma_rad), angle(it.since.by),
        it.since.significant ? "more than" : "no more than",
        is_of_datum(channel) ? "the two checks" : "the two checks and zero_keeps", chance(it.since.p_value),
        it.since.significant ? ": it has drifted, and what was read in between may be off by as much." : ".");
  }
  std::string operator()(const job::ScattersMore& it) const {
    return fmt::format(
        "{}: on {} one reading scattered by no more than {} ({}): something has come loose, or the place is "
        "less "
        "firm.",
        name(), date_of(it.former), reading(it.former_sigma), chance(it.p_value));
  }
  std::string operator()(const job::HowTiltCounts&) const {
    return instrument +
           ": this is allowed for where the book says beyond which end the laser stands. Keep the marked "
           "side "
           "towards the run.";
  }

  std::string operator()(const job::FoundScale& it) const {
    return fmt::format("{} {}: it changed by {} where {} is due: scale {:.3f} +- {:.3f}, from {} {}.{}",
                       instrument, word(channel), change(it.seen), change(it.due), it.scale, it.sigma,
                       it.rounds, it.rounds == 1 ? "round" : "rounds",
                       it.sound ? " Scale, unit and sign are right." : "");
  }
  std::string operator()(const job::RoundsDisagree& it) const {
    return fmt::format(
        "{} {}: the rounds disagree: one reading scatters by {} where {} is stated ({}). Set each foot, or "
        "the beam, "
        "exactly on its mark, keep still, and check again.",
        instrument, word(channel), change(it.sigma), change(it.stated), chance(it.p_value));
  }
  std::string operator()(const job::ScaleIsWrong& it) const {
    std::string text = fmt::format("{} {}: ", instrument, word(channel)) + why(it);
    if (it.wrong_way) text += (it.why == job::ScaleIsWrong::Why::way ? "" : " And ") + which_way(it);
    return text + " Then check again.";
  }

  /// "level slope", "laser".
  [[nodiscard]] std::string name() const {
    return is_of_datum(channel) ? instrument : fmt::format("{} {}", instrument, word(channel));
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
        return "it is off as inches are for millimetres: look at the unit of what you said of the piece and "
               "the "
               "feet, and of base in the kit sheet.";
      case Why::exchanged:
        return fmt::format(
            "it answered to the piece that was laid for {}: slope and roll are exchanged in the kit sheet, "
            "or the "
            "piece lay under the wrong foot.",
            channel == Channel::slope ? "roll" : "slope");
      case Why::no_change:
        return "it did not change: make sure that this is the instrument that was read, and that the piece "
               "lay under "
               "its foot; if so, its unit, its scale or where it is read from is wrong in the kit sheet.";
      case Why::calibration:
        break;
    }
    return fmt::format(
        "it reads {:.3f} times what is due, which no unit explains. Measure the {} again{}; if it stays so, "
        "have it "
        "serviced.",
        std::abs(it.scale),
        channel == Channel::distance ? "distance between the two places"
                                     : "piece and the distance between its feet",
        it.has_scale ? ", and compare scale in the kit sheet with its manual" : "");
  }
  [[nodiscard]] std::string unit(const job::ScaleIsWrong& it) const {
    std::string text = fmt::format("a wrong unit: it sends {}, which is taken for {}. ", it.meant, it.said);
    if (it.device_says_unit)
      text += fmt::format("It calls it {} itself: set the instrument to send {}.", it.said, it.said);
    else if (it.meant == "%")
      text += it.has_scale
                  ? std::string(
                        "One percent is 10 mm/m: write unit = \"mm/m\" and a scale ten times that "
                        "of percent into the kit sheet.")
                  : std::string(
                        "No sheet knows percent: set the instrument to send mm/m or deg, and write that.");
    else
      text += fmt::format("Write unit = \"{}\" into that channel of the kit sheet.", it.meant);
    if (it.has_scale)
      text += fmt::format(" Or its scale is wrong there: it is to be {:.4g} times what it is.",
                          1 / std::abs(it.scale));
    return text;
  }
  [[nodiscard]] std::string which_way(const job::ScaleIsWrong& it) const {
    const std::string sign = fmt::format("sign = {}", -it.sign);
    if (it.both_ways)
      return fmt::format(
          "both slope and roll changed the wrong way: it stood the other way round, or the start of the run "
          "was taken "
          "for its end. The end is where places are greatest, and left is left when one looks from the start "
          "to the "
          "end. If it stood right, write {} into this channel of the kit sheet.",
          sign);
    if (channel == Channel::distance)
      return fmt::format(
          "it changed the wrong way: the second place must be the higher one; if it was, write {} into that "
          "channel of "
          "the kit sheet.",
          sign);
    return fmt::format(
        "it changed the wrong way: a wrong sign, or the wrong {}. Make sure that the piece lay under the "
        "foot {}; if it "
        "did, write {} into that channel of the kit sheet.",
        channel == Channel::slope ? "end" : "edge",
        channel == Channel::slope ? "nearer to the end of the run, where places are greatest"
                                  : "at the left edge, left when one looks from the start to the end",
        sign);
  }
  [[nodiscard]] std::string angle(double value_rad) const { return fine_slope_words(value_rad, show); }
  [[nodiscard]] std::string reading(double sigma) const {
    return is_of_datum(channel) ? sheet::show_fine(sigma, show) : angle(sigma);
  }
  [[nodiscard]] std::string when_rough(double sigma) const {
    if (is_of_datum(channel))
      return "see that the laser stands firm and the marks are met, and check again; if it stays so, the "
             "laser does "
             "not level itself alike each time: read all of a survey from one set-up, or have it serviced.";
    return fmt::format(
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

std::string instruction(const job::ZeroCheckGuide& guide, sheet::Show) {
  const std::string check = title(job::CheckKind::zero, guide.instrument());
  const std::optional<job::ZeroStep> step = guide.next();
  if (!step) return check + ": all readings are taken.";
  return fmt::format("{}, round {} of {}, face {}: {} Take your hands off; when it is still, say next.",
                     check, step->round, step->rounds, step->face, what_to_do(step->action));
}

std::string instruction(const job::DatumCheckGuide& guide, sheet::Show show) {
  const std::string check = title(job::CheckKind::datum, guide.instrument());
  const std::optional<job::DatumStep> step = guide.next();
  if (!step) return check + ": all readings are taken.";
  return fmt::format("{}, set-up {}, round {} of {}: {} When it is still, say next.", check, step->set_up,
                     step->round, step->rounds, what_to_do(*step, show));
}

std::string instruction(const job::ScaleCheckGuide& guide, sheet::Show show) {
  const std::string check = title(job::CheckKind::scale, guide.instrument());
  const std::optional<job::ScaleStep> step = guide.next();
  if (!step) return check + ": all readings are taken.";
  return fmt::format("{}, round {} of {}: {} Take your hands off; when it is still, say next.", check,
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

std::string scale_found(const book::ScaleCheck& check) {
  return fmt::format("{} scale {:.3f} +- {:.3f}, {}", check.channel, check.scale, check.sigma,
                     check.sound ? "scale, unit and sign right" : "something is wrong");
}

std::string_view scale_gap(job::ScaleGap why) {
  switch (why) {
    case job::ScaleGap::no_kit_sheet:
      return "no kit sheet describes it";
    case job::ScaleGap::never_checked:
      return "never checked";
    case job::ScaleGap::failed:
      return "the last check found it wrong";
    case job::ScaleGap::lines_changed:
      return "its lines in the kit sheet changed since the check";
    case job::ScaleGap::calibrated_since:
      return "calibrated anew since the check";
    case job::ScaleGap::calibration_past_due:
      break;
  }
  return "its calibration was past due";
}

}  // namespace hangtrue::say
