#include "firmware-host/wire/line_pattern.hpp"

#include <algorithm>
#include <array>
#include <optional>

#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::wire {

namespace {

constexpr char kDegree = '\xB0';

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z'); }
bool is_word(char c) { return is_digit(c) || is_letter(c); }
bool is_blank(char c) { return c == ' ' || c == '\t'; }
bool is_sign(char c) { return c == '+' || c == '-'; }
bool is_one_of(char c, std::string_view set) { return set.find(c) != std::string_view::npos; }
bool is_unit(char c) { return is_letter(c) || c == kDegree || is_one_of(c, "/'\"%"); }

/// 1 where a degree sign in UTF-8 begins, whose second byte is the sign of old: to step over the first.
std::size_t degree_prefix(std::string_view line, std::size_t at) {
  return at + 1 < line.size() && line[at] == '\xC2' && line[at + 1] == kDegree ? 1 : 0;
}

/// The character at `at`, or a blank beyond the ends.
char at_or_blank(std::string_view line, std::size_t at) { return at < line.size() ? line[at] : ' '; }

std::size_t digits_from(std::string_view line, std::size_t at) {
  std::size_t end = at;
  while (end < line.size() && is_digit(line[end])) ++end;
  return end - at;
}

struct Written {
  std::size_t length = 0;  // 0: no number here
  bool ambiguous = false;
  double value = 0;
};

/// The number that begins at `at`.
Written take_number(std::string_view line, std::size_t at, bool comma_is_decimal) {
  std::size_t end = at;
  if (end < line.size() && is_sign(line[end])) ++end;
  const std::size_t whole_at = end;
  const std::size_t whole = digits_from(line, whole_at);
  end += whole;
  const char separator = at_or_blank(line, end);
  std::size_t places = 0;
  if (separator == ',' || (separator == '.' && !comma_is_decimal)) places = digits_from(line, end + 1);
  if (places > 0) end += 1 + places;
  if (whole + places == 0) return {};

  std::array<char, kLongestNumber> plain{};
  if (end - at > plain.size()) return {};
  std::replace_copy(line.begin() + static_cast<std::ptrdiff_t>(at),
                    line.begin() + static_cast<std::ptrdiff_t>(end), plain.begin(), ',', '.');
  const std::optional<double> value = parse_decimal({plain.data(), end - at});
  if (!value) return {};
  const bool as_thousands = places == 3 && whole >= 1 && whole <= 3 && line[whole_at] != '0';
  return {end - at, places > 0 && separator == ',' && !comma_is_decimal && as_thousands, *value};
}

/// Where the pattern begins with the number, which begins at `at`: whether what stands before keeps it apart.
bool is_apart_before(std::string_view line, std::size_t at) {
  if (at == 0) return true;
  const char before = line[at - 1];
  if (before == ':') return at < 2 || !is_digit(line[at - 2]);
  if (!is_blank(before)) return is_one_of(before, ";=([|");
  std::size_t last = at - 1;
  while (last > 0 && is_blank(line[last])) --last;
  return !is_sign(line[last]);
}

/// Where the pattern begins with the number: a word or a unit before it, with blanks between.
bool has_word_before(std::string_view line, std::size_t start) {
  while (start > 0 && is_blank(line[start - 1])) --start;
  return start > 0 && is_unit(line[start - 1]);
}

/// Where the pattern ends with the number: a word or a unit behind it that the pattern does not have.
bool has_word_behind(std::string_view line, std::size_t end) {
  while (end < line.size() && is_blank(line[end])) ++end;
  return is_unit(at_or_blank(line, end)) || degree_prefix(line, end) > 0;
}

/// Where the pattern ends with the number, a letter or a unit: whether what follows keeps it apart.
bool is_apart_behind(std::string_view line, std::size_t end) {
  const char next = at_or_blank(line, end);
  if (next == ',') return !is_digit(at_or_blank(line, end + 1));
  return is_blank(next) || is_one_of(next, ";)]|");
}

/// "12 345": blanks, three digits behind them, digits before them. `blank` is any of the blanks.
bool is_grouped(std::string_view line, std::size_t blank) {
  if (blank >= line.size() || !is_blank(line[blank])) return false;
  std::size_t before = blank, behind = blank;
  while (before > 0 && is_blank(line[before])) --before;
  while (behind < line.size() && is_blank(line[behind])) ++behind;
  return is_digit(line[before]) && digits_from(line, behind) == 3;
}

/// Takes the word off the front; false where it does not stand there.
bool take(std::string_view& text, std::string_view word) {
  if (text.size() < word.size() || std::string_view(text.data(), word.size()) != word) return false;
  text.remove_prefix(word.size());
  return true;
}

}  // namespace

Result<LinePattern, PatternFault> LinePattern::compile(std::string_view text, Extent extent) {
  using Why = PatternFault::Why;
  if (text.size() > kLongestPattern) return PatternFault{Why::too_long, text.size()};
  LinePattern pattern;
  std::size_t numbers = 0, units = 0;
  const auto add = [&pattern](Kind kind, char character = 0) {
    pattern.parts_[pattern.count_++] = {kind, character};  // each takes at least one character of the text
  };
  while (!text.empty()) {
    if (take(text, "{number}")) {
      ++numbers;
      add(Kind::number);
    } else if (take(text, "{number,}")) {
      ++numbers;
      add(Kind::comma_number);
    } else if (take(text, "{unit}")) {
      ++units;
      add(Kind::unit);
    } else if (is_blank(text.front())) {
      while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
      if (pattern.count_ > 0) add(Kind::blanks);  // those in front match nothing as well
    } else {
      text.remove_prefix(degree_prefix(text, 0));
      const char c = text.front();
      if (c == '{' || c == '}') return PatternFault{Why::stray_brace};
      if ((c < ' ' || c > '~') && c != kDegree) return PatternFault{Why::strange_character};
      add(Kind::character, c);
      text.remove_prefix(1);
    }
  }
  if (numbers == 0) return PatternFault{Why::no_number};
  if (numbers > 1) return PatternFault{Why::many_numbers, numbers};
  if (units > 1) return PatternFault{Why::many_units, units};
  if (pattern.parts().back().kind == Kind::blanks) --pattern.count_;
  pattern.has_unit_ = units == 1;
  pattern.extent_ = extent;
  return pattern;
}

LineMatch LinePattern::match(std::string_view line) const {
  LineMatch found;
  if (count_ == 0) return found;
  if (extent_ == Extent::whole) return match_whole(line);
  for (std::size_t start = 0; start < line.size(); ++start) {
    const LineMatch here = match_within(line, start);
    if (here.fit == LineMatch::Fit::none) continue;
    const bool second = found.fit != LineMatch::Fit::none;
    found = here;
    if (second || here.fit == LineMatch::Fit::ambiguous) return {LineMatch::Fit::ambiguous, 0, {}};
  }
  return found;
}

LineMatch LinePattern::match_whole(std::string_view line) const {
  std::size_t start = 0;
  while (start < line.size() && is_blank(line[start])) ++start;
  const auto [found, end] = fit_at(line, start);
  for (std::size_t at = end; at < line.size(); ++at)
    if (!is_blank(line[at])) return {};
  return found;
}

LinePattern::Fitted LinePattern::fit_at(std::string_view line, std::size_t start) const {
  LineMatch found{LineMatch::Fit::once, 0, {}};
  std::size_t at = start;
  for (const Part& part : parts()) {
    switch (part.kind) {
      case Kind::character:
        at += degree_prefix(line, at);
        if (at == line.size() || line[at] != part.character) return {{}, start};
        ++at;
        break;
      case Kind::blanks:
        while (at < line.size() && is_blank(line[at])) ++at;
        break;
      case Kind::number:
      case Kind::comma_number: {
        const Written number = take_number(line, at, part.kind == Kind::comma_number);
        if (number.length == 0) return {{}, start};
        if (number.ambiguous) found.fit = LineMatch::Fit::ambiguous;
        found.number = number.value;
        at += number.length;
        break;
      }
      case Kind::unit: {
        const std::size_t unit_at = at;
        while (at < line.size() && (is_unit(line[at]) || degree_prefix(line, at) > 0)) ++at;
        if (at == unit_at) return {{}, start};
        found.unit = {line.data() + unit_at, at - unit_at};
        break;
      }
    }
  }
  if (found.fit == LineMatch::Fit::ambiguous) return {{found.fit, 0, {}}, at};
  return {found, at};
}

LineMatch LinePattern::match_within(std::string_view line, std::size_t start) const {
  auto [found, at] = fit_at(line, start);
  if (found.fit == LineMatch::Fit::none) return found;
  if (!begins_apart(line, start) || !ends_apart(line, at)) return {};
  const auto is_number = [](const Part& part) {
    return part.kind == Kind::number || part.kind == Kind::comma_number;
  };
  const bool begins = is_number(parts().front()), ends = is_number(parts().back());
  const bool grouped =
      (begins && digits_from(line, start) == 3 && start > 0 && is_grouped(line, start - 1)) ||
      (ends && is_grouped(line, at));
  const bool worded = (begins && has_word_before(line, start)) || (ends && has_word_behind(line, at)) ||
                      (parts().size() == 1 && std::any_of(line.begin(), line.end(), is_letter));
  if (grouped || worded) found.fit = LineMatch::Fit::ambiguous;
  return found;
}

bool LinePattern::begins_apart(std::string_view line, std::size_t start) const {
  if (start == 0) return true;
  const char before = line[start - 1];
  switch (parts().front().kind) {
    case Kind::number:
    case Kind::comma_number:
      return is_apart_before(line, start);
    case Kind::unit:
      return !is_word(before) && !is_unit(before) && degree_prefix(line, start - 1) == 0;
    case Kind::character:
    case Kind::blanks:
      break;
  }
  return !is_word(line[start]) || !is_word(before);
}

bool LinePattern::ends_apart(std::string_view line, std::size_t end) const {
  const Part& last = parts().back();
  const bool is_open = last.kind != Kind::character || is_word(last.character) || is_unit(last.character);
  return !is_open || is_apart_behind(line, end);
}

}  // namespace hangtrue::wire
