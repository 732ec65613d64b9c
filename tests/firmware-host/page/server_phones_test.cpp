// The page's connection from outside, over bare sockets: upgrade, topics, what phones say, frames, and silence.
#include "firmware-host/page/server.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <string>
#include <thread>
#include <vector>

#include "tests/firmware-host/page/served.hpp"

namespace hangtrue::page {
namespace {

using namespace std::string_literals;
using namespace test;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::StartsWith;

// ---- the upgrade ----------------------------------------------------------------------------------------------------

TEST(Upgrade, IsAnsweredAsTheStandardSays) {
  const Served page;
  const Answered reply = page.ask(upgrade(page.port));
  EXPECT_EQ(reply.status, 101);
  EXPECT_EQ(reply.field("Sec-WebSocket-Accept"), "s3pPLMBiTxaQ9kYGzzhZRbK+xOo=");  // RFC 6455, section 1.3
  EXPECT_EQ(page.ask(upgrade(page.port, {{"Sec-WebSocket-Extensions", "permessage-deflate"}}))
                .fields.count("Sec-WebSocket-Extensions"),
            0u);
}

TEST(Upgrade, ABrokenOneIsRefused) {
  const Served page;
  struct Case {
    const char* what;
    Fields fields;
    int status;
  };
  for (const Case& one :
       std::vector<Case>{{"no Upgrade", {{"Upgrade", ""}}, 426},
                         {"another protocol", {{"Upgrade", "h2c"}}, 426},
                         {"no Connection", {{"Connection", ""}}, 426},
                         {"Connection without it", {{"Connection", "keep-alive"}}, 426},
                         {"no version", {{"Sec-WebSocket-Version", ""}}, 426},
                         {"an old version", {{"Sec-WebSocket-Version", "8"}}, 426},
                         {"no key", {{"Sec-WebSocket-Key", ""}}, 400},
                         {"a short key", {{"Sec-WebSocket-Key", "abc="}}, 400},
                         {"a long key", {{"Sec-WebSocket-Key", std::string(1000, 'a')}}, 400}}) {
    const Answered reply = page.ask(upgrade(page.port, one.fields));
    EXPECT_EQ(reply.status, one.status) << one.what;
    EXPECT_NE(reply.body, "") << one.what;
  }
  EXPECT_EQ(page.ask(upgrade(page.port, {{"Sec-WebSocket-Version", "8"}})).field("Sec-WebSocket-Version"),
            "13");
  Asking post = upgrade(page.port);
  post.line = "POST /live";
  EXPECT_EQ(page.ask(post).status, 405);
  std::string old = upgrade(page.port).text(page.port);
  old.replace(old.find("HTTP/1.1"), 8, "HTTP/1.0");
  EXPECT_EQ(page.ask_raw(old).status, 426);
  EXPECT_EQ(page.ask_raw(upgrade(page.port).text(page.port) + frame(kText, "too early")).status, 400);
}

TEST(Upgrade, CutOffAnywhereLeavesNothingBehind) {
  const Served page;
  const std::string text = upgrade(page.port).text(page.port);
  for (std::size_t kept = 0; kept <= text.size(); kept += 5) {
    Wire wire(page.port);
    wire.send(text.substr(0, kept));
    if (kept % 2 == 0) wire.reset();
  }
  EXPECT_TRUE(page.serves());
}

// ---- topics ---------------------------------------------------------------------------------------------------------

TEST(Topics, ANewPhoneGetsTheWholeStateAndThenWhatIsNew) {
  Served page;
  page.server->publish("job", R"({"title":"a"})");
  page.server->publish("work", "1");
  page.server->publish("live", "2");
  page.server->publish("live", "3");
  OpenPage phone(page.port);
  EXPECT_EQ(phone.hear(), R"({"job":{"title":"a"},"work":1,"live":3})");
  page.server->publish("live", "3");  // no news
  page.server->publish("work", "4");
  EXPECT_EQ(phone.hear(), R"({"work":4})");
  page.server->publish("card", "5");
  EXPECT_EQ(phone.hear(), R"({"card":5})");
  OpenPage returning(page.port);
  EXPECT_EQ(returning.hear(), R"({"job":{"title":"a"},"work":4,"live":3,"card":5})");
}

TEST(Topics, APhoneThatCameBeforeAllGetsTheFirst) {
  Served page;
  OpenPage phone(page.port);
  ASSERT_TRUE(phone.open());
  page.server->publish("job", "1");
  EXPECT_EQ(phone.hear(), R"({"job":1})");
}

TEST(Topics, LongOnesArriveWhole) {
  Served page;
  std::string text = "\"";
  for (int i = 0; i < 100'000; ++i) text += std::to_string(i) + ' ';
  text += '"';
  page.server->publish("record", text);
  OpenPage phone(page.port);
  EXPECT_EQ(phone.hear(), "{\"record\":" + text + '}');
}

TEST(Topics, OfManyWhoPublishTheLastStays) {
  Served page;
  OpenPage phone(page.port);
  std::vector<std::thread> threads;
  for (int t = 0; t < 4; ++t)
    threads.emplace_back([&, t] {
      for (int i = 0; i <= 1000; ++i)
        page.server->publish("topic" + std::to_string(t), i < 1000 ? std::to_string(i) : "\"end\"");
    });
  std::array<bool, 4> ended{};
  while (!std::all_of(ended.begin(), ended.end(), [](bool one) { return one; })) {
    const std::string text = phone.hear();
    ASSERT_NE(text, "");
    for (std::size_t t = 0; t < 4; ++t)
      if (text.find("topic" + std::to_string(t) + "\":\"end\"") != std::string::npos) ended[t] = true;
  }
  for (std::thread& one : threads) one.join();
}

TEST(Topics, ASlowPhoneHoldsUpNobodyAndGetsTheLatest) {
  Served page;
  OpenPage slow(page.port, {}, 4096), quick(page.port), other(page.port);
  ASSERT_TRUE(slow.open() && quick.open() && other.open());
  constexpr std::size_t kSize = 50'000, kTimes = 400;  // 20 MB in all
  for (std::size_t i = 0; i < kTimes; ++i) {
    const std::string value = '"' + std::to_string(i) + std::string(kSize, '.') + '"';
    page.server->publish("run", value);
    EXPECT_EQ(quick.hear(), "{\"run\":" + value + '}');
    EXPECT_EQ(other.hear(), "{\"run\":" + value + '}');
  }
  page.server->publish("work", "\"end\"");
  // What was kept for the slow one: some in the kernels' hands, one frame on its way, and then the latest.
  std::size_t heard = 0;
  std::string last, before;
  do {
    before = std::exchange(last, slow.hear());
    ASSERT_NE(last, "");
    heard += last.size();
  } while (last.find("\"work\":\"end\"") == std::string::npos);
  EXPECT_LT(heard, kSize * kTimes / 10);
  EXPECT_THAT(last.starts_with("{\"run\"") ? last : before, StartsWith("{\"run\":\"399."));
}

// ---- what phones say ------------------------------------------------------------------------------------------------

TEST(Phones, WhatTheySayReachesTheDaemonAndTheAnswerThemAlone) {
  Served page;
  OpenPage one(page.port), other(page.port);
  one.say(R"({"id":1,"command":"take","seen":7})");
  other.say("plain \xc3\xa9");
  const auto said = page.heard.said(2);
  const auto from_one =
      std::find_if(said.begin(), said.end(), [](const auto& s) { return s.frame[0] == '{'; });
  ASSERT_NE(from_one, said.end());
  EXPECT_EQ(from_one->frame, R"({"id":1,"command":"take","seen":7})");
  page.server->answer(from_one->phone, R"({"id":1})");
  EXPECT_EQ(one.hear(), R"({"answer":{"id":1}})");
  page.server->publish("work", "1");
  EXPECT_EQ(other.hear(), R"({"work":1})");
  EXPECT_EQ(one.hear(), R"({"work":1})");
}

TEST(Phones, AnAnswerComesWithTheTopicsThatItsCommandChanged) {
  Served page;
  OpenPage phone(page.port, {}, 4096), other(page.port);
  ASSERT_TRUE(other.open());
  phone.say("a");
  phone.say("b");
  const Phone id = page.heard.said(2).front().phone;
  // The first frame keeps the line busy, since nobody reads; what comes meanwhile is sorted. The other phone tells when it has.
  const std::string busy = '"' + std::string(20'000'000, 'x') + '"';
  page.server->publish("run", busy);
  EXPECT_EQ(other.hear(), "{\"run\":" + busy + '}');
  page.server->publish("live", "1");
  page.server->answer(id, "\"a\"");
  page.server->answer(id, "\"b\"");
  page.server->publish("work", "2");
  EXPECT_THAT(other.hear_of("work"), HasSubstr("\"work\":2"));
  EXPECT_EQ(phone.hear(), "{\"run\":" + busy + '}');
  EXPECT_EQ(phone.hear(), R"({"live":1,"work":2,"answer":"a"})");
  EXPECT_EQ(phone.hear(), R"({"answer":"b"})");
}

TEST(Phones, AnAnswerToOneThatHasGoneIsDropped) {
  Served page;
  Phone id = 0;
  {
    OpenPage phone(page.port);
    phone.say("a");
    id = page.heard.said(1).front().phone;
  }
  EXPECT_THAT(page.heard.gone(1), ElementsAre(id));
  page.server->answer(id, "1");
  page.server->answer(id + 1000, "1");
  OpenPage next(page.port);
  next.say("b");
  const Phone other = page.heard.said(2).back().phone;
  EXPECT_NE(other, id);
  page.server->answer(other, "2");
  EXPECT_EQ(next.hear(), R"({"answer":2})");
}

TEST(Phones, HoweverTheyGoItIsSaidOnce) {
  Served page;
  for (int i = 0; i < 30; ++i) {
    OpenPage phone(page.port);
    ASSERT_TRUE(phone.open());
    if (i % 3 == 0) phone.send(frame(kClose, std::string("\x03\xe8", 2)));
    if (i % 3 == 1) phone.wire().reset();
    // Otherwise the connection just ends.
  }
  EXPECT_EQ(page.heard.gone(30).size(), 30u);
  EXPECT_TRUE(page.serves());
  EXPECT_EQ(page.heard.calls(), 30u);  // none of this is worth a note
}

TEST(Phones, ManyQuestionsOneAfterAnother) {
  Served page;
  OpenPage phone(page.port);
  for (std::size_t i = 0; i < 10 * kMostAnswers; ++i) {
    phone.say(std::to_string(i));
    const auto said = page.heard.said(i + 1);
    EXPECT_EQ(said.back().frame, std::to_string(i));
    page.server->answer(said.back().phone, std::to_string(i));
    EXPECT_EQ(phone.hear(), "{\"answer\":" + std::to_string(i) + '}');
  }
}

TEST(Phones, WhoDoesNotWaitForAnswersIsClosed) {
  Served page;
  OpenPage phone(page.port), other(page.port);
  for (std::size_t i = 0; i < kMostAnswers; ++i) phone.say("all right");
  page.heard.said(kMostAnswers);
  phone.say("one too many");
  EXPECT_EQ(phone.hear(), "");
  EXPECT_EQ(phone.closed(), 1008);
  EXPECT_EQ(page.heard.said(kMostAnswers).size(), kMostAnswers);
  other.say("well?");
  EXPECT_EQ(page.heard.said(kMostAnswers + 1).back().frame, "well?");
}

TEST(Frames, OnlyWholeTextsOfARightLength) {
  struct Case {
    const char* what;
    std::string bytes;
    int code;
  };
  const std::string longest(kLongestFrame, 'x');
  for (const Case& one :
       std::vector<Case>{{"binary", frame(kBinary, "x"), 1003},
                         {"too long", frame(kText, longest + 'x'), 1009},
                         {"much too long", frame(kText, std::string(200'000, 'x')), 1009},
                         {"too long in two", frame(kText, longest, false) + frame(kMore, "x"), 1009},
                         {"not UTF-8", frame(kText, "\xff"), 1007},
                         {"UTF-8 cut off", frame(kText, "\xc3"), 1007},
                         {"not masked", frame(kText, "x", true, false), 1002},
                         {"an unknown opcode", frame(3, "x"), 1002},
                         {"a reserved bit", std::string(1, '\xc1') + frame(kText, "x").substr(1), 1002},
                         {"more of nothing", frame(kMore, "x"), 1002},
                         {"a text within a text", frame(kText, "x", false) + frame(kText, "y"), 1002},
                         {"a ping in two", frame(kPing, "x", false), 1002},
                         {"a ping too long", frame(kPing, std::string(126, 'x')), 1002},
                         {"a close of one byte", frame(kClose, "x"), 1002}}) {
    Served page;
    OpenPage phone(page.port);
    ASSERT_TRUE(phone.open());
    phone.send(one.bytes);
    EXPECT_EQ(phone.hear(), "") << one.what;
    EXPECT_EQ(phone.closed(), one.code) << one.what;
    phone.wire().read_all();
    page.heard.gone(1);
    EXPECT_TRUE(page.serves());
    EXPECT_EQ(page.heard.calls(), 1u) << one.what;  // it has gone, and said nothing
  }
}

TEST(Frames, TheLongestTextAndOneInManyPieces) {
  Served page;
  OpenPage phone(page.port);
  const std::string longest(kLongestFrame, 'x');
  phone.say(longest);
  EXPECT_EQ(page.heard.said(1).back().frame, longest);
  std::string pieces = frame(kText, "pie", false) + frame(kMore, "", false) + frame(kPing, "between") +
                       frame(kMore, "ce", false) + frame(kMore, "s", true);
  phone.send(pieces);
  EXPECT_EQ(page.heard.said(2).back().frame, "pieces");
  phone.hear_pong("between");
  for (const char byte : frame(kText, "byte by byte")) phone.send(std::string(1, byte));
  EXPECT_EQ(page.heard.said(3).back().frame, "byte by byte");
  phone.say("");
  EXPECT_EQ(page.heard.said(4).back().frame, "");
}

TEST(Frames, PingsAreAnsweredAndACloseReturned) {
  Served page;
  OpenPage phone(page.port);
  for (const std::string& payload : {std::string(), std::string("here?"), std::string(125, 'p')}) {
    phone.pong = "none";
    phone.send(frame(kPing, payload));
    phone.hear_pong(payload);
  }
  phone.send(frame(kClose, std::string("\x03\xe8", 2)));
  EXPECT_EQ(phone.hear(), "");
  EXPECT_EQ(phone.closed(), 1000);
  EXPECT_EQ(phone.wire().read_all(), "");
}

TEST(Silence, APhoneThatAnswersPingsStaysAndOneThatDoesNotGoes) {
  Patience patience;
  patience.silence = milliseconds(5000);
  Served page(on_loopback(patience));
  OpenPage good(page.port), dead(page.port);
  ASSERT_TRUE(good.open() && dead.open());
  std::thread listening([&] { EXPECT_EQ(good.hear(), R"({"work":1})"); });
  page.heard.gone(1);
  page.server->publish("work", "1");
  listening.join();
  EXPECT_GE(good.pings, 1);
  EXPECT_EQ(page.heard.gone(1).size(), 1u);
}

TEST(Silence, APhoneThatSpeaksButDoesNotReadGoes) {
  Patience patience;
  patience.writing = milliseconds(500);
  Served page(on_loopback(patience));
  OpenPage phone(page.port, {}, 4096);
  ASSERT_TRUE(phone.open());
  page.server->publish("run", '"' + std::string(20'000'000, 'x') + '"');
  std::atomic<bool> gone = false;
  std::thread speaking([&] {
    while (!gone && phone.send(frame(kPong, "still here"))) std::this_thread::sleep_for(milliseconds(20));
  });
  page.heard.gone(1);
  gone = true;
  speaking.join();
  EXPECT_TRUE(page.serves());
}

}  // namespace
}  // namespace hangtrue::page
