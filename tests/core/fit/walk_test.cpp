// What moved within a walk, and whether readings check one another. Truths are invented.
#include "core/fit/walk.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numeric>
#include <random>

#include "core/fit/distribution.hpp"
#include "tests/core/fit/survey_bench.hpp"
#include "tests/trials.hpp"

namespace hangtrue::fit {
namespace {

using test::Bench;
using test::east_rod;
using test::wall_bracket;

struct Walked {
  Bench<double> bench;
  std::vector<int> order;
  std::vector<Slip> slips;
  std::vector<double> storage;
  std::unique_ptr<Walk<double>> walk = std::make_unique<Walk<double>>();

  Walked() {
    // The first three places once more at the end.
    const auto first = bench.readings;
    for (int k = 0; k < 15; ++k) bench.readings.push_back(first[std::size_t(k)]);
    order.resize(bench.readings.size());
    std::iota(order.begin(), order.end(), 0);
    for (const beam::Motion motion : beam::kMotions)
      slips.push_back({{UnknownKind::shape, {beam::kMoves[motion], wall_bracket}, 0}});
    slips.push_back({{UnknownKind::shape, {ParameterKind::move_rise, east_rod}, 0}});
    slips.push_back({{UnknownKind::datum_height, {}, 0}});
    slips.push_back({{UnknownKind::zero, {}, test::inclinometer}});
  }
  using ParameterKind = beam::ParameterKind;

  // Reads; from `position` on with this slip in truth.
  void read(std::mt19937& random, int slip, int position, double size) {
    const std::vector<double> truth = bench.draw(random);
    bench.read(truth, nullptr);
    std::vector<double> before, after;
    for (const auto& reading : bench.readings) before.push_back(reading.value);
    if (slip >= 0) {
      const beam::State<double> base = bench.problem.base;
      const survey::KitState<double> kit = bench.problem.kit;
      const Unknown what = slips[std::size_t(slip)].what;
      const auto add = [&](double by) {
        if (what.kind == UnknownKind::shape) {
          bench.problem.base.move_stage = bench.problem.stage;
          auto& move = bench.problem.base.move[what.shape.index];
          (what.shape.kind == ParameterKind::move_rise    ? move.rise
           : what.shape.kind == ParameterKind::move_pitch ? move.pitch
                                                          : move.roll) += by;
        }
      };
      add(size);
      bench.read(truth, nullptr);
      bench.problem.base = base;
      bench.problem.kit = kit;
      for (std::size_t i = 0; i < bench.readings.size(); ++i) {
        double value = bench.readings[i].value;
        const auto& of = bench.readings[i];
        if (what.kind == UnknownKind::datum_height && of.set_up == 0) value -= size;
        if (what.kind == UnknownKind::zero && of.zero == what.index) value += size;
        after.push_back(value);
      }
    }
    std::normal_distribution<double> normal;
    for (std::size_t i = 0; i < bench.readings.size(); ++i) {
      const bool moved = slip >= 0 && int(i) >= position;
      bench.readings[i].value = (moved ? after[i] : before[i]) + bench.readings[i].sigma * normal(random);
    }
  }

  void look(bool with_strays = false, int most = 1000) {
    bench.problem.options.gate = most;  // all readings kept: the test is of the walk alone
    bench.run_fit();
    storage.resize(Walk<double>::storage_needed(bench.list.count, int(bench.readings.size()),
                                                int(slips.size()), 2 * int(bench.stations_m.size())));
    Walk<double>::Given given;
    given.fit = bench.fit.get();
    given.problem = bench.problem;
    given.readings = bench.readings;
    given.judgements = bench.judgements;
    given.order = order;
    given.slips = slips;
    given.with_strays = with_strays;
    ASSERT_TRUE(walk->begin(given, storage).ok());
  }
};

// Bonferroni's threshold: with 900 candidates 19.5 is passed by chance in 1 of 100 (chi-squared with one degree of freedom,
// table of its upper tail; M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, table 26.8; from memory: 3.841 at
// 0.05, 6.635 at 0.01, 10.828 at 0.001).
TEST(Walk, TheThresholdIsThatOfTheLargestOfMany) {
  EXPECT_NEAR(beyond(1) * beyond(1), 6.635, 5e-4);
  EXPECT_NEAR(beyond(10) * beyond(10), 10.828, 5e-4);
  EXPECT_NEAR(beyond(900) * beyond(900), 19.5, 0.2);
  EXPECT_NEAR(noticed_margin(), 2.326, 5e-4);  // normal quantile of 0.99
  // The largest of so many independent ones passes it in at most 1 of 100, and hardly less.
  for (const int many : {1, 10, 900}) {
    const double one = chi_squared_tail(beyond(many) * beyond(many), 1);
    const double any = 1 - std::pow(1 - one, many);
    EXPECT_LE(any, 0.01 + 1e-12);
    EXPECT_GT(any, 0.0099);
  }
}

TEST(Walk, WhereNothingMovedHardlyAnythingIsFound) {
  Walked of;
  std::mt19937 random(51);
  int found = 0;
  const int count = trials(400);
  for (int t = 0; t < count; ++t) {
    of.read(random, -1, 0, 0);
    of.look();
    found += of.walk->movement().found() ? 1 : 0;
  }
  if (kSharesTell) {
    EXPECT_LE(found, 9) << "of 400; 1 of 100 at the most by the threshold";
  }
}

// The unknown that moved, the instant and the size.
TEST(Walk, ASlipIsNamedWithItsInstantAndSize) {
  Walked of;
  std::mt19937 random(52);
  const double sizes[] = {2.0e-3, 1.5e-3, 1.5e-3, 2.1e-3, 2e-3, 1e-3};
  for (int slip = 0; slip < int(of.slips.size()); ++slip)
    for (const int position : {20, 33, 43, 50}) {
      SCOPED_TRACE("slip " + std::to_string(slip) + " at " + std::to_string(position));
      if (slip == 4 && position > 49) continue;  // the laser is read at the end of each place
      of.read(random, slip, position, sizes[slip]);
      of.look();
      const Movement<double> most = of.walk->movement();
      ASSERT_TRUE(most.found());
      EXPECT_EQ(most.slip, slip);
      EXPECT_NEAR(most.position, position, 5) << "within the readings of one place";
      EXPECT_NEAR(most.test.size, sizes[slip], 5 * most.test.sigma + 0.03 * sizes[slip]);
    }
}

// What the statistic of one slip says against refitting with that unknown in the list: the drop of chi-squared.
TEST(Walk, TheStatisticIsTheDropOfChiSquaredOfAFitThatKnowsTheSlip) {
  Walked of;
  std::mt19937 random(53);
  of.read(random, 3, 30, 4e-4);
  of.look();
  const Movement<double> most = of.walk->movement();
  ASSERT_GE(most.slip, 0);
  // Added as an unknown with a prior so wide that it says nothing, to the readings from the instant on.
  const std::size_t p = std::size_t(of.bench.fit->unknowns());
  std::vector<beam::Parameter> move{of.slips[std::size_t(most.slip)].what.shape};
  std::vector<double> effect(of.bench.readings.size()), finished(2 * of.bench.stations_m.size());
  ASSERT_TRUE(of.bench.fit->effects_of(move, of.bench.readings, effect, finished).ok());
  InformationFilter<double, kMaxUnknowns> with;
  with.start(int(p) + 1);
  std::vector<double> row(p + 1);
  const auto& prior = of.bench.fit->prior_information();
  for (std::size_t i = 0; i < p; ++i) {
    std::copy_n(prior.triangle_row(int(i)).begin(), p, row.begin());
    row[p] = 0;
    with.add(row, prior.right_side(int(i)), 1);
  }
  for (std::size_t i = 0; i < of.bench.readings.size(); ++i) {
    const auto known = of.bench.fit->reading_row(int(i));
    std::copy(known.begin(), known.end(), row.begin());
    row[p] = int(i) >= most.position ? effect[i] : 0;
    with.add(row, of.bench.fit->reading_target(int(i)), 1);
  }
  const double drop = std::pow(most.test.size / most.test.sigma, 2);
  EXPECT_NEAR(of.walk->chi_squared() - with.sum_of_squares(), drop, 1e-6 * drop);
  EXPECT_LE(most.test.statistic, drop);  // less what a slip before all readings would explain
  std::vector<double> answer(p + 1);
  ASSERT_TRUE(with.answer(answer));
  EXPECT_NEAR(answer[p], most.test.size, 1e-6 * std::abs(most.test.size));
}

// A slip of the size that counts as noticed, at an instant in the middle, is found in about 99 of 100 walks: linearly, by its
// own sigma.
TEST(Walk, WhatCountsAsNoticedIsNoticed) {
  Walked of;
  std::mt19937 random(54);
  const int count = trials(300), position = 35;
  int noticed = 0, tried = 0;
  double size = 0;
  for (int t = 0; t < count; ++t) {
    if (t == 0) {  // sigma of a slip there does not depend on the values: from a first walk with a large slip
      of.read(random, 3, position, 2e-3);
      of.look();
      const Movement<double> most = of.walk->movement();
      ASSERT_EQ(most.slip, 3);
      tried = most.tried;
      size = most.test.sigma * (beyond(tried) + noticed_margin());
      ASSERT_LT(size, 2e-3);
    }
    of.read(random, 3, position, size);
    of.look();
    noticed += of.walk->movement().found() ? 1 : 0;
  }
  if (kSharesTell) {
    EXPECT_GE(noticed, count - count / 100 - 6);
  }
}

// Where no slip can be noticed that matters so little, blind() says so; where what matters is large, it is content.
TEST(Walk, BlindTellsWhatWouldNotBeNoticed) {
  Walked of;
  std::mt19937 random(56);
  of.read(random, -1, 0, 0);
  of.look();
  const std::vector<std::uint8_t> every;
  const Blind<double> blind = of.walk->blind(40, 1e-6, every);
  EXPECT_GE(blind.slip, 0);
  EXPECT_LT(blind.noticed_share, 1);
  EXPECT_LT(of.walk->blind(40, 1.0, every).slip, 0);
  // Just before the last reading nothing but that reading would show it.
  const int end = int(of.order.size()) - 1;
  EXPECT_LT(of.walk->blind(end, 1e-3, every).noticed_share,
            of.walk->blind(40, 1e-3, every).noticed_share + 1e-12);
}

// Both faces of one place, off by the same: named as that place.
TEST(Walk, AShiftOfOnePlaceShowsAtItsPlace) {
  Walked of;
  std::mt19937 random(55);
  of.read(random, -1, 0, 0);
  for (const int i : {15, 16})
    of.bench.readings[std::size_t(i)].value += 6e-4 * of.bench.readings[std::size_t(i)].face;
  of.look();
  const std::vector<int> members{15, 16}, others{25, 26};
  const Tested<double> off = of.walk->shift(members), fine = of.walk->shift(others);
  EXPECT_GT(off.statistic, 100);
  EXPECT_NEAR(off.size, 6e-4, 5 * off.sigma);
  EXPECT_LT(fine.statistic, off.statistic / 4);
}

}  // namespace
}  // namespace hangtrue::fit
