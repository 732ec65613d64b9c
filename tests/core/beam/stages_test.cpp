// The stages of the work on runs small enough to know the answer: lock-in, release, one-way supports, pulling home,
// moves, bow, and what cannot be solved. Closed forms: elementary theory as in data/reference/beam_cases.json; each
// tolerance is rounding.
#include <gtest/gtest.h>

#include <cmath>
#include <optional>

#include "core/beam/solver.hpp"
#include "core/quantity/units.hpp"
#include "tests/core/beam/run_builder.hpp"

namespace hangtrue::beam {
namespace {

using test::Bench;
using test::clamp;
using test::pin;
using test::RunBuilder;
using test::seat;

constexpr double EI = 21000, w = 120, L = 3;

double sag_simple(double length, double load) { return 5 * load * std::pow(length, 4) / (384 * EI); }

RunBuilder<double> bar(double length) { return RunBuilder<double>::uniform(length, EI); }

TEST(LockIn, ASupportNewToAStageCarriesNothingUntilLoadsChange) {
  auto run = bar(2 * L);
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(clamp(L));
  const int first = run.add_uniform(w), second = run.add_uniform(80);
  run.add_stage({a, b}, {first});
  run.add_stage({a, b, prop}, {first});
  run.add_stage({a, b, prop}, {first, second});
  Bench<double> bench(run);
  bench.solve();
  EXPECT_FALSE(bench->support(0, prop).engaged);
  EXPECT_TRUE(bench->support(1, prop).engaged);
  EXPECT_NEAR(bench->support(1, prop).force_N, 0, 1e-9);
  EXPECT_NEAR(bench->support(1, prop).moment_Nm, 0, 1e-9);
  EXPECT_NEAR(bench->support(1, prop).torque_Nm, 0, 1e-9);
  for (const double x : {0.4, 2.1, 3.0, 5.5})
    EXPECT_NEAR(bench->at(1, x).height_m, bench->at(0, x).height_m, 1e-12);
  EXPECT_NEAR(bench->at(1, L).height_m, -sag_simple(2 * L, w), 1e-12);
  // Only the new load meets two spans: 10/8 w L on the middle support (case A22), no more sag there.
  EXPECT_NEAR(bench->support(2, prop).force_N, 10.0 / 8 * 80 * L, 1e-8);
  EXPECT_NEAR(bench->at(2, L).height_m, -sag_simple(2 * L, w), 1e-12);
}

TEST(LockIn, ASpringySupportPutUnderTheSaggedRunLocksThereToo) {
  auto run = bar(2 * L);
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(pin(L));
  run.supports[2].rise = test::spring(50000.0);
  const int first = run.add_uniform(w), second = run.add_uniform(w);
  run.add_stage({a, b}, {first});
  run.add_stage({a, b, prop}, {first, second});
  Bench<double> bench(run);
  bench.solve();
  EXPECT_NEAR(bench->support(1, prop).force_N, 411.5853658536585,
              1e-8);  // case A25c, by the second load alone
}

TEST(LockIn, AnOffsetActsInTheStageItsSupportIsFirstEngaged) {
  auto run = bar(2 * L);
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(pin(L));
  const int load = run.add_uniform(w);
  run.add_stage({a, b}, {load});
  run.add_stage({a, b, prop}, {load});
  State<double> state;
  state.offset[prop].rise = 0.002;
  Bench<double> bench(run);
  bench.solve(state);
  EXPECT_NEAR(bench->at(0, L).height_m, -sag_simple(2 * L, w), 1e-12);
  EXPECT_NEAR(bench->at(1, L).height_m, -sag_simple(2 * L, w) + 0.002, 1e-12);
  EXPECT_NEAR(bench->support(1, prop).force_N, 6 * EI * 0.002 / std::pow(L, 3),
              1e-8);  // case A27 iii, lifted
}

TEST(LockIn, ASupportThatComesBackLocksInAnewAndItsOffsetActsOnce) {
  auto run = bar(2 * L);
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(pin(L));
  const int load = run.add_uniform(w);
  run.add_stage({a, b, prop}, {load});
  run.add_stage({a, b}, {load});
  run.add_stage({a, b, prop}, {load});
  State<double> state;
  state.offset[prop].rise = 0.005;
  Bench<double> bench(run);
  bench.solve(state);
  EXPECT_NEAR(bench->at(0, L).height_m, 0.005, 1e-12);
  EXPECT_NEAR(bench->at(1, L).height_m, -sag_simple(2 * L, w), 1e-12);
  EXPECT_NEAR(bench->support(2, prop).force_N, 0, 1e-8);
  EXPECT_NEAR(bench->at(2, L).height_m, -sag_simple(2 * L, w), 1e-12);
}

TEST(Release, LeavesNoForceAndTheShapeOfARunThatNeverHadTheSupport) {
  auto run = bar(2 * L);
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(clamp(1.1 * L));
  const int load = run.add_uniform(w), point = run.add_point(1.0, 90, 0.1);
  run.add_stage({a, b, prop}, {load});
  run.add_stage({a, b}, {load, point});
  auto without = bar(2 * L);
  without.add(pin(0.0));
  without.add(pin(2 * L));
  without.add_uniform(w);
  without.add_point(1.0, 90, 0.1);
  without.add_full_stage();
  Bench<double> bench(run), never(without);
  bench.solve();
  never.solve();
  const auto action = bench->support(1, prop);
  EXPECT_FALSE(action.engaged);
  EXPECT_EQ(action.force_N, 0);
  EXPECT_EQ(action.moment_Nm, 0);
  EXPECT_EQ(action.torque_Nm, 0);
  for (const double x : {0.0, 0.7, 2.0, 3.3, 4.4, 6.0}) {
    EXPECT_NEAR(bench->at(1, x).height_m, never->at(0, x).height_m, 1e-12);
    EXPECT_NEAR(bench->at(1, x).slope_rad, never->at(0, x).slope_rad, 1e-12);
    EXPECT_NEAR(bench->at(1, x).roll_rad, never->at(0, x).roll_rad, 1e-12);
  }
}

TEST(Loads, ThatAStageNoLongerListsAreTakenOff) {
  auto run = bar(L);
  const int a = run.add(pin(0.0)), b = run.add(pin(L));
  const int first = run.add_uniform(w), second = run.add_point(1.0, 300);
  run.add_stage({a, b}, {first, second});
  run.add_stage({a, b}, {first});
  Bench<double> bench(run);
  bench.solve();
  EXPECT_NEAR(bench->at(1, L / 2).height_m, -sag_simple(L, w), 1e-13);
}

TEST(Loads, ThatComeOnInEitherOrderLeaveTheSameShape) {
  const auto finished = [](bool first_first) {
    auto run = bar(2 * L);
    const int a = run.add(clamp(0.0)), b = run.add(pin(L)), c = run.add(pin(2 * L));
    const int first = run.add_uniform(w), second = run.add_point(1.0, 300, 0.1);
    run.add_stage({a, b, c}, {first_first ? first : second});
    run.add_stage({a, b, c}, {first, second});
    Bench<double> bench(run);
    bench.solve();
    return std::pair(bench->at(1, 2.2), bench->support(1, b));
  };
  EXPECT_NEAR(finished(true).first.height_m, finished(false).first.height_m, 1e-15);
  EXPECT_NEAR(finished(true).first.roll_rad, finished(false).first.roll_rad, 1e-15);
  EXPECT_NEAR(finished(true).second.force_N, finished(false).second.force_N, 1e-10);
}

// One-way ------------------------------------------------------------------------------------------------------------

class OneWay : public ::testing::TestWithParam<Holds> {};
INSTANTIATE_TEST_SUITE_P(SeatAndRod, OneWay, ::testing::Values(Holds::push, Holds::pull));

// Pins at 0 and 3 m, a metre of overhang, a one-way support in the middle of the span.
TEST_P(OneWay, SupportLiftsOffAndBearsAgainAtTheZeroItHad) {
  auto run = bar(L + 1);
  const int a = run.add(pin(0.0)), b = run.add(pin(L)), middle = run.add(seat(L / 2, GetParam()));
  run.supports[2].pitch = test::rigid<double>();
  run.supports[2].roll = test::spring(800.0);
  const int span = run.add_spread(0, L, w, w, 0.05), tip = run.add_point(L + 1, 400, 0.1);
  run.add_stage({a, b, middle}, {span});
  run.add_stage({a, b, middle}, {tip});
  run.add_stage({a, b, middle}, {span});
  Bench<double> bench(run);
  bench.solve();
  const double force = 5.0 / 8 * w * L;  // of the full span: two spans of L / 2 share as in case A22
  EXPECT_TRUE(bench->support(0, middle).engaged);
  EXPECT_NEAR(bench->support(0, middle).force_N, force, 1e-9);
  EXPECT_NE(bench->support(0, middle).torque_Nm, 0);

  const auto lifted = bench->support(1, middle);
  EXPECT_FALSE(lifted.engaged);
  EXPECT_EQ(lifted.force_N, 0);
  EXPECT_EQ(lifted.moment_Nm, 0);  // one that has lifted holds in none of its motions
  EXPECT_EQ(lifted.torque_Nm, 0);
  EXPECT_NEAR(bench->at(1, L + 1).height_m, -400.0 * (L + 1) / (3 * EI),
              1e-12);  // case A20: P a^2 (L + a) / 3EI
  EXPECT_GT(bench->at(1, L / 2).height_m, 0);

  EXPECT_TRUE(bench->support(2, middle).engaged);
  EXPECT_NEAR(bench->support(2, middle).force_N, force, 1e-9);
  EXPECT_NEAR(bench->at(2, L / 2).height_m, 0, 1e-14);
}

TEST_P(OneWay, SupportSetTooLowBearsOnlyOnceTheRunComesDownToIt) {
  auto run = bar(L);
  const int a = run.add(pin(0.0)), b = run.add(pin(L)), middle = run.add(seat(L / 2, GetParam()));
  const int light = run.add_uniform(30), heavy = run.add_uniform(90);
  run.add_stage({a, b, middle}, {light});
  run.add_stage({a, b, middle}, {light, heavy});
  State<double> state;
  state.offset[middle].rise = -0.003;  // sag under the light load: 1.5 mm, under both: 6.0 mm
  Bench<double> bench(run);
  bench.solve(state);
  EXPECT_FALSE(bench->support(0, middle).engaged);
  EXPECT_NEAR(bench->at(0, L / 2).height_m, -sag_simple(L, 30), 1e-14);
  EXPECT_TRUE(bench->support(1, middle).engaged);
  EXPECT_NEAR(bench->at(1, L / 2).height_m, -0.003, 1e-14);
  EXPECT_NEAR(bench->support(1, middle).force_N, (sag_simple(L, 120) - 0.003) * 48 * EI / std::pow(L, 3),
              1e-8);
}

TEST(OneWaySupports, AllBearingActAsIfTheyHeldBothWays) {
  const auto force = [](Holds holds) {
    auto run = bar(2 * L);
    for (int i = 0; i < 3; ++i) run.add(seat(i * L, holds));
    run.add_uniform(w);
    run.add_full_stage();
    Bench<double> bench(run);
    bench.solve();
    return bench->support(0, 1).force_N;
  };
  EXPECT_DOUBLE_EQ(force(Holds::push), force(Holds::both));
  EXPECT_DOUBLE_EQ(force(Holds::pull), force(Holds::both));
}

// Pulled home --------------------------------------------------------------------------------------------------------

TEST(PulledHome, InRiseDrawsTheSaggedRunBackToTheSupportsOwnZero) {
  auto run = bar(2 * L);
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(pin(L));
  run.supports[2].rise.pulled_home = true;
  const int load = run.add_uniform(w);
  run.add_stage({a, b}, {load});
  run.add_stage({a, b, prop}, {load});
  Bench<double> bench(run);
  bench.solve();
  EXPECT_NEAR(bench->at(1, L).height_m, 0, 1e-14);
  EXPECT_NEAR(bench->support(1, prop).force_N, 450, 1e-8);  // case A22, as if it had always been there
}

TEST(PulledHome, InPitchBendsARunThatArrivedWithASlope) {
  for (const bool home : {false, true}) {
    auto run = bar(L);
    const int a = run.add(pin(0.0)), b = run.add(pin(L)),
              flange = run.add({L, {}, test::rigid<double>(), {}});
    run.supports[2].pitch.pulled_home = home;
    const int load = run.add_uniform(w);
    run.add_stage({a, b}, {load});
    run.add_stage({a, b, flange}, {load});
    Bench<double> bench(run);
    bench.solve();
    // Home: the propped cantilever of case A13. Not home: the simple beam of case A01, locked at its slope.
    EXPECT_NEAR(bench->at(1, L, Side::left).moment_Nm, home ? -135 : 0, 1e-9);
    EXPECT_NEAR(bench->at(1, L).slope_rad, home ? 0 : w * L * L * L / (24 * EI), 1e-14);
  }
}

TEST(PulledHome, InRollTwistsARunThatArrivedRolled) {
  auto run = RunBuilder<double>::uniform(L, EI, 1500);
  const int a = run.add(clamp(0.0)), end = run.add({L, {}, {}, test::rigid<double>()});
  run.supports[1].roll.pulled_home = true;
  const int load = run.add_point(L, 100, 0.2);
  run.add_stage({a}, {load});
  run.add_stage({a, end}, {load});
  Bench<double> bench(run);
  bench.solve();
  EXPECT_NEAR(bench->at(0, L).roll_rad, -100 * 0.2 * L / 1500, 1e-13);
  EXPECT_NEAR(bench->at(1, L).roll_rad, 0, 1e-14);
  EXPECT_NEAR(bench->support(1, end).torque_Nm, 20, 1e-10);
}

// Moves and bow ------------------------------------------------------------------------------------------------------

TEST(Moves, ActFromTheirStageOn) {
  auto run = bar(L);
  run.add(pin(0.0));
  const int b = run.add(pin(L));
  run.add_uniform(w);
  for (int i = 0; i < 3; ++i) run.add_full_stage();
  State<double> state;
  state.move[b] = {0.002, 0, 0.004};
  state.move_stage = 1;
  Bench<double> bench(run);
  bench.solve(state);
  const double expected[] = {0, 0.002, 0.002};
  for (int stage = 0; stage < 3; ++stage) {
    EXPECT_NEAR(bench->at(stage, L).height_m, expected[stage], 1e-15);
    EXPECT_NEAR(bench->at(stage, L / 2).height_m, expected[stage] / 2 - sag_simple(L, w), 1e-14);
    EXPECT_NEAR(bench->at(stage, L).roll_rad, 2 * expected[stage], 1e-15);
  }
  state.move_stage = -1;
  bench.solve(state);
  EXPECT_NEAR(bench->at(2, L).height_m, 0, 1e-15);
}

TEST(Moves, OfASupportThatIsNotEngagedThenActWhenItNextEngages) {
  auto run = bar(2 * L);
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(pin(L));
  const int load = run.add_uniform(w);
  run.add_stage({a, b}, {load});
  run.add_stage({a, b}, {load});
  run.add_stage({a, b, prop}, {load});
  State<double> state;
  state.move[prop].rise = 0.002;
  state.move_stage = 1;
  Bench<double> bench(run);
  bench.solve(state);
  EXPECT_NEAR(bench->at(1, L).height_m, -sag_simple(2 * L, w), 1e-12);
  EXPECT_NEAR(bench->at(2, L).height_m, -sag_simple(2 * L, w) + 0.002, 1e-12);
}

TEST(Bow, OfARunFreeToFollowIsItsShapeWithoutForce) {
  auto run = bar(L);
  run.add(pin(0.0));
  run.add(pin(L));
  run.bows = 3;
  run.add_full_stage();
  State<double> state;
  state.bow_m[0] = 0.002;
  state.bow_m[2] = -0.001;
  Bench<double> bench(run);
  bench.solve(state);
  for (const double x : {0.0, 0.4, 1.0, 1.5, 2.9}) {
    const double angle = kPi * x / L;
    EXPECT_NEAR(bench->at(0, x).height_m, 0.002 * std::sin(angle) - 0.001 * std::sin(3 * angle), 1e-15);
    EXPECT_NEAR(bench->at(0, x).slope_rad, kPi / L * (0.002 * std::cos(angle) - 0.003 * std::cos(3 * angle)),
                1e-15);
    EXPECT_NEAR(bench->at(0, x).moment_Nm, 0, 1e-10);
  }
}

TEST(Bow, HeldStraightByASupportPressesOnIt) {
  auto run = bar(L);
  run.add(pin(0.0));
  run.add(pin(L));
  const int middle = run.add(pin(L / 2));
  run.bows = 1;
  run.add_full_stage();
  State<double> state;
  state.bow_m[0] = 0.002;  // bowed up: the middle support holds it down
  Bench<double> bench(run);
  bench.solve(state);
  EXPECT_NEAR(bench->support(0, middle).force_N, -0.002 * 48 * EI / std::pow(L, 3),
              1e-9);  // case A02 turned round
}

TEST(Slope, AtAJumpOfShearIsTheMeanOfBothSides) {
  auto run = RunBuilder<double>::uniform(L, EI, 1000, 5e4);
  run.add(pin(0.0));
  run.add(pin(L));
  run.add_point(1.0, 300);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  const auto here = bench->at(0, 1.0);
  const double before = bench->at(0, 1.0 - 1e-9).slope_rad, after = bench->at(0, 1.0 + 1e-9).slope_rad;
  EXPECT_GT(std::abs(before - after), 1e-3);  // 300 N / 50 kN = 6 mrad
  EXPECT_NEAR(here.slope_rad, (before + after) / 2, 1e-10);
  EXPECT_NEAR(bench->at(0, 1.0, Side::left).slope_rad, here.slope_rad, 1e-15);
}

// Where the slope is exactly level at mid-span, as rounding will have it for many lengths but not for all.
TEST(LowestPoint, OfASimpleBeamIsAtMidSpanWhateverItsLength) {
  for (int i = 0; i < 500; ++i) {
    const double length = 0.5 + 0.01 * i;
    SCOPED_TRACE(length);
    auto run = bar(length);
    run.add(pin(0.0));
    run.add(pin(length));
    run.add_uniform(w);
    run.add_full_stage();
    Bench<double> bench(run);
    bench.solve();
    EXPECT_NEAR(bench->lowest(0).at_m, length / 2, 1e-9);
    EXPECT_NEAR(bench->lowest(0).height_m / -sag_simple(length, w), 1, 1e-12);
  }
}

// Beside the axis -----------------------------------------------------------------------------------------------------

constexpr double kArm = 0.15, kGJ = 1500;

/// A rod that only pulls, holding the rise alone.
Support<double> rod(double at, double across, double stiffness) {
  return {.at_m = at, .rise = test::spring(stiffness), .holds = Holds::pull, .across_m = across};
}
/// A bracket at the start that holds everything, and a hanger of two rods at the end: 0 bracket, 1 left rod, 2 right rod.
RunBuilder<double> bracket_and_hanger(double rod_stiffness) {
  auto run = RunBuilder<double>::uniform(L, EI, kGJ);
  run.add(clamp(0.0));
  run.add(rod(L, kArm, rod_stiffness));
  run.add(rod(L, -kArm, rod_stiffness));
  return run;
}

// By hand. Sum S and difference D of the rod forces: the tip goes down by (P - S) L^3 / 3 EI and by S / 2 k; it rolls by
// -(P e - D a) L / GJ and by -D / (2 k a), up at the left positive.
TEST(TwoRods, ShareAWeightOffCentreAsTheirSpringsAndTheRunHaveIt) {
  constexpr double P = 400, e = 0.05, k = 2e5;
  auto run = bracket_and_hanger(k);
  run.add_point(L, P, e);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  const double bends = L * L * L / (3 * EI), twists = L / kGJ;
  const double sum = P * bends / (bends + 1 / (2 * k));
  const double difference = P * e * twists / (kArm * twists + 1 / (2 * k * kArm));
  EXPECT_NEAR(bench->support(0, 1).force_N, (sum + difference) / 2, 1e-9);
  EXPECT_NEAR(bench->support(0, 2).force_N, (sum - difference) / 2, 1e-9);
  EXPECT_NEAR(bench->at(0, L).height_m, -sum / (2 * k), 1e-14);
  EXPECT_NEAR(bench->at(0, L).roll_rad, -difference / (2 * k * kArm), 1e-14);
  EXPECT_NEAR(bench->height(0, L, kArm), -(sum + difference) / 2 / k, 1e-14);
  EXPECT_NEAR(bench->support(0, 0).torque_Nm, P * e - difference * kArm, 1e-9);
  EXPECT_EQ(bench->support(0, 1).torque_Nm, 0);
  EXPECT_EQ(bench->support(0, 2).torque_Nm, 0);
}

// One turn up at the left and one down at the right: the tip turns by that over the distance of the rods, and by what the run's
// own stiffness against twist leaves of it.
TEST(TwoRods, TurnedOppositeWaysLevelTheRunAcross) {
  constexpr double k = 2e5, turn = 0.00175;
  auto run = bracket_and_hanger(k);
  run.add_uniform(w);
  for (int i = 0; i < 2; ++i) run.add_full_stage();
  State<double> state;
  state.move_stage = 1;
  state.move[1].rise = turn;
  state.move[2].rise = -turn;
  const Parameter moves[] = {{ParameterKind::move_rise, 1}, {ParameterKind::move_rise, 2}};
  Bench<double> bench(run, 2);
  bench.solve(state, moves);
  const double of_rods = 2 * k * kArm * kArm, of_run = kGJ / L;
  EXPECT_NEAR(bench->at(0, L).roll_rad, 0, 1e-15);
  EXPECT_NEAR(bench->at(1, L).roll_rad, turn / kArm * of_rods / (of_rods + of_run), 1e-14);
  EXPECT_NEAR(bench->at(1, L).height_m, bench->at(0, L).height_m, 1e-14);
  double by_move[2];
  bench->roll_derivatives(1, L, by_move);
  EXPECT_NEAR(by_move[0], 0.5 / kArm * of_rods / (of_rods + of_run), 1e-11);
  EXPECT_NEAR(by_move[1], -by_move[0], 1e-11);
}

// A weight far to the left: the right rod goes slack, and the run hangs on the left one alone, which takes the torque's part too.
TEST(TwoRods, OneMayHangFreeAlone) {
  constexpr double P = 400, e = 0.35, k = 2e5;
  auto run = bracket_and_hanger(k);
  run.add_point(L, P, e);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  // The rod's own edge sinks by F / k, and by what P - F and P e - F a do to the run.
  const double bends = L * L * L / (3 * EI), twists = L / kGJ;
  const double force = P * (bends + kArm * e * twists) / (bends + kArm * kArm * twists + 1 / k);
  EXPECT_TRUE(bench->support(0, 1).engaged);
  EXPECT_FALSE(bench->support(0, 2).engaged);
  EXPECT_NEAR(bench->support(0, 1).force_N, force, 1e-9);
  EXPECT_NEAR(bench->height(0, L, kArm), -force / k, 1e-13);
  const auto contact = bench->contact(0, 2);
  EXPECT_FALSE(contact.bears);
  EXPECT_NEAR(contact.margin, bench->height(0, L, -kArm), 1e-15);  // above its zero: the slack
  EXPECT_GT(contact.margin, 0);
}

TEST(TwoRods, NewToAStageLockInWhereTheRunThenHangs) {
  constexpr double k = 2e5;
  auto run = bracket_and_hanger(k);
  const int first = run.add_point(L, 30, 0.05), second = run.add_point(L, 200, 0.05);
  run.add_stage({0}, {first});
  run.add_stage({0, 1, 2}, {first});
  run.add_stage({0, 1, 2}, {first, second});
  Bench<double> bench(run);
  bench.solve();
  for (const int i : {1, 2}) EXPECT_NEAR(bench->support(1, i).force_N, 0, 1e-9);
  EXPECT_NEAR(bench->height(1, L, kArm), bench->height(0, L, kArm), 1e-14);
  auto alone = bracket_and_hanger(k);
  alone.add_point(L, 200, 0.05);
  alone.add_full_stage();
  Bench<double> later(alone);
  later.solve();
  for (const int i : {1, 2}) EXPECT_NEAR(bench->support(2, i).force_N, later->support(0, i).force_N, 1e-9);

  for (int i : {1, 2}) {  // pulled home they take the edge to their own zero
    run.supports[std::size_t(i)].holds = Holds::both;
    run.supports[std::size_t(i)].rise = test::rigid<double>();
    run.supports[std::size_t(i)].rise.pulled_home = true;
  }
  State<double> state;
  state.offset[1].rise = 0.003;
  Bench<double> home(run);
  home.solve(state);
  EXPECT_NEAR(home->height(1, L, kArm), 0.003, 1e-14);
  EXPECT_NEAR(home->height(1, L, -kArm), 0, 1e-14);
}

// A rod beside the axis that also holds the roll: its own couple is told without the force's torque.
TEST(Support, BesideTheAxisTellsItsOwnCoupleWithoutTheForces) {
  auto run = RunBuilder<double>::uniform(L, EI, kGJ);
  Support<double> bracket = clamp(0.0);
  bracket.across_m = -0.1;
  run.add(bracket);
  run.add_point(2, 300, 0.2);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  EXPECT_NEAR(bench->support(0, 0).force_N, 300, 1e-10);
  EXPECT_NEAR(bench->support(0, 0).torque_Nm, 300 * 0.2 + 300 * 0.1, 1e-10);
  EXPECT_NEAR(bench->at(0, 1).torque_Nm, -300 * 0.2, 1e-10);
  EXPECT_NEAR(bench->height(0, 0, -0.1), 0, 1e-15);
}

// What cannot be solved ----------------------------------------------------------------------------------------------

void expect_stage_fault(const RunBuilder<double>& run, StageFaultCode code, int stage, int support,
                        const State<double>& state = {}) {
  Bench<double> bench(run);
  const auto done = bench->solve(state);
  ASSERT_FALSE(done.ok());
  EXPECT_EQ(done.fault().code, code);
  EXPECT_EQ(done.fault().stage, stage);
  EXPECT_EQ(done.fault().support, support);
}

TEST(StageFaults, RunFallsWhereNothingHoldsItUp) {
  auto run = bar(L);
  const int a = run.add(pin(0.0)), b = run.add(pin(L)),
            guide = run.add({1.0, {}, test::rigid<double>(), test::rigid<double>()});
  run.add_uniform(w);
  run.add_stage({a, b, guide}, {0});
  run.add_stage({guide}, {0});
  expect_stage_fault(run, StageFaultCode::falls, 1, -1);
  run.stages[1] = {};
  expect_stage_fault(run, StageFaultCode::falls, 1, -1);
}

TEST(StageFaults, RunFallsWhereItsOnlySeatsLift) {
  auto run = bar(L);
  run.add(seat(0.0));
  run.add(seat(L));
  run.add({L / 2, {}, test::rigid<double>(), test::rigid<double>()});
  run.add_uniform(w);
  run.add_uniform(-2 * w);
  run.add_stage({0, 1, 2}, {0});
  run.add_stage({0, 1, 2}, {0, 1});
  expect_stage_fault(run, StageFaultCode::falls, 1, -1);
}

TEST(StageFaults, RunTipsAboutTheOnePlaceThatHoldsIt) {
  auto run = bar(L);
  const int a = run.add(pin(0.0)), b = run.add(pin(1.0));
  run.add_uniform(w);
  run.add_stage({a, b}, {0});
  run.add_stage({b}, {0});
  expect_stage_fault(run, StageFaultCode::tips, 1, b);
  run.supports[1].pitch = test::spring(500.0);  // held in pitch it does not
  Bench<double> held(run);
  EXPECT_TRUE(held->solve({}).ok());
}

TEST(StageFaults, RunTipsAboutTwoSupportsAtTheSamePlace) {
  auto run = bar(L);
  run.add(pin(1.0));
  run.add(pin(1.0));
  for (auto& support : run.supports) support.rise = test::spring(1e5);
  run.add_uniform(w);
  run.add_full_stage();
  Bench<double> bench(run);
  const auto done = bench->solve({});
  ASSERT_FALSE(done.ok());
  EXPECT_EQ(done.fault().code, StageFaultCode::tips);
}

TEST(StageFaults, RunTipsOffItsSeatWhenTheLoadIsBeyondTheOther) {
  auto run = bar(L);
  const int a = run.add(seat(0.0)), b = run.add(seat(1.0));
  const int near = run.add_point(0.5, 100), far = run.add_point(L, 100);
  run.add_stage({a, b}, {near});
  run.add_stage({a, b}, {near, far});
  expect_stage_fault(run, StageFaultCode::tips, 1, b);
}

TEST(StageFaults, RunSpinsWhereNothingHoldsItsRoll) {
  auto run = bar(L);
  run.add(pin(0.0));
  run.add(pin(L));
  run.add_uniform(w);
  run.add_full_stage();
  run.supports[0].roll = run.supports[1].roll = {};
  expect_stage_fault(run, StageFaultCode::spins, 0, -1);
  run.supports[1].roll = test::spring(100.0);
  Bench<double> held(run);
  EXPECT_TRUE(held->solve({}).ok());
}

TEST(StageFaults, RunSpinsWhenTheOnlySupportThatHoldsItsRollLifts) {
  auto run = bar(L + 1);
  run.add({0.0, test::rigid<double>(), {}, {}});
  run.add({L, test::rigid<double>(), {}, {}});
  run.add(seat(L / 2));
  const int span = run.add_spread(0, L, w, w), tip = run.add_point(L + 1, 400);
  run.add_stage({0, 1, 2}, {span});
  run.add_stage({0, 1, 2}, {tip});
  expect_stage_fault(run, StageFaultCode::spins, 1, -1);
}

TEST(StageFaults, RunOnSupportsBesideTheAxisSpinsOnlyWhereTheyStandInOneLine) {
  const auto fault_of = [](std::initializer_list<std::pair<double, double>> places, bool pitch = false) {
    auto run = bar(L);
    for (const auto& [at, across] : places)
      run.add({.at_m = at, .rise = test::spring(1e5), .across_m = across});
    if (pitch) run.supports[0].pitch = test::spring(1e4);
    run.add_uniform(w);
    run.add_full_stage();
    Bench<double> bench(run);
    const auto done = bench->solve({});
    return done.ok() ? std::nullopt : std::optional(done.fault().code);
  };
  EXPECT_EQ(fault_of({{0.0, 0.1}, {L, 0.1}}), StageFaultCode::spins);
  EXPECT_EQ(fault_of({{0.0, 0.1}, {L, -0.1}}),
            StageFaultCode::spins);  // about the line from one to the other
  EXPECT_EQ(fault_of({{0.0, 0.1}, {L / 2, 0.0}, {L, -0.1}}), StageFaultCode::spins);
  EXPECT_EQ(fault_of({{0.0, 0.1}, {L / 2, 0.05}, {L, -0.1}}), std::nullopt);
  EXPECT_EQ(fault_of({{0.0, 0.1}, {0.0, -0.1}, {L, 0.0}}), std::nullopt);
  EXPECT_EQ(fault_of({{0.0, 0.1}, {L, -0.1}}, true), std::nullopt);  // the pitch holds that line level
  EXPECT_EQ(fault_of({{0.0, 0.1}, {L, 0.1}}, true), StageFaultCode::spins);
  EXPECT_EQ(fault_of({{0.0, 0.1}, {0.0, -0.1}}), StageFaultCode::tips);
  EXPECT_EQ(fault_of({{0.0, 0.1}, {0.0, -0.1}}, true), std::nullopt);
  EXPECT_EQ(fault_of({{0.0, 0.1}}, true), StageFaultCode::spins);
}

TEST(StageFaults, RigidSupportsSideBySideHoldHeightAndRollAndAThirdIsOneTooMany) {
  auto run = bar(L);
  run.add(clamp(0.0));
  for (const double across : {0.15, -0.15})
    run.add({.at_m = L, .rise = test::rigid<double>(), .across_m = across});
  run.add_uniform(w);
  run.add_full_stage();
  Bench<double> two(run);
  EXPECT_TRUE(two->solve({}).ok());
  run.supports[2].across_m = 0.15;
  expect_stage_fault(run, StageFaultCode::over_determined, 0, 2);
  run.supports[2].across_m = -0.15;
  const int third = run.add({.at_m = L, .rise = test::rigid<double>()});
  run.stages[0].supports = 0b1111;
  expect_stage_fault(run, StageFaultCode::over_determined, 0, third);
  run.supports[3] = {.at_m = L, .roll = test::rigid<double>()};
  expect_stage_fault(run, StageFaultCode::over_determined, 0, third);
  run.supports[3].roll = test::spring(1e4);
  Bench<double> sprung(run);
  EXPECT_TRUE(sprung->solve({}).ok());
}

TEST(StageFaults, TwoRigidSupportsOfTheSameMotionAtTheSamePlaceAreOneTooMany) {
  for (int motion = 0; motion < 3; ++motion) {
    SCOPED_TRACE(motion);
    auto run = bar(L);
    run.add(clamp(0.0));
    run.add(pin(L));
    Support<double> second{0.0, {}, {}, {}};
    (motion == 0 ? second.rise : motion == 1 ? second.pitch : second.roll) = test::rigid<double>();
    const int later = run.add(second);
    run.add_uniform(w);
    run.add_stage({0, 1}, {0});
    run.add_stage({0, 1, later}, {0});
    expect_stage_fault(run, StageFaultCode::over_determined, 1, later);
    auto& restraint = motion == 0   ? run.supports[2].rise
                      : motion == 1 ? run.supports[2].pitch
                                    : run.supports[2].roll;
    restraint.compliance = 1e-6;  // springs side by side share
    Bench<double> sprung(run);
    EXPECT_TRUE(sprung->solve({}).ok());
  }
}

// A load pulls up beside the far seat: that seat lifts, then the other, which holds pitch, and the run falls. But the far
// seat could still hold it up, and the run would tip about it: that is what a person can mend.
TEST(StageFaults, RunThatSomeSeatCouldStillHoldUpTipsRatherThanFalls) {
  auto run = bar(L);
  Support<double> gripping = seat(0.0);
  gripping.pitch = test::rigid<double>();
  const int near = run.add(gripping), far = run.add(seat(L));
  run.add_uniform(w);
  run.add_point(0.9 * L, -4 * w * L);
  run.add_stage({near, far}, {0});
  run.add_stage({near, far}, {0, 1});
  expect_stage_fault(run, StageFaultCode::tips, 1, far);
  // With nothing but the seat that holds pitch it falls.
  run.stages[0] = run.stages[1] = {};
  run.stages[0].supports = run.stages[1].supports = 1u << near;
  run.stages[0].loads = 1;
  run.stages[1].loads = 3;
  expect_stage_fault(run, StageFaultCode::falls, 1, -1);
}

TEST(StageFaults, OneTooManyIsToldWhateverTheSeatsDo) {
  auto run = bar(L);
  run.add(pin(0.0));
  const int second = run.add(pin(0.0));
  run.add(seat(L / 2));
  run.add(seat(L));
  run.add_uniform(w);
  run.add_stage({0, 2, 3}, {0});
  run.add_stage({0, second, 2, 3}, {0});
  expect_stage_fault(run, StageFaultCode::over_determined, 1, second);
}

// A seat that also holds pitch, at the end of a cantilever clamped at x = 1. With p = 1 N at x = 0.1 down and 45 N at 0.9
// up: clamped by the seat the end would need -0.29 N (1 - 3x^2 + 2x^3 of each), but let go it comes down on it (pinned,
// it would press with 0.20 N: 1 - 1.5x + 0.5x^3 of each). Neither lifted nor bearing is an answer.
TEST(StageFaults, SeatThatNeitherBearsNorLiftsDoesNotSettle) {
  auto run = bar(1.0);
  Support<double> gripping = seat(0.0);
  gripping.pitch = test::rigid<double>();
  run.add(gripping);
  run.add(clamp(1.0));
  run.add_point(0.1, 1);
  run.add_point(0.9, -45);
  run.add_full_stage();
  Bench<double> bench(run);
  const auto done = bench->solve({});
  ASSERT_FALSE(done.ok());
  EXPECT_EQ(done.fault().code, StageFaultCode::does_not_settle);
  EXPECT_EQ(done.fault().stage, 0);
}

TEST(StageFaults, StateThatIsNoStateIsRefused) {
  auto run = bar(L);
  run.add(pin(0.0));
  run.add(pin(L));
  run.add_uniform(w);
  run.bows = 1;
  run.add_full_stage();
  Bench<double> bench(run);
  const auto refused = [&](auto spoil) {
    State<double> state;
    spoil(state);
    const auto done = bench->solve(state);
    return !done.ok() && done.fault().code == StageFaultCode::state_not_usable;
  };
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double infinity = std::numeric_limits<double>::infinity();
  EXPECT_TRUE(refused([](State<double>& s) { s.bending_factor = 0; }));
  EXPECT_TRUE(refused([](State<double>& s) { s.bending_factor = -1; }));
  EXPECT_TRUE(refused([](State<double>& s) { s.torsion_factor = 0; }));
  for (const double bad : {nan, infinity}) {
    EXPECT_TRUE(refused([bad](State<double>& s) { s.bending_factor = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) { s.torsion_factor = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) { s.offset[1].rise = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) { s.offset[0].pitch = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) { s.offset[0].roll = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) { s.load_factor[0] = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) { s.log_spring[0].rise = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) { s.bow_m[0] = bad; }));
    EXPECT_TRUE(refused([bad](State<double>& s) {
      s.move[1].rise = bad;
      s.move_stage = 0;
    }));
  }
  EXPECT_TRUE(bench->solve({}).ok());  // and is none the worse for it
}

// What cannot be made a solver ---------------------------------------------------------------------------------------

RunBuilder<double> good_run() {
  auto run = bar(L);
  run.pieces = {{1.0, EI, 1000}, {L, EI, 1000}};
  run.add(pin(0.0));
  run.add(pin(L));
  run.add_uniform(w);
  run.add_point(1.0, 100);
  run.add_full_stage();
  return run;
}
void expect_run_fault(const RunBuilder<double>& run, RunFaultCode code, int index) {
  std::vector<double> storage(std::max<std::size_t>(100000, Solver<double>::storage_needed(run.run(), 0)));
  const auto made = Solver<double>::create(run.run(), 0, storage);
  ASSERT_FALSE(made.ok());
  EXPECT_EQ(made.fault().code, code);
  EXPECT_EQ(made.fault().index, index);
}
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

TEST(RunFaults, GoodRunHasNone) {
  const auto run = good_run();
  Bench<double> bench(run);
  EXPECT_TRUE(bench->solve({}).ok());
}

TEST(RunFaults, PiecesMustCoverTheRunInOrder) {
  auto run = good_run();
  run.pieces[1].to_m = 2.9;
  expect_run_fault(run, RunFaultCode::pieces_do_not_cover, 2);  // the one that is missing
  run = good_run();
  run.pieces[0].to_m = 0;
  expect_run_fault(run, RunFaultCode::pieces_do_not_cover, 0);
  run = good_run();
  run.pieces = {{2.0, EI, 1000}, {1.0, EI, 1000}, {L, EI, 1000}};
  expect_run_fault(run, RunFaultCode::pieces_do_not_cover, 1);
  run = good_run();
  run.pieces[0].to_m = kNan;
  expect_run_fault(run, RunFaultCode::pieces_do_not_cover, 0);
}

TEST(RunFaults, StiffnessMustBePositive) {
  for (const double bad : {0.0, -1.0, kNan}) {
    auto run = good_run();
    run.pieces[1].bending_N_m2 = bad;
    expect_run_fault(run, RunFaultCode::stiffness_not_positive, 1);
    run = good_run();
    run.pieces[0].torsion_N_m2 = bad;
    expect_run_fault(run, RunFaultCode::stiffness_not_positive, 0);
    run = good_run();
    run.pieces[1].shear_N = bad;
    expect_run_fault(run, RunFaultCode::stiffness_not_positive, 1);
  }
}

TEST(RunFaults, LoadsMustLieOnTheRun) {
  auto run = good_run();
  run.load_parts[0].to_m = L + 0.01;
  expect_run_fault(run, RunFaultCode::load_off_run, 0);
  run = good_run();
  run.load_parts[0].from_m = -0.01;
  expect_run_fault(run, RunFaultCode::load_off_run, 0);
  run = good_run();
  run.load_parts[0].from_m = 2;
  run.load_parts[0].to_m = 1;
  expect_run_fault(run, RunFaultCode::load_off_run, 0);
  run = good_run();
  run.load_parts[1].from_m = L + 1;
  expect_run_fault(run, RunFaultCode::load_off_run, 1);
}

TEST(RunFaults, LoadsMustBeFinite) {
  for (const double bad : {kNan, std::numeric_limits<double>::infinity()}) {
    auto run = good_run();
    run.load_parts[0].end = bad;
    expect_run_fault(run, RunFaultCode::load_not_finite, 0);
    run = good_run();
    run.load_parts[1].begin = bad;
    expect_run_fault(run, RunFaultCode::load_not_finite, 1);
    run = good_run();
    run.load_parts[1].across_m = bad;
    expect_run_fault(run, RunFaultCode::load_not_finite, 1);
  }
}

TEST(RunFaults, WarmthDoesNotMixWithWeightInOneLoad) {
  auto run = good_run();
  run.load_parts.push_back({1, LoadKind::warmth, 0, L, 0.001, 0.001, 0});
  expect_run_fault(run, RunFaultCode::load_kinds_mixed, 1);
}

TEST(RunFaults, SupportsMustStandOnTheRunAndYieldTheRightWay) {
  for (const double bad : {-0.01, L + 0.01, kNan}) {
    auto run = good_run();
    run.supports[1].at_m = bad;
    expect_run_fault(run, RunFaultCode::support_off_run, 1);
  }
  for (const double bad : {-1e-6, kNan}) {
    auto run = good_run();
    run.supports[0].rise.compliance = bad;
    expect_run_fault(run, RunFaultCode::compliance_negative, 0);
    run = good_run();
    run.supports[1].roll.compliance = bad;
    expect_run_fault(run, RunFaultCode::compliance_negative, 1);
    run = good_run();
    run.supports[1].pitch = {true, bad, false};
    expect_run_fault(run, RunFaultCode::compliance_negative, 1);
  }
}

TEST(RunFaults, MoreThanTheLimitsAllowIsTooMany) {
  const auto refused = [](const RunBuilder<double>& run) {
    std::vector<double> storage(100'000);
    const auto made = Solver<double>::create(run.run(), 0, storage);
    return !made.ok() && made.fault().code == RunFaultCode::too_many;
  };
  auto run = good_run();
  while (run.supports.size() <= kMaxSupports) run.add(pin(L * static_cast<double>(run.supports.size()) / 20));
  EXPECT_TRUE(refused(run));
  run = good_run();
  while (run.stages.size() <= kMaxStages) run.add_full_stage();
  EXPECT_TRUE(refused(run));
  run = good_run();
  while (run.loads <= kMaxLoads) run.add_point(1, 1);
  EXPECT_TRUE(refused(run));
  run = good_run();
  run.bows = kMaxBows + 1;
  EXPECT_TRUE(refused(run));
}

TEST(RunFaults, ARunWithoutStagesHasNothingToSolve) {
  auto run = good_run();
  run.stages.clear();
  expect_run_fault(run, RunFaultCode::no_stage, -1);
}

TEST(RunFaults, StorageMustBeWhatIsNeeded) {
  const auto run = good_run();
  const std::size_t needed = Solver<double>::storage_needed(run.run(), 3);
  std::vector<double> storage(needed);
  EXPECT_TRUE(Solver<double>::create(run.run(), 3, storage).ok());
  const auto made = Solver<double>::create(run.run(), 3, std::span(storage).first(needed - 1));
  ASSERT_FALSE(made.ok());
  EXPECT_EQ(made.fault().code, RunFaultCode::storage_too_small);
}

}  // namespace
}  // namespace hangtrue::beam
