// Fit and card as people read them: within 80 columns, with what to do.
#include "firmware-host/say/fit.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/predict.hpp"
#include "firmware-host/say/table.hpp"
#include "tests/firmware-host/fixtures/shelf.hpp"
#include "tests/firmware-host/job/kit.hpp"

namespace hangtrue::say {
namespace {

using fixtures::repeated_readings;
using fixtures::shelf;
using fixtures::tilted_readings;
using job::kSlopeSigma;
using ::testing::HasSubstr;
using ::testing::Not;

std::unique_ptr<job::SurveyFit> fitted(const std::vector<sheet::ReadingEntry>& entries,
                                       const sheet::KitSheet* kit = nullptr, job::Checks checks = {}) {
  auto survey = std::make_unique<job::SurveyFit>(shelf(), kit, 0);
  survey->take_checks(std::move(checks));
  for (const sheet::ReadingEntry& entry : entries) survey->add(entry);
  EXPECT_TRUE(survey->fit());
  return survey;
}

void expect_80_columns(const std::string& text) {
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    EXPECT_LE(end - start, kColumns) << text.substr(start, end - start);
    start = end + 1;
  }
}

std::string predicted(const sheet::RunSheet& run) {
  job::SolvedRun solved(run);
  const job::FinishedLevel level = job::finished_level(run, solved.solver());
  if (level.within != false) return prediction_view(run, solved.solver(), level, nullptr);
  const job::BestSetting best = job::best_setting(run).value();
  return prediction_view(run, solved.solver(), level, &best);
}

TEST(Views, OfAPredictionSayFirstWhetherItWillBeLevel) {
  const std::string no = predicted(shelf());
  EXPECT_THAT(no, HasSubstr("Will it be level when finished?  NO, not as written."));
  EXPECT_THAT(no, HasSubstr("over the tolerance of 1.500 mm"));
  const std::string yes = predicted(fixtures::shelf_with({{"level = \"1.5 mm\"", "level = \"90 mm\""}}));
  EXPECT_THAT(yes, HasSubstr("Will it be level when finished?  YES, as written."));
  EXPECT_THAT(yes, Not(HasSubstr("Set as well as")));
  const std::string open = predicted(fixtures::shelf_with(
      {{"[tolerance]\nlevel = \"1.5 mm\"\nstage = \"in use\"\nconfidence = 0.95\nspan_ratio = 360\n", ""}}));
  EXPECT_THAT(open, HasSubstr("the sheet names no tolerance"));
  EXPECT_THAT(open, Not(HasSubstr("YES")));
  expect_80_columns(no);
}

TEST(Views, KeepWithin80Columns) {
  const auto survey = fitted(tilted_readings(shelf()));
  const job::Card card = job::make_card(*survey).value();
  expect_80_columns(predicted(shelf()));
  expect_80_columns(fit_view(shelf(), survey->report()));
  expect_80_columns(card_view(shelf(), survey->report(), card));
}

TEST(Views, OfRepeatsAndWarningsKeepWithin80Columns) {
  job::Checks checks;
  checks.warnings = {{"level", job::CalibrationOverdue{"2026-01-01"}}, {"laser", job::NoDatumCheck{}}};
  const auto survey = fitted(repeated_readings(2.5 * kSlopeSigma, 5), &job::kit(), checks);
  const job::Card card = job::make_card(*survey).value();
  for (const std::string& text :
       {fit_view(shelf(), survey->report()), card_view(shelf(), survey->report(), card)}) {
    EXPECT_THAT(text, HasSubstr("Note: level: calibration overdue since 2026-01-01."));
    EXPECT_THAT(text, HasSubstr("Repeats with level slope"));
    expect_80_columns(text);
  }
}

TEST(Views, ACardWithoutReadingsAdvisesNoMove) {
  const auto survey = fitted({});
  const job::Card card = job::make_card(*survey).value();
  EXPECT_THAT(card_view(shelf(), survey->report(), card), HasSubstr("No move can be advised"));
}

TEST(Repeats, ThatScatterMoreThanStatedAreSaidWithWhatToDo) {
  const auto survey = fitted(repeated_readings(2.5 * kSlopeSigma, 5), &job::kit());
  const job::FitReport& report = survey->report();
  ASSERT_EQ(report.repeats.size(), 1u);
  const std::string words = repeats_words(shelf(), report.repeats[0]);
  EXPECT_THAT(words, HasSubstr("0.020 mm/m is stated: larger than stated (p < 0.001)"));
  EXPECT_THAT(words, HasSubstr("mm/m stated as this channel's sigma in the kit sheet"));
  EXPECT_THAT(fit_view(shelf(), report), HasSubstr("larger than stated"));

  const auto calm = fitted(repeated_readings(kSlopeSigma, 5), &job::kit());
  EXPECT_THAT(repeats_words(shelf(), calm->report().repeats[0]), Not(HasSubstr("channel's sigma")));
}

// A cause is worded by what the unknown is; its value by the kind of the quantity.
TEST(Causes, AreWordedForEachKindOfUnknown) {
  using job::UnknownOf;
  const auto words = [](job::UnknownId id, double value, double sigma) {
    return cause_words(
        {.kind = fit::CauseKind::unknown_off, .unknown = id, .off = {kind_of(id), value, sigma}},
        sheet::Show::metric);
  };
  EXPECT_EQ(words({UnknownOf::support_rise, "load post"}, -0.001, 0.0001),
            "load post stands lower than assumed: -1.000 mm +- 0.100 mm");
  EXPECT_EQ(words({UnknownOf::support_pitch, "bow bracket"}, 0.001, 0.0001),
            "bow bracket is turned: pitch 1.00 mm/m +- 0.10 mm/m");
  EXPECT_EQ(words({UnknownOf::spring_rise, "zero"}, 0, 0.1), "zero is stiffer than listed: 1.00 times");
  EXPECT_EQ(words({UnknownOf::load, "x: rise"}, 1.2, 0.1), "load x: rise is heavier than listed: 1.20 times");
  EXPECT_EQ(words({UnknownOf::bending}, 0.9, 0.1),
            "the run is softer than predicted: bending stiffness 0.90 times");
  EXPECT_EQ(words({UnknownOf::datum_tilt, "A: height"}, 0.002, 0.0001),
            "set-up A: height: the datum is tilted, 2.00 mm/m +- 0.10 mm/m");
  EXPECT_EQ(words({UnknownOf::zero, "y distance", Channel::slope}, 0.0005, 0),
            "y distance slope: zero has drifted: 0.50 mm/m");
  EXPECT_EQ(words({UnknownOf::zero, "laser", Channel::distance}, 0.0005, 0),
            "laser distance: zero has drifted: 0.500 mm");
  EXPECT_EQ(words({.of = UnknownOf::bow, .number = 2}, 0.0005, 0.0001),
            "bow 2 is larger than assumed: 0.500 mm +- 0.100 mm");
  EXPECT_EQ(words({UnknownOf::mark_height, "lintel"}, 0.0005, 0.0001),
            "mark lintel: height is larger than assumed: 0.500 mm +- 0.100 mm");
  EXPECT_EQ(
      cause_words({.kind = fit::CauseKind::rough_channel, .channel = job::ChannelId{"level", Channel::roll}},
                  sheet::Show::metric),
      "level roll scatters more than stated");
}

}  // namespace
}  // namespace hangtrue::say
