// Derivatives of shape and forces by everything in State, against differences of two solves. Seeds are fixed.
#include <gtest/gtest.h>

#include <cmath>

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

constexpr ParameterKind kAllKinds[] = {
    ParameterKind::offset_rise,  ParameterKind::offset_pitch, ParameterKind::offset_roll,
    ParameterKind::bending,      ParameterKind::torsion,      ParameterKind::spring_rise,
    ParameterKind::spring_pitch, ParameterKind::spring_roll,  ParameterKind::load,
    ParameterKind::bow,          ParameterKind::move_rise,    ParameterKind::move_pitch,
    ParameterKind::move_roll,    ParameterKind::give_rise,    ParameterKind::give_pitch,
    ParameterKind::give_roll};

int indices(ParameterKind kind, const RunBuilder<double>& run) {
  switch (kind) {
    case ParameterKind::bending:
    case ParameterKind::torsion:
      return 1;
    case ParameterKind::load:
      return run.loads;
    case ParameterKind::bow:
      return run.bows;
    default:
      return static_cast<int>(run.supports.size());
  }
}

std::vector<Parameter> all_parameters(const RunBuilder<double>& run) {
  std::vector<Parameter> parameters;
  for (const ParameterKind kind : kAllKinds)
    for (int i = 0; i < indices(kind, run); ++i) parameters.push_back({kind, static_cast<std::int16_t>(i)});
  return parameters;
}

double& value_of(State<double>& state, Parameter parameter) {
  const auto i = static_cast<std::size_t>(parameter.index);
  switch (parameter.kind) {
    case ParameterKind::offset_rise:
      return state.offset[i].rise;
    case ParameterKind::offset_pitch:
      return state.offset[i].pitch;
    case ParameterKind::offset_roll:
      return state.offset[i].roll;
    case ParameterKind::bending:
      return state.bending_factor;
    case ParameterKind::torsion:
      return state.torsion_factor;
    case ParameterKind::spring_rise:
      return state.log_spring[i].rise;
    case ParameterKind::spring_pitch:
      return state.log_spring[i].pitch;
    case ParameterKind::spring_roll:
      return state.log_spring[i].roll;
    case ParameterKind::load:
      return state.load_factor[i];
    case ParameterKind::bow:
      return state.bow_m[i];
    case ParameterKind::move_rise:
      return state.move[i].rise;
    case ParameterKind::move_pitch:
      return state.move[i].pitch;
    case ParameterKind::move_roll:
      return state.move[i].roll;
    case ParameterKind::give_rise:
      return state.give[i].rise;
    case ParameterKind::give_pitch:
      return state.give[i].pitch;
    default:
      return state.give[i].roll;
  }
}

bool is_give(ParameterKind kind) {
  return kind == ParameterKind::give_rise || kind == ParameterKind::give_pitch ||
         kind == ParameterKind::give_roll;
}

bool is_linear(ParameterKind kind) {
  return !is_give(kind) && kind != ParameterKind::bending && kind != ParameterKind::torsion &&
         kind != ParameterKind::spring_rise && kind != ParameterKind::spring_pitch &&
         kind != ParameterKind::spring_roll;
}

constexpr double kAcross = 0.17;
// Compliances that begin to matter on these runs.
constexpr double kGive_m_per_N = 1e-5, kGive_per_Nm = 1e-4;

/// Height at the left of the middle line, slope, roll and support forces: what derivatives are offered of.
std::vector<double> observed(const Solver<double>& solver, const RunBuilder<double>& run, int stage) {
  std::vector<double> values;
  for (int i = 0; i < Picture::kPlaces; ++i)
    values.push_back(solver.height(stage, Picture::place(run, i), kAcross));
  for (int i = 0; i < Picture::kPlaces; ++i)
    values.push_back(solver.at(stage, Picture::place(run, i)).slope_rad);
  for (int i = 0; i < Picture::kPlaces; ++i)
    values.push_back(solver.at(stage, Picture::place(run, i)).roll_rad);
  for (int s = 0; s < static_cast<int>(run.supports.size()); ++s)
    values.push_back(solver.support(stage, s).force_N);
  return values;
}
std::vector<std::vector<double>> derivatives(const Solver<double>& solver, const RunBuilder<double>& run,
                                             int stage, std::size_t parameters) {
  std::vector<std::vector<double>> rows;
  const auto row = [&]() -> std::span<double> { return rows.emplace_back(parameters); };
  for (int i = 0; i < Picture::kPlaces; ++i)
    solver.height_derivatives(stage, Picture::place(run, i), kAcross, row());
  for (int i = 0; i < Picture::kPlaces; ++i) solver.slope_derivatives(stage, Picture::place(run, i), row());
  for (int i = 0; i < Picture::kPlaces; ++i) solver.roll_derivatives(stage, Picture::place(run, i), row());
  for (int s = 0; s < static_cast<int>(run.supports.size()); ++s) solver.force_derivatives(stage, s, row());
  return rows;
}

std::vector<bool> engaged(const Solver<double>& solver, const RunBuilder<double>& run) {
  std::vector<bool> all;
  for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage)
    for (int s = 0; s < static_cast<int>(run.supports.size()); ++s)
      all.push_back(solver.support(stage, s).engaged);
  return all;
}

/// Compares one stage's derivatives with (after - before) / step. Each group (heights, slopes, rolls, forces) is
/// measured against the greatest derivative of its own kind by this parameter, with a floor in proportion to what
/// differencing itself loses.
void compare(const RunBuilder<double>& run, const std::vector<std::vector<double>>& analytic,
             std::size_t column, const std::vector<double>& before, const std::vector<double>& after,
             double step, double tolerance) {
  const std::size_t places = Picture::kPlaces;
  const std::size_t begins[] = {0, places, 2 * places, 3 * places, 3 * places + run.supports.size()};
  for (int group = 0; group < 4; ++group) {
    double greatest = 0, greatest_value = 0;
    for (std::size_t k = begins[group]; k < begins[group + 1]; ++k) {
      greatest = std::max(greatest, std::abs(analytic[k][column]));
      greatest_value = std::max(greatest_value, std::abs(before[k]));
    }
    const double allowed = tolerance * greatest + 1e-12 * greatest_value / step + 1e-12;
    for (std::size_t k = begins[group]; k < begins[group + 1]; ++k)
      EXPECT_NEAR(analytic[k][column], (after[k] - before[k]) / step, allowed)
          << "group " << group << ", entry " << k - begins[group];
  }
}

TEST(Derivatives, AgreeWithCentralDifferencesByEveryParameterInEveryStage) {
  Random random(21);
  int compared = 0, tipped = 0;
  int nonzero[std::size(kAllKinds)] = {};
  for (int i = 0; i < 40; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = i % 2 == 1, .warping = i % 3 == 2, .across = i % 4 >= 2});
    const State<double> state = random_state(random, run);
    const std::vector<Parameter> parameters = all_parameters(run);
    Bench<double> bench(run, static_cast<int>(parameters.size()));
    Bench<double> other(run);
    bench.solve(state, parameters);
    for (std::size_t p = 0; p < parameters.size(); ++p) {
      SCOPED_TRACE("kind " + std::to_string(static_cast<int>(parameters[p].kind)) + ", index " +
                   std::to_string(parameters[p].index));
      // Steps where rounding (1e-13 over the step) and curvature (the step squared) both stay below 1e-7.
      const double yields = parameters[p].kind == ParameterKind::give_rise ? kGive_m_per_N : kGive_per_Nm;
      const double step = is_give(parameters[p].kind)     ? 2e-5 * yields
                          : is_linear(parameters[p].kind) ? 1e-4
                                                          : 2e-4;
      State<double> low = state, high = state;
      value_of(low, parameters[p]) -= step / 2;
      value_of(high, parameters[p]) += step / 2;
      other.solve(low);
      const auto engaged_low = engaged(other.solver(), run);
      std::vector<std::vector<double>> before;
      for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage)
        before.push_back(observed(other.solver(), run, stage));
      other.solve(high);
      if (engaged(other.solver(), run) !=
          engaged_low) {  // no derivative exists where a support is about to lift
        ++tipped;
        continue;
      }
      for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage) {
        SCOPED_TRACE("stage " + std::to_string(stage));
        const auto analytic = derivatives(bench.solver(), run, stage, parameters.size());
        compare(run, analytic, p, before[static_cast<std::size_t>(stage)],
                observed(other.solver(), run, stage), step, 1e-6);
        for (const auto& row : analytic) nonzero[static_cast<int>(parameters[p].kind)] += row[p] != 0 ? 1 : 0;
        ++compared;
      }
    }
  }
  EXPECT_GT(compared, 1000);
  EXPECT_LT(tipped, 10);
  for (const ParameterKind kind : kAllKinds)
    EXPECT_GT(nonzero[static_cast<int>(kind)], 0) << static_cast<int>(kind);
}

// Where the shape is linear in a parameter, its derivative carries over any distance: influence times move is the move's
// effect, to rounding.
TEST(Derivatives, OfLinearParametersAreTheWholeDifferenceOfTwoSolves) {
  Random random(22);
  for (int i = 0; i < 40; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run = random_run(random, {.warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> state = random_state(random, run);
    const std::vector<Parameter> parameters = all_parameters(run);
    Bench<double> bench(run, static_cast<int>(parameters.size()));
    bench.solve(state, parameters);
    Bench<double> other(run);
    for (std::size_t p = 0; p < parameters.size(); ++p) {
      if (!is_linear(parameters[p].kind)) continue;
      SCOPED_TRACE("kind " + std::to_string(static_cast<int>(parameters[p].kind)) + ", index " +
                   std::to_string(parameters[p].index));
      State<double> moved = state;
      value_of(moved, parameters[p]) += 3.0;  // far beyond the real: nothing may hide in a small step
      other.solve(moved);
      for (int stage = 0; stage < static_cast<int>(run.stages.size()); ++stage) {
        SCOPED_TRACE("stage " + std::to_string(stage));
        compare(run, derivatives(bench.solver(), run, stage, parameters.size()), p,
                observed(bench.solver(), run, stage), observed(other.solver(), run, stage), 3.0, 1e-9);
      }
    }
  }
}

TEST(Derivatives, AreTheSameTakenOneByOneOrTogether) {
  Random random(23);
  for (int i = 0; i < 10; ++i) {
    SCOPED_TRACE(i);
    const RunBuilder<double> run =
        random_run(random, {.one_way = true, .warping = i % 3 == 2, .across = i % 2 == 1});
    const State<double> state = random_state(random, run);
    const std::vector<Parameter> parameters = all_parameters(run);
    const int last = static_cast<int>(run.stages.size()) - 1;
    Bench<double> together(run, static_cast<int>(parameters.size())), alone(run, 1);
    together.solve(state, parameters);
    const auto all = derivatives(together.solver(), run, last, parameters.size());
    for (std::size_t p = 0; p < parameters.size(); ++p) {
      alone.solve(state, std::span(&parameters[p], 1));
      const auto one = derivatives(alone.solver(), run, last, 1);
      for (std::size_t k = 0; k < one.size(); ++k) EXPECT_EQ(one[k][0], all[k][p]);
    }
  }
}

// Simple beam, UDL w: mid-height -5 w L^4 / (384 EI). By the factor on EI its negative, by the factor on the load itself.
TEST(Derivatives, OfASimpleBeamAreThoseOfItsFormula) {
  auto run = RunBuilder<double>::uniform(3, 21000);
  run.add(pin(0.0));
  run.add(pin(3.0));
  run.add_uniform(120);
  run.add_full_stage();
  const Parameter parameters[] = {
      {ParameterKind::bending, 0}, {ParameterKind::load, 0}, {ParameterKind::offset_rise, 1}};
  Bench<double> bench(run, 3);
  bench.solve({}, parameters);
  double found[3];
  bench->height_derivatives(0, 1.5, 0, found);
  const double sag = 5 * 120 * 81.0 / (384 * 21000);
  EXPECT_NEAR(found[0], sag, 1e-14);
  EXPECT_NEAR(found[1], -sag, 1e-14);
  EXPECT_NEAR(found[2], 0.5, 1e-14);
  bench->slope_derivatives(0, 1.5, found);
  EXPECT_NEAR(found[2], 1.0 / 3, 1e-14);
}

TEST(Derivatives, ByAMoveAreNothingBeforeItAndTheInfluenceOfAnOffsetAfterIt) {
  auto run = RunBuilder<double>::uniform(4, 21000);
  run.add(pin(0.0));
  run.add(pin(2.0));
  run.add(pin(4.0));
  run.add_uniform(120);
  for (int i = 0; i < 3; ++i) run.add_full_stage();
  State<double> state;
  state.move_stage = 1;
  const Parameter parameters[] = {{ParameterKind::move_rise, 1}, {ParameterKind::offset_rise, 1}};
  Bench<double> bench(run, 2);
  bench.solve(state, parameters);
  double found[2];
  bench->height_derivatives(0, 1.3, 0, found);
  EXPECT_EQ(found[0], 0);
  EXPECT_NE(found[1], 0);
  for (const int stage : {1, 2}) {
    bench->height_derivatives(stage, 1.3, 0, found);
    EXPECT_NEAR(found[0], found[1], 1e-14);
  }
}

}  // namespace
}  // namespace hangtrue::beam
