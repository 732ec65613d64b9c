// unit_names.hpp: which units a quantity may have, for who looks them up.
#pragma once

#include <span>
#include <string_view>
#include <vector>

#include "firmware-host/sheet/units.hpp"

namespace hangtrue::sheet {

/// Every kind of quantity, in the order of Kind.
[[nodiscard]] std::span<const Kind> kinds();
/// Its units as the table has them: "mm", "cm", "m", "in", "ft". Each may be written in other ways too (units.hpp).
[[nodiscard]] std::vector<std::string_view> units(Kind kind);

}  // namespace hangtrue::sheet
