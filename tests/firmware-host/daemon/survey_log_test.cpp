// The survey as the book keeps it: which moves were made, what a card promised, and what a daemon started anew goes on with.
#include "firmware-host/daemon/survey_log.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/firmware-host/daemon/job_in_a_book.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

using Job = JobInABook;

const book::Card kCard{
    R"({"hold_point":"shim first","moves":[{"order":1,"support":"post"},{"order":2,"support":"wall bracket"}]})"};

TEST_F(Job, WithoutAMarkTakesEveryMoveOfAFormerCardForMade) {
  read();
  append(kCard);
  next("in use");
  EXPECT_THAT(moved_before(), ElementsAre("post", "wall bracket"));
}

TEST_F(Job, WithMarksTakesTheMovesThatStandAsMade) {
  read();
  const book::Number card = append(kCard);
  append(book::MoveMade{card, 2, "wall bracket", true});
  append(book::MoveMade{card, 1, "post", true});
  append(book::MoveMade{card, 1, "post", false});
  next("in use");
  EXPECT_THAT(moved_before(), ElementsAre("wall bracket"));
}

TEST_F(Job, WithAllMarksTakenBackTakesNoMoveForMade) {
  read();
  const book::Number card = append(kCard);
  append(book::MoveMade{card, 1, "post", true});
  append(book::MoveMade{card, 1, "post", false});
  next("in use");
  EXPECT_THAT(moved_before(), IsEmpty());
}

TEST_F(Job, SurvivesACardThatCannotBeRead) {
  read();
  for (const char* json :
       {"", "[1", "7", "{}", R"({"moves":3})", R"({"moves":[{"order":"1","support":"post"}]})"})
    append(book::Card{json});
  EXPECT_EQ(log_->card_on_job().value()->card.json, R"({"moves":[{"order":"1","support":"post"}]})");
  next("in use");
  EXPECT_THAT(moved_before(), IsEmpty());
}

TEST_F(Job, GoesOnWithTheCardWhoseMovesAreBeingMadeAfterTheDaemonIsStartedAnew) {
  EXPECT_FALSE(log_->card_on_job().value());
  const book::Number first = append(kCard);
  const book::Number second = append(kCard);
  start("hung");
  EXPECT_TRUE(log_->continued());
  EXPECT_EQ(log_->card_on_job().value()->number, second) << "the last, while none has a move made";
  append(book::MoveMade{second, 2, "wall bracket", true});
  append(book::MoveMade{second, 1, "post", true});
  append(book::MoveMade{first, 1, "post", true});
  append(kCard);
  start("hung");
  const auto card = log_->card_on_job().value();
  ASSERT_TRUE(card);
  EXPECT_EQ(card->number, second) << "a card asked for later does not wipe the ticks away";
  EXPECT_EQ(card->card.json, kCard.json);
  EXPECT_EQ(card->moves.size(), 2u);
  EXPECT_THAT(card->made, ElementsAre(2, 1)) << "as they were made";
}

TEST_F(Job, ComparesWithTheCardOfTheSurveyRightBefore) {
  read();
  const book::Number card = append(kCard);
  append(book::MoveMade{card, 1, "post", true});
  EXPECT_FALSE(log_->promise().value()) << "its own card promises it nothing";
  next("hung");
  start("hung");
  const auto promise = log_->promise().value();
  ASSERT_TRUE(promise);
  EXPECT_EQ(promise->survey, "1");
  EXPECT_EQ(promise->card.number, card);
  EXPECT_EQ(promise->card.moves.size(), 2u);
  EXPECT_THAT(promise->card.made, ElementsAre(1));
  next("hung");
  EXPECT_TRUE(log_->promise().value()) << "a survey in which nothing was read or moved is passed over";
  read();
  next("hung");
  EXPECT_FALSE(log_->promise().value()) << "that one was looked at already";
}

TEST_F(Job, ComparesWithNoCardWithoutAMoveThatStands) {
  read();
  const book::Number card = append(kCard);
  append(book::MoveMade{card, 1, "post", true});
  append(book::MoveMade{card, 1, "post", false});
  next("hung");
  EXPECT_FALSE(log_->promise().value());
}

TEST_F(Job, ComparesWithNoCardOfAnotherStageOrAnotherRun) {
  read();
  const book::Number card = append(kCard);
  append(book::MoveMade{card, 1, "post", true});
  next("in use");
  EXPECT_FALSE(log_->promise().value());
  read();
  next("hung");
  EXPECT_FALSE(log_->promise().value()) << "work at another stage lies between";
  const book::Number again = append(kCard);
  append(book::MoveMade{again, 2, "wall bracket", true});
  sheets_ = sheets(kRunText + "# another run\n");
  start("hung");
  EXPECT_FALSE(log_->continued());
  EXPECT_FALSE(log_->promise().value());
}

TEST_F(Job, ListsSurveysAndSealsOfTheWholeBook) {
  read();
  append(book::MoveMade{append(kCard), 1, "post", true});
  ASSERT_TRUE(log_->seal().ok());
  next("in use");
  next("in use");
  const auto all = log_->surveys().value();
  ASSERT_EQ(all.size(), 3u);
  EXPECT_EQ(all[0].kept, 1);
  EXPECT_EQ(all[0].moves, 1);
  EXPECT_EQ(all[2].begun.id, log_->id());
  const auto last = log_->surveys(2).value();
  ASSERT_EQ(last.size(), 2u);
  EXPECT_EQ(last[0].begun.id, "2");
  EXPECT_EQ(last[1].begun.id, "3");
  EXPECT_EQ(log_->seals().value().size(), 1u);
}

TEST_F(Job, RefusesAMoveThatItsCardDoesNotHave) {
  const book::Number card = append(kCard);
  const auto number = log_->append({book::MoveMade{card, 3, "post", true}});
  ASSERT_FALSE(number.ok());
  EXPECT_THAT(number.fault().says, HasSubstr("has no move 3"));
}

}  // namespace
}  // namespace hangtrue::daemon
