// The shim card: what it promises, and when it never says ready.
#include "firmware-host/job/card.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "tests/firmware-host/fixtures/shelf.hpp"
#include "tests/firmware-host/fixtures/two_rods.hpp"

namespace hangtrue::job {
namespace {

using fixtures::shelf;
using fixtures::tilted_readings;

TEST(Card, WithoutReadingsNeverSaysReady) {
  SurveyFit survey(shelf(), nullptr, 0);
  ASSERT_TRUE(survey.fit());
  EXPECT_EQ(survey.report().status, fit::Status::prior_only);
  const auto made = make_card(survey);
  ASSERT_TRUE(made);
  const Card& card = made.value();
  EXPECT_EQ(card.hold_point.answer, adjust::HoldPoint::read_again);
  EXPECT_TRUE(card.moves.empty());
}

// A rod that would carry nothing once the run is in use: a couple there turns the end up.
TEST(Card, NeverCallsARunReadyWhoseSupportGoesFreeInALaterStage) {
  const sheet::RunSheet lifted =
      fixtures::shelf_with({{"at = \"2 m\"\nweight = \"400 N\"", "at = \"4200 mm\"\ncouple = \"3 kN m\""},
                            {"level = \"1.5 mm\"", "level = \"900 mm\""}});
  SurveyFit survey(lifted, nullptr, 0);
  for (auto& entry : tilted_readings(shelf())) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  const auto made = make_card(survey);
  ASSERT_TRUE(made);
  const Card& card = made.value();
  EXPECT_NE(card.hold_point.answer, adjust::HoldPoint::ready_to_bolt);
  ASSERT_FALSE(card.troubles.empty());
  EXPECT_EQ(card.troubles[0].support, "east rod");
  EXPECT_EQ(card.troubles[0].stage, "in use");
}

TEST(Card, PromisesTheShapeAfterItsMovesAndNoWorseThanBefore) {
  SurveyFit survey(shelf(), nullptr, 0);
  for (auto& entry : tilted_readings(shelf())) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  const auto made = make_card(survey);
  ASSERT_TRUE(made);
  const Card& card = made.value();
  ASSERT_FALSE(card.moves.empty());
  double high = -1, low = 1;
  for (const auto* edge : {&card.left_m, &card.right_m})
    for (const double z : *edge) {
      high = std::max(high, z);
      low = std::min(low, z);
    }
  EXPECT_NEAR(high - low, card.after.level_error_m, 1e-12);
  EXPECT_LE(card.after.level_error_m, card.before.level_error_m);
}

// A hanger whose left rod is long and whose right rod is short: the run rolls along its length. The card takes it out by turning
// them opposite ways, and what it promises comes true in the run as it is.
TEST(Card, LevelsAHangerOfTwoRodsAcrossByTurningThemOppositeWays) {
  const sheet::RunSheet& run = fixtures::on_two_rods();
  const int left = run.support("east rod left"), right = run.support("east rod right");
  ASSERT_TRUE(left > 0 && right > 0);
  beam::State<double> truth;
  truth.offset[left].rise = -0.003;
  truth.offset[right].rise = 0.002;
  SurveyFit survey(run, nullptr, 0);
  for (auto& entry : fixtures::readings_of(run, truth)) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  EXPECT_EQ(survey.report().self_test.outcome, fit::TestOutcome::holds);
  const auto made = make_card(survey);
  ASSERT_TRUE(made);
  const Card& card = made.value();
  truth.move_stage = 0;
  double turns[2] = {};
  for (const CardMove& each : card.moves) {
    const int support = run.support(each.support);
    truth.move[support] = {each.move.rise_m, each.move.pitch_rad, each.move.roll_rad};
    if (support == left) turns[0] = each.move.turns;
    if (support == right) turns[1] = each.move.turns;
  }
  EXPECT_NEAR(turns[0] - turns[1], 5 / 1.75, 0.26);  // 5 mm on a thread of 1.75 mm, by quarters
  job::SolvedRun solved(run);
  ASSERT_TRUE(solved.solver().solve(truth));
  double low = 1, high = -1;
  for (const double x : run.stations_m)
    for (const double across : {run.width_m / 2, -run.width_m / 2}) {
      const double z = solved.solver().height(1, x, across);
      low = std::min(low, z);
      high = std::max(high, z);
    }
  EXPECT_NEAR(high - low, card.after.level_error_m, 5e-4);
  EXPECT_LT(high - low, 0.6 * card.before.level_error_m);  // what is left is sag
}

TEST(Card, OfARunWithoutALevelIsAFault) {
  const sheet::RunSheet run = fixtures::shelf_with(
      {{"[tolerance]\nlevel = \"1.5 mm\"\nstage = \"in use\"\nconfidence = 0.95\nspan_ratio = 360\n", ""}});
  SurveyFit survey(run, nullptr, 0);
  ASSERT_TRUE(survey.fit());
  const auto made = make_card(survey);
  ASSERT_FALSE(made);
  EXPECT_TRUE(std::holds_alternative<NoTolerance>(made.fault()));
}

}  // namespace
}  // namespace hangtrue::job
