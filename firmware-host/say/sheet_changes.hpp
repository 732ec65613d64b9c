// sheet_changes.hpp: what differs between two run sheets, in words.
#pragma once

#include <string>

#include "firmware-host/job/sheet_changes.hpp"

namespace hangtrue::say {

/// One sentence without a full stop: "support \"east rod\": place was 3900 mm, is 3950 mm".
[[nodiscard]] std::string words(const job::SheetChange& change, sheet::Show show);

}  // namespace hangtrue::say
