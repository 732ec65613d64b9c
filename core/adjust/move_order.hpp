// move_order.hpp: in which order to make the moves.
//
// Rule      Of all orders, the one in which the fewest states in between break a force limit of the stage in
//           which the moves are made (ForceLimit::while_moving); among those the least total worsening of the
//           level error on the way; among those the largest effect on the heights first.  Exact: all subsets
//           of the moves are weighed (at most 2^12).
// Why       moving one support moves load to the others; a one-way support must not lift in between, and a
//           run that gets more level with every move lets the installer see that the card is right.
// Caution   a move is taken as made at once. Lifts or props stay under the run throughout.
#pragma once

#include "core/adjust/search.hpp"

namespace hangtrue::adjust {

/// One move in its turn. Level error is of the finished run if the work stopped there.
template <class Scalar>
struct Turn {
  int move = 0;  // index into Choice::move
  Scalar level_error_after_m = 0;
  bool limits_hold = true;  // all while_moving limits hold once it is made
  int tightest = -1;        // the force limit with the least margin then, -1 without any
  Scalar margin_N = 0;      // of that one; negative where it breaks
};

template <class Scalar>
struct MoveOrder {
  int turns = 0;
  std::array<Turn<Scalar>, kMaxPlaces> turn{};
  bool limits_hold_throughout = true;  // false: no order keeps all limits in between
  bool level_never_worse = true;       // every move leaves the run at least as level as before (to 1 um)
};

template <class Scalar>
[[nodiscard]] MoveOrder<Scalar> order_moves(const Problem<Scalar>& problem, const Choice<Scalar>& choice,
                                            Workspace<Scalar>& workspace);

}  // namespace hangtrue::adjust
