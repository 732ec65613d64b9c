// change_candidates.hpp: what may have changed between two surveys of a run, as unknowns of the later survey's fit.
//
// Which   Rise, pitch and roll of every engaged support as far as it holds them, both stiffness factors, the loads that are
//         on, the bow shapes, the heights of stable marks.
// Units   m, rad, or a share of the load or stiffness (0.05: 5 % more).
#pragma once

#include <string>
#include <vector>

#include "core/change/change.hpp"
#include "core/fit/fit.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/job/unknown_id.hpp"

namespace hangtrue::job {

struct ChangeCandidate {
  fit::Unknown unknown;  // as the fit has it
  UnknownId id;          // change is true; the rise of a support is a move_rise
  double wide = 0;       // what is not known better than this was not seen
  double prior = 0;      // sigma of its prior, whose mean is no change
  int column = -1;       // of the fit's unknowns; -1: not looked up yet
};

/// In the order of the fit: by support, stiffness, loads, bows, marks.
[[nodiscard]] std::vector<ChangeCandidate> change_candidates(const sheet::RunSheet& run, int stage);
/// The share of the expected drift, for what is said of it beside the changes.
[[nodiscard]] ChangeCandidate drift_share_candidate();

/// What SurveyFit::expect_changes() takes. `marks_tie`: whether marks were read in both surveys.
[[nodiscard]] ChangesSince changes_since(const std::vector<ChangeCandidate>& candidates, bool marks_tie);

/// Looks up their columns; leaves out those that the fit does not estimate.
void keep_estimated(std::vector<ChangeCandidate>& candidates, const fit::UnknownList<double>& unknowns);
/// The tests of these changes, from a fit that estimates all of them. False where there are too many.
[[nodiscard]] bool weigh(fit::Fit<double>& fit, const std::vector<ChangeCandidate>& candidates,
                         change::Changes& out);

/// The lower, the likelier beforehand: supports settle and turn, contents change, beams and walls seldom do. Common practice,
/// no source.
[[nodiscard]] int rank_of(UnknownOf of);
/// The quantity that changed: of "east rod: rise moved changed" it is "east rod: rise".
[[nodiscard]] UnknownId changed_quantity(UnknownId change);

}  // namespace hangtrue::job
