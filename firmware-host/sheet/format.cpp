#include "firmware-host/sheet/format.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <numeric>

#include "core/quantity/units.hpp"
#include "firmware-host/sheet/number.hpp"

namespace hangtrue::sheet {
namespace {

constexpr double kLargestShown = 1e15;  // beyond, digits after the point mean nothing

bool showable(double value) { return std::isfinite(value) && std::abs(value) < kLargestShown; }

std::string number(double value, int digits, Show show) {
  return with_decimal_sign(show_number(value, digits), show.language);
}

// Three significant digits for what has no natural step, without an exponent.
std::string three_digits(double value, Show show) {
  if (!showable(value)) return "-";
  const double size = std::abs(value);
  return number(value, size >= 99.95 ? 0 : size >= 9.995 ? 1 : 2, show);
}

// "3", "1 3/32", "5/64", "0": parts / steps in lowest terms.
std::string with_fraction(long long parts, long long steps) {
  const long long whole = parts / steps;
  const long long rest = parts % steps;
  if (rest == 0) return std::to_string(whole);
  const long long common = std::gcd(rest, steps);
  const std::string fraction = std::to_string(rest / common) + "/" + std::to_string(steps / common);
  return whole == 0 ? fraction : std::to_string(whole) + " " + fraction;
}

}  // namespace

std::string with_decimal_sign(std::string number, Language language) {
  if (language == Language::german) std::replace(number.begin(), number.end(), '.', ',');
  return number;
}

std::string show_number(double value, int digits) {
  if (!showable(value)) return "-";
  std::array<char, 64> text{};
  const auto [end, error] =
      std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed, digits);
  std::string shown(text.data(), end);
  if (shown.front() == '-' && shown.find_first_not_of("-0.") == std::string::npos) shown.erase(0, 1);
  return shown;
}

std::string show_place(double x_m, Show show) {
  if (!showable(x_m)) return "-";
  if (show.is_metric()) return number(x_m * 1e3, 0, show) + " mm";
  const long long sixteenths = std::llround(std::abs(x_m) / kInch_m * 16);
  const long long feet = sixteenths / (12 * 16);
  const long long rest = sixteenths % (12 * 16);
  std::string text = x_m < 0 && sixteenths > 0 ? "-" : "";
  if (feet > 0) text += std::to_string(feet) + " ft";
  if (rest > 0 || feet == 0) text += (feet > 0 ? " " : "") + with_fraction(rest, 16) + " in";
  return text;
}

Shown length_shown(double length_m, Show show) {
  if (!showable(length_m)) return {"-", ""};
  if (show.is_metric()) return {number(length_m * 1e3, 2, show), "mm"};
  const long long parts = std::llround(std::abs(length_m) / kInch_m * 64);
  return {(length_m < 0 && parts > 0 ? "-" : "") + with_fraction(parts, 64), "in"};
}

std::string show_length(double length_m, Show show) { return length_shown(length_m, show).text(); }

std::string show_fine(double length_m, Show show) {
  if (!showable(length_m)) return "-";
  if (show.is_metric()) return number(length_m * 1e3, 3, show) + " mm";
  // What was written as a fraction comes back as one; what was worked out is one only by a rare chance.
  const double parts = length_m / kInch_m * 64;
  const bool written = std::abs(parts) > 0.5 && std::abs(parts - std::round(parts)) < 1e-9 * std::abs(parts);
  return written ? show_length(length_m, show) : number(length_m / kInch_m, 3, show) + " in";
}

Shown slope_shown(double slope_rad, Show show) {
  if (!showable(slope_rad)) return {"-", ""};
  return show.is_metric() ? Shown{number(slope_rad * 1e3, 2, show), "mm/m"}
                          : Shown{number(slope_rad * 12, 4, show), "in/ft"};
}

std::string show_slope(double slope_rad, Show show) { return slope_shown(slope_rad, show).text(); }

std::string show_force(double force_N, Show show) {
  if (!showable(force_N)) return "-";
  if (!show.is_metric()) return three_digits(force_N / kPoundForce_N, show) + " lbf";
  return std::abs(force_N) < 999.5 ? three_digits(force_N, show) + " N"
                                   : three_digits(force_N * 1e-3, show) + " kN";
}

std::string show_couple(double couple_Nm, Show show) {
  if (!showable(couple_Nm)) return "-";
  return show.is_metric() ? three_digits(couple_Nm, show) + " N m"
                          : three_digits(couple_Nm / (kPoundForce_N * kInch_m), show) + " lbf in";
}

std::string show_mass(double mass_kg, Show show) {
  if (!showable(mass_kg)) return "-";
  return show.is_metric() ? three_digits(mass_kg, show) + " kg"
                          : three_digits(mass_kg / kPound_kg, show) + " lb";
}

std::string show_stress(double stress_Pa, Show show) {
  if (!showable(stress_Pa)) return "-";
  constexpr double kKsi_Pa = 1e3 * kPoundForce_N / (kInch_m * kInch_m);
  return show.is_metric() ? three_digits(stress_Pa * 1e-6, show) + " MPa"
                          : three_digits(stress_Pa / kKsi_Pa, show) + " ksi";
}

std::string show_turns(double turns, Language language) {
  if (!showable(turns)) return "-";
  const long long parts = std::llround(std::abs(turns) * 16);
  return (turns < 0 && parts > 0 ? "-" : "") + with_fraction(parts, 16) +
         (language == Language::german ? " Umdrehung" : " turn") +
         (parts > 16 || parts == 0 ? (language == Language::german ? "en" : "s") : "");
}

}  // namespace hangtrue::sheet
