// served.hpp: the page's server with what a phone on this machine does with it, and what the daemon was told.
#pragma once

#include <gtest/gtest.h>

#include <chrono>
#include <condition_variable>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <utility>
#include <vector>

#include "firmware-host/page/server.hpp"
#include "tests/firmware-host/page/phone.hpp"

namespace hangtrue::page::test {

using std::chrono::milliseconds;
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

inline Options on_loopback(Patience patience = {}) { return {"127.0.0.1", 0, {}, patience}; }

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

}  // namespace hangtrue::page::test
