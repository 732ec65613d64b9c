// keys.hpp: the keys of run sheet and kit sheet in words, as the table describes them (sheet/keys.hpp).
#pragma once

#include <string>

#include "firmware-host/sheet/keys.hpp"

namespace hangtrue::say {

/// "run sheet", "kit sheet".
[[nodiscard]] std::string sheet_name(sheet::SheetSort sort);
/// "needed", "may be left out; then \"both\" counts", "needed where by = \"rod\"".
[[nodiscard]] std::string needed_words(const sheet::Key& key);
/// The key with all that is known of it, several lines.
[[nodiscard]] std::string key_view(const sheet::Key& key);
/// Every kind of quantity with its units, a line each.
[[nodiscard]] std::string units_overview();
/// Every section of both sheets with the names of its keys.
[[nodiscard]] std::string keys_overview();

}  // namespace hangtrue::say
