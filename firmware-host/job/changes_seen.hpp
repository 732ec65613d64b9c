// changes_seen.hpp: the changes between two surveys, tested all together and one by one. Mathematics: core/change/change.hpp.
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

/// The tests of one comparison.
class ChangeTests {
 public:
  /// `changes`: of these candidates, linearised where there are none; nothing where they cannot be tested.
  ChangeTests(std::unique_ptr<change::Changes> changes, const std::vector<ChangeCandidate>& candidates);

  [[nodiscard]] const std::vector<ChangeCandidate>& candidates() const { return candidates_; }
  [[nodiscard]] const change::Changes& changes() const { return *changes_; }
  [[nodiscard]] change::GlobalTest global() const { return changes_->global(); }
  [[nodiscard]] std::vector<ChangeSeen> each() const;
  [[nodiscard]] std::vector<std::pair<UnknownId, UnknownId>> twins() const;
  /// Change j beside others, by tests that may be linearised elsewhere; corrected for as many as these look at.
  [[nodiscard]] ChangeSeen seen(int j, const change::Changes& by, std::span<const int> beside) const;

 private:
  const std::vector<ChangeCandidate>& candidates_;
  std::unique_ptr<change::Changes> changes_;
  double detectable_sigmas_ = 0;
};

}  // namespace hangtrue::job
