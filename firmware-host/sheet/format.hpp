// format.hpp: quantities as people on site read them, metric or imperial. For showing only: rounded, never read back.
//
// Rounding  mm to 0.01 (fine: 0.001); inches to the nearest 1/64 in lowest terms, places also in feet ("11 ft 4 in");
//           fine inches as decimals to 0.001, or whole 64ths; slopes mm/m to 0.01 or in/ft to 0.0001. Minus is a plain '-'.
//           What is not finite is shown as "-".
// German    has a comma before the decimals (ISO 80000-1:2022, 7.2.2, permits comma and point); all else is the same.
#pragma once

#include <cstdint>
#include <string>

namespace hangtrue::sheet {

enum class Language : std::uint8_t { english, german };

/// How results are shown to people: units, and the language of words about them.
struct Show {
  enum class Units : std::uint8_t { metric, imperial };
  Units units = Units::metric;
  Language language = Language::english;

  static const Show metric, imperial;  // in English
  [[nodiscard]] constexpr bool is_metric() const { return units == Units::metric; }
  friend constexpr bool operator==(Show, Show) = default;
};
inline constexpr Show Show::metric{};
inline constexpr Show Show::imperial{Show::Units::imperial};

/// The decimal sign of a number that is written with a point.
[[nodiscard]] std::string with_decimal_sign(std::string number, Language language);

/// A number and its unit apart; no unit where the number is "-".
struct Shown {
  std::string number, unit;
  [[nodiscard]] std::string text() const { return unit.empty() ? number : number + ' ' + unit; }
};
[[nodiscard]] Shown length_shown(double length_m, Show show);
[[nodiscard]] Shown slope_shown(double slope_rad, Show show);

/// A place along the run: "4200 mm" to 1 mm, "13 ft 9 3/8 in" to 1/16 in.
[[nodiscard]] std::string show_place(double x_m, Show show);
/// A height, a move, a piece: "1.25 mm", "-1 3/32 in".
[[nodiscard]] std::string show_length(double length_m, Show show);
/// A sigma or a small difference: "0.042 mm", "0.002 in"; "1/16 in" where it is just that.
[[nodiscard]] std::string show_fine(double length_m, Show show);
/// "1.20 mm/m", "0.0144 in/ft".
[[nodiscard]] std::string show_slope(double slope_rad, Show show);
/// "312 N", "1.25 kN" from 1 kN on; "70.1 lbf".
[[nodiscard]] std::string show_force(double force_N, Show show);
/// "18.5 N m", "164 lbf in".
[[nodiscard]] std::string show_couple(double couple_Nm, Show show);
/// "62.0 kg", "137 lb".
[[nodiscard]] std::string show_mass(double mass_kg, Show show);
/// "41.5 MPa", "6.02 ksi".
[[nodiscard]] std::string show_stress(double stress_Pa, Show show);
/// "1 1/4 turns", to 1/16 turn.
[[nodiscard]] std::string show_turns(double turns, Language language = Language::english);

}  // namespace hangtrue::sheet
