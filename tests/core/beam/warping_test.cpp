// Torsion with warping, and rails side by side.
#include <gtest/gtest.h>

#include <cmath>

#include <nlohmann/json.hpp>

#include "core/beam/solver.hpp"
#include "core/beam/warping.hpp"
#include "tests/core/beam/random_run.hpp"
#include "tests/core/reference.hpp"

namespace hangtrue::beam {
namespace {

using test::Bench;
using test::clamp;
using test::pin;
using test::Random;
using test::RunBuilder;

constexpr double kEI = 21000;

RunBuilder<double> thin_walled(double length, double GJ, double EIw, int pieces = 1) {
  auto run = RunBuilder<double>::uniform(length, kEI, GJ);
  run.pieces.clear();
  for (int i = 1; i <= pieces; ++i) {
    Piece<double> piece{i == pieces ? length : length * i / pieces, kEI, GJ};
    piece.warping_N_m4 = EIw;
    run.pieces.push_back(piece);
  }
  return run;
}

// One of the cases of data/reference/warping_torsion.json: its closed forms of a cantilever and of a bar held in roll at both ends,
// warping free or held there, under a torque at the tip or the middle, or spread along. Torque by weights on an arm.
double twist_of(const std::string& name, double length, double GJ, double EIw, double torque, bool spread,
                int pieces) {
  const bool cantilever = name.find("cantilever") == 0;
  auto run = thin_walled(length, GJ, EIw, pieces);
  run.add(cantilever ? clamp(0.0) : pin(0.0));
  if (!cantilever) run.add(pin(length));
  for (auto& support : run.supports) support.holds_warping = name.find("warping held") != std::string::npos;
  constexpr double kArm = 0.2;
  if (spread)
    run.add_spread(0, length, torque / kArm, torque / kArm, -kArm);
  else
    run.add_point(cantilever ? length : length / 2, torque / kArm, -kArm);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  return bench->at(0, cantilever ? length : length / 2).roll_rad;
}

// Source: V. Z. Vlasov, Thin-walled Elastic Beams, and handbooks that follow it, by data/reference/warping_torsion.json.
TEST(Warping, TwistsAsTheClosedFormsSay) {
  std::ifstream file = hangtrue::test::open_reference("warping_torsion.json");
  const auto cases = nlohmann::json::parse(file).at("cases");
  for (const auto& each : cases)
    for (const int pieces : {1, 2, 10, 1000}) {
      const std::string name = each.at("case");
      SCOPED_TRACE(name + ", GJ " + each.at("GJ_N_m2").dump() + ", pieces " + std::to_string(pieces));
      const bool spread = each.at("torque_Nm").is_null();
      const double found =
          twist_of(name, each.at("length_m"), each.at("GJ_N_m2"), each.at("EIw_N_m4"),
                   spread ? each.at("torque_Nm_per_m") : each.at("torque_Nm"), spread, pieces);
      const double expected = each.at("twist_rad");
      EXPECT_NEAR(found / expected, 1, 1e-9) << found;
    }
  EXPECT_EQ(cases.size(), 18u);
}

// The same closed forms where warping is everything and where it is nothing: (L / a) from a hundredth to a thousand. The tips of
// the cantilever: T L^3 / (3 E Iw) and T L / GJ less the length a; the first by the series of L - a tanh(L / a).
// At a thousandth digits are lost to what the run would twist if it were free to warp, a million times as much.
TEST(Warping, HoldsAtBothLimits) {
  const double L = 3.2, GJ = 1900, T = 85;
  for (const double ratio : {1e-3, 1e-2, 0.1, 0.3, 1.0, 3.0, 10.0, 100.0, 1000.0}) {
    const double a = L / ratio, EIw = GJ * a * a, x = ratio;
    const double left = x < 0.02 ? L * (x * x / 3 - 2 * std::pow(x, 4) / 15 + 17 * std::pow(x, 6) / 315)
                                 : L - a * std::tanh(x);
    for (const int pieces : {1, 3, 100})
      EXPECT_NEAR(twist_of("cantilever, warping held", L, GJ, EIw, T, false, pieces) / (T / GJ * left), 1,
                  ratio < 0.005 ? 1e-7 : 1e-9)
          << ratio << ' ' << pieces;
  }
}

// Two rails of unlike stiffness that hardly resist twist, held up and in roll at both ends, the weight on the left one alone: that
// one sags as a simple beam, P L^3 / 48 EI (S. P. Timoshenko, Strength of Materials, Part I; from memory), the other not at all.
// By hand: Iw = sum of I_i (y_i - y_c)^2.
TEST(Rails, BendEachForItselfWhereNothingTwistsThemTogether) {
  constexpr double L = 3.2, EI_left = 30e3, EI_right = 12e3, y_left = 0.30, y_right = -0.22, P = 500;
  auto run = RunBuilder<double>::uniform(L, EI_left + EI_right, 1e-4);
  run.shear_centre_m = (EI_left * y_left + EI_right * y_right) / (EI_left + EI_right);
  const double of_left = y_left - run.shear_centre_m, of_right = y_right - run.shear_centre_m;
  run.pieces[0].warping_N_m4 = EI_left * of_left * of_left + EI_right * of_right * of_right;
  run.add(pin(0.0));
  run.add(pin(L));
  run.add_point(L / 2, P, y_left);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  const double sag = P * L * L * L / (48 * EI_left);
  EXPECT_NEAR(bench->height(0, L / 2, y_left) / -sag, 1, 1e-6);
  EXPECT_NEAR(bench->height(0, L / 2, y_right) / sag, 0, 1e-6);
  // Moment of the left rail: its share of the run's, and of the bimoment.
  const auto here = bench->at(0, L / 2);
  EXPECT_NEAR(here.moment_Nm, P * L / 4, 1e-9);
  const double left = EI_left * (here.moment_Nm / (EI_left + EI_right) +
                                 of_left * here.bimoment_Nm2 / run.pieces[0].warping_N_m4);
  EXPECT_NEAR(left, P * L / 4, 1e-3);
}

// Opposed weights on two like rails: each sags for itself, against the other.
TEST(Rails, UnderOpposedLoadsTwistByTheirDistance) {
  constexpr double L = 4, EI = 20e3, d = 0.52, P = 300;
  auto run = RunBuilder<double>::uniform(L, 2 * EI, 1e-4);
  run.pieces[0].warping_N_m4 = 2 * EI * d * d / 4;
  run.add(pin(0.0));
  run.add(pin(L));
  run.add_point(L / 2, P, d / 2);
  run.add_point(L / 2, -P, -d / 2);
  run.add_full_stage();
  Bench<double> bench(run);
  bench.solve();
  EXPECT_NEAR(bench->at(0, L / 2).height_m, 0, 1e-12);
  EXPECT_NEAR(bench->at(0, L / 2).roll_rad / (-2 * P * L * L * L / (48 * EI) / d), 1, 1e-7);
}

// A section that a support holds from warping in a later stage keeps the warp that it had then.
TEST(Warping, LocksInWithTheSupportThatHoldsIt) {
  auto run = thin_walled(3, 600, 2400);
  run.add(pin(0.0));
  run.add(pin(3.0));
  Support<double> stiffener{.at_m = 1.5, .roll = test::spring(1.0)};  // holds next to nothing else
  stiffener.holds_warping = true;
  run.add(stiffener);
  const int first = run.add_point(1.0, 200, 0.2), second = run.add_point(2.0, 300, 0.2);
  run.add_stage({0, 1}, {first});
  run.add_stage({0, 1, 2}, {first});
  run.add_stage({0, 1, 2}, {first, second});
  Bench<double> bench(run);
  bench.solve();
  const auto warp = [&](int stage) {
    return (bench->at(stage, 1.5 + 1e-6).roll_rad - bench->at(stage, 1.5 - 1e-6).roll_rad) / 2e-6;
  };
  for (const double x : {0.4, 1.5, 2.2})
    EXPECT_NEAR(bench->at(1, x).roll_rad, bench->at(0, x).roll_rad, 1e-13);
  EXPECT_NEAR(warp(2), warp(0), 1e-8);
  EXPECT_GT(std::abs(warp(0)), 1e-4);
}

// The bimoment is none at ends that may warp, and both ends of a bar held there carry the same.
TEST(Warping, LeavesNoBimomentAtFreeEnds) {
  for (const bool held : {false, true}) {
    auto run = thin_walled(3, 600, 2400, 3);
    run.add(pin(0.0));
    run.add(pin(3.0));
    for (auto& support : run.supports) support.holds_warping = held;
    run.add_point(1.5, 200, 0.2);
    run.add_full_stage();
    Bench<double> bench(run);
    bench.solve();
    const double begin = bench->at(0, 0, Side::right).bimoment_Nm2,
                 end = bench->at(0, 3, Side::left).bimoment_Nm2;
    if (!held) {
      EXPECT_NEAR(begin, 0, 1e-11);
      EXPECT_NEAR(end, 0, 1e-11);
    } else {
      EXPECT_GT(std::abs(begin), 1);
      EXPECT_NEAR(begin, end, 1e-9);
    }
  }
}

}  // namespace
}  // namespace hangtrue::beam
