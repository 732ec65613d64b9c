// problem.hpp: what can be adjusted, with what, and what each adjustment does. Plain numbers: no beam, no
// fit.
//
// Model   Heights of the finished run at M check points (stations, left and right edge), and the forces of
//         the supports that must keep them, are linear in the rise, pitch and roll given to each adjustable
//         support:
//             height = height_m + sum over places of (rise * on_height.rise + pitch * ... + roll * ...)
//             force  = now_N    + sum over places of (rise * on_force.rise  + ...)
// Units   metres, radians, newtons; influences per metre of rise and per radian of pitch and roll.
// Sign    rise up; pitch positive where the far side is higher ("far" = larger x); roll positive where the
//         left side is higher. Force on the run, up positive.
// One-way Forces (and height_m) are those with every one-way support taken as holding both ways, so that one
//         which reads unloaded shows a force <= 0. Where all keep at least `least_N` the linear model is exact;
//         every choice offered does.
// Memory  views: the arrays belong to the caller and must outlive the call.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <type_traits>

#include "core/adjust/thresholds.hpp"
#include "core/beam/run.hpp"
#include "core/quantity/limits.hpp"

namespace hangtrue::adjust {
#ifndef HANGTRUE_NODE_LIMITS
inline constexpr int kMaxPoints = 2 * kMaxStations;  // both edges of every station
inline constexpr int kMaxPlaces = kMaxSupports;      // adjustable supports
inline constexpr int kMaxSettings = 24;              // thicknesses or turns chosen independently
inline constexpr int kMaxForceLimits = kMaxSupports * kMaxStages;  // forces that must stay within limits
inline constexpr int kMaxStocks = 4;
inline constexpr int kMaxPieceKinds = 12;    // thicknesses in one stock
inline constexpr int kMaxStackForms = 4096;  // different stacks that one stock allows
inline constexpr int kMaxSteps = 100'000;    // of a rod or lift, from zero to either end of its travel
#endif
/// Shims of one thickness.
template <class Scalar>
struct PieceKind {
  Scalar thickness_m = 0;  // > 0; taken to the nanometre
  int count = 0;           // how many there are, for all places that draw on the stock
};

template <class Scalar>
struct Stock {
  std::span<const PieceKind<Scalar>> kinds;
  int most = 4;                                                // pieces in a stack
  Scalar highest_m = std::numeric_limits<Scalar>::infinity();  // height of a stack
};

enum class By : std::uint8_t {
  shims,  // pieces from a stock
  rod,    // whole steps of a turn
  lift    // whole steps of height
};

/// Where a support takes its stacks. Rise is the mean of them; pitch = (far - near) / along,
/// roll = (left - right) / across.
enum class Layout : std::uint8_t {
  one,         // one stack under the support
  near_far,    // two rows along the run
  left_right,  // two rows across
  corners      // four; where they differ both ways they stay in one plane (near left + far right =
               // near right + far left), since a plate bears on four
};

/// The layout that bolt rows lead to. Rows that may differ take a stack each; rows that may not (neither
/// pitch nor roll adjustable) take stacks of one thickness, all of which count against the stock.
[[nodiscard]] Layout layout_for(bool rows_along, bool rows_across, bool pitch, bool roll);

enum class Where : std::uint8_t { whole, near, far, left, right, near_left, near_right, far_left, far_right };

/// What one unit of rise, pitch and roll does; one entry a check point or a force. Pitch and roll may be
/// empty where the place cannot make them.
template <class Scalar>
using Influence = beam::Motions<std::span<const Scalar>>;

/// One adjustable support.
template <class Scalar>
struct Place {
  int support = 0;  // the caller's index, carried through
  By by = By::shims;
  Scalar rise_from_m = 0, rise_to_m = 0;  // travel of the rise, from the run as surveyed

  int stock = 0;                     // shims: index into Problem::stocks
  Layout layout = Layout::one;       // shims
  bool pitch = false, roll = false;  // shims: may the stacks differ along, across
  Scalar along_m = 0, across_m = 0;  // shims: distance of the rows, > 0 where the layout has them

  Scalar step_m = 0;      // rod: rise of one step (thread * step_turns); lift: its step
  Scalar step_turns = 0;  // rod: turns of one step

  Influence<Scalar> on_height, on_force;
};

/// A force that must stay within limits in one stage.
template <class Scalar>
struct ForceLimit {
  int support = 0, stage = 0;  // the caller's indices, carried through
  Scalar now_N = 0;            // if nothing is moved
  Scalar least_N = -std::numeric_limits<Scalar>::infinity();
  Scalar greatest_N = std::numeric_limits<Scalar>::infinity();
  bool while_moving = false;  // of the stage in which the moves are made: must hold between moves too
};

template <class Scalar>
struct Problem {
  std::span<const Scalar> height_m;  // M, finished, if nothing is moved
  std::span<const ForceLimit<Scalar>> forces;
  std::span<const Stock<Scalar>> stocks;
  std::span<const Place<Scalar>> places;  // each support at most once
  std::optional<Scalar> target_m;         // height that every point should have; none: level is enough
  Scalar equal_within_m = Scalar(kEqualWithin_m);  // results this near the least count as equal
  std::int64_t node_limit = kNodeLimit;            // partial choices looked at before the search gives up
};

/// Highest less lowest; with a target, twice the largest departure from it. Metres. 0 for no points.
template <class Scalar>
[[nodiscard]] Scalar level_error(std::span<const Scalar> height_m,
                                 std::optional<std::type_identity_t<Scalar>> target_m = {});

}  // namespace hangtrue::adjust
