#include "firmware-host/node/sample.hpp"

#include <algorithm>

namespace hangtrue::node {

namespace {

constexpr std::array<std::uint8_t, 2> kBegin{0xA5, 0x5A};
constexpr std::uint8_t kButton = 1, kFault = 2;

std::uint32_t little_endian(std::span<const std::uint8_t> bytes) {
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < bytes.size(); ++i) value |= std::uint32_t(bytes[i]) << (8 * i);
  return value;
}

}  // namespace

std::uint8_t crc8(std::span<const std::uint8_t> bytes) {
  unsigned crc = 0;
  for (const std::uint8_t byte : bytes) {
    crc ^= byte;
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 0x80u) != 0 ? (crc << 1) ^ 0x107u : crc << 1;
  }
  return std::uint8_t(crc);
}

// What is left after the first byte was no begin: up to the next byte that may be one.
void SampleReader::drop_first() {
  const auto next = std::find(frame_.begin() + 1, frame_.begin() + std::ptrdiff_t(length_), kBegin[0]);
  const auto dropped = std::size_t(next - frame_.begin());
  std::copy(next, frame_.begin() + std::ptrdiff_t(length_), frame_.begin());
  length_ -= dropped;
  refused_ += std::uint32_t(dropped);
}

bool SampleReader::push(std::uint8_t byte, Sample& sample) {
  frame_[length_++] = byte;
  while (length_ > 0) {
    const bool begins = frame_[0] == kBegin[0] && (length_ < 2 || frame_[1] == kBegin[1]);
    if (begins && length_ < kBytes) return false;
    const std::span<const std::uint8_t> frame(frame_);
    if (begins && crc8(frame.subspan(2, 13)) == frame_[15]) {
      sample.number = std::uint16_t(little_endian(frame.subspan(2, 2)));
      sample.slope_counts = std::int32_t(little_endian(frame.subspan(4, 4)));
      sample.roll_counts = std::int32_t(little_endian(frame.subspan(8, 4)));
      sample.temperature_cC = std::int16_t(little_endian(frame.subspan(12, 2)));
      sample.button = (frame_[14] & kButton) != 0;
      sample.sensor_fault = (frame_[14] & kFault) != 0;
      length_ = 0;
      return true;
    }
    drop_first();
  }
  return false;
}

}  // namespace hangtrue::node
