// line_pattern.hpp: where in a device's line the number stands, and its unit: "DIST {number} {unit}".
//
// Pattern    {number} once, {unit} at most once, and other characters, which stand for themselves. Blanks
//            (spaces, tabulators) match any run of blanks, and none. The degree sign matches B0 and C2 B0
//            alike.
// Where      the pattern is the whole line, but for blanks at its ends: what else the line says would go unread, and might be
//            that it is no distance at all ("it is 900.0 mm error 17"). A pattern that is Extent::within one is looked for
//            anywhere in the line, but only as a whole: letters and digits at an end of the pattern must not go on
//            beyond it. "X={number}" does not fit "MAX=3.4", nor does "{number} m" fit "1.5 mm" or "1.5 m/s". Neighbours and
//            Words, below, are for those alone.
// Number     [+ or -] digits [point or comma, digits], also ".5"; at most 15 significant digits. The sign
//            touches the digits. No exponent, no hexadecimal, no thousands.
// {number,}  the same, but the decimal sign is a comma, always; a point is none.
// Ambiguous  gives nothing, and says so: "1,234" for {number} (a decimal comma, or thousands? "0,234", "1,23"
//            and "1234,567" are plain); "12 345" (blanks before three digits: thousands, or two numbers?);
//            a line in which the pattern fits at two places.
// Neighbours Before a pattern that begins with the number only the start of the line, blanks, and : ; = ( [ |
//            may stand, no sign before the blanks, and no digit before the colon. Behind one that ends with
//            the number, a letter or a unit only the end of the line, blanks, and , ; ) ] | may follow, no
//            digit behind the comma.
// Words      ambiguous as well: where the pattern begins with the number, a word or unit before it ("OUT OF RANGE 30 m" for
//            "{number} m", "5 ft 4 in" for "{number} in"); where it ends with the number, one behind it ("D 1500 mm" for
//            "D {number}": a device that was switched to another unit gives nothing); for a pattern of nothing but the number
//            any letter in the line ("ERROR: 255"). So write what the device prints into the pattern.
// {unit}     letters, degree sign, / ' " %, as many as there are.
// Not seen   A line has no checksum. A flipped bit, a lost or a doubled character can turn one digit into
//            another, or drop it, and nothing shows it: of the 104 single-bit flips of "DIST 1.234 m"
//            (pattern "DIST {number} m") 13 give another value. Use parity where the device has it, a
//            range in the kit sheet, and an instrument with a checksum where there is a choice.
// Memory     no heap, no exceptions; about 200 bytes a pattern. Builds for bare metal.
// Source     none: common practice of devices that print what they read.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

#include "core/quantity/result.hpp"
#include "firmware-host/wire/thresholds.hpp"

namespace hangtrue::wire {

/// Why a text is no pattern. In the order in which it is looked for; braces and characters as they come.
struct PatternFault {
  enum class Why : std::uint8_t {
    too_long,           // more than kLongestPattern characters
    stray_brace,        // a brace that is part of neither {number}, {number,} nor {unit}
    strange_character,  // one that no line brings
    no_number,
    many_numbers,
    many_units
  };
  Why why = Why::no_number;
  std::size_t count = 0;  // of characters, {number} or {unit}; 0 where nothing is counted
};

struct LineMatch {
  enum class Fit : std::uint8_t {
    none,       // the pattern does not fit
    ambiguous,  // it fits, but in more than one way
    once        // number and unit are set
  };
  Fit fit = Fit::none;
  double number = 0;
  std::string_view unit;  // as in the line; empty without {unit}
};

/// Of a line that a pattern must fit: all of it, or any part.
enum class Extent : std::uint8_t { whole, within };

/// A default one fits nothing.
class LinePattern {
 public:
  LinePattern() = default;
  [[nodiscard]] static Result<LinePattern, PatternFault> compile(std::string_view text,
                                                                 Extent extent = Extent::whole);

  /// The view lives as long as `line`.
  [[nodiscard]] LineMatch match(std::string_view line) const;

  [[nodiscard]] bool has_unit() const { return has_unit_; }

 private:
  enum class Kind : std::uint8_t { character, blanks, number, comma_number, unit };
  struct Part {
    Kind kind = Kind::blanks;
    char character = 0;
  };
  struct Fitted {
    LineMatch match;
    std::size_t end;  // of what fits
  };
  /// The pattern from `start` on, whatever stands around it.
  [[nodiscard]] Fitted fit_at(std::string_view line, std::size_t start) const;
  [[nodiscard]] LineMatch match_whole(std::string_view line) const;
  [[nodiscard]] LineMatch match_within(std::string_view line, std::size_t start) const;
  [[nodiscard]] bool begins_apart(std::string_view line, std::size_t start) const;
  [[nodiscard]] bool ends_apart(std::string_view line, std::size_t end) const;

  [[nodiscard]] std::span<const Part> parts() const { return {parts_.data(), count_}; }

  std::array<Part, kLongestPattern> parts_{};
  std::size_t count_ = 0;
  bool has_unit_ = false;
  Extent extent_ = Extent::whole;
};

}  // namespace hangtrue::wire
