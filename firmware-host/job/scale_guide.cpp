#include "firmware-host/job/scale_guide.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "core/quantity/units.hpp"
#include "firmware-host/job/scale_check.hpp"

namespace hangtrue::job {
namespace {

/// A unit that a device may send in. Its size in SI; degrees of a slope by their tangent.
struct SentUnit {
  std::string_view name;
  double si;
  bool by_tangent = false;

  /// The number that a device in this unit sends for a value.
  [[nodiscard]] double number(double value) const { return (by_tangent ? std::atan(value) : value) / si; }
  [[nodiscard]] double value(double number) const {
    return by_tangent ? std::tan(std::clamp(number * si, -1.5, 1.5)) : number * si;
  }
};
constexpr double kDegree = kPi / 180;
constexpr std::array kOfSlope{SentUnit{"mm/m", 1e-3}, SentUnit{"%", 1e-2}, SentUnit{"in/ft", 1.0 / 12},
                              SentUnit{"deg", kDegree, true}, SentUnit{"rad", 1}};
constexpr std::array kOfRoll{SentUnit{"mm/m", 1e-3}, SentUnit{"%", 1e-2}, SentUnit{"in/ft", 1.0 / 12},
                             SentUnit{"deg", kDegree}, SentUnit{"rad", 1}};
constexpr std::array kOfDistance{SentUnit{"mm", 1e-3}, SentUnit{"cm", 1e-2}, SentUnit{"m", 1},
                                 SentUnit{"in", kInch_m}, SentUnit{"ft", 12 * kInch_m}};

std::span<const SentUnit> units_of(Channel gives) {
  if (gives == Channel::distance) return kOfDistance;
  return gives == Channel::roll ? std::span<const SentUnit>(kOfRoll) : std::span<const SentUnit>(kOfSlope);
}

/// The units that a channel's numbers may be taken for: one, but where the line itself says its unit.
std::vector<SentUnit> said_units(const sheet::KitInstrument& instrument, const sheet::KitChannel& channel) {
  std::string said = channel.unit;
  if (said.empty() && instrument.speaks == sheet::Speaks::xdr)
    said = channel.gives == Channel::distance ? "m" : "deg";
  const std::span<const SentUnit> all = units_of(channel.gives);
  if (said.empty()) return {all.begin(), all.end()};
  const auto size = sheet::convert(1, said, sheet::kind_of(channel.gives));
  for (const SentUnit& unit : all)
    if (size && std::abs(size.value() - unit.value(1)) < 1e-9 * unit.value(1)) return {unit};
  return {};
}

const CheckReading* find(std::span<const CheckReading> values, Channel gives) {
  const auto found = std::find_if(values.begin(), values.end(),
                                  [&](const CheckReading& each) { return each.gives == gives; });
  return found == values.end() || !std::isfinite(found->value) || !(found->sigma > 0) ? nullptr : &*found;
}

double feet_of(const sheet::KitChannel& channel, const ScaleSetting& setting) {
  if (channel.gives == Channel::slope) return channel.base_m;
  return channel.gives == Channel::roll ? setting.feet_across_m.value_or(0) : 0;
}

bool takes_part(Channel gives, bool by_places) {
  return by_places ? gives == Channel::distance : gives == Channel::slope || gives == Channel::roll;
}

/// Sigma of the scale that comes from the length and the feet alone.
double sigma_of_setting(const ScaleSetting& setting, double feet_m) {
  const double of_length = (setting.by_places ? kTapeSigma_m : kPieceSigma_m) / setting.length_m;
  return std::hypot(of_length, setting.by_places ? 0 : kFeetSigma_m / feet_m);
}

/// The shortest length that tells a scale well enough; `reading_sigma`: of the change, over the rounds.
double least_length(const ScaleSetting& setting, double feet_m, double change_sigma) {
  const double of_feet = setting.by_places ? 0 : kFeetSigma_m / feet_m;
  const double rest = std::sqrt(kScaleSigmaAtMost * kScaleSigmaAtMost - of_feet * of_feet);
  return std::hypot(setting.by_places ? kTapeSigma_m : kPieceSigma_m,
                    change_sigma * (setting.by_places ? 1 : feet_m)) /
         rest;
}

/// Infinity where the channel has no range.
double longest_length(const sheet::KitChannel& channel, const ScaleSetting& setting, double feet_m) {
  const bool bounded = channel.range_from && channel.range_to;
  if (setting.by_places)
    return bounded ? *channel.range_to - *channel.range_from : std::numeric_limits<double>::infinity();
  double steepest = kSteepestPiece;
  if (bounded)
    steepest = std::min(steepest,
                        kMostOfRange * std::min(std::abs(*channel.range_from), std::abs(*channel.range_to)));
  return steepest * feet_m;
}

}  // namespace

struct ScaleCheckGuide::Seen {
  std::vector<double> before, with;
  double change = 0, change_sigma = 0;
  double scale = 0, sigma = 0;
  fit::Scatter of_readings;
  fit::ScatterTest repeatability;
  double stated = 0;
  std::optional<double> temperature_C;
  [[nodiscard]] bool agrees() const {
    return repeatability.verdict != fit::ScatterVerdict::larger_than_stated;
  }
  [[nodiscard]] bool right() const {
    return std::abs(scale - 1) <= std::min(kScaleWithin, kScaleSigmas * sigma);
  }
};

std::optional<CheckRefusal> ScaleCheckGuide::objection(const sheet::KitInstrument& instrument,
                                                       const ScaleSetting& setting, int rounds) {
  if (rounds < 1 || rounds > kMostRounds) return RoundsNotAllowed{rounds};
  bool any = false;
  double least_m = 0, most_m = std::numeric_limits<double>::infinity();
  for (const sheet::KitChannel& channel : instrument.channels) {
    if (!takes_part(channel.gives, setting.by_places)) continue;
    any = true;
    const double feet_m = feet_of(channel, setting);
    if (!setting.by_places) {
      if (channel.gives == Channel::slope && !(feet_m > 0)) return NoBase{};
      if (channel.gives == Channel::roll && !(feet_m > 0)) return FeetAcrossNotSaid{};
      if (feet_m < kLeastFeet_m) return FeetTooClose{channel.gives, feet_m, kLeastFeet_m};
    }
    const double least = least_length(setting, feet_m, channel.sigma * std::sqrt(2.0 / rounds));
    least_m = std::max(least_m, least);
    most_m = std::min(most_m, std::max(least, longest_length(channel, setting, feet_m)));
  }
  if (!any) {
    if (setting.by_places) return NoHeightForIt{};
    return NoPieceUnderIt{};
  }
  if (!(setting.length_m >= least_m)) return LengthTooShort{setting.by_places, setting.length_m, least_m};
  if (!(setting.length_m <= std::max(least_m, most_m)))
    return LengthTooLong{setting.by_places, setting.length_m, std::max(least_m, most_m)};
  return std::nullopt;
}

ScaleCheckGuide::ScaleCheckGuide(const sheet::KitInstrument& instrument, const ScaleSetting& setting,
                                 int rounds)
    : kit_(instrument), setting_(setting), rounds_(rounds) {
  for (const Channel gives : {Channel::slope, Channel::roll, Channel::distance}) {
    if (!takes_part(gives, setting.by_places)) continue;
    for (const sheet::KitChannel& channel : instrument.channels)
      if (channel.gives == gives)
        channels_.push_back(
            {channel,
             steps_of_round(),
             setting.by_places ? setting.length_m : setting.length_m / feet_of(channel, setting),
             {}});
  }
}

std::optional<ScaleStep> ScaleCheckGuide::next() const {
  if (done()) return std::nullopt;
  using Action = ScaleStep::Action;
  const int of_round = step_ % steps_of_round();
  ScaleStep next{.round = step_ / steps_of_round() + 1, .rounds = rounds_, .length_m = setting_.length_m};
  if (of_round == 0 && setting_.by_places)
    next.action = step_ == 0 ? Action::first_place : Action::first_place_again;
  else if (of_round == 0)
    next.action = step_ == 0 ? Action::stand : Action::take_piece_out;
  else if (setting_.by_places)
    next.action = Action::higher_place;
  else
    next.action = channels_[std::size_t(of_round - 1)].kit.gives == Channel::slope ? Action::piece_under_end
                                                                                   : Action::piece_under_left;
  return next;
}

std::optional<CheckRefusal> ScaleCheckGuide::take(std::span<const CheckReading> values) {
  if (done()) return AllTaken{CheckKind::scale};
  for (const CheckedChannel& channel : channels_)
    if (find(values, channel.kit.gives) == nullptr) return NotSettled{channel.kit.gives};
  for (CheckedChannel& channel : channels_) channel.taken.push_back(*find(values, channel.kit.gives));
  ++step_;
  return std::nullopt;
}

/// Mean over the rounds of what it read in that step of a round, less what it read before.
double ScaleCheckGuide::change(const CheckedChannel& channel, int step_of_round) const {
  double sum = 0;
  for (int round = 0; round < rounds_; ++round) {
    const auto first = std::size_t(round * steps_of_round());
    sum += channel.taken[first + std::size_t(step_of_round)].value - channel.taken[first].value;
  }
  return sum / rounds_;
}

ScaleCheckGuide::Seen ScaleCheckGuide::seen_by(const CheckedChannel& channel) const {
  Seen seen;
  std::vector<double> changes;
  double squares = 0, temperature_C = 0;
  int temperatures = 0;
  for (std::size_t i = 0; i < channel.taken.size(); ++i) {
    const CheckReading& reading = channel.taken[i];
    squares += reading.sigma * reading.sigma / double(channel.taken.size());
    if (reading.temperature_C) {
      temperature_C += *reading.temperature_C;
      ++temperatures;
    }
    const int of_round = int(i) % steps_of_round();
    if (of_round == 0) seen.before.push_back(reading.value);
    if (of_round == channel.step_with) {
      seen.with.push_back(reading.value);
      changes.push_back(seen.with.back() - seen.before.back());
    }
  }
  if (temperatures > 0) seen.temperature_C = temperature_C / temperatures;
  seen.stated = std::sqrt(squares);
  fit::PooledScatter of_changes;
  of_changes.add(changes);
  const fit::Scatter scatter = of_changes.scatter();
  seen.of_readings = scatter;
  seen.of_readings.sigma /= std::sqrt(2.0);
  seen.repeatability = fit::test_scatter(seen.of_readings, seen.stated, kAlarmConfidence);
  seen.change = change(channel, channel.step_with);
  seen.change_sigma = fit::sigma_of_mean(scatter, rounds_, std::sqrt(2.0) * seen.stated, !seen.agrees());
  seen.scale = seen.change / channel.due;
  seen.sigma =
      std::hypot(seen.change_sigma / channel.due, sigma_of_setting(setting_, feet_of(channel.kit, setting_)));
  return seen;
}

ScaleIsWrong ScaleCheckGuide::explain(const CheckedChannel& channel, const Seen& seen) const {
  using Why = ScaleIsWrong::Why;
  ScaleIsWrong wrong;
  wrong.wrong_way = seen.scale < 0;
  wrong.sign = channel.kit.sign;
  wrong.scale = seen.scale;
  wrong.has_scale = channel.kit.modbus.has_value();
  const auto near_one = [](double scale) { return std::abs(std::abs(scale) - 1) <= kNamedWithin; };
  const bool changed = std::abs(seen.change) > kScaleSigmas * seen.change_sigma;
  for (const CheckedChannel& other : channels_)
    if (&other != &channel && std::abs(seen.scale) < kNamedWithin &&
        near_one(change(channel, other.step_with) / other.due)) {
      wrong.why = Why::exchanged;
      return wrong;
    }
  if (!changed) {
    wrong.why = Why::no_change;
    wrong.wrong_way = false;
    return wrong;
  }
  if (near_one(seen.scale)) {
    if (std::abs(std::abs(seen.scale) - 1) <= kScaleWithin) wrong.why = Why::way;
    return wrong;
  }
  // Of all pairs of units the one that explains it best.
  double best = kNamedWithin;
  for (const SentUnit& said : said_units(kit_, channel.kit))
    for (const SentUnit& meant : units_of(channel.kit.gives)) {
      double change = 0;
      for (std::size_t i = 0; i < seen.with.size(); ++i)
        change += (meant.value(said.number(seen.with[i])) - meant.value(said.number(seen.before[i]))) /
                  double(seen.with.size());
      const double off = std::abs(std::abs(change / channel.due) - 1);
      if (meant.name == said.name || !(off < best)) continue;
      best = off;
      wrong.why = Why::unit;
      wrong.said = said.name;
      wrong.meant = meant.name;
    }
  wrong.device_says_unit = channel.kit.unit.empty();
  if (wrong.why == Why::unit) return wrong;
  const double inch = kInch_m / 1e-3;
  if (near_one(seen.scale * inch) || near_one(seen.scale / inch)) wrong.why = Why::inches;
  return wrong;
}

CheckOutcome<book::ScaleCheck> ScaleCheckGuide::result(std::span<const book::NumberedEntry>) const {
  CheckOutcome<book::ScaleCheck> outcome;
  if (!done()) {
    outcome.sound = false;
    outcome.findings.push_back({channels_.front().kit.gives, StillToTake{CheckKind::scale, steps() - step_}});
    return outcome;
  }
  bool all_wrong_way = channels_.size() > 1;
  for (const CheckedChannel& channel : channels_) all_wrong_way = all_wrong_way && seen_by(channel).scale < 0;
  for (const CheckedChannel& channel : channels_) {
    const Seen seen = seen_by(channel);
    const Channel gives = channel.kit.gives;
    book::ScaleCheck check;
    check.instrument = kit_.name;
    check.channel = word(gives);
    check.before = seen.before;
    check.with = seen.with;
    check.length_m = setting_.length_m;
    check.feet_m = feet_of(channel.kit, setting_);
    check.scale = seen.scale;
    check.sigma = seen.sigma;
    check.sound = seen.right() && seen.agrees();
    check.lines_hash = lines_hash(channel.kit);
    check.temperature_C = seen.temperature_C;
    outcome.found.push_back({seen.change, seen.change_sigma, rounds_, seen.of_readings, seen.repeatability});
    outcome.findings.push_back(
        {gives, FoundScale{seen.change, channel.due, seen.scale, seen.sigma, rounds_, check.sound}});
    if (!seen.agrees())
      outcome.findings.push_back(
          {gives, RoundsDisagree{seen.of_readings.sigma, seen.stated, seen.repeatability.p_value}});
    if (!seen.right()) {
      ScaleIsWrong wrong = explain(channel, seen);
      wrong.both_ways = wrong.wrong_way && all_wrong_way;
      outcome.findings.push_back({gives, wrong});
    }
    outcome.sound = outcome.sound && check.sound;
    outcome.checks.push_back(std::move(check));
  }
  return outcome;
}

}  // namespace hangtrue::job
