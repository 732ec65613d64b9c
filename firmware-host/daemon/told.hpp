// told.hpp: a sentence that is said twice: on the terminal in English, on a phone in the language of the run.
#pragma once

#include <string>
#include <utility>

namespace hangtrue::daemon {

struct Told {
  std::string text, words;  // terminal; phone

  Told() = default;
  Told(std::string both)
      : text(both), words(std::move(both)) {}  // NOLINT: one that is the same in both, or has no other
  Told(const char* both) : Told(std::string(both)) {}  // NOLINT
  Told(std::string english, std::string other) : text(std::move(english)), words(std::move(other)) {}

  [[nodiscard]] bool empty() const { return text.empty(); }
  Told& operator+=(const Told& more) {
    text += more.text;
    words += more.words;
    return *this;
  }
  friend Told operator+(Told some, const Told& more) { return some += more; }
};

}  // namespace hangtrue::daemon
