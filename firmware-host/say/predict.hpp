// predict.hpp: the predicted shape of every stage as people read it.
#pragma once

#include <string>
#include <string_view>

#include "firmware-host/job/finished_level.hpp"
#include "firmware-host/job/predicted_later.hpp"

namespace hangtrue::say {

/// The answer, as it stands there: "YES, as written.".
[[nodiscard]] std::string_view as_written_words(bool within);
/// Within kColumns. Whether it will be level comes first. Forces and stresses are shown, not judged. `best`: nullptr where it
/// was not looked for. `later`: nullptr where nobody asked.
[[nodiscard]] std::string prediction_view(const sheet::RunSheet& run, beam::Solver<double>& solver,
                                          const job::FinishedLevel& level, const job::BestSetting* best,
                                          const job::PredictedLater* later = nullptr);

}  // namespace hangtrue::say
