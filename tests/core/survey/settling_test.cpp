#include "core/survey/settling.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "tests/no_heap.hpp"

namespace hangtrue::survey {
namespace {

constexpr std::uint64_t kSecond_us = 1'000'000;
constexpr std::uint64_t kPeriod_us = 100'000;  // ten samples a second

SettleLimits<double> limits() {
  SettleLimits<double> limits;
  limits.window_us = 2 * kSecond_us;
  limits.spread = 50e-6;
  limits.sigma = 20e-6;
  limits.range_from = -0.05;
  limits.range_to = 0.05;
  return limits;
}

/// A device that sends ten samples a second: keeps its clock.
struct Device {
  Settling<double> settling{limits()};
  std::uint64_t now_us = 5 * kSecond_us;
  std::mt19937 random{11};

  void send(double value) {
    now_us += kPeriod_us;
    settling.add(now_us, value);
  }
  void rest(double value, double seconds, double noise = 5e-6) {
    std::uniform_real_distribution<double> spread(-noise, noise);
    for (int i = 0; i < std::lround(seconds * 10); ++i) send(value + (noise > 0 ? spread(random) : 0));
  }
  Verdict verdict() const { return settling.verdict(now_us); }
};

TEST(Settling, IsNeverSeenBeforeTheFirstSample) {
  Device device;
  EXPECT_EQ(device.verdict(), Verdict::never_seen);
  EXPECT_FALSE(device.settling.value(device.now_us).ok());
  EXPECT_FALSE(device.settling.newest().has_value());
}

TEST(Settling, TakesTheWholeWindowAndThenGivesMeanSigmaAndCount) {
  Device device;
  for (int i = 0; i < 20; ++i) device.send(i % 2 == 0 ? 0.001 : 0.00101);
  EXPECT_EQ(device.verdict(), Verdict::moving);  // spans 1.9 s
  device.send(0.001);
  ASSERT_EQ(device.verdict(), Verdict::settled);
  const auto settled = device.settling.value(device.now_us);
  ASSERT_TRUE(settled.ok());
  // 11 of 0.001 and 10 of 0.00101.
  EXPECT_EQ(settled.value().count, 21u);
  EXPECT_NEAR(settled.value().mean, 0.001 + 10e-6 * 10 / 21, 1e-15);
  EXPECT_NEAR(settled.value().spread, 10e-6, 1e-15);
  EXPECT_EQ(settled.value().to_us - settled.value().from_us, 2 * kSecond_us);
  EXPECT_EQ(settled.value().sigma, 20e-6);  // the kit's: scatter is less
}

TEST(Settling, SigmaIsTheScatterOfTheMeanWhereThatIsTheGreater) {
  SettleLimits<double> fine = limits();
  fine.sigma = 1e-9;
  Settling<double> settling(fine);
  const std::vector<double> values = {1e-6, 4e-6, 2e-6, 8e-6, 5e-6};
  for (std::size_t i = 0; i < values.size(); ++i) settling.add(i * kSecond_us / 2, values[i]);
  const auto settled = settling.value(2 * kSecond_us);
  ASSERT_TRUE(settled.ok());
  // By hand: mean 4, squares (9 + 0 + 4 + 16 + 1) = 30, s^2 = 30/4, s/sqrt(5) = sqrt(1.5); all in 1e-6.
  EXPECT_NEAR(settled.value().mean, 4e-6, 1e-18);
  EXPECT_NEAR(settled.value().sigma, std::sqrt(1.5) * 1e-6, 1e-15);
}

TEST(Settling, SpreadUpToTheLimitSettlesAndBeyondItDoesNot) {
  for (const double spread : {49.9e-6, 50.1e-6}) {
    Device device;
    for (int i = 0; i < 30; ++i) device.send(i % 3 == 0 ? 0.0 : spread);
    EXPECT_EQ(device.verdict(), spread <= 50e-6 ? Verdict::settled : Verdict::moving) << spread;
  }
}

TEST(Settling, OneKnockHoldsTheReadingBackForAWindow) {
  Device device;
  device.rest(0.001, 3);
  ASSERT_EQ(device.verdict(), Verdict::settled);
  device.send(0.0012);
  EXPECT_EQ(device.verdict(), Verdict::moving);
  EXPECT_NEAR(device.settling.spread(), 0.0002, 15e-6);
  device.rest(0.001, 1.9);
  EXPECT_EQ(device.verdict(), Verdict::moving);
  device.rest(0.001, 0.3);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, VibrationNeverMakesAReadingAndIsCalledNoisyInTheEnd) {
  Device device;
  device.rest(0.001, 29, 200e-6);
  EXPECT_EQ(device.verdict(), Verdict::moving);
  device.rest(0.001, 2, 200e-6);
  EXPECT_EQ(device.verdict(), Verdict::noisy);
  device.rest(0.001, 2.1);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, ASlowMovementIsNoReading) {
  Device device;
  for (int i = 0; i < 100; ++i) device.send(i * 5e-6);  // 50e-6 a second: 100e-6 in the window
  EXPECT_EQ(device.verdict(), Verdict::moving);
}

TEST(Settling, ForgetsTheFormerPlaceWhenRestarted) {
  Device device;
  device.rest(0.001, 3);
  device.settling.restart(device.now_us);
  EXPECT_EQ(device.verdict(), Verdict::moving);
  device.rest(0.001, 1.9);
  EXPECT_EQ(device.verdict(), Verdict::moving);
  device.rest(0.001, 0.2);
  ASSERT_EQ(device.verdict(), Verdict::settled);
  EXPECT_GE(device.settling.value(device.now_us).value().from_us, device.now_us - 2 * kSecond_us);
}

TEST(Settling, GoesStaleWhenSilentAndTakesAWholeWindowAfterwards) {
  Device device;
  device.rest(0.001, 3);
  EXPECT_EQ(device.settling.verdict(device.now_us + 3 * kSecond_us), Verdict::settled);
  EXPECT_EQ(device.settling.verdict(device.now_us + 3 * kSecond_us + 1), Verdict::stale);
  device.now_us += 4 * kSecond_us;
  device.send(0.001);
  EXPECT_EQ(device.verdict(), Verdict::moving);
  device.rest(0.001, 2.0);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, NamesWhatIsNoNumberAndRecovers) {
  for (const double bad : {std::nan(""), std::numeric_limits<double>::infinity()}) {
    Device device;
    device.rest(0.001, 3);
    device.send(bad);
    EXPECT_EQ(device.verdict(), Verdict::not_finite);
    device.send(0.001);
    EXPECT_EQ(device.verdict(), Verdict::moving);
    device.rest(0.001, 2.0);
    ASSERT_EQ(device.verdict(), Verdict::settled);
    EXPECT_NEAR(device.settling.value(device.now_us).value().mean, 0.001, 5e-6);
  }
}

TEST(Settling, NamesWhatIsOutOfRangeAndRecovers) {
  Device device;
  device.rest(0.0501, 3);
  EXPECT_EQ(device.verdict(), Verdict::out_of_range);
  device.rest(0.0499, 2.1);
  EXPECT_EQ(device.verdict(), Verdict::settled);
  device.send(-0.0501);
  EXPECT_EQ(device.verdict(), Verdict::out_of_range);
}

TEST(Settling, ACoarseDeviceAtRestIsSettledHoweverLongItRepeats) {
  Device device;
  device.rest(0.001, 3600, 0);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, ACoarseDeviceIsNotStuckAfterItHasBeenMoved) {
  Device device;
  device.rest(0.001, 20, 0);
  device.send(0.01);
  device.rest(0.002, 3600, 0);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, CallsAFrozenDeviceStuckAndTrustsItAgainOnceItVaries) {
  Device device;
  device.rest(0.001, 30);
  ASSERT_EQ(device.verdict(), Verdict::settled);
  device.rest(0.001, 60, 0);
  EXPECT_EQ(device.verdict(), Verdict::settled);
  device.rest(0.001, 0.3, 0);
  EXPECT_EQ(device.verdict(), Verdict::stuck);
  device.send(0.001001);
  EXPECT_EQ(device.verdict(), Verdict::settled);
  // What it has once done honestly for a minute it may do again, up to ten times as long.
  device.rest(0.001, 100, 0);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, AnswersToAPauseWithANewCountOfRepeats) {
  Device device;
  device.rest(0.001, 30);
  device.rest(0.001, 1, 0);
  device.now_us += 300 * kSecond_us;  // unplugged
  device.rest(0.001, 3, 0);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, ASlowDeviceNeedsThreeSamplesHoweverFarApart) {
  SettleLimits<double> slow = limits();
  slow.stale_us = 10 * kSecond_us;
  Settling<double> settling(slow);
  settling.add(0, 0.001);
  settling.add(3 * kSecond_us, 0.001);
  EXPECT_EQ(settling.verdict(3 * kSecond_us), Verdict::moving);
  settling.add(6 * kSecond_us, 0.001);
  ASSERT_EQ(settling.verdict(6 * kSecond_us), Verdict::settled);
  EXPECT_EQ(settling.value(6 * kSecond_us).value().count, 3u);
}

TEST(Settling, AFastDeviceIsCountedWholeAndItsExtremesAreSeen) {
  Settling<double> settling(limits());
  std::uint64_t now_us = 0;
  for (int i = 0; i <= 20'000; ++i, now_us += 100) settling.add(now_us, i % 2 == 0 ? 0.001 : 0.001010);
  auto settled = settling.value(now_us);
  ASSERT_TRUE(settled.ok());
  EXPECT_NEAR(settled.value().count, 20'001.0, 160.0);  // to within one bin
  EXPECT_NEAR(settled.value().mean, 0.001005, 1e-9);
  settling.add(now_us, 0.0011);  // one in twenty thousand
  EXPECT_EQ(settling.verdict(now_us), Verdict::moving);
}

TEST(Settling, TakesATimeThatGoesBackForTheTimeBefore) {
  Device device;
  device.rest(0.001, 3);
  device.settling.add(17, 0.001);
  EXPECT_EQ(device.verdict(), Verdict::settled);
}

TEST(Settling, AveragesTheTemperaturesThatCameWithSamples) {
  Settling<double> settling(limits());
  for (std::uint64_t i = 0; i <= 20; ++i) {
    settling.add(i * kPeriod_us, 0.001, i % 2 == 0 ? std::optional(20.0 + double(i)) : std::nullopt);
  }
  const auto settled = settling.value(2 * kSecond_us);
  ASSERT_TRUE(settled.ok());
  ASSERT_TRUE(settled.value().temperature_C.has_value());
  EXPECT_NEAR(*settled.value().temperature_C, 30.0, 1e-12);  // 20, 22 ... 40
}

// Property: values, limits and range times a factor give mean, sigma and spread times that factor, and the same verdicts.
// The factor is a power of two, so that not even rounding differs.
TEST(Settling, ScaledInputScalesOutput) {
  std::mt19937 random(3);
  std::normal_distribution<double> noise(0.0, 15e-6);
  constexpr double kFactor = 1024;
  SettleLimits<double> scaled = limits();
  scaled.spread *= kFactor;
  scaled.sigma *= kFactor;
  scaled.range_from *= kFactor;
  scaled.range_to *= kFactor;
  Settling<double> one(limits()), other(scaled);
  int settled_times = 0, unsettled_times = 0;
  for (std::uint64_t now_us = 0; now_us < 600 * kSecond_us; now_us += kPeriod_us) {
    const double value = 0.001 + noise(random) + (now_us / kSecond_us % 20 == 0 ? 0.002 : 0);
    one.add(now_us, value);
    other.add(now_us, value * kFactor);
    ASSERT_EQ(one.verdict(now_us), other.verdict(now_us));
    const auto a = one.value(now_us), b = other.value(now_us);
    if (!a.ok()) {
      ++unsettled_times;
      continue;
    }
    ++settled_times;
    EXPECT_EQ(a.value().mean * kFactor, b.value().mean);
    EXPECT_EQ(a.value().sigma * kFactor, b.value().sigma);
    EXPECT_EQ(a.value().spread * kFactor, b.value().spread);
  }
  EXPECT_GT(settled_times, 100);
  EXPECT_GT(unsettled_times, 100);
}

TEST(Settling, InSinglePrecisionGivesTheSameToItsAccuracy) {
  SettleLimits<float> single;
  single.window_us = 2 * kSecond_us;
  single.spread = 1e-3f;
  single.sigma = 1e-6f;
  SettleLimits<double> twice;
  twice.spread = 1e-3;
  twice.sigma = 1e-6;
  Settling<float> a(single);
  Settling<double> b(twice);
  std::mt19937 random(5);
  std::uniform_real_distribution<double> noise(-2e-4, 2e-4);
  for (std::uint64_t now_us = 0; now_us < 5 * kSecond_us; now_us += kPeriod_us) {
    const double distance_m = 2.345 + noise(random);
    a.add(now_us, static_cast<float>(distance_m));
    b.add(now_us, distance_m);
  }
  const auto in_float = a.value(5 * kSecond_us);
  const auto in_double = b.value(5 * kSecond_us);
  ASSERT_TRUE(in_float.ok() && in_double.ok());
  EXPECT_NEAR(in_float.value().mean, in_double.value().mean, 2.4e-7);  // one digit of a float at 2.3
  EXPECT_NEAR(in_float.value().sigma / in_double.value().sigma, 1.0, 5e-3);
}

TEST(Settling, DoesNotTouchTheHeap) {
  Settling<double> settling(limits());
  const std::size_t before = test::heap_allocations();
  for (std::uint64_t i = 0; i < 1000; ++i) settling.add(i * kPeriod_us, 0.001, 20.0);
  const auto settled = settling.value(1000 * kPeriod_us);
  EXPECT_EQ(test::heap_allocations(), before);
  EXPECT_TRUE(settled.ok());
}

}  // namespace
}  // namespace hangtrue::survey
