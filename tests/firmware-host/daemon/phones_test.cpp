// Phones of the shipped daemon, by bare sockets: what they may say, when it comes too late, and who gets the answer.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "tests/firmware-host/daemon/bench.hpp"
#include "tests/firmware-host/page/phone.hpp"

namespace hangtrue::daemon {
namespace {

using page::test::OpenPage;
using ::testing::HasSubstr;
using ::testing::StartsWith;

/// The daemon with its page on a free port of this machine.
class Phones : public ::testing::Test {
 protected:
  Phones() {
    const std::string line = daemon_->await({"page"});
    port_ = static_cast<std::uint16_t>(std::stoi(line.substr(line.rfind(':') + 1)));
    EXPECT_NE(daemon_->await({"ready"}), "");
  }
  /// The next answer to that phone; its topics are noted on the way.
  nlohmann::json answer(OpenPage& phone) {
    for (;;) {
      const std::string text = phone.hear();
      if (text.empty()) return {};
      const auto frame = nlohmann::json::parse(text);
      if (frame.contains("work")) revision_ = frame.at("work").at("revision");
      if (frame.contains("clock")) now_ms_ = frame.at("clock").at("now_ms");
      if (frame.contains("answer")) return frame.at("answer");
    }
  }
  nlohmann::json ask(OpenPage& phone, const std::string& frame) {
    EXPECT_TRUE(phone.say(frame));
    return answer(phone);
  }
  /// "work" and "clock" are known from then on.
  void greet(OpenPage& phone) {
    ask(phone, R"({"id":0,"command":"help","seen":0})");
    ask(phone, R"({"id":0,"command":"help","seen":)" + std::to_string(revision_) + '}');
  }
  std::string asked(int id, const std::string& command, std::int64_t pressed_ms,
                    const char* page = "a") const {
    return R"({"id":)" + std::to_string(id) + R"(,"command":")" + command + R"(","seen":)" +
           std::to_string(revision_) + R"(,"pressed_ms":)" + std::to_string(pressed_ms) + R"(,"page":")" +
           page + "\"}";
  }

  Bench bench_;
  std::unique_ptr<Child> daemon_ = bench_.daemon({"--page", "127.0.0.1:0"});
  std::uint16_t port_ = 0;
  std::int64_t revision_ = 0, now_ms_ = 0;
};

TEST_F(Phones, WhateverTheySayIsAnsweredInWordsAndTheDaemonGoesOn) {
  OpenPage phone(port_);
  ASSERT_TRUE(phone.open());
  const std::string deep(1500, '['), digits(3000, '9');
  const std::vector<std::string> messages = {
      R"({"id":1e400})",
      R"({"id":1,"command":"status","seen":-1e400})",
      R"({"id":1,"command":"status","seen":1,"pressed_ms":1e400})",
      "1e400",
      "[1e400]",
      R"({"a":{"b":[1,{"c":1e999}]}})",
      R"({"id":1,"command":"status","seen":1,"more":1e400})",
      R"({"id":)" + digits + "}",
      R"({"id":1e)" + digits + "}",
      R"({"id":0.)" + digits + "e400}",
      deep,
      deep + std::string(1500, ']'),
      R"({"id":1,"command":)" + deep,
      R"({"id":1,"command":")" + std::string(3900, 'x') + R"(","seen":1})",
      R"({"id":1,"command":"\ud800","seen":1})",
      R"({"id":1,"command":"\u0000","seen":1})",
      R"({"id":1,"command":"take","seen":1,"page":")" + std::string(1000, 'p') + "\"}",
      R"({"id":99999999999999999999,"command":"take","seen":1})",
      R"({"id":1,"command":"status","seen":1,"pressed_ms":9223372036854775807})",
      R"({"id":1,"command":"status","seen":1,"pressed_ms":-9223372036854775808})",
      "",
      "null",
      "{}",
      "\"",
      "{\"id\":",
      "NaN",
      "Infinity",
      "-",
      "1e",
      "\xEF\xBB\xBF{}"};
  for (const std::string& message : messages) {
    const auto came = ask(phone, message);
    ASSERT_TRUE(came.is_object()) << message.substr(0, 80);
    EXPECT_FALSE(came.at("done").get<bool>()) << message.substr(0, 80);
    EXPECT_NE(came.at("words"), "") << message.substr(0, 80);
  }
  greet(phone);
  EXPECT_TRUE(ask(phone, R"({"id":7,"command":"station 2","seen":)" + std::to_string(revision_) + '}')
                  .at("done")
                  .get<bool>());
  daemon_->send("done\n");
  EXPECT_THAT(daemon_->await({"done"}), StartsWith("done"));
  EXPECT_EQ(daemon_->end(), 0);
}

TEST_F(Phones, ACommandThatComesMoreThanTwoSecondsAfterItsPressIsRefused) {
  OpenPage phone(port_);
  greet(phone);
  const auto late = ask(phone, asked(1, "station 2", now_ms_ - 60'000));
  EXPECT_FALSE(late.at("done").get<bool>());
  EXPECT_THAT(late.at("words"), HasSubstr("after it was pressed, and nothing was done by it"));
  const auto early = ask(phone, asked(2, "station 2", now_ms_ + 3'600'000));
  EXPECT_FALSE(early.at("done").get<bool>());
  EXPECT_THAT(early.at("words"), HasSubstr("it will be pressed in"));
  daemon_->send("station 1\n");
  EXPECT_THAT(daemon_->await({"here"}), StartsWith("here station 0 mm")) << "nothing was said before";
}

// The network, or the daemon, holds a press up: what is done then was meant for then.
TEST_F(Phones, APressThatWaitedForADaemonThatWasHeldUpIsRefused) {
  OpenPage phone(port_);
  greet(phone);
  daemon_->signal(SIGSTOP);
  EXPECT_TRUE(phone.say(asked(1, "station 2", now_ms_)));
  std::this_thread::sleep_for(std::chrono::milliseconds(2'500));  // at least; longer is as good
  daemon_->signal(SIGCONT);
  const auto came = answer(phone);
  EXPECT_FALSE(came.at("done").get<bool>());
  EXPECT_THAT(came.at("words"), HasSubstr("after it was pressed"));
}

TEST_F(Phones, OneWhoseConnectionBrokeAsksAgainAndIsAnsweredWithoutASecondDoing) {
  Instrument instrument(bench_.port());
  {
    OpenPage phone(port_);
    greet(phone);
    ASSERT_TRUE(ask(phone, asked(1, "station 2", now_ms_)).at("done").get<bool>());
    greet(phone);
    ASSERT_TRUE(phone.say(asked(2, "take", now_ms_)));
    phone.wire().reset();
  }
  const std::string taken = daemon_->await({"taken"});
  OpenPage again(port_);
  const auto came = ask(again, asked(2, "take", now_ms_));
  EXPECT_TRUE(came.at("done").get<bool>());
  EXPECT_EQ(came.at("words"), taken);
  const auto others = ask(again, asked(2, "take", now_ms_ - 60'000, "b"));  // another page's second
  EXPECT_FALSE(others.at("done").get<bool>());
  daemon_->send("done\n");
  EXPECT_EQ(daemon_->end(), 0);
  int takes = 0;
  for (const std::string& line : daemon_->said()) takes += line.starts_with("taken") ? 1 : 0;
  EXPECT_EQ(takes, 1);
}

TEST_F(Phones, ACodeForOnePhoneIsNoneWhereThePageIsForThisMachineAlone) {
  EXPECT_THAT(daemon_->ask("pair"), HasSubstr("this page is for this machine alone"));
  OpenPage phone(port_);
  greet(phone);
  const auto came = ask(phone, asked(1, "pair", now_ms_));
  EXPECT_FALSE(came.at("done").get<bool>());
  EXPECT_THAT(came.at("words"), HasSubstr("type it there"));
}

TEST(Pair, ShowsAtTheDaemonACodeForOnePhone) {
  Bench bench;
  const auto daemon = bench.daemon({"--page", "0.0.0.0:0"});
  const std::string standing = daemon->await({"pairing"});
  daemon->send("pair\n");
  const std::string once = daemon->await({"pairing"});
  EXPECT_THAT(once, ::testing::MatchesRegex(
                        "pairing [0-9]{4} [0-9]{4}, for one phone; it counts once, within 2 minutes"));
  EXPECT_NE(once.substr(0, 17), standing.substr(0, 17));
  EXPECT_THAT(daemon->ask("done"), StartsWith("done"));
}

}  // namespace
}  // namespace hangtrue::daemon
