#include "firmware-host/job/commissioning.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <variant>

#include "firmware-host/say/words.hpp"

namespace hangtrue::job {
namespace {

std::string chance(double p_value) {
  char text[32];
  std::snprintf(text, sizeof text, p_value < 0.001 ? "p < 0.001" : "p = %.3f", p_value);
  return text;
}

std::optional<std::string> rounds_objection(int rounds) {
  if (rounds >= 1 && rounds <= kMostRounds) return std::nullopt;
  return std::to_string(rounds) + " rounds: ask for 1 to " + std::to_string(kMostRounds) + ", usually " +
         std::to_string(kRounds) + '.';
}

std::optional<double> mean_temperature(std::span<const CheckReading> readings) {
  double sum = 0;
  int count = 0;
  for (const CheckReading& reading : readings)
    if (reading.temperature_C) {
      sum += *reading.temperature_C;
      ++count;
    }
  if (count == 0) return std::nullopt;
  return sum / count;
}

// What the readings themselves claim, r.m.s.
double stated_sigma(std::span<const CheckReading> readings) {
  double squares = 0;
  for (const CheckReading& reading : readings) squares += reading.sigma * reading.sigma;
  return std::sqrt(squares / double(readings.size()));
}

const CheckReading* find(std::span<const CheckReading> values, Channel gives) {
  const auto found = std::find_if(values.begin(), values.end(),
                                  [&](const CheckReading& each) { return each.gives == gives; });
  return found == values.end() ? nullptr : &*found;
}

bool usable(const CheckReading* reading) {
  return reading != nullptr && std::isfinite(reading->value) && std::isfinite(reading->sigma) &&
         reading->sigma > 0;
}

std::string not_settled(const std::string& instrument, Channel gives) {
  return instrument + ' ' + std::string(word(gives)) +
         ": no settled reading yet. Wait until it is still, then say next again.";
}

// What either check is, for the sentences that both have.
struct Telling {
  std::string name;  // "level slope"
  fit::Checked found;
  double stated = 0;                                        // sigma of one reading
  std::function<std::string(double)> show, show_reading;    // what is checked, and one reading
  std::string value, scatter_of, explained_by, when_rough;  // halves of sentences
  double most_expected = 0;  // sigma of what nobody checked; 0: nothing expected
  std::string expected, make_sure;
};
struct Former {
  book::Time time;
  double value = 0, sigma = 0, keeps = 0;
  fit::Scatter of_readings;
};

fit::Scatter scatter_of(std::initializer_list<std::span<const double>> groups) {
  fit::PooledScatter pooled;
  for (const std::span<const double> group : groups) pooled.add(group);
  return pooled.scatter();
}

// What was found, beside what is stated (question a), what is expected, and the former check (questions b and c).
template <class Check>
void tell(const Telling& it, const std::optional<Former>& former, CheckOutcome<Check>& outcome) {
  const auto say = [&](const std::string& text) { outcome.sentences.push_back(it.name + ": " + text); };
  const auto trouble = [&](bool is) { outcome.sound = outcome.sound && !is; };
  const fit::Checked& found = it.found;
  const fit::OffsetTest none = fit::test_offset(found.value, found.sigma);
  say(it.value + " +- " + it.show(found.sigma) + ", from " + std::to_string(found.rounds) +
      (found.rounds == 1 ? " round" : " rounds") +
      (none.verdict == fit::OffsetVerdict::none ? "; as good as none (" + chance(none.p_value) + ")." : "."));

  const fit::ScatterTest& scatter = found.repeatability;
  if (scatter.verdict != fit::ScatterVerdict::not_tested) {
    const bool larger = scatter.verdict == fit::ScatterVerdict::larger_than_stated;
    say("one reading scatters by " + it.show_reading(found.of_readings.sigma) + it.scatter_of + "; " +
        it.show_reading(it.stated) + " is stated, up to " + it.show_reading(scatter.most_sigma) +
        " would pass (" + chance(scatter.p_value) + "). " +
        (larger ? "That is too much: " + it.when_rough : "That is as stated."));
    trouble(larger);
  }
  if (it.most_expected > 0 && std::abs(found.value) > 3 * it.most_expected) {
    say("more than three times " + it.expected + " of " + it.show(it.most_expected) + ". Make sure that " +
        it.make_sure + "; if so, have it serviced before it is used.");
    trouble(true);
  }
  if (!former) return say("the first such check of it in this book.");
  const std::string then = "on " + say::date_of(former->time) + ' ';
  const Drift moved = drift(former->value, former->sigma, found.value, found.sigma, former->keeps);
  say(then + "it was " + it.show(former->value) + " +- " + it.show(former->sigma) + "; " + it.show(moved.by) +
      " since, " + (moved.significant ? "more than " : "no more than ") + it.explained_by + " (" +
      chance(moved.p_value) + ")" +
      (moved.significant ? ": it has drifted, and what was read in between may be off by as much." : "."));
  trouble(moved.significant);
  const fit::SameScatterTest same = fit::test_same_scatter(found.of_readings, former->of_readings);
  if (same.verdict == fit::SameScatterVerdict::first_larger) {
    say(then + "one reading scattered by no more than " + it.show_reading(former->of_readings.sigma) + " (" +
        chance(same.p_value) + "): something has come loose, or the place is less firm.");
    trouble(true);
  }
}

// The last check among these entries that `is_it` is true of.
template <class Check, class IsIt>
const book::NumberedEntry* last_check(std::span<const book::NumberedEntry> entries, const IsIt& is_it) {
  const book::NumberedEntry* last = nullptr;
  for (const book::NumberedEntry& each : entries)
    if (const auto* const check = std::get_if<Check>(&each.entry.content); check != nullptr && is_it(*check))
      last = &each;
  return last;
}

}  // namespace

// ---- zero by faces ------------------------------------------------------------------------------------------------

namespace {

bool has_zero(const sheet::KitChannel& channel) {
  return channel.gives == Channel::slope || channel.gives == Channel::roll;
}

}  // namespace

std::optional<std::string> ZeroCheckGuide::objection(const sheet::KitInstrument& instrument, int rounds) {
  if (std::none_of(instrument.channels.begin(), instrument.channels.end(), has_zero))
    return instrument.name +
           " gives neither slope nor roll: a zero check by faces is for inclinometers. A laser has a datum "
           "check.";
  return rounds_objection(rounds);
}

ZeroCheckGuide::ZeroCheckGuide(const sheet::KitInstrument& instrument, sheet::Show show, int rounds)
    : name_(instrument.name), show_(show), rounds_(rounds) {
  for (const sheet::KitChannel& channel : instrument.channels)
    if (has_zero(channel)) channels_.push_back({channel, {}});
}

std::string ZeroCheckGuide::instruction() const {
  if (done()) return "Zero check of " + name_ + ": all readings are taken.";
  const bool face_2 = step_ % 2 == 1;
  std::string text = "Zero check of " + name_ + ", round " + std::to_string(step_ / 2 + 1) + " of " +
                     std::to_string(rounds_) + ", face " + (face_2 ? "2: " : "1: ");
  if (step_ == 0)
    text +=
        "stand it on a firm, clean place, nearly level, and mark where each foot stands. Nobody touches that "
        "place or "
        "leans on it until the check is done.";
  else if (face_2)
    text += "turn it round, end for end, each foot on the other's mark.";
  else
    text += "turn it back, each foot on its own mark.";
  return text + " Take your hands off; when it is still, say next.";
}

std::optional<std::string> ZeroCheckGuide::take(std::span<const CheckReading> values) {
  if (done()) return "Zero check of " + name_ + ": all readings are taken already.";
  for (const CheckedChannel& channel : channels_)
    if (!usable(find(values, channel.kit.gives))) return not_settled(name_, channel.kit.gives);
  for (CheckedChannel& channel : channels_) channel.taken.push_back(*find(values, channel.kit.gives));
  ++step_;
  return std::nullopt;
}

bool ZeroCheckGuide::take_back() {
  if (step_ == 0) return false;
  --step_;
  for (CheckedChannel& channel : channels_) channel.taken.pop_back();
  return true;
}

CheckOutcome<book::ZeroCheck> ZeroCheckGuide::result(std::span<const book::NumberedEntry> earlier) const {
  CheckOutcome<book::ZeroCheck> outcome;
  if (!done()) {
    outcome.sound = false;
    outcome.sentences.push_back("Zero check of " + name_ + ": " + std::to_string(steps() - step_) +
                                " readings are still to be taken.");
    return outcome;
  }
  const auto show = [this](double value) { return say::fine_slope_words(value, show_); };
  for (const CheckedChannel& channel : channels_) {
    book::ZeroCheck check;
    check.instrument = name_;
    check.channel = say::word(channel.kit.gives);
    for (std::size_t i = 0; i < channel.taken.size(); ++i)
      (i % 2 == 0 ? check.face_1 : check.face_2).push_back(channel.taken[i].value);
    const fit::Checked found = fit::zero_by_faces(check.face_1, check.face_2, stated_sigma(channel.taken));
    check.zero = found.value;
    check.sigma = found.sigma;
    check.temperature_C = mean_temperature(channel.taken);

    std::optional<Former> former;
    if (const auto* const last = last_check<book::ZeroCheck>(earlier, [&](const book::ZeroCheck& each) {
          return each.instrument == check.instrument && each.channel == check.channel;
        })) {
      const auto& then = std::get<book::ZeroCheck>(last->entry.content);
      former = Former{last->entry.time, then.zero, then.sigma, channel.kit.zero_keeps,
                      scatter_of({then.face_1, then.face_2})};
    }
    tell({.name = name_ + ' ' + check.channel,
          .found = found,
          .stated = stated_sigma(channel.taken),
          .show = show,
          .show_reading = show,
          .value = "zero " + show(found.value),
          .scatter_of = "",
          .explained_by = "the two checks and zero_keeps explain",
          .when_rough =
              "set the feet exactly on their marks, keep still, and check again; if it stays so, write "
              "sigma = \"" +
              show(found.of_readings.sigma) + "\" for this channel into the kit sheet.",
          .most_expected = channel.kit.zero_sigma,
          .expected = "its zero_sigma",
          .make_sure = "it was turned round between the two faces"},
         former, outcome);
    outcome.found.push_back(found);
    outcome.checks.push_back(std::move(check));
  }
  return outcome;
}

// ---- datum from two set-ups ---------------------------------------------------------------------------------------

std::optional<std::string> DatumCheckGuide::objection(const sheet::KitInstrument& instrument,
                                                      const sheet::RunSheet& run, double near_m, double far_m,
                                                      int rounds) {
  if (std::none_of(instrument.channels.begin(), instrument.channels.end(),
                   [](const sheet::KitChannel& each) { return each.gives == Channel::distance; }))
    return instrument.name +
           " gives no distance: a datum check is for a laser datum. An inclinometer has a zero check.";
  const auto place = [&](double at_m) { return sheet::show_place(at_m, run.show); };
  if (!(near_m >= 0 && far_m <= run.length_m))
    return "The places " + place(near_m) + " and " + place(far_m) +
           " are not both on the run: name two from 0 to " + place(run.length_m) + '.';
  if (!(far_m - near_m >= run.length_m / 4))
    return "The places " + place(near_m) + " and " + place(far_m) +
           " are too close: name first the one nearer to the start, and at least " + place(run.length_m / 4) +
           " between the two.";
  return rounds_objection(rounds);
}

DatumCheckGuide::DatumCheckGuide(const sheet::KitInstrument& instrument, const sheet::RunSheet& run,
                                 double near_m, double far_m, int rounds)
    : name_(instrument.name),
      show_(run.show),
      tilt_sigma_(run.priors.datum_tilt_sigma),
      near_m_(near_m),
      far_m_(far_m),
      rounds_(rounds) {}

std::string DatumCheckGuide::instruction() const {
  if (done()) return "Datum check of " + name_ + ": all readings are taken.";
  const int of_set_up = step() % (2 * rounds_);
  const bool second = step() >= 2 * rounds_, far = of_set_up % 2 == 1;
  std::string text = "Datum check of " + name_ + ", set-up " + (second ? "2" : "1") + ", round " +
                     std::to_string(of_set_up / 2 + 1) + " of " + std::to_string(rounds_) + ": ";
  if (step() == 0)
    text +=
        "stand the laser beyond the start of the run, in line with it, and mark the side that faces the run. "
        "Let it "
        "level itself. Never look into a laser. Then read at " +
        sheet::show_place(near_m_, show_) + " and mark where exactly.";
  else if (step() == 2 * rounds_)
    text +=
        "carry the laser beyond the other end of the run, in line with it, and turn it about, so that the "
        "marked side "
        "faces the run again. Let it level itself. Then read at " +
        sheet::show_place(near_m_, show_) + ", on the mark.";
  else if (!far)
    text += "switch the laser off and on, so that it levels itself anew; do not move it. Then read at " +
            sheet::show_place(near_m_, show_) + ", on the mark.";
  else
    text += "now read at " + sheet::show_place(far_m_, show_) +
            (step() == 1 ? " and mark where exactly." : ", on the mark.");
  return text + " When it is still, say next.";
}

std::optional<std::string> DatumCheckGuide::take(std::span<const CheckReading> values) {
  if (done()) return "Datum check of " + name_ + ": all readings are taken already.";
  const CheckReading* const reading = find(values, Channel::distance);
  if (!usable(reading)) return not_settled(name_, Channel::distance);
  taken_.push_back(*reading);
  return std::nullopt;
}

bool DatumCheckGuide::take_back() {
  if (taken_.empty()) return false;
  taken_.pop_back();
  return true;
}

CheckOutcome<book::DatumCheck> DatumCheckGuide::result(std::span<const book::NumberedEntry> earlier) const {
  CheckOutcome<book::DatumCheck> outcome;
  if (!done()) {
    outcome.sound = false;
    outcome.sentences.push_back("Datum check of " + name_ + ": " + std::to_string(steps() - step()) +
                                " readings are still to be taken.");
    return outcome;
  }
  book::DatumCheck check;
  check.instrument = name_;
  check.near_m = near_m_;
  check.far_m = far_m_;
  std::vector<double>* const into[] = {&check.near_1, &check.far_1, &check.near_2, &check.far_2};
  for (int i = 0; i < steps(); ++i)
    into[(i >= 2 * rounds_ ? 2 : 0) + i % 2]->push_back(taken_[std::size_t(i)].value);
  const double stated = stated_sigma(taken_);
  const fit::Checked found =
      fit::tilt_by_set_ups(near_m_, far_m_, check.near_1, check.far_1, check.near_2, check.far_2, stated);
  check.tilt_rad = found.value;
  check.sigma_rad = found.sigma;
  check.temperature_C = mean_temperature(taken_);

  const auto show = [this](double tilt) { return say::fine_slope_words(tilt, show_); };
  const auto fine = [this](double length) { return sheet::show_fine(length, show_); };
  const double apart = far_m_ - near_m_;
  std::optional<Former> former;
  if (const auto* const last = last_check<book::DatumCheck>(
          earlier, [&](const book::DatumCheck& each) { return each.instrument == name_; })) {
    const auto& then = std::get<book::DatumCheck>(last->entry.content);
    former = Former{last->entry.time, then.tilt_rad, then.sigma_rad, stated / apart,
                    scatter_of({then.near_1, then.far_1, then.near_2, then.far_2})};
  }
  tell({.name = name_,
        .found = found,
        .stated = stated,
        .show = show,
        .show_reading = fine,
        .value = std::string("its plane ") + (found.value < 0 ? "sinks" : "climbs") +
                 " away from the laser by " + show(std::abs(found.value)) + " (" +
                 fine(std::abs(found.value) * apart) + " between the two places)",
        .scatter_of = ", levelling anew included",
        .explained_by = "the two checks explain",
        .when_rough =
            "see that the laser stands firm and the marks are met, and check again; if it stays so, the "
            "laser does not level itself alike each time: read all of a survey from one set-up, or have it "
            "serviced.",
        .most_expected = tilt_sigma_,
        .expected = "the run sheet's sigma",
        .make_sure = "the marked side faced the run from both ends"},
       former, outcome);
  outcome.sentences.push_back(
      name_ +
      ": this is allowed for where the book says beyond which end the laser stands. Keep the "
      "marked side towards the run.");
  outcome.found.push_back(found);
  outcome.checks.push_back(std::move(check));
  return outcome;
}

}  // namespace hangtrue::job
