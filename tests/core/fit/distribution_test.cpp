// Source of the quantiles: data/reference/quantiles.json (SciPy 1.10.1; 5, 10 and 14 degrees of freedom
// compared there with a printed table). Tolerance: the quantiles carry 8 decimals, so a chance is good to
// density * 0.5e-8.
#include "core/fit/distribution.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "tests/core/reference.hpp"

namespace hangtrue::fit {
namespace {

nlohmann::json quantiles() { return nlohmann::json::parse(test::open_reference("quantiles.json")); }

TEST(ChiSquaredTail, ReturnsTheChanceOfEachPublishedQuantile) {
  const auto table = quantiles();
  int rows = 0;
  for (const auto& [dof, row] : table.at("chi2").items()) {
    for (const auto& [chance, quantile] : row.items()) {
      const double value = quantile.get<double>();
      const double half_figure = 0.5e-8;  // quantiles are printed with 8 decimals
      const double slack = 1e-12 + std::abs(chi_squared_tail(value + half_figure, std::stoi(dof)) -
                                            chi_squared_tail(value - half_figure, std::stoi(dof)));
      EXPECT_NEAR(1 - chi_squared_tail(value, std::stoi(dof)), std::stod(chance), slack)
          << dof << ", " << chance;
      ++rows;
    }
  }
  EXPECT_GT(rows, 100);
}

// Two degrees of freedom: exp(-x / 2), exactly; four: (1 + x / 2) exp(-x / 2).
TEST(ChiSquaredTail, IsExactWhereAClosedFormExists) {
  for (const double x : {1e-6, 0.1, 1.0, 3.0, 5.0, 20.0, 100.0, 1000.0}) {
    EXPECT_NEAR(chi_squared_tail(x, 2) / std::exp(-x / 2), 1, 1e-12) << x;
    EXPECT_NEAR(chi_squared_tail(x, 4) / ((1 + x / 2) * std::exp(-x / 2)), 1, 1e-12) << x;
  }
}

TEST(ChiSquaredTail, IsOneWithoutAnythingToTestAndZeroAtInfinity) {
  EXPECT_EQ(chi_squared_tail(3.0, 0), 1);
  EXPECT_EQ(chi_squared_tail(0.0, 4), 1);
  EXPECT_EQ(chi_squared_tail(-1.0, 4), 1);
  EXPECT_EQ(chi_squared_tail(std::numeric_limits<double>::infinity(), 4), 0);
}

TEST(NormalCdf, ReturnsTheChanceOfEachPublishedQuantile) {
  const auto table = quantiles();
  for (const auto& [chance, quantile] : table.at("normal").items()) {
    EXPECT_NEAR(normal_cdf(quantile.get<double>()), std::stod(chance), 1e-10) << chance;
    EXPECT_NEAR(normal_cdf(-quantile.get<double>()), 1 - std::stod(chance), 1e-10) << chance;
  }
}

// Half a unit of the 8th decimal is what a printed quantile may be off by. Those of t are off by up to 1.5e-8: at 0.99
// with 2 degrees of freedom 6.96455672 is printed, 0.98 sqrt(2 / (1 - 0.98^2)) = 6.964556734.
constexpr double kHalfFigure = 0.5e-8, kFiguresOfT = 1.5e-8;

TEST(TTail, ReturnsTheChanceOfEachPublishedQuantile) {
  const auto table = quantiles();
  int rows = 0;
  for (const auto& [dof, row] : table.at("t").items())
    for (const auto& [chance, quantile] : row.items()) {
      const double value = quantile.get<double>(), freedom = std::stod(dof);
      const double slack =
          1e-12 + std::abs(t_tail(value + kFiguresOfT, freedom) - t_tail(value - kFiguresOfT, freedom));
      EXPECT_NEAR(1 - t_tail(value, freedom), std::stod(chance), slack) << dof << ", " << chance;
      EXPECT_NEAR(t_tail(-value, freedom), std::stod(chance), slack) << dof << ", " << chance;
      EXPECT_NEAR(t_quantile(std::stod(chance), freedom), value, kFiguresOfT) << dof << ", " << chance;
      EXPECT_NEAR(t_quantile(1 - std::stod(chance), freedom), -value, kFiguresOfT) << dof << ", " << chance;
      ++rows;
    }
  EXPECT_GT(rows, 80);
}

// One degree of freedom: 1/2 - atan(t) / pi (Cauchy); two: (1 - t / sqrt(2 + t^2)) / 2, as 1 / (s (s + t)), s^2 = 2 + t^2.
TEST(TTail, IsExactWhereAClosedFormExistsAndNormalInTheLimit) {
  for (const double t : {1e-9, 0.01, 0.5, 1.0, 3.0, 30.0, 1e4}) {
    EXPECT_NEAR(t_tail(t, 1) / (std::atan(1 / t) / std::acos(-1.0)), 1, 1e-12) << t;
    const double s = std::sqrt(2 + t * t);
    EXPECT_NEAR(t_tail(t, 2) * s * (s + t), 1, 1e-12) << t;
  }
  EXPECT_EQ(t_tail(0, 7), 0.5);
  EXPECT_EQ(t_tail(std::numeric_limits<double>::infinity(), 7), 0);
  const double infinite = std::numeric_limits<double>::infinity();
  EXPECT_EQ(t_tail(1.3, infinite), normal_cdf(-1.3));
  // t with n degrees of freedom: tail + (t^3 + t) density / (4 n) + ... (Abramowitz and Stegun, 26.7.8, from memory).
  const double density = std::exp(-1.3 * 1.3 / 2) / std::sqrt(2 * std::acos(-1.0));
  EXPECT_NEAR(t_tail(1.3, 1e6) - normal_cdf(-1.3), (1.3 * 1.3 * 1.3 + 1.3) * density / 4e6, 1e-9);
  EXPECT_NEAR(t_quantile(0.975, infinite), 1.9599639845, 1e-10);
}

TEST(FTail, ReturnsTheChanceOfEachPublishedQuantile) {
  const auto table = quantiles();
  int rows = 0;
  for (const auto& [name, chance] : {std::pair{"F_0.95", 0.95}, std::pair{"F_0.975", 0.975}})
    for (const auto& [freedoms, quantile] : table.at(name).items()) {
      const double above = std::stod(freedoms), below = std::stod(freedoms.substr(freedoms.find(',') + 1));
      const double value = quantile.get<double>();
      // F_0.95(1, 1) stands there with 7 decimals.
      const double half_figure = value > 100 ? 10 * kHalfFigure : kHalfFigure;
      const double slack = 1e-12 + std::abs(f_tail(value + half_figure, above, below) -
                                            f_tail(value - half_figure, above, below));
      EXPECT_NEAR(1 - f_tail(value, above, below), chance, slack) << freedoms;
      EXPECT_NEAR(f_quantile(chance, above, below), value, half_figure * (1 + 1e-3)) << freedoms;
      ++rows;
    }
  EXPECT_GT(rows, 15);
}

// Two degrees of freedom above: (1 + 2 f / n)^(-n / 2), exactly; F(1, n) is t(n) squared; turned over, above and below
// change places.
TEST(FTail, IsExactWhereAClosedFormExists) {
  for (const double f : {1e-6, 0.1, 1.0, 4.0, 50.0, 1e4})
    for (const double n : {1.0, 3.0, 10.0, 41.0, 300.0}) {
      EXPECT_NEAR(f_tail(f, 2, n) / std::pow(1 + 2 * f / n, -n / 2), 1, 1e-11) << f << ' ' << n;
      EXPECT_NEAR(f_tail(f, 1, n), 2 * t_tail(std::sqrt(f), n), 1e-13) << f << ' ' << n;
      EXPECT_NEAR(f_tail(f, 5, n), 1 - f_tail(1 / f, n, 5), 1e-13) << f << ' ' << n;
    }
  EXPECT_EQ(f_tail(0, 3, 4), 1);
  EXPECT_EQ(f_tail(-1, 3, 4), 1);
  EXPECT_EQ(f_tail(std::numeric_limits<double>::infinity(), 3, 4), 0);
}

TEST(ChiSquaredQuantile, ReturnsThePublishedQuantiles) {
  const auto table = quantiles();
  for (const auto& [dof, row] : table.at("chi2").items())
    for (const auto& [chance, quantile] : row.items())
      EXPECT_NEAR(chi_squared_quantile(std::stod(chance), std::stoi(dof)), quantile.get<double>(),
                  kHalfFigure * (1 + 1e-3))
          << dof << ", " << chance;
  for (const auto& [dof, ratio] : table.at("ratio_s_over_sigma_limit_0.95").items())
    EXPECT_NEAR(std::sqrt(chi_squared_quantile(0.95, std::stoi(dof)) / std::stoi(dof)), ratio.get<double>(),
                0.5e-6)
        << dof;
  EXPECT_EQ(chi_squared_quantile(0.95, 0), 0);
}

}  // namespace
}  // namespace hangtrue::fit
