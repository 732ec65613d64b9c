#include "firmware-host/node/commands.hpp"

#include <optional>

namespace hangtrue::node {

namespace {

constexpr const char* kWords =
    "rate N, zero, station N, self test, log, taken N, run ..., card, forget or who";

std::string_view take_word(std::string_view& rest) {
  while (!rest.empty() && rest.front() == ' ') rest.remove_prefix(1);
  std::size_t length = 0;
  while (length < rest.size() && rest[length] != ' ') ++length;
  const std::string_view word(rest.data(), length);
  rest.remove_prefix(length);
  return word;
}

std::optional<std::uint32_t> number_in(std::string_view text) {
  if (text.empty() || text.size() > 9) return std::nullopt;
  std::uint32_t value = 0;
  for (const char c : text) {
    if (c < '0' || c > '9') return std::nullopt;
    value = value * 10 + std::uint32_t(c - '0');
  }
  return value;
}

struct Form {
  std::string_view word;
  Word means;
  std::uint32_t least, most;  // of its number; most 0: it has none
  const char* wanted;
};
constexpr std::uint32_t kAny = 999'999'999;
constexpr Form kForms[] = {
    {"rate", Word::rate, 1, 50, "rate and a whole number from 1 to 50"},
    {"zero", Word::zero, 0, 0, "zero alone"},
    {"station", Word::station, 1, 999, "station and its number from 1"},
    {"log", Word::log, 0, 0, "log alone"},
    {"taken", Word::taken, 0, kAny, "taken and the number of the last entry"},
    {"card", Word::card, 0, 0, "card alone"},
    {"forget", Word::forget, 0, 0, "forget alone"},
    {"who", Word::who, 0, 0, "who alone"},
};

bool is_hex(std::string_view text) {
  for (const char c : text)
    if (hex_value(c) < 0) return false;
  return !text.empty() && text.size() % 2 == 0;
}

Result<Command, Refusal> read_run(std::string_view rest) {
  const std::string_view what = take_word(rest), first = take_word(rest), second = take_word(rest);
  const std::optional<std::uint32_t> number = number_in(first);
  if (what == "begin" && first.empty()) return Command{Word::run_begin};
  if (what == "data") {
    if (!number) return Refusal{first, "run data, an offset, hexadecimal digits"};
    if (!is_hex(second)) return Refusal{second, "an even number of hexadecimal digits"};
    return Command{Word::run_data, *number, second};
  }
  if (what == "end" && number && second.empty()) return Command{Word::run_end, *number};
  return Refusal{what, "run begin, run data OFFSET HEX or run end LENGTH"};
}

}  // namespace

int hex_value(char digit) {
  if (digit >= '0' && digit <= '9') return digit - '0';
  if (digit >= 'A' && digit <= 'F') return digit - 'A' + 10;
  if (digit >= 'a' && digit <= 'f') return digit - 'a' + 10;
  return -1;
}

Result<Command, Refusal> read_command(std::string_view line) {
  std::string_view rest = line;
  const std::string_view word = take_word(rest);
  if (word == "run") return read_run(rest);
  if (word == "self") {
    if (take_word(rest) == "test" && take_word(rest).empty()) return Command{Word::self_test};
    return Refusal{line, "self test alone"};
  }
  for (const Form& form : kForms) {
    if (word != form.word) continue;
    const std::string_view given = take_word(rest), more = take_word(rest);
    if (!more.empty()) return Refusal{more, form.wanted};
    if (form.most == 0) {
      if (!given.empty()) return Refusal{given, form.wanted};
      return Command{form.means};
    }
    const std::optional<std::uint32_t> number = number_in(given);
    if (!number || *number < form.least || *number > form.most) return Refusal{given, form.wanted};
    return Command{form.means, *number};
  }
  return Refusal{word, kWords};
}

}  // namespace hangtrue::node
