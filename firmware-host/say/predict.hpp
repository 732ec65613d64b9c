// predict.hpp: the predicted shape of every stage as people read it.
#pragma once

#include <string>

#include "firmware-host/job/prediction.hpp"

namespace hangtrue::say {

/// Within kColumns. Forces and stresses are shown, not judged.
[[nodiscard]] std::string prediction_view(const sheet::RunSheet& run, beam::Solver<double>& solver);

}  // namespace hangtrue::say
