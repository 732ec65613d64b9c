// announcer.hpp: the daemon's standard output: one event a line, its first word naming it, written at once.
//
//   plain   "taken 2 readings at 1200 mm, ..."
//   JSON    {"event":"taken","text":"2 readings at 1200 mm, ...", ...}     one object a line
//
// The caller is never held up: lines wait for a reader that is slow, up to kMostUnread_bytes. Beyond that they are left out,
// and counted in an event "trouble" once there is room. A reader that has gone is done without. At the end what waits is
// given kLastWait to go.
// Threads   one of its own, which writes; say() and give() from any.
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstddef>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>

#include <nlohmann/json.hpp>

#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/events.hpp"
#include "firmware-host/daemon/thresholds.hpp"

namespace hangtrue::daemon {

class Announcer {
 public:
  enum class Form { plain, json };

  Announcer(int descriptor, Form form);
  ~Announcer();
  Announcer(const Announcer&) = delete;
  Announcer& operator=(const Announcer&) = delete;

  /// `more`: an object whose members join the JSON form.
  void say(Event event, std::string_view text, const nlohmann::ordered_json& more = {}) const;
  /// An event for each line of the text, "|".
  void say_lines(std::string_view text) const;
  /// A result, which is the fit and the card for other programs: "result {...}", or the members themselves in the JSON form.
  void say(const Answer& answer) const;

 private:
  [[nodiscard]] std::string line(Event event, std::string_view text,
                                 const nlohmann::ordered_json& more) const;
  void queue(std::string line) const;
  void write_on() const;
  /// Some of it without blocking; what is left over.
  [[nodiscard]] std::string_view write_some(std::string_view bytes) const;

  int descriptor_;
  Form form_;
  mutable std::mutex mutex_;  // of all below
  mutable std::condition_variable changed_;
  mutable std::string waiting_;
  mutable std::size_t left_out_ = 0;  // lines
  bool ending_ = false;
  std::thread writer_;
};

}  // namespace hangtrue::daemon
