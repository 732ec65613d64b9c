#include "firmware-host/node/sample.hpp"

#include <gtest/gtest.h>

#include <string_view>
#include <vector>

namespace hangtrue::node {
namespace {

using Bytes = std::vector<std::uint8_t>;

// Slope -2, roll 3, 21.5 C, button; CRC by crc8(), which is checked on its own.
Bytes good(std::uint16_t number) {
  Bytes frame{
      0xA5, 0x5A, std::uint8_t(number), std::uint8_t(number >> 8), 0xFE, 0xFF, 0xFF, 0xFF, 3, 0, 0, 0, 0x66,
      0x08, 1};
  frame.push_back(crc8(std::span<const std::uint8_t>(frame).subspan(2)));
  return frame;
}

std::vector<Sample> all(const Bytes& bytes, SampleReader& reader) {
  std::vector<Sample> samples;
  Sample sample;
  for (const std::uint8_t byte : bytes)
    if (reader.push(byte, sample)) samples.push_back(sample);
  return samples;
}

// Source: CRC-8 with polynomial 07h gives F4h for "123456789" (the usual check value, from memory).
TEST(SampleFrames, CrcHasItsCheckValue) {
  const Bytes text{'1', '2', '3', '4', '5', '6', '7', '8', '9'};
  EXPECT_EQ(crc8(text), 0xF4);
}

TEST(SampleFrames, GiveTheirValues) {
  SampleReader reader;
  const auto samples = all(good(0x1234), reader);
  ASSERT_EQ(samples.size(), 1u);
  EXPECT_EQ(samples[0].number, 0x1234);
  EXPECT_EQ(samples[0].slope_counts, -2);
  EXPECT_EQ(samples[0].roll_counts, 3);
  EXPECT_EQ(samples[0].temperature_cC, 2150);
  EXPECT_TRUE(samples[0].button);
  EXPECT_FALSE(samples[0].sensor_fault);
  EXPECT_EQ(reader.refused(), 0u);
}

TEST(SampleFrames, NeverGiveAnotherValueAfterOneFlippedBitAndTakeTheNextFrame) {
  for (std::size_t bit = 0; bit < SampleReader::kBytes * 8; ++bit) {
    SampleReader reader;
    Bytes bytes = good(7);
    bytes[bit / 8] ^= std::uint8_t(1u << (bit % 8));
    for (const std::uint8_t byte : good(8)) bytes.push_back(byte);
    const auto samples = all(bytes, reader);
    ASSERT_EQ(samples.size(), 1u) << bit;
    EXPECT_EQ(samples[0].number, 8) << bit;
    EXPECT_EQ(reader.refused(), SampleReader::kBytes) << bit;
  }
}

TEST(SampleFrames, EveryTruncationAndNoiseAreCounted) {
  for (std::size_t kept = 1; kept < SampleReader::kBytes; ++kept) {
    SampleReader reader;
    Bytes bytes{0xA5, 0xA5, 0x00, 0xFF};
    const Bytes frame = good(7);
    bytes.insert(bytes.end(), frame.begin(), frame.begin() + std::ptrdiff_t(kept));
    for (const std::uint8_t byte : good(8)) bytes.push_back(byte);
    const auto samples = all(bytes, reader);
    ASSERT_EQ(samples.size(), 1u) << kept;
    EXPECT_EQ(samples[0].number, 8) << kept;
    EXPECT_EQ(reader.refused(), 4 + kept) << kept;
  }
}

}  // namespace
}  // namespace hangtrue::node
