// recheck_causes.hpp: what explains the changes between two surveys, and how large it is.
//
// Model    A set of changes is weighed by how likely it makes the later survey's readings, times what is known of such changes
//          beforehand (change::Belief): what a cause would have to be counts. Sets are looked up where there is no change, and
//          where the set named so far stands; the heaviest of them are fitted in full, with stiffness, loads and springs as
//          uncertain as the earlier survey left them (Gauss-Newton). A large change scales with those, so that its size is no
//          surer than they are.
// Named    The smallest set after which what is left passes the test, or that no further change makes likelier by one over
//          kAsLikely; each significant beside the others, corrected for many.
// Beside   Causes that would explain as likely, within kAsLikely. A spring that became softer does what a move of its support
//          does; which of the two is named first, their likelihood beforehand says.
// Axes     heights up positive: a support that sank has rise < 0. SI, rad; sigma is one standard deviation.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "firmware-host/job/changes_seen.hpp"

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

/// The later survey fitted with some of the changes free.
class LaterFits {
 public:
  /// `session`: the later survey's fit, by the sheet that has the candidates' loads; its bearing set and the readings that it set
  /// aside stand. Both must outlive this.
  LaterFits(SurveyFit& session, const std::vector<ChangeCandidate>& candidates);
  ~LaterFits();
  LaterFits(const LaterFits&) = delete;
  LaterFits& operator=(const LaterFits&) = delete;

  /// The tests of all changes, linearised where nothing changed: at what the earlier survey left. Nothing where that cannot be.
  [[nodiscard]] std::unique_ptr<change::Changes> at_no_change();
  /// The same, linearised where these are fitted in full.
  [[nodiscard]] std::unique_ptr<change::Changes> around(const std::vector<int>& set);
  /// As change::Changes::ln_weight(), fitted in full; and that, where it was asked for already.
  [[nodiscard]] double ln_weight(const std::vector<int>& set);
  [[nodiscard]] std::optional<double> known_weight(const std::vector<int>& set) const;
  /// The set with the spring of move `j` softer in the place of that move.
  struct Spring {
    Quantity change;
    double ln_weight = 0;
  };
  [[nodiscard]] std::optional<Spring> with_spring(const std::vector<int>& set, int j);
  /// The share of the expected drift, less 1, beside supports and marks of `named` that moved; a softer beam or a heavier load
  /// would be the creep itself. Linearised where nothing changed. Not seen where none is expected.
  [[nodiscard]] change::Single drift_share(const std::vector<int>& named);

 private:
  struct Work;
  std::unique_ptr<Work> work_;
};

/// `tests`: of the candidates, which fail.
[[nodiscard]] Causes find_causes(LaterFits& fits, const SheetWithMore& sheet, const ChangeTests& tests,
                                 bool heights_compared);

}  // namespace hangtrue::job
