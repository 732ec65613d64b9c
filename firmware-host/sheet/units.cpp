#include "firmware-host/sheet/units.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <span>

#include "core/quantity/units.hpp"

namespace hangtrue::sheet {
namespace {

struct Unit {
  std::string_view name;
  Kind kind;
  double factor;     // SI = (number + shift) * factor
  double shift = 0;  // Fahrenheit
  bool tangent = false;
};

constexpr double kInch2_m2 = kInch_m * kInch_m;
constexpr double kPsi_Pa = kPoundForce_N / kInch2_m2;
constexpr double kFahrenheit_K = 5.0 / 9.0;

constexpr std::array kUnits = {
    Unit{"mm", Kind::length, 1e-3},
    Unit{"cm", Kind::length, 1e-2},
    Unit{"m", Kind::length, 1},
    Unit{"in", Kind::length, kInch_m},
    Unit{"ft", Kind::length, kFoot_m},
    Unit{"g", Kind::mass, 1e-3},
    Unit{"kg", Kind::mass, 1},
    Unit{"lb", Kind::mass, kPound_kg},
    Unit{"N", Kind::force, 1},
    Unit{"kN", Kind::force, 1e3},
    Unit{"lbf", Kind::force, kPoundForce_N},
    Unit{"N/m", Kind::weight_per_length, 1},
    Unit{"kN/m", Kind::weight_per_length, 1e3},
    Unit{"N/mm", Kind::weight_per_length, 1e3},
    Unit{"lbf/in", Kind::weight_per_length, kPoundForce_N / kInch_m},
    Unit{"lbf/ft", Kind::weight_per_length, kPoundForce_N / kFoot_m},
    Unit{"lb/ft", Kind::weight_per_length, kPoundForce_N / kFoot_m},
    Unit{"kg/m", Kind::weight_per_length, kGravity_m_per_s2},
    Unit{"N/m", Kind::stiffness, 1},
    Unit{"kN/m", Kind::stiffness, 1e3},
    Unit{"N/mm", Kind::stiffness, 1e3},
    Unit{"kN/mm", Kind::stiffness, 1e6},
    Unit{"lbf/in", Kind::stiffness, kPoundForce_N / kInch_m},
    Unit{"N m", Kind::couple, 1},
    Unit{"kN m", Kind::couple, 1e3},
    Unit{"lbf in", Kind::couple, kPoundForce_N* kInch_m},
    Unit{"lbf ft", Kind::couple, kPoundForce_N* kFoot_m},
    Unit{"N m/rad", Kind::turning_stiffness, 1},
    Unit{"kN m/rad", Kind::turning_stiffness, 1e3},
    Unit{"lbf in/rad", Kind::turning_stiffness, kPoundForce_N* kInch_m},
    Unit{"Pa", Kind::stress, 1},
    Unit{"kPa", Kind::stress, 1e3},
    Unit{"MPa", Kind::stress, 1e6},
    Unit{"GPa", Kind::stress, 1e9},
    Unit{"psi", Kind::stress, kPsi_Pa},
    Unit{"ksi", Kind::stress, 1e3 * kPsi_Pa},
    Unit{"kg/m3", Kind::density, 1},
    Unit{"lb/ft3", Kind::density, kPound_kg / (kFoot_m * kFoot_m * kFoot_m)},
    Unit{"mm/m", Kind::slope, 1e-3},
    Unit{"in/ft", Kind::slope, 1.0 / 12.0},
    Unit{"rad", Kind::slope, 1},
    Unit{"deg", Kind::slope, kPi / 180, 0, true},
    Unit{"rad", Kind::angle, 1},
    Unit{"deg", Kind::angle, kPi / 180},
    Unit{"mm/m", Kind::angle, 1e-3},
    Unit{"in/ft", Kind::angle, 1.0 / 12.0},
    Unit{"s", Kind::time, 1},
    Unit{"ms", Kind::time, 1e-3},
    Unit{"turn", Kind::turns, 1},
    Unit{"turns", Kind::turns, 1},
    Unit{"C", Kind::temperature, 1},
    Unit{"F", Kind::temperature, kFahrenheit_K, -32},
    Unit{"K", Kind::temperature_difference, 1},
    Unit{"C", Kind::temperature_difference, 1},
    Unit{"F", Kind::temperature_difference, kFahrenheit_K},
    Unit{"/K", Kind::expansion, 1},
    Unit{"/C", Kind::expansion, 1},
    Unit{"/F", Kind::expansion, 1 / kFahrenheit_K},
    Unit{"m2", Kind::area, 1},
    Unit{"cm2", Kind::area, 1e-4},
    Unit{"mm2", Kind::area, 1e-6},
    Unit{"in2", Kind::area, kInch2_m2},
    Unit{"N m2", Kind::flexural_rigidity, 1},
    Unit{"kN m2", Kind::flexural_rigidity, 1e3},
    Unit{"lbf in2", Kind::flexural_rigidity, kPoundForce_N* kInch2_m2},
};

struct KindWords {
  std::string_view name, example;
};
constexpr std::array kKinds = {
    KindWords{"a length", "such as \"4200 mm\" or \"11 ft 4 in\""},
    KindWords{"a mass", "such as \"62 kg\" or \"136 lb\""},
    KindWords{"a force", "such as \"600 N\", \"1.2 kN\" or \"135 lbf\""},
    KindWords{"a weight per length", "such as \"145 N/m\", \"15 kg/m\" or \"10 lb/ft\""},
    KindWords{"a stiffness", "such as \"12 kN/mm\" or \"68000 lbf/in\""},
    KindWords{"a couple", "such as \"120 N m\" or \"1060 lbf in\""},
    KindWords{"a turning stiffness", "such as \"18 kN m/rad\" or \"160000 lbf in/rad\""},
    KindWords{"a stress or modulus", "such as \"210 GPa\" or \"29000 ksi\""},
    KindWords{"a density", "such as \"7850 kg/m3\" or \"490 lb/ft3\""},
    KindWords{"a slope", "such as \"0.3 mm/m\", \"1/64 in/ft\" or \"0.02 deg\""},
    KindWords{"an angle", "such as \"0.02 deg\" or \"0.3 mm/m\""},
    KindWords{"a time", "such as \"2 s\" or \"500 ms\""},
    KindWords{"a part of a turn", "such as \"1/4 turn\""},
    KindWords{"a temperature", "such as \"21 C\" or \"70 F\""},
    KindWords{"a temperature difference", "such as \"8 C\" or \"14 F\""},
    KindWords{"a thermal expansion", "such as \"12e-6 /K\" or \"6.5e-6 /F\""},
    KindWords{"an area", "such as \"640 mm2\" or \"1 in2\""},
    KindWords{"a stiffness of a section", "such as \"21 kN m2\" or \"7300000 lbf in2\""},
};
static_assert(kKinds.size() == static_cast<std::size_t>(Kind::flexural_rigidity) + 1);

bool is_space(char c) { return c == ' ' || c == '\t'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }

void skip_space(std::string_view& text) {
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
}
std::string_view trimmed(std::string_view text) {
  skip_space(text);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

QuantityFault fault(std::string what) { return QuantityFault{std::move(what)}; }

// Digits only, as in a fraction.
std::optional<double> take_digits(std::string_view& text) {
  std::size_t length = 0;
  while (length < text.size() && is_digit(text[length])) ++length;
  if (length == 0 || length > 9) return std::nullopt;
  int value = 0;
  std::from_chars(text.data(), text.data() + length, value);
  text.remove_prefix(length);
  return value;
}

enum class Fraction { none, taken, over_nothing };

// "5/32" at the front of text; leaves text alone when there is none.
Fraction take_fraction(std::string_view& text, double& value) {
  std::string_view rest = text;
  const auto above = take_digits(rest);
  if (!above || rest.empty() || rest.front() != '/') return Fraction::none;
  rest.remove_prefix(1);
  const auto below = take_digits(rest);
  if (!below) return Fraction::none;
  if (*below == 0) return Fraction::over_nothing;
  value = *above / *below;
  text = rest;
  return Fraction::taken;
}

// A number without sign: 12, 0.5, 12e-6, 5/32, 1 1/2.
Result<double, QuantityFault> take_unsigned(std::string_view& text) {
  if (text.empty() || !(is_digit(text.front()) || text.front() == '.')) return fault("no number in front");
  double value = 0;
  switch (take_fraction(text, value)) {
    case Fraction::taken:
      return value;
    case Fraction::over_nothing:
      return fault("a fraction over 0");
    case Fraction::none:
      break;
  }
  const char* const end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value);
  if (error == std::errc::result_out_of_range) return fault("a number out of range");
  if (error != std::errc{} || !std::isfinite(value)) return fault("no number in front");
  const std::string_view written = text.substr(0, static_cast<std::size_t>(stop - text.data()));
  text.remove_prefix(written.size());
  if (!text.empty() && text.front() == ',') return fault("a comma in the number, where a point should be");

  if (written.find_first_not_of("0123456789") ==
      std::string_view::npos) {  // a whole number: a fraction may follow
    std::string_view rest = text;
    skip_space(rest);
    double part = 0;
    if (rest.size() < text.size()) {
      const Fraction taken = take_fraction(rest, part);
      if (taken == Fraction::over_nothing) return fault("a fraction over 0");
      if (taken == Fraction::taken) {
        if (part >= 1) return fault("a fraction that is not less than 1 behind a whole number");
        value += part;
        text = rest;
      }
    }
  }
  return value;
}

// The unit as in the table: one space between its parts, "N*m" and "N·m" as "N m", "Nm" as well.
std::string plain_unit(std::string_view text) {
  std::string unit;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text.substr(i, 2) == "\xC2\xB7") {  // middle dot
      unit += ' ';
      ++i;
    } else if (text[i] == '*') {
      unit += ' ';
    } else if (is_space(text[i])) {
      if (!unit.empty() && unit.back() != ' ') unit += ' ';
    } else {
      unit += text[i];
    }
  }
  for (const std::string_view force : {"Nm", "kNm"}) {
    if (unit.rfind(force, 0) == 0 &&
        (unit.size() == force.size() || unit[force.size()] == '/' || unit[force.size()] == '2'))
      unit.insert(force.size() - 1, " ");
  }
  if (unit.rfind("1/", 0) == 0) unit.erase(0, 1);  // "1/K"
  return unit;
}

const Unit* find_unit(std::string_view unit, Kind kind) {
  for (const Unit& entry : kUnits)
    if (entry.kind == kind && entry.name == unit) return &entry;
  return nullptr;
}

// What a unit that does not fit would stand for.
std::string_view kind_of(std::string_view unit) {
  for (const Unit& entry : kUnits)
    if (entry.name == unit) return kKinds[static_cast<std::size_t>(entry.kind)].name;
  return {};
}

Result<double, QuantityFault> in_si(double number, const Unit& unit) {
  double value = (number + unit.shift) * unit.factor;
  if (unit.tangent) {
    if (std::abs(number) >= 90) return fault("no slope: 90 deg and more stand upright");
    value = std::tan(value);
  }
  if (!std::isfinite(value)) return fault("too large");
  return value;
}

}  // namespace

std::string_view name(Kind kind) { return kKinds[static_cast<std::size_t>(kind)].name; }
std::string_view example(Kind kind) { return kKinds[static_cast<std::size_t>(kind)].example; }

Result<double, QuantityFault> convert(double number, std::string_view unit_text, Kind kind) {
  if (!std::isfinite(number)) return fault("not a finite number");
  if (const Unit* const as_written = find_unit(unit_text, kind)) return in_si(number, *as_written);
  const std::string unit = plain_unit(trimmed(unit_text));
  if (unit.empty()) return fault("a number without a unit");
  if (const Unit* const found = find_unit(unit, kind)) return in_si(number, *found);
  const std::string_view instead = kind_of(unit);
  if (!instead.empty()) return fault(std::string(instead));
  return fault("no unit known as \"" + unit + "\"");
}

Result<double, QuantityFault> parse_number(std::string_view text) {
  text = trimmed(text);
  double value = 0;
  std::string_view digits = text;
  if (!digits.empty() && digits.front() == '-') digits.remove_prefix(1);
  if (digits.empty() || !(is_digit(digits.front()) || digits.front() == '.')) return fault("not a number");
  const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error == std::errc::result_out_of_range) return fault("a number out of range");
  if (error != std::errc{} || stop != text.data() + text.size() || !std::isfinite(value))
    return fault("not a number");
  return value;
}

Result<double, QuantityFault> parse_quantity(std::string_view text, Kind kind) {
  text = trimmed(text);
  if (text.empty()) return fault("nothing in it");
  const bool negative = text.front() == '-';
  if (negative || text.front() == '+') text.remove_prefix(1);
  skip_space(text);
  auto number = take_unsigned(text);
  if (!number) return number.fault();
  double value = number.value();
  std::string_view unit = trimmed(text);

  // "11 ft 4 1/2 in"
  if (unit.size() > 2 && unit.substr(0, 2) == "ft" && (is_space(unit[2]) || is_digit(unit[2]))) {
    if (kind != Kind::length) return fault("a length");
    unit.remove_prefix(2);
    skip_space(unit);
    const auto inches = take_unsigned(unit);
    if (!inches) return fault("feet, and then no inches");
    if (trimmed(unit) != "in") return fault("feet, and then no inches");
    if (inches.value() >= 12) return fault("feet, and then 12 inches or more");
    value = value * 12 + inches.value();
    unit = "in";
  }
  return convert(negative ? -value : value, unit, kind);
}

std::optional<double> parse_days(std::string_view text) {
  text = trimmed(text);
  const auto number = take_unsigned(text);
  if (!number) return std::nullopt;
  const std::string_view unit = trimmed(text);
  constexpr double kYear = 365.25;
  const double days = unit == "day" || unit == "days"     ? number.value()
                      : unit == "week" || unit == "weeks" ? number.value() * 7
                      : unit == "year" || unit == "years" ? number.value() * kYear
                                                          : 0;
  return days > 0 && days <= 100 * kYear ? std::optional(days) : std::nullopt;
}

}  // namespace hangtrue::sheet
