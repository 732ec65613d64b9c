// The shim card: what it promises, and when it never says ready.
#include "firmware-host/job/card.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "tests/firmware-host/fixtures/shelf.hpp"

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
