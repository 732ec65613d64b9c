// trials.hpp: how often a test that counts does what it counts.
#pragma once

namespace hangtrue {

/// Whether shares are judged. Under the sanitizers the same code runs a twentieth as often, for errors of memory and of undefined
/// behaviour alone: so few trials tell no share.
#ifdef HANGTRUE_SANITIZED
inline constexpr bool kSharesTell = false;
#else
inline constexpr bool kSharesTell = true;
#endif

/// `full` trials, or a twentieth of them under the sanitizers.
constexpr int trials(int full) { return kSharesTell || full < 20 ? full : full / 20; }

}  // namespace hangtrue
