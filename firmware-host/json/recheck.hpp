// recheck.hpp (json): a recheck as other programs may rely on it.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/job/recheck.hpp"

namespace hangtrue::json {

/// SI, rad, shares; members as in job/recheck.hpp, sentences in the sheet's units. `run`: the later survey's sheet.
[[nodiscard]] nlohmann::ordered_json recheck_json(const sheet::RunSheet& run, const job::Recheck& recheck);

}  // namespace hangtrue::json
