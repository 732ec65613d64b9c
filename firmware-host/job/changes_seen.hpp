// changes_seen.hpp: the changes between two surveys, tested one by one, and the causes that explain them. Mathematics:
// core/change/change.hpp.
#pragma once

#include <memory>
#include <span>
#include <utility>
#include <vector>

#include "firmware-host/job/change_candidates.hpp"
#include "firmware-host/job/quantity.hpp"

namespace hangtrue::job {

/// One change, as if it were the only one beside those named before it.
struct ChangeSeen {
  UnknownId id;              // change is true
  bool can_be_seen = false;  // else none of the numbers below
  Quantity change;
  double p_value = 1;      // alone
  double p_corrected = 1;  // for looking at as many
  double smallest_detectable =
      0;  // size of a movement that would be found with kRecheckPower, corrected likewise
};

/// A change that is needed to explain the later survey.
struct Cause {
  ChangeSeen change;               // its value with all named causes together
  std::vector<UnknownId> or_else;  // would explain as well: without marks, also that another support rose
  bool height_told =
      false;  // of a support's rise: marks tell its height, not only its place against the others
};

/// The tests of one comparison.
class ChangeTests {
 public:
  /// From a later survey's fit that stands where there are no changes. `heights_compared`: marks tie the surveys.
  ChangeTests(fit::Fit<double>& fit, std::vector<ChangeCandidate> candidates, bool heights_compared);

  [[nodiscard]] change::GlobalTest global() const { return changes_->global(); }
  /// What the named causes leave.
  [[nodiscard]] const change::GlobalTest& rest() const { return rest_; }
  [[nodiscard]] std::vector<ChangeSeen> each() const;
  [[nodiscard]] std::vector<std::pair<UnknownId, UnknownId>> twins() const;
  [[nodiscard]] const std::vector<Cause>& causes() const { return causes_; }
  /// The share of the expected drift beside supports and marks that moved; a softer beam or a heavier load would be the creep
  /// itself. `fit` must have it as an unknown.
  [[nodiscard]] change::Single drift_share(fit::Fit<double>& fit,
                                           const fit::UnknownList<double>& unknowns) const;

 private:
  [[nodiscard]] ChangeSeen seen(int j, std::span<const int> beside) const;
  [[nodiscard]] Cause cause(std::size_t k);
  [[nodiscard]] bool is_rise(int j) const;
  [[nodiscard]] bool is_named(int j) const;
  [[nodiscard]] bool height_told(int j, const std::vector<int>& others) const;

  std::vector<ChangeCandidate> candidates_;
  bool heights_compared_;
  std::unique_ptr<change::Changes> changes_ = std::make_unique<change::Changes>();
  double detectable_sigmas_ = 0;
  std::vector<int> named_;  // of the candidates
  std::vector<Cause> causes_;
  change::GlobalTest rest_;
};

}  // namespace hangtrue::job
