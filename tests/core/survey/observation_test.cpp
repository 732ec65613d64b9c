// What instruments read on a solved run. Expected values are closed forms of simple beams or follow from the
// definitions in core/survey/reading.hpp; each says which.
#include "core/survey/observation.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "tests/core/beam/run_builder.hpp"

namespace hangtrue::survey {
namespace {

using beam::Parameter;
using beam::ParameterKind;
using beam::test::Bench;
using beam::test::RunBuilder;

constexpr double kWidth_m = 0.4;

// Two supports with springs, off-centre loads, a bow, a later stage: everything that a reading may depend on.
RunBuilder<double> lively_run() {
  auto run = RunBuilder<double>::uniform(4.0, 9000.0, 4000.0, 3e5);
  run.add(
      {0.3, beam::test::spring(2e5), beam::test::spring(2e4), beam::test::spring(1.5e4), beam::Holds::both});
  run.add({3.6, beam::test::spring(1e5), {}, beam::test::spring(9e3), beam::Holds::both});
  run.add_spread(0, 4, 120, 160, 0.02);
  run.add_point(1.7, 250, -0.05);
  run.bows = 2;
  run.add_stage({0, 1}, {0});
  run.add_stage({0, 1}, {0, 1});
  return run;
}

beam::State<double> lively_state() {
  beam::State<double> state;
  state.offset[0] = {0.002, 0.001, -0.003};
  state.offset[1] = {-0.001, 0, 0.002};
  state.bow_m[0] = 0.0006;
  state.bow_m[1] = -0.0004;
  state.bending_factor = 1.05;
  state.log_spring[0].pitch = -0.1;
  return state;
}

const std::vector<Parameter> kEverything{
    {ParameterKind::offset_rise, 0}, {ParameterKind::offset_pitch, 0}, {ParameterKind::offset_roll, 0},
    {ParameterKind::offset_rise, 1}, {ParameterKind::offset_roll, 1},  {ParameterKind::bending, 0},
    {ParameterKind::torsion, 0},     {ParameterKind::spring_rise, 0},  {ParameterKind::spring_pitch, 0},
    {ParameterKind::spring_roll, 1}, {ParameterKind::load, 0},         {ParameterKind::load, 1},
    {ParameterKind::bow, 0},         {ParameterKind::bow, 1}};

void shift(Parameter by, double step, beam::State<double>& state) {
  switch (by.kind) {
    case ParameterKind::offset_rise:
      state.offset[by.index].rise += step;
      break;
    case ParameterKind::offset_pitch:
      state.offset[by.index].pitch += step;
      break;
    case ParameterKind::offset_roll:
      state.offset[by.index].roll += step;
      break;
    case ParameterKind::bending:
      state.bending_factor += step;
      break;
    case ParameterKind::torsion:
      state.torsion_factor += step;
      break;
    case ParameterKind::spring_rise:
      state.log_spring[by.index].rise += step;
      break;
    case ParameterKind::spring_pitch:
      state.log_spring[by.index].pitch += step;
      break;
    case ParameterKind::spring_roll:
      state.log_spring[by.index].roll += step;
      break;
    case ParameterKind::load:
      state.load_factor[by.index] += step;
      break;
    case ParameterKind::bow:
      state.bow_m[by.index] += step;
      break;
    default:
      FAIL() << "not in this test";
  }
}

std::vector<Reading<double>> every_kind_of_reading() {
  std::vector<Reading<double>> readings;
  for (const Channel channel : {Channel::slope, Channel::roll, Channel::distance})
    for (const Edge edge : {Edge::left, Edge::middle, Edge::right})
      for (const double at : {0.0, 0.3, 1.1, 2.0, 3.9, 4.0})
        for (const double base : {0.0, 0.25, 1.3, 7.0})
          for (const std::int8_t face : {std::int8_t{1}, std::int8_t{-1}})
            readings.push_back({channel, edge, face, 1, 2, at, base, 0, 1});
  return readings;
}

Scene<double> scene_of(const beam::Solver<double>& solver, int stage, double width_m = kWidth_m) {
  return {&solver, stage, 4.0, width_m};
}

// Limit: 1e-6 relative. The step is one at which a central difference is good to about 1e-9.
TEST(Observation, DerivativesAgreeWithNumericalOnes) {
  const auto run = lively_run();
  Bench<double> bench(run, static_cast<int>(kEverything.size()));
  const KitState<double> kit;
  std::vector<double> row(kEverything.size()), scratch(kEverything.size());
  const auto readings = every_kind_of_reading();

  for (const int stage : {0, 1}) {
    std::vector<std::vector<double>> analytic;
    bench.solve(lively_state(), kEverything);
    for (const auto& reading : readings) {
      predicted_by_shape<double>(scene_of(bench.solver(), stage), reading, row, scratch);
      analytic.push_back(row);
    }
    for (std::size_t p = 0; p < kEverything.size(); ++p) {
      const double step = 1e-4;
      std::vector<double> numeric(readings.size());
      for (const double side : {1.0, -1.0}) {
        auto state = lively_state();
        shift(kEverything[p], side * step, state);
        bench.solve(state);
        for (std::size_t i = 0; i < readings.size(); ++i)
          numeric[i] += side * predicted(scene_of(bench.solver(), stage), readings[i], kit) / (2 * step);
      }
      double largest = 0;
      for (std::size_t i = 0; i < readings.size(); ++i) largest = std::max(largest, std::abs(numeric[i]));
      ASSERT_TRUE(largest > 0 || (stage == 0 && kEverything[p] == Parameter{ParameterKind::load, 1}));
      for (std::size_t i = 0; i < readings.size(); ++i)
        EXPECT_NEAR(analytic[i][p], numeric[i], 1e-6 * std::max(largest, 1e-3))
            << "reading " << i << ", parameter " << p;
    }
  }
}

TEST(Observation, DependsLinearlyOnDatumAndZero) {
  const auto run = lively_run();
  Bench<double> bench(run);
  bench.solve(lively_state());
  const auto scene = scene_of(bench.solver(), 1);
  for (const auto& reading : every_kind_of_reading()) {
    const ByKit<double> by = predicted_by_kit(reading);
    KitState<double> kit;
    const double before = predicted(scene, reading, kit);
    kit.datum_height_m[1] = 0.7;
    kit.datum_tilt_rad[1] = -0.003;
    kit.zero[2] = 0.01;
    EXPECT_NEAR(predicted(scene, reading, kit) - before,
                0.7 * by.datum_height - 0.003 * by.datum_tilt + 0.01 * by.zero, 1e-15);
    EXPECT_EQ(by.datum_height, reading.channel == Channel::distance ? -1 : 0);
  }
}

TEST(Observation, WithoutSetUpOrChannelIsTheShapeAlone) {
  const auto run = lively_run();
  Bench<double> bench(run);
  bench.solve(lively_state());
  KitState<double> kit;
  kit.datum_height_m[0] = kit.datum_tilt_rad[0] = kit.zero[0] = 5;
  const Reading<double> reading{.channel = Channel::distance, .at_m = 2};
  EXPECT_EQ(predicted(scene_of(bench.solver(), 1), reading, kit), bench->height(1, 2));
  EXPECT_EQ(predicted_by_kit(reading).datum_height, 0);
  EXPECT_EQ(predicted_by_kit(reading).zero, 0);
}

// value = face * truth + zero: half the difference of the two faces is free of the zero error.
TEST(Observation, TwoFacesCancelTheZeroError) {
  const auto run = lively_run();
  Bench<double> bench(run);
  bench.solve(lively_state());
  const auto scene = scene_of(bench.solver(), 1);
  KitState<double> with_zero;
  with_zero.zero[2] = 0.0123;
  for (const Channel channel : {Channel::slope, Channel::roll}) {
    Reading<double> reading{channel, Edge::left, 1, -1, 2, 1.4, 0.25, 0, 1};
    const double truth = predicted(scene, reading, {});
    const double first = predicted(scene, reading, with_zero);
    reading.face = -1;
    const double second = predicted(scene, reading, with_zero);
    EXPECT_NEAR((first - second) / 2, truth, 1e-16);
    EXPECT_NEAR((first + second) / 2, 0.0123, 1e-16);
  }
}

// Uniform beam on two pins: z = -q x (L^3 - 2 L x^2 + x^3) / (24 EI) (Timoshenko, Strength of Materials I,
// uniformly loaded simple beam). Chord over a base is the difference of z over it.
TEST(Observation, SlopeOnTwoFeetIsTheChord) {
  auto run = RunBuilder<double>::uniform(3.0, 5000.0);
  run.add(beam::test::pin(0.0));
  run.add(beam::test::pin(3.0));
  run.add_uniform(200.0);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  const auto z = [](double x) { return -200.0 * x * (27.0 - 6.0 * x * x + x * x * x) / (24.0 * 5000.0); };
  const Scene<double> scene{&bench.solver(), 0, 3.0, kWidth_m};
  const auto slope = [&](double at_m, double base_m) {
    return predicted(scene, Reading<double>{.channel = Channel::slope, .at_m = at_m, .base_m = base_m}, {});
  };
  EXPECT_NEAR(slope(1.0, 0.25), (z(1.125) - z(0.875)) / 0.25, 1e-15);
  EXPECT_NEAR(slope(0.0, 0), -200.0 * 27.0 / (24.0 * 5000.0), 1e-15);  // -q L^3 / (24 EI)
  // Near an end both feet stay on the run.
  EXPECT_NEAR(slope(0.0, 0.5), z(0.5) / 0.5, 1e-15);
  EXPECT_NEAR(slope(0.1, 0.5), slope(0.25, 0.5), 1e-15);
  EXPECT_NEAR(slope(2.95, 0.5), -z(2.5) / 0.5, 1e-15);
  // A base longer than the run has its feet at the ends, which are level.
  EXPECT_NEAR(slope(1.0, 9.0), 0, 1e-15);
}

// A bar held in roll at x = 0 alone, with a torque T at x = a: roll = T x / GJ up to a (Saint-Venant). At y
// the edge climbs by y * T / GJ more, and stands roll * y higher.
TEST(Observation, EdgesCarryTheRoll) {
  auto run = RunBuilder<double>::uniform(2.0, 5000.0, 800.0);
  run.add(beam::test::clamp(0.0));
  run.add_point(1.5, 100.0, 0.12);  // a weight to the left turns the run to the left: roll negative
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  const Scene<double> scene{&bench.solver(), 0, 2.0, kWidth_m};
  const auto at = [&](Channel channel, Edge edge, double at_m, double base_m) {
    return predicted(scene, Reading<double>{.channel = channel, .edge = edge, .at_m = at_m, .base_m = base_m},
                     {});
  };
  const double twist = -100.0 * 0.12 / 800.0;
  EXPECT_NEAR(at(Channel::roll, Edge::middle, 1.0, 0), twist * 1.0, 1e-15);
  const double middle = at(Channel::distance, Edge::middle, 1.0, 0);
  EXPECT_NEAR(at(Channel::distance, Edge::left, 1.0, 0) - middle, twist * 1.0 * kWidth_m / 2, 1e-15);
  EXPECT_NEAR(at(Channel::distance, Edge::right, 1.0, 0) - middle, -twist * 1.0 * kWidth_m / 2, 1e-15);
  for (const double base : {0.0, 0.3}) {
    const double slope = at(Channel::slope, Edge::middle, 1.0, base);
    EXPECT_NEAR(at(Channel::slope, Edge::left, 1.0, base) - slope, twist * kWidth_m / 2, 1e-13);
    EXPECT_NEAR(at(Channel::slope, Edge::right, 1.0, base) - slope, -twist * kWidth_m / 2, 1e-13);
  }
}

// Distance = height - (datum height + tilt * x): a plane that climbs with the run leaves nothing.
TEST(Observation, DistanceIsFromTheDatumPlane) {
  auto run = RunBuilder<double>::uniform(2.0, 5000.0);
  run.add(beam::test::pin(0.0));
  run.add(beam::test::pin(2.0));
  run.add_full_stage();
  Bench<double> bench(run);
  beam::State<double> state;
  state.offset[1].rise = 0.01;  // slope 5 mm/m
  bench.solve(state);
  KitState<double> kit;
  kit.datum_height_m[0] = -1.2;
  kit.datum_tilt_rad[0] = 0.005;
  for (const double x : {0.0, 0.7, 2.0}) {
    const Reading<double> reading{.channel = Channel::distance, .set_up = 0, .at_m = x};
    EXPECT_NEAR(predicted(Scene<double>{&bench.solver(), 0, 2.0, 0.0}, reading, kit), 1.2, 1e-15);
  }
}

}  // namespace
}  // namespace hangtrue::survey
