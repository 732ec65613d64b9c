// change_candidates.hpp: what may have changed between two surveys of a run, as unknowns of the later survey's fit.
//
// Which   Rise, pitch and roll of every engaged support as far as it holds them, both stiffness factors, the loads that are
//         on, those that only a later stage lists, a weight that no stage lists at any of a few places, the bow shapes, the heights
//         of stable marks. A spring that became softer does to the run what a move of its support does; it is weighed where that
//         is named (recheck_causes.hpp).
// Units   m, rad, or a share of the load or stiffness (0.05: 5 % more; of a load that was not on: of the whole); N.
// Likely  what each would have to be, and how likely that is beforehand: Likely in thresholds.hpp.
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
  change::Belief belief;
  bool flexibility = false;  // counts how much more flexible; told as how much less stiff
  int column = -1;           // of the fit's unknowns; -1: not looked up yet
};

/// A run sheet with loads behind its own, on from the later survey's stage on, their factors nothing but what the changes make them.
/// So a change acts on the run as it stands, and not on the stages in which its supports engaged.
struct SheetWithMore {
  sheet::RunSheet run;
  int listed = 0;  // loads of the sheet itself
  enum class Kind {
    more,   // of a load that is on
    later,  // a load that only a later stage lists
    softer,  // the curvature that the run has by its moments, once more: what a run twice as flexible would add
    unlisted  // a weight of 1 N
  };
  struct More {
    Kind kind{};
    int load = -1;    // of the sheet; -1: none
    double at_m = 0;  // of a weight
  };
  std::vector<More> more;
};
/// `as_built`: solved for the run as the earlier survey left it, whose fit had so many `unknowns`: weights stand at as many
/// stations as leave room for the changes, kPlacesOfWeights at most. A run that softens carries the moments that it has: exact where statics alone gives them, else to first order.
[[nodiscard]] SheetWithMore with_more_loads(const sheet::RunSheet& run, int stage,
                                            const beam::Solver<double>& as_built, double bending_factor,
                                            int unknowns);

/// In the order of the fit: by support, stiffness, loads, bows, marks.
[[nodiscard]] std::vector<ChangeCandidate> change_candidates(const SheetWithMore& sheet, int stage);
/// The share of the expected drift, for what is said of it beside the changes.
[[nodiscard]] ChangeCandidate drift_share_candidate();

/// What SurveyFit::expect_changes() takes. `marks_tie`: whether marks were read in both surveys.
[[nodiscard]] ChangesSince changes_since(const SheetWithMore& sheet,
                                         const std::vector<ChangeCandidate>& candidates, bool marks_tie);

/// Looks up their columns; leaves out those that the fit does not estimate.
void keep_estimated(std::vector<ChangeCandidate>& candidates, const fit::UnknownList<double>& unknowns);
/// The tests of these changes, from a fit that estimates all of them. False where there are too many.
[[nodiscard]] bool weigh(fit::Fit<double>& fit, const std::vector<ChangeCandidate>& candidates,
                         change::Changes& out);

[[nodiscard]] bool is_move(UnknownOf of);
/// The spring that gives in the motion of a move.
[[nodiscard]] UnknownId spring_of(UnknownId move);
/// The quantity that changed: of "east rod: rise moved changed" it is "east rod: rise".
[[nodiscard]] UnknownId changed_quantity(UnknownId change);

}  // namespace hangtrue::job
