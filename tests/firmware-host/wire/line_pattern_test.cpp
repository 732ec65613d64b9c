#include "firmware-host/wire/line_pattern.hpp"

#include <gmock/gmock.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <random>
#include <regex>
#include <string>

#include "firmware-host/wire/line_reader.hpp"
#include "tests/firmware-host/wire/streams.hpp"

namespace hangtrue::wire {
namespace {

using Fit = LineMatch::Fit;

LinePattern pattern(const std::string& text, Extent extent = Extent::whole) {
  auto compiled = LinePattern::compile(text, extent);
  EXPECT_TRUE(compiled.ok()) << text;
  return std::move(compiled).value();
}

struct MatchCase {
  const char* legend;
  std::string pattern, line;
  Fit fit = Fit::once;
  double number = 0;
  std::string unit = "";
};
/// Of patterns that may be a part of the line.
class Match : public ::testing::TestWithParam<MatchCase> {};

TEST_P(Match, GivesTheNumberAndUnitOrNothing) {
  const MatchCase& wanted = GetParam();
  const LineMatch match = pattern(wanted.pattern, Extent::within).match(wanted.line);
  const std::string told =
      std::string(wanted.legend) + ": \"" + wanted.pattern + "\" on \"" + wanted.line + "\"";
  EXPECT_EQ(match.fit, wanted.fit) << told;
  EXPECT_EQ(match.number, wanted.number) << told;
  EXPECT_EQ(match.unit, wanted.unit) << told;
}

INSTANTIATE_TEST_SUITE_P(
    Numbers, Match,
    ::testing::Values(
        MatchCase{"plain", "DIST {number} m", "DIST 1.234 m", Fit::once, 1.234},
        MatchCase{"whole", "DIST {number} m", "DIST 12 m", Fit::once, 12},
        MatchCase{"signed, zeros in front", "DIST {number} m", "DIST +0001.234 m", Fit::once, 1.234},
        MatchCase{"negative", "{number}", "-0.5", Fit::once, -0.5},
        MatchCase{"no digit before the point", "{number}", "-.005", Fit::once, -0.005},
        MatchCase{"decimal comma", "{number} m", "0,123 m", Fit::once, 0.123},
        MatchCase{"decimal comma, two places", "{number} m", "1,23 m", Fit::once, 1.23},
        MatchCase{"decimal comma, four places", "{number} m", "1,2345 m", Fit::once, 1.2345},
        MatchCase{"decimal comma, four digits before", "{number} m", "1234,567 m", Fit::once, 1234.567},
        MatchCase{"comma or thousands", "{number} m", "1,234 m", Fit::ambiguous},
        MatchCase{"comma or thousands, negative", "{number} m", "-12,345 m", Fit::ambiguous},
        MatchCase{"the pattern says comma", "{number,} m", "1,234 m", Fit::once, 1.234},
        MatchCase{"the pattern says comma, and a point comes", "{number,} m", "1.234 m", Fit::none},
        MatchCase{"the pattern says comma, whole", "{number,} m", "12 m", Fit::once, 12},
        MatchCase{"thousands and a point", "{number} m", "1,234.5 m", Fit::none},
        MatchCase{"thousands and a comma", "{number} m", "1.234,5 m", Fit::none},
        MatchCase{"thousands and a comma, nothing behind", "{number}", "1.234,5", Fit::none},
        MatchCase{"thousands twice", "{number}", "1,234,567", Fit::none},
        MatchCase{"thousands by a blank", "{number} mm", "12 345 mm", Fit::ambiguous},
        MatchCase{"thousands by a blank, behind a word", "D {number}", "D 12 345", Fit::ambiguous},
        MatchCase{"thousands by a blank, all in the pattern", "D {number} mm", "D 12 345 mm", Fit::none},
        MatchCase{"a count in front", "{number} mm", "001 12.5 mm", Fit::once, 12.5},
        MatchCase{"a count in front of three digits", "{number} mm", "001  123.4 mm", Fit::ambiguous},
        MatchCase{"thousands by two blanks", "{number} m", "12  345 m", Fit::ambiguous},
        MatchCase{"a word before", "{number} m", "OUT OF RANGE 30 m", Fit::ambiguous},
        MatchCase{"words before", "{number} m", "AVG OF 5 m", Fit::ambiguous},
        MatchCase{"feet before inches", "{number} in", "5 ft 4 in", Fit::ambiguous},
        MatchCase{"feet before inches, as signs", "{number}\"", "5' 4\"", Fit::ambiguous},
        MatchCase{"another unit than before", "D {number}", "D 1500 mm", Fit::ambiguous},
        MatchCase{"another unit than before, glued", "D {number}", "D 4.921ft", Fit::none},
        MatchCase{"a unit that the pattern lacks", "D {number}", "D 12.3 \xC2\xB0", Fit::ambiguous},
        MatchCase{"an error's number behind a colon", "{number}", "ERROR: 255", Fit::ambiguous},
        MatchCase{"thousands by an apostrophe", "{number} m", "12'345 m", Fit::none},
        MatchCase{"a sign apart from its digits", "{number} mm", "- 1.234 mm", Fit::none},
        MatchCase{"a sign apart, behind a word", "D {number}", "D - 1.234", Fit::none},
        MatchCase{"two signs", "{number}", "--1.2", Fit::none},
        MatchCase{"a sign behind", "{number}", "1.2-", Fit::none},
        MatchCase{"exponent", "{number}", "1.2e-3", Fit::none},
        MatchCase{"exponent and unit", "{number} {unit}", "1.2e3 mm", Fit::none},
        MatchCase{"hexadecimal", "{number}", "0x10", Fit::none},
        MatchCase{"a point at the end", "{number}", "5.", Fit::none},
        MatchCase{"two points", "{number}", "1.2.3", Fit::none},
        MatchCase{"fraction", "{number} in", "1/2 in", Fit::none},
        MatchCase{"a time", "{number}", "10:15", Fit::none},
        MatchCase{"a date", "{number}", "2026-11-25", Fit::none},
        MatchCase{"below", "{number}", "<0.05", Fit::none},
        MatchCase{"15 digits", "{number}", "123456789.012345", Fit::once, 123456789.012345},
        MatchCase{"16 digits", "{number}", "123456789.0123456", Fit::none},
        MatchCase{"longer than any number", "{number}", std::string(60, '0') + "1", Fit::none},
        MatchCase{"no number", "{number}", "error 12x", Fit::none},
        MatchCase{"an error's number", "{number}", "ERR 15", Fit::ambiguous},
        MatchCase{"a count of something", "{number}", "15 faults", Fit::ambiguous},
        MatchCase{"alone among blanks", "{number}", "  1.5\t", Fit::once, 1.5},
        MatchCase{"empty line", "{number}", "", Fit::none}));

INSTANTIATE_TEST_SUITE_P(
    Places, Match,
    ::testing::Values(MatchCase{"anywhere", "DIST {number} m", "#3 12:00 DIST 1.234 m ok", Fit::once, 1.234},
                      MatchCase{"no blanks", "DIST {number} m", "DIST1.234m", Fit::once, 1.234},
                      MatchCase{"many blanks", "DIST {number} m", "DIST  \t 1.234   m", Fit::once, 1.234},
                      MatchCase{"blanks around", "  {number} m ", "1.234 m", Fit::once, 1.234},
                      MatchCase{"behind an equals sign", "{number} m", "D=1.234 m", Fit::once, 1.234},
                      MatchCase{"behind a colon", "{number} m", "D: 1.234 m", Fit::once, 1.234},
                      MatchCase{"in brackets", "{number}", "[1.234]", Fit::once, 1.234},
                      MatchCase{"glued to a letter", "{number} m", "D1.234 m", Fit::none},
                      MatchCase{"with the letter", "D{number} m", "D1.234 m", Fit::once, 1.234},
                      MatchCase{"a longer word", "X={number}", "MAX=3.4", Fit::none},
                      MatchCase{"the right one of two", "X={number}", "MAX=3.4 X=1.2", Fit::once, 1.2},
                      MatchCase{"a longer unit", "{number} m", "1.5 mm", Fit::none},
                      MatchCase{"a compound unit", "{number} m", "1.5 m/s", Fit::none},
                      MatchCase{"an area", "{number} m", "1.5 m2", Fit::none},
                      MatchCase{"the other case", "dist {number}", "DIST 1.2", Fit::none},
                      MatchCase{"two places", "{number} m", "1.2 m 3.4 m", Fit::ambiguous},
                      MatchCase{"first column", "{number},", "1.234,21.5", Fit::once, 1.234},
                      MatchCase{"last column", ",{number}", "1.234,21.5", Fit::once, 21.5},
                      MatchCase{"torn and followed by the next", "DIST {number}", "DIST 1.2DIST 1.234",
                                Fit::none},
                      MatchCase{"two lines that lost the end between", "DIST {number} m",
                                "DIST 1.234 mDIST 1.235 m", Fit::none}));

INSTANTIATE_TEST_SUITE_P(
    Units, Match,
    ::testing::Values(
        MatchCase{"with a blank", "{number} {unit}", "1.234 mm", Fit::once, 1.234, "mm"},
        MatchCase{"without", "{number}{unit}", "1.234mm", Fit::once, 1.234, "mm"},
        MatchCase{"compound", "{number} {unit}", "1.234 mm/m", Fit::once, 1.234, "mm/m"},
        MatchCase{"inches", "{number}{unit}", "1.5\"", Fit::once, 1.5, "\""},
        MatchCase{"in front", "{unit} {number}", "MM 1.234", Fit::once, 1.234, "MM"},
        MatchCase{"degrees", "{number} {unit}", "12.3 \xB0", Fit::once, 12.3, "\xB0"},
        MatchCase{"degrees in UTF-8", "{number} {unit}", "12.3\xC2\xB0", Fit::once, 12.3, "\xC2\xB0"},
        MatchCase{"degrees in the pattern", "{number}\xC2\xB0", "12.3\xB0", Fit::once, 12.3},
        MatchCase{"degrees in the pattern and UTF-8", "{number}\xC2\xB0", "12.3\xC2\xB0", Fit::once, 12.3},
        MatchCase{"degrees that go on", "{number}\xC2\xB0",
                  "12.3\xB0"
                  "C",
                  Fit::none},
        MatchCase{"missing", "{number} {unit}", "1.234", Fit::none},
        MatchCase{"with a digit", "{number} {unit}", "1.234 m2", Fit::none},
        MatchCase{"feet and inches", "{number} {unit}", "11 ft 4 in", Fit::ambiguous}));

// --- patterns that are the whole line

class WholeLine : public ::testing::TestWithParam<MatchCase> {};
TEST_P(WholeLine, IsThePatternAndNothingElse) {
  const MatchCase& wanted = GetParam();
  const LineMatch match = pattern(wanted.pattern).match(wanted.line);
  const std::string told =
      std::string(wanted.legend) + ": \"" + wanted.pattern + "\" on \"" + wanted.line + "\"";
  EXPECT_EQ(match.fit, wanted.fit) << told;
  EXPECT_EQ(match.number, wanted.number) << told;
  EXPECT_EQ(match.unit, wanted.unit) << told;
}
INSTANTIATE_TEST_SUITE_P(
    Lines, WholeLine,
    ::testing::Values(
        MatchCase{"plain", "it is {number} mm", "it is 900.0 mm", Fit::once, 900},
        MatchCase{"blanks at the ends", "it is {number} mm", " \t it is 900.0 mm  ", Fit::once, 900},
        MatchCase{"a fault before", "it is {number} mm", "error it is 900.0 mm", Fit::none},
        MatchCase{"a fault behind", "it is {number} mm", "it is 900.0 mm error 17", Fit::none},
        MatchCase{"a fault behind a comma", "it is {number} mm", "it is 900.0 mm, error 17", Fit::none},
        MatchCase{"a fault behind without a blank", "it is {number} mm", "it is 900.0 mm;E17", Fit::none},
        MatchCase{"a fault glued on", "it is {number} mm", "it is 900.0 mmE17", Fit::none},
        MatchCase{"a sign before", "it is {number} mm", "!it is 900.0 mm", Fit::none},
        MatchCase{"a question mark behind", "it is {number} mm", "it is 900.0 mm?", Fit::none},
        MatchCase{"a star behind a bare number", "{number}", "900.0*", Fit::none},
        MatchCase{"bare, as a fault", "{number}", "E 255", Fit::none},
        MatchCase{"twice", "{number} m", "1.2 m 3.4 m", Fit::none},
        MatchCase{"twice, two lines that lost the end between", "{number} m", "1.2 m1.2 m", Fit::none},
        MatchCase{"thousands by a blank", "{number} mm", "12 345 mm", Fit::none},
        MatchCase{"thousands by a blank, behind", "D {number}", "D 12 345", Fit::none},
        MatchCase{"thousands by a comma", "{number} mm", "12,345 mm", Fit::ambiguous},
        MatchCase{"a unit and more", "{number} {unit}", "11 ft 4 in", Fit::none},
        MatchCase{"a unit", "{number} {unit}", "11 ft", Fit::once, 11, "ft"},
        MatchCase{"all that the device prints", "#7 D={number} m OK", "#7 D=1.234 m OK", Fit::once, 1.234},
        MatchCase{"blanks alone", "{number}", "   ", Fit::none},
        MatchCase{"nothing", "{number}", "", Fit::none}));

using Why = PatternFault::Why;
struct PatternCase {
  std::string text;
  Why why;
  std::size_t count = 0;
};
class Pattern : public ::testing::TestWithParam<PatternCase> {};
TEST_P(Pattern, ThatIsNoneIsRefusedWithTheReason) {
  const auto compiled = LinePattern::compile(GetParam().text);
  ASSERT_FALSE(compiled.ok()) << GetParam().text;
  EXPECT_EQ(compiled.fault().why, GetParam().why) << GetParam().text;
  EXPECT_EQ(compiled.fault().count, GetParam().count) << GetParam().text;
}
INSTANTIATE_TEST_SUITE_P(
    Texts, Pattern,
    ::testing::Values(PatternCase{"", Why::no_number}, PatternCase{"   ", Why::no_number},
                      PatternCase{"DIST {unit}", Why::no_number},
                      PatternCase{"{number} {number}", Why::many_numbers, 2},
                      PatternCase{"{number} {number,}", Why::many_numbers, 2},
                      PatternCase{"{number} {unit} {unit}", Why::many_units, 2},
                      PatternCase{"{number} {Unit}", Why::stray_brace},
                      PatternCase{"{number", Why::stray_brace}, PatternCase{"number}", Why::stray_brace},
                      PatternCase{"{number}\n", Why::strange_character},
                      PatternCase{"{number} \xC3\xA4", Why::strange_character},
                      PatternCase{"{number} \xC2", Why::strange_character},
                      PatternCase{"{number}" + std::string(93, 'x'), Why::too_long, 101}));

TEST(Pattern, OfAHundredCharactersIsTaken) {
  EXPECT_TRUE(LinePattern::compile("{number}" + std::string(92, 'x')).ok());
}

TEST(Pattern, OfNothingFitsNothing) {
  EXPECT_EQ(LinePattern().match("DIST 1.234 m").fit, Fit::none);
  EXPECT_FALSE(LinePattern().has_unit());
}

// --- a line has no checksum: what damage shows, and what does not

const std::string kLine = "DIST 1.234 m";

/// The value that a stream with this line in it gives, if any.
std::optional<double> value_of_line(const std::string& line, const LinePattern& compiled) {
  std::optional<double> value;
  LineReader reader;
  reader.push("\n" + line + "\r", [&](std::string_view text) {
    const LineMatch match = compiled.match(text);
    if (match.fit == Fit::once) value = match.number;
    return match.fit == Fit::once;
  });
  return value;
}

// The figures of the header: how many of the 104 single-bit flips of the line and its end give another value without a
// sign of it.
TEST(LineWithoutChecksum, GivesAnotherValueForSoManyFlippedBits) {
  const LinePattern compiled = pattern("DIST {number} m");
  int flips = 0, same = 0, other = 0;
  for (std::size_t bit = 0; bit < (kLine.size() + 1) * 8; ++bit, ++flips) {
    const std::string flipped = test::with_flipped_bit(kLine + "\r", bit);
    const auto value = value_of_line(flipped.substr(0, flipped.size() - 1), compiled);
    const bool end_lost = flipped.back() != '\r' && flipped.back() != '\n';
    if (!value || end_lost) continue;
    (*value == 1.234 ? same : other) += 1;
  }
  EXPECT_EQ(flips, 104);
  EXPECT_EQ(same, 2);  // a blank that becomes a 0 beside the number
  EXPECT_EQ(other, 13);
}

TEST(LineWithoutChecksum, CutShortGivesNothingWhereThePatternEndsWithItsUnit) {
  for (std::size_t kept = 0; kept < kLine.size(); ++kept) {
    EXPECT_FALSE(value_of_line(kLine.substr(0, kept), pattern("DIST {number} m"))) << kept;
    EXPECT_FALSE(value_of_line(kLine.substr(kept + 1), pattern("DIST {number} m"))) << kept;
  }
  // Without the unit in the pattern, digits can be missing and nothing shows it. So it should be in the pattern.
  EXPECT_EQ(value_of_line("DIST 1.2", pattern("DIST {number}")), 1.2);
}

// 1e7 random bytes. Whole printable lines are rare among them, and none has, by chance, the word with a number behind it.
TEST(LineWithoutChecksum, OfTenMillionRandomBytesGivesNothing) {
  std::mt19937 random(21);
  LineReader reader;
  const LinePattern compiled = pattern("DIST {number} m", Extent::within);
  std::uint64_t pushed = 0, lines = 0, values = 0;
  for (std::string chunk; pushed < 10'000'000; pushed += chunk.size()) {
    chunk.resize(1 + random() % 64);
    for (char& byte : chunk) byte = static_cast<char>(random());
    reader.push(chunk, [&](std::string_view line) {
      ++lines;
      if (compiled.match(line).fit == Fit::once) ++values;
      return false;
    });
  }
  EXPECT_EQ(reader.counts().in, pushed);
  EXPECT_EQ(reader.counts().dropped_in_all() + reader.pending(), pushed);
  EXPECT_GT(lines, 100u);
  EXPECT_EQ(values, 0u);
}

// The rules of the header for "{number} m" once more, by regular expressions.
LineMatch by_regular_expressions(const std::string& line) {
  static const std::regex number_m(R"((^| )([+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)) *m(?=$| |,(?!\d)))");
  static const std::regex sign_apart(R"([+-] *$)"), word_before(R"(m +$)"), figure_before(R"(\d +$)");
  static const std::regex thousands_or_comma(R"([+-]?[1-9]\d{0,2},\d{3})"),
      three_figures(R"(\d{3}(?:[.,]\d+)?)");
  LineMatch found;
  int fits = 0;
  bool ambiguous = false;
  for (std::sregex_iterator at(line.begin(), line.end(), number_m), end; at != end; ++at) {
    const std::string before = line.substr(0, static_cast<std::size_t>(at->position(2)));
    std::string text = (*at)[2];
    if (std::regex_search(before, sign_apart)) continue;
    ++fits;
    ambiguous |= std::regex_match(text, thousands_or_comma) || std::regex_search(before, word_before);
    ambiguous |= std::regex_match(text, three_figures) && std::regex_search(before, figure_before);
    std::replace(text.begin(), text.end(), ',', '.');
    found.number = std::strtod(text.c_str(), nullptr);
  }
  if (fits > 1 || ambiguous) return {Fit::ambiguous, 0, {}};
  found.fit = fits == 1 ? Fit::once : Fit::none;
  return found;
}

TEST(Match, OfRandomFiguresIsWhatRegularExpressionsFind) {
  std::mt19937 random(22);
  const std::string alphabet = "0123456789.,+-  mm";
  const LinePattern compiled = pattern("{number} m", Extent::within);
  int once = 0, ambiguous = 0;
  for (int i = 0; i < 100'000; ++i) {
    std::string line(1 + random() % 12, ' ');
    for (char& c : line) c = alphabet[random() % alphabet.size()];
    const LineMatch match = compiled.match(line), wanted = by_regular_expressions(line);
    ASSERT_EQ(match.fit, wanted.fit) << line;
    ASSERT_EQ(match.number, wanted.number) << line;
    once += match.fit == Fit::once ? 1 : 0;
    ambiguous += match.fit == Fit::ambiguous ? 1 : 0;
  }
  EXPECT_GT(once, 1000);
  EXPECT_GT(ambiguous, 100);
}

}  // namespace
}  // namespace hangtrue::wire
