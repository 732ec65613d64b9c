// nearest.hpp: what somebody probably meant who wrote a name that there is not.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace hangtrue::sheet {

/// The name nearest to the one written, by letters to change, add or leave out: at most a third of those written. Empty when none
/// is near.
[[nodiscard]] std::string nearest(std::string_view written, const std::vector<std::string>& names);

}  // namespace hangtrue::sheet
