// announcer.hpp: the daemon's standard output: one event a line, its first word naming it, written at once.
//
//   plain   "taken 2 readings at 1200 mm, ..."
//   JSON    {"event":"taken","text":"2 readings at 1200 mm, ...", ...}     one object a line
//
// The caller is never held up: lines wait for a reader that is slow, up to kMostWaiting bytes. Beyond that they are left out,
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

namespace hangtrue::daemon {

class Announcer {
 public:
  enum class Form { plain, json };
  static constexpr std::size_t kMostWaiting = 1 << 20;
  static constexpr std::chrono::milliseconds kLastWait{1000};

  Announcer(int descriptor, Form form);
  ~Announcer();
  Announcer(const Announcer&) = delete;
  Announcer& operator=(const Announcer&) = delete;

  /// `more`: an object whose members join the JSON form.
  void say(std::string_view event, std::string_view text, const nlohmann::ordered_json& more = {}) const;
  /// The fit and the card for other programs: "result {...}", or the members themselves in the JSON form.
  void give(std::string_view event, const nlohmann::ordered_json& result) const;

 private:
  [[nodiscard]] std::string line(std::string_view event, std::string_view text,
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
