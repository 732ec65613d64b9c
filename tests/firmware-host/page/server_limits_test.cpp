// That nobody who is slow, broken or ill-meaning keeps the page's server from serving the next phone; over bare sockets.
#include "firmware-host/page/server.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include <memory>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include <boost/asio/error.hpp>
#include <boost/beast/core/error.hpp>
#include <boost/beast/http/error.hpp>

#include "tests/firmware-host/page/served.hpp"

namespace hangtrue::page {
namespace {

using namespace std::string_literals;
using namespace test;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

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

}  // namespace
}  // namespace hangtrue::page
