// trials.hpp: how often a test that counts does what it counts.
#pragma once

namespace hangtrue {

/// Whether shares are judged. Under the sanitizers, and under an emulator of another processor, the same code runs a twentieth as
/// often, for what only they show: so few trials tell no share.
#ifdef HANGTRUE_FEW_TRIALS
inline constexpr bool kSharesTell = false;
#else
inline constexpr bool kSharesTell = true;
#endif

/// `full` trials, or a twentieth of them.
constexpr int trials(int full) { return kSharesTell || full < 20 ? full : full / 20; }

}  // namespace hangtrue
