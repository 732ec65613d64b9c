#include "firmware-host/job/commissioning.hpp"

#include <algorithm>
#include <cmath>
#include <variant>

namespace hangtrue::job {
namespace {

std::optional<CheckRefusal> rounds_objection(int rounds) {
  if (rounds >= 1 && rounds <= kMostRounds) return std::nullopt;
  return RoundsNotAllowed{rounds};
}

bool has_zero(const sheet::KitChannel& channel) {
  return channel.gives == Channel::slope || channel.gives == Channel::roll;
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

/// The former check of the same kind.
struct Former {
  book::Time time;
  double value = 0, sigma = 0;
  double keeps = 0;  // sigma of what may have changed since without a drift
  fit::Scatter of_readings;
};

fit::Scatter scatter_of(std::initializer_list<std::span<const double>> groups) {
  fit::PooledScatter pooled;
  for (const std::span<const double> group : groups) pooled.add(group);
  return pooled.scatter();
}

/// What was found, beside what is stated (question a of core/fit/repeatability.hpp), what is expected, and the former check
/// (questions b and c).
template <class Check>
class Judge {
 public:
  Judge(Channel channel, const fit::Checked& found, CheckOutcome<Check>& outcome)
      : channel_(channel), found_(found), outcome_(outcome) {}

  void offset(double apart_m = 0) {
    const fit::OffsetTest none = fit::test_offset(found_.value, found_.sigma);
    FoundOffset told{found_.value, found_.sigma, found_.rounds, std::nullopt, apart_m};
    if (none.verdict == fit::OffsetVerdict::none) told.p_of_none = none.p_value;
    add(told);
  }

  void scatter(double stated) {
    const fit::ScatterTest& test = found_.repeatability;
    if (test.verdict == fit::ScatterVerdict::not_tested) return;
    const bool too_much = test.verdict == fit::ScatterVerdict::larger_than_stated;
    add(FoundScatter{found_.of_readings.sigma, stated, test.most_sigma, test.p_value, too_much}, too_much);
  }

  /// `sigma`: of what nobody checked; 0: nothing is expected.
  void expected(double sigma) {
    if (sigma > 0 && std::abs(found_.value) > kServiceSigmas * sigma) add(BeyondExpected{sigma}, true);
  }

  void compare(const std::optional<Former>& former) {
    if (!former) return add(FirstOfItsKind{});
    const Drift moved = drift(former->value, former->sigma, found_.value, found_.sigma, former->keeps);
    add(ComparedWithFormer{former->time, former->value, former->sigma, moved}, moved.significant);
    const fit::SameScatterTest same = fit::test_same_scatter(found_.of_readings, former->of_readings);
    if (same.verdict == fit::SameScatterVerdict::first_larger)
      add(ScattersMore{former->time, former->of_readings.sigma, same.p_value}, true);
  }

 private:
  template <class What>
  void add(What what, bool is_trouble = false) {
    outcome_.findings.push_back({channel_, std::move(what)});
    outcome_.sound = outcome_.sound && !is_trouble;
  }

  Channel channel_;
  const fit::Checked& found_;
  CheckOutcome<Check>& outcome_;
};

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

std::optional<CheckRefusal> ZeroCheckGuide::objection(const sheet::KitInstrument& instrument, int rounds) {
  if (std::none_of(instrument.channels.begin(), instrument.channels.end(), has_zero)) return GivesNoAngle{};
  return rounds_objection(rounds);
}

ZeroCheckGuide::ZeroCheckGuide(const sheet::KitInstrument& instrument, int rounds)
    : name_(instrument.name), rounds_(rounds) {
  for (const sheet::KitChannel& channel : instrument.channels)
    if (has_zero(channel)) channels_.push_back({channel, {}});
}

std::optional<ZeroStep> ZeroCheckGuide::next() const {
  if (done()) return std::nullopt;
  ZeroStep next{.round = step_ / 2 + 1, .rounds = rounds_, .face = step_ % 2 + 1};
  if (next.face == 2)
    next.action = ZeroStep::Action::turn_round;
  else if (step_ > 0)
    next.action = ZeroStep::Action::turn_back;
  return next;
}

std::optional<CheckRefusal> ZeroCheckGuide::take(std::span<const CheckReading> values) {
  if (done()) return AllTaken{CheckKind::zero};
  for (const CheckedChannel& channel : channels_)
    if (!usable(find(values, channel.kit.gives))) return NotSettled{channel.kit.gives};
  for (CheckedChannel& channel : channels_) channel.taken.push_back(*find(values, channel.kit.gives));
  ++step_;
  return std::nullopt;
}

CheckOutcome<book::ZeroCheck> ZeroCheckGuide::result(std::span<const book::NumberedEntry> earlier) const {
  CheckOutcome<book::ZeroCheck> outcome;
  if (!done()) {
    outcome.sound = false;
    outcome.findings.push_back({Channel::slope, StillToTake{CheckKind::zero, steps() - step_}});
    return outcome;
  }
  for (const CheckedChannel& channel : channels_) {
    book::ZeroCheck check;
    check.instrument = name_;
    check.channel = word(channel.kit.gives);
    for (std::size_t i = 0; i < channel.taken.size(); ++i)
      (i % 2 == 0 ? check.face_1 : check.face_2).push_back(channel.taken[i].value);
    const double stated = stated_sigma(channel.taken);
    const fit::Checked found = fit::zero_by_faces(check.face_1, check.face_2, stated);
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
    Judge judge(channel.kit.gives, found, outcome);
    judge.offset();
    judge.scatter(stated);
    judge.expected(channel.kit.zero_sigma);
    judge.compare(former);
    outcome.found.push_back(found);
    outcome.checks.push_back(std::move(check));
  }
  return outcome;
}

// ---- datum from two set-ups ---------------------------------------------------------------------------------------

std::optional<CheckRefusal> DatumCheckGuide::objection(const sheet::KitInstrument& instrument,
                                                       const sheet::RunSheet& run, double near_m,
                                                       double far_m, int rounds) {
  if (std::none_of(instrument.channels.begin(), instrument.channels.end(),
                   [](const sheet::KitChannel& each) { return each.gives == Channel::distance; }))
    return GivesNoDistance{};
  if (!(near_m >= 0 && far_m <= run.length_m)) return PlacesOffRun{near_m, far_m, run.length_m};
  const double least_apart_m = kLeastApart * run.length_m;
  if (!(far_m - near_m >= least_apart_m)) return PlacesTooClose{near_m, far_m, least_apart_m};
  return rounds_objection(rounds);
}

DatumCheckGuide::DatumCheckGuide(const sheet::KitInstrument& instrument, const sheet::RunSheet& run,
                                 double near_m, double far_m, int rounds)
    : name_(instrument.name),
      tilt_sigma_(run.priors.datum_tilt_sigma),
      near_m_(near_m),
      far_m_(far_m),
      rounds_(rounds) {}

std::optional<DatumStep> DatumCheckGuide::next() const {
  if (done()) return std::nullopt;
  using Action = DatumStep::Action;
  const int of_set_up = step() % (2 * rounds_);
  const bool second = step() >= 2 * rounds_, far = of_set_up % 2 == 1;
  DatumStep next{.set_up = second ? 2 : 1,
                 .round = of_set_up / 2 + 1,
                 .rounds = rounds_,
                 .at_m = far ? far_m_ : near_m_};
  if (far)
    next.action = step() == 1 ? Action::read_far_and_mark : Action::read_far;
  else if (of_set_up > 0)
    next.action = Action::level_anew;
  else
    next.action = second ? Action::carry_beyond_end : Action::set_up_before_start;
  return next;
}

std::optional<CheckRefusal> DatumCheckGuide::take(std::span<const CheckReading> values) {
  if (done()) return AllTaken{CheckKind::datum};
  const CheckReading* const reading = find(values, Channel::distance);
  if (!usable(reading)) return NotSettled{Channel::distance};
  taken_.push_back(*reading);
  return std::nullopt;
}

CheckOutcome<book::DatumCheck> DatumCheckGuide::result(std::span<const book::NumberedEntry> earlier) const {
  CheckOutcome<book::DatumCheck> outcome;
  if (!done()) {
    outcome.sound = false;
    outcome.findings.push_back({Channel::distance, StillToTake{CheckKind::datum, steps() - step()}});
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

  const double apart_m = far_m_ - near_m_;
  std::optional<Former> former;
  if (const auto* const last = last_check<book::DatumCheck>(
          earlier, [&](const book::DatumCheck& each) { return each.instrument == name_; })) {
    const auto& then = std::get<book::DatumCheck>(last->entry.content);
    former = Former{last->entry.time, then.tilt_rad, then.sigma_rad, stated / apart_m,
                    scatter_of({then.near_1, then.far_1, then.near_2, then.far_2})};
  }
  Judge judge(Channel::distance, found, outcome);
  judge.offset(apart_m);
  judge.scatter(stated);
  judge.expected(tilt_sigma_);
  judge.compare(former);
  outcome.findings.push_back({Channel::distance, HowTiltCounts{}});
  outcome.found.push_back(found);
  outcome.checks.push_back(std::move(check));
  return outcome;
}

}  // namespace hangtrue::job
