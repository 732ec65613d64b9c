#include "firmware-host/node/signal.hpp"

#include <cmath>

#include "core/quantity/units.hpp"

namespace hangtrue::node {

LowPass::LowPass() {
  const float g = std::tan(float(kPi) * kCutOff_Hz / float(kSamples_per_s));
  a1_ = 1 / (1 + g * (g + std::sqrt(2.0F)));
  a2_ = g * a1_;
  a3_ = g * a2_;
}

float LowPass::next(float value) {
  if (!begun_) {
    begun_ = true;
    first_ = 0;
    second_ = value;
  }
  const float off = value - second_;
  const float band = a1_ * first_ + a2_ * off;
  const float low = second_ + a2_ * first_ + a3_ * off;
  first_ = 2 * band - first_;
  second_ = 2 * low - second_;
  return low;
}

const char* name(AxisState state) {
  switch (state) {
    case AxisState::well:
      return "well";
    case AxisState::silent:
      return "silent";
    case AxisState::sensor_fault:
      return "sensor fault";
    case AxisState::out_of_range:
      return "out of range";
    case AxisState::stuck:
      break;
  }
  return "stuck";
}

Axis::Axis(const Calibration& calibration, const survey::SettleLimits<float>& limits)
    : calibration_(calibration), settling_(limits) {}

void Axis::add(std::uint64_t time_us, std::int32_t counts, float temperature_C, bool sensor_fault) {
  repeats_ = counts == counts_ ? repeats_ + 1 : 0;
  counts_ = counts;
  fault_ = sensor_fault;
  if (state() != AxisState::well) {
    low_pass_.restart();
    settling_.restart(time_us);
    return;
  }
  const float warmer_C = temperature_C - kReference_C;
  const float shown = float(counts) * calibration_.rad_per_count - calibration_.zero_rad -
                      calibration_.zero_rad_per_C * warmer_C;
  angle_rad_ = low_pass_.next(shown / (1 + calibration_.gain_per_C * warmer_C));
  settling_.add(time_us, std::tan(angle_rad_), temperature_C);
}

void Axis::restart(std::uint64_t time_us) {
  low_pass_.restart();
  settling_.restart(time_us);
}

bool Axis::take_zero(std::uint64_t time_us) {
  const std::optional<survey::Settled<float>> now = settled(time_us);
  if (!now) return false;
  calibration_.zero_rad += std::atan(now->mean);
  restart(time_us);
  return true;
}

AxisState Axis::state() const {
  if (fault_) return AxisState::sensor_fault;
  if (counts_ > kOutOfRange || counts_ < -kOutOfRange) return AxisState::out_of_range;
  if (repeats_ >= kStuckSamples) return AxisState::stuck;
  return AxisState::well;
}

std::optional<survey::Settled<float>> Axis::settled(std::uint64_t time_us) const {
  if (state() != AxisState::well) return std::nullopt;
  const auto value = settling_.value(time_us);
  if (!value.ok()) return std::nullopt;
  return value.value();
}

}  // namespace hangtrue::node
