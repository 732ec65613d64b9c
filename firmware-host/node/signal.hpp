// signal.hpp: from raw counts of one axis to an angle, to a steady value, to a reading.
//
// Path       counts -> angle = (counts * scale - zero - zero drift * dT) / (1 + gain drift * dT)  -> low pass -> settling
// Units      rad, degrees Celsius; dT from kReference_C.
// Low pass   Butterworth of the second order, cut-off kCutOff_Hz, by the bilinear transform. 1 at rest, 1/sqrt(2) at the cut-off.
//            Source: A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing (bilinear transform); V. Zavalishin,
//            The Art of VA Filter Design (the form with two integrators). From memory.
//            The first sample, and the first after a restart, is taken as if it had always been so.
// Settling   core/survey/settling.hpp, in the sensor's own time: a sample is 1 / kSamples_per_s.
// Health     one predicate a reason; the first that holds is the verdict. Nothing is sent of an axis that is not well.
#pragma once

#include <cstdint>
#include <optional>

#include "core/survey/settling.hpp"
#include "firmware-host/node/sample.hpp"

namespace hangtrue::node {

inline constexpr float kCutOff_Hz = 2;
inline constexpr float kReference_C = 20;
/// Counts beyond this are the converter's end, not a slope.
inline constexpr std::int32_t kFullScale = 8388607, kOutOfRange = 8300000;
/// The very same counts so often: a converter of this fineness shows noise in every sample.
inline constexpr std::uint32_t kStuckSamples = 100;
/// Samples after which the sensor's own signal is there in full.
inline constexpr std::uint32_t kExcitationRise = 20;
/// What self-test adds, in counts, and how far off it may be.
inline constexpr std::int32_t kExcitation = 100000, kExcitationOff = 15000;

struct Calibration {
  float rad_per_count = 0.5F / 8388608.0F;
  float zero_rad = 0;
  float zero_rad_per_C = 0;
  float gain_per_C = 0;
};

class LowPass {
 public:
  LowPass();
  void restart() { begun_ = false; }
  [[nodiscard]] float next(float value);

 private:
  float a1_, a2_, a3_;
  float first_ = 0, second_ = 0;  // of its two integrators; at rest 0 and the value, whatever the rounding
  bool begun_ = false;
};

enum class AxisState : std::uint8_t { well, silent, sensor_fault, out_of_range, stuck };
[[nodiscard]] const char* name(AxisState state);

class Axis {
 public:
  Axis(const Calibration& calibration, const survey::SettleLimits<float>& limits);

  void add(std::uint64_t time_us, std::int32_t counts, float temperature_C, bool sensor_fault);
  /// Somebody carries it elsewhere.
  void restart(std::uint64_t time_us);
  /// What it shows now is to be nought: false where it is not settled.
  [[nodiscard]] bool take_zero(std::uint64_t time_us);

  /// Of the newest sample; silence is the caller's to see, who has the tick.
  [[nodiscard]] AxisState state() const;
  [[nodiscard]] float angle_rad() const { return angle_rad_; }
  [[nodiscard]] std::int32_t counts() const { return counts_; }
  [[nodiscard]] survey::Verdict verdict(std::uint64_t time_us) const { return settling_.verdict(time_us); }
  /// Of the tangent, that is the slope; nothing while it is not settled or not well.
  [[nodiscard]] std::optional<survey::Settled<float>> settled(std::uint64_t time_us) const;

 private:
  Calibration calibration_;
  LowPass low_pass_;
  survey::Settling<float> settling_;
  std::int32_t counts_ = 0;
  std::uint32_t repeats_ = 0;
  float angle_rad_ = 0;
  bool fault_ = false;
};

}  // namespace hangtrue::node
