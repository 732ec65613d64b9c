// fit.hpp: what `fit --json` prints.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::json {

/// {"stood_C", "mean_C", "supports": [{"support", "rise_m", "sigma_m"}]}; empty where the sheet knows of nothing that grows.
[[nodiscard]] nlohmann::ordered_json warmth_json(const job::Warmth& warmth);

/// SI. "repeats": [{"channel" (the instrument's name and the channel), "groups", "degrees_of_freedom", "pooled_sigma",
/// "stated_sigma" (rad or m), "p_value", "verdict" ("as stated", "larger than stated")}]; "warnings": [sentence].
[[nodiscard]] nlohmann::ordered_json fit_json(const sheet::RunSheet& run, const job::FitReport& report);

}  // namespace hangtrue::json
