// The card whose moves are being made: what is refused while they are, and what a card that is not whole is worth.
#include "firmware-host/daemon/moves_on_job.hpp"

#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/firmware-host/daemon/job_in_a_book.hpp"

namespace hangtrue::daemon {
namespace {

using Json = nlohmann::ordered_json;
using ::testing::HasSubstr;
using ::testing::StartsWith;

Json whole_card() {
  return Json::parse(R"({"hold_point":"shim first","reason":"","advice":[],
    "level_error_before_m":0.004,"level_error_before_sigma_m":0.0002,"chance_within_tolerance_before":0.01,
    "level_error_after_m":0.001,"level_error_after_sigma_m":0.0002,"chance_within_tolerance":0.99,"proved_best":true,
    "fit_holds":true,"reactions":[],"finished":{"at_m":[],"left_m":[],"right_m":[]},
    "moves":[{"order":1,"support":"post","rise_m":0.003,"pitch_rad":0,"roll_rad":0,"pieces":[],"turns":0,
              "limits_hold":true,"level_error_m":0.001,"effects":[]}]})");
}

class MovesOfABook : public JobInABook {
 protected:
  /// The moves after a card of which move 1 stands as made, as a daemon finds them that is started anew.
  MovesOnJob after(const Json& card, const std::vector<book::Content>& more = {}) {
    const book::Number number = append(book::Card{card.dump()});
    append(book::MoveMade{number, 1, "post", true});
    for (const book::Content& content : more) append(content);
    MovesOnJob moves(sheets_, *log_, announcer_);
    moves.from_book();
    return moves;
  }
  Announcer announcer_{::open("/dev/null", O_WRONLY | O_CLOEXEC), Announcer::Form::plain};
};

TEST_F(MovesOfABook, ThatWereMadeStandAgainstReadingOn) {
  MovesOnJob moves = after(whole_card());
  EXPECT_TRUE(moves.are_being_made());
  const auto refusal = moves.stand_against("take");
  ASSERT_TRUE(refusal);
  EXPECT_FALSE(refusal->done);
  EXPECT_THAT(refusal->text, StartsWith("take: moves of the card were made"));
  moves.readings_are_others();
  EXPECT_TRUE(moves.are_being_made()) << "made is made";
  EXPECT_FALSE(moves.give_up());

  const Answer taken_back = moves.mark({1, false});
  EXPECT_TRUE(taken_back.done) << taken_back.text;
  EXPECT_EQ(taken_back.event, Event::made);
  EXPECT_THAT(taken_back.text, StartsWith("1: post, rise 3.00 mm"));
  EXPECT_THAT(taken_back.text, HasSubstr(", not made after all"));
  EXPECT_EQ(taken_back.more.at("made"), false);
  EXPECT_EQ(moves.mark({2, true}).text, "made: move 2, but the card has 1 move");
}

TEST_F(MovesOfABook, AreNotMadeByACardThatIsNotWholeButWhatWasMadeStands) {
  Json card = whole_card();
  card.erase("fit_holds");
  MovesOnJob moves = after(card);
  EXPECT_TRUE(moves.are_being_made()) << "what was read before is of another shape, whatever the card says";
  const Answer refusal = moves.mark({1, false});
  EXPECT_FALSE(refusal.done);
  EXPECT_THAT(refusal.text, HasSubstr("not whole"));
  EXPECT_THAT(refusal.text, HasSubstr("fit_holds"));
}

TEST_F(MovesOfABook, APromiseIsReadOnlyFromACardThatIsWhole) {
  read();
  (void)after(whole_card());
  next("hung");
  MovesOnJob moves(sheets_, *log_, announcer_);
  moves.from_book();
  ASSERT_TRUE(moves.promised());
  EXPECT_EQ(moves.promised()->survey, "1");
  EXPECT_FALSE(moves.are_being_made());

  Json card = whole_card();
  card["moves"][0].erase("rise_m");
  read();
  (void)after(card);
  next("hung");
  moves.from_book();
  EXPECT_FALSE(moves.promised());
}

}  // namespace
}  // namespace hangtrue::daemon
