// What rechecks say of pairs whose truth is known: a small part of tools/trials recheck, with bounds.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/trials.hpp"
#include "tests/trials_of_the_recheck/pairs.hpp"

namespace hangtrue::recheck_trials {
namespace {

std::vector<Played> played(const std::vector<Happened>& kinds, int each) {
  const auto grounds = recheck_grounds();
  auto all = play_all(grounds, kinds, trials(each), 1, 2);
  EXPECT_GE(all.size() + 2,
            kinds.size() * std::size_t(trials(each)));  // now and then no sheet has such a pair
  return all;
}

TEST(Pairs, AreDrawnAlikeFromTheSameSeed) {
  const auto grounds = recheck_grounds();
  const auto once = play(grounds[0], Happened::sink, 3), again = play(grounds[0], Happened::sink, 3);
  ASSERT_TRUE(once && again);
  EXPECT_EQ(once->truth[0].size, again->truth[0].size);
  EXPECT_EQ(once->says, again->says);
  EXPECT_FALSE(play(grounds[0], Happened::creep, 3));  // no wood
}

TEST(Pairs, WhatChangedIsNamedAndItsSizeHolds) {
  const auto all = played({Happened::sink, Happened::pitch, Happened::roll, Happened::load,
                           Happened::later_load, Happened::unlisted_load, Happened::stiffness_09,
                           Happened::stiffness_07, Happened::soft_spring, Happened::two},
                          4);
  int right = 0, sizes = 0, far = 0;
  for (const Played& each : all) {
    right += each.right(true);
    for (const double z : each.z()) {
      ++sizes;
      far += std::abs(z) > 3;
    }
  }
  if (!kSharesTell) return;
  EXPECT_GE(right, int(all.size()) * 80 / 100);
  EXPECT_LE(far, sizes / 10);
}

TEST(Pairs, RunsOfWoodThatCreepAsExpectedFitAndAreFollowed) {
  int hold = 0, surveys = 0, trends = 0, alarms = 0;
  const auto all = played({Happened::creep}, 6);
  for (const Played& each : all) {
    hold += each.hold;
    surveys += each.surveys;
    trends += each.trend;
    alarms += each.alarm();
  }
  EXPECT_EQ(hold, surveys);
  EXPECT_EQ(trends, int(all.size()));
  EXPECT_LE(alarms, 2);
}

}  // namespace
}  // namespace hangtrue::recheck_trials
