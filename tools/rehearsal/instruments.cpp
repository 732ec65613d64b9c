#include "tools/rehearsal/instruments.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <stdexcept>

#include "core/quantity/units.hpp"
#include "firmware-host/wire/framing.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::rehearsal {

namespace {

constexpr double kNoiseOfSpread =
    1.0 / 9;  // sigma of a sample; cut at three, so that it stays within 2/3 of the spread
constexpr double kHandlingOfSpread = 30;  // amplitude of the swing under hands
constexpr double kHandling_Hz = 1.7;
constexpr double kOutlierOfSpread = 40;
constexpr std::string_view kHead = "$YXXDR";  // YX: transducer
constexpr std::size_t kTail = 5;              // "*hh\r\n"

bool stays(const sheet::KitChannel& channel) { return channel.station_m.has_value(); }

std::string printed(const char* format, double value) {
  char text[64];
  std::snprintf(text, sizeof text, format, value);
  return text;
}

}  // namespace

double settle_spread(const sheet::KitChannel& channel) {
  return channel.settle_spread > 0 ? channel.settle_spread : 3 * channel.sigma;
}

Instrument::Instrument(const Truth& truth, const sheet::KitSheet& kit, std::size_t index, std::uint64_t seed,
                       FaultRates rates, double handling_s)
    : truth_(truth),
      kit_(kit.instruments.at(index)),
      index_(index),
      rates_(rates),
      handling_s_(handling_s),
      random_(seed) {
  if (kit_.speaks != sheet::Speaks::xdr) {
    throw std::invalid_argument(kit.file + ": instrument \"" + kit_.name +
                                "\" does not speak xdr, and only such instruments can be rehearsed");
  }
  placing_error_.resize(kit_.channels.size());
  place(stand_, -handling_s_);
}

void Instrument::place(const Stand& stand, double now_s) {
  const bool first = faults_.sentences == 0;
  stand_ = stand;
  placed_s_ = now_s;
  for (std::size_t i = 0; i < kit_.channels.size(); ++i) {
    const double error = std::normal_distribution<double>(0, 1)(random_) * kit_.channels[i].sigma;
    if (first || !stays(kit_.channels[i])) placing_error_[i] = error;
  }
}

bool Instrument::happens(double rate) { return std::uniform_real_distribution<double>()(random_) < rate; }

double Instrument::noisy_value(std::size_t channel, double now_s) {
  const sheet::KitChannel& kit = kit_.channels[channel];
  double value = truth_.reading(index_, channel, stand_);
  if (kit.gives == sheet::Gives::temperature || kit.gives == sheet::Gives::station) return value;
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

std::string Instrument::quad(std::size_t channel, double now_s) {
  const sheet::KitChannel& kit = kit_.channels[channel];
  const double value = noisy_value(channel, now_s);
  constexpr double kDegrees = 180 / kPi;
  switch (kit.gives) {
    case sheet::Gives::slope:
      return ",A," + printed("%.4f", std::atan(kit.sign * value) * kDegrees) + ",D," + kit.transducer;
    case sheet::Gives::roll:
      return ",A," + printed("%.4f", kit.sign * value * kDegrees) + ",D," + kit.transducer;
    case sheet::Gives::distance:
      return ",D," + printed("%.5f", kit.sign * value) + ",M," + kit.transducer;
    case sheet::Gives::temperature:
      return ",C," + printed("%.2f", value) + ",C," + kit.transducer;
    case sheet::Gives::station:
      return ",G," + printed("%.0f", value) + ",," + kit.transducer;
  }
  return {};
}

void Instrument::append_sentence(std::string& out, const std::string& fields) {
  std::string sentence = std::string(kHead) + fields;
  unsigned sum = wire::checksum(std::string_view(sentence).substr(1));
  ++faults_.sentences;
  if (happens(rates_.wrong_checksum)) {
    ++faults_.wrong_checksum;
    sum ^= 1;
  }
  char tail[8];
  std::snprintf(tail, sizeof tail, "*%02X\r\n", sum);
  sentence += tail;
  if (happens(rates_.torn)) {
    ++faults_.torn;
    sentence.resize(1 + random_() % (sentence.size() - 2));
  }
  out += sentence;
}

std::string Instrument::sample(double now_s) {
  std::string out, fields;
  for (std::size_t i = 0; i < kit_.channels.size(); ++i) {
    const std::string next = quad(i, now_s);
    if (!fields.empty() && kHead.size() + fields.size() + next.size() + kTail > wire::kLongestSentence) {
      append_sentence(out, fields);
      fields.clear();
    }
    fields += next;
  }
  if (!fields.empty()) append_sentence(out, fields);
  return out;
}

}  // namespace hangtrue::rehearsal
