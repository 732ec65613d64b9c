// unknown.hpp: unknowns and channels by their names, for people; job's name_of() is for other programs.
#pragma once

#include <string>

#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::say {

/// "east rod: rise", "set-up A: datum tilt", "unlisted load at 2100 mm", "bow 2 changed": as name_of() has it, with places in site
/// units and in their language.
[[nodiscard]] std::string name_words(const job::UnknownId& id, sheet::Show show);
/// "walking inclinometer slope".
[[nodiscard]] std::string name_words(const job::ChannelId& id, sheet::Show show);

}  // namespace hangtrue::say
