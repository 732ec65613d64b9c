// Expected drift. Source of the factors: EN 1995-1-1:2004, Table 3.2 (data/reference/kdef.csv); of the worked values:
// u_fin = u_inst (1 + k_def), 2.2.3 (from memory), and arithmetic. Tolerance: rounding.
#include "core/beam/creep.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/core/beam/run_builder.hpp"
#include "tests/core/reference.hpp"
#include "tests/no_heap.hpp"

namespace hangtrue::beam {
namespace {

using test::Bench;
using test::clamp;
using test::pin;
using test::RunBuilder;

constexpr double L = 3, EI = 21000;

/// An as-built run and its forecast, with all they view.
template <class Scalar>
class Forecast {
 public:
  explicit Forecast(RunBuilder<Scalar> builder, std::vector<Scalar> shares, int stage = 0,
                    const State<Scalar>& state = {}, Scalar relative_sigma = Scalar(0.3))
      : builder_(std::move(builder)),
        as_built_(builder_),
        pieces_(CreepForecast<Scalar>::pieces_needed(builder_.run())),
        storage_(CreepForecast<Scalar>::storage_needed(builder_.run())),
        shares_(std::move(shares)),
        forecast_(CreepForecast<Scalar>::create(builder_.run(), pieces_, storage_, relative_sigma).value()) {
    as_built_.solve(state);
    const auto done = forecast_.solve(stage, state, shares_, as_built_.solver());
    if (!done.ok()) throw std::runtime_error("the forecast does not solve");
  }
  const CreepForecast<Scalar>* operator->() const { return &forecast_; }
  const Solver<Scalar>& as_built() { return as_built_.solver(); }

 private:
  RunBuilder<Scalar> builder_;
  Bench<Scalar> as_built_;
  std::vector<Piece<Scalar>> pieces_;
  std::vector<Scalar> storage_;
  std::vector<Scalar> shares_;
  CreepForecast<Scalar> forecast_;
};

double k_def(const std::string& material, const std::string& grade, const std::string& service_class) {
  for (const auto& row : hangtrue::test::read_reference_csv("kdef.csv"))
    if (row.at("material") == material && row.at("grade") == grade) return std::stod(row.at(service_class));
  throw std::runtime_error("no k_def for " + material + " " + grade);
}

/// A simple beam whose first sag at mid-span under a uniform load is `sag_m`.
template <class Scalar>
RunBuilder<Scalar> simple_beam(Scalar creep, Scalar sag_m) {
  auto run = RunBuilder<Scalar>::uniform(Scalar(L), Scalar(EI));
  run.pieces[0].bending_creep = creep;
  run.add(pin(Scalar(0)));
  run.add(pin(Scalar(L)));
  run.add_uniform(sag_m * Scalar(384 * EI / (5 * L * L * L * L)));
  run.add_full_stage();
  return run;
}

TEST(Creep, GrowsALastingSagToOnePlusKDefTimesItself) {
  struct Worked {
    const char *material, *grade, *service_class;
    double final_mm;  // of 2.000 mm at first
  };
  for (const Worked& worked :
       {Worked{"fibreboard, MDF", "MDF.HLS", "SC1", 6.500}, Worked{"particleboard", "Part 5", "SC2", 8.000},
        Worked{"solid timber", "", "SC1", 3.200}}) {
    SCOPED_TRACE(worked.material);
    const double creep = k_def(worked.material, worked.grade, worked.service_class);
    Forecast<double> forecast(simple_beam(creep, 0.002), {1.0});
    EXPECT_NEAR(-forecast.as_built().at(0, L / 2).height_m, 0.002, 1e-14);
    const Drift<double> drift = forecast->height(L / 2);
    EXPECT_NEAR(0.002 - drift.value, worked.final_mm / 1000, 1e-13);
    EXPECT_NEAR(drift.sigma, 0.3 * creep * 0.002, 1e-13);
  }
}

// Variable part 1.000 mm with psi_2 = 0.3 on solid timber in service class 1: 1.000 (1 + 0.3 * 0.60) = 1.180 mm.
TEST(Creep, CountsOfAVariableLoadTheShareThatLasts) {
  Forecast<double> forecast(simple_beam(0.60, 0.001), {0.3});
  EXPECT_NEAR(0.001 - forecast->height(L / 2).value, 0.001180, 1e-14);
}

// ANSI/AWC NDS 3.5.2, eq. 3.5-1 (from memory): 1.5 * 4.0 mm lasting + 1.0 mm passing = 7.0 mm.
TEST(Creep, LeavesAPassingLoadAsItIs) {
  auto run = simple_beam(0.5, 0.004);
  run.add_uniform(run.load_parts[0].begin / 4);
  run.stages.clear();
  run.add_full_stage();
  Forecast<double> forecast(run, {1.0, 0.0});
  EXPECT_NEAR(-forecast.as_built().at(0, L / 2).height_m - forecast->height(L / 2).value, 0.0070, 1e-13);
}

TEST(Creep, DoesNotTouchSteel) {
  Forecast<double> forecast(simple_beam(0.0, 0.002), {1.0});
  EXPECT_EQ(forecast->height(L / 2).value, 0);
  EXPECT_EQ(forecast->height(L / 2).sigma, 0);
  EXPECT_EQ(forecast->slope(0).value, 0);
  EXPECT_EQ(forecast->force(0).value, 0);
}

// Equal stiffnesses, one creeping 2.25: later E I (1 + 1/3.25), so 2 / (1 + 1/3.25) - 1 = 9/17.
TEST(Creep, OfWoodBesideSteelIsLessAndGoesByWhatIsLeftOfTheStiffness) {
  const auto together = side_by_side<double>({EI / 2, 2.25}, {EI / 2, 0});
  EXPECT_DOUBLE_EQ(together.stiffness, EI);
  EXPECT_NEAR(together.creep, 9.0 / 17, 1e-15);
  EXPECT_LT(together.creep, 2.25 / 2);  // less than the mean of the two: load moves to the steel
  Forecast<double> forecast(simple_beam(together.creep, 0.002), {1.0});
  EXPECT_NEAR(forecast->height(L / 2).value, -0.002 * 9 / 17, 1e-14);
  const auto alone = side_by_side<double>({EI, 0.6}, {0, 0});
  EXPECT_NEAR(alone.creep, 0.6, 1e-15);
  EXPECT_EQ((side_by_side<double>({0, 0}, {0, 0}).creep), 0);
}

TEST(Creep, MovesLoadFromTheWoodenSpanToTheSteelOne) {
  auto run = RunBuilder<double>::uniform(2 * L, EI);
  run.pieces = {{L, EI, 1000, std::numeric_limits<double>::infinity(), 2.25}, {2 * L, EI, 1000}};
  const int a = run.add(pin(0.0)), b = run.add(pin(L)), c = run.add(pin(2 * L));
  run.add_uniform(120);
  run.add_full_stage();
  Forecast<double> forecast(run, {1.0});
  EXPECT_NEAR(forecast.as_built().support(0, a).force_N, 135, 1e-9);  // case A22
  // Three moments with EI_1 = EI / 3.25: M_B (L / EI_1 + L / EI) * 2 = -w L^3 / 4 (1 / EI_1 + 1 / EI): unchanged for
  // equal spans under equal load, so load the wooden span alone instead.
  EXPECT_NEAR(forecast->force(b).value, 0, 1e-9);
  auto one_sided = run;
  one_sided.load_parts[0].to_m = L;
  Forecast<double> other(one_sided, {1.0});
  // M_B = -(w L^2 / 8) * r / (r + 1) with r the wood's flexibility over the steel's: 1 at first, 3.25 later.
  const double hogging = 120 * L * L / 8 * (3.25 / 4.25 - 1.0 / 2);
  EXPECT_NEAR(other->force(a).value, -hogging / L, 1e-9);
  EXPECT_NEAR(other->force(b).value, 2 * hogging / L, 1e-9);
  EXPECT_NEAR(other->force(c).value, -hogging / L, 1e-9);
}

// A prop set under a run that has sagged d carries nothing at first. Held there while the run would sag c d more, of a
// run (1 + c) times softer, it comes to c / (1 + c) of what it would carry had it been there first, 5/8 of the load.
TEST(Creep, PressesASaggedRunOntoAPropThatWasSetUnderIt) {
  const double creep = 1.5, load = 120;
  auto run = RunBuilder<double>::uniform(2 * L, EI);
  run.pieces[0].bending_creep = creep;
  const int a = run.add(pin(0.0)), b = run.add(pin(2 * L)), prop = run.add(test::seat(L));
  run.add_uniform(load);
  run.add_stage({a, b}, {0});
  run.add_stage({a, b, prop}, {0});
  Forecast<double> forecast(run, {1.0}, 1);
  EXPECT_NEAR(forecast.as_built().support(1, prop).force_N, 0, 1e-9);
  EXPECT_NEAR(forecast->height(L).value, 0, 1e-12);
  EXPECT_NEAR(forecast->force(prop).value, creep / (1 + creep) * 5.0 / 8 * load * 2 * L, 1e-8);
}

TEST(Creep, LeavesSpringsOfSupportsAsTheyAre) {
  auto run = simple_beam(0.8, 0.002);
  for (auto& support : run.supports) support.rise = test::spring(20000.0);
  Forecast<double> forecast(run, {1.0});
  EXPECT_LT(forecast.as_built().at(0, L / 2).height_m, -0.003);  // springs give as well
  EXPECT_NEAR(forecast->height(L / 2).value, -0.8 * 0.002, 1e-13);
  EXPECT_NEAR(forecast->height(0).value, 0, 1e-13);
}

TEST(Creep, TwistsAndShearsByTheirOwnFactors) {
  const double GJ = 1500, GA = 60000;
  auto run = RunBuilder<double>::uniform(L, EI, GJ, GA);
  run.pieces[0].torsion_creep = 2.0;
  run.pieces[0].shear_creep = 1.0;
  run.add(clamp(0.0));
  run.add_point(L, 100, 0.2);
  run.add_full_stage();
  Forecast<double> forecast(run, {1.0});
  const double roll = -2.0 * 100 * 0.2 * L / GJ, shear = -1.0 * 100 * L / GA;
  EXPECT_NEAR(forecast->roll(L).value, roll, 1e-14);
  EXPECT_NEAR(forecast->roll(L).sigma, 0.3 * std::abs(roll), 1e-14);
  EXPECT_NEAR(forecast->height(L).value, shear, 1e-14);
  EXPECT_NEAR(forecast->height(L, 0.15).value, shear + 0.15 * roll, 1e-14);
}

TEST(Creep, LeavesALiftedSeatLifted) {
  auto run = simple_beam(1.0, 0.002);
  State<double> state;
  const int low = run.add(test::seat(L / 2));
  state.offset[low].rise = -0.0025;
  run.stages.clear();
  run.add_full_stage();
  Forecast<double> forecast(run, {1.0}, 0, state);
  EXPECT_FALSE(forecast.as_built().support(0, low).engaged);
  EXPECT_NEAR(forecast->height(L / 2).value, -0.002, 1e-13);
}

TEST(Creep, BandIsAsWideAsTheCallersDoubt) {
  const auto sigma = [](double relative) {
    return Forecast<double>(simple_beam(0.6, 0.002), {1.0}, 0, {}, relative)->height(L / 2).sigma;
  };
  EXPECT_EQ(sigma(0), 0);
  EXPECT_NEAR(sigma(0.1), 0.1 * 0.6 * 0.002, 1e-14);
  EXPECT_NEAR(sigma(0.5), 0.5 * 0.6 * 0.002, 1e-14);
}

TEST(Creep, IsTheSameInSinglePrecision) {
  Forecast<float> forecast(simple_beam(2.25f, 0.002f), {1.0f});
  EXPECT_NEAR(forecast->height(1.5f).value, -2.25f * 0.002f, 1e-8f);
}

TEST(Creep, RefusesWhatItCannotForecast) {
  auto run = simple_beam(0.6, 0.002);
  std::vector<Piece<double>> pieces(CreepForecast<double>::pieces_needed(run.run()));
  std::vector<double> storage(CreepForecast<double>::storage_needed(run.run()));
  using Forecast = CreepForecast<double>;
  EXPECT_EQ(Forecast::create(run.run(), std::span(pieces).first(1), storage).fault().code,
            RunFaultCode::storage_too_small);
  EXPECT_EQ(Forecast::create(run.run(), pieces, std::span(storage).first(storage.size() - 1)).fault().code,
            RunFaultCode::storage_too_small);
  for (const double bad : {-1.0, -1.5, std::numeric_limits<double>::quiet_NaN()}) {
    run.pieces[0].bending_creep = bad;
    EXPECT_EQ(Forecast::create(run.run(), pieces, storage).fault().code,
              RunFaultCode::stiffness_not_positive);
  }
  run.pieces[0].bending_creep = 0.6;
  auto forecast = Forecast::create(run.run(), pieces, storage).value();
  Bench<double> as_built(run);
  as_built.solve();
  const double shares[] = {1.0, 1.0};
  for (const int stage : {-1, 1}) {
    const auto done = forecast.solve(stage, {}, std::span(shares, 1), as_built.solver());
    ASSERT_FALSE(done.ok());
    EXPECT_EQ(done.fault().code, StageFaultCode::state_not_usable);
  }
  EXPECT_FALSE(forecast.solve(0, {}, std::span(shares, 2), as_built.solver()).ok());
  EXPECT_TRUE(forecast.solve(0, {}, std::span(shares, 1), as_built.solver()).ok());
}

TEST(Creep, NeedsNoHeap) {
  const auto builder = simple_beam(0.6, 0.002);
  const beam::Run<double> run = builder.run();
  std::vector<Piece<double>> pieces(CreepForecast<double>::pieces_needed(run));
  std::vector<double> storage(CreepForecast<double>::storage_needed(run));
  Bench<double> as_built(builder);
  as_built.solve();
  const double share = 1;
  const std::size_t before = hangtrue::test::heap_allocations();
  auto forecast = CreepForecast<double>::create(run, pieces, storage);
  const bool solved =
      forecast.ok() && forecast.value().solve(0, {}, std::span(&share, 1), as_built.solver()).ok();
  const double drift = forecast.value().height(1.0).value + forecast.value().force(0).value;
  const std::size_t after = hangtrue::test::heap_allocations();
  EXPECT_TRUE(solved);
  EXPECT_LT(drift, 0);
  EXPECT_EQ(after, before);
}

}  // namespace
}  // namespace hangtrue::beam
