#include "firmware-host/node/log.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace hangtrue::node {
namespace {

constexpr std::size_t kSlots = 5;
constexpr std::size_t kBytes = 2 * Log::kMarkBytes + kSlots * Log::kEntryBytes;

LogEntry entry(std::uint16_t station) {
  return {0, station, 0.001F * float(station), 2e-5F, -0.002F, 3e-5F, 21.5F};
}

// Source: CRC-32 of IEEE 802.3 gives CBF43926h for "123456789" (the usual check value, from memory).
TEST(NodeLog, CrcHasItsCheckValue) {
  const std::vector<std::uint8_t> text{'1', '2', '3', '4', '5', '6', '7', '8', '9'};
  EXPECT_EQ(crc32(text), 0xCBF43926u);
}

TEST(NodeLog, KeepsEntriesOverAStartAndHandsOverWhatIsNotTaken) {
  for (const std::uint8_t blank : {std::uint8_t(0), std::uint8_t(0xFF)}) {
    std::vector<std::uint8_t> memory(kBytes, blank);
    {
      Log log(memory);
      EXPECT_EQ(log.newest(), 0u);
      EXPECT_FALSE(log.from(1));
      for (std::uint16_t station = 1; station <= 3; ++station) EXPECT_EQ(log.add(entry(station)), station);
      EXPECT_TRUE(log.take(2));
    }
    Log log(memory);
    EXPECT_EQ(log.newest(), 3u);
    EXPECT_EQ(log.taken(), 2u);
    EXPECT_EQ(log.unfinished(), 0u);
    const auto third = log.from(log.taken() + 1);
    ASSERT_TRUE(third);
    EXPECT_EQ(third->number, 3u);
    EXPECT_EQ(third->station, 3);
    EXPECT_EQ(third->slope, 0.003F);
    EXPECT_EQ(third->temperature_C, 21.5F);
    EXPECT_FALSE(log.from(4));
    EXPECT_FALSE(log.take(4));
    EXPECT_FALSE(log.take(1));
    EXPECT_TRUE(log.take(2));  // said twice by a host that heard no answer
    EXPECT_TRUE(log.take(3));
    EXPECT_EQ(log.add(entry(4)), 4u);
  }
}

TEST(NodeLog, TheOldestGivesWayAndWhatWasNeverTakenIsCounted) {
  std::vector<std::uint8_t> memory(kBytes);
  Log log(memory);
  for (std::uint16_t station = 1; station <= 12; ++station) static_cast<void>(log.add(entry(station)));
  EXPECT_EQ(log.lost(), 12 - kSlots);
  EXPECT_EQ(log.from(1)->number, 8u);
  Log again(memory);
  EXPECT_EQ(again.lost(), 12 - kSlots);
  EXPECT_EQ(again.newest(), 12u);
  EXPECT_TRUE(again.take(12));
  EXPECT_EQ(again.lost(), 0u);
}

/// Memory whose power goes at the n-th write: what was written before stays, in the order of writing.
class CutShort {
 public:
  explicit CutShort(const std::vector<std::uint8_t>& before) : before_(before) {}
  /// `done` differs from `before`: every state in between, byte by byte as Log writes: the last word spoilt, all bytes in order.
  [[nodiscard]] std::vector<std::vector<std::uint8_t>> states(const std::vector<std::uint8_t>& done,
                                                              std::size_t at, std::size_t bytes) const {
    std::vector<std::vector<std::uint8_t>> result{before_};
    std::vector<std::uint8_t> now = before_;
    for (std::size_t i = bytes - 4; i < bytes; ++i) {
      now[at + i] = std::uint8_t(~done[at + i]);
      result.push_back(now);
    }
    for (std::size_t i = 0; i < bytes; ++i) {
      now[at + i] = done[at + i];
      result.push_back(now);
    }
    return result;
  }

 private:
  std::vector<std::uint8_t> before_;
};

TEST(NodeLog, PowerThatGoesAtAnyByteLosesAtMostTheUnfinishedEntryAndSaysSo) {
  for (int entries = 0; entries < 8; ++entries) {  // the ring is overwritten as well
    std::vector<std::uint8_t> memory(kBytes);
    {
      Log log(memory);
      for (int i = 0; i < entries; ++i) static_cast<void>(log.add(entry(std::uint16_t(i + 1))));
    }
    std::vector<std::uint8_t> done = memory;
    {
      Log log(done);
      static_cast<void>(log.add(entry(99)));
    }
    const std::size_t at = 2 * Log::kMarkBytes + (std::size_t(entries) + 1) % kSlots * Log::kEntryBytes;
    const auto states = CutShort(memory).states(done, at, Log::kEntryBytes);
    ASSERT_EQ(states.back(), done);
    for (std::size_t cut = 0; cut < states.size(); ++cut) {
      std::vector<std::uint8_t> left = states[cut];
      Log log(left);
      const bool whole = log.newest() == std::uint32_t(entries) + 1;
      if (cut + 1 == states.size()) {
        EXPECT_TRUE(whole);
      }
      EXPECT_EQ(log.newest(), std::uint32_t(entries) + (whole ? 1 : 0)) << entries << ' ' << cut;
      EXPECT_LE(log.unfinished(), 1u);
      EXPECT_TRUE(!whole || log.unfinished() == 0);
      // All others are there, but the one whose place it was to take.
      const auto first = std::uint32_t(std::max(1, entries + 1 - int(kSlots) + 1));
      std::uint32_t seen = 0;
      for (std::uint32_t n = first;; ++seen) {
        const auto each = log.from(n);
        if (!each) break;
        n = each->number + 1;
      }
      EXPECT_EQ(seen, std::uint32_t(entries) - first + 1 + (whole ? 1 : 0)) << entries << ' ' << cut;
      const std::uint32_t next = log.newest() + 1;
      EXPECT_EQ(log.add(entry(7)), next);
      EXPECT_EQ(Log(left).unfinished(), 0u);  // said once
    }
  }
}

TEST(NodeLog, PowerThatGoesWhileTheMarkIsWrittenLeavesTheOldMarkOrTheNew) {
  std::vector<std::uint8_t> memory(kBytes);
  {
    Log log(memory);
    for (int i = 0; i < 4; ++i) static_cast<void>(log.add(entry(1)));
    EXPECT_TRUE(log.take(1));
    EXPECT_TRUE(log.take(2));
  }
  std::vector<std::uint8_t> done = memory;
  EXPECT_TRUE(Log(done).take(3));
  const std::size_t third = 3 % 2 * Log::kMarkBytes;  // the two places take turns
  int old = 0;
  for (auto& left : CutShort(memory).states(done, third, Log::kMarkBytes)) {
    const std::uint32_t taken = Log(left).taken();
    EXPECT_TRUE(taken == 2 || taken == 3) << taken;
    old += taken == 2 ? 1 : 0;
  }
  EXPECT_GT(old, 10);
}

}  // namespace
}  // namespace hangtrue::node
