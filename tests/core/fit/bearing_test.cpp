// Which one-way supports bear. Truths are invented; what bears in truth is found by the solver's own choice.
#include "core/fit/bearing.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "tests/core/beam/run_builder.hpp"
#include "tests/trials.hpp"

namespace hangtrue::fit {
namespace {

using beam::Parameter;
using beam::ParameterKind;

// A run of 4 m on three lifts, each with an uncertain height; slopes and distances along it.
struct OnLifts {
  beam::test::RunBuilder<double> builder = beam::test::RunBuilder<double>::uniform(4, 2e5, 2e4);
  beam::Run<double> run;
  std::unique_ptr<beam::test::Bench<double>> solver;
  UnknownList<double> list;
  std::vector<double> stations;
  std::vector<survey::Reading<double>> readings;
  std::vector<Judgement<double>> judgements;
  std::vector<double> storage;
  Problem<double> problem;
  Fit<double>& fit = *new Fit<double>;
  std::unique_ptr<Fit<double>> owner{&fit};
  BearingSearch<double> search;

  OnLifts() {
    for (const double at : {0.5, 1.8, 3.4}) {
      beam::Support<double> lift = beam::test::seat<double>(at);
      lift.rise = beam::test::spring<double>(4e6);
      builder.add(lift);
    }
    builder.add_uniform(400);
    builder.bows = 1;
    builder.add_stage({0, 1, 2}, {0});
    run = builder.run();
    Priors<double> priors;
    for (int i = 0; i < 3; ++i) priors.offset[i] = {{0, 4e-3}, {}, {0, 1e-3}};
    priors.bending = {1, 0.04};
    priors.load[0] = {1, 0.05};
    priors.bow[0] = {0, 3e-4};
    priors.datum_height[0] = {0, 1};
    EXPECT_TRUE(build_unknowns(run, 0, 0, priors, list));
    solver = std::make_unique<beam::test::Bench<double>>(builder, kMaxUnknowns);
    for (int i = 0; i <= 8; ++i) stations.push_back(0.5 * i);
    for (const double at : stations) {
      readings.push_back({Channel::slope, survey::Edge::middle, 1, -1, -1, at, 0.25, 0, 2e-5});
      readings.push_back({Channel::distance, survey::Edge::middle, 1, 0, -1, at, 0, 0, 3e-4});
      readings.push_back({Channel::roll, survey::Edge::middle, 1, -1, -1, at, 0, 0, 5e-5});
    }
    problem = {.run = &run,
               .solver = &solver->solver(),
               .stage = 0,
               .finished_stage = 0,
               .width_m = 0.4,
               .stations_m = stations,
               .unknowns = &list,
               .carried = nullptr,
               .base = state_of_means(run, 0, priors),
               .kit = kit_of_means(priors),
               .options = {}};
    judgements.resize(readings.size());
    storage.resize(Fit<double>::storage_needed(list.count, int(readings.size()), int(stations.size())));
  }

  // Reads the run as it stands with these heights of the lifts; returns which lifts hang free in truth.
  std::uint32_t read(std::mt19937& random, const double (&heights)[3]) {
    std::normal_distribution<double> normal;
    beam::State<double> state = problem.base;
    for (int i = 0; i < 3; ++i) state.offset[i].rise = heights[i];
    state.bending_factor = 1 + 0.04 * normal(random);
    state.load_factor[0] = 1 + 0.05 * normal(random);
    state.bow_m[0] = 3e-4 * normal(random);
    solver->solve(state);
    std::uint32_t lifted = 0;
    for (int i = 0; i < 3; ++i) lifted |= solver->solver().support(0, i).engaged ? 0u : 1u << i;
    const survey::Scene<double> scene{&solver->solver(), 0, run.length_m, problem.width_m};
    for (auto& reading : readings)
      reading.value = survey::predicted(scene, reading, problem.kit) + reading.sigma * normal(random);
    return lifted;
  }

  Status look(BearingFound found = {}, bool found_first = false) {
    const auto status = search.search(fit, problem, storage, readings, {}, judgements, found, found_first);
    EXPECT_TRUE(status.ok());
    return status.ok() ? status.value() : Status::not_run;
  }
};

TEST(Bearing, EveryTrueSetIsFoundAndTheFitSettlesInIt) {
  OnLifts of;
  std::mt19937 random(41);
  std::uniform_real_distribution<double> height(-5e-3, 5e-3);
  const int count = trials(300);
  int right = 0, settled = 0, kept = 0, free = 0;
  for (int t = 0; t < count; ++t) {
    const double heights[3] = {height(random), height(random), height(random)};
    const std::uint32_t lifted = of.read(random, heights);
    free += lifted != 0 ? 1 : 0;
    settled += of.look() == Status::settled ? 1 : 0;
    ASSERT_FALSE(of.search.sets().empty());
    right += of.search.sets()[0].lifted[0] == lifted ? 1 : 0;
    for (const auto& set : of.search.sets())
      if (set.lifted[0] == lifted && set.probability >= 0.01) ++kept;
  }
  EXPECT_EQ(settled, count);
  if (!kSharesTell) return;
  EXPECT_GE(right, count - count / 10);  // the rest all but touch or all but hang free
  EXPECT_GE(kept, count - count / 50);   // the truth is among what is told
  EXPECT_GT(free, count / 4);            // both kinds of state were there
}

// A middle lift that all but touches: the readings cannot tell. A person who tried its nut settles it.
TEST(Bearing, WhatReadingsLeaveOpenAPersonSettles) {
  OnLifts of;
  std::mt19937 random(42);
  for (auto& reading : of.readings) reading.sigma *= 5;
  const double sag = 5.0 * 400 * 81 / (384 * 2e5);  // of a simple beam of 3 m; overhangs lift it
  bool open_once = false;
  for (double low = 0.2; low < 1.2 && !open_once; low += 0.05) {
    const double heights[3] = {0, -low * sag, 0};
    (void)of.read(random, heights);
    (void)of.look();
    const auto sets = of.search.sets();
    if (sets.size() < 2 || sets[1].probability < 0.1) continue;
    open_once = true;
    const bool either = sets[0].lifted[0] == 2u || sets[1].lifted[0] == 2u;
    ASSERT_TRUE(either);
    (void)of.look({.bears = 2u});
    EXPECT_EQ(of.search.sets()[0].lifted[0] & 2u, 0u);
    (void)of.look({.hangs_free = 2u});
    EXPECT_EQ(of.search.sets()[0].lifted[0] & 2u, 2u);
  }
  EXPECT_TRUE(open_once);
}

// What is known of the stage is not looked for: the fit stands there, even where the readings say otherwise.
TEST(Bearing, OfAStageThatIsKnownNothingElseIsTried) {
  OnLifts of;
  std::mt19937 random(45);
  const double heights[3] = {0, -6e-3, 0};
  ASSERT_EQ(of.read(random, heights), 2u);
  (void)of.look({.known_stages = 1, .lifted = {2u}});
  ASSERT_EQ(of.search.sets().size(), 1u);
  EXPECT_EQ(of.search.sets()[0].lifted[0], 2u);
  (void)of.look({.known_stages = 1});
  ASSERT_EQ(of.search.sets().size(), 1u);
  EXPECT_EQ(of.search.sets()[0].lifted[0], 0u);
}

// On request what a person found is tried first, and nothing else where that fits; where it does not, the readings decide.
TEST(Bearing, WhatContradictsAPersonIsTriedOnlyWhereThatDoesNotFit) {
  OnLifts of;
  std::mt19937 random(44);
  const double heights[3] = {0, -6e-3, 0};
  ASSERT_EQ(of.read(random, heights), 2u);
  ASSERT_EQ(of.look({.bears = 5u, .hangs_free = 2u}, true), Status::settled);
  EXPECT_EQ(of.search.sets().size(), 1u);
  EXPECT_EQ(of.fit.state().lifted[0], 2u);
  // A lift that touches and carries nothing is as good as one that hangs free: the person is believed.
  ASSERT_EQ(of.look({.bears = 7u}, true), Status::settled);
  EXPECT_EQ(of.search.sets().size(), 1u);
  const double high[3] = {0, 3e-3, 0};
  ASSERT_EQ(of.read(random, high) & 2u, 0u);
  ASSERT_EQ(of.look({.hangs_free = 2u}, true), Status::settled);
  EXPECT_EQ(of.fit.state().lifted[0] & 2u, 0u);
}

// The shape that is told is the one whose chi-squared is told.
TEST(Bearing, TheFitStandsAtTheLikeliestSet) {
  OnLifts of;
  std::mt19937 random(43);
  const double heights[3] = {0, -6e-3, 0};
  ASSERT_EQ(of.read(random, heights), 2u);
  ASSERT_EQ(of.look(), Status::settled);
  EXPECT_EQ(of.fit.state().lifted[0], 2u);
  EXPECT_EQ(of.fit.state().bearing_given, 1);
  EXPECT_LT(of.fit.self_test().chi_squared, 60);
  double sum = 0;
  for (const auto& set : of.search.sets()) sum += set.probability;
  EXPECT_NEAR(sum, 1, 1e-12);
}

}  // namespace
}  // namespace hangtrue::fit
