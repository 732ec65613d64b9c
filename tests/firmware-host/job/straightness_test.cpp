// A straight-edge laid along the run: against what a parabola departs from its chords, and a choice that keeps level and straight.
#include "firmware-host/job/straightness.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <memory>

#include "core/adjust/workspace.hpp"
#include "firmware-host/job/finished_level.hpp"

namespace hangtrue::job {
namespace {

sheet::RunSheet run_of(int stations, double apart_m, double level_m, sheet::StraightEdge per) {
  sheet::RunSheet run;
  for (int i = 0; i < stations; ++i) run.stations_m.push_back(i * apart_m);
  run.tolerance.level_m = level_m;
  run.tolerance.per = per;
  return run;
}

std::vector<double> both_edges(std::initializer_list<double> heights) {
  std::vector<double> all;
  for (const double height : heights) all.insert(all.end(), 2, height);
  return all;
}

// A parabola that sags s over a length L departs by s (l / L)^2 from any chord of length l, at its middle (by algebra).
TEST(Straightness, OfAParabolaIsThatOfItsChords) {
  constexpr double kSag_m = 0.008, kL_m = 4;
  for (const double length_m : {1.0, 2.0, 3.0, 4.0}) {
    const sheet::RunSheet run = run_of(9, 0.5, 0.01, {0.0021, length_m});
    std::vector<double> heights;
    for (const double x : run.stations_m) {
      heights.push_back(0);
      heights.push_back(-4 * kSag_m * x * (kL_m - x) / (kL_m * kL_m));
    }
    const auto straight = straightness(run, heights);
    ASSERT_TRUE(straight);
    const bool middle_is_a_station = length_m != 3.0;
    const double share = length_m / kL_m, most = kSag_m * share * share;
    if (middle_is_a_station) {
      EXPECT_NEAR(straight->departure_m, most, 1e-15) << length_m;
      EXPECT_EQ(straight->within, length_m <= 2.0);
    }
    EXPECT_NEAR(straight->to_m - straight->from_m, length_m, 1e-12);
    EXPECT_EQ(straight->edge, survey::Edge::right);
  }
}

// Three heights known apart from each other to s1, s2, s3: what the middle one departs from the chord over the other two has the
// variance s2^2 + (s1^2 + s3^2) / 4 (by hand). A height that all have in common does not count.
TEST(Straightness, IsAsWellKnownAsItsThreePoints) {
  const sheet::RunSheet run = run_of(3, 1, 0.01, {0.002, 2});
  const auto heights = both_edges({0, 0.005, 0});
  const double sigmas[3] = {0.0003, 0.0004, 0.0005};
  std::vector<double> factor(6 * 4);
  for (std::size_t point = 0; point < 6; ++point) {
    factor[point * 4 + point / 2] = sigmas[point / 2];
    factor[point * 4 + 3] = 0.5;
  }
  const auto straight = straightness(run, heights, {factor, 4});
  ASSERT_TRUE(straight);
  EXPECT_NEAR(straight->sigma_m, std::sqrt(0.0004 * 0.0004 + (0.0003 * 0.0003 + 0.0005 * 0.0005) / 4), 1e-15);
  EXPECT_EQ(straightness(run, heights)->sigma_m, 0);
}

TEST(Straightness, IsNotAskedForWhereTheSheetNamesNoStraightEdge) {
  sheet::RunSheet run = run_of(3, 1, 0.01, {});
  run.tolerance.per.reset();
  const auto heights = both_edges({0, 0.005, 0});
  EXPECT_FALSE(straightness(run, heights));
  EXPECT_TRUE(departures_that_count(run, heights, {}).empty());
}

TEST(Straightness, CountsOnlyTheDeparturesThatCouldBeTooLarge) {
  const sheet::RunSheet run = run_of(5, 1, 0.01, {0.002, 2});
  const auto heights = both_edges({0, 0, 0.0019, 0, 0});
  std::vector<double> factor(heights.size(), 0);
  for (std::size_t point = 4; point < 6; ++point) factor[point] = 0.0001;  // of the middle station alone
  const auto count = departures_that_count(run, heights, {factor, 1});
  ASSERT_EQ(count.size(), 2u);  // over the middle, along both edges; of those beside it 0.00095 is far below
  EXPECT_EQ(count[0].middle / 2, 2);
}

// Two humps of 1.2 mm with a hollow between, in which a lift stands: level alone asks for nothing, since no lift lowers the humps.
// Under a straight-edge of 2 m the humps stand out by 1.2 mm less half of what the lift raises: 1 mm of it brings 0.7 mm.
TEST(Straightness, MovesAreChosenThatKeepLevelAndStraight) {
  const sheet::RunSheet run = run_of(5, 1, 0.002, {0.0007, 2});
  const auto heights = both_edges({0, 0.0012, 0, 0.0012, 0});
  const auto rise = both_edges({0, 0, 1, 0, 0});
  adjust::Place<double> lift;
  lift.by = adjust::By::lift;
  lift.rise_to_m = 0.005;
  lift.step_m = 0.0001;
  lift.on_height.rise = rise;
  adjust::Problem<double> problem;
  problem.height_m = heights;
  problem.places = {&lift, 1};
  const auto workspace = std::make_unique<adjust::Workspace<double>>();

  const auto level_alone = adjust::choose(problem, *workspace);
  ASSERT_TRUE(level_alone);
  EXPECT_EQ(level_alone.value().moves, 0);
  const auto both = choose_moves(run, problem, *workspace);
  ASSERT_TRUE(both);
  ASSERT_EQ(both.value().moves, 1);
  EXPECT_GE(both.value().move[0].rise_m, 0.001 - 1e-12);
  EXPECT_NEAR(both.value().level_error_after_m, 0.0012, 1e-12);
  std::vector<double> after(heights.size());
  adjust::finished_heights<double>(problem, both.value(), after);
  EXPECT_TRUE(straightness(run, after)->within);

  // Where nothing keeps both, the choice is the one that levels it best.
  const auto neither = choose_moves(run_of(5, 1, 0.002, {0.0004, 2}), problem, *workspace);
  ASSERT_TRUE(neither);
  EXPECT_EQ(neither.value().moves, 0);
}

}  // namespace
}  // namespace hangtrue::job
