#include "core/adjust/prospect.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <random>
#include <vector>

#include "core/adjust/problem.hpp"

namespace hangtrue::adjust {
namespace {

double normal_share_below(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

template <class Scalar = double>
Spread<Scalar> spread(const std::vector<Scalar>& factor, int columns) {
  return {factor, columns};
}

// Source: data/reference/quantiles.json (normal quantiles). For two points of equal mean the level error is
// |difference|, normal with sigma s: within z(0.5 + P/2) * s with chance P. Tolerance: four standard errors of the
// drawing (fixed draws: the same figures every time).
TEST(Prospect, AgreesWithTheNormalQuantilesForTwoPoints) {
  std::ifstream file(std::string(HANGTRUE_DATA_DIR) + "/reference/quantiles.json");
  ASSERT_TRUE(file) << "data/reference/quantiles.json is missing";
  const auto normal = nlohmann::json::parse(file).at("normal");
  const double sigma = 0.5e-3;
  const std::vector<double> mean = {0, 0};
  const std::vector<double> factor = {sigma * 0.6, 0, 0,
                                      sigma * 0.8};  // rows: the points; difference has sigma
  int rows = 0;
  for (const auto& [share, quantile] : normal.items()) {
    const Prospect<double> p =
        prospect(std::span<const double>(mean), spread(factor, 2), quantile.get<double>() * sigma);
    EXPECT_NEAR(p.level_error_sigma_m, sigma, 1e-12);
    // The mean shape promises 0, and |difference| departs from it by the root mean square of the difference.
    EXPECT_NEAR(p.drawn_sigma_m, sigma, 4 * sigma / std::sqrt(2.0 * kDraws / 2));
    EXPECT_NEAR(p.chance, 2 * std::stod(share) - 1, 4 * p.chance_standard_error) << share;
    EXPECT_LE(p.chance_standard_error, 0.5 / std::sqrt(kDraws / 2.0));
    ++rows;
  }
  EXPECT_GE(rows, 6);
}

// The middle of three points alone is uncertain: what it departs from the line over the others is normal, within the limit with
// a chance of Phi((g - d) / s) - Phi((-g - d) / s).
TEST(Prospect, CountsWhatAStraightEdgeFinds) {
  const double sigma = 0.4e-3, limit = 0.5e-3;
  const std::vector<double> factor = {0, sigma, 0};
  const std::vector<Departure<double>> departures = {{0, 1, 2, 0.25}};
  for (const double off : {0.0, 0.3e-3, -0.6e-3}) {
    const std::vector<double> mean = {1e-3, off + 0.75e-3, 0};
    EXPECT_NEAR(departure_of(departures[0], std::span<const double>(mean)), off, 1e-15);
    const Prospect<double> p =
        prospect(std::span<const double>(mean), spread(factor, 1), 1.0, {}, {departures, limit});
    const double closed =
        normal_share_below((limit - off) / sigma) - normal_share_below((-limit - off) / sigma);
    EXPECT_NEAR(p.chance, closed, 4 * p.chance_standard_error) << off;
    const Prospect<double> sure = prospect(std::span<const double>(mean), {}, 1.0, {}, {departures, limit});
    EXPECT_EQ(sure.chance, std::abs(off) <= limit ? 1 : 0);
  }
}

TEST(Prospect, AgreesWithTheClosedFormWhereTheMeanIsOff) {
  const double sigma = 0.4e-3, tolerance = 1e-3;
  const std::vector<double> factor = {sigma, 0};
  for (const double off : {-2e-3, -1e-3, 0.3e-3, 0.9e-3, 1.4e-3}) {
    const std::vector<double> mean = {off, 0};
    const Prospect<double> p = prospect(std::span<const double>(mean), spread(factor, 1), tolerance);
    const double closed =
        normal_share_below((tolerance - off) / sigma) - normal_share_below((-tolerance - off) / sigma);
    EXPECT_NEAR(p.chance, closed, 4 * p.chance_standard_error) << off;
    EXPECT_NEAR(p.level_error_m, std::abs(off), 1e-15);
    // With a target at 0 the point at 0 is sure, and the other must be within half the tolerance.
    const Prospect<double> t = prospect(std::span<const double>(mean), spread(factor, 1), tolerance, 0.0);
    const double half = normal_share_below((tolerance / 2 - off) / sigma) -
                        normal_share_below((-tolerance / 2 - off) / sigma);
    EXPECT_NEAR(t.chance, half, 4 * t.chance_standard_error) << off;
    EXPECT_NEAR(t.level_error_m, 2 * std::abs(off), 1e-15);
    EXPECT_NEAR(t.level_error_sigma_m, 2 * sigma, 1e-12);
  }
}

TEST(Prospect, AgreesWithPlainDrawingForManyPoints) {
  std::mt19937_64 engine(3);
  std::normal_distribution<double> normal;
  const int points = 14, columns = 5;
  std::vector<double> mean, factor;
  for (int j = 0; j < points; ++j) mean.push_back(0.4e-3 * normal(engine));
  for (int i = 0; i < points * columns; ++i) factor.push_back(0.2e-3 * normal(engine));
  const int draws = 100000;
  for (const double tolerance : {1.5e-3, 2.2e-3, 3e-3}) {
    int within = 0;
    double squares = 0;
    for (int d = 0; d < draws; ++d) {
      std::vector<double> shape = mean, z;
      for (int c = 0; c < columns; ++c) z.push_back(normal(engine));
      for (int j = 0; j < points; ++j)
        for (int c = 0; c < columns; ++c)
          shape[std::size_t(j)] += factor[std::size_t(j * columns + c)] * z[std::size_t(c)];
      const double error = level_error(std::span<const double>(shape));
      within += error <= tolerance ? 1 : 0;
      squares += std::pow(error - level_error(std::span<const double>(mean)), 2);
    }
    const Prospect<double> p = prospect(std::span<const double>(mean), spread(factor, columns), tolerance);
    EXPECT_NEAR(p.drawn_sigma_m / std::sqrt(squares / draws), 1, 0.05);
    EXPECT_NEAR(p.chance, double(within) / draws,
                4 * std::hypot(p.chance_standard_error, 0.5 / std::sqrt(draws)));
    EXPECT_GT(p.chance, 0.02);
    EXPECT_LT(p.chance, 0.98);
  }
}

TEST(Prospect, IsCertainWhereNothingIsUncertain) {
  const std::vector<double> mean = {0, 1e-3};
  const Spread<double> none;
  EXPECT_EQ(prospect(std::span<const double>(mean), none, 1e-3).chance, 1);
  EXPECT_EQ(prospect(std::span<const double>(mean), none, 0.999e-3).chance, 0);
  EXPECT_EQ(prospect(std::span<const double>(mean), none, 1e-3).level_error_sigma_m, 0);
}

TEST(Prospect, SinglePrecisionAgreesWithinTheStandardError) {
  const std::vector<float> mean = {0.3e-3f, 0};
  const std::vector<float> factor = {0.4e-3f, 0};
  const auto p = prospect(std::span<const float>(mean), spread(factor, 1), 1e-3f);
  const double closed = normal_share_below(0.7 / 0.4) - normal_share_below(-1.3 / 0.4);
  EXPECT_NEAR(p.chance, closed, 4 * p.chance_standard_error);
}

// Source: conditional variance of jointly normal x and y: var(y | x measured with s) = var y - cov^2 / (var x + s^2)
// (JCGM 102:2011 for the notation; the formula is standard, from memory). Rounding only.
TEST(Prospect, SaysHowMuchAMeasuredUnknownWouldCutSigma) {
  const std::vector<double> mean = {1e-3, 0};
  const std::vector<double> factor = {3e-4, 4e-4, 0, 0};  // sigma 0.5 mm
  const Spread<double> s = spread(factor, 2);
  const Prospect<double> p = prospect(std::span<const double>(mean), s, 1e-3);
  EXPECT_NEAR(p.level_error_sigma_m, 5e-4, 1e-15);
  const std::vector<double> load = {0.1, 0};  // the first column alone, sigma 0.1
  EXPECT_NEAR(sigma_if_measured(p, s, std::span<const double>(load)), 4e-4, 1e-15);
  EXPECT_NEAR(sigma_if_measured(p, s, std::span<const double>(load), 0.1), std::sqrt(25e-8 - 4.5e-8), 1e-15);
  const std::vector<double> unrelated = {0.04, -0.03};
  EXPECT_NEAR(sigma_if_measured(p, s, std::span<const double>(unrelated)), 5e-4, 1e-12);
  const std::vector<double> known = {0, 0};
  EXPECT_NEAR(sigma_if_measured(p, s, std::span<const double>(known)), 5e-4, 1e-15);
}

TEST(Prospect, SaysTheSameWithATargetHeight) {
  const std::vector<double> mean = {1e-3, 0};
  const std::vector<double> factor = {3e-4, 4e-4, 0, 0};
  const Spread<double> s = spread(factor, 2);
  const Prospect<double> p = prospect(std::span<const double>(mean), s, 3e-3, 0.0);
  EXPECT_NEAR(p.level_error_sigma_m, 10e-4, 1e-15);
  const std::vector<double> load = {0.1, 0};
  EXPECT_NEAR(sigma_if_measured(p, s, std::span<const double>(load), 0.0, true), 8e-4, 1e-15);
}

}  // namespace
}  // namespace hangtrue::adjust
