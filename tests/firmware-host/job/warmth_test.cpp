// Rods and posts that get warmer: what that does to readings, by hand, and a walk through which it got warmer. All invented.
#include "firmware-host/job/warmth.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "core/survey/observation.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {
namespace {

constexpr double kSteel_per_K = 12e-6;  // EN 1993-1-1, 3.2.6 (from memory)
constexpr double kHangs_m = 2.5;

std::string sheet_text(const std::string& far_end) {
  return R"(length = "4 m"
width = "400 mm"
stations = { every = "250 mm" }
[tolerance]
level = "1 mm"
[material.steel]
E = "210 GPa"
G = "81 GPa"
density = "7850 kg/m3"
expansion = "12e-6 /K"
[[member]]
name = "spine"
from = "0 mm"
to = "4 m"
material = "steel"
section = { shape = "hollow rectangle", depth = "80 mm", width = "40 mm", wall = "4 mm", corner = "8 mm" }
[[support]]
name = "seat"
at = "0 mm"
rise = "rigid"
pitch = "free"
roll = "rigid"
[[support]]
name = "far end"
at = "4 m"
rise = "rigid"
pitch = "free"
roll = "free"
)" + far_end +
         R"(
[[stage]]
name = "hung"
supports = ["seat", "far end"]
loads = ["spine"]
[[mark]]
name = "lintel"
at = "-400 mm"
)";
}

sheet::RunSheet run_of(const std::string& far_end) {
  auto read = sheet::parse_run_sheet(sheet_text(far_end), "warm.toml");
  EXPECT_TRUE(read.sheet) << read.complaints.front().text();
  return std::move(*read.sheet);
}

sheet::ReadingEntry entry(Channel channel, double at_m, int face, std::optional<double> temperature_C) {
  sheet::ReadingEntry each;
  each.instrument = channel == Channel::distance ? "laser" : "level";
  each.channel = channel;
  each.at_m = at_m;
  each.face = face;
  each.set_up = channel == Channel::distance ? "A" : "";
  each.sigma = channel == Channel::distance ? 2e-4 : 1e-5;
  each.temperature_C = temperature_C;
  return each;
}

Warmth taken_off(const sheet::RunSheet& run, std::optional<double> stood_C,
                 std::vector<sheet::ReadingEntry> entries, std::vector<double>& values) {
  sheet::Survey survey = sheet::make_survey(std::move(entries), nullptr, run.marks);
  Warmth warmth = take_off_warmth(run, 0, survey.entries, stood_C, survey.readings);
  values.clear();
  for (const auto& reading : survey.readings) values.push_back(reading.value);
  return warmth;
}

// On two supports a run turns about the seat as the rod grows: by growth / length, whatever the run is made of.
TEST(Warmth, OfARodLowersItsEndOfARunOnTwoSupports) {
  const sheet::RunSheet run = run_of("hangs = \"2.5 m\"\nmaterial = \"steel\"");
  EXPECT_DOUBLE_EQ(run.supports[1].growth_m_per_K, -kSteel_per_K * kHangs_m);
  EXPECT_EQ(run.supports[0].growth_m_per_K, 0);
  std::vector<sheet::ReadingEntry> entries{
      entry(Channel::slope, 1, 1, 27),    entry(Channel::slope, 1, -1, 27),
      entry(Channel::distance, 3, 1, 27), entry(Channel::distance, -0.4, 1, 27),
      entry(Channel::slope, 1, 1, 12),    entry(Channel::roll, 2, 1, 27)};
  entries[3].mark = "lintel";
  std::vector<double> values;
  const Warmth warmth = taken_off(run, 12, entries, values);
  const double lower = kSteel_per_K * kHangs_m * 15;
  EXPECT_NEAR(values[0], lower / 4, 1e-12) << "the far end sank, so the slope that was read is too low";
  EXPECT_NEAR(values[1], -lower / 4, 1e-12);
  EXPECT_NEAR(values[2], lower * 3 / 4, 1e-12);
  EXPECT_NEAR(values[3], 0, 1e-12) << "a mark stays";
  EXPECT_NEAR(values[4], 0, 1e-12) << "at the temperature at which it stood so";
  EXPECT_NEAR(values[5], 0, 1e-12);
  const double mean_C = (5 * 27.0 + 12) / 6;
  ASSERT_EQ(warmth.supports.size(), 1u);
  EXPECT_EQ(warmth.supports[0].support, "far end");
  EXPECT_NEAR(warmth.supports[0].rise_m, -kSteel_per_K * kHangs_m * (mean_C - 12), 1e-15);
  // 5 % of that, and 2 K at both times.
  EXPECT_NEAR(warmth.supports[0].sigma_m,
              std::hypot(0.05 * warmth.supports[0].rise_m, std::sqrt(8.0) * kSteel_per_K * kHangs_m), 1e-15);
}

TEST(Warmth, OfAPostRaisesItsEnd) {
  const sheet::RunSheet run = run_of("stands = \"900 mm\"\nexpansion = \"23e-6 /K\"");
  std::vector<double> values;
  (void)taken_off(run, 20, {entry(Channel::distance, 4, 1, 30)}, values);
  EXPECT_NEAR(values[0], -23e-6 * 0.9 * 10, 1e-12);
}

TEST(Warmth, WithoutAnEarlierSurveyCountsFromTheMeanOfThisOne) {
  const sheet::RunSheet run = run_of("hangs = \"2.5 m\"\nmaterial = \"steel\"");
  std::vector<double> values;
  const Warmth warmth = taken_off(run, {},
                                  {entry(Channel::distance, 4, 1, 10), entry(Channel::distance, 4, 1, 30),
                                   entry(Channel::distance, 4, 1, {})},
                                  values);
  EXPECT_EQ(warmth.stood_C, 20);
  EXPECT_NEAR(values[0], -kSteel_per_K * kHangs_m * 10, 1e-12);
  EXPECT_NEAR(values[1], kSteel_per_K * kHangs_m * 10, 1e-12);
  EXPECT_NEAR(values[2], 0, 1e-12) << "one without a temperature counts as of the mean";
  EXPECT_EQ(warmth.supports[0].rise_m, 0);
  EXPECT_EQ(warmth.supports[0].sigma_m, 0);
}

// 10 K of 2.5 m are 0.3 mm; a quarter of 1 mm is less, of 1.3 mm more.
TEST(Warmth, OfNoTemperatureIsWorthAWordOnlyWhereItCouldMatter) {
  sheet::RunSheet run = run_of("hangs = \"2.5 m\"\nmaterial = \"steel\"");
  std::vector<double> values;
  const std::vector<sheet::ReadingEntry> entries{entry(Channel::distance, 4, 1, {})};
  EXPECT_TRUE(taken_off(run, {}, entries, values).should_be_read);
  EXPECT_EQ(values[0], 0) << "nothing is taken off";
  EXPECT_NEAR(warmth_to_come(run, 0).by_m, 0.0003, 1e-12);
  EXPECT_EQ(warmth_to_come(run, 0).support, "far end");
  run.tolerance.level_m = 0.0013;
  EXPECT_FALSE(taken_off(run, {}, entries, values).should_be_read);
  run.tolerance.level_m = 0.001;
  run.supports[0].growth_m_per_K = run.supports[1].growth_m_per_K;  // both grow alike: the run stays as level
  EXPECT_FALSE(taken_off(run, {}, entries, values).should_be_read);
  const sheet::RunSheet plain = run_of("");
  EXPECT_FALSE(taken_off(plain, {}, entries, values).should_be_read);
  EXPECT_TRUE(taken_off(plain, 12, entries, values).supports.empty());
}

// Through a walk it gets warmer by 30 K: 0.9 mm of the far end. Each station is read twice, cold and warm.
TEST(Warmth, ThroughAWalkIsNoMovement) {
  const std::string rod = "hangs = \"2.5 m\"\nmaterial = \"steel\"";
  for (const bool known : {true, false}) {
    const sheet::RunSheet run = run_of(known ? rod : "");
    const SolvedRun solved(run);
    beam::State<double> state;
    state.move_stage = 0;
    SurveyFit fit(run, nullptr, 0);
    const int rounds = 2, stations = int(run.stations_m.size());
    beam::Solver<double>& solver = const_cast<SolvedRun&>(solved).solver();
    for (int round = 0; round < rounds; ++round)
      for (int i = 0; i < stations; ++i) {
        sheet::ReadingEntry each = entry(Channel::slope, run.stations_m[std::size_t(i)], i % 2 == 0 ? 1 : -1,
                                         5 + 30.0 * (round * stations + i) / (rounds * stations - 1));
        state.move[1].rise = -kSteel_per_K * kHangs_m * (*each.temperature_C - 20);
        ASSERT_TRUE(solver.solve(state));
        survey::Reading<double> reading = sheet::make_survey({each}, nullptr).readings[0];
        each.value = survey::predicted<double>({&solver, 0, run.length_m, run.width_m}, reading, {}) +
                     5e-6 * std::sin(7.0 * (round * stations + i));
        fit.add(each);
      }
    ASSERT_TRUE(fit.fit());
    const bool holds = fit.report().self_test.outcome == fit::TestOutcome::holds &&
                       fit.report().movements.empty() && fit.report().self_test.beyond_gate == 0;
    EXPECT_EQ(holds, known);
    if (known) {
      EXPECT_NEAR(fit.report().warmth.stood_C.value_or(0), 20, 1e-9);
    }
  }
}

// Two estimates that hang together: the variance of the one grows by the square of what it may differ by, all else stays.
TEST(Warmth, WhereASupportMayDifferItsVarianceGrowsAndNothingElse) {
  CarriedState state;
  fit::Carried<double>& known = state.estimates;
  known.count = 3;
  for (int k = 0; k < 3; ++k) {
    known.unknown[k] = {fit::UnknownKind::shape, {beam::ParameterKind::offset_rise, std::int16_t(k)}};
    known.scale[k] = 0.02;
    known.reference[k] = 0;
  }
  known.information.start(3);
  const double rows[4][3] = {{1, 0, 0.5}, {0.2, 2, 0}, {0, 0.7, 1}, {1, 1, 1}};
  for (int r = 0; r < 4; ++r) known.information.add(std::span<const double>(rows[r], 3), 0.3 * r, 0.1);
  const auto covariance = [&](int i, int j) {
    double a[3] = {}, b[3] = {}, sum = 0;
    a[i] = b[j] = 1;
    known.information.whiten(a, a);
    known.information.whiten(b, b);
    for (int k = 0; k < 3; ++k) sum += a[k] * b[k];
    return sum;
  };
  double before[3][3], means[3];
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) before[i][j] = covariance(i, j);
  ASSERT_TRUE(known.information.answer(means));
  state.rise_may_differ(1, 0.001);
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j)
      EXPECT_NEAR(covariance(i, j), before[i][j] + (i == 1 && j == 1 ? 0.05 * 0.05 : 0), 1e-14);
  double after[3];
  ASSERT_TRUE(known.information.answer(after));
  for (int i = 0; i < 3; ++i) EXPECT_NEAR(after[i], means[i], 1e-13);
}

}  // namespace
}  // namespace hangtrue::job
