// What the hold point says of right and wrong states, beside what then is true: a small part of tools/trials, with bounds.
#include <gtest/gtest.h>

#include <cmath>

#include "tests/trials.hpp"
#include "tests/trials_of_the_hold_point/trial.hpp"

namespace hangtrue::hold_trials {
namespace {

std::vector<Outcome> tried(const std::vector<Kind>& kinds, int each) {
  std::vector<Ground> grounds;
  grounds.reserve(trial_sheets().size());
  for (const TrialSheet& sheet : trial_sheets()) grounds.emplace_back(sheet);
  auto outcomes = try_kinds(grounds, kinds, trials(each), 1001, 2);
  EXPECT_EQ(outcomes.size(), kinds.size() * std::size_t(trials(each)));
  return outcomes;
}

Tally tallied(const std::vector<Outcome>& outcomes) {
  Tally tally;
  for (const Outcome& each : outcomes) tally.add(each);
  return tally;
}

TEST(Tally, CountsWhatIsPastItsToleranceByWhatWasTold) {
  Outcome told;
  told.fitted = told.settled = told.one_way = true;
  told.answer = adjust::HoldPoint::ready_to_bolt;
  told.tolerance_m = 2e-3;
  told.promised_m = 1e-3;
  told.sigma_m = 1e-3;
  told.chance = 0.96;
  told.true_m = 3e-3;
  told.heights = 10;
  told.covered = 9;
  Tally tally;
  tally.add(told);
  told.answer = adjust::HoldPoint::shim_first;
  told.true_m = 2.1e-3;
  tally.add(told);
  EXPECT_EQ(tally.ready, 1);
  EXPECT_EQ(tally.unsafe_ready, 1);
  EXPECT_EQ(tally.unsafe_ready_far, 1);
  EXPECT_EQ(tally.unsafe_shim, 1);
  EXPECT_EQ(tally.unsafe_shim_far, 0);
  EXPECT_DOUBLE_EQ(tally.worst_ready, 1.5);
  EXPECT_NEAR(tally.stated_ready, 0.04, 1e-12);
  EXPECT_NEAR(tally.mean(), (-2 - 1.1) / 2, 1e-12);
  EXPECT_NEAR(tally.rms(), std::sqrt((4 + 1.21) / 2), 1e-12);
  EXPECT_DOUBLE_EQ(tally.coverage(), 0.9);
}

TEST(TrialsOfTheHoldPoint, OutcomesDoNotDependOnTheWorkers) {
  std::vector<Ground> grounds;
  grounds.reserve(trial_sheets().size());
  for (const TrialSheet& sheet : trial_sheets()) grounds.emplace_back(sheet);
  const std::vector<Kind> kinds{Kind::level, Kind::slip_late};
  const auto one = try_kinds(grounds, kinds, 3, 1, 1), two = try_kinds(grounds, kinds, 3, 1, 2);
  ASSERT_EQ(one.size(), two.size());
  for (std::size_t i = 0; i < one.size(); ++i) {
    EXPECT_EQ(one[i].seed, two[i].seed);
    EXPECT_EQ(one[i].answer, two[i].answer);
    EXPECT_EQ(one[i].true_m, two[i].true_m);
  }
}

TEST(TrialsOfTheHoldPoint, LevelRunsWithEverySupportEngagedAreToldReady) {
  const Tally level = tallied(tried({Kind::level}, 60));
  EXPECT_EQ(level.no_fit, 0);
  EXPECT_EQ(level.unsafe_ready_far, 0) << "worst " << level.worst_ready;
  if (!kSharesTell) return;
  EXPECT_GE(level.ready, 45);
  EXPECT_LE(level.unsafe_ready, 1);
}

// None of these states is right; whatever the answer, nothing past the tolerance is told ready.
TEST(TrialsOfTheHoldPoint, NoWrongStateIsToldReadyPastItsTolerance) {
  const std::vector<Kind> kinds{Kind::slip_early,     Kind::slip_late,       Kind::slip_in_closing,
                                Kind::datum_knocked,  Kind::strays_together, Kind::two_stations,
                                Kind::takes_degrees,  Kind::takes_in_per_ft, Kind::soft_bracket,
                                Kind::from_other_end, Kind::lift_hangs_free};
  const Tally wrong = tallied(tried(kinds, 24));
  EXPECT_EQ(wrong.no_fit, 0);
  if (!kSharesTell) return;
  EXPECT_EQ(wrong.unsafe_ready_far, 0) << "worst " << wrong.worst_ready;
  EXPECT_LE(wrong.unsafe_ready, 1);
  EXPECT_LE(wrong.unsafe_shim_far, 1) << "worst " << wrong.worst_shim;
}

TEST(TrialsOfTheHoldPoint, RunsOnOneWaySupportsSettle) {
  const Tally right = tallied(tried({Kind::bearing, Kind::lift_hangs_free}, 60));
  if (!kSharesTell) return;
  EXPECT_GE(right.settled(), 0.99);
  EXPECT_GE(right.coverage(), 0.92);
}

}  // namespace
}  // namespace hangtrue::hold_trials
