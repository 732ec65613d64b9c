#include "firmware-host/job/changes_seen.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

ChangeTests::ChangeTests(std::unique_ptr<change::Changes> changes,
                         const std::vector<ChangeCandidate>& candidates)
    : candidates_(candidates), changes_(std::move(changes)) {
  if (!changes_) changes_ = std::make_unique<change::Changes>();
  detectable_sigmas_ = changes_->detectable_sigmas(kRecheckConfidence, kRecheckPower);
}

std::vector<ChangeSeen> ChangeTests::each() const {
  std::vector<ChangeSeen> all;
  for (int j = 0; j < int(candidates_.size()); ++j) all.push_back(seen(j, *changes_, {}));
  return all;
}

ChangeSeen ChangeTests::seen(int j, const change::Changes& by, std::span<const int> beside) const {
  const change::Single single = by.single(j, beside);
  ChangeSeen result;
  result.id = candidates_[std::size_t(j)].id;
  result.change.kind = kind_of(result.id);
  result.can_be_seen = single.seen;
  if (!single.seen) return result;
  result.change.value = single.value;
  result.change.sigma = single.sigma;
  result.p_value = single.p_value;
  result.p_corrected = change::corrected(single.p_value, changes_->looked_at());
  result.smallest_detectable = detectable_sigmas_ * changes_->single(j).sigma;
  if (candidates_[std::size_t(j)].flexibility) {  // 1 / (1 + more flexible) is left of the stiffness
    const double left = 1 / std::max(1 + single.value, kLeastFlexibility);
    result.change = {result.change.kind, left - 1, single.sigma * left * left};
  }
  return result;
}

std::vector<std::pair<UnknownId, UnknownId>> ChangeTests::twins() const {
  std::vector<std::pair<UnknownId, UnknownId>> found;
  for (int i = 0; i < int(candidates_.size()); ++i)
    for (int j = i + 1; j < int(candidates_.size()); ++j)
      if (std::abs(changes_->likeness(i, j)) > kTwins)
        found.emplace_back(candidates_[std::size_t(i)].id, candidates_[std::size_t(j)].id);
  return found;
}

}  // namespace hangtrue::job
