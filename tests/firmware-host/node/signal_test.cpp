#include "firmware-host/node/signal.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <numbers>

#include "firmware-host/node/clock.hpp"

namespace hangtrue::node {
namespace {

// Source: S. Butterworth, On the theory of filter amplifiers, 1930: |H(f)|^2 = 1 / (1 + (f / f_c)^(2 n)), n = 2; the bilinear
// transform bends frequencies by tan(pi f / f_s) (Oppenheim and Schafer). Both from memory. Tolerance: the amplitude is found over
// whole periods in single precision.
TEST(LowPass, HasTheGainOfASecondOrderButterworthFilter) {
  for (const float frequency_Hz : {0.25F, 1.0F, 2.0F, 5.0F, 10.0F}) {
    LowPass filter;
    const double step = 2 * std::numbers::pi * double(frequency_Hz) / kSamples_per_s;
    double in_phase = 0, across = 0;
    for (int i = 0; i < 2000; ++i) {
      const double out = double(filter.next(float(std::sin(step * i))));
      if (i < 1000) continue;  // by then it has swung in
      in_phase += out * std::sin(step * i) / 500;
      across += out * std::cos(step * i) / 500;
    }
    const auto bent = [](double hertz) { return std::tan(std::numbers::pi * hertz / kSamples_per_s); };
    const double ratio = bent(double(frequency_Hz)) / bent(double(kCutOff_Hz));
    EXPECT_NEAR(std::hypot(in_phase, across), 1 / std::sqrt(1 + std::pow(ratio, 4)), 2e-4) << frequency_Hz;
  }
}

TEST(LowPass, TakesItsFirstValueAsIfItHadAlwaysBeenSo) {
  LowPass filter;
  for (int i = 0; i < 100; ++i) EXPECT_EQ(filter.next(0.0123F), 0.0123F);
}

survey::SettleLimits<float> limits() {
  survey::SettleLimits<float> limits;
  limits.spread = 80e-6F;
  limits.sigma = 20e-6F;
  return limits;
}

std::uint64_t at_us(int sample) { return std::uint64_t(sample) * 20000; }

// The angle by the formula of signal.hpp, in double.
TEST(Axis, CompensatesZeroAndGainForTemperature) {
  const Calibration calibration{0.5F / 8388608, 1e-3F, 4e-6F, 2e-4F};
  for (const float temperature_C : {-10.0F, 20.0F, 45.0F}) {
    Axis axis(calibration, limits());
    for (int i = 0; i < 150; ++i) axis.add(at_us(i), 200000 + i % 3, temperature_C, false);
    const double warmer = double(temperature_C) - 20;
    const double angle = (200001 * 0.5 / 8388608 - 1e-3 - 4e-6 * warmer) / (1 + 2e-4 * warmer);
    ASSERT_TRUE(axis.settled(at_us(149)));
    EXPECT_NEAR(double(axis.settled(at_us(149))->mean), std::tan(angle), 3e-8) << temperature_C;
  }
}

TEST(Axis, SaysStuckOutOfRangeOrFaultAndIsTrustedAgain) {
  Axis axis(Calibration{}, limits());
  int now = 0;
  const auto add = [&](std::int32_t counts, bool fault = false) {
    axis.add(at_us(now++), counts, 20, fault);
  };
  for (int i = 0; i < 50; ++i) add(1000 + i % 2);
  EXPECT_EQ(axis.state(), AxisState::well);
  for (int i = 0; i < 102; ++i) add(1000);
  EXPECT_EQ(axis.state(), AxisState::stuck);
  EXPECT_FALSE(axis.settled(at_us(now)));
  add(1001);
  EXPECT_EQ(axis.state(), AxisState::well);
  EXPECT_FALSE(axis.settled(at_us(now)));  // it must settle anew
  add(8300001);
  EXPECT_EQ(axis.state(), AxisState::out_of_range);
  add(-8300001);
  EXPECT_EQ(axis.state(), AxisState::out_of_range);
  add(1000, true);
  EXPECT_EQ(axis.state(), AxisState::sensor_fault);
  for (int i = 0; i < 150; ++i) add(1000 + i % 2);
  EXPECT_TRUE(axis.settled(at_us(now - 1)));
}

TEST(Axis, TakesItsZeroOnlyWhereItHasSettled) {
  Axis axis(Calibration{}, limits());
  axis.add(at_us(0), 50000, 20, false);
  EXPECT_FALSE(axis.take_zero(at_us(0)));
  int now = 1;
  for (; now < 150; ++now) axis.add(at_us(now), 50000 + now % 2, 20, false);
  EXPECT_TRUE(axis.take_zero(at_us(now - 1)));
  for (; now < 300; ++now) axis.add(at_us(now), 50000 + now % 2, 20, false);
  ASSERT_TRUE(axis.settled(at_us(now - 1)));
  EXPECT_NEAR(double(axis.settled(at_us(now - 1))->mean), 0, 1e-8);
}

TEST(Clock, GoesOnWhereTheTickWraps) {
  Clock clock;
  EXPECT_EQ(clock.ms(0xFFFFFFF0u), 0xFFFFFFF0u);
  EXPECT_EQ(clock.ms(0x10u), 0x100000010u);
  EXPECT_EQ(clock.ms(0x10u), 0x100000010u);
  EXPECT_EQ(clock.ms(0xFu), 0x20000000Fu);
}

}  // namespace
}  // namespace hangtrue::node
