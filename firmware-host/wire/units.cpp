#include "firmware-host/wire/units.hpp"

#include <array>
#include <cmath>
#include <cstddef>

#include "core/quantity/units.hpp"
#include "firmware-host/wire/thresholds.hpp"

namespace hangtrue::wire {

namespace {

/// In lower case, with "deg" for the degree sign.
struct Spelling {
  std::string_view text;
  Unit unit;
};
constexpr std::array kSpellings{
    Spelling{"mm", Unit::mm},          Spelling{"cm", Unit::cm},        Spelling{"m", Unit::m},
    Spelling{"in", Unit::in},          Spelling{"inch", Unit::in},      Spelling{"\"", Unit::in},
    Spelling{"ft", Unit::ft},          Spelling{"'", Unit::ft},         Spelling{"mm/m", Unit::mm_per_m},
    Spelling{"inches", Unit::in},      Spelling{"in.", Unit::in},       Spelling{"foot", Unit::ft},
    Spelling{"feet", Unit::ft},        Spelling{"ft.", Unit::ft},       Spelling{"in/ft", Unit::in_per_ft},
    Spelling{"rad", Unit::rad},        Spelling{"deg", Unit::deg},      Spelling{"degrees", Unit::deg},
    Spelling{"c", Unit::celsius},      Spelling{"degc", Unit::celsius}, Spelling{"f", Unit::fahrenheit},
    Spelling{"degf", Unit::fahrenheit}};

bool is_blank(char c) { return c == ' ' || c == '\t'; }

/// Per metre, per degree, per ...: what one of the unit is, for a channel of this kind; 0: it has no such unit.
double factor_of(Unit unit, Channel gives) {
  const bool is_length = gives == Channel::distance;
  const bool is_turn = gives == Channel::slope || gives == Channel::roll;
  switch (unit) {
    case Unit::none:
      break;
    case Unit::mm:
      return is_length ? 1e-3 : 0;
    case Unit::cm:
      return is_length ? 1e-2 : 0;
    case Unit::m:
      return is_length ? 1 : 0;
    case Unit::in:
      return is_length ? kInch_m : 0;
    case Unit::ft:
      return is_length ? kFoot_m : 0;
    case Unit::mm_per_m:
      return is_turn ? 1e-3 : 0;
    case Unit::in_per_ft:
      return is_turn ? 1.0 / 12.0 : 0;
    case Unit::rad:
      return is_turn ? 1 : 0;
    case Unit::deg:
      return is_turn ? kPi / 180 : 0;
    case Unit::celsius:
      return gives == Channel::temperature ? 1 : 0;
    case Unit::fahrenheit:
      return gives == Channel::temperature ? 5.0 / 9.0 : 0;
  }
  return 0;
}

}  // namespace

std::optional<Unit> unit_named(std::string_view text) {
  while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
  std::array<char, kLongestUnit> plain{};
  std::size_t length = 0;
  const auto add = [&](char c) {
    if (length < plain.size()) plain[length] = c;
    ++length;
  };
  for (const char c : text) {
    if (c == '\xB0') {
      for (const char letter : {'d', 'e', 'g'}) add(letter);
    } else if (c != '\xC2') {  // in UTF-8 it goes before the degree sign
      add(c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c);
    }
  }
  if (length > plain.size()) return std::nullopt;
  for (const Spelling& spelling : kSpellings)
    if (spelling.text == std::string_view(plain.data(), length)) return spelling.unit;
  return std::nullopt;
}

std::optional<double> in_si(double number, Unit unit, Channel gives) {
  const double factor = factor_of(unit, gives);
  if (factor == 0 || !std::isfinite(number)) return std::nullopt;
  double value = (unit == Unit::fahrenheit ? number - 32 : number) * factor;
  if (unit == Unit::deg && gives == Channel::slope) {
    if (std::abs(number) >= 90) return std::nullopt;
    value = std::tan(value);
  }
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

}  // namespace hangtrue::wire
