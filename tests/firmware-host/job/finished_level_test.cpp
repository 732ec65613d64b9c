// Will the run be level when finished, as its sheet has it: against closed forms, and what would cure it.
#include "firmware-host/job/finished_level.hpp"

#include <gtest/gtest.h>

#include <string>

#include "tests/firmware-host/fixtures/shelf.hpp"

namespace hangtrue::job {
namespace {

using fixtures::shelf;

constexpr double kEI_N_m2 = 20e3, kGJ_N_m2 = 5e3, kLength_m = 4, kWidth_m = 0.4;

// A uniform bar of 4 m on two supports at its ends; `load` is the table of its one load, `more` what else the sheet has.
sheet::RunSheet bar(const std::string& load, const std::string& rise_at_far_end = "rigid",
                    const std::string& tolerance = "[tolerance]\nlevel = \"2 mm\"",
                    const std::string& adjust = "", const std::string& more = "",
                    const std::string& EI = "20 kN m2") {
  const std::string text =
      "title = \"bar\"\nlength = \"4 m\"\nwidth = \"400 mm\"\nstations = { every = \"500 mm\" "
      "}\n" +
      tolerance +
      "\n[[member]]\nname = \"bar\"\nfrom = \"0 m\"\nto = \"4 m\"\nsection = { shape = \"given\", EI = \"" +
      EI +
      "\", GJ = \"5 kN m2\", GA = \"1e12 N\", weight_per_length = \"0.001 N/m\" }\n"
      "[[load]]\nname = \"load\"\n" +
      load +
      "\n[[support]]\nname = \"near\"\nat = \"0 m\"\nrise = \"rigid\"\npitch = \"free\"\nroll = \"rigid\"\n"
      "[[support]]\nname = \"far\"\nat = \"4 m\"\nrise = \"" +
      rise_at_far_end + "\"\npitch = \"free\"\nroll = \"rigid\"\n" + adjust +
      "\n[[stage]]\nname = \"hung\"\nsupports = [\"near\", \"far\"]\nloads = [\"bar\", \"load\"]\n" + more;
  const auto read = sheet::parse_run_sheet(text, "bar.toml");
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  return read.sheet.value();
}

FinishedLevel level_of(const sheet::RunSheet& run) {
  SolvedRun solved(run);
  EXPECT_FALSE(solved.trouble());
  return finished_level(run, solved.solver());
}

// A hoist or a spring that pulls up: W L^3 / 48 EI in the middle (tables of beam deflections, from memory), but upwards.
TEST(FinishedLevel, OfALoadThatPullsUpIsAHump) {
  const FinishedLevel level = level_of(bar("at = \"2 m\"\nweight = \"-20 N\""));
  EXPECT_NEAR(level.highest.height_m, 20 * 64 / (48 * kEI_N_m2), 1e-6);
  EXPECT_EQ(level.highest.at_m, 2.0);
  EXPECT_NEAR(level.parts.sag_m, level.level_error_m, 1e-9);
}

// The bar under a uniform load, within its level: under a straight-edge of its own length it departs by all of its sag, under one of
// half of it by about a quarter.
TEST(FinishedLevel, IsWithinTheToleranceOnlyWhereItIsUnderTheStraightEdgeToo) {
  const std::string load = "from = \"0 m\"\nto = \"4 m\"\nweight_per_length = \"10 N/m\"";
  const double sag = 5 * 10.001 * 256 / (384 * kEI_N_m2);
  const auto with = [&](const std::string& per) {
    return level_of(bar(load, "rigid", "[tolerance]\nlevel = \"2 mm\"\nper = \"" + per + "\""));
  };
  const FinishedLevel whole = with("1.5 mm over 4 m");
  ASSERT_TRUE(whole.straight);
  EXPECT_NEAR(whole.straight->departure_m, sag, 1e-9);
  EXPECT_EQ(whole.straight->at_m, 2.0);
  EXPECT_EQ(whole.within, false);
  const FinishedLevel half = with("1.5 mm over 2 m");
  EXPECT_NEAR(half.straight->departure_m, sag / 4, sag / 20);
  EXPECT_EQ(half.within, true);
}

double sum(const LevelParts& parts) { return parts.height_m + parts.tilt_m + parts.sag_m + parts.twist_m; }

// A uniform load on a simple beam sags 5 w L^4 / 384 EI. Source: S. Timoshenko, Strength of Materials, part I, 1930, simply
// supported beam under uniform load (from memory); so do all handbooks. Within the bar's own 0.001 N/m and rounding.
TEST(FinishedLevel, OfAUniformLoadIsSagAlone) {
  const FinishedLevel level = level_of(bar("from = \"0 m\"\nto = \"4 m\"\nweight_per_length = \"10 N/m\""));
  const double sag = 5 * 10.001 * 256 / (384 * kEI_N_m2);
  EXPECT_NEAR(level.level_error_m, sag, 1e-9);
  EXPECT_NEAR(level.parts.sag_m, sag, 1e-9);
  EXPECT_NEAR(level.parts.tilt_m, 0, 1e-12);
  EXPECT_NEAR(level.parts.twist_m, 0, 1e-12);
  EXPECT_EQ(level.lowest.at_m, 2.0);
  EXPECT_NEAR(level.lowest.height_m, -sag, 1e-9);
  EXPECT_EQ(level.within, true);
}

// A weight at the far end goes into that spring alone: it sinks by W / k, and the run stays straight.
TEST(FinishedLevel, OfASoftSupportIsTiltAlone) {
  const FinishedLevel level = level_of(bar("at = \"4 m\"\nweight = \"300 N\"", "100 N/mm"));
  EXPECT_NEAR(level.level_error_m, 0.003, 1e-7);
  EXPECT_NEAR(level.parts.tilt_m, 0.003, 1e-7);
  EXPECT_NEAR(level.parts.sag_m, 0, 1e-6);
  EXPECT_EQ(level.highest.at_m, 0.0);
  EXPECT_EQ(level.lowest.at_m, 4.0);
  EXPECT_EQ(level.within, false);
}

// A couple about the axis in the middle of a bar whose ends cannot roll: half of it goes either way, T L / 4 GJ in the middle
// (by equilibrium). The left edge, where the load lies, is the low one.
TEST(FinishedLevel, OfALoadOffTheAxisIsSagAndTwistThatAddUp) {
  const FinishedLevel level = level_of(bar("at = \"2 m\"\nweight = \"20 N\"\nacross = \"150 mm\""));
  const double roll = 20 * 0.150 * kLength_m / (4 * kGJ_N_m2), sag = 20 * 64 / (48 * kEI_N_m2);
  EXPECT_NEAR(level.parts.sag_m, sag, 1e-6) << "of the middle against an end; the bar's own weight is in it";
  EXPECT_NEAR(level.parts.twist_m, roll * kWidth_m / 2, 1e-9);
  EXPECT_EQ(level.lowest.edge, survey::Edge::left);
  EXPECT_NEAR(level.lowest.height_m, -sag - roll * kWidth_m / 2, 1e-6);
  EXPECT_NEAR(sum(level.parts), level.level_error_m, 1e-12);
  EXPECT_NEAR(level.level_error_m, level.highest.height_m - level.lowest.height_m, 1e-15);
}

TEST(FinishedLevel, WithATargetCountsTwiceTheLargestDepartureFromIt) {
  const std::string load = "from = \"0 m\"\nto = \"4 m\"\nweight_per_length = \"10 N/m\"";
  const double sag = 5 * 10.001 * 256 / (384 * kEI_N_m2);
  for (const auto& [target, error] : {std::pair{"1 mm", 2 * (0.001 + sag)}, {"-5 mm", 2 * 0.005}}) {
    const FinishedLevel level = level_of(
        bar(load, "rigid", std::string("[tolerance]\nlevel = \"2 mm\"\ntarget_height = \"") + target + "\""));
    EXPECT_NEAR(level.level_error_m, error, 1e-9) << target;
    EXPECT_NEAR(sum(level.parts), level.level_error_m, 1e-12) << target;
    EXPECT_EQ(level.within, false);
  }
}

TEST(FinishedLevel, IsNeitherWithinNorNotWhereTheSheetNamesNoTolerance) {
  const FinishedLevel level = level_of(bar("at = \"4 m\"\nweight = \"300 N\"", "100 N/mm", ""));
  EXPECT_EQ(level.within, std::nullopt);
  EXPECT_NEAR(level.level_error_m, 0.003, 1e-7);
}

constexpr const char* kShims = "adjust = { by = \"shims\", stock = \"van\", rise = [\"0 mm\", \"10 mm\"] }\n";
constexpr const char* kVan = "[stock.van]\npieces = [ { thickness = \"1 mm\", count = 9 } ]\n";

TEST(BestSetting, ShimsUnderASoftSupportCureTheTilt) {
  const auto best = best_setting(
      bar("at = \"4 m\"\nweight = \"300 N\"", "100 N/mm", "[tolerance]\nlevel = \"2 mm\"", kShims, kVan));
  ASSERT_TRUE(best.ok());
  EXPECT_TRUE(best.value().within);
  EXPECT_NEAR(best.value().level_error_m, 0, 1e-6) << "3 mm of shims";
  EXPECT_EQ(best.value().cures, std::nullopt);
}

// Shims at the ends of a sagging bar do nothing for its sag: 5.33 mm, and 2 mm are allowed. So many times as stiff cures it.
TEST(BestSetting, OfASaggingRunNamesWhatCuresIt) {
  const auto run = bar("from = \"0 m\"\nto = \"4 m\"\nweight_per_length = \"32 N/m\"", "rigid",
                       "[tolerance]\nlevel = \"2 mm\"", kShims, kVan);
  const FinishedLevel level = level_of(run);
  const auto best = best_setting(run);
  ASSERT_TRUE(best.ok());
  EXPECT_FALSE(best.value().within);
  ASSERT_TRUE(best.value().cures && best.value().cures->less_sag);
  const double factor = best.value().cures->less_sag->stiffness_factor;
  EXPECT_GE(factor, level.level_error_m / 0.002 - 1e-9);
  EXPECT_LT(factor, 1.1 * level.level_error_m / 0.002);
  // What it names does cure it: the same bar so much stiffer.
  const auto stiffer =
      bar("from = \"0 m\"\nto = \"4 m\"\nweight_per_length = \"32 N/m\"", "rigid",
          "[tolerance]\nlevel = \"2 mm\"", kShims, kVan, std::to_string(20 * factor) + " kN m2");
  EXPECT_EQ(level_of(stiffer).within, true);
}

TEST(BestSetting, WhereNothingCanBeAdjustedIsTheRunAsItIs) {
  const auto run = bar("at = \"4 m\"\nweight = \"300 N\"", "100 N/mm");
  const auto best = best_setting(run);
  ASSERT_TRUE(best.ok());
  EXPECT_FALSE(best.value().within);
  EXPECT_NEAR(best.value().level_error_m, 0.003, 1e-7);
  EXPECT_TRUE(best.value().cures);
}

TEST(BestSetting, IsMadeWhenEverythingStandsThatHoldsTheFinishedRun) {
  const auto best = best_setting(shelf());
  ASSERT_TRUE(best.ok());
  EXPECT_EQ(best.value().stage, shelf().stage("hung"));
}

}  // namespace
}  // namespace hangtrue::job
