#include "firmware-host/wire/xdr.hpp"

#include <algorithm>

namespace hangtrue::wire {

namespace {

constexpr std::array<double, kMostPlaces + 1> kPowersOfTen = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                              1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                              1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/// Value of a hexadecimal digit, or -1.
int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return -1;
}

bool is_capital(char c) { return c >= 'A' && c <= 'Z'; }

/// `length` characters from `from` on, which must be there. Unlike substr() it does not look, and so cannot throw.
std::string_view part(std::string_view text, std::size_t from, std::size_t length) {
  return {text.data() + from, length};
}

/// Takes the next field off the front; `more` says whether a comma followed it.
std::string_view take_field(std::string_view& rest, bool& more) {
  std::size_t length = 0;
  while (length < rest.size() && rest[length] != ',') ++length;
  const std::string_view field = part(rest, 0, length);
  more = length < rest.size();
  rest.remove_prefix(more ? length + 1 : length);
  return field;
}

/// The unit that a value of this type must come in; '\0': any, or none.
char unit_of(char type) {
  switch (type) {
    case 'A':
      return 'D';
    case 'D':
      return 'M';
    case 'C':
      return 'C';
    default:
      return '\0';
  }
}

bool is_read(char type) { return type == 'A' || type == 'D' || type == 'C' || type == 'G'; }

}  // namespace

std::optional<double> parse_decimal(std::string_view text) {
  const char* at = text.data();
  const char* const end = at + text.size();
  const bool negative = at != end && *at == '-';
  if (at != end && (*at == '-' || *at == '+')) ++at;

  std::uint64_t digits = 0;
  int significant = 0, places = 0;
  bool any = false, point = false;
  for (; at != end; ++at) {
    if (*at == '.' && !point) {
      point = true;
      continue;
    }
    const unsigned digit = static_cast<unsigned>(*at) - unsigned{'0'};
    if (digit > 9) return std::nullopt;
    any = true;
    digits = digits * 10 + digit;
    if (digits != 0) ++significant;
    if (point) ++places;
    if (significant > kMostDigits || places > kMostPlaces) return std::nullopt;
  }
  if (!any) return std::nullopt;
  const double magnitude = static_cast<double>(digits) / kPowersOfTen[static_cast<std::size_t>(places)];
  return negative ? -magnitude : magnitude;
}

std::uint8_t checksum(std::string_view characters) {
  std::uint64_t sum = 0;
  const char* at = characters.data();
  const char* const end = at + characters.size();
  for (; end - at >= 8; at += 8) {
    std::uint64_t word;
    std::memcpy(&word, at, 8);
    sum ^= word;
  }
  sum ^= sum >> 32;
  sum ^= sum >> 16;
  sum ^= sum >> 8;
  for (; at != end; ++at) sum ^= static_cast<unsigned char>(*at);
  return static_cast<std::uint8_t>(sum);
}

Result<Done, XdrFault> XdrDecoder::check(std::string_view sentence) const {
  const std::size_t size = sentence.size();
  if (size < 4 || sentence[0] != '$' || sentence[size - 3] != '*') return XdrFault::no_checksum;
  const int high = hex_digit(sentence[size - 2]);
  const int low = hex_digit(sentence[size - 1]);
  if (high < 0 || low < 0) return XdrFault::checksum_not_hex;
  if (checksum(part(sentence, 1, size - 4)) != high * 16 + low) return XdrFault::checksum_mismatch;
  if (size < 9 || part(sentence, 3, 3) != "XDR" || (sentence[6] != ',' && sentence[6] != '*')) {
    return XdrFault::other_sentence;
  }
  return Done{};
}

Result<std::size_t, XdrFault> XdrDecoder::read_quads(std::string_view rest) {
  std::size_t kept = 0;
  empty_in_sentence_ = other_in_sentence_ = 0;
  for (bool more = true; more;) {
    const std::string_view type = take_field(rest, more);
    if (type.size() != 1 || !is_capital(type[0])) return XdrFault::type_not_standard;
    if (!more) return XdrFault::field_count;
    const std::string_view value = take_field(rest, more);
    if (!more) return XdrFault::field_count;
    const std::string_view unit = take_field(rest, more);
    if (!more) return XdrFault::field_count;
    const std::string_view name = take_field(rest, more);

    if (!is_read(type[0])) {
      ++other_in_sentence_;
      continue;
    }
    const char wanted = unit_of(type[0]);
    if (wanted != '\0' && (unit.size() != 1 || unit[0] != wanted)) return XdrFault::unit_not_of_type;
    if (value.empty()) {
      ++empty_in_sentence_;
      continue;
    }
    const std::optional<double> number = parse_decimal(value);
    if (!number) return XdrFault::value_not_decimal;
    if (kept == kMostQuads) return XdrFault::too_many_quads;
    quads_[kept++] = XdrQuad{type[0], *number, name};
  }
  return kept;
}

Result<std::span<const XdrQuad>, XdrFault> XdrDecoder::decode(std::string_view sentence) {
  ++counts_.sentences;
  const auto refuse = [this](XdrFault fault) {
    ++counts_.refused[static_cast<std::size_t>(fault)];
    return fault;
  };
  const Result<Done, XdrFault> checked = check(sentence);
  if (!checked.ok()) return refuse(checked.fault());

  // Empty where the type is followed by '*' at once.
  const std::string_view fields =
      sentence.size() > 10 ? part(sentence, 7, sentence.size() - 10) : std::string_view{};
  const Result<std::size_t, XdrFault> kept = read_quads(fields);
  if (!kept.ok()) {
    // A missing field shifts all that follow, so it is the reason whatever stumbled first.
    const auto commas = std::count(fields.begin(), fields.end(), ',');
    return refuse((commas + 1) % 4 != 0 ? XdrFault::field_count : kept.fault());
  }
  ++counts_.decoded;
  counts_.quads += kept.value();
  counts_.empty_quads += empty_in_sentence_;
  counts_.other_quads += other_in_sentence_;
  return std::span<const XdrQuad>(quads_.data(), kept.value());
}

std::string_view name(XdrFault fault) {
  switch (fault) {
    case XdrFault::no_checksum:
      return "no checksum";
    case XdrFault::checksum_not_hex:
      return "checksum is not hexadecimal";
    case XdrFault::checksum_mismatch:
      return "checksum does not match";
    case XdrFault::other_sentence:
      return "not a transducer sentence";
    case XdrFault::field_count:
      return "fields are not a multiple of four";
    case XdrFault::type_not_standard:
      return "transducer type is not a capital letter";
    case XdrFault::value_not_decimal:
      return "value is not a decimal number";
    case XdrFault::unit_not_of_type:
      return "unit does not belong to the type";
    case XdrFault::too_many_quads:
      return "too many values";
    case XdrFault::count:
      break;
  }
  return "unknown";
}

}  // namespace hangtrue::wire
