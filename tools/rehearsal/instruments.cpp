#include "tools/rehearsal/instruments.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "core/quantity/units.hpp"
#include "firmware-host/sheet/units.hpp"
#include "tools/rehearsal/ways_of_speaking.hpp"

namespace hangtrue::rehearsal {

namespace {

constexpr double kNoiseOfSpread =
    1.0 / 9;  // sigma of a sample; cut at three, so that it stays within 2/3 of the spread
constexpr double kHandlingOfSpread = 30;  // amplitude of the swing under hands
constexpr double kHandling_Hz = 1.7;
constexpr double kOutlierOfSpread = 40;

bool stays(const sheet::KitChannel& channel) { return channel.station_m.has_value(); }

}  // namespace

FaultCounts& FaultCounts::operator+=(const FaultCounts& other) {
  messages += other.messages;
  torn += other.torn;
  wrong_checksum += other.wrong_checksum;
  outliers += other.outliers;
  garbled += other.garbled;
  not_answered += other.not_answered;
  exceptions += other.exceptions;
  return *this;
}

std::string words(const FaultCounts& counts) {
  std::string faults;
  const auto add = [&faults](std::uint64_t count, const std::string& what) {
    if (count > 0) faults += (faults.empty() ? "" : ", ") + std::to_string(count) + ' ' + what;
  };
  add(counts.torn, "torn");
  add(counts.wrong_checksum, "wrong checksums");
  add(counts.garbled, "garbled");
  add(counts.exceptions, "refused");
  add(counts.not_answered, "unanswered");
  add(counts.outliers, "outlying values");
  return std::to_string(counts.messages) + " messages of the instruments" +
         (faults.empty() ? "" : "; spoilt on purpose:\n  " + faults);
}

double settle_spread(const sheet::KitChannel& channel) {
  return channel.settle_spread > 0 ? channel.settle_spread : 3 * channel.sigma;
}

double in_unit(double value, const std::string& unit, Channel gives) {
  if (gives == Channel::station) return value;
  if (gives == Channel::slope && unit == "deg") return std::atan(value) * 180 / kPi;
  const auto none = sheet::convert(0, unit, sheet::kind_of(gives)),
             one = sheet::convert(1, unit, sheet::kind_of(gives));
  if (!none || !one)
    throw std::invalid_argument("\"" + unit + "\" is no unit here");  // a kit sheet has checked it
  return (value - none.value()) / (one.value() - none.value());
}

Instrument::Instrument(const Truth& truth, const sheet::KitSheet& kit, std::size_t index, std::uint64_t seed,
                       FaultRates rates, double handling_s)
    : rates_(rates),
      truth_(truth),
      kit_file_(kit.file),
      kit_(kit.instruments.at(index)),
      index_(index),
      handling_s_(handling_s),
      random_(seed),
      placings_(std::mt19937_64(seed)()) {
  place(stand_, -handling_s_);
}

void Instrument::place(const Stand& stand, double now_s) {
  const bool first = placing_error_.empty();
  placing_error_.resize(kit_.channels.size());
  stand_ = stand;
  placed_s_ = now_s;
  for (std::size_t i = 0; i < kit_.channels.size(); ++i) {
    const double error = std::normal_distribution<double>(0, 1)(placings_) * kit_.channels[i].sigma;
    if (first || !stays(kit_.channels[i])) placing_error_[i] = error;
  }
}

bool Instrument::happens(double rate) { return std::uniform_real_distribution<double>()(random_) < rate; }

void Instrument::maybe_tear(std::string& message) {
  if (!happens(rates_.torn)) return;
  ++faults_.torn;
  message.resize(1 + any_of(message.size() - 2));
}

void Instrument::refuse(std::size_t channel, const std::string& why) const {
  throw std::invalid_argument(kit_file_ + ": instrument \"" + kit_.name + "\", channel \"" +
                              kit_.channels[channel].transducer + "\" cannot be rehearsed: " + why);
}

double Instrument::value(std::size_t channel, double now_s) {
  const sheet::KitChannel& kit = kit_.channels[channel];
  double value = truth_.reading(index_, channel, stand_);
  if (kit.gives == Channel::temperature || kit.gives == Channel::station) return value;
  const double spread = settle_spread(kit);
  const double noise = std::normal_distribution<double>(0, 1)(random_);
  value += placing_error_[channel] + spread * kNoiseOfSpread * std::clamp(noise, -3.0, 3.0);
  const double since_s = now_s - placed_s_;
  if (!stays(kit) && since_s < handling_s_) {
    const double fading = 1 - since_s / handling_s_;
    value += kHandlingOfSpread * spread * fading * std::cos(2 * kPi * kHandling_Hz * since_s);
  }
  if (happens(rates_.outlier)) {
    ++faults_.outliers;
    value += kOutlierOfSpread * spread;
  }
  return value;
}

std::unique_ptr<Instrument> make_instrument(const Truth& truth, const sheet::KitSheet& kit, std::size_t index,
                                            std::uint64_t seed, FaultRates rates, double handling_s) {
  switch (kit.instruments.at(index).speaks) {
    case sheet::Speaks::xdr:
      return make_xdr_instrument(truth, kit, index, seed, rates, handling_s);
    case sheet::Speaks::modbus:
      return make_modbus_instrument(truth, kit, index, seed, rates, handling_s);
    case sheet::Speaks::line:
      break;
  }
  return make_line_instrument(truth, kit, index, seed, rates, handling_s);
}

}  // namespace hangtrue::rehearsal
