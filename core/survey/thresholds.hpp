// thresholds.hpp: every threshold of settling. Where nothing else is said there is no source: the value is a choice, with its
// reason. Limits that a kit sheet can set are defaults here.
#pragma once

#include <cstdint>

namespace hangtrue::survey {

/// A value settles over this long. Longer than a hand lets go, shorter than a person waits.
inline constexpr std::uint64_t kWindow_us = 2'000'000;
/// Fewer samples than this do not make a reading, however slow the device.
inline constexpr std::uint32_t kFewestSamples = 3;
/// Without a sample for this long the newest counts as stale. Slow devices send once a second.
inline constexpr std::uint64_t kStale_us = 3'000'000;
/// Not settled for this long, a place is noisy and not merely moving.
inline constexpr std::uint64_t kNoisy_us = 30'000'000;
/// The very same value for this long, from a device that is known to vary at rest, may be stuck,
inline constexpr std::uint64_t kStuck_us = 60'000'000;
/// and is where it also lasts so many times its longest former repeat.
inline constexpr std::uint64_t kStuckTimesFormer = 10;

}  // namespace hangtrue::survey
