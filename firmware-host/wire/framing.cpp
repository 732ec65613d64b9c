#include "firmware-host/wire/framing.hpp"

namespace hangtrue::wire {

namespace {

constexpr std::uint64_t repeated(unsigned byte) { return 0x0101010101010101u * byte; }

/// Non-zero when any of the eight bytes is '$' or outside 0x20 ... 0x7E. Exact in that "any", which is all we
/// need.
std::uint64_t odd_bytes(std::uint64_t word) {
  const std::uint64_t high = repeated(0x80);
  const std::uint64_t below_space = (word - repeated(0x20)) & ~word;
  const std::uint64_t is_delete = (word ^ repeated(0x7F)) - repeated(0x01);
  const std::uint64_t is_dollar = (word ^ repeated('$')) - repeated(0x01);
  return (word | below_space | is_delete | is_dollar) & high;
}

}  // namespace

bool Framer::is_plain(const char* at, const char* end) {
  std::uint64_t odd = 0;
  std::uint64_t word = 0;
  for (; end - at >= 8; at += 8) {
    std::memcpy(&word, at, 8);
    odd |= odd_bytes(word);
  }
  word = repeated(' ');
  std::memcpy(&word, at, static_cast<std::size_t>(end - at));
  return (odd | odd_bytes(word)) == 0;
}

void Framer::finish() {
  if (length_ != 0) close(Dropped::cut_by_end);
}

std::string_view name(Dropped reason) {
  switch (reason) {
    case Dropped::noise:
      return "noise between sentences";
    case Dropped::cut_by_next:
      return "cut off by the next sentence";
    case Dropped::too_long:
      return "longer than 82 characters";
    case Dropped::not_printable:
      return "not printable";
    case Dropped::cut_by_end:
      return "cut off by the end of the stream";
    case Dropped::count:
      break;
  }
  return "unknown";
}

}  // namespace hangtrue::wire
