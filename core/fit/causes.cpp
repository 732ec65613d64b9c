// Why a fit does not hold: the evidence of each assumption relaxed.
#include <algorithm>
#include <cmath>
#include <limits>

#include "core/fit/fit.hpp"
#include "core/fit/fit_math.hpp"
#include "core/fit/log_gamma.hpp"
#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {
namespace {

template <class Scalar>
Scalar log_mean_exp(std::span<const Scalar> logs) {
  const Scalar most = *std::max_element(logs.begin(), logs.end());
  Scalar sum = 0;
  for (const Scalar log : logs) sum += std::exp(log - most);
  return most + std::log(sum / Scalar(logs.size()));
}

template <class Scalar>
Scalar log_choose(int n, int k) {
  return Scalar(log_gamma(n + 1) - log_gamma(k + 1) - log_gamma(n - k + 1));
}

}  // namespace

// ln of the Gaussian evidence, but for what all causes share, of all readings that are not set aside by hand,
// with sigma times `factor` for those of `channel` (or, where `readings` is null, for those beyond the gate).
// Leaves the filter in trial_.
template <class Scalar>
Scalar Fit<Scalar>::evidence_with(ConstJudgements judgements, const survey::Reading<Scalar>* readings,
                                  int channel, Scalar factor) {
  trial_ = prior_;
  Scalar widened = 0;
  for (int i = 0; i < readings_; ++i) {
    const auto at = static_cast<std::size_t>(i);
    const Verdict verdict = judgements[at].verdict;
    if (verdict == Verdict::by_hand) continue;
    const bool rough = readings == nullptr ? verdict == Verdict::beyond_gate : readings[i].zero == channel;
    trial_.add(row(rows_, i), targets_[at], rough ? factor : Scalar(1));
    if (rough) widened += 1;
  }
  return -trial_.sum_of_squares() / 2 + prior_.log_determinant() - trial_.log_determinant() -
         widened * std::log(factor);
}

template <class Scalar>
int Fit<Scalar>::causes(Readings readings, ConstJudgements judgements, std::span<Cause<Scalar>> out) {
  const bool has_run = status_ == Status::settled || status_ == Status::not_settled;
  if (!has_run || readings.size() != static_cast<std::size_t>(readings_) ||
      judgements.size() != readings.size())
    return 0;
  constexpr std::size_t kScales = std::size(kRelaxations);
  int count = 0;
  const auto push = [&](const Cause<Scalar>& cause) {  // weight: its logarithm, for now
    if (static_cast<std::size_t>(count) < out.size()) out[static_cast<std::size_t>(count++)] = cause;
  };

  const Scalar as_stated = evidence_with(judgements, nullptr, 0, 1);
  push({CauseKind::none_of_these, -1, 0, 0, 0});

  // An unknown whose prior is wider by a variance c: the prior's information loses gamma * a a', a =
  // information * unit vector, gamma = c / (1 + c * unit' information unit). The evidence is then a Gaussian
  // integral over u = a . (unknowns - prior mean), which the posterior knows to be N(mean_u, variance_u).
  Scalar answer[kMaxUnknowns], before[kMaxUnknowns];
  (void)trial_.answer(all(answer));
  (void)prior_.answer(all(before));
  for (int j = 0; j < unknowns_; ++j) {
    const UnknownKind kind = problem_.unknowns->unknown[j].kind;
    if (kind == UnknownKind::datum_height || kind == UnknownKind::mark_height) continue;
    const auto at = static_cast<std::size_t>(j);
    Scalar unit[kMaxUnknowns] = {}, direction[kMaxUnknowns] = {};
    unit[j] = 1;
    Scalar information = 0;
    for (int i = 0; i <= j; ++i) {
      const std::span<const Scalar> triangle = prior_.triangle_row(i);
      information += triangle[at] * triangle[at];
      for (int k = i; k < unknowns_; ++k)
        direction[k] += triangle[at] * triangle[static_cast<std::size_t>(k)];
    }
    Scalar mean_u = 0;
    for (int k = 0; k < unknowns_; ++k) mean_u += direction[k] * (answer[k] - before[k]);
    const Scalar prior_variance = prior_.variance(all(unit));
    trial_.whiten(all(direction), all(direction));
    trial_.whiten(all(unit), all(unit));
    const Scalar variance_u = squared<Scalar>(all(direction));
    const Scalar variance = squared<Scalar>(all(unit));
    const Scalar shared = dot<Scalar>(all(unit), all(direction));

    Cause<Scalar> cause{CauseKind::unknown_off, j, 0, 0, 0};
    Scalar logs[kScales];
    std::size_t best = 0;
    for (std::size_t k = 0; k < kScales; ++k) {
      const Scalar scale = Scalar(kRelaxations[k]);
      const Scalar wider = (scale * scale - 1) * prior_variance;
      const Scalar gamma = wider / (1 + wider * information);
      const Scalar left = std::max(1 - gamma * variance_u, std::numeric_limits<Scalar>::epsilon());
      logs[k] = (gamma * mean_u * mean_u / left - std::log(1 + wider * information) - std::log(left)) / 2;
      if (k > 0 && logs[k] <= logs[best]) continue;
      best = k;
      cause.value = reference_[j] + scale_[j] * (answer[j] + shared * gamma * mean_u / left);
      cause.sigma = scale_[j] * std::sqrt(variance + shared * shared * gamma / left);
    }
    cause.weight = log_mean_exp<Scalar>(logs);
    push(cause);
  }

  for (int channel = -1; channel < kMaxChannels; ++channel) {
    if (std::none_of(readings.begin(), readings.end(),
                     [&](const auto& each) { return each.zero == channel; }))
      continue;
    Cause<Scalar> cause{CauseKind::rough_channel, channel, 0, 0, 0};
    Scalar logs[kScales];
    for (std::size_t k = 0; k < kScales; ++k) {
      const Scalar factor = Scalar(kRelaxations[k]);
      logs[k] = evidence_with(judgements, readings.data(), channel, factor) - as_stated;
      if (k == 0 || logs[k] > *std::max_element(logs, logs + k)) cause.value = factor;
    }
    cause.weight = log_mean_exp<Scalar>(logs);
    push(cause);
  }

  if (self_test_.beyond_gate > 0) {
    Scalar logs[std::size(kStrayFactors)];
    for (std::size_t k = 0; k < std::size(kStrayFactors); ++k)
      logs[k] = evidence_with(judgements, nullptr, 0, Scalar(kStrayFactors[k])) - as_stated;
    const int tried = self_test_.beyond_gate + self_test_.degrees_of_freedom;
    const Scalar which = log_choose<Scalar>(tried, self_test_.beyond_gate);
    push({CauseKind::stray_readings, -1, log_mean_exp<Scalar>(logs) - which, 0, 0});
  }

  const std::span<Cause<Scalar>> found = out.first(static_cast<std::size_t>(count));
  if (found.empty()) return 0;
  found[0].weight = std::log(Scalar(std::max(count - 1, 1)));
  Scalar most = found[0].weight;
  for (const Cause<Scalar>& cause : found) most = std::max(most, cause.weight);
  Scalar sum = 0;
  for (Cause<Scalar>& cause : found) sum += cause.weight = std::exp(cause.weight - most);
  for (Cause<Scalar>& cause : found) cause.weight /= sum;
  for (std::size_t i = 1; i < found.size(); ++i)  // insertion: equal weights keep their order
    for (std::size_t k = i; k > 0 && found[k - 1].weight < found[k].weight; --k)
      std::swap(found[k - 1], found[k]);
  return count;
}

#define HANGTRUE_INSTANTIATE(S) \
  template auto Fit<S>::causes(Readings, ConstJudgements, std::span<Cause<S>>)->int;

HANGTRUE_INSTANTIATE(double)
HANGTRUE_INSTANTIATE(float)
#undef HANGTRUE_INSTANTIATE

}  // namespace hangtrue::fit
