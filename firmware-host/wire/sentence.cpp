#include "firmware-host/wire/sentence.hpp"

#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::wire {

namespace {

constexpr char kHexDigits[] = "0123456789ABCDEF";

bool can_stand(char c) { return c >= ' ' && c <= '~' && c != ',' && c != '*' && c != '$'; }

}  // namespace

Sentence::Sentence(std::string_view talker_and_type) {
  put('$');
  for (const char c : talker_and_type) put(c);
}

void Sentence::put(char c) {
  if (length_ + kEnd >= kLongestSentence) {
    too_long_ = true;
    return;
  }
  text_[length_++] = c;
}

void Sentence::put_digits(std::uint64_t value, int places) {
  std::array<char, 24> digits{};
  std::size_t count = 0;
  do {
    if (places > 0 && count == std::size_t(places)) digits[count++] = '.';
    digits[count++] = char('0' + char(value % 10));
    value /= 10;
  } while (value != 0 || (places > 0 && count < std::size_t(places) + 2));
  while (count > 0) put(digits[--count]);
}

Sentence& Sentence::text(std::string_view field) {
  put(',');
  for (const char c : field) put(can_stand(c) ? c : '?');
  return *this;
}

Sentence& Sentence::number(std::int64_t value, int places) {
  put(',');
  if (value < 0) put('-');
  put_digits(value < 0 ? 0 - std::uint64_t(value) : std::uint64_t(value), places);
  return *this;
}

Sentence& Sentence::hex(std::uint32_t value, int digits) {
  put(',');
  for (int digit = digits - 1; digit >= 0; --digit) put(kHexDigits[(value >> (4 * digit)) & 15u]);
  return *this;
}

Sentence& Sentence::quad(char type, std::int64_t value, int places, char unit, std::string_view name) {
  text({&type, 1});
  number(value, places);
  text(unit == '\0' ? std::string_view() : std::string_view(&unit, 1));
  return text(name);
}

std::string_view Sentence::finish() {
  if (too_long_) return {};
  const unsigned sum = checksum({text_.data() + 1, length_ - 1});
  std::size_t at = length_;
  for (const char c : {'*', kHexDigits[sum >> 4], kHexDigits[sum & 15u], '\r', '\n'}) text_[at++] = c;
  return {text_.data(), at};
}

}  // namespace hangtrue::wire
