// units.hpp: a quantity as a sheet writes it, "number unit", into SI.
//
// Grammar  [-] number [space] unit, or feet and inches together ("11 ft 4 in", "14' 7 1/2\"", "14'-7 1/2\"", inches below 12).
//          number: 12, 0.5, .5, 12e-6, 5/32, 1 1/2, 7-1/2. Independent of the locale. Nothing after the unit. A part of a turn
//          may stand in words: "quarter turn". Nothing, "0", needs no unit, but for a temperature.
//          A comma, or a gap between thousands, is refused with what to write instead: "11,200 ksi" may be 11200 or 11.2.
// Units    length       mm cm m in ft                       (11 ft 4 1/2 in)
//          mass         g kg t lb
//          force        N kN lbf kip
//          weight per length  N/m kN/m N/mm lbf/in lbf/ft kip/ft; kg/m, lb/ft (plf) and lb/in stand for the weight of that mass
//          stiffness    N/m kN/m N/mm kN/mm lbf/in (lb/in) kip/in
//          couple       N m, kN m, lbf in, lbf ft, kip in, kip ft
//          turning stiffness  N m/rad, kN m/rad, and lbf in, lbf ft, kip in, kip ft a rad
//          stress       Pa kPa MPa GPa N/m2 kN/m2 N/mm2 kN/cm2 kN/mm2 psi (lbf/in2) ksi
//          density      kg/m3 g/cm3 t/m3 lb/ft3 (pcf) lb/in3
//          slope        mm/m in/ft rad, and deg by its tangent
//          angle        deg rad, and mm/m in/ft for small ones (roll)
//          time         s ms                                 turns      turn turns
//          temperature  C F; a difference of 18 F is one of 10 C, and may also be in K
//          expansion    /K /C /F                             shear area m2 cm2 mm2 in2
//          EI, GJ       N m2, kN m2, lbf in2                 GA         as a force
//          EIw          N m4, kN m4, lbf in4
// Written  also as the trade does: " and ' for in and ft, inch(es), foot, feet, "in.", "ft."; lbs, kips; N/mm², kg/m^3, m³; N·m,
//          N*m, Nm, N-m, ft lb; 7½; °C, °.
// SI       m, kg, N, N/m, N m, N m/rad, Pa, kg/m3, rad, s, 1/K, m2, N m2, N m4. A slope in rad is the tangent. Temperatures are in
//          degrees Celsius, turns are turns.
// Errors   every kind asks for its own units: a length where a stiffness is due is refused by name, as are a number without
//          unit, nan, inf, a division by nothing, what is too large for a double, and anything left over.
// Sources  inch and pound: international yard and pound agreement (1959); g: 3rd CGPM (1901); both in core/quantity/units.hpp.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "core/quantity/result.hpp"

namespace hangtrue::sheet {

enum class Kind : std::uint8_t {
  length,
  mass,
  force,
  weight_per_length,
  stiffness,
  couple,
  turning_stiffness,
  stress,
  density,
  slope,
  angle,
  time,
  turns,
  temperature,
  temperature_difference,
  expansion,
  area,
  flexural_rigidity,
  warping_rigidity
};

/// "a length", "a stiffness".
[[nodiscard]] std::string_view name(Kind kind);
/// "such as \"4200 mm\" or \"11 ft 4 in\"".
[[nodiscard]] std::string_view example(Kind kind);

/// Why a text is no such quantity: what it is instead, to stand behind the text; may be empty ("no number in it").
struct QuantityFault {
  std::string what;
};

/// The value in SI.
[[nodiscard]] Result<double, QuantityFault> parse_quantity(std::string_view text, Kind kind);

/// A whole text that is one plain number, as in a CSV field: finite, nothing left over.
[[nodiscard]] Result<double, QuantityFault> parse_number(std::string_view text);

/// A plain number, or "95 %": 0.95.
[[nodiscard]] Result<double, QuantityFault> parse_share(std::string_view text);

/// The unit alone, for a number that stands apart from it: 2.5 and "mm/m".
[[nodiscard]] Result<double, QuantityFault> convert(double number, std::string_view unit, Kind kind);

/// A stretch of the calendar in days: "365 days", "1 day", "26 weeks", "1 year" (of 365.25 days); more than none, at most a
/// hundred years. Nothing where it is no such.
[[nodiscard]] std::optional<double> parse_days(std::string_view text);

}  // namespace hangtrue::sheet
