// The dense model against closed forms, and against the core's solver, which goes another way.
//
// Closed forms: S. P. Timoshenko, Strength of Materials, Part I, and J. M. Gere, Mechanics of Materials (tables of beam
// deflections); from memory. Stages and one-way supports follow from these by superposition; worked out beside each check.
#include "tests/trials_of_the_hold_point/dense_run.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "core/beam/solver.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "tests/core/beam/random_run.hpp"
#include "tests/trials.hpp"
#include "tests/trials_of_the_hold_point/states.hpp"

namespace hangtrue::hold_trials {
namespace {

using beam::Holds;
using beam::test::clamp;
using beam::test::pin;
using beam::test::Random;
using beam::test::rigid;
using beam::test::RunBuilder;
using beam::test::seat;
using beam::test::spring;

constexpr double kL = 4, kEI = 2e5, kGJ = 5e4, kGA = 3e6, kQ = 600, kP = 900;
// Of a mesh of 60 elements in double precision: rounding grows with the fourth power of their number.
constexpr double kRelative = 1e-8;

RunBuilder<double> uniform(double shear_N = std::numeric_limits<double>::infinity()) {
  return RunBuilder<double>::uniform(kL, kEI, kGJ, shear_N);
}

int add_spread(RunBuilder<double>& run, double weight, double across = 0) {
  run.load_parts.push_back({run.loads, beam::LoadKind::spread, 0, kL, weight, weight, across});
  return run.loads++;
}
int add_point(RunBuilder<double>& run, double at, double weight, double across = 0) {
  run.load_parts.push_back({run.loads, beam::LoadKind::point, at, at, weight, 0, across});
  return run.loads++;
}

std::vector<StageShape> solved(const DenseRun& dense, int last, const TrueRun& truth = {}) {
  auto shapes = dense.solve(truth, last);
  if (!shapes) {
    ADD_FAILURE() << "no equilibrium";
    return {};
  }
  return std::move(*shapes);
}

void expect_close(double found, double expected) {
  EXPECT_NEAR(found, expected, kRelative * std::abs(expected));
}

TEST(DenseRun, SimpleBeamSagsByFiveOver384AndByItsShear) {
  auto run = uniform(kGA);
  add_spread(run, kQ);
  run.add(pin(0.0));
  run.add(pin(kL));
  run.stages = {{0b11, 0b1}};
  const DenseRun dense(run.run());
  const auto shapes = solved(dense, 0);
  expect_close(dense.height(shapes[0], kL / 2),
               -5 * kQ * std::pow(kL, 4) / (384 * kEI) - kQ * kL * kL / (8 * kGA));
  expect_close(shapes[0].reaction[0].rise, kQ * kL / 2);
}

TEST(DenseRun, CantileverTipSinksByPLCubedOver3EIAndByItsShear) {
  auto run = uniform(kGA);
  add_point(run, kL, kP, 0.1);
  run.add(clamp(0.0));
  run.stages = {{0b1, 0b1}};
  const DenseRun dense(run.run());
  const auto shapes = solved(dense, 0);
  expect_close(dense.height(shapes[0], kL), -kP * std::pow(kL, 3) / (3 * kEI) - kP * kL / kGA);
  expect_close(shapes[0].reaction[0].pitch, kP * kL);  // holds the tip up: the sense of a positive slope
  expect_close(dense.roll(shapes[0], kL), -kP * 0.1 * kL / kGJ);
}

TEST(DenseRun, ProppedCantileverCarriesThreeEighths) {
  auto run = uniform();
  add_spread(run, kQ);
  run.add(clamp(0.0));
  run.add(pin(kL));
  run.stages = {{0b11, 0b1}};
  expect_close(solved(DenseRun(run.run()), 0)[0].reaction[1].rise, 3 * kQ * kL / 8);
}

TEST(DenseRun, MiddleOfTwoSpansOnASpringTakesItsShare) {
  // R (c + L^3 / 48 EI) = 5 q L^4 / 384 EI.
  constexpr double kSpring = 2e5;
  auto run = uniform();
  add_spread(run, kQ);
  run.add(pin(0.0));
  run.add(pin(kL));
  run.add({.at_m = kL / 2, .rise = spring(kSpring)});
  run.stages = {{0b111, 0b1}};
  const double sag = 5 * kQ * std::pow(kL, 4) / (384 * kEI);
  expect_close(solved(DenseRun(run.run()), 0)[0].reaction[2].rise,
               sag / (1 / kSpring + std::pow(kL, 3) / (48 * kEI)));
}

TEST(DenseRun, SupportThatComesLaterTakesOnlyWhatComesAfterIt) {
  // Under q alone, then a middle prop without force, then q once more: it carries 5/8 of the second load.
  auto run = uniform();
  add_spread(run, kQ);
  add_spread(run, kQ);
  run.add(pin(0.0));
  run.add(pin(kL));
  run.add({.at_m = kL / 2, .rise = rigid<double>()});
  run.stages = {{0b011, 0b01}, {0b111, 0b01}, {0b111, 0b11}};
  const DenseRun dense(run.run());
  const auto shapes = solved(dense, 2);
  const double sag = 5 * kQ * std::pow(kL, 4) / (384 * kEI);
  EXPECT_NEAR(shapes[1].reaction[2].rise, 0, kRelative * kQ * kL);
  expect_close(shapes[2].reaction[2].rise, 5 * kQ * kL / 8);
  expect_close(dense.height(shapes[2], kL / 2), -sag);

  TrueRun off;  // its misfit when it is drawn tight: a force of 48 EI / L^3 a metre
  off.state.offset[2].rise = 1e-3;
  expect_close(solved(dense, 1, off)[1].reaction[2].rise, 1e-3 * 48 * kEI / std::pow(kL, 3));
}

TEST(DenseRun, ReleasedSupportLeavesAndComesBackWhereTheRunThenIs) {
  auto run = uniform();
  add_spread(run, kQ);
  run.add(pin(0.0));
  run.add(pin(kL));
  run.add({.at_m = kL / 2, .rise = rigid<double>()});
  run.stages = {{0b111, 0b1}, {0b011, 0b1}, {0b111, 0b1}};
  const DenseRun dense(run.run());
  TrueRun off;
  off.state.offset[2].rise = 2e-3;  // acts once
  const auto shapes = solved(dense, 2, off);
  const double sag = 5 * kQ * std::pow(kL, 4) / (384 * kEI);
  expect_close(dense.height(shapes[0], kL / 2), 2e-3);
  expect_close(dense.height(shapes[1], kL / 2), -sag);
  expect_close(dense.height(shapes[2], kL / 2), -sag);
  EXPECT_NEAR(shapes[2].reaction[2].rise, 0, kRelative * kQ * kL);
}

TEST(DenseRun, FlangePulledHomeTurnsTheEndBackToItsOwnZero) {
  // End slope of a simple beam q L^3 / 24 EI; the couple that takes it away acts on a beam of end stiffness 3 EI / L.
  auto run = uniform();
  add_spread(run, kQ);
  run.add(pin(0.0));
  run.add(pin(kL));
  auto flange = clamp(0.0);
  flange.rise = flange.roll = {};
  flange.pitch.pulled_home = true;
  run.add(flange);
  run.stages = {{0b011, 0b1}, {0b111, 0b1}};
  const auto shapes = solved(DenseRun(run.run()), 1);
  expect_close(shapes[1].reaction[2].pitch, kQ * kL * kL / 8);
  EXPECT_NEAR(shapes[1].bend(1), 0, 1e-12);
}

TEST(DenseRun, MovesActAtTheirStageOrWhenTheSupportNextEngages) {
  auto run = uniform();
  add_spread(run, kQ);
  run.add(pin(0.0));
  run.add(pin(kL));
  run.add({.at_m = kL / 2, .rise = rigid<double>()});
  run.stages = {{0b011, 0b1}, {0b111, 0b1}};
  const DenseRun dense(run.run());
  TrueRun moved;
  moved.state.move_stage = 0;
  moved.state.move[1].rise = 4e-3;
  moved.state.move[2].rise = 1e-3;
  const auto shapes = solved(dense, 1, moved);
  const double sag = 5 * kQ * std::pow(kL, 4) / (384 * kEI);
  expect_close(dense.height(shapes[0], kL), 4e-3);
  expect_close(dense.height(shapes[0], kL / 2), 2e-3 - sag);
  expect_close(dense.height(shapes[1], kL / 2), 3e-3 - sag);
}

TEST(DenseRun, MiddleSeatBearsOnlyWhereTheBeamReachesIt) {
  const double sag = 5 * kQ * std::pow(kL, 4) / (384 * kEI);
  for (const Holds holds : {Holds::push, Holds::pull})
    for (const double low : {0.9, 1.1}) {
      auto run = uniform();
      add_spread(run, kQ);
      run.add(pin(0.0));
      run.add(pin(kL));
      run.add(seat(kL / 2, holds));
      run.stages = {{0b111, 0b1}};
      const DenseRun dense(run.run());
      TrueRun truth;
      truth.state.offset[2].rise = -low * sag;
      const auto shapes = solved(dense, 0, truth);
      EXPECT_EQ(shapes[0].equilibria, 1);
      EXPECT_EQ(shapes[0].bearing, low < 1 ? 0b111u : 0b011u);
      expect_close(dense.height(shapes[0], kL / 2), -std::min(low, 1.0) * sag);
    }
}

TEST(DenseRun, RunOnOneSeatAloneFalls) {
  auto run = uniform();
  add_spread(run, kQ);
  run.add(seat(kL / 2));
  run.stages = {{0b1, 0b1}};
  EXPECT_FALSE(DenseRun(run.run()).solve({}, 0).has_value());
}

TEST(DenseRun, OverhangingWeightLiftsTheFarSeat) {
  // Seats at 0 and 1 m, all the weight at 4 m, the end at 0 held by nothing else: no equilibrium.
  auto run = uniform();
  add_point(run, kL, kP);
  run.add(seat(0.0));
  run.add(seat(1.0));
  run.stages = {{0b11, 0b1}};
  EXPECT_FALSE(DenseRun(run.run()).solve({}, 0).has_value());
}

// A beam of no length to speak of between two rods: the right one carries the part of the weight that the lever gives it, and
// the run rolls as the rods yield. Statics by hand.
TEST(DenseRun, WeightOffCentreBetweenTwoRodsGoesByTheLever) {
  constexpr double kRod = 3e6, kOff = 0.06, kArm = 0.15;
  auto run = uniform();
  add_point(run, 0, kP, kOff);
  run.add(
      {.at_m = 0, .rise = spring(kRod), .pitch = rigid<double>(), .holds = Holds::pull, .across_m = kArm});
  run.add({.at_m = 0, .rise = spring(kRod), .holds = Holds::pull, .across_m = -kArm});
  run.stages = {{0b11, 0b1}};
  const DenseRun dense(run.run());
  const auto shapes = solved(dense, 0);
  const double left = kP * (1 + kOff / kArm) / 2, right = kP * (1 - kOff / kArm) / 2;
  expect_close(shapes[0].reaction[0].rise, left);
  expect_close(shapes[0].reaction[1].rise, right);
  expect_close(dense.roll(shapes[0], kL), (right - left) / kRod / (2 * kArm));
  expect_close(dense.height(shapes[0], 0, kArm), -left / kRod);
}

TEST(DenseRun, FlexibilityIsThatOfTheRunAlone) {
  auto run = uniform();
  run.add(pin(0.0));
  run.add(clamp(kL));
  run.stages = {{0b11, 0}};
  const DenseRun dense(run.run());
  // Tip of a cantilever, L^3 / 3 EI; end couple of a propped beam, L / 4 EI... of a simple one, L / 3 EI.
  EXPECT_NEAR(*dense.flexibility(0b11, 0, beam::Motion::rise) * 3 * kEI / std::pow(kL, 3), 1, 1e-6);
  EXPECT_NEAR(*dense.flexibility(0b11, 1, beam::Motion::pitch) * 3 * kEI / kL, 1, 1e-6);
  EXPECT_NEAR(*dense.flexibility(0b11, 0, beam::Motion::roll) * kGJ / kL, 1, 1e-6);
  auto hinged = uniform();
  hinged.add(pin(0.0));
  hinged.add(pin(kL));
  hinged.stages = {{0b11, 0}};
  EXPECT_FALSE(DenseRun(hinged.run()).flexibility(0b11, 0, beam::Motion::rise).has_value());
}

// Heights and rolls at every node of every stage, and reactions, by both. Where one-way supports have several equilibria the
// core's solver may stand in any of them.
struct Compared {
  double height_m = 0, roll_rad = 0, force = 0;  // largest differences; force relative to the largest
  bool same_bearing = true, several = false, solved = false;
  double shortest_m = 0;  // element of the mesh
};

Compared compare(const beam::Run<double>& run, beam::Solver<double>& solver, const TrueRun& truth,
                 int elements, bool between_nodes = false) {
  Compared result;
  const DenseRun dense(run, {}, elements);
  const int last = int(run.stages.size()) - 1;
  const auto shapes = dense.solve(truth, last);
  if (!solver.solve(truth.state) || !shapes) return result;
  result.solved = true;
  result.shortest_m = run.length_m;
  for (std::size_t n = 0; n + 1 < dense.nodes_m().size(); ++n)
    result.shortest_m = std::min(result.shortest_m, dense.nodes_m()[n + 1] - dense.nodes_m()[n]);
  for (int s = 0; s <= last; ++s) {
    const StageShape& shape = (*shapes)[std::size_t(s)];
    result.several = result.several || shape.equilibria > 1;
    for (std::size_t n = 0; n + 1 < dense.nodes_m().size(); ++n) {
      double x = dense.nodes_m()[n];
      if (between_nodes) x += 0.3 * (dense.nodes_m()[n + 1] - x);
      result.height_m = std::max(result.height_m, std::abs(dense.height(shape, x) - solver.height(s, x)));
      if (!between_nodes)
        result.roll_rad =
            std::max(result.roll_rad, std::abs(dense.roll(shape, x) - solver.at(s, x).roll_rad));
    }
    double largest = 1;
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      largest = std::max(largest, std::abs(shape.reaction[i].rise));
    for (std::size_t i = 0; i < run.supports.size(); ++i) {
      const auto action = solver.support(s, int(i));
      // One that only touches bears or hangs free, as rounding has it.
      const bool touches =
          std::max(std::abs(action.force_N), std::abs(shape.reaction[i].rise)) < 1e-6 * largest;
      const bool bears = (shape.bearing >> i & 1u) != 0;
      result.same_bearing = result.same_bearing && (touches || action.engaged == bears);
      result.force = std::max({result.force, std::abs(action.force_N - shape.reaction[i].rise) / largest,
                               std::abs(action.moment_Nm - shape.reaction[i].pitch) / largest,
                               std::abs(action.torque_Nm - shape.reaction[i].roll) / largest});
    }
  }
  return result;
}

TEST(DenseRun, AgreesWithTheSolverByForcesOnRandomRuns) {
  Random random(20261128);
  int solved_runs = 0, set_aside = 0;
  for (int trial = 0; trial < trials(300); ++trial) {
    const auto run = beam::test::random_run(
        random, {.one_way = trial % 2 == 1, .warping = trial % 3 == 2, .across = trial % 4 >= 2});
    TrueRun truth;
    truth.state = beam::test::random_state(random, run);
    for (beam::Motions<double>& give : truth.state.give) give = {};  // the dense model knows no such yield
    const beam::Run<double> view = run.run();
    std::vector<double> storage(beam::Solver<double>::storage_needed(view, 0));
    auto solver = beam::Solver<double>::create(view, 0, storage);
    ASSERT_TRUE(solver.ok());
    const Compared compared = compare(view, solver.value(), truth, 60);
    // A support beside the axis turns an error of the height into one of the roll.
    const double roll_rad = trial % 4 >= 2 || trial % 3 == 2 ? 1e-6 : 1e-8;
    if (!compared.solved) continue;
    ++solved_runs;
    // 12 EI / h^3 of an element of a tenth of a millimetre leaves the dense model too few digits.
    if (compared.several || compared.shortest_m < 1e-3) {
      ++set_aside;
      continue;
    }
    EXPECT_TRUE(compared.same_bearing) << trial;
    EXPECT_LT(compared.height_m, 1e-6) << trial;  // the softest sag by a metre
    EXPECT_LT(compared.roll_rad, roll_rad) << trial;
    EXPECT_LT(compared.force, 1e-4) << trial;
  }
  // A tenth of them at most, and three standard deviations of that count: there are only few under the sanitizers.
  const double tenth = trials(300) / 10.0, at_most = tenth + 3 * std::sqrt(tenth);
  EXPECT_LT(trials(300) - solved_runs, at_most);
  EXPECT_LT(set_aside, at_most);
}

TEST(DenseRun, BetweenNodesTheErrorFallsWithTheFourthPowerOfTheMesh) {
  auto run = uniform(kGA);
  add_spread(run, 100 * kQ);  // so much that the error stands far above rounding
  run.add(pin(0.0));
  run.add(pin(kL));
  run.stages = {{0b11, 0b1}};
  const beam::Run<double> view = run.run();
  std::vector<double> storage(beam::Solver<double>::storage_needed(view, 0));
  auto solver = beam::Solver<double>::create(view, 0, storage);
  ASSERT_TRUE(solver.ok());
  const double coarse = compare(view, solver.value(), {}, 8, true).height_m;
  const double fine = compare(view, solver.value(), {}, 16, true).height_m;
  // As the header says: at the most q h^4 / 384 EI, and the shear's q h^2 / 8 GA, which falls with the square.
  const double h = kL / 16;
  EXPECT_LT(fine, 100 * kQ * (std::pow(h, 4) / (384 * kEI) + h * h / (8 * kGA)));
  EXPECT_GT(coarse / fine, 4);
}

TEST(DenseRun, AgreesWithTheSolverOnTheTrialsOwnSheetsAndStates) {
  int compared_runs = 0;
  for (const TrialSheet& each : trial_sheets()) {
    const Ground ground(each);
    job::SolvedRun mechanics(ground.run);
    ASSERT_FALSE(mechanics.trouble()) << each.name;
    for (std::uint64_t seed = 1; seed <= std::uint64_t(trials(20)); ++seed) {
      const auto state = draw(ground, seed % 2 == 0 ? Kind::unlevel_early : Kind::unlevel, seed);
      ASSERT_TRUE(state) << each.name << ' ' << seed;
      const Compared compared = compare(ground.view, mechanics.solver(), state->truth, 60);
      ASSERT_TRUE(compared.solved) << each.name << ' ' << seed;
      if (compared.several) continue;
      ++compared_runs;
      EXPECT_TRUE(compared.same_bearing) << each.name << ' ' << seed;
      EXPECT_LT(compared.height_m, 1e-8) << each.name << ' ' << seed;
      EXPECT_LT(compared.roll_rad, 1e-8) << each.name << ' ' << seed;
    }
  }
  EXPECT_GT(compared_runs, trials(180));
}

}  // namespace
}  // namespace hangtrue::hold_trials
