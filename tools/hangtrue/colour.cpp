#include "tools/hangtrue/colour.hpp"

#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <iostream>

namespace hangtrue::tools {
namespace {

std::string_view variable(const char* name) {
  const char* const value = std::getenv(name);
  return value == nullptr ? "" : value;
}

/// Bold, and green, yellow or red.
std::string_view sequence(Tone tone) {
  switch (tone) {
    case Tone::good:
      return "\033[1;32m";
    case Tone::caution:
      return "\033[1;33m";
    case Tone::bad:
      return "\033[1;31m";
  }
  return "";
}

}  // namespace

bool is_terminal(int descriptor) {
  const std::string_view terminal = variable("TERM");
  return ::isatty(descriptor) == 1 && !terminal.empty() && terminal != "dumb";
}

bool takes_colour(int descriptor) { return is_terminal(descriptor) && variable("NO_COLOR").empty(); }

std::string painted(std::string text, const std::vector<Stress>& stresses) {
  for (const Stress& stress : stresses) {
    const std::size_t at = text.find(stress.words);
    if (stress.words.empty() || at == std::string::npos) continue;
    std::string in_colour;
    for (std::string_view rest = stress.words; !rest.empty();) {
      const std::string_view line = rest.substr(0, std::min(rest.find('\n'), rest.size()));
      if (!line.empty()) in_colour.append(sequence(stress.tone)).append(line).append("\033[0m");
      rest.remove_prefix(line.size());
      if (!rest.empty()) {
        in_colour += '\n';
        rest.remove_prefix(1);
      }
    }
    text.replace(at, stress.words.size(), in_colour);
  }
  return text;
}

void show(const std::string& text, const std::vector<Stress>& stresses) {
  std::cout << (takes_colour(STDOUT_FILENO) ? painted(text, stresses) : text);
}

}  // namespace hangtrue::tools
