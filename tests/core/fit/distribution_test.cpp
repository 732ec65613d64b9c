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

}  // namespace
}  // namespace hangtrue::fit
