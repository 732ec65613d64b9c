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
  std::string text;
  for (std::size_t i = 0; i < channels.size(); ++i)
    text += fmt::format("{}{}", i == 0 ? "" : i + 1 == channels.size() ? " and " : ", ", word(channels[i]));
  return text;
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
        "no zero check of {} in the book: its zero error is known only as well as the kit sheet's zero_sigma "
        "says.",
        list_of(it.channels));
  }
  std::string operator()(const job::NoDatumCheck&) const {
    return "no datum check in the book: the tilt of its plane is known only as well as the run sheet "
           "assumes.";
  }
  std::string operator()(const job::ZeroTooLarge& it) const {
    return fmt::format("{} reads {} too much, more than three times its zero_sigma of {}: have it serviced.",
                       word(it.channel), fine_slope_words(it.zero_rad, show),
                       fine_slope_words(it.zero_sigma_rad, show));
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

/// "Zero check of level", "Datum check of laser".
std::string title(job::CheckKind kind, const std::string& instrument) {
  return fmt::format("{} check of {}", kind == job::CheckKind::zero ? "Zero" : "Datum", instrument);
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
  [[nodiscard]] std::string place(double at_m) const { return sheet::show_place(at_m, show); }
};

/// Both kinds of check in the same sentences, but for the parts that tell them apart.
struct FindingWords {
  const std::string& instrument;
  Channel channel;
  sheet::Show show;

  std::string operator()(const job::StillToTake& it) const {
    const auto kind = is_of_datum(channel) ? job::CheckKind::datum : job::CheckKind::zero;
    return fmt::format("{}: {} readings are still to be taken.", title(kind, instrument), it.readings);
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
        "{}: more than three times {} of {}. Make sure that {}; if so, have it serviced before it is used.",
        name(), is_of_datum(channel) ? "the run sheet's sigma" : "its zero_sigma",
        angle(it.expected_sigma_rad),
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

  /// "level slope", "laser".
  [[nodiscard]] std::string name() const {
    return is_of_datum(channel) ? instrument : fmt::format("{} {}", instrument, word(channel));
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
        "set the feet exactly on their marks, keep still, and check again; if it stays so, write sigma = "
        "\"{}\" for "
        "this channel into the kit sheet.",
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

}  // namespace hangtrue::say
