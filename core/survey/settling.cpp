#include "core/survey/settling.hpp"

#include <algorithm>
#include <cmath>

namespace hangtrue::survey {

template <class Scalar>
void Settling<Scalar>::add(std::uint64_t time_us, Scalar value, std::optional<Scalar> temperature_C) {
  if (seen_ && time_us < newest_us_) time_us = newest_us_;
  if (!seen_) newest_us_ = unsettled_since_us_ = repeat_since_us_ = time_us;
  const bool gap = seen_ && time_us - newest_us_ > limits_.stale_us;
  if (gap) restart(time_us);
  if (gap || value != newest_) {
    longest_repeat_us_ = std::max(longest_repeat_us_, newest_us_ - repeat_since_us_);
    repeat_since_us_ = time_us;
  }
  seen_ = true;
  newest_ = value;
  newest_us_ = time_us;
  if (!std::isfinite(value) || !in_range(value)) {
    used_ = 0;
    return;
  }
  put(value, temperature_C);
  if (is_settled()) {
    unsettled_since_us_ = time_us;
    if (spread() > 0) varies_at_rest_ = true;
  }
}

template <class Scalar>
void Settling<Scalar>::put(Scalar value, std::optional<Scalar> temperature_C) {
  const std::uint64_t width_us = limits_.window_us / kBins;
  if (used_ == 0) reference_ = value;
  if (used_ == 0 || newest_us_ - bin(used_ - 1).from_us > width_us) {
    if (used_ == kSlots) {
      first_ = (first_ + 1) % kSlots;
      --used_;
    }
    ++used_;
    bin(used_ - 1) = Bin{};
    bin(used_ - 1).from_us = newest_us_;
    bin(used_ - 1).lowest = bin(used_ - 1).highest = value;
  }
  Bin& last = bin(used_ - 1);
  const Scalar less = value - reference_;
  ++last.count;
  last.sum += less;
  last.squares += less * less;
  last.lowest = std::min(last.lowest, value);
  last.highest = std::max(last.highest, value);
  if (temperature_C && std::isfinite(*temperature_C)) {
    ++last.temperatures;
    last.temperature_sum += *temperature_C;
  }
  // Only as much as spans the window, and no less than a slow device needs.
  while (used_ > static_cast<int>(kFewestSamples) && newest_us_ - bin(1).from_us >= limits_.window_us) {
    first_ = (first_ + 1) % kSlots;
    --used_;
  }
}

template <class Scalar>
void Settling<Scalar>::restart(std::uint64_t now_us) {
  used_ = 0;
  unsettled_since_us_ = now_us;
}

template <class Scalar>
Scalar Settling<Scalar>::spread() const {
  if (used_ == 0) return 0;
  Scalar lowest = bin(0).lowest, highest = bin(0).highest;
  for (int i = 1; i < used_; ++i) {
    lowest = std::min(lowest, bin(i).lowest);
    highest = std::max(highest, bin(i).highest);
  }
  return highest - lowest;
}

template <class Scalar>
std::optional<Scalar> Settling<Scalar>::newest() const {
  return seen_ ? std::optional<Scalar>(newest_) : std::nullopt;
}

template <class Scalar>
bool Settling<Scalar>::is_settled() const {
  if (used_ == 0 || newest_us_ - bin(0).from_us < limits_.window_us) return false;
  std::uint32_t count = 0;
  for (int i = 0; i < used_; ++i) count += bin(i).count;
  return count >= kFewestSamples && spread() <= limits_.spread;
}

template <class Scalar>
bool Settling<Scalar>::is_stuck() const {
  const std::uint64_t repeat_us = newest_us_ - repeat_since_us_;
  return limits_.stuck_us != 0 && varies_at_rest_ && repeat_us > limits_.stuck_us &&
         repeat_us > kStuckTimesFormer * longest_repeat_us_;
}

template <class Scalar>
Verdict Settling<Scalar>::verdict(std::uint64_t now_us) const {
  if (!seen_) return Verdict::never_seen;
  if (now_us > newest_us_ && now_us - newest_us_ > limits_.stale_us) return Verdict::stale;
  if (!std::isfinite(newest_)) return Verdict::not_finite;
  if (!in_range(newest_)) return Verdict::out_of_range;
  if (is_stuck()) return Verdict::stuck;
  if (is_settled()) return Verdict::settled;
  if (newest_us_ > unsettled_since_us_ && newest_us_ - unsettled_since_us_ > limits_.noisy_us)
    return Verdict::noisy;
  return Verdict::moving;
}

template <class Scalar>
Result<Settled<Scalar>, Verdict> Settling<Scalar>::value(std::uint64_t now_us) const {
  const Verdict now = verdict(now_us);
  if (now != Verdict::settled) return now;
  Settled<Scalar> settled;
  Scalar sum = 0, squares = 0, temperature_sum = 0;
  std::uint32_t temperatures = 0;
  for (int i = 0; i < used_; ++i) {
    settled.count += bin(i).count;
    sum += bin(i).sum;
    squares += bin(i).squares;
    temperatures += bin(i).temperatures;
    temperature_sum += bin(i).temperature_sum;
  }
  const Scalar n = static_cast<Scalar>(settled.count);
  const Scalar variance = std::max(Scalar(0), (squares - sum * sum / n) / (n - 1));
  settled.mean = reference_ + sum / n;
  settled.sigma = std::max(limits_.sigma, std::sqrt(variance / n));
  settled.spread = spread();
  settled.from_us = bin(0).from_us;
  settled.to_us = newest_us_;
  if (temperatures > 0) settled.temperature_C = temperature_sum / static_cast<Scalar>(temperatures);
  return settled;
}

template class Settling<double>;
template class Settling<float>;

}  // namespace hangtrue::survey
