// Each event has the word that other programs read, and no two have the same.
#include "firmware-host/daemon/events.hpp"

#include <gtest/gtest.h>

#include <set>
#include <string>

#include "firmware-host/daemon/answer.hpp"

namespace hangtrue::daemon {
namespace {

TEST(Events, HaveEachItsOwnWord) {
  std::set<std::string_view> words;
  for (std::size_t i = 0; i < std::size_t(Event::count); ++i) {
    EXPECT_FALSE(word(Event(i)).empty()) << i;
    EXPECT_TRUE(words.insert(word(Event(i))).second) << word(Event(i));
  }
  // One of each group, so that none has slipped by one.
  EXPECT_EQ(word(Event::here), "here");
  EXPECT_EQ(word(Event::result), "result");
  EXPECT_EQ(word(Event::text), "|");
  EXPECT_EQ(word(Event::help), "help");
  EXPECT_EQ(word(Event::live), "live");
  EXPECT_EQ(word(Event::stopped), "stopped");
}

TEST(Answers, TellAPhoneTheEventAndItsTextOrWhereThingsStand) {
  EXPECT_EQ(answered(Event::undone, "2 readings").words, "undone 2 readings");
  EXPECT_EQ(answered(Event::here, "station 1200 mm").words, "station 1200 mm");
  const Answer refusal = refused("take", "nothing has settled");
  EXPECT_FALSE(refusal.done);
  EXPECT_EQ(refusal.text, "take: nothing has settled");
  EXPECT_EQ(refusal.words, "take: nothing has settled") << "a phone says itself that it is not done";
  EXPECT_EQ(refused("command", "look again").words, "look again");
  EXPECT_TRUE(listed(Event::status).words.empty());
  EXPECT_FALSE(listed(Event::status).changes) << "what was only shown changes nothing";
}

}  // namespace
}  // namespace hangtrue::daemon
