// node_limits.hpp: how much a run on a node may hold, whose memory is 64 KiB. The cross build has these in the place of those of
// limits.hpp; on the host a packed run is held to them (firmware-host/node/packed_run.hpp).
#pragma once

namespace hangtrue::node_limits {

inline constexpr int kSupports = 4;
inline constexpr int kStages = 6;
inline constexpr int kLoads = 12;
inline constexpr int kLoadParts = 24;
inline constexpr int kBows = 3;
inline constexpr int kSetUps = 1;
inline constexpr int kChannels = 4;
inline constexpr int kMarks = 1;
inline constexpr int kStations = 24;
inline constexpr int kUnknowns = 32;

// Of the shim search.
inline constexpr int kSettings = 8;
inline constexpr int kStocks = 1;
inline constexpr int kPieceKinds = 6;
inline constexpr int kStackForms = 256;

// Of the settling of one channel: parts of its window.
inline constexpr int kSettlingBins = 32;

// Of the node alone.
inline constexpr int kPieces = 12;    // stretches of constant section
inline constexpr int kReadings = 76;  // of one survey

}  // namespace hangtrue::node_limits
