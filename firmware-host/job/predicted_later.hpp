// predicted_later.hpp: will the run still be level so long after it is finished, if everything is as the sheet has it?
//
// Model   The shape at the tolerance's stage, and what wood-based parts creep under the lasting loads from then on
//         (expected_drift.hpp). What creeps while the run is being built is not in it.
// Band    The creep factors are known to kCreepSigma, all together: sigma of a height is that share of what creep adds there,
//         that of the level error the larger of what one sigma more and one sigma less make of it.
// Units   SI; height up positive; sigma is one standard deviation, of the creep alone.
#pragma once

#include <optional>
#include <vector>

#include "firmware-host/job/expected_drift.hpp"
#include "firmware-host/job/prediction.hpp"
#include "firmware-host/job/straightness.hpp"

namespace hangtrue::job {

struct PredictedLater {
  int stage = 0;  // the tolerance's
  double days = 0;
  DriftCause cause = DriftCause::not_asked;
  double creep_share = 0;                 // of what creep comes to in the end
  std::vector<double> height_m, sigma_m;  // of the reference line, at the stations
  std::vector<double> moved_m;            // what of it came since
  double level_error_m = 0, level_error_sigma_m = 0;
  std::optional<Straightness> straight;  // where the sheet names a straight-edge
  std::optional<bool> within;  // the tolerance; none: the sheet names none, or it could not be worked out
};

/// `solver` solved as the sheet has it; days > 0.
[[nodiscard]] PredictedLater predicted_later(const sheet::RunSheet& run, const beam::Solver<double>& solver,
                                             double days);

}  // namespace hangtrue::job
