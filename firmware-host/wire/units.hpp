// units.hpp: the units in which devices send, and what their numbers are in SI.
//
//     slope        mm/m, in/ft; deg by its tangent; rad, which stands for the tangent itself
//     roll         rad, deg; mm/m and in/ft, which stand for the small angle itself
//     distance     mm, cm, m, in, ft
//     temperature  C, F; given in Celsius
// Sources  inch: core/quantity/units.hpp. The rest is by definition.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "core/quantity/channel.hpp"

namespace hangtrue::wire {

enum class Unit : std::uint8_t {
  none,
  mm,
  cm,
  m,
  in,
  ft,
  mm_per_m,
  in_per_ft,
  rad,
  deg,
  celsius,
  fahrenheit
};

/// A unit as a device or a sheet writes it, in capitals or not: "mm", "MM", "inch", "degC", the degree sign in one byte or
/// in UTF-8. Nothing where it is not known. Blanks at the ends do not count.
[[nodiscard]] std::optional<Unit> unit_named(std::string_view text);

/// The number in SI (temperatures in Celsius). Nothing where a channel of this kind cannot have the unit, where the number is
/// not finite, or where an angle is no slope (90 degrees and more). A station has no unit and is never converted here.
[[nodiscard]] std::optional<double> in_si(double number, Unit unit, Channel gives);

}  // namespace hangtrue::wire
