// recheck_causes.hpp: what explains the changes between two surveys, and how large it is.
//
// Model    A set of changes is weighed by how likely it makes the later survey's readings, times what is known of such changes
//          beforehand (change::Belief): what a cause would have to be counts. Sets are looked up where there is no change, and
//          where the set named so far stands; the heaviest of them are fitted in full (later_fits.hpp).
// Named    The smallest set after which what is left passes the test, or that no further change makes likelier by one over
//          kAsLikely; each significant beside the others, corrected for many.
// Beside   Causes that would explain as likely, within kAsLikely; and those that fit as well (chi-squared of one degree of freedom
//          at kRecheckConfidence) and are less likely only beforehand. A spring that became softer does what a move of its support
//          does: it stands beside that move wherever the readings do not speak against it, however likely it was beforehand; which
//          of the two is named first, that says.
// Axes     heights up positive: a support that sank has rise < 0. SI, rad; sigma is one standard deviation.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "firmware-host/job/changes_seen.hpp"
#include "firmware-host/job/later_fits.hpp"

namespace hangtrue::job {

/// A change that is needed to explain the later survey.
struct Cause {
  ChangeSeen change;               // its value with all named causes together, fitted in full
  std::vector<UnknownId> or_else;  // would explain as likely: without marks, also that another support rose
  bool height_told =
      false;  // of a support's rise: marks tell its height, not only its place against the others
  bool not_listed =
      false;  // of a load: the survey's stage does not list it; its change is all that is on of it
};

struct Causes {
  std::vector<Cause> causes;  // the surest first
  std::vector<int> set;       // the candidates that were named, in no order
  change::GlobalTest rest;    // what they leave unexplained
};

/// `tests`: of the candidates, which fail.
[[nodiscard]] Causes find_causes(LaterFits& fits, const SheetWithMore& sheet, const ChangeTests& tests,
                                 bool heights_compared);

}  // namespace hangtrue::job
