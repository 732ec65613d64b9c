#include "core/adjust/move_order.hpp"

#include <gtest/gtest.h>

#include <numeric>

#include "core/adjust/workspace.hpp"
#include "tests/core/adjust/random_problem.hpp"

namespace hangtrue::adjust {
namespace {

using test::Owned;

Workspace<double>& workspace() {
  static const auto kept = std::make_unique<Workspace<double>>();
  return *kept;
}

/// Supports that each lift one point; moves as given.
struct Made {
  std::unique_ptr<Owned<>> owned = std::make_unique<Owned<>>();
  Choice<double> choice;
};
Made made(const std::vector<double>& heights, const std::vector<double>& rises) {
  Made out;
  out.owned->height_m = heights;
  for (std::size_t p = 0; p < rises.size(); ++p) {
    Place<double> place;
    place.by = By::lift;
    place.step_m = 1e-3;
    out.owned->places.push_back(place);
    std::vector<double> column(heights.size(), 0);
    column[p] = 1;
    out.owned->on_height.push_back({column, {}, {}});
    out.owned->on_force.emplace_back();
    Move<double>& move = out.choice.move[std::size_t(out.choice.moves++)];
    move.place = int(p);
    move.support = int(p);
    move.rise_m = rises[p];
  }
  out.owned->look();
  return out;
}

TEST(MoveOrder, MakesTheLargestMoveFirstWhereAllElseIsEqual) {
  const Made m = made({-1e-3, -3e-3, -2e-3, 0}, {1e-3, 3e-3, 2e-3});
  const MoveOrder<double> order = order_moves(m.owned->problem, m.choice, workspace());
  ASSERT_EQ(order.turns, 3);
  EXPECT_EQ(order.turn[0].move, 1);
  EXPECT_EQ(order.turn[1].move, 2);
  EXPECT_EQ(order.turn[2].move, 0);
  EXPECT_NEAR(order.turn[0].level_error_after_m, 2e-3, 1e-12);
  EXPECT_NEAR(order.turn[2].level_error_after_m, 0, 1e-12);
  EXPECT_TRUE(order.level_never_worse);
  EXPECT_TRUE(order.limits_hold_throughout);
  EXPECT_EQ(order.turn[0].tightest, -1);
}

TEST(MoveOrder, NeverUnloadsASupportInBetweenWhereAnOrderExists) {
  // The larger move first would take 150 N off a support that carries 100 N; the smaller puts 80 N on first.
  Made m = made({-1e-3, -3e-3, 0}, {1e-3, 3e-3});
  ForceLimit<double> limit;
  limit.now_N = 100;
  limit.least_N = 20;
  limit.while_moving = true;
  m.owned->forces = {limit};
  m.owned->on_force = {{{8e4}, {}, {}}, {{-5e4}, {}, {}}};
  m.owned->look();
  const MoveOrder<double> order = order_moves(m.owned->problem, m.choice, workspace());
  EXPECT_EQ(order.turn[0].move, 0);
  EXPECT_TRUE(order.limits_hold_throughout);
  EXPECT_EQ(order.turn[1].tightest, 0);
  EXPECT_NEAR(order.turn[0].margin_N, 160, 1e-9);
  EXPECT_NEAR(order.turn[1].margin_N, 10, 1e-9);
  // A limit of another stage does not count while moving.
  m.owned->forces[0].while_moving = false;
  m.owned->look();
  EXPECT_EQ(order_moves(m.owned->problem, m.choice, workspace()).turn[0].move, 1);
}

TEST(MoveOrder, SaysWhenNoOrderKeepsTheLimits) {
  Made m = made({-1e-3, -3e-3, 0}, {1e-3, 3e-3});
  ForceLimit<double> first, second;
  first.now_N = second.now_N = 100;
  first.least_N = second.least_N = 20;
  first.while_moving = second.while_moving = true;
  m.owned->forces = {first, second};
  m.owned->on_force = {{{-1e5, 1e5}, {}, {}}, {{1e5 / 3, -1e5 / 3}, {}, {}}};
  m.owned->look();
  const MoveOrder<double> order = order_moves(m.owned->problem, m.choice, workspace());
  EXPECT_FALSE(order.limits_hold_throughout);
  EXPECT_FALSE(order.turn[0].limits_hold);
  EXPECT_NEAR(order.turn[0].margin_N, -20, 1e-9);
  EXPECT_TRUE(order.turn[1].limits_hold);
}

TEST(MoveOrder, EqualsTheBestOfAllPermutations) {
  for (unsigned seed = 1; seed <= 60; ++seed) {
    SCOPED_TRACE(seed);
    test::Random random(seed);
    const int n = random.whole(2, 5), points = n + 3;
    std::vector<double> heights, rises;
    for (int j = 0; j < points; ++j) heights.push_back(random.real(-3e-3, 3e-3));
    for (int p = 0; p < n; ++p) rises.push_back(random.real(-3e-3, 3e-3));
    Made m = made(heights, rises);
    for (auto& column : m.owned->on_height)
      for (double& value : column.rise) value = random.real(-0.2, 1);
    ForceLimit<double> limit;
    limit.now_N = 100;
    limit.least_N = 0;
    limit.while_moving = true;
    m.owned->forces = {limit};
    for (auto& influence : m.owned->on_force) influence.rise = {random.real(-7e4, 7e4)};
    const Problem<double>& problem = m.owned->look();
    const MoveOrder<double> order = order_moves(problem, m.choice, workspace());

    const auto cost = [&](const std::vector<int>& turns) {
      std::vector<double> shape = heights;
      double force = 100, climb = 0, error = level_error(std::span<const double>(shape));
      int broken = 0;
      for (std::size_t t = 0; t < turns.size(); ++t) {
        const std::size_t p = std::size_t(turns[t]);
        for (std::size_t j = 0; j < shape.size(); ++j) shape[j] += m.owned->on_height[p].rise[j] * rises[p];
        force += m.owned->on_force[p].rise[0] * rises[p];
        if (t + 1 < turns.size() && force < 0) ++broken;
        const double next = level_error(std::span<const double>(shape));
        climb += std::max(0.0, next - error);
        error = next;
      }
      return std::make_pair(broken, climb);
    };
    std::vector<int> turns(static_cast<std::size_t>(n)), mine;
    std::iota(turns.begin(), turns.end(), 0);
    auto best = cost(turns);
    while (std::next_permutation(turns.begin(), turns.end())) best = std::min(best, cost(turns));
    for (int t = 0; t < n; ++t) mine.push_back(order.turn[std::size_t(t)].move);
    EXPECT_EQ(cost(mine).first, best.first);
    EXPECT_NEAR(cost(mine).second, best.second, 1e-10);
    EXPECT_EQ(order.level_never_worse, best.second <= 1e-6 || cost(mine).second <= 1e-6);
  }
}

}  // namespace
}  // namespace hangtrue::adjust
