// events.hpp: what the daemon says on standard output, and the word that each such line begins with.
//
// Other programs read these words: a new one may be added, none may change.
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

namespace hangtrue::daemon {

enum class Event {
  // Answers to commands, one each.
  here,
  taken,
  refused,
  undone,
  corrected,
  check,
  checked,
  made,
  told,
  recheck,
  result,
  sealed,
  done,
  // Lines of longer answers.
  text,
  reading,
  status,
  help,
  // What happens by itself.
  ready,
  page,
  pairing,
  phone,
  broker,
  station,
  settled,
  live,
  watch,
  state,
  lost,
  back,
  warning,
  trouble,
  clock,
  stopped,
  count
};

[[nodiscard]] constexpr std::string_view word(Event event) {
  constexpr std::array<std::string_view, std::size_t(Event::count)> words{
      "here",    "taken",   "refused", "undone",  "corrected", "check",   "checked", "made",  "told",
      "recheck", "result",  "sealed",  "done",    "|",         "reading", "status",  "help",  "ready",
      "page",    "pairing", "phone",   "broker",  "station",   "settled", "live",    "watch", "state",
      "lost",    "back",    "warning", "trouble", "clock",     "stopped"};
  return words[std::size_t(event)];
}

}  // namespace hangtrue::daemon
