#include "firmware-host/job/changes_seen.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

ChangeTests::ChangeTests(fit::Fit<double>& fit, std::vector<ChangeCandidate> candidates,
                         bool heights_compared)
    : candidates_(std::move(candidates)), heights_compared_(heights_compared) {
  (void)weigh(fit, candidates_, *changes_);
  detectable_sigmas_ = changes_->detectable_sigmas(kRecheckConfidence, kRecheckPower);
  std::vector<int> ranks;
  for (const ChangeCandidate& each : candidates_) ranks.push_back(rank_of(each.id.of));
  const change::Named named = changes_->name(kRecheckConfidence, ranks, kAsWell);
  rest_ = named.rest;
  named_.assign(named.change, named.change + named.count);
  for (std::size_t k = 0; k < named_.size(); ++k) causes_.push_back(cause(k));
}

std::vector<ChangeSeen> ChangeTests::each() const {
  std::vector<ChangeSeen> all;
  for (int j = 0; j < int(candidates_.size()); ++j) all.push_back(seen(j, {}));
  return all;
}

ChangeSeen ChangeTests::seen(int j, std::span<const int> beside) const {
  const change::Single single = changes_->single(j, beside);
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
  return result;
}

bool ChangeTests::is_rise(int j) const { return candidates_[std::size_t(j)].id.of == UnknownOf::move_rise; }
bool ChangeTests::is_named(int j) const { return std::find(named_.begin(), named_.end(), j) != named_.end(); }

// Where that one support rose and that another sank explain as well, the one that sank: supports settle.
Cause ChangeTests::cause(std::size_t k) {
  std::vector<int> others = named_;
  others.erase(others.begin() + std::ptrdiff_t(k));
  const double best = changes_->explains(named_);
  const auto as_well = [&](int j) {
    std::vector<int> instead = named_;
    instead[k] = j;
    return !is_named(j) && changes_->single(j, others).seen && changes_->explains(instead) > best - kAsWell;
  };
  int& chosen = named_[k];
  if (is_rise(chosen) && changes_->single(chosen, others).value > 0)
    for (int j = 0; j < int(candidates_.size()); ++j)
      if (is_rise(j) && as_well(j) && changes_->single(j, others).value < 0) {
        chosen = j;
        break;
      }
  Cause cause;
  cause.change = seen(chosen, others);
  cause.height_told = is_rise(chosen) && height_told(chosen, others);
  for (int j = 0; j < int(candidates_.size()); ++j) {
    const bool other_rise = is_rise(chosen) && !cause.height_told && is_rise(j) && !is_named(j);
    if (as_well(j) || other_rise) cause.or_else.push_back(candidates_[std::size_t(j)].id);
  }
  return cause;
}

// Whether marks tell the height of a support that moved, not only where it stands against the others: they do where it
// stands out with any mark's height left open.
bool ChangeTests::height_told(int j, const std::vector<int>& others) const {
  if (!heights_compared_) return false;
  const double alone = changes_->single(j, others).value;
  for (int m = 0; m < int(candidates_.size()); ++m) {
    if (candidates_[std::size_t(m)].id.of != UnknownOf::mark_height) continue;
    if (std::abs(alone) < kHeightToldSigmas * changes_->single(m, others).sigma) return false;
  }
  return true;
}

std::vector<std::pair<UnknownId, UnknownId>> ChangeTests::twins() const {
  std::vector<std::pair<UnknownId, UnknownId>> found;
  for (int i = 0; i < int(candidates_.size()); ++i)
    for (int j = i + 1; j < int(candidates_.size()); ++j)
      if (std::abs(changes_->likeness(i, j)) > kTwins)
        found.emplace_back(candidates_[std::size_t(i)].id, candidates_[std::size_t(j)].id);
  return found;
}

change::Single ChangeTests::drift_share(fit::Fit<double>& fit,
                                        const fit::UnknownList<double>& unknowns) const {
  std::vector<ChangeCandidate> with_drift = candidates_;
  with_drift.push_back(drift_share_candidate());
  keep_estimated(with_drift, unknowns);
  std::vector<int> moved;
  for (const int j : named_) {
    const UnknownOf of = candidates_[std::size_t(j)].id.of;
    if (rank_of(of) <= rank_of(UnknownOf::move_roll) || of == UnknownOf::mark_height) moved.push_back(j);
  }
  const auto changes = std::make_unique<change::Changes>();
  if (!weigh(fit, with_drift, *changes)) return {};
  return changes->single(int(with_drift.size()) - 1, moved);
}

}  // namespace hangtrue::job
