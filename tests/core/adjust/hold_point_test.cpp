#include "core/adjust/hold_point.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace hangtrue::adjust {
namespace {

/// Sure now and after, everything in order.
HoldPointInput fine() {
  HoldPointInput in;
  in.confidence = 0.95;
  in.chance_now = in.chance_after = 0.99;
  in.level_error_now_m = in.level_error_after_m = 0.5e-3;
  in.tolerance_m = 1.5e-3;
  in.choice_exists = in.fit_holds = in.has_readings = true;
  return in;
}

struct Case {
  const char* legend;
  void (*change)(HoldPointInput&);
  HoldPoint answer;
  HoldPointReason reason;
};

class HoldPointTable : public ::testing::TestWithParam<Case> {};

TEST_P(HoldPointTable, Answers) {
  HoldPointInput in = fine();
  GetParam().change(in);
  const HoldPointAnswer out = hold_point(in);
  EXPECT_EQ(short_name(out.answer), short_name(GetParam().answer));
  EXPECT_EQ(out.reason, GetParam().reason);
  EXPECT_EQ(out.numbers.tolerance_m, in.tolerance_m);
}

using In = HoldPointInput;
using P = HoldPoint;
using R = HoldPointReason;
constexpr double kJustBelow = 0.9499999;

INSTANTIATE_TEST_SUITE_P(
    Cases, HoldPointTable,
    ::testing::Values(
        Case{"sure as things are", [](In&) {}, P::ready_to_bolt, R::within_tolerance},
        Case{"p just c", [](In& i) { i.chance_now = 0.95; }, P::ready_to_bolt, R::within_tolerance},
        Case{"p just below c, q above", [](In& i) { i.chance_now = kJustBelow, i.moves = 1; }, P::shim_first,
             R::moves_suffice},
        Case{"p below, q just c", [](In& i) { i.chance_now = 0.2, i.chance_after = 0.95, i.moves = 2; },
             P::shim_first, R::moves_suffice},
        Case{"p below, q just below, error after just the tolerance",
             [](In& i) {
               i.chance_now = 0.2, i.chance_after = kJustBelow, i.moves = 2, i.level_error_after_m = 1.5e-3;
             },
             P::read_again, R::uncertainty_alone},
        Case{"p below, q below, error after just above",
             [](In& i) {
               i.chance_now = 0.2, i.chance_after = kJustBelow, i.moves = 2,
               i.level_error_after_m = 1.5000001e-3;
             },
             P::shims_cannot, R::error_after_too_large},
        Case{"p below, q below, level but not straight after",
             [](In& i) { i.chance_now = 0.2, i.chance_after = kJustBelow, i.moves = 2, i.straight_after = false; },
             P::shims_cannot, R::not_straight_after},
        Case{"nothing to move, error too large",
             [](In& i) { i.chance_now = i.chance_after = 0.01, i.level_error_after_m = 4e-3; },
             P::shims_cannot, R::error_after_too_large},
        Case{"the sheet asks for less", [](In& i) { i.confidence = 0.5, i.chance_now = 0.6; },
             P::ready_to_bolt, R::within_tolerance},
        Case{"fit does not hold", [](In& i) { i.fit_holds = false; }, P::read_again, R::fit_does_not_hold},
        Case{"fit does not hold, shims would do",
             [](In& i) { i.fit_holds = false, i.chance_now = 0.1, i.moves = 1; }, P::read_again,
             R::fit_does_not_hold},
        Case{"no readings", [](In& i) { i.has_readings = false; }, P::read_again, R::no_readings},
        Case{"no readings, fit unknown", [](In& i) { i.has_readings = i.fit_holds = false; }, P::read_again,
             R::no_readings},
        Case{"unloaded, cured, q above", [](In& i) { i.support_unloaded = true, i.moves = 1; }, P::shim_first,
             R::moves_cure_a_support},
        Case{"unloaded, cured, p below, q just c",
             [](In& i) { i.support_unloaded = true, i.moves = 1, i.chance_now = 0.3, i.chance_after = 0.95; },
             P::shim_first, R::moves_suffice},
        Case{"unloaded, cured, q just below, level on the mean",
             [](In& i) { i.support_unloaded = true, i.moves = 1, i.chance_after = kJustBelow; },
             P::read_again, R::uncertainty_alone},
        Case{"unloaded, cured, not level",
             [](In& i) {
               i.support_unloaded = true, i.moves = 1, i.chance_after = 0.1, i.level_error_after_m = 2e-3;
             },
             P::shims_cannot, R::error_after_too_large},
        Case{"unloaded, no choice", [](In& i) { i.support_unloaded = true, i.choice_exists = false; },
             P::shims_cannot, R::no_moves_keep_limits},
        Case{"unloaded, choice moves nothing", [](In& i) { i.support_unloaded = true; }, P::shims_cannot,
             R::support_not_cured},
        Case{"over its rating, cured", [](In& i) { i.support_over_rating = true, i.moves = 1; },
             P::shim_first, R::moves_cure_a_support},
        Case{"over its rating, no choice",
             [](In& i) { i.support_over_rating = true, i.choice_exists = false; }, P::shims_cannot,
             R::no_moves_keep_limits},
        Case{"not level, no choice", [](In& i) { i.chance_now = 0.1, i.choice_exists = false; },
             P::shims_cannot, R::no_moves_keep_limits},
        Case{"search stopped, sure now", [](In& i) { i.search_stopped = true; }, P::ready_to_bolt,
             R::within_tolerance},
        Case{"search stopped, a choice that suffices",
             [](In& i) { i.search_stopped = true, i.chance_now = 0.1, i.moves = 1; }, P::shim_first,
             R::moves_suffice},
        Case{"sure, but a doubt is open", [](In& i) { i.doubt_open = true; }, P::read_again, R::doubt_open},
        Case{"a doubt is open, moves would do",
             [](In& i) { i.doubt_open = true, i.chance_now = 0.2, i.moves = 1; }, P::shim_first,
             R::moves_suffice},
        Case{"a doubt against moves, sure",
             [](In& i) { i.doubt_open = i.doubt_against_moves = true; }, P::read_again,
             R::doubt_against_moves},
        Case{"a doubt against moves, moves would do",
             [](In& i) { i.doubt_open = i.doubt_against_moves = true, i.chance_now = 0.2, i.moves = 1; },
             P::read_again, R::doubt_against_moves},
        Case{"a doubt against moves, error too large",
             [](In& i) {
               i.doubt_open = i.doubt_against_moves = true, i.chance_now = i.chance_after = 0.1,
               i.level_error_after_m = 4e-3;
             },
             P::read_again, R::doubt_against_moves},
        Case{"fit-up alone stands in the way",
             [](In& i) { i.chance_now = 0.2, i.chance_after = kJustBelow, i.chance_without_fit_up = 0.95; },
             P::read_again, R::first_setting},
        Case{"fit-up and more stand in the way",
             [](In& i) {
               i.chance_now = 0.2, i.chance_after = kJustBelow, i.chance_without_fit_up = kJustBelow;
             },
             P::read_again, R::uncertainty_alone},
        Case{"chances that are no numbers",
             [](In& i) { i.chance_now = i.chance_after = i.level_error_after_m = std::nan(""); },
             P::shims_cannot, R::error_after_too_large}),
    [](const auto& row) { return "Row" + std::to_string(row.index); });

TEST(HoldPointAnswer, IsNeverReadyWhileAnythingObjects) {
  for (int objections = 1; objections < 64; ++objections)
    for (const bool choice : {false, true})
      for (const int moves : {0, 1}) {
        HoldPointInput in = fine();
        in.fit_holds = (objections & 1) == 0;
        in.has_readings = (objections & 2) == 0;
        in.support_unloaded = (objections & 4) != 0;
        in.support_over_rating = (objections & 8) != 0;
        in.doubt_open = (objections & 16) != 0;
        in.doubt_against_moves = (objections & 32) != 0;
        in.choice_exists = choice;
        in.moves = moves;
        in.chance_now = in.chance_after = 1;
        EXPECT_NE(hold_point(in).answer, HoldPoint::ready_to_bolt);
      }
}

TEST(HoldPointAnswer, IsNotReadyByDefault) {
  EXPECT_NE(HoldPointAnswer{}.answer, HoldPoint::ready_to_bolt);
  EXPECT_EQ(hold_point({}).answer, HoldPoint::read_again);
}

TEST(HoldPointAnswer, HasTheNamesThatOtherProgramsRelyOn) {
  EXPECT_EQ(short_name(HoldPoint::shim_first), "shim first");
  EXPECT_EQ(short_name(HoldPoint::read_again), "read again");
  EXPECT_EQ(short_name(HoldPoint::shims_cannot), "shims cannot");
  EXPECT_EQ(short_name(HoldPoint::ready_to_bolt), "ready to bolt");
}

}  // namespace
}  // namespace hangtrue::adjust
