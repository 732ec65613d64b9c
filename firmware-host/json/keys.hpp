// keys.hpp: the keys of run sheet and kit sheet for programs: one by one, and as JSON Schemas of whole sheets.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/sheet/keys.hpp"

namespace hangtrue::json {

/// Texts are there always, and may be empty.
[[nodiscard]] nlohmann::ordered_json key_json(const sheet::Key& key);

/// A schema of the whole sheet by JSON Schema 2020-12 (json-schema.org), for a TOML sheet read as JSON; a date of TOML is a text.
/// What it accepts need not be a good sheet: that a key goes with another, and what texts name, the readers check alone. What it
/// refuses is none.
[[nodiscard]] nlohmann::ordered_json sheet_schema(sheet::SheetSort sort);

}  // namespace hangtrue::json
