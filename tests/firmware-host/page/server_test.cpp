// The page's server from outside, over bare sockets: what it serves and to whom, what it refuses, and that nobody who is slow,
// broken or ill-meaning keeps it from serving the next phone.
#include "firmware-host/page/server.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <condition_variable>
#include <filesystem>
#include <fstream>
#include <mutex>
#include <random>
#include <thread>
#include <vector>

#include <boost/asio/error.hpp>
#include <boost/beast/core/error.hpp>
#include <boost/beast/http/error.hpp>

#include "firmware-host/page/pairing.hpp"
#include "tests/firmware-host/page/phone.hpp"

namespace hangtrue::page {
namespace {

using namespace std::string_literals;
using namespace test;
using std::chrono::milliseconds;
using ::testing::AnyOf;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::MatchesRegex;
using ::testing::Not;
using ::testing::StartsWith;

using Fields = std::map<std::string, std::string>;

/// What the daemon was told.
class Heard {
 public:
  struct Said {
    Phone phone;
    std::string frame;
  };
  Hooks hooks() {
    Hooks hooks;
    hooks.said = [this](Phone phone, std::string frame) {
      add([&] { said_.push_back({phone, std::move(frame)}); });
    };
    hooks.gone = [this](Phone phone) { add([&] { gone_.push_back(phone); }); };
    hooks.note = [this](std::string sentence) { add([&] { notes_.push_back(std::move(sentence)); }); };
    hooks.record = [this](std::string survey, std::function<void(std::string)> reply) {
      add([&] {
        surveys_.push_back(survey);
        replies_.push_back(reply);
      });
      if (survey.starts_with("late")) return;
      reply(survey == "7" ? "survey 7\n1200 mm\t0.42 mm/m\n" : "");
    };
    hooks.print = [](const Document& document, std::function<void(std::string)> reply) {
      const char* const kind = document.kind == Document::Kind::card ? "card" : "recheck";
      if (document.survey != "7") return reply("There is no survey " + document.survey + '.');
      reply(std::string("%PDF ") + kind + ' ' + document.survey + document.from +
            std::string("  \0 more", 8));
    };
    return hooks;
  }
  std::vector<Said> said(std::size_t least) {
    return wait([&] { return said_.size() >= least; }, said_);
  }
  std::vector<Phone> gone(std::size_t least) {
    return wait([&] { return gone_.size() >= least; }, gone_);
  }
  std::vector<std::string> notes(std::size_t least) {
    return wait([&] { return notes_.size() >= least; }, notes_);
  }
  std::vector<std::string> surveys() {
    return wait([] { return true; }, surveys_);
  }
  std::vector<std::function<void(std::string)>> replies(std::size_t least) {
    return wait([&] { return replies_.size() >= least; }, replies_);
  }
  /// Of all kinds.
  std::size_t calls() {
    const std::scoped_lock lock(mutex_);
    return calls_;
  }

 private:
  template <class Change>
  void add(Change change) {
    const std::scoped_lock lock(mutex_);
    change();
    ++calls_;
    changed_.notify_all();
  }
  template <class Until, class What>
  What wait(Until until, const What& what) {
    std::unique_lock lock(mutex_);
    if (!changed_.wait_for(lock, milliseconds(kPatient_ms), until)) ADD_FAILURE() << "it never came";
    return what;
  }
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<Said> said_;
  std::vector<Phone> gone_;
  std::vector<std::string> notes_, surveys_;
  std::vector<std::function<void(std::string)>> replies_;
  std::size_t calls_ = 0;
};

Options on_loopback(Patience patience = {}) { return {"127.0.0.1", 0, {}, patience}; }

/// A server, and what a phone on this machine does with it.
class Served {
 public:
  explicit Served(const Options& options = on_loopback()) {
    auto started = Server::start(options, heard.hooks());
    EXPECT_TRUE(started.ok()) << (started.ok() ? "" : started.fault());
    server = std::move(started).value();
    port = server->port();
  }
  [[nodiscard]] Answered ask(const Asking& asking) const { return ask_raw(asking.text(port), asking.line); }
  [[nodiscard]] Answered ask_raw(const std::string& bytes, std::string_view line = "GET") const {
    Wire wire(port);
    wire.send(bytes);
    return read_reply(wire, line.starts_with("HEAD"));
  }
  [[nodiscard]] bool serves() const { return ask({"GET /"}).status == 200; }
  [[nodiscard]] std::string here() const { return "127.0.0.1:" + std::to_string(port); }

  Heard heard;
  std::unique_ptr<Server> server;
  std::uint16_t port = 0;
};

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

// ---- pairing --------------------------------------------------------------------------------------------------------

/// A server on every address, with its key in a folder of its own.
class Pairing : public ::testing::Test {
 protected:
  Pairing() {
    std::string name = ::testing::TempDir() + "pairing-XXXXXX";
    folder_ = ::mkdtemp(name.data());
    start();
  }
  ~Pairing() override {
    page_.reset();
    std::filesystem::remove_all(folder_);
  }
  void start(std::uint16_t port = 0) {
    page_.reset();
    page_ = std::make_unique<Served>(Options{"0.0.0.0", port, key_path(), {}});
  }
  std::string key_path() const { return folder_ / "key"; }
  Answered type(const std::string& code) const { return page_->ask({"POST /pair", {}, "code=" + code}); }
  /// From 127.0.0.1 and so many further.
  Answered type_from(std::uint32_t further, const std::string& code) const {
    Wire wire(page_->port, 0, INADDR_LOOPBACK + further);
    EXPECT_TRUE(wire.send(Asking{"POST /pair", {}, "code=" + code}.text(page_->port)));
    return read_reply(wire);
  }
  /// "hangtrue-1234abcd=token"
  std::string pair() const {
    const std::string set = type(page_->server->pairing_code()).field("Set-Cookie");
    return set.substr(0, set.find(';'));
  }
  bool lets_in(const std::string& cookie) const {
    const int script = page_->ask({"GET /page.js", {{"Cookie", cookie}}}).status;
    const int live = page_->ask(upgrade(page_->port, {{"Cookie", cookie}})).status;
    EXPECT_TRUE((script == 200 && live == 101) || (script == 401 && live == 403)) << script << ' ' << live;
    return script == 200;
  }
  std::filesystem::path folder_;
  std::unique_ptr<Served> page_;
};

TEST_F(Pairing, UnpairedNobodyReadsOrDoesAnything) {
  std::vector<std::string> paths = {"/live",    "/pair", "/record/7.txt", "/nothing",
                                    "/record/", "//",    "/?x/page.js"};
  for (const Asset& asset : assets()) paths.emplace_back(asset.path);
  for (const std::string& path : paths) {
    const bool root = path == "/" || path.starts_with("/?");
    for (const char* method : {"GET", "HEAD"}) {
      const Answered reply = page_->ask({method + (' ' + path)});
      EXPECT_EQ(reply.status, root ? 200 : 401) << method << path;
      EXPECT_EQ(reply.fields.count("ETag"), 0u);
      EXPECT_EQ(reply.field("Cache-Control"), "no-store");
      EXPECT_EQ(reply.fields.count("WWW-Authenticate"), root ? 0u : 1u);
      for (const Asset& asset : assets()) EXPECT_NE(reply.body, asset.bytes);
    }
    for (const std::string method : {"POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "BREW"}) {
      const bool pairs = path == "/pair" && method == "POST";  // without a code
      EXPECT_EQ(page_->ask({method + ' ' + path}).status, pairs ? 400 : 403) << method << path;
    }
    Asking open = upgrade(page_->port);
    open.line = "GET " + path;
    EXPECT_EQ(page_->ask(open).status, 403) << path;
    open.line = "POST " + path;
    EXPECT_EQ(page_->ask(open).status, 403) << path;
  }
  EXPECT_THAT(page_->heard.surveys(), IsEmpty());
  EXPECT_EQ(page_->heard.calls(), 0u);
}

TEST_F(Pairing, ThePageOfAnUnpairedPhoneAsksForTheCode) {
  const Answered reply = page_->ask({"GET /"});
  EXPECT_EQ(reply.status, 200);
  EXPECT_EQ(reply.field("Content-Type"), "text/html; charset=utf-8");
  EXPECT_THAT(reply.body, HasSubstr("<form method=\"post\" action=\"/pair\">"));
  EXPECT_THAT(reply.field("Content-Security-Policy"), HasSubstr("style-src 'sha256-"));
  EXPECT_THAT(reply.field("Content-Security-Policy"), HasSubstr("form-action 'self'"));
  // With "no-referrer" a browser would post the form with Origin: null (Fetch standard, "append a request Origin header").
  EXPECT_EQ(reply.field("Referrer-Policy"), "same-origin");
  EXPECT_EQ(reply.fields.count("Cross-Origin-Opener-Policy"), 0u);
  EXPECT_EQ(reply.body.find(page_->server->pairing_code().substr(0, 4)), std::string::npos);
}

TEST_F(Pairing, TheCodeOnceAndThenTheCookie) {
  const std::string code = page_->server->pairing_code();
  ASSERT_THAT(code, MatchesRegex("[0-9]{4} [0-9]{4}"));
  const Answered reply = type(code.substr(0, 4) + "+" + code.substr(5));
  EXPECT_EQ(reply.status, 303);
  EXPECT_EQ(reply.field("Location"), "/");
  const std::string set = reply.field("Set-Cookie");
  EXPECT_THAT(
      set, MatchesRegex("hangtrue-[0-9a-f]{8}=[0-9a-f]{32}[.][0-9]+[.][0-9a-f]{64}; Max-Age=7776000; Path=/; "
                        "HttpOnly; SameSite=Strict"));
  const std::string cookie = set.substr(0, set.find(';'));
  for (const Asset& asset : assets())
    EXPECT_EQ(page_->ask({"GET " + std::string(asset.path), {{"Cookie", cookie}}}).body, asset.bytes);
  EXPECT_EQ(page_->ask({"GET /record/7.txt", {{"Cookie", cookie}}}).status, 200);
  EXPECT_TRUE(lets_in(cookie));
  EXPECT_TRUE(lets_in("other=1; " + cookie + ";last=2"));
  EXPECT_THAT(page_->heard.notes(1), Contains(StartsWith("a phone at 127.0.0.1 was paired")));
  EXPECT_EQ(page_->ask({"POST /pair", {{"Cookie", cookie}}, "code=1"}).status, 303);
  // The code goes on: for the next phone.
  EXPECT_NE(pair(), cookie);
}

TEST_F(Pairing, TheFormIsReadAsBrowsersSendIt) {
  const std::string code = page_->server->pairing_code(), a = code.substr(0, 4), b = code.substr(5);
  for (const std::string& body :
       {"code=" + a + "%20" + b, "x=1&code=" + a + '-' + b + "&y", "code=" + a + "%2D" + b})
    EXPECT_EQ(page_->ask({"POST /pair", {}, body}).status, 303) << body;
  for (const std::string& body :
       {std::string("code="), std::string("code"), "kode=" + a + b, "code=" + a + b + "%",
        "code=" + a + "&code=" + b, a + b, std::string("&&=&"), "xcode=" + a + b}) {
    const Answered reply = page_->ask({"POST /pair", {}, body});
    EXPECT_EQ(reply.status, 400) << body;
    EXPECT_THAT(reply.body, HasSubstr("8 digits"));
  }
  EXPECT_EQ(page_->ask({"POST /pair"}).status, 400);
}

TEST_F(Pairing, StaysWhenTheDaemonIsStartedAnew) {
  const std::string cookie = pair(), code = page_->server->pairing_code();
  start();
  EXPECT_TRUE(lets_in(cookie));
  EXPECT_NE(page_->server->pairing_code(), code);
  EXPECT_THAT(page_->heard.notes(0), IsEmpty());  // nothing to complain of
}

TEST_F(Pairing, EndsForAllWhenTheFileIsTakenAway) {
  const std::string cookie = pair();
  page_.reset();
  std::filesystem::remove(key_path());
  start();
  EXPECT_FALSE(lets_in(cookie));
  EXPECT_TRUE(lets_in(pair()));
}

TEST_F(Pairing, WithAFileOfNoUsePhonesPairAnewAndThatIsSaid) {
  page_.reset();
  std::ofstream(key_path()) << "no key";
  ASSERT_EQ(::chmod(key_path().c_str(), 0600), 0);
  start();
  EXPECT_THAT(page_->heard.notes(1), ElementsAre(HasSubstr("damaged")));
  const std::string cookie = pair();
  EXPECT_TRUE(lets_in(cookie));
  start();
  EXPECT_FALSE(lets_in(cookie));
}

TEST_F(Pairing, NoCookieThatIsNotOursLetsAnybodyIn) {
  const std::string cookie = pair(), name = cookie.substr(0, cookie.find('=')),
                    token = cookie.substr(name.size() + 1);
  const auto now = std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
  const KeptKey kept = keep_key(key_path());
  ASSERT_EQ(kept.trouble, "");
  EXPECT_TRUE(lets_in(name + '=' + make_token(kept.key, now)));
  std::vector<std::string> bad = {"",
                                  token,
                                  name,
                                  name + '=',
                                  "x" + cookie,
                                  name + "x=" + token,
                                  name + " =" + token,
                                  "x=" + cookie,
                                  name + "=\"" + token + '"',
                                  name + '=' + make_token(draw_key(), now),
                                  name + '=' + make_token(kept.key, now - kPairedFor)};
  for (std::size_t i = 0; i < token.size(); i += 7) {
    std::string changed = token;
    changed[i] = changed[i] == '1' ? '2' : '1';
    bad.push_back(name + '=' + changed);
  }
  for (const std::string& one : bad) EXPECT_FALSE(lets_in(one)) << one;
  EXPECT_TRUE(lets_in(name + "=old; " + cookie));
}

TEST_F(Pairing, WrongCodesAreLimitedByAddress) {
  const std::string code = page_->server->pairing_code(), wrong = code[0] == '1' ? "20000000" : "10000000";
  for (int i = 0; i < 4; ++i) {
    const Answered reply = type(wrong);
    EXPECT_EQ(reply.status, 403);
    EXPECT_THAT(reply.body, HasSubstr("role=\"alert\">That was not the code"));
    EXPECT_EQ(reply.fields.count("Retry-After"), 0u);
    EXPECT_EQ(reply.fields.count("Set-Cookie"), 0u);
  }
  const Answered fifth = type(wrong);
  EXPECT_EQ(fifth.status, 403);
  EXPECT_EQ(fifth.field("Retry-After"), "30");
  const Answered early = type(code);
  EXPECT_EQ(early.status, 429);
  EXPECT_EQ(early.fields.count("Set-Cookie"), 0u);
  EXPECT_THAT(early.field("Retry-After"), MatchesRegex("[12]?[0-9]|30"));
  const auto notes = page_->heard.notes(5);
  EXPECT_EQ(notes.size(), 5u);  // what comes within the wait fills no log
  EXPECT_THAT(notes, Contains(HasSubstr("a wrong pairing code came from 127.0.0.1")).Times(5));
}

TEST_F(Pairing, WhoHasNotGuessedIsLetInWhileManyGuess) {
  const std::string code = page_->server->pairing_code(), wrong = code[0] == '1' ? "20000000" : "10000000";
  std::atomic<bool> stop = false;
  std::vector<std::thread> guessers;
  for (std::uint32_t one = 0; one < 4; ++one)
    guessers.emplace_back([&, one] {
      for (std::uint32_t i = 0; !stop; ++i) (void)type_from(1000 * (one + 1) + i % 100, wrong);
    });
  for (std::uint32_t phone = 1; phone <= 50; ++phone) {
    const Answered reply = type_from(phone, code);
    EXPECT_EQ(reply.status, 303) << phone;
    EXPECT_EQ(reply.fields.count("Set-Cookie"), 1u);
  }
  // Where even the phone's own address guesses, the person at the daemon lets it in.
  const std::string once = page_->server->pair_one();
  for (int i = 0; i < 20; ++i) (void)type_from(1, wrong);
  EXPECT_EQ(type_from(1, code).status, 429);
  EXPECT_EQ(type_from(1, once).status, 303);
  EXPECT_NE(type_from(2, once).status, 303) << "it counts once";
  stop = true;
  for (std::thread& guesser : guessers) guesser.join();
}

TEST_F(Pairing, OnLoopbackThereIsNone) {
  const Served own;
  EXPECT_EQ(own.server->pairing_code(), "");
  EXPECT_EQ(own.server->pair_one(), "");
  EXPECT_EQ(own.ask({"POST /pair", {}, "code=1"}).status, 303);
}

// ---- limits ---------------------------------------------------------------------------------------------------------

TEST(Limits, HeaderAndBody) {
  const Served page;
  const auto with_header = [&](std::size_t size) {
    std::string text = "GET / HTTP/1.1\r\nHost: " + page.here() + "\r\nX: ";
    return text + std::string(size - text.size() - 4, 'x') + "\r\n\r\n";
  };
  EXPECT_EQ(page.ask_raw(with_header(kLongestHeader)).status, 200);
  EXPECT_EQ(page.ask_raw(with_header(kLongestHeader + 100)).status, 431);  // the first line counts apart
  EXPECT_EQ(page.ask_raw(with_header(1'000'000)).status, 431);
  EXPECT_EQ(page.ask_raw("GET /" + std::string(20'000, 'x')).status, 431);
  std::string many = "GET / HTTP/1.1\r\nHost: " + page.here() + "\r\n";
  while (many.size() < 50'000) many += "a:b\r\n";
  EXPECT_EQ(page.ask_raw(many + "\r\n").status, 431);

  EXPECT_EQ(page.ask({"POST /pair", {}, std::string(kLongestBody, 'x')}).status, 303);
  EXPECT_EQ(page.ask({"POST /pair", {}, std::string(kLongestBody + 1, 'x')}).status, 413);
  EXPECT_EQ(page.ask({"POST /pair", {}, std::string(900'000, 'x')}).status, 413);
  EXPECT_EQ(page.ask({"POST /pair", {{"Content-Length", "18446744073709551615"}}}).status, 413);
  EXPECT_EQ(page.ask({"POST /pair", {{"Content-Length", "18446744073709551616"}}}).status, 400);
  std::string chunks = Asking{"POST /pair", {{"Transfer-Encoding", "chunked"}}}.text(page.port);
  EXPECT_EQ(page.ask_raw(chunks + "4\r\ncode\r\n0\r\n\r\n").status, 303);
  for (int i = 0; i < 2000; ++i) chunks += "1\r\nx\r\n";
  EXPECT_EQ(page.ask_raw(chunks).status, 413);
}

TEST(Limits, WhatIsNoRequestIsRefused) {
  const Served page;
  const std::string host = "Host: " + page.here() + "\r\n";
  for (const std::string& text :
       {std::string("\r\n\r\n\r\n"), std::string("GET\r\n\r\n"), "GET / HTTP/2.0\r\n" + host + "\r\n",
        "GET / HTTP/0.9\r\n" + host + "\r\n", "GET / HTTP/1.1 \r\n" + host + "\r\n",
        "GET  / HTTP/1.1\r\n" + host + "\r\n", "GET / HTTP/1.1\r\nbad field\r\n" + host + "\r\n",
        "GET / HTTP/1.1\r\n" + host + "Content-Length: -1\r\n\r\n",
        "GET / HTTP/1.1\r\n" + host + "Content-Length: 1\r\nContent-Length: 2\r\n\r\n",
        "POST / HTTP/1.1\r\n" + host + "Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n",
        "GET http://" + page.here() + "/ HTTP/1.1\r\n" + host + "\r\n",
        "OPTIONS * HTTP/1.1\r\n" + host + "\r\n", "CONNECT a:1 HTTP/1.1\r\n" + host + "\r\n",
        std::string("PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"),
        "\x16\x03\x01\x02\0\x01\0\x01\xfc\x03\x03 a TLS hello"s, "G\0T / HTTP/1.1\r\n"s + host + "\r\n",
        std::string("POST /pair HTTP/1.1\r\n") + host + "Transfer-Encoding: chunked\r\n\r\nzz\r\n"}) {
    const Answered reply = page.ask_raw(text);
    EXPECT_EQ(reply.status, 400) << text;
  }
}

TEST(Limits, SlowHeadersAndBodiesAreCutOff) {
  Patience patience;
  patience.request = milliseconds(300);
  const Served page(on_loopback(patience));
  const std::string get = Asking{"GET /"}.text(page.port);
  const std::string post = Asking{"POST /pair", {{"Content-Length", "20"}}}.text(page.port);
  for (const std::string& begun : {get.substr(0, 1), get.substr(0, get.size() - 1), post, post + "code=1"}) {
    Wire wire(page.port);
    wire.send(begun);
    const Answered reply = read_reply(wire);
    EXPECT_EQ(reply.status, 408) << begun;
    EXPECT_EQ(reply.field("Connection"), "close");
    EXPECT_EQ(wire.read_all(), "");
  }
  // A byte now and then does not renew it.
  Wire wire(page.port);
  wire.send("GET / HTTP/1.1\r\nX: ");
  while (!wire.has_news(20)) wire.send("x");
  EXPECT_EQ(read_reply(wire).status, 408);
}

TEST(Limits, WhoSaysNothingIsClosedWithoutAWord) {
  Patience patience;
  patience.idle = milliseconds(500);
  const Served page(on_loopback(patience));
  Wire silent(page.port);
  EXPECT_EQ(silent.read_all(), "");
  int status = 0;
  // On a busy machine this end may itself be the one that says nothing for so long.
  for (int i = 0; i < 100 && status == 0; ++i) {
    Wire between(page.port);
    between.send(Asking{"GET /"}.text(page.port));
    status = read_reply(between).status;
    EXPECT_EQ(between.read_all(), "");
  }
  EXPECT_EQ(status, 200);
}

TEST(Limits, WhoDoesNotReadIsClosed) {
  Patience patience;
  patience.writing = milliseconds(300);
  const Served page(on_loopback(patience));
  Wire wire(page.port, 4096);
  std::string all;  // far more replies than the kernel keeps for somebody who does not read them
  for (int i = 0; i < 500; ++i) all += Asking{"GET /page.js"}.text(page.port);
  std::thread asking([&] {
    while (wire.send(all))
      ;
  });
  asking.join();  // which ends, since the server does
  EXPECT_TRUE(page.serves());
}

TEST(Limits, TwoHundredWhoWaitAndThenAGoodOne) {
  const Served page;
  std::vector<Wire> waiting;
  for (int i = 0; i < 200; ++i) {
    waiting.emplace_back(page.port);
    ASSERT_TRUE(waiting.back().connected());
    if (i % 2 == 1) waiting.back().send("GET / HTTP/1.1\r\nX: ");
  }
  EXPECT_TRUE(page.serves());
  OpenPage phone(page.port);
  EXPECT_TRUE(phone.open());
}

TEST(Limits, BeyondTheMostTheOneThatWaitsLongestGoesAndPhonesStay) {
  Patience patience;
  patience.idle = std::chrono::hours(1);  // nobody goes for that reason
  Served page(on_loopback(patience));
  OpenPage phone(page.port);
  ASSERT_TRUE(phone.open());
  std::vector<Wire> waiting;
  for (std::size_t i = 0; i < kMostConnections + 40; ++i) {
    waiting.emplace_back(page.port);
    // Each is admitted before the next comes; it has asked once, and waits from then on.
    waiting.back().send(Asking{"GET /nothing"}.text(page.port));
    ASSERT_EQ(read_reply(waiting.back()).status, 404) << i;
  }
  for (std::size_t i = 0; i < 41; ++i) EXPECT_EQ(waiting[i].read_all(), "") << i;
  Wire& later = waiting[45];
  later.send(Asking{"GET /"}.text(page.port));
  EXPECT_EQ(read_reply(later).status, 200);
  page.server->publish("live", "1");
  EXPECT_EQ(phone.hear(), R"({"live":1})");
}

TEST(Limits, AsManyPhonesAsThereMayBe) {
  Served page;
  std::vector<std::unique_ptr<OpenPage>> phones;
  for (std::size_t i = 0; i < kMostPhones; ++i) {
    phones.push_back(std::make_unique<OpenPage>(page.port));
    ASSERT_TRUE(phones.back()->open()) << i;
  }
  const OpenPage refused(page.port);
  EXPECT_EQ(refused.reply().status, 503);
  EXPECT_THAT(refused.reply().body, HasSubstr("64 phones"));
  phones.pop_back();
  page.heard.gone(1);
  // The hook comes before its place is free.
  int status = 503;
  for (int i = 0; i < 1000 && status == 503; ++i) status = OpenPage(page.port).reply().status;
  EXPECT_EQ(status, 101);
}

TEST(Limits, NoDescriptorLeftIsNoEnd) {
  Served page;
  // A sanitizer looks at an object's type through a pipe the first time that it meets one of its kind, and takes the
  // object for broken where no pipe is to be had; so the server has served once before, the kinds of errors have been
  // met, and nothing is judged meanwhile.
  ASSERT_TRUE(page.serves());
  using boost::system::error_code;
  for (const error_code& error :
       {error_code(EMFILE, boost::system::system_category()),
        error_code(EMFILE, boost::system::generic_category()), error_code(boost::asio::error::eof),
        error_code(boost::beast::error::timeout), error_code(boost::beast::http::error::end_of_stream)})
    ASSERT_FALSE(!error || error.message().empty() || error == boost::asio::error::connection_aborted);
  rlimit before{};
  ASSERT_EQ(::getrlimit(RLIMIT_NOFILE, &before), 0);
  // Sockets first, since they are of this same process; then no more are to be had.
  std::vector<Wire> wires;
  const int highest = ::dup(0);
  ::close(highest);
  std::vector<int> sockets;
  for (int i = 0; i < 20; ++i) sockets.push_back(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0));
  rlimit now = before;
  now.rlim_cur = static_cast<rlim_t>(sockets.back() + 1);
  ASSERT_EQ(::setrlimit(RLIMIT_NOFILE, &now), 0);
  sockaddr_in there{};
  there.sin_family = AF_INET;
  there.sin_port = htons(page.port);
  there.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  for (const int one : sockets) ::connect(one, reinterpret_cast<const sockaddr*>(&there), sizeof there);
  const std::string note = page.heard.notes(1).front();
  ASSERT_EQ(::setrlimit(RLIMIT_NOFILE, &before), 0);
  EXPECT_THAT(note, HasSubstr("no phone can connect"));
  EXPECT_TRUE(page.serves());
  for (const int one : sockets) ::close(one);
}

std::string random_bytes(std::mt19937& random, std::size_t size) {
  std::string bytes(size, '\0');
  for (char& one : bytes) one = static_cast<char>(random() & 0xff);
  return bytes;
}

TEST(RandomBytes, AMillionInsteadOfRequests) {
  const Served page;
  std::mt19937 random(20240501);
  const std::string begun = Asking{"POST /pair", {{"Content-Length", "600"}}}.text(page.port);
  for (int i = 0; i < 200; ++i) {
    Wire wire(page.port);
    // Bare, and behind the beginning of something good.
    wire.send(begun.substr(0, i % 2 == 0 ? 0 : random() % (begun.size() + 1)));
    wire.send(random_bytes(random, 5000));
    wire.end_sending();
    (void)wire.read_all();
  }
  EXPECT_TRUE(page.serves());
}

TEST(RandomBytes, InsteadOfFrames) {
  Served page;
  std::mt19937 random(20240502);
  for (int i = 0; i < 200; ++i) {
    OpenPage phone(page.port);
    ASSERT_TRUE(phone.open());
    std::string bytes = random_bytes(random, 1 + random() % 5000);
    if (i % 2 == 0)
      bytes[0] = static_cast<char>(0x81 + random() % 10), bytes[1] = static_cast<char>(bytes[1] | 0x80);
    phone.send(bytes);
    phone.wire().end_sending();
    (void)phone.wire().read_all();
  }
  EXPECT_EQ(page.heard.gone(200).size(), 200u);
  EXPECT_THAT(page.heard.notes(0), IsEmpty());
  OpenPage phone(page.port);
  phone.say("well?");
  const std::size_t last = page.heard.said(1).size();
  EXPECT_EQ(page.heard.said(last).back().frame, "well?");
}

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
