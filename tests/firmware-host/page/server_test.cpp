// The page's server from outside, over bare sockets: what it serves and to whom, how it begins and ends.
#include "firmware-host/page/server.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "tests/firmware-host/page/served.hpp"

namespace hangtrue::page {
namespace {

using namespace test;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::MatchesRegex;
using ::testing::StartsWith;

const Asset& file(std::string_view path) {
  return *std::find_if(assets().begin(), assets().end(), [&](const Asset& one) { return one.path == path; });
}

// ---- routes ---------------------------------------------------------------------------------------------------------

TEST(Routes, EveryFileOfThePageCompressedWithItsTypeAndTag) {
  const Served page;
  ASSERT_FALSE(assets().empty());
  EXPECT_EQ(assets().front().path, "/");
  for (const Asset& asset : assets()) {
    const std::string path(asset.path), tag = '"' + std::string(build()) + '"';
    const Answered got = page.ask({"GET " + path});
    EXPECT_EQ(got.status, 200) << path;
    EXPECT_EQ(got.body, asset.bytes) << path;
    EXPECT_EQ(got.field("Content-Type"), asset.type);
    EXPECT_EQ(got.field("Content-Encoding"), "gzip");
    EXPECT_EQ(got.field("ETag"), tag);
    EXPECT_EQ(got.field("Cache-Control"), "no-cache");

    const Answered head = page.ask({"HEAD " + path});
    EXPECT_EQ(head.status, 200);
    EXPECT_EQ(head.fields, got.fields);
    EXPECT_EQ(page.ask({"GET " + path + "?anything"}).body, asset.bytes);

    for (const std::string& has : {tag, "\"other\", " + tag, "W/" + tag, std::string("*")}) {
      const Answered same = page.ask({"GET " + path, {{"If-None-Match", has}}});
      EXPECT_EQ(same.status, 304) << has;
      EXPECT_EQ(same.field("ETag"), tag);
      EXPECT_EQ(same.body, "");
    }
    EXPECT_EQ(page.ask({"GET " + path, {{"If-None-Match", "\"other\""}}}).status, 200);
    for (const char* method : {"POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"}) {
      const Answered no = page.ask({method + (" " + path)});
      EXPECT_EQ(no.status, 405) << method << path;
      EXPECT_EQ(no.field("Allow"), "GET, HEAD");
    }
  }
}

TEST(Routes, EveryReplyCarriesTheGuards) {
  const Served page;
  const std::vector<Asking> askings = {{"GET /"},
                                       {"GET /nothing"},
                                       {"POST /"},
                                       {"GET /live"},
                                       {"GET /record/7.txt"},
                                       {"GET /record/8.txt"},
                                       {"GET /", {{"Host", "elsewhere"}}},
                                       {"POST /pair", {{"Origin", "http://elsewhere"}}},
                                       {"GET /", {{"If-None-Match", "*"}}},
                                       {"GET /", {{"Content-Length", "99999"}}},
                                       {"GET nothing"},
                                       {"GET /", {{"X", std::string(9000, 'x')}}}};
  for (const Asking& asking : askings) {
    const Answered reply = page.ask(asking);
    const std::string policy = reply.field("Content-Security-Policy");
    for (const char* part :
         {"default-src 'none'", "script-src 'self';", "style-src 'self';", "img-src 'self' data:;",
          "connect-src 'self'", "base-uri 'none'", "form-action 'self'", "frame-ancestors 'none'"})
      EXPECT_THAT(policy, HasSubstr(part)) << asking.line;
    EXPECT_EQ(reply.field("X-Content-Type-Options"), "nosniff") << asking.line;
    EXPECT_EQ(reply.field("Referrer-Policy"), "no-referrer") << asking.line;
    EXPECT_EQ(reply.field("Cross-Origin-Opener-Policy"), "same-origin") << asking.line;
    EXPECT_EQ(reply.field("Cross-Origin-Resource-Policy"), "same-origin") << asking.line;
    EXPECT_NE(reply.field("Cache-Control"), "") << asking.line;
    EXPECT_EQ(reply.fields.count("Server"), 0u);
    EXPECT_EQ(reply.fields.count("Access-Control-Allow-Origin"), 0u);
  }
  EXPECT_THAT(page.ask({"GET /"}).field("Content-Security-Policy"), HasSubstr("ws://" + page.here()));
}

TEST(Routes, WhatIsNotThereIsSaid) {
  const Served page;
  for (const char* path :
       {"/nothing", "/page.js/", "//", "/../page.js", "/%2e%2e/", "/PAGE.JS", "/record/", "/pairs"}) {
    const Answered reply = page.ask({std::string("GET ") + path});
    EXPECT_EQ(reply.status, 404) << path;
    EXPECT_THAT(reply.body, HasSubstr(path));
    EXPECT_EQ(reply.field("Content-Type"), "text/plain; charset=utf-8");
  }
  EXPECT_EQ(page.ask({"GET /pair"}).status, 405);
  EXPECT_EQ(page.ask({"GET /pair"}).field("Allow"), "POST");
  EXPECT_EQ(page.ask({"POST /record/7.txt"}).status, 405);
  EXPECT_EQ(page.ask({"GET /live"}).status, 426);
  EXPECT_EQ(page.ask({"GET /live"}).field("Upgrade"), "websocket");
  EXPECT_EQ(page.ask({"POST /live"}).status, 405);
}

TEST(Routes, OneConnectionServesManyRequestsAlsoAllAtOnce) {
  const Served page;
  Wire wire(page.port);
  for (int i = 0; i < 20; ++i) {
    wire.send(Asking{"GET /"}.text(page.port));
    EXPECT_EQ(read_reply(wire).body, file("/").bytes);
  }
  std::string all;
  for (int i = 0; i < 20; ++i)
    all += Asking{"GET /nothing" + std::to_string(i)}.text(page.port) + Asking{"GET /"}.text(page.port);
  wire.send(all);
  for (int i = 0; i < 20; ++i) {
    EXPECT_THAT(read_reply(wire).body, HasSubstr("/nothing" + std::to_string(i)));
    EXPECT_EQ(read_reply(wire).body, file("/").bytes);
  }
}

TEST(Routes, AConnectionEndsWhenTheClientSaysSo) {
  const Served page;
  for (const std::string& text : {Asking{"GET /", {{"Connection", "close"}}}.text(page.port),
                                  "GET / HTTP/1.0\r\nHost: " + page.here() + "\r\n\r\n"}) {
    Wire wire(page.port);
    wire.send(text);
    const Answered reply = read_reply(wire);
    EXPECT_EQ(reply.status, 200);
    EXPECT_EQ(reply.field("Connection"), "close");
    wire.end_sending();
    EXPECT_EQ(wire.read_all(), "");
  }
}

TEST(Record, ASurveyAsText) {
  Served page;
  const Answered reply = page.ask({"GET /record/7.txt"});
  EXPECT_EQ(reply.status, 200);
  EXPECT_EQ(reply.body, "survey 7\n1200 mm\t0.42 mm/m\n");
  EXPECT_EQ(reply.field("Content-Type"), "text/plain; charset=utf-8");
  EXPECT_EQ(reply.field("Content-Disposition"), "inline; filename=\"survey.txt\"");
  EXPECT_EQ(page.ask({"HEAD /record/7.txt"}).status, 200);
  EXPECT_EQ(page.ask({"GET /record/8.txt"}).status, 404);
  EXPECT_THAT(page.ask({"GET /record/8.txt"}).body, HasSubstr("no survey \"8\""));
  EXPECT_EQ(page.ask({"GET /record/a%20b-C_9.x.txt"}).status, 404);
  EXPECT_EQ(page.heard.surveys().back(), "a b-C_9.x");
  EXPECT_EQ(page.ask({"GET /record/" + std::string(80, 'a') + ".txt"}).status, 404);
  EXPECT_EQ(page.heard.surveys().back(), std::string(80, 'a'));
  EXPECT_EQ(page.ask({"GET /record/O%27Neil%20%231%20caf%c3%a9%3a%22x%22.txt"}).status, 404);
  EXPECT_EQ(page.heard.surveys().back(), "O'Neil #1 caf\xc3\xa9:\"x\"");
}

TEST(Record, WhatCannotBeASurveyIsNotAskedFor) {
  Served page;
  for (const std::string& name : {std::string(), std::string(81, 'a'), std::string("a/b"), std::string("%2f"),
                                  std::string("a%"), std::string("a%4"), std::string("%zz"),
                                  std::string("%00"), std::string("%0d%0aX:y"), std::string("a%7f")})
    EXPECT_EQ(page.ask({"GET /record/" + name + ".txt"}).status, 404) << name;
  EXPECT_EQ(page.ask({"GET /record/7"}).status, 404);
  EXPECT_EQ(page.ask({"GET /record/.txt"}).status, 404);
  EXPECT_THAT(page.heard.surveys(), IsEmpty());
}

TEST(Print, IsADocumentToKeepOrWhyThereIsNone) {
  Served page;
  const Answered reply = page.ask({"GET /print/card/7.pdf"});
  EXPECT_EQ(reply.status, 200);
  EXPECT_EQ(reply.body, std::string("%PDF card 7") + std::string("  \0 more", 8));
  EXPECT_EQ(reply.field("Content-Type"), "application/pdf");
  EXPECT_EQ(reply.field("Content-Disposition"), "attachment; filename=\"card-7.pdf\"");
  EXPECT_EQ(page.ask({"GET /print/recheck/a%20b/7.pdf"}).field("Content-Disposition"),
            "attachment; filename=\"recheck-a_b-7.pdf\"");
  const Answered none = page.ask({"GET /print/record/8.pdf"});
  EXPECT_EQ(none.status, 503);
  EXPECT_THAT(none.body, HasSubstr("no survey 8"));
  EXPECT_EQ(page.ask({"POST /print/card/7.pdf"}).status, 405);
  for (const char* path : {"/print/card/.pdf", "/print/card/7", "/print/7.pdf", "/print/recheck/7.pdf",
                           "/print/recheck//7.pdf", "/print/card/a%2fb.pdf", "/print/card/%00.pdf"})
    EXPECT_EQ(page.ask({std::string("GET ") + path}).status, 404) << path;
}

TEST(Record, ALateOneIsGivenUpAndItsReplyIsNoOtherOnes) {
  Patience patience;
  patience.record = milliseconds(200);
  Served page(on_loopback(patience));
  Wire wire(page.port);
  wire.send(Asking{"GET /record/late.txt"}.text(page.port));
  EXPECT_EQ(read_reply(wire).status, 503);
  wire.send(Asking{"GET /record/late1.txt"}.text(page.port));
  page.heard.replies(2).front()("of the first, while the second is awaited");
  EXPECT_EQ(read_reply(wire).status, 503);
  Answered in_time;
  do {  // on a busy machine even a prompt reply can be late
    wire.send(Asking{"GET /record/7.txt"}.text(page.port));
    in_time = read_reply(wire);
  } while (in_time.status == 503);
  EXPECT_THAT(in_time.body, StartsWith("survey 7"));
  // Neither may a reply do harm whose connection, or whose server, has gone.
  const std::size_t before = page.heard.surveys().size();
  wire.send(Asking{"GET /record/late2.txt"}.text(page.port));
  const auto reply = page.heard.replies(before + 1).back();
  wire.reset();
  reply("nobody there");
  EXPECT_TRUE(page.serves());
  page.server.reset();
  reply("no server");
}

// ---- Host, Origin, who asks -----------------------------------------------------------------------------------------

TEST(Host, OnLoopbackOnlyLoopback) {
  const Served page;
  const std::string port = ':' + std::to_string(page.port), other = ':' + std::to_string(page.port ^ 1);
  for (const std::string& own : {"127.0.0.1" + port, "localhost" + port, "LocalHost" + port, "[::1]" + port})
    EXPECT_EQ(page.ask({"GET /", {{"Host", own}}}).status, 200) << own;
  for (const std::string& foreign :
       {"rebound.example" + port, "127.0.0.1" + other, std::string("127.0.0.1"), "127.0.0.1" + port + '0',
        "192.168.1.5" + port, "0.0.0.0" + port, "localhost.example" + port, "127.0.0.1.example" + port,
        "[127.0.0.1]" + port, "::1" + port, "[::1" + port, std::string("["), port, "a@127.0.0.1" + port,
        "127.1" + port, "2130706433" + port}) {
    const Answered reply = page.ask({"GET /", {{"Host", foreign}}});
    EXPECT_EQ(reply.status, 421) << foreign;
    EXPECT_THAT(reply.body, HasSubstr("http://" + page.here() + "/"));
    EXPECT_EQ(page.ask(upgrade(page.port, {{"Host", foreign}, {"Origin", "http://" + foreign}})).status, 421);
  }
}

TEST(Host, ElsewhereAnyNumberAndThisMachinesNames) {
  const Served page({"0.0.0.0", 0});
  std::array<char, 256> name{};
  ASSERT_EQ(::gethostname(name.data(), name.size() - 1), 0);
  const std::string port = ':' + std::to_string(page.port), own = name.data();
  for (const std::string& good : {"127.0.0.1" + port, "192.168.1.5" + port, "[fd00::1]" + port, own + port,
                                  own.substr(0, own.find('.')) + ".local" + port, "localhost" + port})
    EXPECT_EQ(page.ask({"GET /", {{"Host", good}}}).status, 200) << good;
  for (const std::string& foreign :
       {"rebound.example" + port, own + ".example" + port, own, "x" + own + port})
    EXPECT_EQ(page.ask({"GET /", {{"Host", foreign}}}).status, 421) << foreign;
}

TEST(Host, ExactlyOneIsNeeded) {
  const Served page;
  EXPECT_EQ(page.ask_raw("GET / HTTP/1.1\r\n\r\n").status, 400);
  EXPECT_EQ(page.ask_raw("GET / HTTP/1.0\r\n\r\n").status, 400);
  const std::string host = "Host: " + page.here() + "\r\n";
  EXPECT_EQ(page.ask_raw("GET / HTTP/1.1\r\n" + host + host + "\r\n").status, 400);
}

TEST(Origin, MustBeThePagesOwnToAct) {
  const Served page;
  Served all({"0.0.0.0", 0});
  const std::string port = ':' + std::to_string(page.port), own = "http://" + page.here();
  for (const std::string& origin :
       {std::string(), std::string("null"), "https://" + page.here(), std::string("http://127.0.0.1"),
        "http://localhost" + port, "http://elsewhere" + port, own + "0", own + "/", own + ' ' + own}) {
    EXPECT_EQ(page.ask(upgrade(page.port, {{"Origin", origin}})).status, 403) << origin;
    const Answered reply = page.ask({"POST /pair", {{"Origin", origin}}});
    EXPECT_EQ(reply.status, 403) << origin;
    EXPECT_THAT(reply.body, HasSubstr(own));
    EXPECT_EQ(all.ask({"POST /pair", {{"Origin", origin}}, "code=00000000"}).status, 403) << origin;
  }
  EXPECT_EQ(all.heard.calls(), 0u);  // none of these was looked at as an attempt
  EXPECT_EQ(page.ask(upgrade(page.port)).status, 101);
  EXPECT_EQ(page.ask({"POST /pair"}).status, 303);
  // With the Host by which the page was opened.
  const std::string name = "localhost" + port;
  EXPECT_EQ(page.ask(upgrade(page.port, {{"Host", name}, {"Origin", "http://" + name}})).status, 101);
  EXPECT_EQ(page.ask(upgrade(page.port, {{"Host", name}})).status, 403);
  // Twice is none.
  std::string text = upgrade(page.port).text(page.port);
  text.insert(text.find("Origin"), "Origin: " + own + "\r\n");
  EXPECT_EQ(page.ask_raw(text).status, 403);
}

TEST(OtherSites, MayLinkToThePageAndNothingElse) {
  const Served page;
  const auto from = [](const std::string& site, const std::string& mode) {
    return Fields{{"Sec-Fetch-Site", site}, {"Sec-Fetch-Mode", mode}};
  };
  for (const char* site : {"cross-site", "same-site", "unheard-of"}) {
    EXPECT_EQ(page.ask({"GET /", from(site, "navigate")}).status, 200) << site;
    EXPECT_EQ(page.ask({"GET /", from(site, "no-cors")}).status, 403) << site;
    EXPECT_EQ(page.ask({"GET /page.js", from(site, "no-cors")}).status, 403) << site;
    EXPECT_EQ(page.ask({"GET /record/7.txt", from(site, "navigate")}).status, 403) << site;
    EXPECT_EQ(page.ask({"POST /pair", from(site, "navigate")}).status, 403) << site;
    EXPECT_EQ(page.ask(upgrade(page.port, from(site, "websocket"))).status, 403) << site;
  }
  for (const char* site : {"same-origin", "none"}) {
    EXPECT_EQ(page.ask({"GET /page.js", from(site, "no-cors")}).status, 200) << site;
    EXPECT_EQ(page.ask(upgrade(page.port, from(site, "websocket"))).status, 101) << site;
  }
}

// ---- beginning and end ----------------------------------------------------------------------------------------------

std::string fault(const Options& options) {
  auto started = Server::start(options, {});
  return started.ok() ? std::string() : started.fault();
}

TEST(Start, WhatIsInTheWayIsSaid) {
  const Served page;
  EXPECT_THAT(fault({"127.0.0.1", page.port}),
              AllOf(HasSubstr(page.here()), HasSubstr("in use by another program")));
  for (const char* none : {"", "localhost", "127.0.0", "127.0.0.1:80", "300.1.1.1", "[]", "a b"})
    EXPECT_THAT(fault({none, 0}), HasSubstr("no numeric address")) << none;
  // RFC 5737: no machine has this one.
  EXPECT_THAT(fault({"192.0.2.1", 0}), AllOf(HasSubstr("no address 192.0.2.1"), HasSubstr("127.0.0.1")));
  EXPECT_TRUE(page.serves());
}

TEST(Start, AtOnceAgainAtTheSamePort) {
  auto first = std::make_unique<Served>();
  const std::uint16_t port = first->port;
  OpenPage phone(port);
  ASSERT_TRUE(phone.open());
  first.reset();
  const Served again({"127.0.0.1", port});
  EXPECT_EQ(again.port, port);
  EXPECT_TRUE(again.serves());
}

TEST(Start, SaysByWhichAddressesItIsReached) {
  const Served own;
  EXPECT_THAT(own.server->addresses(), ElementsAre("http://" + own.here() + "/"));
  const Served all({"0.0.0.0", 0});
  EXPECT_EQ(all.server->addresses().back(), "http://" + all.here() + "/");
  for (const std::string& one : all.server->addresses())
    EXPECT_THAT(one, MatchesRegex("http://[0-9.]+:" + std::to_string(all.port) + "/"));
}

/// Whether this machine has the address ::1 at all.
bool has_version_six() {
  const int probe = ::socket(AF_INET6, SOCK_STREAM, 0);
  sockaddr_in6 address{};
  address.sin6_family = AF_INET6;
  address.sin6_addr = in6addr_loopback;
  const bool bound =
      probe >= 0 && ::bind(probe, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
  if (probe >= 0) ::close(probe);
  return bound;
}

TEST(Start, AlsoOnVersionSixWhereThisMachineHasIt) {
  auto started = Server::start({"[::1]", 0}, {});
  ASSERT_EQ(started.ok(), has_version_six());
  if (!started.ok()) return;
  const auto& server = *started.value();
  EXPECT_THAT(server.addresses(), ElementsAre("http://[::1]:" + std::to_string(server.port()) + "/"));
  EXPECT_EQ(server.pairing_code(), "");
  const Served all({"::", 0});  // takes the other version too
  EXPECT_EQ(all.ask({"GET /"}).status, 200);
  EXPECT_NE(all.server->pairing_code(), "");
}

TEST(Stop, PartsFromPhonesPolitelyAndCallsNobodyAfterwards) {
  Served page;
  OpenPage phone(page.port), deaf(page.port);
  Wire idle(page.port), half(page.port);
  half.send("GET / HT");
  ASSERT_TRUE(phone.open() && deaf.open());
  std::thread listening([&] {
    EXPECT_EQ(phone.hear(), "");
    EXPECT_EQ(phone.closed(), 1001);
  });
  page.server->stop();
  const std::size_t calls = page.heard.calls();
  listening.join();
  EXPECT_EQ(idle.read_all(), "");
  EXPECT_EQ(half.read_all(), "");
  EXPECT_FALSE(Wire(page.port).connected());
  page.server->publish("work", "1");
  page.server->answer(1, "1");
  page.server->stop();
  page.server.reset();
  EXPECT_EQ(page.heard.calls(), calls);
}

TEST(Stop, WhileEverythingIsBusy) {
  for (int round = 0; round < 5; ++round) {
    Served page;
    std::atomic<bool> ended = false;
    std::vector<std::unique_ptr<OpenPage>> phones;
    for (int i = 0; i < 8; ++i)
      phones.push_back(std::make_unique<OpenPage>(page.port, Fields{}, i < 3 ? 4096 : 0));
    std::vector<std::thread> threads;
    // Three do not read at all; five read and ask; one asks for files; two publish and answer.
    for (std::size_t i = 3; i < 8; ++i)
      threads.emplace_back([&, i] {
        while (phones[i]->say("what?") && !phones[i]->hear_of("answer").empty()) {
        }
      });
    threads.emplace_back([&] {
      while (!ended) {
        Wire wire(page.port);
        wire.send(Asking{"GET /page.js"}.text(page.port) + Asking{"GET /record/late.txt"}.text(page.port));
        if (!ended) (void)read_reply(wire);
      }
    });
    for (int t = 0; t < 2; ++t)
      threads.emplace_back([&, t] {
        for (int i = 0; !ended; ++i) {
          page.server->publish("topic" + std::to_string(t),
                               '"' + std::to_string(i) + std::string(30'000, 'x') + '"');
          for (Phone phone = 1; phone <= 8; ++phone) page.server->answer(phone, std::to_string(i));
          std::this_thread::yield();
        }
      });
    page.heard.said(20);
    page.server->stop();
    const std::size_t calls = page.heard.calls();
    ended = true;
    for (std::thread& one : threads) one.join();
    EXPECT_EQ(page.heard.calls(), calls);
  }
}

}  // namespace
}  // namespace hangtrue::page
