// predict.hpp: what `predict --json` prints.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/job/finished_level.hpp"
#include "firmware-host/job/predicted_later.hpp"
#include "firmware-host/job/sheet_doubts.hpp"

namespace hangtrue::json {

/// {"departure_m", "edge", "from_m", "at_m", "to_m", "within"}
[[nodiscard]] nlohmann::ordered_json straightness_json(const job::Straightness& straight);

/// {"run": ..., "level_error_m": ..., "within_tolerance": ..., "stages": [...]}, SI. Force on the run, up positive; moment
/// sagging positive. `best`: nullptr where it was not looked for; `later`: where
/// nobody asked.
[[nodiscard]] nlohmann::ordered_json prediction_json(const sheet::RunSheet& run, beam::Solver<double>& solver,
                                                     const job::FinishedLevel& level,
                                                     const job::BestSetting* best,
                                                     const std::vector<job::SheetDoubt>& doubts,
                                                     const job::PredictedLater* later = nullptr);

}  // namespace hangtrue::json
