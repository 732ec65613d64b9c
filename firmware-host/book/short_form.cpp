#include "firmware-host/book/short_form.hpp"

#include <charconv>
#include <cstdint>

namespace hangtrue::book {
namespace {

constexpr std::string_view kAlphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
constexpr std::size_t kHexDigits = 20, kLetters = 16, kGroup = 4;

std::string grouped(std::string_view letters) {
  std::string text;
  for (std::size_t i = 0; i < letters.size(); i += kGroup)
    text += (i > 0 ? "-" : "") + std::string(letters.substr(i, kGroup));
  return text;
}

char mended(char c) {
  if (c >= 'a' && c <= 'z') return static_cast<char>(c - 'a' + 'A');
  return c == '0' ? 'O' : c == '1' ? 'I' : c == '8' ? 'B' : c;
}

}  // namespace

std::string short_form(std::string_view hash) {
  std::string letters;
  if (hash.size() < kHexDigits) return letters;
  for (std::size_t from = 0; from < kHexDigits; from += 5) {  // five hexadecimal digits are four letters
    std::uint32_t bits = 0;
    const char* const end = hash.data() + from + 5;
    if (std::from_chars(hash.data() + from, end, bits, 16).ptr != end) return {};
    for (int shift = 15; shift >= 0; shift -= 5) letters += kAlphabet[(bits >> shift) & 31];
  }
  return grouped(letters);
}

std::optional<std::string> parse_short_form(std::string_view text) {
  std::string letters;
  for (const char c : text) {
    if (c == ' ' || c == '-' || c == '\t') continue;
    const char letter = mended(c);
    if (kAlphabet.find(letter) == std::string_view::npos) return std::nullopt;
    letters += letter;
  }
  if (letters.size() != kLetters) return std::nullopt;
  return grouped(letters);
}

std::optional<NotedSeal> parse_noted_seal(std::string_view text) {
  // The words before the number have no digits, so that the first digit begins it; "42" and its code are two words.
  const std::size_t from = text.find_first_of("0123456789");
  if (from == std::string_view::npos || (from > 0 && text[from - 1] == '-')) return std::nullopt;
  text.remove_prefix(from);
  NotedSeal seal;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), seal.number);
  text.remove_prefix(static_cast<std::size_t>(end - text.data()));
  if (error != std::errc() || seal.number < 1 || text.empty() ||
      (text.front() != ' ' && text.front() != '\t'))
    return std::nullopt;
  auto code = parse_short_form(text);
  if (!code) return std::nullopt;
  seal.short_form = *std::move(code);
  return seal;
}

std::string seal_text(const SealRecord& seal) {
  return "hangtrue level book seal " + std::to_string(seal.number) + ' ' + short_form(seal.hash);
}

}  // namespace hangtrue::book
