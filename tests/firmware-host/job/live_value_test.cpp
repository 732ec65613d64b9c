// What an instrument reads now, corrected by what is known of its zero error.
#include "firmware-host/job/live_value.hpp"

#include <gtest/gtest.h>

#include "tests/firmware-host/job/kit.hpp"

namespace hangtrue::job {
namespace {

const sheet::KitChannel& slope() { return level().channels[0]; }

FitReport knowing(double zero, double sigma) {
  FitReport report;
  UnknownEstimate estimate;
  estimate.id = {.of = UnknownOf::zero, .name = "level", .channel = slope().gives};
  estimate.estimate.value = zero;
  estimate.estimate.sigma = sigma;
  report.parameters.push_back(estimate);
  return report;
}

// By the model of the header alone: an instrument whose zero error is 0.5 mm/m on a run that climbs by 2 mm/m.
TEST(LiveValue, IsTheSameOnBothFacesOnceTheZeroErrorIsKnown) {
  const FitReport report = knowing(5e-4, 1e-5);
  const ZeroError zero = zero_error(&report, "level", slope());
  ASSERT_TRUE(zero.known);
  const LiveValue one = live_value(slope(), 2e-3 + 5e-4, 1, zero);
  const LiveValue two = live_value(slope(), -2e-3 + 5e-4, -1, zero);
  EXPECT_NEAR(one.value, 2e-3, 1e-15);
  EXPECT_NEAR(two.value, 2e-3, 1e-15);
  EXPECT_TRUE(one.corrected);
  EXPECT_DOUBLE_EQ(one.sigma, std::hypot(kSlopeSigma, 1e-5));
  EXPECT_TRUE(one.leans());
}

TEST(LiveValue, IsSaidToBeUncorrectedWhereNothingWasLearned) {
  const FitReport hardly = knowing(1e-4, 0.6 * kZeroSigma), other = knowing(1e-4, 1e-5);
  for (const ZeroError& zero : {zero_error(nullptr, "level", slope()), zero_error(&hardly, "level", slope()),
                                zero_error(&other, "another", slope())}) {
    EXPECT_FALSE(zero.known);
    const LiveValue live = live_value(slope(), 4e-4, -1, zero);
    EXPECT_DOUBLE_EQ(live.value, -4e-4) << "face alone is taken out";
    EXPECT_FALSE(live.corrected);
    EXPECT_DOUBLE_EQ(live.sigma, std::hypot(kSlopeSigma, kZeroSigma));
    EXPECT_FALSE(live.leans()) << "0.4 mm/m may be its zero error of 0.3";
  }
}

TEST(LiveValue, OfADistanceIsWhatTheLaserSays) {
  const LiveValue live =
      live_value(laser().channels[0], 1.2345, -1, zero_error(nullptr, "laser", laser().channels[0]));
  EXPECT_EQ(live.value, 1.2345);
  EXPECT_TRUE(live.corrected);
}

}  // namespace
}  // namespace hangtrue::job
