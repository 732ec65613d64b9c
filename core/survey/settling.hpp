// settling.hpp: from the raw samples of one channel to a settled value; and what is wrong while there is
// none.
//
// Window     The newest samples that together span at least `window_us`. Settled: they lie within `spread` of
//            each other (highest minus lowest), and there are at least kFewestSamples. Highest minus lowest,
//            rather than a standard deviation, since one knock or one torn value must be enough to hold a
//            reading back. It grows with the number of samples: for noise of standard deviation s, 20 samples
//            span 3.7 s on average.
// Value      the mean of the window. Its sigma = max(kit's sigma of a settled reading, s / sqrt(n)) with s
//            the samples' standard deviation: the kit's sigma already holds the usual scatter, so only a
//            greater one raises it.
// Gaps       a silence longer than stale_us empties the window: nobody knows what happened meanwhile.
// Time       microseconds of the caller's monotonic clock, passed in. A time that goes back counts as the
//            time before.
// Memory     fixed; no heap. A fast device is no trouble: samples closer than 1/kBins of the window share a
//            bin.
// Units      value, spread, sigma and range share one unit (rad or m), whatever it is; temperature in
//            Celsius.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>

#include "core/quantity/node_limits.hpp"
#include "core/quantity/result.hpp"
#include "core/survey/thresholds.hpp"

namespace hangtrue::survey {

/// The first that holds, in this order. Only `settled` has a value to give.
enum class Verdict : std::uint8_t {
  never_seen,    // no sample yet
  stale,         // the newest sample is older than stale_us
  not_finite,    // the newest sample is no finite number
  out_of_range,  // the newest sample lies outside range_from ... range_to
  stuck,    // the very same value for longer than stuck_us, from a device that is known to vary while at rest
  settled,  // spans the window within the spread
  noisy,    // has not settled for longer than noisy_us
  moving    // not settled, not yet for long
};

template <class Scalar>
struct SettleLimits {
  std::uint64_t window_us = kWindow_us;
  Scalar spread = 0;  // highest minus lowest; > 0
  Scalar sigma = 0;   // of one settled reading, by the kit
  Scalar range_from = -std::numeric_limits<Scalar>::max();
  Scalar range_to = std::numeric_limits<Scalar>::max();
  std::uint64_t stale_us = kStale_us;
  std::uint64_t noisy_us = kNoisy_us;
  // A coarse device at rest repeats its value, and is right. So a repeat counts as stuck only once the device
  // has varied within a settled window, and when it also lasts over ten (kStuckTimesFormer) times its longest former repeat. 0:
  // never.
  std::uint64_t stuck_us = kStuck_us;
};

template <class Scalar>
struct Settled {
  Scalar mean = 0;
  Scalar sigma = 0;
  Scalar spread = 0;  // highest minus lowest
  std::uint32_t count = 0;
  std::uint64_t from_us = 0, to_us = 0;
  std::optional<Scalar> temperature_C;  // mean of those that came with samples
};

template <class Scalar>
class Settling {
 public:
#ifndef HANGTRUE_NODE_LIMITS
  static constexpr int kBins = 128;
#else
  static constexpr int kBins = node_limits::kSettlingBins;
#endif

  explicit Settling(const SettleLimits<Scalar>& limits) : limits_(limits) {}

  void add(std::uint64_t time_us, Scalar value, std::optional<Scalar> temperature_C = std::nullopt);

  /// The instrument has been moved or turned: what the window holds belongs to the former place.
  void restart(std::uint64_t now_us);

  [[nodiscard]] Verdict verdict(std::uint64_t now_us) const;
  /// The settled value, or the verdict that stands in the way.
  [[nodiscard]] Result<Settled<Scalar>, Verdict> value(std::uint64_t now_us) const;
  /// Highest minus lowest of the window so far (0 without samples): what to show while it moves.
  [[nodiscard]] Scalar spread() const;
  /// The newest sample; nothing before the first.
  [[nodiscard]] std::optional<Scalar> newest() const;

 private:
  struct Bin {
    std::uint64_t from_us;
    std::uint32_t count, temperatures;
    Scalar sum, squares;  // of value less reference_
    Scalar lowest, highest;
    Scalar temperature_sum;
  };
  [[nodiscard]] const Bin& bin(int i) const { return bins_[static_cast<std::size_t>((first_ + i) % kSlots)]; }
  [[nodiscard]] Bin& bin(int i) { return bins_[static_cast<std::size_t>((first_ + i) % kSlots)]; }
  [[nodiscard]] bool in_range(Scalar value) const {
    return value >= limits_.range_from && value <= limits_.range_to;
  }
  [[nodiscard]] bool is_settled() const;
  [[nodiscard]] bool is_stuck() const;
  void put(Scalar value, std::optional<Scalar> temperature_C);

  static constexpr int kSlots = kBins + 4;
  SettleLimits<Scalar> limits_;
  std::array<Bin, kSlots> bins_{};
  int first_ = 0, used_ = 0;
  Scalar reference_ = 0;  // first value of the window: sums stay small beside it
  bool seen_ = false;
  Scalar newest_ = 0;
  std::uint64_t newest_us_ = 0;
  std::uint64_t unsettled_since_us_ = 0;
  std::uint64_t repeat_since_us_ = 0, longest_repeat_us_ = 0;
  bool varies_at_rest_ = false;
};

extern template class Settling<double>;
extern template class Settling<float>;

}  // namespace hangtrue::survey
