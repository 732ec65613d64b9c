// Bearing sets that are given, contacts, and runs that can stand in two ways. By hand calculation and by the solver's own choice.
#include <gtest/gtest.h>

#include <bit>

#include "core/beam/solver.hpp"
#include "tests/core/beam/random_run.hpp"

namespace hangtrue::beam {
namespace {

using test::Bench;
using test::Picture;
using test::pin;
using test::Random;
using test::random_run;
using test::random_state;
using test::RunBuilder;
using test::seat;
using test::spring;

// The set that solve() found, given back: the same shape. Every other set contradicts itself: somewhere a force pulls or a gap
// is run into; the margins say so.
TEST(BearingGiven, TheSetThatWasFoundGivesTheSameShape) {
  Random random(31);
  int given_sets = 0;
  for (int i = 0; i < 40; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    State<double> state = random_state(random, run);
    Bench<double> found(run), given(run);
    found.solve(state);
    const int stages = int(run.stages.size());
    for (int stage = 0; stage < stages; ++stage)
      for (int s = 0; s < int(run.supports.size()); ++s) {
        if (!run.stages[std::size_t(stage)].lists_support(s) || !run.supports[std::size_t(s)].one_way())
          continue;
        if (!found.solver().support(stage, s).engaged) state.lifted[stage] |= 1u << s;
        EXPECT_EQ(found.solver().contact(stage, s).bears, found.solver().support(stage, s).engaged);
        EXPECT_GT(found.solver().contact(stage, s).margin, -1e-6);
        ++given_sets;
      }
    state.bearing_given = stages;
    given.solve(state);
    for (int stage = 0; stage < stages; ++stage)
      for (int k = 0; k < Picture::kPlaces; ++k) {
        const double x = Picture::place(run, k);
        EXPECT_NEAR(given.solver().height(stage, x, 0.1), found.solver().height(stage, x, 0.1), 1e-13);
      }
  }
  EXPECT_GT(given_sets, 20);
}

// A beam of 4 m on seats at 0, 2 and 4 m under a uniform load, the middle one 5 w L^4 / (384 EI) lower than needed: by the
// tables of simple beams (S. P. Timoshenko, Strength of Materials, Part I; from memory) it hangs free there by the difference.
TEST(BearingGiven, AMiddleSeatThatHangsFreeLeavesASimpleBeam) {
  auto run = RunBuilder<double>::uniform(4, 1e4);
  run.add(pin<double>(0));
  run.add(seat<double>(2));
  run.add(pin<double>(4));
  run.add_uniform(100);
  run.add_stage({0, 1, 2}, {0});
  const double sag = 5.0 * 100 * 256 / (384 * 1e4);
  State<double> state;
  state.offset[1].rise = -sag - 0.002;
  Bench<double> bench(run);
  bench.solve(state);
  EXPECT_FALSE(bench.solver().contact(0, 1).bears);
  EXPECT_NEAR(bench.solver().contact(0, 1).margin, 0.002, 1e-12);
  // Given as bearing it is pulled on: the force that draws the middle down by 2 mm, 48 EI d / L^3.
  state.bearing_given = 1;
  bench.solve(state);
  EXPECT_TRUE(bench.solver().contact(0, 1).bears);
  EXPECT_NEAR(bench.solver().contact(0, 1).margin, -48e4 * 0.002 / 64, 1e-9);
}

TEST(BearingGiven, DerivativesOfMarginsAgreeWithDifferences) {
  auto run = RunBuilder<double>::uniform(4, 1e4);
  run.add({0, spring<double>(1e5), spring<double>(1e4), test::rigid<double>(), Holds::both});
  run.add(seat<double>(2.5));
  run.add({3.5, spring<double>(2e5), {}, {}, Holds::pull});
  run.add_uniform(80);
  run.add_stage({0, 1}, {0});
  run.add_stage({0, 1, 2}, {0});
  const Parameter parameters[] = {{ParameterKind::offset_rise, 0}, {ParameterKind::offset_pitch, 0},
                                  {ParameterKind::offset_rise, 1}, {ParameterKind::offset_rise, 2},
                                  {ParameterKind::bending, 0},     {ParameterKind::load, 0}};
  for (const std::uint32_t lifted : {0u, 2u, 4u, 6u}) {
    State<double> state;
    state.lifted[1] = lifted;
    state.bearing_given = 2;
    Bench<double> bench(run, int(std::size(parameters))), low(run), high(run);
    bench.solve(state, parameters);
    for (int stage = 0; stage < 2; ++stage)
      for (int support = 1; support <= stage + 1; ++support) {
        double derivatives[std::size(parameters)];
        bench.solver().contact_derivatives(stage, support, derivatives);
        for (std::size_t p = 0; p < std::size(parameters); ++p) {
          State<double> less = state, more = state;
          const double step = 1e-5;
          const auto shift = [&](State<double>& of, double by) {
            const int i = parameters[p].index;
            switch (parameters[p].kind) {
              case ParameterKind::offset_rise:
                of.offset[i].rise += by;
                break;
              case ParameterKind::offset_pitch:
                of.offset[i].pitch += by;
                break;
              case ParameterKind::bending:
                of.bending_factor += by;
                break;
              default:
                of.load_factor[i] += by;
                break;
            }
          };
          shift(less, -step);
          shift(more, step);
          low.solve(less);
          high.solve(more);
          const double difference =
              (high.solver().contact(stage, support).margin - low.solver().contact(stage, support).margin) /
              (2 * step);
          EXPECT_NEAR(derivatives[p], difference, 1e-5 * (1 + std::abs(difference)))
              << "stage " << stage << ", support " << support << ", parameter " << p << ", lifted " << lifted;
        }
      }
  }
}

// A seat that holds the pitch too: where it bears it keeps the run from sagging away from it, and where it hangs free the run
// has sagged: both can be. Without the pitch there is one equilibrium alone (a convex problem).
TEST(BearingGiven, ASeatThatHoldsThePitchCanStandInTwoWays) {
  int two = 0;
  for (const bool holds_pitch : {false, true})
    for (int k = 0; k < 400; ++k) {
      auto run = RunBuilder<double>::uniform(4, 1e4);
      run.add(pin<double>(0));
      Support<double> middle = seat<double>(1.5);
      if (holds_pitch) middle.pitch = test::rigid<double>();
      run.add(middle);
      run.add(pin<double>(4));
      run.add_uniform(100);
      run.add_stage({0, 1, 2}, {0});
      State<double> state;
      state.offset[1].rise = -0.0005 * (k / 5);
      state.offset[1].pitch = 0.02 * (k % 5 - 2);
      Bench<double> bench(run);
      if (!bench.solver().solve(state)) continue;  // with the pitch there may be none either
      const double before = bench.solver().height(0, 2.2);
      std::uint32_t lifted = 0;
      const bool other = bench.solver().other_equilibrium(0, lifted);
      if (!holds_pitch) {
        EXPECT_FALSE(other) << k;
      }
      two += other ? 1 : 0;
      EXPECT_EQ(bench.solver().height(0, 2.2), before) << "what was found stays";
      if (!other) continue;
      // It is an equilibrium indeed, and another one.
      state.lifted[0] = lifted;
      state.bearing_given = 1;
      bench.solve(state);
      EXPECT_GE(bench.solver().contact(0, 1).margin, -1e-9);
      EXPECT_GT(std::abs(bench.solver().height(0, 2.2) - before), 1e-6);
    }
  EXPECT_GT(two, 0);
}

}  // namespace
}  // namespace hangtrue::beam
