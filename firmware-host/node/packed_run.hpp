// packed_run.hpp: a run and what is known of it beforehand, as compact bytes: made by `hangtrue pack`, read by the node.
//
// Content   what the fit of one survey and the choice of shims need: the mechanics, the unknowns with their priors as the host's own
//           fit would have them, stations, tolerance, what can be adjusted and with what. Single precision, SI, radians.
// Bytes     "HTR", version, length (16 bits), the content field by field, CRC-32 of all before. Little-endian.
// Refusals  name what was found: no such description, another version, a wrong CRC, or the limit exceeded with its number
//           (core/quantity/node_limits.hpp).
// Memory    fixed; no heap, no exceptions: both sides read and write by the same list of fields.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "core/beam/run.hpp"
#include "core/fit/unknowns.hpp"
#include "core/quantity/node_limits.hpp"
#include "core/quantity/result.hpp"

namespace hangtrue::node {

inline constexpr std::uint8_t kPackedVersion = 2;
inline constexpr std::size_t kMostPacked = 4096;  // bytes
inline constexpr std::size_t kNameLength = 24;

/// How many entries of an array count.
template <class Entry, int kMost>
struct Listed {
  std::array<Entry, std::size_t(kMost)> entry{};
  int count = 0;
  static constexpr int kLimit = kMost;
  [[nodiscard]] std::span<Entry> all() { return {entry.data(), std::size_t(count)}; }
  [[nodiscard]] std::span<const Entry> all() const { return {entry.data(), std::size_t(count)}; }
};

using Name = std::array<char, kNameLength>;  // ends with 0 where it is shorter

struct PackedUnknown {
  fit::Unknown what;
  fit::Prior<float> prior;
};

/// How a support is adjusted; by 0: not at all, 1 shims, 2 rod, 3 lift.
struct PackedAdjust {
  Name name{};
  std::uint8_t by = 0;
  bool pitch = false, roll = false;
  float rise_from_m = 0, rise_to_m = 0, along_m = 0, across_m = 0, step_m = 0, step_turns = 0;
  float rating_N = 0;  // 0: none
};

struct PackedState {
  beam::Motions<float> offset, log_spring, give;
};

struct PackedPiece {
  float thickness_m = 0;
  std::uint8_t count = 0;
};

struct PackedRun {
  Name title{}, stage_name{};
  float length_m = 0, width_m = 0, shear_centre_m = 0;
  std::uint8_t stage = 0, finished_stage = 0, bows = 0;
  float tolerance_m = 0;
  bool has_target = false;
  float target_m = 0;

  Listed<beam::Piece<float>, node_limits::kPieces> pieces;
  Listed<beam::LoadPart<float>, node_limits::kLoadParts> load_parts;
  Listed<beam::Support<float>, node_limits::kSupports> supports;
  Listed<beam::Stage, node_limits::kStages> stages;
  Listed<float, node_limits::kStations> stations_m;
  Listed<PackedUnknown, node_limits::kUnknowns> unknowns;

  // Values of what is not unknown.
  std::array<PackedState, std::size_t(node_limits::kSupports)> state;  // one a support
  float bending_factor = 1, torsion_factor = 1;
  Listed<float, node_limits::kLoads> load_factor;  // one a load
  Listed<float, node_limits::kChannels> zero;

  // The instrument that is this node: its base, and which zero errors are its axes' (-1: none); least sigma of a reading; when it
  // has settled; -1 where it counts the other way.
  float base_m = 0, slope_sigma = 0, roll_sigma_rad = 0, slope_spread = 0, roll_spread_rad = 0;
  float slope_window_s = 0, roll_window_s = 0;
  std::int8_t slope_sign = 1, roll_sign = 1;
  std::int8_t slope_zero = -1, roll_zero = -1;

  std::array<PackedAdjust, std::size_t(node_limits::kSupports)> adjust;  // one a support
  Listed<PackedPiece, node_limits::kPieceKinds> stock;
  std::uint8_t most_in_stack = 0;
  float highest_stack_m = 0;  // 0: no limit
};

enum class PackFaultCode : std::uint8_t {
  not_packed_run,   // does not begin as one, or is not as long as it says
  other_version,    // found: its version
  wrong_crc,        // damaged on its way
  limit_exceeded,   // `what` names the limit; found and most
  value_not_usable  // `what` has a value that cannot be
};
struct PackFault {
  PackFaultCode code{};
  const char* what = "";
  int found = 0, most = 0;
};

/// The bytes of `run` in `out`: how many.
[[nodiscard]] Result<std::size_t, PackFault> pack(PackedRun& run, std::span<std::uint8_t> out);
[[nodiscard]] Result<Done, PackFault> unpack(std::span<const std::uint8_t> bytes, PackedRun& run);

}  // namespace hangtrue::node
