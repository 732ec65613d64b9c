// What moved between two surveys, in words: units follow from what a change is, whatever its support or load is called.
#include "firmware-host/say/recheck.hpp"

#include <gtest/gtest.h>

#include "firmware-host/say/not_comparable.hpp"
#include "firmware-host/say/plan.hpp"
#include "firmware-host/say/sheet_changes.hpp"

namespace hangtrue::say {
namespace {

using job::UnknownOf;
constexpr sheet::Show kMetric = sheet::Show::metric;

job::Cause cause(UnknownOf of, const std::string& name, double value, double sigma) {
  job::Cause result;
  result.change.id = {.of = of, .name = name, .number = of == UnknownOf::bow ? 2 : 0, .change = true};
  result.change.can_be_seen = true;
  result.change.change = {kind_of(result.change.id), value, sigma};
  return result;
}

struct Case {
  UnknownOf of;
  std::string name;
  double value, sigma;
  std::string changed, says;
};
class Moved : public testing::TestWithParam<Case> {};

TEST_P(Moved, IsSaidInTheUnitOfWhatChanged) {
  const Case& one = GetParam();
  const job::Cause moved_so = cause(one.of, one.name, one.value, one.sigma);
  EXPECT_EQ(change_name(moved_so.change.id), one.changed);
  EXPECT_EQ(moved(moved_so, kMetric), one.says);
}

INSTANTIATE_TEST_SUITE_P(
    All, Moved,
    testing::Values(
        Case{UnknownOf::move_rise, "load post", -8e-4, 4e-5, "load post: rise",
             "load post sank by 0.800 mm +- 0.040 mm against the other supports"},
        Case{UnknownOf::move_pitch, "bow bracket", 1.2e-3, 1e-4, "bow bracket: pitch",
             "bow bracket turned in the vertical plane by 1.20 mm/m +- 0.10 mm/m, far side up"},
        Case{UnknownOf::move_roll, "zero", -1.2e-3, 1e-4, "zero: roll",
             "zero turned about the run's axis by 1.20 mm/m +- 0.10 mm/m, left edge down"},
        Case{UnknownOf::load, "set-up A", 0.1, 0.02, "load set-up A",
             "load set-up A is heavier by 10.0 % +- 2.0 %"},
        Case{UnknownOf::bending, "", -0.05, 0.01, "bending stiffness",
             "the run bends softer by 5.0 % +- 1.0 %"},
        Case{UnknownOf::torsion, "", 0.05, 0.01, "torsion stiffness",
             "the run twists stiffer by 5.0 % +- 1.0 %"},
        Case{UnknownOf::bow, "", 0.001, 0.0001, "bow 2",
             "the run itself bent by 1.000 mm +- 0.100 mm (bow 2)"},
        Case{UnknownOf::mark_height, "spring: pitch", 0.002, 0.0003, "mark spring: pitch: height",
             "mark spring: pitch stands higher by 2.000 mm +- 0.300 mm, or all supports the other way"}));

TEST(Moved, WhatLooksAlikeIsSaidWithWhatWouldTellItApart) {
  job::Cause sank = cause(UnknownOf::move_rise, "east rod", -8e-4, 4e-5);
  EXPECT_EQ(tell_apart(sank), "");
  sank.or_else = {{.of = UnknownOf::spring_rise, .name = "east rod", .change = true},
                  {.of = UnknownOf::move_rise, .name = "post", .change = true}};
  const std::string says = tell_apart(sank);
  EXPECT_NE(says.find("a survey under other loads"), std::string::npos) << says;
  EXPECT_NE(says.find("a stable mark read in both surveys"), std::string::npos) << says;
  job::Recheck recheck;
  recheck.answer = job::RecheckAnswer::moved;
  recheck.causes = {sank};
  const sheet::RunSheet run;
  EXPECT_NE(reason(run, recheck).find("(or as likely a change of: east rod: rise spring, post: rise)"),
            std::string::npos)
      << reason(run, recheck);
}

TEST(Remarks, ASurveyThatHoldsOnlyJustIsSaid) {
  EXPECT_EQ(remark(job::HoldsOnlyJust{"1", 0.0022}, kMetric),
            "Survey 1 scatters more than its instruments should (p = 0.0022; one good survey in a hundred "
            "does): what is told may be less sure than it says. To be sure, read again.");
}

TEST(Remarks, WhatBoreIsAskedForWhereItMatters) {
  EXPECT_EQ(
      remark(job::BearingNotKnown{"1", {"near rod"}}, kMetric),
      "What is named depends on whether near rod bore at survey 1, which its readings do not tell: try by "
      "hand what bears, and say so at every survey.");
}

TEST(Trend, OfASupportThatIsCalledLoadPostIsInMillimetres) {
  job::Trend trend_so{
      .of = job::AgainstFarthestSupport{"load post"}, .per_year = -1.2e-3, .per_year_sigma = 1e-4};
  trend_so.p_value = 0;
  EXPECT_EQ(trend(trend_so, kMetric),
            "load post: height against the farthest support changes by -1.200 mm +- 0.100 mm a year.");
  trend_so.limit = 0.002;
  trend_so.past_limit = true;
  EXPECT_EQ(
      trend(trend_so, kMetric),
      "load post: height against the farthest support changes by -1.200 mm +- 0.100 mm a year; past 2.000 "
      "mm already.");
  trend_so.limit_stage = "in use";
  EXPECT_NE(trend(trend_so, kMetric).find("past 2.000 mm, allowed at stage \"in use\", already."),
            std::string::npos);
}

TEST(NotComparable, NamesTheSurveysOfTheBookAndHowManyMoreThereAre) {
  job::NoSuchSurvey none{job::Which::from, "z", {}};
  EXPECT_EQ(not_comparable(none, kMetric).text(),
            "level book: --from: found \"z\", expected a survey, but the book holds none");
  for (int i = 1; i <= 22; ++i) none.known.push_back(std::to_string(i));
  EXPECT_NE(not_comparable(none, kMetric).expected.find("19, 20 and 2 more"), std::string::npos);
}

TEST(Plain, SaysAnUnknownAsAPersonWould) {
  EXPECT_EQ(plain({.of = UnknownOf::support_rise, .name = "load post"}), "how high load post stands");
  EXPECT_EQ(plain({.of = UnknownOf::mark_height, .name = "a: b"}), "the height of mark a: b");
  EXPECT_EQ(plain({.of = UnknownOf::zero, .name = "level", .channel = Channel::roll}),
            "the zero error of level roll");
  EXPECT_EQ(plain({.of = UnknownOf::datum_tilt, .name = "A"}), "the tilt of the laser's datum in set-up A");
}

}  // namespace
}  // namespace hangtrue::say
