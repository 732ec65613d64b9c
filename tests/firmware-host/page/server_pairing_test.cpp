// Pairing with the page's server, over bare sockets: who reads and acts without a code, and who guesses.
#include "firmware-host/page/server.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <sys/stat.h>

#include <atomic>
#include <filesystem>
#include <fstream>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "firmware-host/page/pairing.hpp"
#include "tests/firmware-host/page/served.hpp"

namespace hangtrue::page {
namespace {

using namespace test;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::MatchesRegex;
using ::testing::StartsWith;

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

}  // namespace
}  // namespace hangtrue::page
