// announcer.hpp: the daemon's standard output: one event a line, its first word naming it, written at once.
//
//   plain   "taken 2 readings at 1200 mm, ..."
//   JSON    {"event":"taken","text":"2 readings at 1200 mm, ...", ...}     one object a line
//
// A reader that is slow is waited for; one that has gone is done without.
#pragma once

#include <string>
#include <string_view>

#include <nlohmann/json.hpp>

namespace hangtrue::daemon {

class Announcer {
 public:
  enum class Form { plain, json };
  Announcer(int descriptor, Form form) : descriptor_(descriptor), form_(form) {}

  /// `more`: an object whose members join the JSON form.
  void say(std::string_view event, std::string_view text, const nlohmann::ordered_json& more = {}) const;
  /// The fit and the card for other programs: "result {...}", or the members themselves in the JSON form.
  void give(std::string_view event, const nlohmann::ordered_json& result) const;

 private:
  void write_line(std::string line) const;

  int descriptor_;
  Form form_;
};

}  // namespace hangtrue::daemon
