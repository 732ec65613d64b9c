// Readings repeated at a place: pooled by channel, compared with what is stated, and said. Invented readings, fixed
// seeds.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include <nlohmann/json.hpp>

#include "firmware-host/job/survey_session.hpp"
#include "firmware-host/say/views.hpp"
#include "firmware-host/say/words.hpp"
#include "tests/firmware-host/job/kit.hpp"
#include "tests/trials.hpp"

namespace hangtrue::job {
namespace {

using say::card_view;
using say::fit_view;
using say::kColumns;
using say::repeats_words;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

// The run as its sheet has it, slope read `times` at each of 8 places on both faces.
std::vector<sheet::ReadingEntry> repeated(double noise, unsigned seed, int times = 3,
                                          double sigma = kSlopeSigma) {
  static const SolvedRun solved(run());
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  std::vector<sheet::ReadingEntry> entries;
  for (int time = 0; time < times; ++time)
    for (int place = 0; place < 8; ++place)
      for (const int face : {1, -1}) {
        sheet::ReadingEntry entry;
        entry.instrument = "level";
        entry.at_m = 0.3 + 0.45 * place;
        entry.face = face;
        entry.sigma = sigma;
        entry.value = face * solved.solver().at(0, entry.at_m).slope_rad + 1e-4 + noise * normal(random);
        entries.push_back(entry);
      }
  return entries;
}
std::unique_ptr<SurveySession> fitted(const std::vector<sheet::ReadingEntry>& entries) {
  auto session = std::make_unique<SurveySession>(run(), &kit(), 0);
  for (const sheet::ReadingEntry& entry : entries) session->add(entry);
  EXPECT_FALSE(session->fit());
  return session;
}

TEST(Repeats, ArePooledByChannelOverPlacesAndFaces) {
  const auto entries = repeated(kSlopeSigma, 3);
  const auto session = fitted(entries);
  ASSERT_EQ(session->report().repeats.size(), 1u);
  const Repeats& repeats = session->report().repeats[0];
  EXPECT_EQ(repeats.name, "level slope");
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
  auto entries = repeated(0, 1, 2);
  entries.resize(1);
  entries.push_back(entries[0]);
  entries[0].value += 2e-5;
  entries[1].sigma = 2 * kSlopeSigma;
  const Repeats repeats = fitted(entries)->report().repeats.at(0);
  // Mean 1.6e-5 above the second; (0.4 / 2)^2 + (1.6 / 4)^2 = 0.2, in stated sigmas.
  EXPECT_NEAR(repeats.stated_sigma, kSlopeSigma * std::sqrt(2.5), 1e-15);
  EXPECT_NEAR(repeats.pooled_sigma, repeats.stated_sigma * std::sqrt(0.2), 1e-12);
}

TEST(Repeats, ThatScatterMoreThanStatedAreSaidWithWhatToDoAndNoSigmaIsChanged) {
  const auto session = fitted(repeated(2.5 * kSlopeSigma, 5));
  const FitReport& report = session->report();
  ASSERT_EQ(report.repeats.size(), 1u);
  EXPECT_EQ(report.repeats[0].verdict, fit::ScatterVerdict::larger_than_stated);
  EXPECT_NEAR(report.repeats[0].pooled_sigma, 2.5 * kSlopeSigma, 0.6 * kSlopeSigma);
  const std::string words = repeats_words(run(), report.repeats[0]);
  EXPECT_THAT(words, HasSubstr("0.020 mm/m is stated: larger than stated (p < 0.001)"));
  EXPECT_THAT(words, HasSubstr("write sigma = \"0.0"));
  EXPECT_THAT(fit_view(run(), report), HasSubstr("larger than stated"));
  for (const sheet::ReadingEntry& entry : session->readings()) EXPECT_EQ(entry.sigma, kSlopeSigma);

  const auto calm = fitted(repeated(kSlopeSigma, 5));
  EXPECT_THAT(repeats_words(run(), calm->report().repeats[0]), Not(HasSubstr("write sigma")));
}

TEST(Repeats, LeaveOutWhatTheFitSetAside) {
  auto entries = repeated(kSlopeSigma, 7);
  entries[20].value += 0.01;
  const auto session = fitted(entries);
  ASSERT_EQ(session->report().judgements[20].verdict, fit::Verdict::beyond_gate);
  EXPECT_EQ(session->report().repeats[0].degrees_of_freedom, 31);
  EXPECT_EQ(session->report().repeats[0].verdict, fit::ScatterVerdict::as_stated);
}

TEST(Repeats, StandInTheJsonWithTheWarnings) {
  EXPECT_THAT(nlohmann::json::parse(fit_json(run(), fitted(repeated(kSlopeSigma, 3, 1))->report()).dump())
                  .at("repeats"),
              IsEmpty());
  const auto session = fitted(repeated(kSlopeSigma, 3));
  const nlohmann::json json = nlohmann::json::parse(fit_json(run(), session->report()).dump());
  const nlohmann::json& one = json.at("repeats").at(0);
  EXPECT_EQ(one.at("channel"), "level slope");
  EXPECT_EQ(one.at("groups"), 16);
  EXPECT_EQ(one.at("degrees_of_freedom"), 32);
  EXPECT_EQ(one.at("verdict"), "as stated");
  for (const char* name : {"pooled_sigma", "stated_sigma", "p_value"})
    EXPECT_TRUE(one.at(name).is_number()) << name;
  EXPECT_TRUE(json.at("warnings").is_array());
}

TEST(Repeats, RaiseNoMoreFalseAlarmsThanStated) {
  constexpr int kRuns = trials(600);
  int alarms = 0;
  for (unsigned seed = 0; seed < kRuns; ++seed)
    alarms += fitted(repeated(kSlopeSigma, 1000 + seed, 2))->report().repeats.at(0).verdict ==
              fit::ScatterVerdict::larger_than_stated;
  EXPECT_LE(alarms, 0.01 * kRuns + 4 * std::sqrt(0.01 * kRuns));
}

TEST(Views, OfRepeatsAndWarningsFit80Columns) {
  Checks checks;
  checks.warnings = {{"level", CalibrationOverdue{"2026-01-01"}}, {"laser", NoDatumCheck{}}};
  SurveySession session(run(), &kit(), 0);
  session.take_checks(checks);
  for (const sheet::ReadingEntry& entry : repeated(2.5 * kSlopeSigma, 5)) session.add(entry);
  ASSERT_FALSE(session.fit());
  ASSERT_FALSE(session.make_card());
  for (const std::string& text :
       {fit_view(run(), session.report()), card_view(run(), session.report(), session.card())}) {
    EXPECT_THAT(text, HasSubstr("Note: level: calibration overdue since 2026-01-01."));
    EXPECT_THAT(text, HasSubstr("Repeats with level slope"));
    std::size_t start = 0;
    while (start < text.size()) {
      const std::size_t end = std::min(text.find('\n', start), text.size());
      EXPECT_LE(end - start, kColumns) << text.substr(start, end - start);
      start = end + 1;
    }
  }
}

}  // namespace
}  // namespace hangtrue::job
