// A packed run comes back as it went in; what is damaged, cut or too much is refused by name, and nothing of it counts.
#include "firmware-host/node/packed_run.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "firmware-host/node/log.hpp"
#include "tests/firmware-host/node/invented_run.hpp"

namespace hangtrue::node {
namespace {

PackedRun invented() {
  PackedRun run;
  test::fill(run);
  run.slope_sigma = run.roll_sigma_rad = 20e-6F;
  run.slope_spread = run.roll_spread_rad = 80e-6F;
  run.slope_window_s = run.roll_window_s = 2;
  run.slope_zero = 0;
  run.roll_zero = 1;
  run.roll_sign = -1;
  run.stock.count = 1;
  run.stock.entry[0] = {0.5e-3F, 12};
  return run;
}

std::vector<std::uint8_t> packed(PackedRun run) {
  std::vector<std::uint8_t> bytes(kMostPacked);
  const auto length = pack(run, bytes);
  EXPECT_TRUE(length.ok());
  bytes.resize(length.ok() ? length.value() : 0);
  return bytes;
}

/// As somebody would make it who knows the CRC.
void mend_crc(std::vector<std::uint8_t>& bytes) {
  const std::size_t end = bytes.size() - 4;
  const std::uint32_t crc = crc32(std::span<const std::uint8_t>(bytes).first(end));
  for (std::size_t i = 0; i < 4; ++i) bytes[end + i] = std::uint8_t(crc >> (8 * i));
}

TEST(PackedRun, ComesBackAsItWentIn) {
  const std::vector<std::uint8_t> bytes = packed(invented());
  PackedRun again;
  ASSERT_TRUE(unpack(bytes, again).ok());
  EXPECT_EQ(packed(again), bytes);
  EXPECT_EQ(again.unknowns.count, 23);
  EXPECT_EQ(again.stations_m.entry[23], invented().stations_m.entry[23]);
  EXPECT_EQ(again.roll_sign, -1);
  EXPECT_EQ(again.stock.entry[0].count, 12);
}

// A CRC of 32 bits finds every error within 32 bits in a row (P. Koopman, 32-bit cyclic redundancy codes, DSN 2002; from memory).
TEST(PackedRun, EveryFlippedBitAndEveryOtherByteIsRefused) {
  const std::vector<std::uint8_t> bytes = packed(invented());
  PackedRun again;
  for (std::size_t i = 0; i < bytes.size(); ++i)
    for (const int flip : {1, 2, 4, 8, 16, 32, 64, 128, 255}) {
      std::vector<std::uint8_t> spoilt = bytes;
      spoilt[i] = std::uint8_t(spoilt[i] ^ flip);
      ASSERT_FALSE(unpack(spoilt, again).ok()) << "byte " << i << ", flipped " << flip;
    }
}

TEST(PackedRun, EveryCutIsRefused) {
  const std::vector<std::uint8_t> bytes = packed(invented());
  PackedRun again;
  for (std::size_t kept = 0; kept < bytes.size(); ++kept)
    ASSERT_FALSE(unpack(std::span(bytes).first(kept), again).ok()) << "kept " << kept;
}

TEST(PackedRun, NamesWhatItFinds) {
  std::vector<std::uint8_t> bytes = packed(invented());
  PackedRun again;
  bytes[3] = kPackedVersion + 1;
  const auto version = unpack(bytes, again);
  ASSERT_FALSE(version.ok());
  EXPECT_EQ(version.fault().code, PackFaultCode::other_version);
  EXPECT_EQ(version.fault().found, kPackedVersion + 1);
  bytes[3] = kPackedVersion;
  bytes[20] ^= 1;
  const auto crc = unpack(bytes, again);
  ASSERT_FALSE(crc.ok());
  EXPECT_EQ(crc.fault().code, PackFaultCode::wrong_crc);
}

struct TooMuch {
  const char* what;
  void (*more)(PackedRun&);
  int most;
};
class Capacity : public ::testing::TestWithParam<TooMuch> {};

TEST_P(Capacity, ExceededNamesTheLimit) {
  PackedRun run = invented();
  GetParam().more(run);
  std::vector<std::uint8_t> bytes(2 * kMostPacked);
  const auto refused = pack(run, bytes);
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.fault().code, PackFaultCode::limit_exceeded);
  EXPECT_EQ(std::string(refused.fault().what), GetParam().what);
  EXPECT_EQ(refused.fault().found, GetParam().most + 1);
  EXPECT_EQ(refused.fault().most, GetParam().most);
}

namespace limits = node_limits;
INSTANTIATE_TEST_SUITE_P(
    Limits, Capacity,
    ::testing::Values(
        TooMuch{"bows", [](PackedRun& run) { run.bows = limits::kBows + 1; }, limits::kBows},
        TooMuch{"stretches of constant section",
                [](PackedRun& run) { run.pieces.count = limits::kPieces + 1; }, limits::kPieces},
        TooMuch{"parts of loads", [](PackedRun& run) { run.load_parts.count = limits::kLoadParts + 1; },
                limits::kLoadParts},
        TooMuch{"supports", [](PackedRun& run) { run.supports.count = limits::kSupports + 1; },
                limits::kSupports},
        TooMuch{"stages", [](PackedRun& run) { run.stages.count = limits::kStages + 1; }, limits::kStages},
        TooMuch{"stations", [](PackedRun& run) { run.stations_m.count = limits::kStations + 1; },
                limits::kStations},
        TooMuch{"unknowns", [](PackedRun& run) { run.unknowns.count = limits::kUnknowns + 1; },
                limits::kUnknowns},
        TooMuch{"loads", [](PackedRun& run) { run.load_factor.count = limits::kLoads + 1; }, limits::kLoads},
        TooMuch{"channels", [](PackedRun& run) { run.zero.count = limits::kChannels + 1; },
                limits::kChannels},
        TooMuch{"thicknesses of shims", [](PackedRun& run) { run.stock.count = limits::kPieceKinds + 1; },
                limits::kPieceKinds}));

// A count beyond the limit that comes from elsewhere, with a right CRC.
TEST(PackedRun, ACountBeyondTheLimitIsRefusedByTheReaderToo) {
  std::vector<std::uint8_t> bytes = packed(invented());
  // Head 6, two names, length, width and shear centre, stage, finished stage and bows, tolerance, target: the next byte counts the pieces.
  const std::size_t count = 6 + 2 * kNameLength + 12 + 3 + 4 + 1 + 4;
  ASSERT_EQ(bytes[count], 1);
  bytes[count] = limits::kPieces + 1;
  mend_crc(bytes);
  PackedRun again;
  const auto refused = unpack(bytes, again);
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.fault().code, PackFaultCode::limit_exceeded);
  EXPECT_EQ(refused.fault().found, limits::kPieces + 1);
}

TEST(PackedRun, WhatCannotBeIsRefused) {
  const std::vector<void (*)(PackedRun&)> wrong = {
      [](PackedRun& run) { run.finished_stage = 2; },
      [](PackedRun& run) { run.stage = 1, run.finished_stage = 0; },
      [](PackedRun& run) { run.load_parts.entry[0].load = 3; },
      [](PackedRun& run) { run.unknowns.entry[0].what.shape.index = 3; },
      [](PackedRun& run) { run.unknowns.entry[21].what.index = 2; },
      [](PackedRun& run) { run.slope_zero = 2; },
      [](PackedRun& run) { run.slope_sigma = 0; },
      [](PackedRun& run) { run.roll_window_s = 0; },
      [](PackedRun& run) { run.slope_sign = 0; },
      [](PackedRun& run) { run.adjust[0].by = 4; },
  };
  for (std::size_t k = 0; k < wrong.size(); ++k) {
    PackedRun run = invented();
    wrong[k](run);
    PackedRun again;
    const auto refused = unpack(packed(run), again);
    ASSERT_FALSE(refused.ok()) << k;
    EXPECT_EQ(refused.fault().code, PackFaultCode::value_not_usable) << k;
  }
}

}  // namespace
}  // namespace hangtrue::node
