// answer.hpp: what a command comes to. Every command gets exactly one.
//
// Told   on standard output as one event; a phone that asked gets `words`. What follows from it is done after it was told.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <nlohmann/json.hpp>

#include "firmware-host/daemon/events.hpp"
#include "firmware-host/daemon/told.hpp"

namespace hangtrue::daemon {

struct Answer {
  bool done = true;  // false: refused, and nothing was changed
  Event event = Event::done;
  std::string text;
  nlohmann::ordered_json more =
      nullptr;        // an object whose members join the JSON form; of a result: all of it
  std::string words;  // for a phone
  std::vector<std::string> warnings = {};  // told after it

  // What follows.
  bool changes = true;          // what people saw before is not what they would decide by now
  bool other_checks = false;    // other checks of instruments count from now on
  bool other_readings = false;  // the fit is of other readings, or starts from others checks
  bool ends = false;            // the program

  void add(const Told& more_told) {
    text += more_told.text;
    words += more_told.words;
  }
};

[[nodiscard]] inline Answer answered(Event event, Told told, nlohmann::ordered_json more = nullptr) {
  Answer answer;
  answer.event = event;
  // In another language the sentence stands without the event's word, which is English.
  const bool bare = event == Event::here || told.words != told.text;
  answer.words = bare ? std::move(told.words) : std::string(word(event)) + ' ' + told.words;
  answer.text = std::move(told.text);
  answer.more = std::move(more);
  return answer;
}

/// `command`: as people write it, or "command" where any was meant.
[[nodiscard]] inline Answer refused(std::string_view command, const Told& reason) {
  Answer answer = answered(Event::refused, std::string(command) + ": " + reason.text);
  answer.done = false;
  // A phone shows the words beneath its own "Not done": there they need not say so again.
  const bool bare = command == "command" || reason.words != reason.text;
  answer.words = bare ? reason.words : std::string(command) + ": " + reason.words;
  return answer;
}

/// The end of a list whose lines were told before.
[[nodiscard]] inline Answer listed(Event event) {
  Answer answer;
  answer.event = event;
  answer.text = "end";
  answer.changes = false;
  return answer;
}

}  // namespace hangtrue::daemon
