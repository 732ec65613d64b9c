// How many digits stay, at what size; that nothing reaches for the heap; and what the trade knows of plates and boxes.
#include <gtest/gtest.h>

#include <cmath>
#include <sstream>

#include "core/beam/section.hpp"
#include "core/beam/solver.hpp"
#include "core/quantity/units.hpp"
#include "tests/core/beam/random_run.hpp"
#include "tests/core/reference.hpp"
#include "tests/no_heap.hpp"

namespace hangtrue::beam {
namespace {

using test::Bench;
using test::clamp;
using test::pin;
using test::RunBuilder;

template <class Scalar>
Scalar relative_error_at_mid_span(bool propped, int pieces) {
  const Scalar L = 3, EI = 21000, w = 120;
  auto run = RunBuilder<Scalar>::uniform(L, EI);
  run.pieces.clear();
  for (int i = 1; i <= pieces; ++i)
    run.pieces.push_back(
        {i == pieces ? L : L * static_cast<Scalar>(i) / static_cast<Scalar>(pieces), EI, 1000});
  run.add(pin(Scalar(0)));
  run.add(propped ? clamp(L) : pin(L));
  run.add_uniform(w);
  run.add_full_stage();
  Bench<Scalar> bench(run);
  bench.solve();
  // Cases A01 and A13: 5 w L^4 / 384 EI, and w L^4 / 192 EI (the handbook's curve at L/2).
  const Scalar sag = (propped ? w / 192 : 5 * w / 384) * L * L * L * L / EI;
  return std::abs(-bench->at(0, L / 2).height_m / sag - 1);
}

TEST(Accuracy, DoesNotSufferFromManyPiecesInDouble) {
  for (const bool propped : {false, true})
    for (const int pieces : {1, 10, 100, 1000, 10000, 100000}) {
      const double error = relative_error_at_mid_span<double>(propped, pieces);
      EXPECT_LT(error, 1e-9) << pieces << " pieces";
      std::ostringstream text;
      text << error;
      RecordProperty((propped ? "propped_" : "simple_") + std::to_string(pieces), text.str());
    }
}

TEST(Accuracy, KeepsFiveDigitsInSinglePrecision) {
  for (const bool propped : {false, true}) {
    EXPECT_LT(relative_error_at_mid_span<float>(propped, 50), 1e-5f);
    for (const int pieces : {1, 10, 100, 1000, 10000}) {
      const float error = relative_error_at_mid_span<float>(propped, pieces);
      EXPECT_LT(error, 1e-4f) << pieces << " pieces";
      std::ostringstream text;
      text << error;
      RecordProperty((propped ? "propped_" : "simple_") + std::to_string(pieces), text.str());
    }
  }
}

TEST(NoHeap, CountsWhatReachesForIt) {
  if (!hangtrue::test::heap_is_counted()) return;  // the sanitizers bring their own
  const std::size_t before = hangtrue::test::heap_allocations();
  std::vector<double> numbers(1000);
  EXPECT_GT(hangtrue::test::heap_allocations(), before);
}

TEST(NoHeap, IsTouchedByCreatingSolvingAndAsking) {
  test::Random random(31);
  for (int i = 0; i < 10; ++i) {
    const auto builder = test::random_run(random, {.one_way = true});
    const State<double> state = test::random_state(random, builder);
    const beam::Run<double> run = builder.run();
    const Parameter parameters[] = {{ParameterKind::offset_rise, 0}, {ParameterKind::bending, 0},
                                    {ParameterKind::load, 0},        {ParameterKind::spring_rise, 1},
                                    {ParameterKind::bow, 0},         {ParameterKind::torsion, 0}};
    std::vector<double> storage(Solver<double>::storage_needed(run, 6));
    const std::vector<double> shares(static_cast<std::size_t>(run.loads), 0.5);
    std::vector<double> more_storage(storage.size());
    double out[6];
    double sum = 0;

    const std::size_t before = hangtrue::test::heap_allocations();
    auto made = Solver<double>::create(run, 6, storage);
    ASSERT_TRUE(made.ok());
    Solver<double>& solver = made.value();
    const bool solved = solver.solve(state, parameters).ok();
    const int last = static_cast<int>(run.stages.size()) - 1;
    sum += solver.at(last, 1.0).height_m + solver.height(last, 1.0, 0.1) + solver.support(last, 0).force_N +
           solver.lowest(last).height_m + solver.nodes_m()[0];
    solver.height_derivatives(last, 1.0, 0.1, out);
    solver.slope_derivatives(last, 1.0, out);
    solver.roll_derivatives(last, 1.0, out);
    solver.force_derivatives(last, 0, out);
    auto held = Solver<double>::create(run, 0, more_storage);
    const bool held_solved = held.ok() && held.value().solve_held(last, state, shares, solver).ok();
    const std::size_t after = hangtrue::test::heap_allocations();

    EXPECT_TRUE(solved && held_solved);
    EXPECT_TRUE(std::isfinite(sum));
    EXPECT_EQ(after, before);
  }
}

// Source: data/reference/chord_vs_tangent.csv (case A01; own computation, exact for a beam under uniform load).
// Tolerance: its twelve printed digits of slopes up to 6e-3, and 1e-15 where it prints rounding of zero.
TEST(Slope, OverABaseIsTheChordOfTwoHeightsAndNotTheTangent) {
  auto run = RunBuilder<double>::uniform(3, 21000);
  run.add(pin(0.0));
  run.add(pin(3.0));
  run.add_uniform(120);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  int rows = 0;
  for (const auto& row : hangtrue::test::read_reference_csv("chord_vs_tangent.csv")) {
    const double base = std::stod(row.at("base_m")), x = std::stod(row.at("x_m"));
    const double chord = (bench->height(0, x + base / 2) - bench->height(0, x - base / 2)) / base;
    const double tangent = bench->at(0, x).slope_rad;
    EXPECT_NEAR(-chord, std::stod(row.at("chord")), 1e-14);
    EXPECT_NEAR(-tangent, std::stod(row.at("tangent")), 1e-14);
    EXPECT_NEAR(-(chord - tangent), std::stod(row.at("b2_24_yppp")), 1e-14);
    ++rows;
  }
  EXPECT_EQ(rows, 12);
}

// Source: Architectural Woodwork Standards, Edition 1 (2009), 4.4.14.10, table of shelf lengths for L/144 at 40 and
// 50 lb/ft2 (data/reference/shelf_aws.csv). Tolerance: the table's own whole inches.
TEST(Shelf, SagsItsLimitAtTheLengthTheTableAllows) {
  const auto sag_ratio = [](double length, double bending, double weight_per_m) {
    auto run = RunBuilder<double>::uniform(length, bending);
    run.add(pin(0.0));
    run.add(pin(length));
    run.add_uniform(weight_per_m);
    run.add_full_stage();
    Bench<double> bench(run);
    bench.solve();
    return -bench->lowest(0).height_m / length;
  };
  int rows = 0;
  for (const auto& row : hangtrue::test::read_reference_csv("shelf_aws.csv")) {
    SCOPED_TRACE(row.at("material") + ", " + row.at("t_in") + " in, " + row.at("load_psf") + " lb/ft2");
    const double psi = kPoundForce_N / (kInch_m * kInch_m);
    const double width = 12 * kInch_m;
    const auto section = solid_rectangle(std::stod(row.at("t_in")) * kInch_m, width).value();
    const double bending = std::stod(row.at("MOE_psi")) * psi * section.second_moment_vertical_m4;
    const double weight = std::stod(row.at("load_psf")) * kPoundForce_N / (kFoot_m * kFoot_m) * width;
    double low = 0.1, high = 5;
    for (int i = 0; i < 60; ++i) {
      const double middle = (low + high) / 2;
      (sag_ratio(middle, bending, weight) < 1.0 / 144 ? low : high) = middle;
    }
    EXPECT_NEAR(low / kInch_m, std::stod(row.at("L_pub_in")), 1.0);
    EXPECT_NEAR(low / kInch_m, std::stod(row.at("L_calc_in")), 0.001);
    ++rows;
  }
  EXPECT_EQ(rows, 12);
}

// Common practice, no source: a bare steel plate sags visibly between wall and post, the same plate on a box beam does
// not. Invented run: 2.0 m from wall bracket to post, 200 x 8 mm plate, box 80 x 40 x 4 mm, 25 kg/m of things.
TEST(Plate, SagsVisiblyAloneAndHardlyWithABoxBeamUnderIt) {
  constexpr double E = 210e9, length = 2.0, load = 25 * kGravity_m_per_s2;
  const auto plate = flat_plate(0.200, 0.008).value();
  const auto box = hollow_rectangle(0.080, 0.040, 0.004, 0.008, 0.004, 0.3).value();
  const auto sag_mm = [&](double second_moment, double area) {
    auto run = RunBuilder<double>::uniform(length, E * second_moment);
    run.add(pin(0.0));
    run.add(pin(length));
    run.add_uniform(load + area * 7850 * kGravity_m_per_s2);
    run.add_full_stage();
    Bench<double> bench(run);
    bench.solve();
    return -bench->lowest(0).height_m * 1000;
  };
  const double alone = sag_mm(plate.second_moment_vertical_m4, plate.area_m2);
  const double with_box = sag_mm(plate.second_moment_vertical_m4 + box.second_moment_vertical_m4,
                                 plate.area_m2 + box.area_m2);  // side by side
  EXPECT_GT(alone, 5);
  EXPECT_LT(with_box, 1);
}

}  // namespace
}  // namespace hangtrue::beam
