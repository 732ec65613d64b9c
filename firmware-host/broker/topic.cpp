#include "firmware-host/broker/topic.hpp"

#include <cstddef>
#include <cstdint>

#include "firmware-host/broker/limits.hpp"

namespace hangtrue::broker {
namespace {

struct Character {
  std::size_t bytes = 1;
  std::uint32_t code = 0;
  bool is_utf8 = false;
};

/// The first one. Source: RFC 3629, section 4.
Character first_of(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char lead = byte(0);
  if (lead < 0x80) return {1, lead, true};
  const std::size_t bytes = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || text.size() < bytes) return {};
  std::uint32_t code = lead & (0x7Fu >> bytes);
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(i) & 0xC0) != 0x80) return {};
    code = code << 6 | (byte(i) & 0x3Fu);
  }
  constexpr std::uint32_t kLeast[] = {0, 0, 0x80, 0x800, 0x10000};
  if (code < kLeast[bytes] || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF)) return {};
  return {bytes, code, true};
}

bool may_stand(const Character& one) {
  const std::uint32_t code = one.code;
  const bool control = code < 0x20 || (code >= 0x7F && code <= 0x9F);
  const bool no_character = (code >= 0xFDD0 && code <= 0xFDEF) || (code & 0xFFFE) == 0xFFFE;
  return one.is_utf8 && !control && !no_character && code != '/' && code != '+' && code != '#' && code != '%';
}

}  // namespace

std::string topic_level(std::string_view name) {
  constexpr char kDigits[] = "0123456789ABCDEF";
  if (name.empty()) return "%00";
  std::string level;
  while (!name.empty()) {
    const Character one = first_of(name);
    std::string written;
    for (std::size_t i = 0; i < one.bytes; ++i) {
      const auto byte = static_cast<unsigned char>(name[i]);
      if (may_stand(one))
        written += name[i];
      else
        written += {'%', kDigits[byte >> 4], kDigits[byte & 15]};
    }
    if (level.size() + written.size() > kLongestLevel_bytes) break;
    level += written;
    name.remove_prefix(one.bytes);
  }
  return level;
}

}  // namespace hangtrue::broker
