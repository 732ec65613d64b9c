// The C interface: what it gives is what the solver gives, and whatever is wrong is said in a sentence and never ends the program.
#include "core/c/hangtrue.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace {

using testing::HasSubstr;

constexpr double kLength_m = 3, kEI_N_m2 = 8e3, kLoad_N_per_m = 120;

/// A bar on two rigid supports at its ends, one of which holds its roll; uniform load.
struct Bar {
  hangtrue_piece piece{kLength_m, kEI_N_m2, 5e3, 0};
  hangtrue_load_part load{0, HANGTRUE_SPREAD, 0, kLength_m, kLoad_N_per_m, kLoad_N_per_m, 0};
  hangtrue_support supports[2] = {{0, 0, {1, 0, 0}, {}, {1, 0, 0}, HANGTRUE_BOTH},
                                  {kLength_m, 0, {1, 0, 0}, {}, {}, HANGTRUE_BOTH}};
  hangtrue_stage stage{3, 1};
  hangtrue_run run{kLength_m, 0.3, &piece, 1, &load, 1, 1, supports, 2, &stage, 1, 0};
  hangtrue_error error{};

  hangtrue_code predict() {
    hangtrue_prediction* made = nullptr;
    const hangtrue_code code = hangtrue_predict(&run, nullptr, &made, &error);
    EXPECT_EQ(made == nullptr, code != HANGTRUE_DONE);
    hangtrue_prediction_free(made);
    return code;
  }
};

// Source: Roark's Formulas for Stress and Strain, table of beams, simple supports and uniform load: 5 w L^4 / (384 E I), w L / 2,
// w L^2 / 8 (from memory).
TEST(CInterface, PredictsTheBarOfTheHandbook) {
  Bar bar;
  hangtrue_prediction* made = nullptr;
  ASSERT_EQ(hangtrue_predict(&bar.run, nullptr, &made, &bar.error), HANGTRUE_DONE);
  double at_m = 0;
  EXPECT_NEAR(hangtrue_lowest_m(made, 0, &at_m),
              -5 * kLoad_N_per_m * std::pow(kLength_m, 4) / (384 * kEI_N_m2), 1e-12);
  EXPECT_NEAR(at_m, kLength_m / 2, 1e-6);
  EXPECT_NEAR(hangtrue_section_at(made, 0, kLength_m / 2).moment_Nm,
              kLoad_N_per_m * kLength_m * kLength_m / 8, 1e-9);
  EXPECT_NEAR(hangtrue_action_of(made, 0, 1).force_N, kLoad_N_per_m * kLength_m / 2, 1e-9);
  EXPECT_TRUE(std::isnan(hangtrue_section_at(made, 1, 1).height_m));
  EXPECT_TRUE(std::isnan(hangtrue_action_of(made, 0, 2).force_N));
  EXPECT_TRUE(std::isnan(hangtrue_lowest_m(made, -1, nullptr)));
  hangtrue_prediction_free(made);
}

// Source: the first case of data/reference/warping_torsion.json (closed form T / GJ (L - a tanh(L / a)), a = sqrt(E Iw / GJ)); the
// bimoment at the root by the same solution, T a tanh(L / a), and the torque everywhere by statics.
TEST(CInterface, TwistsWithWarpingAsTheClosedFormSays) {
  constexpr double L_m = 3.2, GJ_N_m2 = 1900, EIw_N_m4 = 2400, kTorque_Nm = 85, kArm_m = 0.2,
                   kCentre_m = 0.05;
  hangtrue_piece piece{L_m, kEI_N_m2, GJ_N_m2, 0, EIw_N_m4};
  hangtrue_load_part load{0, HANGTRUE_POINT, L_m, L_m, kTorque_Nm / kArm_m, 0, kCentre_m - kArm_m};
  hangtrue_support root{0, 0, {1, 0, 0}, {1, 0, 0}, {1, 0, 0}, HANGTRUE_BOTH, 1};
  hangtrue_stage stage{1, 1};
  hangtrue_run run{L_m, 0.3, &piece, 1, &load, 1, 1, &root, 1, &stage, 1, 0, kCentre_m};
  hangtrue_error error{};
  hangtrue_prediction* made = nullptr;
  ASSERT_EQ(hangtrue_predict(&run, nullptr, &made, &error), HANGTRUE_DONE) << error.says;
  const double a_m = std::sqrt(EIw_N_m4 / GJ_N_m2);
  EXPECT_NEAR(hangtrue_section_at(made, 0, L_m).roll_rad / 0.09321523507854, 1, 1e-9);
  EXPECT_NEAR(
      std::abs(hangtrue_section_at(made, 0, 0).bimoment_Nm2) / (kTorque_Nm * a_m * std::tanh(L_m / a_m)), 1,
      1e-9);
  EXPECT_NEAR(std::abs(hangtrue_section_at(made, 0, L_m / 2).torque_Nm), kTorque_Nm, 1e-9);
  EXPECT_TRUE(std::isnan(hangtrue_section_at(made, 1, 1).bimoment_Nm2));
  hangtrue_prediction_free(made);
  piece.warping_N_m4 = -1;
  made = nullptr;
  EXPECT_EQ(hangtrue_predict(&run, nullptr, &made, &error), HANGTRUE_RUN_WRONG);
  EXPECT_THAT(error.says, HasSubstr("piece 0"));
}

TEST(CInterface, SaysWhatIsWrongWithARun) {
  const auto expect = [](void (*spoil)(Bar&), hangtrue_code code, const char* words) {
    Bar bar;
    spoil(bar);
    EXPECT_EQ(bar.predict(), code) << words;
    EXPECT_EQ(bar.error.code, code) << words;
    EXPECT_THAT(bar.error.says, HasSubstr(words));
  };
  expect([](Bar& bar) { bar.piece.to_m = 2; }, HANGTRUE_RUN_WRONG, "pieces must follow one another");
  expect([](Bar& bar) { bar.piece.bending_N_m2 = -1; }, HANGTRUE_RUN_WRONG, "piece 0: EI");
  expect([](Bar& bar) { bar.load.kind = 7; }, HANGTRUE_RUN_WRONG, "load part 0: its kind");
  expect([](Bar& bar) { bar.load.load = 1; }, HANGTRUE_RUN_WRONG, "load part 0: its load");
  expect([](Bar& bar) { bar.load.to_m = 4; }, HANGTRUE_RUN_WRONG, "load part 0: it must lie on the run");
  expect([](Bar& bar) { bar.supports[1].holds = -1; }, HANGTRUE_RUN_WRONG, "support 1: holds");
  expect([](Bar& bar) { bar.supports[1].rise.compliance = -1; }, HANGTRUE_RUN_WRONG,
         "support 1: a compliance");
  expect([](Bar& bar) { bar.stage.supports = 7; }, HANGTRUE_RUN_WRONG, "stage 0: it lists");
  expect([](Bar& bar) { bar.run.stage_count = 0; }, HANGTRUE_RUN_WRONG, "no stage");
  expect([](Bar& bar) { bar.run.pieces = nullptr; }, HANGTRUE_RUN_WRONG, "NULL");
  expect([](Bar& bar) { bar.run.loads = 1000; }, HANGTRUE_RUN_WRONG, "than the limits allow");
  expect([](Bar& bar) { bar.stage.supports = 0; }, HANGTRUE_NOT_HELD, "stage 0: nothing holds the run up");
  expect([](Bar& bar) { bar.supports[0].roll.held = 0; }, HANGTRUE_NOT_HELD, "roll");
  EXPECT_EQ(hangtrue_predict(nullptr, nullptr, nullptr, nullptr), HANGTRUE_RUN_WRONG);
}

TEST(CInterface, FindsASofterBarAndSetsAStrayAside) {
  constexpr int kCount = 30;
  Bar soft;
  soft.piece.bending_N_m2 /= 1.1;
  hangtrue_prediction* truth = nullptr;
  ASSERT_EQ(hangtrue_predict(&soft.run, nullptr, &truth, nullptr), HANGTRUE_DONE);
  hangtrue_reading readings[kCount];
  double stations_m[kCount];
  for (int i = 0; i < kCount; ++i) {
    stations_m[i] = kLength_m * i / (kCount - 1);
    readings[i] = {HANGTRUE_SLOPE,
                   0,
                   1,
                   -1,
                   -1,
                   stations_m[i],
                   0,
                   hangtrue_section_at(truth, 0, stations_m[i]).slope_rad,
                   1e-5};
  }
  readings[7].value += 5e-3;
  hangtrue_prediction_free(truth);

  Bar bar;
  hangtrue_priors priors = hangtrue_priors_default();
  priors.bending.sigma = 0.2;
  hangtrue_fit* fit = nullptr;
  ASSERT_EQ(
      hangtrue_fit_readings(&bar.run, 0, 0, &priors, stations_m, kCount, readings, kCount, &fit, &bar.error),
      HANGTRUE_DONE)
      << bar.error.says;
  const hangtrue_prior bending = hangtrue_fit_bending(fit);
  EXPECT_LT(bending.sigma, 0.01);
  EXPECT_NEAR(bending.mean, 1 / 1.1, 3 * bending.sigma);
  EXPECT_EQ(hangtrue_fit_load(fit, 0).sigma, 0);
  EXPECT_TRUE(std::isnan(hangtrue_fit_load(fit, 1).mean));
  const hangtrue_self_test test = hangtrue_fit_test(fit);
  EXPECT_TRUE(test.settled);
  EXPECT_TRUE(test.holds);
  EXPECT_EQ(test.set_aside, 1);
  EXPECT_FALSE(hangtrue_fit_kept(fit, 7));
  EXPECT_TRUE(hangtrue_fit_kept(fit, 8));
  EXPECT_FALSE(hangtrue_fit_kept(fit, kCount));
  EXPECT_TRUE(std::isnan(hangtrue_fit_station(fit, kCount).height_m));
  EXPECT_NEAR(hangtrue_fit_station(fit, 0).at_m, 0, 0);
  hangtrue_fit_free(fit);
}

TEST(CInterface, SaysWhatIsWrongWithReadings) {
  const auto expect = [](void (*spoil)(hangtrue_reading&), const char* words) {
    Bar bar;
    const double station_m = 1;
    hangtrue_reading reading = {HANGTRUE_SLOPE, 0, 1, -1, -1, 1, 0, 0, 1e-5};
    spoil(reading);
    hangtrue_fit* fit = nullptr;
    EXPECT_EQ(hangtrue_fit_readings(&bar.run, 0, 0, nullptr, &station_m, 1, &reading, 1, &fit, &bar.error),
              HANGTRUE_READINGS_WRONG);
    EXPECT_EQ(fit, nullptr);
    EXPECT_THAT(bar.error.says, HasSubstr(words));
  };
  expect([](hangtrue_reading& reading) { reading.channel = 3; }, "reading 0: its channel");
  expect([](hangtrue_reading& reading) { reading.edge = 2; }, "reading 0: its edge");
  expect([](hangtrue_reading& reading) { reading.face = 2; }, "reading 0: its face");
  expect([](hangtrue_reading& reading) { reading.zero = 24; }, "reading 0: its set-up or channel");
  expect([](hangtrue_reading& reading) { reading.sigma = 0; }, "reading 0: its sigma");
  expect([](hangtrue_reading& reading) { reading.at_m = 4; }, "reading 0: it must lie on the run");
  expect([](hangtrue_reading& reading) { reading.value = std::numeric_limits<double>::quiet_NaN(); },
         "reading 0: a value is not finite");
}

}  // namespace
