// quantity.hpp: a number with its kind, so that its unit never has to be guessed from a name.
//
// Units   SI inside: m, rad, N, N m; factors without a unit. sigma is one standard deviation, in the unit of the value.
// Shown   by say/quantity.hpp, which alone picks the site unit, from the kind.
#pragma once

#include <cstdint>

namespace hangtrue::job {

enum class QuantityKind : std::uint8_t {
  height,        // a rise, a height, a bow, a distance; m
  slope,         // a slope, a pitch, a roll, a tilt; rad
  factor,        // of a stiffness or a load, near 1
  log_factor,    // natural logarithm of a factor: what a spring's unknown is
  give,          // of a support: m/N
  turning_give,  // likewise: rad/(N m)
  weight,        // of a load; N, down positive
  share          // of a whole, 1 is all of it: a relative change, a part of the expected drift
};

struct Quantity {
  QuantityKind kind{};
  double value = 0;
  double sigma = 0;
};

}  // namespace hangtrue::job
