// search.hpp: the exact choice of shims, turns and lift heights.
//
// Chooses   the settings with the least level error; among all within Problem::equal_within_m of it those
//           with the fewest pieces, then the fewest supports touched, then the least level error (to 1 nm).
// Exact     branch and bound over the settings of the stacks. A bound is a weighting of the check points: for
//           weights w with sum 0 and sum|w| = 2, highest - lowest >= w . height, which is linear in the
//           settings. The weights come from a small linear programme, but the bound holds for any, so that
//           rounding in the programme costs time and never the answer. Tests compare with exhaustive search.
// Limits    problem.hpp. No heap: all memory is the Workspace (about 1 MB; make one and keep it).
// Honest    a search that stops at its node limit says so, and says how much better a choice could still be.
#pragma once

#include <array>
#include <cstdint>

#include "core/adjust/problem.hpp"
#include "core/quantity/result.hpp"

namespace hangtrue::adjust {

enum class AdjustFaultCode : std::uint8_t {
  no_points,         // no check points
  too_many,          // more points, places, settings, forces, stocks, kinds or steps than problem.hpp allows
  too_many_stacks,   // a stock allows more different stacks than kMaxStackForms; index: stock
  sizes_differ,      // an influence has not one entry a check point or force; index: place
  not_finite,        // NaN or infinity where a number must be; index: place, or -1 for heights and forces
  stock_not_usable,  // thickness not > 0 or above 1 m, count or most negative, or no such stock; index: stock
  rows_missing,      // pitch without rows along, roll without rows across, or distance not > 0; index: place
  step_not_positive,  // rod or lift without a step; index: place
  travel_reversed     // rise_from above rise_to; index: place
};
struct AdjustFault {
  AdjustFaultCode code{};
  int index = -1;
};

enum class Outcome : std::uint8_t {
  not_run,
  proved_best,        // no other choice is better in the stated order
  stopped_at_limit,   // the choice keeps all limits, but a better one may exist: see could_still_be_m
  none_keeps_limits,  // proved: no choice, doing nothing included, keeps travel, stock and force limits;
                      // nothing moved
  none_found          // node limit reached before any choice that keeps the limits was found; nothing moved
};

/// One stack of shims. count[k]: pieces of kind k of the place's stock.
template <class Scalar>
struct Stack {
  Where where = Where::whole;
  Scalar thickness_m = 0;
  std::array<std::uint8_t, kMaxPieceKinds> count{};
};

/// What to do at one place.
template <class Scalar>
struct Move {
  int place = 0;    // index into Problem::places
  int support = 0;  // of that place
  Scalar rise_m = 0, pitch_rad = 0, roll_rad = 0;
  int steps = 0;     // rod, lift: up positive
  Scalar turns = 0;  // rod
  int stacks = 0;    // shims: entries of stack, empty stacks included
  std::array<Stack<Scalar>, 4> stack{};
};

template <class Scalar>
struct Choice {
  Outcome outcome = Outcome::not_run;
  int moves = 0;  // entries of move: places touched, in the order of Problem::places
  std::array<Move<Scalar>, kMaxPlaces> move{};
  int pieces = 0;
  Scalar level_error_before_m = 0;  // of Problem::height_m
  Scalar level_error_after_m = 0;   // with these moves; before's where nothing is moved
  Scalar least_level_error_m = 0;   // of all choices (within equal_within_m of the one above)
  Scalar could_still_be_m = 0;      // no choice has a level error below this; equals least where proved
  std::int64_t nodes = 0;           // partial choices looked at
};

template <class Scalar>
class Workspace;  // workspace.hpp; about 1 MB: not for a call stack

/// Chooses. The problem's arrays must hold during the call; the choice stands alone.
template <class Scalar>
[[nodiscard]] Result<Choice<Scalar>, AdjustFault> choose(const Problem<Scalar>& problem,
                                                         Workspace<Scalar>& workspace);

/// Change of a quantity by a move: entry `row` of its influence (a check point or a force).
template <class Scalar>
[[nodiscard]] Scalar change(const Influence<Scalar>& influence, const Move<Scalar>& move, int row) {
  Scalar sum = influence.rise[std::size_t(row)] * move.rise_m;
  if (!influence.pitch.empty()) sum += influence.pitch[std::size_t(row)] * move.pitch_rad;
  if (!influence.roll.empty()) sum += influence.roll[std::size_t(row)] * move.roll_rad;
  return sum;
}

/// Finished heights with the moves made; out has one entry a check point.
template <class Scalar>
void finished_heights(const Problem<Scalar>& problem, const Choice<Scalar>& choice, std::span<Scalar> out);

}  // namespace hangtrue::adjust
