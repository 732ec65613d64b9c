// announcer.hpp: the daemon's standard output: one event a line, its first word naming it, written at once.
//
//   plain   "taken 2 readings at 1200 mm, ..."
//   JSON    {"event":"taken","text":"2 readings at 1200 mm, ...", ...}     one object a line
//
// The caller is never held up (patient_writer.hpp); lines that were left out are counted in an event "trouble" once there is room.
// Threads   say() from any.
#pragma once

#include <string>
#include <string_view>

#include <nlohmann/json.hpp>

#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/events.hpp"
#include "firmware-host/daemon/patient_writer.hpp"

namespace hangtrue::daemon {

class Announcer {
 public:
  enum class Form { plain, json };

  Announcer(int descriptor, Form form);

  /// `more`: an object whose members join the JSON form.
  void say(Event event, std::string_view text, const nlohmann::ordered_json& more = {}) const;
  /// An event for each line of the text, "|".
  void say_lines(std::string_view text) const;
  /// A result, which is the fit and the card for other programs: "result {...}", or the members themselves in the JSON form.
  void say(const Answer& answer) const;

 private:
  [[nodiscard]] std::string line(Event event, std::string_view text,
                                 const nlohmann::ordered_json& more) const;

  Form form_;
  mutable PatientWriter writer_;
};

}  // namespace hangtrue::daemon
