#include "firmware-host/sheet/units.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <optional>
#include <span>
#include <vector>

#include "core/quantity/units.hpp"
#include "firmware-host/sheet/unit_names.hpp"

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
constexpr double kKip_N = 1e3 * kPoundForce_N;
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
    Unit{"t", Kind::mass, 1e3},
    Unit{"N", Kind::force, 1},
    Unit{"kN", Kind::force, 1e3},
    Unit{"lbf", Kind::force, kPoundForce_N},
    Unit{"kip", Kind::force, kKip_N},
    Unit{"N/m", Kind::weight_per_length, 1},
    Unit{"kN/m", Kind::weight_per_length, 1e3},
    Unit{"N/mm", Kind::weight_per_length, 1e3},
    Unit{"lbf/in", Kind::weight_per_length, kPoundForce_N / kInch_m},
    Unit{"lbf/ft", Kind::weight_per_length, kPoundForce_N / kFoot_m},
    Unit{"lb/ft", Kind::weight_per_length, kPoundForce_N / kFoot_m},
    Unit{"plf", Kind::weight_per_length, kPoundForce_N / kFoot_m},
    Unit{"lb/in", Kind::weight_per_length, kPoundForce_N / kInch_m},
    Unit{"kip/ft", Kind::weight_per_length, kKip_N / kFoot_m},
    Unit{"kg/m", Kind::weight_per_length, kGravity_m_per_s2},
    Unit{"N/m", Kind::stiffness, 1},
    Unit{"kN/m", Kind::stiffness, 1e3},
    Unit{"N/mm", Kind::stiffness, 1e3},
    Unit{"kN/mm", Kind::stiffness, 1e6},
    Unit{"lbf/in", Kind::stiffness, kPoundForce_N / kInch_m},
    Unit{"lb/in", Kind::stiffness, kPoundForce_N / kInch_m},
    Unit{"kip/in", Kind::stiffness, kKip_N / kInch_m},
    Unit{"N m", Kind::couple, 1},
    Unit{"kN m", Kind::couple, 1e3},
    Unit{"lbf in", Kind::couple, kPoundForce_N* kInch_m},
    Unit{"lbf ft", Kind::couple, kPoundForce_N* kFoot_m},
    Unit{"kip in", Kind::couple, kKip_N* kInch_m},
    Unit{"kip ft", Kind::couple, kKip_N* kFoot_m},
    Unit{"N m/rad", Kind::turning_stiffness, 1},
    Unit{"kN m/rad", Kind::turning_stiffness, 1e3},
    Unit{"lbf in/rad", Kind::turning_stiffness, kPoundForce_N* kInch_m},
    Unit{"lbf ft/rad", Kind::turning_stiffness, kPoundForce_N* kFoot_m},
    Unit{"kip in/rad", Kind::turning_stiffness, kKip_N* kInch_m},
    Unit{"kip ft/rad", Kind::turning_stiffness, kKip_N* kFoot_m},
    Unit{"Pa", Kind::stress, 1},
    Unit{"kPa", Kind::stress, 1e3},
    Unit{"MPa", Kind::stress, 1e6},
    Unit{"GPa", Kind::stress, 1e9},
    Unit{"psi", Kind::stress, kPsi_Pa},
    Unit{"ksi", Kind::stress, 1e3 * kPsi_Pa},
    Unit{"N/m2", Kind::stress, 1},
    Unit{"kN/m2", Kind::stress, 1e3},
    Unit{"N/mm2", Kind::stress, 1e6},
    Unit{"kN/mm2", Kind::stress, 1e9},
    Unit{"kN/cm2", Kind::stress, 1e7},
    Unit{"lbf/in2", Kind::stress, kPsi_Pa},
    Unit{"kg/m3", Kind::density, 1},
    Unit{"lb/ft3", Kind::density, kPound_kg / (kFoot_m * kFoot_m * kFoot_m)},
    Unit{"pcf", Kind::density, kPound_kg / (kFoot_m * kFoot_m * kFoot_m)},
    Unit{"lb/in3", Kind::density, kPound_kg / (kInch_m * kInch2_m2)},
    Unit{"g/cm3", Kind::density, 1e3},
    Unit{"t/m3", Kind::density, 1e3},
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
    Unit{"N m4", Kind::warping_rigidity, 1},
    Unit{"kN m4", Kind::warping_rigidity, 1e3},
    Unit{"lbf in4", Kind::warping_rigidity, kPoundForce_N* kInch2_m2* kInch2_m2},
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
    KindWords{"a stiffness against warping", "such as \"2.4 kN m4\" or \"13000000 lbf in4\""},
};
static_assert(kKinds.size() == static_cast<std::size_t>(Kind::warping_rigidity) + 1);

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

// Signs that a typewriter has for those that a word processor makes of them: primes and quotation marks for feet and inches,
// raised digits, the middle dot, the minus sign, blanks of all widths, fractions in one sign, the degree sign.
struct Sign {
  std::string_view written, plain;
};
constexpr std::array kSigns = {
    Sign{"\xE2\x80\xB2", "'"},
    Sign{"\xE2\x80\x99", "'"},
    Sign{"\xE2\x80\xB3", "\""},
    Sign{"\xE2\x80\x9D", "\""},
    Sign{"\xC2\xB2", "2"},
    Sign{"\xC2\xB3", "3"},
    Sign{"\xE2\x81\xB4", "4"},
    Sign{"\xC2\xB7", " "},
    Sign{"\xE2\x8B\x85", " "},
    Sign{"\xE2\x88\x92", "-"},
    Sign{"\xC2\xA0", " "},
    Sign{"\xE2\x80\xAF", " "},
    Sign{"\xE2\x80\x89", " "},
    Sign{"\xE2\x81\x84", "/"},
    Sign{"\xC2\xBC", " 1/4"},
    Sign{"\xC2\xBD", " 1/2"},
    Sign{"\xC2\xBE", " 3/4"},
    Sign{"\xE2\x85\x9B", " 1/8"},
    Sign{"\xE2\x85\x9C", " 3/8"},
    Sign{"\xE2\x85\x9D", " 5/8"},
    Sign{"\xE2\x85\x9E", " 7/8"},
    Sign{"\xC2\xB0"
         "C",
         "C"},
    Sign{"\xC2\xB0"
         "F",
         "F"},
    Sign{"\xC2\xB0", "deg"},
};

std::string plain_signs(std::string_view text) {
  std::string plain;
  for (std::size_t i = 0; i < text.size();) {
    const auto sign = std::find_if(kSigns.begin(), kSigns.end(), [&](const Sign& each) {
      return text.substr(i, each.written.size()) == each.written;
    });
    plain += sign != kSigns.end() ? sign->plain : text.substr(i, 1);
    i += sign != kSigns.end() ? sign->written.size() : 1;
  }
  return plain;
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

bool all_digits(std::string_view text) {
  return !text.empty() && text.find_first_not_of("0123456789") == std::string_view::npos;
}

std::string_view leading_digits(std::string_view text) {
  return text.substr(0, std::min(text.find_first_not_of("0123456789"), text.size()));
}

// A comma may divide thousands or stand for the point; which, only the writer knows: every reading that is possible is named.
// `number` stands before the comma, `rest` begins with it.
std::string of_comma(std::string_view sign, std::string_view number, std::string_view rest) {
  std::string joined(number), behind;
  bool thousands = all_digits(number) && number.size() <= 3 && number.front() != '0';
  int commas = 0;
  for (; !rest.empty() && rest.front() == ','; ++commas) {
    behind = leading_digits(rest.substr(1));
    thousands = thousands && behind.size() == 3;
    joined += behind;
    rest.remove_prefix(1 + behind.size());
  }
  if (behind.empty()) return "a comma behind the number";
  std::string_view decimals;
  if (!rest.empty() && rest.front() == '.')
    decimals = rest.substr(0, 1 + leading_digits(rest.substr(1)).size());
  const std::string unit(rest.substr(decimals.size()));
  const auto write = [&](std::string figures) { return '"' + std::string(sign) + figures + unit + '"'; };
  const std::string whole = write(joined + std::string(decimals));

  std::string pointed;  // "11.200,5": there the points divide thousands
  for (const char c : number)
    if (c != '.') pointed += c;
  pointed += '.' + behind;
  pointed.erase(pointed.find_last_not_of('0') + 1);
  if (pointed.back() == '.') pointed.pop_back();
  const bool may_be_point = commas == 1 && decimals.empty();
  if (thousands && may_be_point)
    return "a comma in the number: write " + whole + ", or " + write(pointed) +
           " where it stands for the point";
  if (may_be_point) return "a comma in the number: write " + write(pointed);
  if (thousands) return "a comma in the number: write " + whole;
  return "commas in the number: write it with a point, and with no sign between thousands";
}

// "11 200 ksi": digits in groups of three; what to write instead, or nothing where it is none.
std::string of_grouped(std::string_view sign, std::string_view number, std::string_view rest) {
  if (!all_digits(number) || number.size() > 3) return {};
  std::string whole(number);
  bool grouped = false;
  while (!rest.empty() && (is_space(rest.front()) || rest.front() == '\'') &&
         leading_digits(rest.substr(1)).size() == 3 && rest.substr(4, 1) != "/") {
    whole += rest.substr(1, 3);
    rest.remove_prefix(4);
    grouped = true;
  }
  return grouped ? "a gap in the number: write \"" + std::string(sign) + whole + std::string(rest) + '"'
                 : std::string();
}

// A number without sign: 12, 0.5, 12e-6, 5/32, 1 1/2, 7-1/2.
Result<double, QuantityFault> take_unsigned(std::string_view& text, std::string_view sign = {}) {
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
  if (!text.empty() && text.front() == ',') return fault(of_comma(sign, written, text));
  if (std::string grouped = of_grouped(sign, written, text); !grouped.empty())
    return fault(std::move(grouped));

  if (written.find_first_not_of("0123456789") ==
      std::string_view::npos) {  // a whole number: a fraction may follow, "7 1/2" or "7-1/2"
    std::string_view rest = text;
    skip_space(rest);
    if (rest.size() == text.size() && !rest.empty() && rest.front() == '-') rest.remove_prefix(1);
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

// Other ways to write a part of a unit.
struct Spelling {
  std::string_view written, plain;
};
constexpr std::array kSpellings = {
    Spelling{"\"", "in"},      Spelling{"'", "ft"},    Spelling{"inch", "in"}, Spelling{"inches", "in"},
    Spelling{"in.", "in"},     Spelling{"foot", "ft"}, Spelling{"feet", "ft"}, Spelling{"ft.", "ft"},
    Spelling{"lbs", "lb"},     Spelling{"lb.", "lb"},  Spelling{"lbs.", "lb"}, Spelling{"kips", "kip"},
    Spelling{"turns", "turn"}, Spelling{"degC", "C"},  Spelling{"degF", "F"},  Spelling{"sec", "s"},
};

std::string_view plain_part(std::string_view part) {
  for (const Spelling& each : kSpellings)
    if (each.written == part) return each.plain;
  return part;
}

// The unit as in the table: its parts as there, one space between them; "N*m", "N-m" and "Nm" as "N m", "ft lbf" as "lbf ft",
// "N/mm^2" as "N/mm2".
std::string plain_unit(std::string_view text) {
  std::string unit, part;
  const auto end_part = [&] {
    std::string_view rest = part;
    std::size_t power = rest.size();  // "mm2": the part is mm
    while (power > 0 && is_digit(rest[power - 1])) --power;
    unit += plain_part(rest.substr(0, power));
    unit += rest.substr(power);
    part.clear();
  };
  for (const char c : text) {
    if (is_space(c) || c == '*' || (c == '-' && !part.empty())) {
      end_part();
      if (!unit.empty() && unit.back() != ' ' && unit.back() != '/') unit += ' ';
    } else if (c == '/') {
      end_part();
      while (!unit.empty() && unit.back() == ' ') unit.pop_back();
      unit += c;
    } else if (c == '"' || c == '\'') {
      end_part();
      part = c;
      end_part();
    } else if (c != '^') {
      part += c;
    }
  }
  end_part();
  while (!unit.empty() && unit.back() == ' ') unit.pop_back();
  for (const std::string_view force : {"Nm", "kNm"}) {
    if (unit.rfind(force, 0) == 0 &&
        (unit.size() == force.size() || unit[force.size()] == '/' || unit[force.size()] == '2'))
      unit.insert(force.size() - 1, " ");
  }
  for (const std::string_view length : {"in", "ft"})
    for (const std::string_view force : {"lbf", "lb", "kip"}) {
      const std::string plain = std::string(force == "lb" ? "lbf" : force) + ' ' + std::string(length);
      for (const std::string& other : {std::string(length) + ' ' + std::string(force),   // the arm in front
                                       std::string(force) + ' ' + std::string(length)})  // a pound's weight
        if (unit.rfind(other, 0) == 0 && (unit.size() == other.size() || unit[other.size()] == '/'))
          unit.replace(0, other.size(), plain);
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

// The unit of that kind that differs in capitals alone: "Gpa" is meant for "GPa". Empty: none.
std::string_view in_other_capitals(std::string_view unit, Kind kind) {
  const auto same = [](char a, char b) {
    return std::tolower(static_cast<unsigned char>(a)) == std::tolower(static_cast<unsigned char>(b));
  };
  for (const Unit& entry : kUnits)
    if (entry.kind == kind &&
        std::equal(entry.name.begin(), entry.name.end(), unit.begin(), unit.end(), same))
      return entry.name;
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

std::span<const Kind> kinds() {
  static const auto all = [] {
    std::array<Kind, kKinds.size()> every{};
    for (std::size_t i = 0; i < every.size(); ++i) every[i] = static_cast<Kind>(i);
    return every;
  }();
  return all;
}

std::vector<std::string_view> units(Kind kind) {
  std::vector<std::string_view> names;
  for (const Unit& each : kUnits)
    if (each.kind == kind) names.push_back(each.name);
  return names;
}

std::string_view name(Kind kind) { return kKinds[static_cast<std::size_t>(kind)].name; }
std::string_view example(Kind kind) { return kKinds[static_cast<std::size_t>(kind)].example; }

Result<double, QuantityFault> convert(double number, std::string_view unit_text, Kind kind) {
  if (!std::isfinite(number)) return fault("not a finite number");
  if (const Unit* const as_written = find_unit(unit_text, kind)) return in_si(number, *as_written);
  const std::string unit = plain_unit(trimmed(plain_signs(unit_text)));
  if (unit.empty()) return fault("a number without a unit");
  if (const Unit* const found = find_unit(unit, kind)) return in_si(number, *found);
  const std::string_view instead = kind_of(unit);
  if (!instead.empty()) return fault(std::string(instead));
  const std::string_view meant = in_other_capitals(unit, kind);
  return fault("no unit known as \"" + std::string(trimmed(unit_text)) + '"' +
               (meant.empty() ? std::string() : "; did you mean \"" + std::string(meant) + "\"?"));
}

Result<double, QuantityFault> parse_number(std::string_view text) {
  text = trimmed(text);
  double value = 0;
  std::string_view digits = text;
  const bool negative = !digits.empty() && digits.front() == '-';
  if (negative) digits.remove_prefix(1);
  if (digits.empty() || !(is_digit(digits.front()) || digits.front() == '.')) return fault("not a number");
  const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error == std::errc::result_out_of_range) return fault("a number out of range");
  const std::size_t read = static_cast<std::size_t>(stop - text.data());
  if (error == std::errc{} && read < text.size() && text[read] == ',')
    return fault(negative ? of_comma("-", digits.substr(0, read - 1), text.substr(read))
                          : of_comma("", digits.substr(0, read), text.substr(read)));
  if (error != std::errc{} || stop != text.data() + text.size() || !std::isfinite(value))
    return fault("not a number");
  return value;
}

Result<double, QuantityFault> parse_share(std::string_view text) {
  text = trimmed(text);
  if (!text.empty() && text.back() == '%') {
    const auto percent = parse_number(text.substr(0, text.size() - 1));
    if (!percent) return percent.fault();
    return percent.value() / 100;
  }
  return parse_number(text);
}

namespace {

// "quarter turn", "a half turn", "three quarters of a turn": the words of a fraction as figures; other text as it is.
std::string figures_of_turn(const std::string& text) {
  struct Words {
    std::string_view written, figures;
  };
  constexpr std::array kFractions = {
      Words{"three quarters", "3/4"},
      Words{"three quarter", "3/4"},
      Words{"three-quarter", "3/4"},
      Words{"quarter", "1/4"},
      Words{"half", "1/2"},
      Words{"eighth", "1/8"},
      Words{"full", "1"},
      Words{"one", "1"},
      Words{"whole", "1"},
  };
  std::string_view rest = trimmed(text);
  const auto skip = [&rest](std::string_view word) {
    if (rest.substr(0, word.size()) != word) return false;
    if (rest.size() > word.size() && !is_space(rest[word.size()])) return false;
    rest.remove_prefix(word.size());
    skip_space(rest);
    return true;
  };
  std::string figures;
  const std::string_view all = rest;
  (void)(skip("a") || skip("an"));
  for (const Words& each : kFractions)
    if (skip(each.written)) {
      figures = each.figures;
      break;
    }
  if (figures.empty()) {  // "1/4 of a turn"
    const std::size_t of = all.find(" of a turn");
    return of == std::string_view::npos ? text : std::string(all.substr(0, of)) + " turn";
  }
  if (skip("of")) (void)skip("a");
  return figures + ' ' + std::string(rest);
}

// Nothing is nothing in every unit; but a temperature of 0 is one thing in C and another in F.
bool is_bare_zero(std::string_view text, Kind kind) {
  if (kind == Kind::temperature) return false;
  const auto number = parse_number(text);
  return number.ok() && number.value() == 0;
}

}  // namespace

Result<double, QuantityFault> parse_quantity(std::string_view written, Kind kind) {
  std::string plain = plain_signs(written);
  if (kind == Kind::turns) plain = figures_of_turn(plain);
  std::string_view text = trimmed(plain);
  if (text.empty()) return fault("nothing in it");
  if (is_bare_zero(text, kind)) return 0.0;
  const bool negative = text.front() == '-';
  if (negative || text.front() == '+') text.remove_prefix(1);
  skip_space(text);
  auto number = take_unsigned(text, negative ? "-" : "");
  if (!number) return number.fault();
  double value = number.value();
  std::string_view unit = trimmed(text);

  // "11 ft 4 1/2 in", "14' 7 1/2\"", "14'-7 1/2\""
  for (const std::string_view feet : {"ft.", "ft", "feet", "foot", "'"}) {
    if (unit.substr(0, feet.size()) != feet) continue;
    std::string_view inches_text = unit.substr(feet.size());
    skip_space(inches_text);
    if (!inches_text.empty() && inches_text.front() == '-') inches_text.remove_prefix(1);
    skip_space(inches_text);
    if (inches_text.empty() || !is_digit(inches_text.front())) break;
    if (kind != Kind::length) return fault("a length");
    const auto inches = take_unsigned(inches_text);
    if (!inches || plain_unit(trimmed(inches_text)) != "in") return fault("feet, and then no inches");
    if (inches.value() >= 12) return fault("feet, and then 12 inches or more");
    value = value * 12 + inches.value();
    unit = "in";
    break;
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
