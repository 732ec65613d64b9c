// number.hpp: a plain number for people.
#pragma once

#include <string>

namespace hangtrue::sheet {

/// With so many digits after the point: "2.50"; never "-0.00"; "-" for what is not finite or has 1e15 or more.
[[nodiscard]] std::string show_number(double value, int digits);

}  // namespace hangtrue::sheet
