// How an instrument does, in a word and a sentence: each state made to happen, and its end. Time is passed in.
#include "firmware-host/daemon/instrument_line.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "firmware-host/say/instrument.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::HasSubstr;

constexpr std::int64_t kSecond = 1'000'000;

class OneInclinometer : public ::testing::Test {
 protected:
  OneInclinometer() : instrument_(kit_) {}

  static sheet::KitInstrument kit() {
    sheet::KitInstrument kit;
    kit.name = "level";
    sheet::KitChannel slope;
    slope.transducer = "PITCH";
    slope.gives = Channel::slope;
    slope.range_from = -0.05;
    slope.range_to = 0.05;
    slope.sigma = 2e-5;
    slope.settle_window_s = 1;
    slope.settle_spread = 1e-4;
    sheet::KitChannel temperature;
    temperature.transducer = "AIR";
    temperature.gives = Channel::temperature;
    kit.channels = {slope, temperature};
    return kit;
  }
  /// Ten samples a second for so long; every second one is higher by `swing`.
  void feed(double seconds, double value, double swing = 0) {
    for (int i = 0; i < int(std::lround(10 * seconds)); ++i) {
      now_us_ += kSecond / 10;
      give(0, value + (i % 2) * swing);
    }
  }
  void give(std::size_t channel, double value, std::optional<double> ambient_C = std::nullopt) {
    instrument_.sample(
        {channel, kit_.channels[channel].gives, value}, now_us_, /*is_of_now=*/true, ambient_C,
        [](std::size_t) {}, [this](const InstrumentLine::LiveChannel&) { ++settled_; });
  }
  void expect(const char* word, bool speaks, const char* says) const {
    const job::InstrumentState state = instrument_.state(now_us_);
    EXPECT_EQ(say::word(state), word);
    EXPECT_EQ(state.speaks, speaks);
    EXPECT_THAT(say::sentence(state, sheet::Show::metric), HasSubstr(says));
  }

  const sheet::KitInstrument kit_ = kit();
  InstrumentLine instrument_;
  std::int64_t now_us_ = 100 * kSecond;
  int settled_ = 0;
};

TEST_F(OneInclinometer, IsSilentUntilItsChannelComesAndWellFromThenOn) {
  expect("silent", false, "no slope has come yet");
  give(1, 19.5);
  expect("silent", false, "does it call it \"PITCH\"");
  feed(2, 0.001, 2e-5);
  expect("well", true, "speaks");
  EXPECT_EQ(settled_, 1) << "once, until it is placed elsewhere";
}

TEST_F(OneInclinometer, IsSilentWhenNothingComesAnyMoreAndWellWhenItDoes) {
  feed(2, 0.001);
  now_us_ += 4 * kSecond;
  expect("silent", false, "no slope comes any more");
  feed(0.2, 0.001);
  expect("well", true, "speaks");
}

TEST_F(OneInclinometer, IsOutOfRangeWhereTheKitSheetSaysSoAndWellWhenBack) {
  feed(1, 0.071);
  expect("out of range", true, "slope is 71.00 mm/m, beyond the -50.00 mm/m to 50.00 mm/m");
  feed(1, 0.02);
  expect("well", true, "speaks");
}

TEST_F(OneInclinometer, IsNoisyWhenItDoesNotComeToRestForHalfAMinute) {
  feed(25, 0.001, 0.01);
  expect("well", true, "speaks");
  feed(10, 0.001, 0.01);
  expect("noisy", true, "spreads over 10.00 mm/m, and may over 0.10 mm/m");
  feed(2, 0.001);
  expect("well", true, "speaks");
}

TEST_F(OneInclinometer, IsStuckWhenAValueThatVariedDoesNotChangeForAMinute) {
  feed(5, 0.001, 2e-5);
  feed(55, 0.002);
  expect("well", true, "speaks");
  feed(10, 0.002);
  expect("stuck", true, "the very same 2.00 mm/m for over a minute");
  feed(1, 0.002, 2e-5);
  expect("well", true, "speaks");
}

TEST_F(OneInclinometer, SaysWhenItsValueIsNoNumber) {
  feed(1, 0.001);
  give(0, std::numeric_limits<double>::quiet_NaN());
  expect("not a number", true, "no number");
  feed(1, 0.001);
  expect("well", true, "speaks");
}

// A line that floods: what goes into the book is bounded, and what is read is not.
TEST_F(OneInclinometer, KeepsTwoHundredRawSamplesOfAChannelAtATime) {
  for (int second = 0; second < 3; ++second) {
    for (int i = 0; i < 5000; ++i) {
      now_us_ += kSecond / 5000;
      give(0, 0.001);
    }
    const auto raw = instrument_.raw({});
    ASSERT_EQ(raw.size(), 1u);
    EXPECT_EQ(raw[0].values.size(), 200u);
    EXPECT_EQ(raw[0].after_us.size(), 200u);
    EXPECT_EQ(instrument_.channels()[0].raw_passed_over, 4800u * unsigned(second + 1));
  }
  EXPECT_TRUE(instrument_.channels()[0].settling.value(std::uint64_t(now_us_)).ok());
}

TEST_F(OneInclinometer, TakesItsOwnTemperatureBeforeThatOfAnother) {
  const auto temperature = [&] {
    return instrument_.channels()[0].settling.value(std::uint64_t(now_us_)).value().temperature_C;
  };
  for (int i = 0; i < 20; ++i) {
    now_us_ += kSecond / 10;
    give(0, 0.001, 12.0);
  }
  EXPECT_EQ(temperature(), 12.0) << "that of another, while it gives none";
  give(1, 19.5);
  EXPECT_EQ(instrument_.temperature_C(now_us_), 19.5);
  for (int i = 0; i < 20; ++i) {
    now_us_ += kSecond / 10;
    give(0, 0.001, 12.0);
  }
  EXPECT_EQ(temperature(), 19.5);
  now_us_ += 61 * kSecond;
  EXPECT_EQ(instrument_.temperature_C(now_us_), std::nullopt) << "an hour ago is no temperature of now";
}

}  // namespace
}  // namespace hangtrue::daemon
