#include "core/adjust/search.hpp"

#include <gtest/gtest.h>

#include "core/adjust/prospect.hpp"
#include "core/adjust/workspace.hpp"
#include "tests/core/adjust/random_problem.hpp"
#include "tests/no_heap.hpp"

namespace hangtrue::adjust {
namespace {

using test::exhaustive_search;
using test::Owned;
using test::random_problem;

template <class Scalar = double>
Workspace<Scalar>& workspace() {
  static const auto kept = std::make_unique<Workspace<Scalar>>();
  return *kept;
}

/// A straight bar on two supports at its ends, checked at both ends: each rise is one point's height.
std::unique_ptr<Owned<>> two_points(double left_m, double right_m) {
  auto owned = std::make_unique<Owned<>>();
  owned->height_m = {left_m, right_m};
  owned->on_height = {{{1, 0}, {}, {}}, {{0, 1}, {}, {}}};
  owned->on_force = {{}, {}};
  owned->kinds = {{{0.5e-3, 4}, {1e-3, 4}, {3e-3, 2}}};
  owned->stocks.resize(1);
  for (int p = 0; p < 2; ++p) {
    Place<double> place;
    place.support = p;
    place.rise_to_m = 8e-3;
    owned->places.push_back(place);
  }
  owned->look();
  return owned;
}

Choice<double> chosen(const Owned<>& owned) {
  const auto result = choose(owned.problem, workspace());
  EXPECT_TRUE(result.ok());
  return result.ok() ? result.value() : Choice<double>{};
}

/// What any choice must keep, recomputed from the moves alone.
void expect_keeps_everything(const Problem<double>& problem, const Choice<double>& choice) {
  std::vector<double> heights(problem.height_m.size());
  finished_heights(problem, choice, std::span<double>(heights));
  EXPECT_NEAR(level_error(std::span<const double>(heights), problem.target_m), choice.level_error_after_m,
              1e-12);
  for (std::size_t f = 0; f < problem.forces.size(); ++f) {
    double force = problem.forces[f].now_N;
    for (int m = 0; m < choice.moves; ++m)
      force += change(problem.places[std::size_t(choice.move[std::size_t(m)].place)].on_force,
                      choice.move[std::size_t(m)], int(f));
    EXPECT_GE(force, problem.forces[f].least_N - 1e-5);
    EXPECT_LE(force, problem.forces[f].greatest_N + 1e-5);
  }
  std::vector<std::array<int, kMaxPieceKinds>> used(problem.stocks.size());
  int pieces = 0;
  for (int m = 0; m < choice.moves; ++m) {
    const Move<double>& move = choice.move[std::size_t(m)];
    const Place<double>& place = problem.places[std::size_t(move.place)];
    EXPECT_EQ(move.support, place.support);
    EXPECT_GE(move.rise_m, place.rise_from_m - 2e-9);
    EXPECT_LE(move.rise_m, place.rise_to_m + 2e-9);
    if (place.by != By::shims) {
      EXPECT_NEAR(move.rise_m, move.steps * place.step_m, 1e-15);
      EXPECT_NEAR(move.turns, move.steps * place.step_turns, 1e-12);
      continue;
    }
    const Stock<double>& stock = problem.stocks[std::size_t(place.stock)];
    double mean = 0, far = 0, left = 0;
    for (int i = 0; i < move.stacks; ++i) {
      const Stack<double>& stack = move.stack[std::size_t(i)];
      double height = 0;
      int in_stack = 0;
      for (std::size_t k = 0; k < stock.kinds.size(); ++k) {
        height += stack.count[k] * stock.kinds[k].thickness_m;
        in_stack += stack.count[k];
        used[std::size_t(place.stock)][k] += stack.count[k];
      }
      pieces += in_stack;
      EXPECT_LE(in_stack, stock.most);
      EXPECT_LE(height, stock.highest_m + 2e-9);
      EXPECT_NEAR(height, stack.thickness_m, 2e-9);
      const double half = 2.0 / move.stacks;
      mean += height / move.stacks;
      const Where w = stack.where;
      if (w == Where::far || w == Where::far_left || w == Where::far_right) far += height * half;
      if (w == Where::near || w == Where::near_left || w == Where::near_right) far -= height * half;
      if (w == Where::left || w == Where::near_left || w == Where::far_left) left += height * half;
      if (w == Where::right || w == Where::near_right || w == Where::far_right) left -= height * half;
    }
    EXPECT_NEAR(move.rise_m, mean, 2e-9);
    EXPECT_NEAR(move.pitch_rad, place.pitch ? far / place.along_m : 0.0, 1e-7);
    EXPECT_NEAR(move.roll_rad, place.roll ? left / place.across_m : 0.0, 1e-7);
  }
  EXPECT_EQ(pieces, choice.pieces);
  for (std::size_t s = 0; s < problem.stocks.size(); ++s)
    for (std::size_t k = 0; k < problem.stocks[s].kinds.size(); ++k)
      EXPECT_LE(used[s][k], problem.stocks[s].kinds[k].count) << "stock " << s << " kind " << k;
}

TEST(ShimSearch, EqualsExhaustiveSearchOnRandomSmallCases) {
  int found = 0, with_forces = 0, with_target = 0, plates = 0, turned = 0, none = 0;
  for (unsigned seed = 1; seed <= 400; ++seed) {
    SCOPED_TRACE(seed);
    const auto owned = random_problem(seed);
    const auto reference = exhaustive_search(owned->problem);
    const Choice<double> choice = chosen(*owned);
    if (!reference.found) {
      ++none;
      EXPECT_EQ(choice.outcome, Outcome::none_keeps_limits);
      EXPECT_EQ(choice.moves, 0);
      continue;
    }
    ++found;
    ASSERT_EQ(choice.outcome, Outcome::proved_best);
    EXPECT_NEAR(choice.least_level_error_m, reference.least, 2e-9);
    EXPECT_EQ(choice.pieces, reference.pieces);
    EXPECT_EQ(choice.moves, reference.touched);
    EXPECT_NEAR(choice.level_error_after_m, reference.error, 2e-9);
    expect_keeps_everything(owned->problem, choice);
    with_forces += owned->forces.empty() ? 0 : 1;
    with_target += owned->problem.target_m ? 1 : 0;
    for (const Place<double>& place : owned->places) {
      plates += place.by == By::shims && place.pitch && place.roll ? 1 : 0;
      turned += place.by == By::shims ? 0 : 1;
    }
  }
  // The cases are of every kind.
  EXPECT_GE(found, 200);
  EXPECT_GE(with_forces, 50);
  EXPECT_GE(with_target, 50);
  EXPECT_GE(plates, 20);
  EXPECT_GE(turned, 50);
  EXPECT_GE(none, 10);
}

TEST(ShimSearch, SinglePrecisionFindsTheSameLevelErrorToMicrometres) {
  for (unsigned seed = 1; seed <= 60; ++seed) {
    SCOPED_TRACE(seed);
    const auto exact = random_problem(seed);
    const Choice<double> choice = chosen(*exact);
    if (choice.outcome != Outcome::proved_best || !exact->forces.empty()) continue;
    Owned<float> owned;
    const auto floats = [](const std::vector<double>& from) {
      return std::vector<float>(from.begin(), from.end());
    };
    owned.height_m = floats(exact->height_m);
    for (std::size_t s = 0; s < exact->stocks.size(); ++s) {
      owned.kinds.emplace_back();
      for (const auto& kind : exact->kinds[s])
        owned.kinds[s].push_back({float(kind.thickness_m), kind.count});
      owned.stocks.push_back({{}, exact->stocks[s].most, float(exact->stocks[s].highest_m)});
    }
    for (std::size_t p = 0; p < exact->places.size(); ++p) {
      const Place<double>& from = exact->places[p];
      Place<float> place;
      place.by = from.by;
      place.rise_from_m = float(from.rise_from_m), place.rise_to_m = float(from.rise_to_m);
      place.stock = from.stock, place.layout = from.layout, place.pitch = from.pitch, place.roll = from.roll;
      place.along_m = float(from.along_m), place.across_m = float(from.across_m);
      place.step_m = float(from.step_m), place.step_turns = float(from.step_turns);
      owned.places.push_back(place);
      owned.on_height.push_back({floats(exact->on_height[p].rise), floats(exact->on_height[p].pitch),
                                 floats(exact->on_height[p].roll)});
      owned.on_force.emplace_back();
    }
    owned.look();
    if (exact->problem.target_m) owned.problem.target_m = float(*exact->problem.target_m);
    const auto single = choose(owned.problem, workspace<float>());
    ASSERT_TRUE(single.ok());
    EXPECT_NEAR(single.value().least_level_error_m, choice.least_level_error_m, 3e-6);
  }
}

TEST(ShimSearch, PrefersFewerPiecesThenFewerPlacesAmongEqualResults) {
  // Right is 1 mm low: one piece of 1 mm, not two of 0.5 mm, and nothing under the left.
  const auto owned = two_points(0, -1e-3);
  const Choice<double> choice = chosen(*owned);
  EXPECT_EQ(choice.outcome, Outcome::proved_best);
  EXPECT_EQ(choice.pieces, 1);
  ASSERT_EQ(choice.moves, 1);
  EXPECT_EQ(choice.move[0].support, 1);
  EXPECT_EQ(choice.move[0].stack[0].count[1], 1);
  EXPECT_NEAR(choice.level_error_after_m, 0, 1e-12);
}

TEST(ShimSearch, ResultsWithin20MicrometresAreEqualAndBeyondAreNot) {
  // equal_within_m is 0.02 mm: a piece is spent on 0.0201 mm gained, not on 0.0199 mm.
  auto owned = two_points(0, -0.26005e-3);  // with 0.5 mm: 0.23995 mm, gain 0.0201 mm
  EXPECT_EQ(chosen(*owned).pieces, 1);
  owned = two_points(0, -0.25995e-3);  // with 0.5 mm: 0.24005 mm, gain 0.0199 mm
  EXPECT_EQ(chosen(*owned).pieces, 0);
}

TEST(ShimSearch, SharedStockIsNeverOverdrawn) {
  auto owned = two_points(-3e-3, -3e-3);
  owned->height_m.push_back(0);  // a third point that nothing moves
  for (auto& column : owned->on_height) column.rise.push_back(0);
  owned->kinds[0] = {{3e-3, 1}, {1e-3, 2}};
  owned->look();
  const Choice<double> choice = chosen(*owned);
  EXPECT_EQ(choice.outcome, Outcome::proved_best);
  EXPECT_NEAR(choice.level_error_after_m, 1e-3, 1e-12);  // 3 mm under one, 2 mm under the other
  expect_keeps_everything(owned->problem, choice);
}

TEST(ShimSearch, FourCornersStayInOnePlane) {
  // One plate, heights are its corners' own: near left 1 mm low alone cannot be cured by one corner.
  Owned<> owned;
  owned.height_m = {-1e-3, 0, 0, 0};  // near left, near right, far left, far right
  owned.on_height = {{{1, 1, 1, 1}, {-0.06, -0.06, 0.06, 0.06}, {0.075, -0.075, 0.075, -0.075}}};
  owned.on_force = {{}};
  owned.kinds = {{{0.5e-3, 20}, {1e-3, 20}}};
  owned.stocks.resize(1);
  Place<double> place;
  place.layout = Layout::corners;
  place.pitch = place.roll = true;
  place.along_m = 0.12, place.across_m = 0.15;
  place.rise_to_m = 5e-3;
  owned.places = {place};
  owned.look();
  const Choice<double> choice = chosen(owned);
  ASSERT_EQ(choice.moves, 1);
  const auto& stack = choice.move[0].stack;
  EXPECT_NEAR(stack[0].thickness_m + stack[3].thickness_m, stack[1].thickness_m + stack[2].thickness_m, 1e-9);
  EXPECT_NEAR(choice.level_error_after_m, 0.5e-3, 1e-9);  // the twist of 1 mm, shared by both diagonals
  expect_keeps_everything(owned.problem, choice);
}

TEST(ShimSearch, RowsThatMayNotDifferStillTakeAStackEach) {
  auto owned = two_points(-1e-3, 0);
  owned->places[0].layout = Layout::corners;
  owned->look();
  const Choice<double> choice = chosen(*owned);
  ASSERT_EQ(choice.moves, 1);
  EXPECT_EQ(choice.move[0].stacks, 4);
  EXPECT_EQ(choice.pieces, 4);
  expect_keeps_everything(owned->problem, choice);
  // Of one thickness, though not of the same pieces where the stock runs short.
  owned->kinds[0] = {{0.5e-3, 4}, {1e-3, 2}};
  owned->look();
  const Choice<double> mixed = chosen(*owned);
  EXPECT_NEAR(mixed.level_error_after_m, 0, 1e-12);
  EXPECT_EQ(mixed.pieces, 6);
  expect_keeps_everything(owned->problem, mixed);
}

/// A plate at the middle of four points, near left, near right, far left, far right; heights in m.
std::unique_ptr<Owned<>> plate(std::vector<double> height_m, Layout layout, bool pitch, bool roll) {
  auto owned = std::make_unique<Owned<>>();
  owned->height_m = std::move(height_m);
  owned->on_height = {{{1, 1, 1, 1}, {-0.06, -0.06, 0.06, 0.06}, {0.075, -0.075, 0.075, -0.075}}};
  owned->on_force = {{}};
  owned->kinds = {{{1e-3, 20}}};
  owned->stocks.resize(1);
  Place<double> place;
  place.layout = layout;
  place.pitch = pitch;
  place.roll = roll;
  place.along_m = 0.12, place.across_m = 0.15;
  place.rise_to_m = 5e-3;
  owned->places = {place};
  owned->look();
  return owned;
}
/// Thickness of the stack that stands there, in whole millimetres; -1 where none does or two do.
int stack_mm(const Move<double>& move, Where where) {
  int found = -1;
  for (int i = 0; i < move.stacks; ++i) {
    const Stack<double>& stack = move.stack[std::size_t(i)];
    if (stack.where != where) continue;
    if (found >= 0) return -1;
    found = int(std::lround(stack.thickness_m * 1e3));
  }
  return found;
}

// Corners that are low get the pieces: a stack told at the wrong edge would double the error.
TEST(ShimSearch, EveryStackStandsAtTheCornerThatItLifts) {
  struct Low {
    std::vector<double> height_m;
    bool pitch, roll;
    int near_left, near_right, far_left, far_right;  // mm
  };
  const std::vector<Low> lows = {
      {{0, 0, -1e-3, -1e-3}, true, false, 0, 0, 1, 1},    {{-1e-3, -1e-3, 0, 0}, true, false, 1, 1, 0, 0},
      {{0, -1e-3, 0, -1e-3}, false, true, 0, 1, 0, 1},    {{-1e-3, 0, -1e-3, 0}, false, true, 1, 0, 1, 0},
      {{0, -1e-3, -2e-3, -3e-3}, true, true, 0, 1, 2, 3}, {{-3e-3, -1e-3, -2e-3, 0}, true, true, 3, 1, 2, 0}};
  for (const Low& low : lows) {
    const auto owned = plate(low.height_m, Layout::corners, low.pitch, low.roll);
    const Choice<double> choice = chosen(*owned);
    EXPECT_NEAR(choice.level_error_after_m, 0, 1e-9);
    ASSERT_EQ(choice.moves, 1);
    const Move<double>& move = choice.move[0];
    EXPECT_EQ(move.stacks, 4);
    EXPECT_EQ(move.stack[0].where, Where::near_left);
    EXPECT_EQ(move.stack[3].where, Where::far_right);
    EXPECT_EQ(stack_mm(move, Where::near_left), low.near_left);
    EXPECT_EQ(stack_mm(move, Where::near_right), low.near_right);
    EXPECT_EQ(stack_mm(move, Where::far_left), low.far_left);
    EXPECT_EQ(stack_mm(move, Where::far_right), low.far_right);
  }
}

TEST(ShimSearch, TwoRowsTakeAStackEachNearAndFarOrLeftAndRight) {
  const auto along = plate({0, 0, -1e-3, -1e-3}, Layout::near_far, true, false);
  const Choice<double> far_low = chosen(*along);
  ASSERT_EQ(far_low.moves, 1);
  EXPECT_EQ(far_low.move[0].stacks, 2);
  EXPECT_EQ(stack_mm(far_low.move[0], Where::near), 0);
  EXPECT_EQ(stack_mm(far_low.move[0], Where::far), 1);
  const auto across = plate({0, -1e-3, 0, -1e-3}, Layout::left_right, false, true);
  const Choice<double> right_low = chosen(*across);
  ASSERT_EQ(right_low.moves, 1);
  EXPECT_EQ(right_low.move[0].stacks, 2);
  EXPECT_EQ(stack_mm(right_low.move[0], Where::left), 0);
  EXPECT_EQ(stack_mm(right_low.move[0], Where::right), 1);
}

// Rows that may not differ: the plate, 2 mm low, rises as a whole.
TEST(ShimSearch, RowsThatMayNotDifferStandAtAllTheirPlaces) {
  const auto lifted = [](Layout layout) {
    auto owned = plate({-2e-3, -2e-3, -2e-3, -2e-3}, layout, false, false);
    owned->height_m.push_back(0);  // a point that nothing moves
    for (auto* const column :
         {&owned->on_height[0].rise, &owned->on_height[0].pitch, &owned->on_height[0].roll})
      column->push_back(0);
    owned->look();
    const Choice<double> choice = chosen(*owned);
    EXPECT_EQ(choice.moves, 1);
    return choice.move[0];
  };
  const Move<double> corners = lifted(Layout::corners);
  const Where in_order[] = {Where::near_left, Where::near_right, Where::far_left, Where::far_right};
  for (int i = 0; i < 4; ++i) {
    EXPECT_EQ(corners.stack[std::size_t(i)].where, in_order[i]);
    EXPECT_EQ(stack_mm(corners, in_order[i]), 2);
  }
  for (const Where where : {Where::near, Where::far}) EXPECT_EQ(stack_mm(lifted(Layout::near_far), where), 2);
  for (const Where where : {Where::left, Where::right})
    EXPECT_EQ(stack_mm(lifted(Layout::left_right), where), 2);
  EXPECT_EQ(stack_mm(lifted(Layout::one), Where::whole), 2);
}

TEST(ShimSearch, LayoutFollowsTheBoltRows) {
  EXPECT_EQ(layout_for(false, false, false, false), Layout::one);
  EXPECT_EQ(layout_for(true, false, false, false), Layout::near_far);
  EXPECT_EQ(layout_for(false, true, false, false), Layout::left_right);
  EXPECT_EQ(layout_for(true, true, false, false), Layout::corners);
  EXPECT_EQ(layout_for(true, true, true, false), Layout::corners);
  EXPECT_EQ(layout_for(true, true, false, true), Layout::corners);
  EXPECT_EQ(layout_for(true, true, true, true), Layout::corners);
}

TEST(ShimSearch, MovesARodByWholeStepsWithinItsTravel) {
  auto owned = two_points(0, 1.7e-3);
  Place<double>& rod = owned->places[1];
  rod.by = By::rod;
  rod.step_m = 0.4375e-3;  // a quarter turn of 1.75 mm
  rod.step_turns = 0.25;
  rod.rise_from_m = -10e-3;
  rod.rise_to_m = 10e-3;
  owned->places[0].rise_to_m = 0;  // nothing under the other
  Choice<double> choice = chosen(*owned);
  ASSERT_EQ(choice.moves, 1);
  EXPECT_EQ(choice.move[0].steps, -4);
  EXPECT_EQ(choice.move[0].turns, -1.0);
  EXPECT_EQ(choice.pieces, 0);
  rod.rise_from_m = -0.9e-3;  // two steps down at most
  choice = chosen(*owned);
  ASSERT_EQ(choice.moves, 1);
  EXPECT_EQ(choice.move[0].steps, -2);
}

TEST(ShimSearch, KeepsAOneWaySupportLoaded) {
  // 1 mm under the right would level the run, but takes 150 N off a support that carries 100 N.
  auto owned = two_points(0, -1e-3);
  ForceLimit<double> limit;
  limit.now_N = 100;
  limit.least_N = 20;
  owned->forces = {limit};
  owned->on_force = {{{1.5e5}, {}, {}}, {{-1.5e5}, {}, {}}};
  owned->look();
  const Choice<double> choice = chosen(*owned);
  EXPECT_NEAR(choice.level_error_after_m, 0.5e-3, 1e-12);  // only 0.5 mm: 25 N stay
  expect_keeps_everything(owned->problem, choice);
  owned->forces[0].least_N = 26;
  EXPECT_NEAR(chosen(*owned).level_error_after_m, 1e-3, 1e-12);
}

TEST(ShimSearch, LiftsAnUnloadedSupportBackIntoBearing) {
  auto owned = two_points(0, 0);
  ForceLimit<double> limit;
  limit.now_N = -30;
  limit.least_N = 20;
  owned->forces = {limit};
  owned->on_force = {{{-1e5}, {}, {}}, {{1e5}, {}, {}}};
  owned->look();
  const Choice<double> choice = chosen(*owned);
  EXPECT_EQ(choice.outcome, Outcome::proved_best);
  ASSERT_EQ(choice.moves, 1);
  EXPECT_NEAR(choice.move[0].rise_m, 0.5e-3, 1e-12);
  EXPECT_EQ(choice.move[0].support, 1);
}

TEST(ShimSearch, SaysWhenNothingKeepsTheLimits) {
  auto owned = two_points(0, -1e-3);
  owned->places[0].rise_from_m = 0.1e-3;  // no stack is between 0.1 and 0.4 mm
  owned->places[0].rise_to_m = 0.4e-3;
  EXPECT_EQ(chosen(*owned).outcome, Outcome::none_keeps_limits);

  owned = two_points(0, -1e-3);
  ForceLimit<double> limit;
  limit.now_N = 10;
  limit.least_N = 20;
  owned->forces = {limit};
  owned->on_force = {{{0}, {}, {}}, {{0}, {}, {}}};  // nothing moves it
  owned->look();
  EXPECT_EQ(chosen(*owned).outcome, Outcome::none_keeps_limits);
  owned->on_force = {{{100}, {}, {}}, {{100}, {}, {}}};  // by 0.8 N at most each
  owned->look();
  const Choice<double> none = chosen(*owned);
  EXPECT_EQ(none.outcome, Outcome::none_keeps_limits);
  EXPECT_EQ(none.moves, 0);
  EXPECT_EQ(none.level_error_after_m, none.level_error_before_m);
}

TEST(ShimSearch, ALargerStockIsNeverWorse) {
  for (unsigned seed = 1; seed <= 80; ++seed) {
    SCOPED_TRACE(seed);
    const auto owned = random_problem(seed);
    const Choice<double> small = chosen(*owned);
    for (auto& kinds : owned->kinds)
      for (auto& kind : kinds) ++kind.count;
    owned->look();
    const Choice<double> large = chosen(*owned);
    if (small.outcome != Outcome::proved_best) continue;
    ASSERT_EQ(large.outcome, Outcome::proved_best);
    EXPECT_LE(large.least_level_error_m, small.least_level_error_m + 1e-9);
  }
}

TEST(ShimSearch, SaysWhenItStoppedAndHowMuchBetterAChoiceCouldBe) {
  int stopped = 0;
  for (unsigned seed = 1; seed <= 60; ++seed) {
    SCOPED_TRACE(seed);
    const auto owned = random_problem(seed);
    const Choice<double> proved = chosen(*owned);
    for (const std::int64_t limit : {1, 3, 10, 30}) {
      owned->problem.node_limit = limit;
      const Choice<double> choice = chosen(*owned);
      if (choice.outcome == Outcome::proved_best || choice.outcome == Outcome::none_keeps_limits) {
        EXPECT_EQ(choice.level_error_after_m, proved.level_error_after_m);
        continue;
      }
      ++stopped;
      if (choice.outcome == Outcome::none_found) continue;
      EXPECT_EQ(choice.outcome, Outcome::stopped_at_limit);
      expect_keeps_everything(owned->problem, choice);
      EXPECT_LE(choice.could_still_be_m, proved.least_level_error_m + 2e-9);
      EXPECT_GE(choice.least_level_error_m, proved.least_level_error_m - 2e-9);
    }
  }
  EXPECT_GE(stopped, 40);
}

TEST(ShimSearch, SettlesTwelvePlacesOnAScarceStock) {
  // Twelve supports, each a point of its own, all needing more than the van has: proved, not given up.
  auto owned = std::make_unique<Owned<>>();
  test::Random random(5);
  for (int p = 0; p < kMaxPlaces; ++p) {
    owned->height_m.push_back(random.real(-6e-3, 0));
    Place<double> place;
    place.support = p;
    place.rise_to_m = 10e-3;
    owned->places.push_back(place);
    std::vector<double> column(std::size_t(kMaxPlaces), 0);
    column[std::size_t(p)] = 1;
    owned->on_height.push_back({column, {}, {}});
    owned->on_force.emplace_back();
  }
  owned->kinds = {{{0.5e-3, 8}, {1e-3, 8}, {3e-3, 8}}};
  owned->stocks.resize(1);
  owned->look();
  const Choice<double> choice = chosen(*owned);
  EXPECT_EQ(choice.outcome, Outcome::proved_best);
  expect_keeps_everything(owned->problem, choice);
}

TEST(ShimSearch, ReachesForNoHeap) {
  const auto owned = random_problem(12);
  Workspace<double>& w = workspace();
  const std::size_t before = hangtrue::test::heap_allocations();
  const auto result = choose(owned->problem, w);
  const bool ok = result.ok();
  if (ok) (void)order_moves(owned->problem, result.value(), w);
  (void)find_cure(owned->problem, std::span<const double>(owned->height_m), 1e-4, w);
  (void)prospect(std::span<const double>(owned->height_m), Spread<double>{owned->height_m, 1}, 1e-3);
  EXPECT_EQ(hangtrue::test::heap_allocations(), before);  // under a sanitizer, which does not count, always
  EXPECT_TRUE(ok);
}

TEST(ShimSearch, NamesWhatIsWrongWithAProblem) {
  const auto fault = [](const Owned<>& owned) {
    const auto result = choose(owned.problem, workspace());
    EXPECT_FALSE(result.ok());
    return result.ok() ? AdjustFault{} : result.fault();
  };
  auto owned = two_points(0, 0);
  owned->problem.height_m = {};
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::no_points);

  owned = two_points(0, std::nan(""));
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::not_finite);

  owned = two_points(0, 0);
  owned->on_height[1].rise.pop_back();
  owned->look();
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::sizes_differ);
  EXPECT_EQ(fault(*owned).index, 1);

  owned = two_points(0, 0);
  owned->kinds[0][0].thickness_m = 0;
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::stock_not_usable);

  owned = two_points(0, 0);
  owned->places[0].stock = 1;
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::stock_not_usable);

  owned = two_points(0, 0);
  owned->on_height[0].pitch = {0, 0};
  owned->look();
  owned->places[0].pitch = true;
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::rows_missing);

  owned = two_points(0, 0);
  owned->places[0].by = By::rod;
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::step_not_positive);
  owned->places[0].step_m = 1e-9;  // 8,000,000 steps of travel, above kMaxSteps = 100,000
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::too_many);

  owned = two_points(0, 0);
  owned->places[0].rise_from_m = 9e-3;
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::travel_reversed);

  owned = two_points(0, 0);
  owned->kinds[0].clear();
  for (int k = 1; k <= kMaxPieceKinds; ++k) owned->kinds[0].push_back({k * 0.3e-3, 20});
  owned->look();
  owned->stocks[0].most = 6;  // (12 + 6 choose 6) = 18564 stacks
  EXPECT_EQ(fault(*owned).code, AdjustFaultCode::too_many_stacks);
  owned->stocks[0].most = 4;  // (12 + 4 choose 4) = 1820
  EXPECT_TRUE(choose(owned->problem, workspace()).ok());
}

}  // namespace
}  // namespace hangtrue::adjust
