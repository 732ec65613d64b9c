// predict.hpp: what `predict --json` prints.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/job/prediction.hpp"

namespace hangtrue::json {

/// {"run": ..., "stages": [...]}, SI. Force on the run, up positive; moment sagging positive.
[[nodiscard]] nlohmann::ordered_json prediction_json(const sheet::RunSheet& run,
                                                     beam::Solver<double>& solver);

}  // namespace hangtrue::json
