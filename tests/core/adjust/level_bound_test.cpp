#include "core/adjust/level_bound.hpp"

#include <gtest/gtest.h>

#include <memory>

#include "tests/core/adjust/random_problem.hpp"

namespace hangtrue::adjust {
namespace {

using Bound = LevelBound<double>;

struct Kept {
  Bound bound;
  Bound::Vertex vertex;
};

// Source: P. L. Chebyshev's polynomial T2: of all straight lines the one nearest x^2 on [0, 1] is x - 1/8, away from
// it by 1/8 at 0, 1/2 and 1 (E. W. Cheney, Introduction to Approximation Theory, 1966; from memory). Rounding only.
TEST(LevelBound, FindsChebyshevsLineForAParabola) {
  const auto kept = std::make_unique<Kept>();
  std::vector<double> heights, line;
  for (int j = 0; j <= 100; ++j) {
    heights.push_back(j * 0.01 * j * 0.01);
    line.push_back(-j * 0.01);
  }
  for (const bool with_target : {false, true}) {
    const int settings = with_target ? 2 : 1;
    kept->bound.begin(heights, settings, with_target ? std::optional<double>(0.25) : std::nullopt);
    std::copy(line.begin(), line.end(), kept->bound.column(0).begin());
    if (with_target) std::fill(kept->bound.column(1).begin(), kept->bound.column(1).end(), 1.0);
    const double from[] = {-3, -3}, to[] = {3, 3};
    kept->bound.start(kept->vertex, from, to);
    kept->bound.solve(kept->vertex, Bound::kInfinity);
    EXPECT_TRUE(kept->vertex.solved);
    EXPECT_NEAR(kept->vertex.bound, 0.25, 1e-14);
    EXPECT_NEAR(kept->vertex.x[0], 1.0, 1e-12);
    if (!with_target) continue;
    EXPECT_NEAR(kept->vertex.x[1], 0.125 + 0.25, 1e-12);
  }
}

TEST(LevelBound, IsNeverAboveTheLevelErrorOfAnySettingThatKeepsTheRows) {
  const auto kept = std::make_unique<Kept>();
  int tight = 0, infeasible = 0;
  for (unsigned seed = 1; seed <= 300; ++seed) {
    SCOPED_TRACE(seed);
    test::Random random(seed);
    const int points = random.whole(2, 20), settings = random.whole(1, 6), rows = random.whole(0, 2);
    std::vector<double> heights;
    for (int j = 0; j < points; ++j) heights.push_back(random.real(-1, 1));
    const std::optional<double> target =
        random.chance(0.3) ? std::optional<double>(random.real(-0.3, 0.3)) : std::nullopt;
    kept->bound.begin(heights, settings, target);
    double from[6], to[6];
    for (int i = 0; i < settings; ++i) {
      for (double& value : kept->bound.column(i)) value = random.real(-0.5, 1);
      from[i] = random.real(-1, 0);
      to[i] = from[i] + random.real(0, 1.5);
    }
    std::vector<std::vector<double>> row;
    std::vector<double> rhs;
    for (int r = 0; r < rows; ++r) {
      row.emplace_back();
      for (int i = 0; i < settings; ++i) row[std::size_t(r)].push_back(random.real(-1, 1));
      rhs.push_back(random.real(-2, 0.3));
      kept->bound.add_row(row[std::size_t(r)].data(), rhs[std::size_t(r)], false);
    }
    kept->bound.start(kept->vertex, from, to);
    kept->bound.solve(kept->vertex, random.chance(0.3) ? 0.1 : Bound::kInfinity);
    double least = Bound::kInfinity;
    std::vector<double> shape(heights.size());
    for (int trial = 0; trial < 2000; ++trial) {
      double u[6];
      // Half of the trials near the optimum that is claimed.
      for (int i = 0; i < settings; ++i)
        u[i] = trial % 2 == 0 ? random.real(from[i], to[i])
                              : std::clamp(kept->vertex.x[i] + random.real(-1e-3, 1e-3), from[i], to[i]);
      bool keeps = true;
      for (int r = 0; r < rows; ++r) {
        double sum = 0;
        for (int i = 0; i < settings; ++i) sum += row[std::size_t(r)][std::size_t(i)] * u[i];
        keeps = keeps && sum >= rhs[std::size_t(r)];
      }
      if (!keeps) continue;
      kept->bound.heights_at(u, shape.data());
      least = std::min(least, level_error(std::span<const double>(shape), target));
    }
    if (kept->vertex.bound == Bound::kInfinity) {
      ++infeasible;
      EXPECT_EQ(least, Bound::kInfinity);
      continue;
    }
    EXPECT_LE(kept->vertex.bound, least + 1e-12);
    tight += kept->vertex.solved && least < kept->vertex.bound + 0.01 ? 1 : 0;
  }
  EXPECT_GE(tight, 100);  // and not merely low
  EXPECT_GE(infeasible, 3);
}

}  // namespace
}  // namespace hangtrue::adjust
