#include "firmware-host/node/ring.hpp"

#include <gtest/gtest.h>

#include <thread>

namespace hangtrue::node {
namespace {

TEST(RingOfOneProducerAndOneConsumer, GivesBackInOrderAndRefusesWhenFull) {
  Ring<int, 4> ring;
  int taken = -1;
  EXPECT_FALSE(ring.take(taken));
  EXPECT_EQ(taken, -1);
  for (int i = 0; i < 4; ++i) EXPECT_TRUE(ring.put(i));
  EXPECT_EQ(ring.room(), 0u);
  EXPECT_FALSE(ring.put(99));
  for (int i = 0; i < 4; ++i) {
    EXPECT_TRUE(ring.take(taken));
    EXPECT_EQ(taken, i);
  }
  EXPECT_FALSE(ring.take(taken));
  EXPECT_EQ(ring.room(), 4u);
}

// Two threads stand for the interrupt and the main program; under the sanitizers too.
TEST(RingOfOneProducerAndOneConsumer, LosesAndReordersNothingBetweenTwoThreads) {
  constexpr std::uint32_t kMany = 20000;
  Ring<std::uint32_t, 64> ring;
  std::thread producer([&ring] {
    for (std::uint32_t i = 0; i < kMany;)
      if (ring.put(i))
        ++i;
      else
        std::this_thread::yield();
  });
  std::uint32_t expected = 0, wrong = 0;
  while (expected < kMany) {
    std::uint32_t taken = 0;
    if (!ring.take(taken)) {
      std::this_thread::yield();
      continue;
    }
    wrong += taken == expected ? 0u : 1u;
    ++expected;
  }
  producer.join();
  EXPECT_EQ(wrong, 0u);
}

}  // namespace
}  // namespace hangtrue::node
