#include "tools/rehearsal/truth.hpp"

#include <gmock/gmock.h>

#include <cmath>

#include "tests/tools/rehearsal/sheets.hpp"

namespace hangtrue::rehearsal {
namespace {

using ::testing::HasSubstr;

constexpr std::size_t kInclinometer = 0, kLaser = 1, kFixed = 2;  // instruments of the kit
constexpr std::size_t kSlope = 0, kRoll = 1, kTemperature = 2, kStation = 3;

class TruthOfTheTestShelf : public ::testing::Test {
 protected:
  sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = kit_sheet(run);
};

TEST_F(TruthOfTheTestShelf, IsTheSameForTheSameSeedAndAnotherForAnother) {
  const Truth one(run, kit, 0, 7), same(run, kit, 0, 7), other(run, kit, 0, 8);
  EXPECT_EQ(one.level_error_m(), same.level_error_m());
  EXPECT_EQ(one.zero(kInclinometer, kSlope), same.zero(kInclinometer, kSlope));
  EXPECT_EQ(one.datum_tilt_rad(0), same.datum_tilt_rad(0));
  EXPECT_NE(one.level_error_m(), other.level_error_m());
  EXPECT_NE(one.zero(kInclinometer, kSlope), other.zero(kInclinometer, kSlope));
  EXPECT_NE(one.datum_height_m(0), one.datum_height_m(1));
}

TEST_F(TruthOfTheTestShelf, StaysWithinTwoSigmaOfTheNarrowedPriors) {
  double largest_rise_m = 0, largest_zero_rad = 0;
  for (std::uint64_t seed = 1; seed <= 100; ++seed) {
    const Truth truth(run, kit, 0, seed);
    for (std::size_t i = 0; i < run.supports.size(); ++i) {
      largest_rise_m = std::max(largest_rise_m, std::abs(truth.state().offset[i].rise));
      EXPECT_LE(std::abs(truth.state().offset[i].pitch), 2 * kMostTurn_rad);
      EXPECT_LE(std::abs(truth.state().log_spring[i].rise), 2 * kMostLog);
    }
    largest_zero_rad = std::max(largest_zero_rad, std::abs(truth.zero(kInclinometer, kSlope)));
    EXPECT_NEAR(truth.state().load_factor[run.load("books")], 1.0, 0.1);  // its sigma is 0.05
    EXPECT_NEAR(truth.datum_height_m(0), kUsualDatum_m, 0.1);
  }
  EXPECT_LE(largest_rise_m, 2 * kMostRise_m);
  EXPECT_GT(largest_rise_m, 1.5 * kMostRise_m);
  EXPECT_LE(largest_zero_rad, 2 * 0.0003);
  EXPECT_GT(largest_zero_rad, 1.5 * 0.0003);
}

TEST_F(TruthOfTheTestShelf, AnotherInstrumentChangesNothingElse) {
  sheet::KitSheet fewer = kit;
  fewer.instruments.erase(fewer.instruments.begin() + kLaser);
  const Truth one(run, kit, 0, 7), other(run, fewer, 0, 7);
  EXPECT_EQ(one.level_error_m(), other.level_error_m());
  EXPECT_EQ(one.zero(kFixed, 0), other.zero(kFixed - 1, 0));
}

TEST_F(TruthOfTheTestShelf, FacesShareTheZeroErrorAndTurnTheSlope) {
  const Truth truth(run, kit, 0, 3);
  for (const std::size_t channel : {kSlope, kRoll}) {
    const double first = truth.reading(kInclinometer, channel, {.at_m = 1.5, .face = 1});
    const double second = truth.reading(kInclinometer, channel, {.at_m = 1.5, .face = -1});
    EXPECT_NEAR((first + second) / 2, truth.zero(kInclinometer, channel), 1e-15);
    EXPECT_GT(std::abs(first - second), 1e-6);
  }
}

// A piece under the foot nearer to the end turns it by its thickness over the base, one under the left edge's foot by that over the
// distance across; turned round both read the other way.
TEST_F(TruthOfTheTestShelf, FeelsWhatIsPutUnderIt) {
  const Truth truth(run, kit, 0, 3);
  for (const int face : {1, -1}) {
    const auto more = [&](std::size_t instrument, std::size_t channel, const PutUnder& put) {
      return truth.reading(instrument, channel, {.at_m = 1.5, .face = face, .put = put}) -
             truth.reading(instrument, channel, {.at_m = 1.5, .face = face});
    };
    EXPECT_NEAR(more(kInclinometer, kSlope, {.end_m = 0.005}), face * 0.02, 1e-15);
    EXPECT_NEAR(more(kInclinometer, kSlope, {.left_m = 0.005, .feet_across_m = 0.1}), 0, 1e-15);
    EXPECT_NEAR(more(kInclinometer, kRoll, {.left_m = 0.005, .feet_across_m = 0.1}), face * 0.05, 1e-15);
    EXPECT_NEAR(more(kInclinometer, kRoll, {.end_m = 0.005, .feet_across_m = 0.1}), 0, 1e-15);
    EXPECT_NEAR(more(kLaser, 0, {.higher_m = 0.5}), 0.5, 1e-15);
    EXPECT_NEAR(more(kInclinometer, kTemperature, {.end_m = 0.005, .left_m = 0.005, .higher_m = 1}), 0, 0);
  }
}

/// The shelf with a post that engages only in the second stage, its fit_up as told; what it pulls home too.
sheet::RunSheet with_late_post(const std::string& of_post) {
  std::string text = kRunText;
  const auto replace = [&text](const std::string& what, const std::string& by) {
    ASSERT_NE(text.find(what), std::string::npos) << what;
    text.replace(text.find(what), what.size(), by);
  };
  replace("supports = [\"wall bracket\", \"post\"]", "supports = [\"wall bracket\"]");
  replace("at = \"2700 mm\"\n", "at = \"2700 mm\"\n" + of_post + "\n");
  return run_sheet(text);
}

TEST_F(TruthOfTheTestShelf, MisfitsOfSupportsThatEngageLaterComeFromTheirFitUp) {
  const sheet::RunSheet late = with_late_post("fit_up = \"0.2 mm\"");
  const int post = late.support("post");
  double largest_m = 0, largest_rad = 0, largest_home_m = 0, sum = 0;
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    const beam::Motions<double> offset = Truth(late, kit, 0, seed).state().offset[post];
    largest_m = std::max(largest_m, std::abs(offset.rise));
    largest_rad = std::max(largest_rad, std::abs(offset.roll));
    sum += offset.rise;
    EXPECT_EQ(offset.rise, Truth(late, kit, 0, seed).state().offset[post].rise)
        << "the same for the same seed";
    const sheet::RunSheet home = with_late_post("pulled_home = [\"rise\"]\nfit_up = \"0.2 mm\"");
    largest_home_m = std::max(largest_home_m, std::abs(Truth(home, kit, 0, seed).state().offset[post].rise));
  }
  // Cut at two sigma: 0.2 mm as the sheet has it, 0.5 mm/m by default and where it is pulled home, its own zero.
  EXPECT_LE(largest_m, 0.4e-3);
  EXPECT_GT(largest_m, 0.3e-3);
  EXPECT_LE(largest_rad, 1e-3);
  EXPECT_GT(largest_rad, 0.75e-3);
  EXPECT_LT(std::abs(sum) / 200, 4 * 0.2e-3 / std::sqrt(200.0));
  EXPECT_LE(largest_home_m, 0.4e-3);
  EXPECT_GT(largest_home_m, 0.3e-3);
  // Looked at when it is engaged already, its offset is as wide as any.
  double engaged_m = 0;
  for (std::uint64_t seed = 1; seed <= 50; ++seed)
    engaged_m = std::max(engaged_m, std::abs(Truth(late, kit, 1, seed).state().offset[post].rise));
  EXPECT_GT(engaged_m, 1.5 * kMostRise_m);
  EXPECT_EQ(Truth(with_late_post("fit_up = \"0 mm\""), kit, 0, 5).state().offset[post].rise, 0);
}

TEST_F(TruthOfTheTestShelf, SlopeIsTheChordBetweenTheFeet) {
  const Truth truth(run, kit, 0, 3);
  const std::vector<double> feet = {1.375, 1.625};
  const Profile heights = truth.profile(feet);
  EXPECT_NEAR(truth.reading(kInclinometer, kSlope, {.at_m = 1.5}),
              (heights.height_m[1] - heights.height_m[0]) / 0.25 + truth.zero(kInclinometer, kSlope), 1e-14);
}

TEST_F(TruthOfTheTestShelf, DistanceIsTheHeightAboveTheDatumOfItsSetUp) {
  const Truth truth(run, kit, 0, 3);
  const std::vector<double> place = {2.0};
  const double height_m = truth.profile(place).height_m[0];
  for (const int set_up : {0, 1}) {
    EXPECT_NEAR(truth.reading(kLaser, 0, {.at_m = 2.0, .set_up = set_up}),
                height_m - truth.datum_height_m(set_up) - 2.0 * truth.datum_tilt_rad(set_up), 1e-14);
  }
}

TEST_F(TruthOfTheTestShelf, AMarkStaysWhereItIsWhateverTheRunDoes) {
  run.marks = {{"door frame", -0.4}, {"column", 1.5}};
  Truth truth(run, kit, 0, 7);
  const Stand at_column{.at_m = 1.5, .face = -1, .edge = survey::Edge::left, .set_up = 1, .mark = 1};
  const double before = truth.reading(kLaser, 0, at_column);
  EXPECT_NEAR(before,
              truth.mark_height_m(1) - truth.datum_height_m(1) - 1.5 * truth.datum_tilt_rad(1) +
                  truth.zero(kLaser, 0),
              1e-12);
  truth.move(run.support("post"), {0.01, 0, 0});
  EXPECT_EQ(truth.reading(kLaser, 0, at_column), before);
  truth.look_at(1);
  EXPECT_EQ(truth.reading(kLaser, 0, at_column), before);
  EXPECT_NE(truth.mark_height_m(0), truth.mark_height_m(1));
  EXPECT_EQ(truth.mark_height_m(0), Truth(run, kit, 1, 7).mark_height_m(0));
  EXPECT_EQ(truth.level_error_m(), [&] {
    Truth without(run_sheet(), kit, 1, 7);
    without.move(run.support("post"), {0.01, 0, 0});
    return without.level_error_m();
  }()) << "a mark more changes nothing else";
}

TEST_F(TruthOfTheTestShelf, AnotherVisitHasOtherDatumsAndWithAnotherKitOtherZeroErrorsAndTheSameRun) {
  run.marks = {{"column", 1.5}};
  Truth truth(run, kit, 0, 7);
  const double mark = truth.mark_height_m(0), level = truth.level_error_m(), datum = truth.datum_height_m(0),
               zero = truth.zero(kInclinometer, kSlope);
  truth.visit(1, /*kit=*/false);
  EXPECT_NE(truth.datum_height_m(0), datum);
  EXPECT_EQ(truth.zero(kInclinometer, kSlope), zero);
  truth.visit(2, /*kit=*/true);
  EXPECT_NE(truth.zero(kInclinometer, kSlope), zero);
  EXPECT_EQ(truth.mark_height_m(0), mark);
  EXPECT_EQ(truth.level_error_m(), level);
  truth.visit(0, /*kit=*/true);
  EXPECT_EQ(truth.datum_height_m(0), datum);
  EXPECT_EQ(truth.zero(kInclinometer, kSlope), zero);
}

TEST_F(TruthOfTheTestShelf, CreepsWhereItIsOfWoodAndItsInstrumentsSeeIt) {
  Truth steel(run, kit, 0, 7);
  EXPECT_EQ(steel.let_creep(365), 0);
  for (auto& piece : run.pieces) piece.bending_creep = 0.6;
  const Truth as_built(run, kit, 0, 7);
  Truth truth(run, kit, 0, 7);
  const double sag_m = truth.let_creep(365);
  EXPECT_LT(sag_m, -1e-5);
  const Profile before = as_built.profile(run.stations_m), after = truth.profile(run.stations_m);
  double most = 0;
  for (std::size_t i = 0; i < run.stations_m.size(); ++i) {
    const Stand stand{run.stations_m[i]};
    const double sank = after.height_m[i] - before.height_m[i];
    most = std::max(most, std::abs(sank));
    EXPECT_NEAR(truth.reading(kLaser, 0, stand) - as_built.reading(kLaser, 0, stand), sank, 1e-12);
  }
  EXPECT_GT(most, 1e-5);
  EXPECT_NE(truth.level_error_m(), as_built.level_error_m());
  truth.let_creep(0);
  EXPECT_EQ(truth.level_error_m(), as_built.level_error_m());
}

TEST_F(TruthOfTheTestShelf, AFixedInstrumentStaysWhereItIs) {
  const Truth truth(run, kit, 0, 3);
  EXPECT_EQ(truth.reading(kFixed, 0, {.at_m = 0.5, .face = -1}), truth.reading(kFixed, 0, {.at_m = 3.0}));
}

TEST_F(TruthOfTheTestShelf, GivesTheNumberOfTheStationFromOneAndATemperature) {
  const Truth truth(run, kit, 0, 3);
  EXPECT_EQ(truth.reading(kInclinometer, kStation, {.at_m = 0.0}), 1.0);
  EXPECT_EQ(truth.reading(kInclinometer, kStation, {.at_m = 1.0}), 3.0);
  EXPECT_EQ(truth.reading(kInclinometer, kStation, {.at_m = 3.0}), 7.0);
  EXPECT_NEAR(truth.reading(kInclinometer, kTemperature, {}), 20.0, 2.0);
}

// Both supports are moved by the same rise: the whole run goes up, and the level error stays.
TEST_F(TruthOfTheTestShelf, LevelErrorStaysWhenAllSupportsRiseAlikeAndChangesWhenOneDoes) {
  const Truth truth(run, kit, 0, 3);
  std::vector<beam::Motions<double>> moves(2);
  EXPECT_NEAR(truth.level_error_after_m(moves), truth.level_error_m(), 1e-15);
  moves[0].rise = moves[1].rise = 0.004;
  EXPECT_NEAR(truth.level_error_after_m(moves), truth.level_error_m(), 1e-12);
  moves[0].rise = 0;
  EXPECT_GT(std::abs(truth.level_error_after_m(moves) - truth.level_error_m()), 1e-4);
}

TEST(Profile, TellsTiltFromSag) {
  // z = 0.002 x - 0.001 x (2 - x) at five places: the line through it by least squares has the slope 0.002.
  Profile profile;
  for (const double x : {0.0, 0.5, 1.0, 1.5, 2.0}) {
    profile.at_m.push_back(x);
    profile.height_m.push_back(0.002 * x - 0.001 * x * (2 - x));
  }
  EXPECT_NEAR(profile.tilt_rad(), 0.002, 1e-15);
  // Parabola 0, -0.75, -1, -0.75, 0 mm: mean -0.5 mm; at both ends and in the middle 0.5 mm off; the first counts.
  EXPECT_NEAR(std::abs(profile.sag_m()), 0.0005, 1e-15);
}

TEST_F(TruthOfTheTestShelf, RefusesAStageThatTheRunHasNot) {
  EXPECT_THROW(Truth(run, kit, 2, 1), std::invalid_argument);
  EXPECT_THROW(Truth(run, kit, -1, 1), std::invalid_argument);
}

TEST(Truth, RefusesARunThatNothingHoldsInTheSheetsWords) {
  std::string text = kRunText;
  const std::string all = "supports = [\"wall bracket\", \"post\"]";
  text.replace(text.find(all), all.size(), "supports = [\"post\"]");
  const sheet::RunSheet run = run_sheet(text);
  try {
    const Truth truth(run, kit_sheet(run), 0, 1);
    FAIL() << "nothing was refused";
  } catch (const std::invalid_argument& error) {
    EXPECT_THAT(error.what(), HasSubstr("tip"));
  }
}

}  // namespace
}  // namespace hangtrue::rehearsal
