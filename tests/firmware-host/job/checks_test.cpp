// What the book's checks mean for a survey: which one counts, as which prior, and what is warned of.
#include "firmware-host/job/checks.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <random>

#include "core/fit/repeatability.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/json/fit.hpp"
#include "firmware-host/say/checks.hpp"
#include "tests/firmware-host/job/kit.hpp"
#include "tests/trials.hpp"

namespace hangtrue::job {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using Entries = std::vector<book::NumberedEntry>;

TEST(TimeOf, ReadsRfc3339AndNothingElse) {
  const auto noon = at("2026-09-14T12:00:00Z");
  EXPECT_EQ(at("2026-09-14T14:00:00+02:00"), noon);
  EXPECT_EQ(at("2026-09-14T06:30:00-05:30"), noon);
  EXPECT_EQ(at("2026-09-14T12:00:00.25Z") - noon, std::chrono::milliseconds(250));
  EXPECT_EQ(book::rfc3339(at("2026-09-14T12:00:00.250001Z")), "2026-09-14T12:00:00.250001Z");
  for (const char* text : {"", "2026-09-14", "2026-09-14T12:00:00", "2026-02-30T12:00:00Z", "noon",
                           "2026-09-14 12:00", "2026-09-14T12:00:00+", "2026-09-14T12:00:00.5"})
    EXPECT_FALSE(time_of(text)) << text;
}

TEST(GatherChecks, TakesTheLatestOfEachChannelAndWidensItByHowTheZeroKeeps) {
  const Entries entries{zero_check(1, "2026-09-01T08:00:00Z", "slope", 1e-4),
                        zero_check(2, "2026-09-01T08:00:00Z", "roll", -5e-5),
                        datum_check(3, "2026-09-02T08:00:00Z", 4e-5),
                        zero_check(4, "2026-09-10T08:00:00Z", "slope", 2e-4)};
  const Checks checks = gather_checks(kit(), entries);
  ASSERT_EQ(checks.zeros.size(), 2u);
  EXPECT_EQ(name_of(checks.zeros[0].channel), "level slope");
  EXPECT_EQ(checks.zeros[0].zero, 2e-4);
  EXPECT_NEAR(checks.zeros[0].sigma, std::hypot(1e-5, kSlopeKeeps), 1e-18);
  EXPECT_EQ(checks.zeros[0].time, at("2026-09-10T08:00:00Z"));
  EXPECT_EQ(name_of(checks.zeros[1].channel), "level roll");
  EXPECT_NEAR(checks.zeros[1].sigma, std::hypot(1e-5, kSlopeSigma),
              1e-18);  // keeps as its sigma, unless stated
  ASSERT_EQ(checks.tilts.size(), 1u);
  EXPECT_EQ(checks.tilts[0].tilt_rad, 4e-5);
  // No scatter in its rounds: what two readings 3.6 m apart alone would do.
  EXPECT_NEAR(checks.tilts[0].sigma_rad, std::hypot(1e-5, std::sqrt(2.0) * kDistanceSigma / 3.6), 1e-18);
}

TEST(GatherChecks, ALaserThatLevelsUnevenlyHasTheScatterOfItsRoundsInTheSigma) {
  const double stated = std::sqrt(2.0) * kDistanceSigma / 3.6;
  const auto sigma =
      [](double tilt) {  // tilts of -tilt, 0, tilt in set-up 1, none in set-up 2: s^2 = 2 tilt^2 / 4
        Entries entries{datum_check(1, "2026-09-02T08:00:00Z", 4e-5)};
        std::get<book::DatumCheck>(entries[0].entry.content).far_1 = {0.5 - 3.6 * tilt, 0.5,
                                                                      0.5 + 3.6 * tilt};
        return gather_checks(kit(), entries).tilts[0].sigma_rad;
      };
  // 4 degrees of freedom and the stated one's 4; 1.4 times what is stated is still as stated, 1.8 times is not:
  // t_0.975(4) / z_0.975 = 2.77644511 / 1.95996398 of the scatter then.
  const double near = 1.4 * stated * std::sqrt(2.0), far = 1.8 * stated * std::sqrt(2.0);
  EXPECT_NEAR(sigma(near), std::hypot(1e-5, std::sqrt((stated * stated + near * near / 2) / 2)), 1e-12);
  EXPECT_NEAR(sigma(far), std::hypot(1e-5, 1.8 * stated * 2.77644511 / 1.9599639845), 1e-12);
}

TEST(GatherChecks, PassesOverWhatTheKitDoesNotHave) {
  Entries entries{zero_check(1, "2026-09-01T08:00:00Z", "slope", 1e-4)};
  std::get<book::ZeroCheck>(entries[0].entry.content).instrument = "another";
  const Checks checks = gather_checks(kit(), entries);
  EXPECT_THAT(checks.zeros, IsEmpty());
  EXPECT_THAT(checks.tilts, IsEmpty());
}

book::NumberedEntry taken(book::Number number, const std::string& time,
                          std::optional<double> temperature_C = {}) {
  book::Taken content;
  content.reading.instrument = "level";
  content.reading.time = time;
  content.temperature_C = temperature_C;
  return {number, {content, 1, at(time)}};
}

TEST(ChecksForSurvey, AnOldSurveyKeepsItsAnswerWhateverIsCheckedLater) {
  Entries checks{zero_check(5, "2026-09-01T08:00:00Z", "slope", 1e-4),
                 zero_check(50, "2026-11-01T08:00:00Z", "slope", 9e-4)};
  const Entries survey{taken(11, "2026-09-02T08:00:00Z"), taken(12, "2026-09-02T09:00:00Z")};
  const auto zero = [&] { return checks_for_survey(kit(), checks, 10, survey).zeros.at(0).zero; };
  EXPECT_EQ(zero(), 1e-4);
  checks.push_back(zero_check(13, "2026-09-02T10:00:00Z", "slope", 2e-4));
  EXPECT_EQ(zero(), 1e-4);
  checks.back().entry.survey = 10;  // made in the course of the survey, after its last reading so far
  EXPECT_EQ(zero(), 2e-4);
}

TEST(ChecksForSurvey, ACheckBeforeTheClosingCounts) {
  const Entries checks{zero_check(13, "2026-09-02T10:00:00Z", "slope", 2e-4)};
  Entries survey{taken(11, "2026-09-02T08:00:00Z")};
  EXPECT_THAT(checks_for_survey(kit(), checks, 10, survey).zeros, IsEmpty());
  survey.push_back({14, {book::SurveyClosed{}, 10, at("2026-09-02T11:00:00Z")}});
  EXPECT_EQ(checks_for_survey(kit(), checks, 10, survey).zeros.size(), 1u);
}

TEST(ChecksForSurvey, TakesTheLastWordOnWhereASetUpStandsAndWarnsForTheInstrumentsUsed) {
  const auto placed = [](book::Number number, std::optional<double> stands_at_m) {
    return book::NumberedEntry{number, {book::SetUp{"A", stands_at_m}, 10, at("2026-09-02T08:00:00Z")}};
  };
  const Entries survey{placed(11, -1.0), placed(12, 5.0), taken(13, "2026-09-02T08:00:00Z", 20.0)};
  const Checks checks = checks_for_survey(kit(), {}, 10, survey);
  ASSERT_EQ(checks.set_ups.size(), 1u);
  EXPECT_EQ(checks.set_ups[0].stands_at_m, 5.0);
  ASSERT_EQ(checks.warnings.size(), 1u);
  EXPECT_EQ(checks.warnings[0].instrument, "level");
  EXPECT_THAT(std::get<NoZeroCheck>(checks.warnings[0].what).channels,
              ElementsAre(Channel::slope, Channel::roll));
}

// ---- warnings -----------------------------------------------------------------------------------------------------

std::vector<std::string> warned(const Entries& entries, const std::string& date,
                                std::optional<double> temperature_C = {}) {
  return say::warnings(check_warnings(kit(), entries, {date, {{"level", temperature_C}}}), run().show);
}
Entries checked(const std::string& time, std::optional<double> temperature_C = {}) {
  Entries entries{zero_check(1, time, "slope", 1e-4), zero_check(2, time, "roll", 1e-4)};
  for (book::NumberedEntry& each : entries)
    std::get<book::ZeroCheck>(each.entry.content).temperature_C = temperature_C;
  return entries;
}

TEST(CheckWarnings, SayWhenACalibrationIsDueOverdueOrNotStated) {
  const std::string fresh = "2027-08-10T08:00:00Z";
  EXPECT_THAT(warned(checked(fresh), "2027-08-14"), IsEmpty());  // due 2027-09-14, in 31 days
  EXPECT_THAT(warned(checked(fresh), "2027-08-15"),
              ElementsAre("level: calibration due on 2027-09-14, in 30 days."));
  EXPECT_THAT(warned(checked("2027-09-10T08:00:00Z"), "2027-09-14"),
              ElementsAre("level: calibration due on 2027-09-14, in 0 days."));
  EXPECT_THAT(warned(checked("2027-09-10T08:00:00Z"), "2027-09-15"),
              ElementsAre("level: calibration overdue since 2027-09-14."));
  const auto of_laser = check_warnings(kit(), Entries{datum_check(1, "2026-10-01T08:00:00Z", 0)},
                                       {"2026-10-02", {{"laser", {}}}});
  EXPECT_THAT(say::warnings(of_laser, run().show),
              ElementsAre("laser: no calibration is stated in the kit sheet."));
}

TEST(CheckWarnings, SayWhenACheckIsOldOrMissing) {
  EXPECT_THAT(warned(checked("2026-10-01T08:00:00Z"), "2026-10-31"), IsEmpty());
  EXPECT_THAT(warned(checked("2026-10-01T08:00:00Z"), "2026-11-01"),
              ElementsAre(HasSubstr("the last zero check of slope is 31 days old"),
                          HasSubstr("the last zero check of roll is 31 days old")));
  EXPECT_THAT(warned({zero_check(1, "2026-10-01T08:00:00Z", "slope", 0)}, "2026-10-02"),
              ElementsAre(HasSubstr("no zero check of roll in the book")));
  // All of the kit where no instrument is named.
  EXPECT_EQ(check_warnings(kit(), {}, {"2026-10-02", {}}).size(), 3u);
}

TEST(CheckWarnings, SayWhenItIsMuchWarmerOrColderThanAtTheCheck) {
  const Entries entries = checked("2026-10-01T08:00:00Z", 10.0);
  EXPECT_THAT(warned(entries, "2026-10-02", 20.0), IsEmpty());
  EXPECT_THAT(warned(entries, "2026-10-02", -0.1), ::testing::SizeIs(2));
  EXPECT_THAT(warned(entries, "2026-10-02", 20.1),
              ::testing::Contains(HasSubstr("read at 20 C, but its zero check of "
                                            "slope was made at 10 C")));
  EXPECT_THAT(warned(entries, "2026-10-02"), IsEmpty());
}

TEST(CheckWarnings, TheGraverComeFirstDriftAndServiceBeforeAge) {
  Entries entries = checked("2026-10-01T08:00:00Z");
  entries.push_back(zero_check(3, "2026-10-02T08:00:00Z", "slope", 1.2e-3));
  EXPECT_THAT(
      warned(entries, "2026-11-30"),
      ElementsAre(HasSubstr("more than three times what its kit sheet states, 0.300 mm/m: have it serviced"),
                  HasSubstr("zero has drifted by 1.100 mm/m +- 0.033 mm/m from 2026-10-01 to 2026-10-02"),
                  HasSubstr("59 days old"), HasSubstr("60 days old")));
}

// sqrt(2 * 1e-5^2 + 3e-5^2) = 3.317e-5; 2.5758 of those is where chance would bring 1 %.
TEST(DriftOfAZero, IsSignificantBeyondWhatChecksAndKeepingExplain) {
  EXPECT_FALSE(drift(1e-4, 1e-5, 1e-4 + 2.57 * 3.3166e-5, 1e-5, kSlopeKeeps).significant);
  EXPECT_TRUE(drift(1e-4, 1e-5, 1e-4 + 2.59 * 3.3166e-5, 1e-5, kSlopeKeeps).significant);
  EXPECT_TRUE(drift(1e-4, 1e-5, 1e-4 - 2.59 * 3.3166e-5, 1e-5, kSlopeKeeps).significant);
}

// Two checks of three rounds each, the zero having moved by what zero_keeps says: alarms stay below the stated 1 %
// (below, since a check never claims less than the stated sigma). A drift of six sigma is found.
TEST(DriftOfAZero, RaisesNoMoreFalseAlarmsThanStated) {
  std::mt19937 random(21);
  std::normal_distribution<double> normal;
  const auto check = [&](double zero) {
    std::vector<double> faces[2];
    for (int i = 0; i < 3; ++i)
      for (auto& face : faces) face.push_back(zero + kSlopeSigma * normal(random));
    return fit::zero_by_faces(faces[0], faces[1], kSlopeSigma);
  };
  constexpr int kRuns = trials(20000);
  int alarms = 0, found = 0;
  for (int i = 0; i < kRuns; ++i) {
    const double moved = kSlopeKeeps * normal(random);
    const fit::Checked former = check(1e-4), now = check(1e-4 + moved);
    alarms += drift(former.value, former.sigma, now.value, now.sigma, kSlopeKeeps).significant;
    const double sigma = std::hypot(kSlopeSigma / std::sqrt(3.0), kSlopeKeeps);
    found += drift(former.value, former.sigma, now.value + 6 * sigma, now.sigma, kSlopeKeeps).significant;
  }
  if (!kSharesTell) return;
  EXPECT_LE(double(alarms) / kRuns, 0.01 + 4 * std::sqrt(0.01 / kRuns));
  EXPECT_GE(double(alarms) / kRuns, 0.004);
  EXPECT_GE(double(found) / kRuns, 0.98);
}

// ---- as priors of a survey ----------------------------------------------------------------------------------------

sheet::ReadingEntry slope(const std::string& time, double x, double value, int face = 1) {
  sheet::ReadingEntry entry;
  entry.time = time;
  entry.instrument = "level";
  entry.at_m = x;
  entry.face = face;
  entry.value = value;
  entry.sigma = kSlopeSigma;
  entry.base_m = 0.25;
  return entry;
}
sheet::ReadingEntry distance(const std::string& set_up, double x, double value) {
  sheet::ReadingEntry entry;
  entry.set_up = set_up;
  entry.instrument = "laser";
  entry.channel = Channel::distance;
  entry.at_m = x;
  entry.value = value;
  entry.sigma = kDistanceSigma;
  return entry;
}
fit::Estimate<double> parameter(const SurveyFit& session, const std::string& name) {
  for (const UnknownEstimate& each : session.report().parameters)
    if (name_of(each.id) == name) return each.estimate;
  ADD_FAILURE() << "no parameter " << name;
  return {};
}
Checks one_zero(double zero, double sigma, const std::string& time) {
  Checks checks;
  checks.zeros.push_back({{"level", Channel::slope}, zero, sigma, at(time)});
  return checks;
}

TEST(SurveyWithChecks, ShowsTheCheckAsThePriorOfTheZero) {
  SurveyFit session(run(), &kit(), 0);
  ASSERT_TRUE(session.fit());
  EXPECT_EQ(parameter(session, "level slope: zero").prior_value, 0);
  EXPECT_NEAR(parameter(session, "level slope: zero").prior_sigma, kZeroSigma, 1e-12);
  session.take_checks(one_zero(2e-4, 3e-5, "2026-09-01T08:00:00Z"));
  ASSERT_TRUE(session.fit());
  EXPECT_NEAR(parameter(session, "level slope: zero").prior_value, 2e-4, 1e-15);
  EXPECT_NEAR(parameter(session, "level slope: zero").prior_sigma, 3e-5, 1e-15);
  EXPECT_NEAR(parameter(session, "level roll: zero").prior_sigma, kZeroSigma, 1e-12);
  session.take_checks({});
  ASSERT_TRUE(session.fit());
  EXPECT_NEAR(parameter(session, "level slope: zero").prior_sigma, kZeroSigma, 1e-12);
}

// One face alone cannot tell tilt from zero error; with a check it can.
TEST(SurveyWithChecks, OneFaceIsEnoughOnceTheZeroIsChecked) {
  const SolvedRun solved(run());
  SurveyFit session(run(), &kit(), 0);
  for (const double x : run().stations_m)
    session.add(slope("", x, solved.solver().at(0, std::clamp(x, 0.125, 4.075)).slope_rad + 0.001 + 2e-4));
  ASSERT_TRUE(session.fit());
  const double before = session.report().stations.back().slope_sigma_rad;
  session.take_checks(one_zero(2e-4, 1e-5, "2026-09-01T08:00:00Z"));
  ASSERT_TRUE(session.fit());
  EXPECT_LT(session.report().stations.back().slope_sigma_rad, before / 5);
  EXPECT_NEAR(parameter(session, "level slope: zero").value, 2e-4, 2e-5);
}

// A survey at noon, whose zero the next stage carries on.
std::unique_ptr<CarriedState> lasting_of_noon(bool read, const std::string& time = "2026-09-14T12:00:00Z") {
  SurveyFit first(run(), &kit(), 0);
  first.take_checks(one_zero(1e-4, 2e-5, "2026-09-14T08:00:00Z"));
  if (read)
    for (const double x : {0.6, 1.5, 2.7, 3.6})
      for (const int face : {1, -1}) first.add(slope(time, x, face * 0.001 + 1.2e-4, face));
  EXPECT_TRUE(first.fit());
  return first.carry(0);
}
fit::Estimate<double> zero_after(const CarriedState& lasting, const std::string& time) {
  SurveyFit second(run(), &kit(), 1, &lasting);
  second.take_checks(one_zero(-5e-5, 1e-5, time));
  EXPECT_TRUE(second.fit());
  return parameter(second, "level slope: zero");
}

TEST(SurveyWithChecks, ALaterCheckTakesThePlaceOfACarriedZeroAndNoOther) {
  const auto lasting = lasting_of_noon(true);
  SurveyFit as_carried(run(), &kit(), 1, lasting.get());
  ASSERT_TRUE(as_carried.fit());
  const fit::Estimate<double> carried = parameter(as_carried, "level slope: zero");
  EXPECT_NEAR(carried.prior_value, 1.2e-4, 1e-5);

  const fit::Estimate<double> older = zero_after(*lasting, "2026-09-14T11:59:59Z");
  EXPECT_NEAR(older.prior_value, carried.prior_value, 1e-15);
  EXPECT_NEAR(older.prior_sigma, carried.prior_sigma, 1e-15);
  const fit::Estimate<double> later = zero_after(*lasting, "2026-09-14T12:00:01Z");
  EXPECT_NEAR(later.prior_value, -5e-5, 1e-15);
  EXPECT_NEAR(later.prior_sigma, 1e-5, 1e-15);
}

TEST(SurveyWithChecks, WhatElseIsCarriedStaysWhenAZeroIsReplaced) {
  const auto lasting = lasting_of_noon(true);
  SurveyFit kept(run(), &kit(), 1, lasting.get()), replaced(run(), &kit(), 1, lasting.get());
  replaced.take_checks(one_zero(1.2e-4, 1e-5, "2026-09-15T08:00:00Z"));
  ASSERT_TRUE(kept.fit());
  ASSERT_TRUE(replaced.fit());
  for (const char* name : {"wall bracket: pitch", "bow 1", "bending stiffness"}) {
    EXPECT_NEAR(parameter(replaced, name).prior_sigma / parameter(kept, name).prior_sigma, 1, 1e-6) << name;
    EXPECT_NEAR(parameter(replaced, name).prior_value, parameter(kept, name).prior_value, 1e-9) << name;
  }
}

TEST(SurveyWithChecks, AZeroThatWasNeverReadCarriesNothingAndOneReadWithoutATimeAlwaysDoes) {
  EXPECT_NEAR(zero_after(*lasting_of_noon(false), "2026-09-01T08:00:00Z").prior_value, -5e-5, 1e-15);
  EXPECT_NEAR(zero_after(*lasting_of_noon(true, ""), "2036-09-01T08:00:00Z").prior_value, 1.2e-4, 1e-5);
}

// A distance is the height less the datum's height and tilt * x (data/interfaces.md): a laser before the start sees its
// own tilt as it is, one beyond the end sees the opposite.
TEST(SurveyWithChecks, ADatumTiltGoesByWhereTheLaserStands) {
  Checks checks = gather_checks(kit(), Entries{datum_check(1, "2026-09-01T08:00:00Z", 2e-4)});
  const double sigma = checks.tilts[0].sigma_rad;
  checks.set_ups = {{"before", 0.0}, {"beyond", 4.2}, {"within", 2.0}};
  SurveyFit session(run(), &kit(), 0);
  session.take_checks(checks);
  for (const char* set_up : {"before", "beyond", "within", "unknown"})
    session.add(distance(set_up, 1.0, -1.2));
  ASSERT_TRUE(session.fit());
  const auto prior = [&](const std::string& set_up) {
    return parameter(session, "set-up " + set_up + ": datum tilt");
  };
  EXPECT_NEAR(prior("before").prior_value, 2e-4, 1e-15);
  EXPECT_NEAR(prior("before").prior_sigma, sigma, 1e-15);
  EXPECT_NEAR(prior("beyond").prior_value, -2e-4, 1e-15);
  EXPECT_NEAR(prior("beyond").prior_sigma, sigma, 1e-15);
  for (const char* set_up : {"within", "unknown"}) {
    EXPECT_NEAR(prior(set_up).prior_value, 0, 1e-15);
    EXPECT_NEAR(prior(set_up).prior_sigma, std::hypot(run().priors.datum_tilt_sigma, 2e-4), 1e-15);
  }
}

TEST(SurveyWithChecks, WarningsAreShownWithTheFit) {
  Checks checks;
  checks.warnings = {{"level", CalibrationOverdue{"2026-01-01"}}};
  SurveyFit session(run(), &kit(), 0);
  session.take_checks(checks);
  ASSERT_TRUE(session.fit());
  ASSERT_EQ(session.report().warnings.size(), 1u);
  EXPECT_EQ(session.report().warnings[0].instrument, "level");
  EXPECT_THAT(json::fit_json(run(), session.report()).at("warnings").dump(),
              HasSubstr("level: calibration overdue since 2026-01-01."));
}

}  // namespace
}  // namespace hangtrue::job
