// Readings repeated at a place: pooled by channel and compared with what is stated. Invented readings, fixed
// seeds.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "firmware-host/job/survey_fit.hpp"
#include "tests/firmware-host/fixtures/shelf.hpp"
#include "tests/firmware-host/job/kit.hpp"
#include "tests/trials.hpp"

namespace hangtrue::job {
namespace {

using fixtures::repeated_readings;

std::unique_ptr<SurveyFit> fitted(const std::vector<sheet::ReadingEntry>& entries) {
  auto session = std::make_unique<SurveyFit>(run(), &kit(), 0);
  for (const sheet::ReadingEntry& entry : entries) session->add(entry);
  EXPECT_TRUE(session->fit());
  return session;
}

TEST(Repeats, ArePooledByChannelOverPlacesAndFaces) {
  const auto entries = repeated_readings(kSlopeSigma, 3);
  const auto session = fitted(entries);
  ASSERT_EQ(session->report().repeats.size(), 1u);
  const Repeats& repeats = session->report().repeats[0];
  EXPECT_EQ(repeats.channel, (ChannelId{"level", Channel::slope}));
  EXPECT_EQ(repeats.groups, 16);
  EXPECT_EQ(repeats.degrees_of_freedom, 32);
  EXPECT_NEAR(repeats.stated_sigma, kSlopeSigma, 1e-18);
  EXPECT_EQ(repeats.verdict, fit::ScatterVerdict::as_stated);

  fit::PooledScatter pooled;
  for (std::size_t i = 0; i < 16; ++i)
    pooled.add(std::vector<double>{entries[i].value, entries[i + 16].value, entries[i + 32].value});
  EXPECT_NEAR(repeats.pooled_sigma, pooled.scatter().sigma, 1e-12);
}

TEST(Repeats, NeedTheSameInstrumentChannelPlaceEdgeFaceAndSetUp) {
  sheet::ReadingEntry first;
  first.instrument = "laser";
  first.channel = Channel::distance;
  first.set_up = "A";
  first.at_m = 1.2;
  first.value = -1.3;
  first.sigma = kDistanceSigma;
  const auto groups = [&](const auto& change) {
    std::vector<sheet::ReadingEntry> entries{first, first};
    change(entries[1]);
    const auto session = fitted(entries);
    return session->report().repeats.empty() ? 0 : session->report().repeats[0].groups;
  };
  EXPECT_EQ(groups([](sheet::ReadingEntry& each) { each.time = "2026-09-14T08:30:00Z"; }), 1);
  EXPECT_EQ(groups([](sheet::ReadingEntry& each) { each.set_up = "B"; }), 0);
  EXPECT_EQ(groups([](sheet::ReadingEntry& each) { each.at_m = 1.201; }), 0);
  EXPECT_EQ(groups([](sheet::ReadingEntry& each) { each.edge = survey::Edge::left; }), 0);
  EXPECT_EQ(groups([](sheet::ReadingEntry& each) { each.face = -1; }), 0);
  EXPECT_EQ(groups([](sheet::ReadingEntry& each) { each.instrument = "level"; }), 0);
}

TEST(Repeats, WeighReadingsByTheirOwnSigma) {
  auto entries = repeated_readings(0, 1, 2);
  entries.resize(1);
  entries.push_back(entries[0]);
  entries[0].value += 2e-5;
  entries[1].sigma = 2 * kSlopeSigma;
  const Repeats repeats = fitted(entries)->report().repeats.at(0);
  // Mean 1.6e-5 above the second; (0.4 / 2)^2 + (1.6 / 4)^2 = 0.2, in stated sigmas.
  EXPECT_NEAR(repeats.stated_sigma, kSlopeSigma * std::sqrt(2.5), 1e-15);
  EXPECT_NEAR(repeats.pooled_sigma, repeats.stated_sigma * std::sqrt(0.2), 1e-12);
}

TEST(Repeats, LeaveOutWhatTheFitSetAside) {
  auto entries = repeated_readings(kSlopeSigma, 7);
  entries[20].value += 0.01;
  const auto session = fitted(entries);
  ASSERT_EQ(session->report().judgements[20].verdict, fit::Verdict::beyond_gate);
  EXPECT_EQ(session->report().repeats[0].degrees_of_freedom, 31);
  EXPECT_EQ(session->report().repeats[0].verdict, fit::ScatterVerdict::as_stated);
}

TEST(Repeats, RaiseNoMoreFalseAlarmsThanStated) {
  constexpr int kRuns = trials(600);
  int alarms = 0;
  for (unsigned seed = 0; seed < kRuns; ++seed) {
    const auto survey = fitted(repeated_readings(kSlopeSigma, 1000 + seed, 2));
    // In 1 of 100 surveys chance looks like a movement, and what was read before it does not count.
    const std::vector<Repeats>& repeats = survey->report().repeats;
    alarms += !repeats.empty() && repeats[0].verdict == fit::ScatterVerdict::larger_than_stated;
  }
  EXPECT_LE(alarms, 0.01 * kRuns + 4 * std::sqrt(0.01 * kRuns));
}

}  // namespace
}  // namespace hangtrue::job
