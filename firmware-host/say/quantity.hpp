// quantity.hpp: the one place where a quantity gets its site unit: by its kind, never by its name.
#pragma once

#include <string>

#include "firmware-host/job/quantity.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::say {

/// "1.204 mm", "0.30 mm/m", "1.080 times", "5.0 %". A logarithm of a factor is shown as the factor.
[[nodiscard]] std::string value(const job::Quantity& quantity, sheet::Show show);
/// Its sigma in the same unit; of a logarithm, that of the factor.
[[nodiscard]] std::string sigma(const job::Quantity& quantity, sheet::Show show);
/// "1.204 mm +- 0.051 mm".
[[nodiscard]] std::string value_and_sigma(const job::Quantity& quantity, sheet::Show show);

}  // namespace hangtrue::say
