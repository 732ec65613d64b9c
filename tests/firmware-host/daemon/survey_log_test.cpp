// The survey as the book keeps it: which moves were made, what a card promised, and what a daemon started anew goes on with.
#include "firmware-host/daemon/survey_log.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stdlib.h>

#include <fstream>

#include "tests/firmware-host/daemon/bench.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

const book::Card kCard{
    R"({"hold_point":"shim first","moves":[{"order":1,"support":"post"},{"order":2,"support":"wall bracket"}]})"};

book::Taken reading(const char* stage_time) {
  return {.reading = {.time = stage_time,
                      .set_up = "",
                      .instrument = "level",
                      .channel = Channel::slope,
                      .at_m = 1.0,
                      .face = 1,
                      .edge = survey::Edge::left,
                      .value = 1e-3,
                      .sigma = 2e-5,
                      .base_m = 0.25},
          .samples = 20,
          .spread = 1e-5,
          .temperature_C = {}};
}

/// A book of its own, and a log that may be started anew over it.
class Job : public ::testing::Test {
 protected:
  Job() {
    std::string pattern = (std::filesystem::temp_directory_path() / "hangtrue-log-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) ADD_FAILURE() << "cannot make " << pattern;
    directory_ = pattern;
    sheets_ = sheets(kRunText);
    start("hung");
  }
  ~Job() override {
    log_.reset();
    std::error_code ignored;  // a leftover in the temporary directory fails no test
    std::filesystem::remove_all(directory_, ignored);
  }

  [[nodiscard]] Sheets sheets(const std::string& run_text) const {
    std::ofstream(directory_ / "run.toml") << run_text;
    std::ofstream(directory_ / "kit.toml") << kit_text("/dev/null");
    auto loaded = load_sheets((directory_ / "run.toml").string(), (directory_ / "kit.toml").string());
    if (const auto* const wrong = std::get_if<std::vector<sheet::Complaint>>(&loaded))
      ADD_FAILURE() << wrong->at(0).text();
    return std::get<Sheets>(std::move(loaded));
  }
  /// As a daemon does that begins, or was ended and started anew.
  void start(const std::string& stage) {
    log_.reset();
    const std::string path = (directory_ / "B.levelbook").string();
    auto book = book::Book::open(path);
    ASSERT_TRUE(book.ok()) << book.fault().says;
    log_.emplace(std::move(book).value(), path, [](bool, const std::string& says) { ADD_FAILURE() << says; });
    ASSERT_TRUE(log_->begin(sheets_, stage, "").ok());
  }
  book::Number append(const book::Content& content) {
    const auto number = log_->append({content});
    EXPECT_TRUE(number.ok()) << number.fault().says;
    return number.ok() ? number.value() : 0;
  }
  void read() { append(reading("2026-09-14T08:30:00.250000Z")); }
  void next(const std::string& stage) { ASSERT_TRUE(log_->begin_next(stage).ok()); }
  /// By the cards of the first survey.
  std::vector<std::string> moved_before() {
    const auto kept = log_->survey("1", sheets_);
    EXPECT_TRUE(kept.ok() && kept.value() && kept.value()->story);
    return kept.value()->story->last().moved;
  }

  std::filesystem::path directory_;
  Sheets sheets_;
  std::optional<SurveyLog> log_;
};

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
