// sample.hpp: what the inclinometer's converter gives, and how the emulated board's second line carries it.
//
// Frame    16 bytes, little-endian: A5 5A, number (16 bits, one more each time), slope and roll (32 bits each, counts), temperature
//          (16 bits, hundredths of a degree Celsius), flags, CRC-8 over the 13 bytes between.
// CRC-8    polynomial x^8 + x^2 + x + 1, begins with 0, as the packet error check of SMBus; of "123456789" it is F4 (from memory).
// Counted  every byte is in a sample or counted as refused.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

namespace hangtrue::node {

/// One conversion. Samples come kSamples_per_s a second, by the sensor's own clock: `number` is the time.
struct Sample {
  std::uint16_t number = 0;
  std::int32_t slope_counts = 0, roll_counts = 0;
  std::int16_t temperature_cC = 0;
  bool button = false;        // the station button is down
  bool sensor_fault = false;  // the sensor says that it is not well
};
inline constexpr std::uint32_t kSamples_per_s = 50;

[[nodiscard]] std::uint8_t crc8(std::span<const std::uint8_t> bytes);

/// Bytes of the second line to samples.
class SampleReader {
 public:
  static constexpr std::size_t kBytes = 16;
  /// True when a sample is whole: `sample` is it.
  [[nodiscard]] bool push(std::uint8_t byte, Sample& sample);
  [[nodiscard]] std::uint32_t refused() const { return refused_; }

 private:
  void drop_first();
  std::array<std::uint8_t, kBytes> frame_{};
  std::size_t length_ = 0;
  std::uint32_t refused_ = 0;
};

}  // namespace hangtrue::node
