// The invented runs in data/runs that show what the tool is for: what they are predicted to do, and that a card made from readings
// of one that hangs crooked levels it from the van's stock. Fixed seeds.
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "firmware-host/job/card.hpp"
#include "firmware-host/job/finished_level.hpp"
#include "tests/firmware-host/fixtures/two_rods.hpp"

namespace hangtrue::job {
namespace {

sheet::RunSheet demo(const std::string& name) {
  const auto read = sheet::read_run_sheet(std::string(HANGTRUE_DATA_DIR) + "/runs/" + name + ".toml");
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  return read.sheet.value();
}

FinishedLevel level_in(const sheet::RunSheet& run, const beam::State<double>& truth) {
  SolvedRun solved(run);
  EXPECT_TRUE(solved.solver().solve(truth));
  return finished_level(run, solved.solver());
}

struct Levelled {
  double before_m, promised_m, after_m;
  Card card;
};

// What the card of a survey once all is bolted makes of the run as it is in `truth`.
Levelled levelled(const sheet::RunSheet& run, beam::State<double> truth) {
  const int bolted = run.stage("bolted");
  SurveyFit survey(run, nullptr, bolted);
  for (auto& entry : fixtures::readings_of(run, truth, bolted)) survey.add(entry);
  EXPECT_TRUE(survey.fit());
  EXPECT_EQ(survey.report().self_test.outcome, fit::TestOutcome::holds);
  auto made = make_card(survey);
  EXPECT_TRUE(made);
  Levelled result{level_in(run, truth).level_error_m, 0, 0, std::move(made).value()};
  truth.move_stage = bolted;
  for (const CardMove& each : result.card.moves)
    truth.move[run.support(each.support)] = {each.move.rise_m, each.move.pitch_rad, each.move.roll_rad};
  result.promised_m = result.card.after.level_error_m;
  result.after_m = level_in(run, truth).level_error_m;
  return result;
}

TEST(DemoRuns, TheSofterSpineSagsByHalfOfItsTolerance) {
  const sheet::RunSheet run = demo("gallery-display-shelf");
  const FinishedLevel level = level_in(run, {});
  EXPECT_GT(level.parts.sag_m, 0.4 * run.tolerance.level_m);
  EXPECT_LT(level.parts.sag_m, 0.7 * run.tolerance.level_m);
  beam::State<double> truth;
  truth.offset[run.support("west lift")].rise = 0.003;
  truth.offset[run.support("east lift")].rise = -0.002;
  truth.offset[run.support("east rod")].rise = -0.0015;
  const Levelled found = levelled(run, truth);
  EXPECT_GT(found.before_m, 2 * run.tolerance.level_m);
  EXPECT_LT(found.promised_m, run.tolerance.level_m);
  EXPECT_LT(found.after_m, run.tolerance.level_m);
  EXPECT_FALSE(found.card.moves.empty());
}

TEST(DemoRuns, TheWardrobeTurnsAndIsLevelledByLeftAndRightTurns) {
  const sheet::RunSheet run = demo("hall-wardrobe-bridge");
  const FinishedLevel level = level_in(run, {});
  EXPECT_GT(std::abs(level.parts.twist_m), 0.2 * run.tolerance.level_m) << "the fronts turn it";
  const int left = run.support("east rod left"), right = run.support("east rod right");
  beam::State<double> truth;
  truth.offset[run.support("west lift")].rise = -0.002;
  truth.offset[left].rise = 0.0012;
  truth.offset[right].rise = -0.0012;
  const Levelled found = levelled(run, truth);
  EXPECT_GT(found.before_m, 2 * run.tolerance.level_m);
  EXPECT_LT(found.promised_m, run.tolerance.level_m);
  EXPECT_LT(found.after_m, run.tolerance.level_m);
  double turns_left = 0, turns_right = 0;
  for (const CardMove& each : found.card.moves) {
    if (run.support(each.support) == left) turns_left = each.move.turns;
    if (run.support(each.support) == right) turns_right = each.move.turns;
  }
  EXPECT_LT(turns_left, turns_right) << "2.4 mm apart on threads of 1.75 mm";
  EXPECT_GT(turns_right - turns_left, 1);
}

}  // namespace
}  // namespace hangtrue::job
