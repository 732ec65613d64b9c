// limits.hpp: how much a run may hold. Fixed, so that memory is known before work begins.
#pragma once

namespace hangtrue {
#ifndef HANGTRUE_NODE_LIMITS
inline constexpr int kMaxSupports = 12;    // brackets, posts, rods, seats and lifts of one run
inline constexpr int kMaxStages = 16;      // steps of the work
inline constexpr int kMaxLoads = 48;       // named loads, members' own weights among them
inline constexpr int kMaxLoadParts = 256;  // parts of loads
inline constexpr int kMaxBows = 4;         // smooth shapes of stress-free bow
inline constexpr int kMaxSetUps = 12;      // placings of the laser datum in one survey
inline constexpr int kMaxChannels = 24;    // instrument channels with a zero error of their own
inline constexpr int kMaxMarks = 8;        // stable marks off the run
inline constexpr int kMaxStations = 400;   // marked places along the run

/// Unknowns of one fit. A sheet that needs more is refused, and says so.
inline constexpr int kMaxUnknowns = 128;

/// Parameters that one solve can differentiate by: the unknowns and the moves of every support.
inline constexpr int kMaxParameters = kMaxUnknowns + 3 * kMaxSupports;

}  // namespace hangtrue
#else
}  // namespace hangtrue

#include "core/quantity/node_limits.hpp"

namespace hangtrue {
inline constexpr int kMaxSupports = node_limits::kSupports;
inline constexpr int kMaxStages = node_limits::kStages;
inline constexpr int kMaxLoads = node_limits::kLoads;
inline constexpr int kMaxLoadParts = node_limits::kLoadParts;
inline constexpr int kMaxBows = node_limits::kBows;
inline constexpr int kMaxSetUps = node_limits::kSetUps;
inline constexpr int kMaxChannels = node_limits::kChannels;
inline constexpr int kMaxMarks = node_limits::kMarks;
inline constexpr int kMaxStations = node_limits::kStations;
inline constexpr int kMaxUnknowns = node_limits::kUnknowns;
inline constexpr int kMaxParameters = kMaxUnknowns + 3 * kMaxSupports;

namespace adjust {
inline constexpr int kMaxPoints = 2 * kMaxStations;
inline constexpr int kMaxPlaces = kMaxSupports;
inline constexpr int kMaxSettings = node_limits::kSettings;
inline constexpr int kMaxForceLimits = kMaxSupports * kMaxStages;
inline constexpr int kMaxStocks = node_limits::kStocks;
inline constexpr int kMaxPieceKinds = node_limits::kPieceKinds;
inline constexpr int kMaxStackForms = node_limits::kStackForms;
inline constexpr int kMaxSteps = 100'000;
}  // namespace adjust
}  // namespace hangtrue
#endif
