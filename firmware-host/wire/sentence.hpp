// sentence.hpp: writes what framing.hpp and xdr.hpp read: "$", talker and type, fields, "*", checksum, line end.
//
//     Sentence out("YXXDR");
//     out.quad('A', -12345, 6, 'D', "ALONG");      // ,A,-0.012345,D,ALONG
//     out.finish();                                 // the whole sentence, or nothing where it grew too long
//
// Numbers  are whole numbers of the last place, so that no digit comes from a rounding in here.
// Texts    what a sentence cannot carry (',' '*' '$' and what is not printable) becomes '?'.
// Memory   one sentence of at most kLongestSentence; no heap.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "firmware-host/wire/thresholds.hpp"

namespace hangtrue::wire {

class Sentence {
 public:
  explicit Sentence(std::string_view talker_and_type);

  Sentence& text(std::string_view field);
  /// value / 10^places, with that many places.
  Sentence& number(std::int64_t value, int places = 0);
  /// Two digits a byte.
  Sentence& hex(std::uint32_t value, int digits);
  /// Type, value, unit ('\0': none) and name of a transducer.
  Sentence& quad(char type, std::int64_t value, int places, char unit, std::string_view name);

  /// Whether so many characters more and the end still fit.
  [[nodiscard]] bool has_room(std::size_t characters) const {
    return length_ + characters + kEnd <= kLongestSentence;
  }
  /// With checksum, carriage return and line feed. Empty where it did not fit. A view of this object.
  [[nodiscard]] std::string_view finish();

 private:
  static constexpr std::size_t kEnd = 5;
  void put(char c);
  void put_digits(std::uint64_t value, int places);
  std::array<char, kLongestSentence> text_{};
  std::size_t length_ = 0;
  bool too_long_ = false;
};

}  // namespace hangtrue::wire
