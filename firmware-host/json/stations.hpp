// stations.hpp: a plan of where to read, as other programs may rely on it.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/job/plan.hpp"

namespace hangtrue::json {

/// SI; a member that is infinite is null.
[[nodiscard]] nlohmann::ordered_json stations_json(const sheet::RunSheet& run, const job::Plan& plan);

}  // namespace hangtrue::json
