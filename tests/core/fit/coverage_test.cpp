// Whether the fit is as sure as it says: 1,000 simulated surveys of the shelf (survey_bench.hpp), each truth
// drawn from the priors, fixed seed. Limits (common practice, no source): the 95 % band holds the truth in 93 to 97 % (the
// share of 1,000 has a standard deviation of 0.7 %), p-values are uniform.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "tests/core/fit/survey_bench.hpp"
#include "tests/trials.hpp"

namespace hangtrue::fit {
namespace {

constexpr int kSurveys = trials(1000);
constexpr double kBand95 = 1.959963985;  // data/reference/quantiles.json, normal 0.975

struct Outcome {
  std::vector<double> p_values;
  std::vector<int> inside;  // one count a check point
  int set_aside = 0, readings = 0, fails = 0;
};

const Outcome& thousand_surveys() {
  static const Outcome outcome = [] {
    Outcome sum;
    std::mt19937 random(20);
    test::Bench<double> bench;
    const std::size_t points = 2 * bench.stations_m.size();
    const auto p = static_cast<std::size_t>(bench.list.count);
    sum.inside.assign(points, 0);
    std::vector<double> height(points), truth_height(points), factor(points * p);
    const auto less_mean = [&](std::vector<double>& of) {
      const double mean = std::accumulate(of.begin(), of.end(), 0.0) / static_cast<double>(points);
      for (double& each : of) each -= mean;
    };
    for (int survey = 0; survey < kSurveys; ++survey) {
      const auto truth = bench.draw(random);
      bench.read(truth, &random);
      for (std::size_t i = 0; i < points; ++i)
        truth_height[i] =
            (*bench.solver)
                ->height(test::in_use, bench.stations_m[i / 2], (i % 2 == 0 ? 1 : -1) * test::kWidth_m / 2);
      EXPECT_EQ(bench.run_fit(), Status::settled) << survey;
      EXPECT_TRUE(bench.fit->finished(height, factor).ok());
      less_mean(height);
      less_mean(truth_height);
      std::vector<double> mean(p, 0.0);
      for (std::size_t i = 0; i < points; ++i)
        for (std::size_t j = 0; j < p; ++j) mean[j] += factor[i * p + j] / static_cast<double>(points);
      for (std::size_t i = 0; i < points; ++i) {
        double variance = 0;
        for (std::size_t j = 0; j < p; ++j) variance += std::pow(factor[i * p + j] - mean[j], 2);
        if (std::abs(height[i] - truth_height[i]) <= kBand95 * std::sqrt(variance)) ++sum.inside[i];
      }
      const auto self_test = bench.fit->self_test();
      sum.p_values.push_back(self_test.p_value);
      sum.set_aside += self_test.beyond_gate;
      sum.readings += static_cast<int>(bench.readings.size());
      if (self_test.outcome == TestOutcome::fails) ++sum.fails;
    }
    return sum;
  }();
  return outcome;
}

TEST(Coverage, TheBandOf95PercentHoldsTheFinishedHeightAtEveryCheckPoint) {
  const Outcome& outcome = thousand_surveys();
  if (!kSharesTell) return;
  for (std::size_t i = 0; i < outcome.inside.size(); ++i) {
    const double share = static_cast<double>(outcome.inside[i]) / kSurveys;
    EXPECT_GE(share, 0.93) << "check point " << i;
    EXPECT_LE(share, 0.97) << "check point " << i;
  }
}

// Kolmogorov's distance of n p-values from uniform exceeds 1.63 / sqrt(n) in 1 % of the cases (asymptotic
// quantile of Kolmogorov's distribution, from memory).
TEST(Coverage, PValuesAreUniform) {
  std::vector<double> p = thousand_surveys().p_values;
  if (!kSharesTell) return;
  std::sort(p.begin(), p.end());
  double distance = 0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    distance = std::max(distance, static_cast<double>(i + 1) / kSurveys - p[i]);
    distance = std::max(distance, p[i] - static_cast<double>(i) / kSurveys);
  }
  EXPECT_LT(distance * std::sqrt(double{kSurveys}), 1.63);
}

// Gate of 4 sigmas: 6 in 100,000 good readings beyond it. Self-test: 1 % of good surveys by p, and a few by
// the gates.
TEST(Coverage, GoodReadingsAreRarelySetAsideAndGoodSurveysRarelyDoubted) {
  const Outcome& outcome = thousand_surveys();
  EXPECT_LE(outcome.set_aside, 12);  // 40,000 readings: expected 2.5
  EXPECT_LE(outcome.fails, 25);
}

}  // namespace
}  // namespace hangtrue::fit
