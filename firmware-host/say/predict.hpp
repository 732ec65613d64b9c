// predict.hpp: the predicted shape of every stage as people read it.
#pragma once

#include <string>

#include "firmware-host/job/finished_level.hpp"

namespace hangtrue::say {

/// Within kColumns. Whether it will be level comes first. Forces and stresses are shown, not judged. `best`: nullptr where it
/// was not looked for.
[[nodiscard]] std::string prediction_view(const sheet::RunSheet& run, beam::Solver<double>& solver,
                                          const job::FinishedLevel& level, const job::BestSetting* best);

}  // namespace hangtrue::say
