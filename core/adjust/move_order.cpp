#include "core/adjust/move_order.hpp"

#include <algorithm>
#include <cmath>

#include "core/adjust/thresholds.hpp"
#include "core/adjust/workspace.hpp"

namespace hangtrue::adjust {

namespace {

template <class Scalar>
struct Margin {
  int limit = -1;
  Scalar N = std::numeric_limits<Scalar>::infinity();
};

/// The least margin of all limits that must hold while moving, with the moves of `made` (a bit a move) made.
template <class Scalar>
Margin<Scalar> least_margin(const Problem<Scalar>& problem, const Choice<Scalar>& choice, unsigned made) {
  Margin<Scalar> least;
  for (std::size_t f = 0; f < problem.forces.size(); ++f) {
    const ForceLimit<Scalar>& limit = problem.forces[f];
    if (!limit.while_moving) continue;
    Scalar force = limit.now_N;
    for (int m = 0; m < choice.moves; ++m)
      if ((made >> m & 1u) != 0) {
        const Move<Scalar>& move = choice.move[std::size_t(m)];
        force += change(problem.places[std::size_t(move.place)].on_force, move, int(f));
      }
    const Scalar margin = std::min(force - limit.least_N, limit.greatest_N - force);
    if (least.limit < 0 || margin < least.N) least = {int(f), margin};
  }
  return least;
}

template <class Scalar>
bool holds(const Margin<Scalar>& margin) {
  return margin.limit < 0 || margin.N >= -kForceSlack_N<Scalar>;
}

}  // namespace

template <class Scalar>
MoveOrder<Scalar> order_moves(const Problem<Scalar>& problem, const Choice<Scalar>& choice,
                              Workspace<Scalar>& w) {
  const int n = choice.moves;
  const std::size_t points = problem.height_m.size();
  const unsigned all = (1u << n) - 1u;
  Scalar size[kMaxPlaces] = {};
  for (int m = 0; m < n; ++m) {
    const Move<Scalar>& move = choice.move[std::size_t(m)];
    for (std::size_t j = 0; j < points; ++j) {
      const Scalar effect = change(problem.places[std::size_t(move.place)].on_height, move, int(j));
      w.effect_[std::size_t(m)][j] = effect;
      size[m] = std::max(size[m], std::abs(effect));
    }
  }

  // From the end backwards: what the rest of the way costs from each subset of moves made.
  for (unsigned made = all + 1; made-- > 0;) {
    auto& subset = w.subset_[made];
    std::copy(problem.height_m.begin(), problem.height_m.end(), w.scratch_.begin());
    for (int m = 0; m < n; ++m)
      if ((made >> m & 1u) != 0)
        for (std::size_t j = 0; j < points; ++j) w.scratch_[j] += w.effect_[std::size_t(m)][j];
    subset.error_m = level_error(std::span<const Scalar>(w.scratch_.data(), points), problem.target_m);
    subset.breaks_here = made != 0 && made != all && !holds(least_margin(problem, choice, made)) ? 1 : 0;
    subset.broken = made == all ? std::int8_t(0) : std::int8_t(kMaxPlaces + 1);
    subset.climb_m = 0;
    for (int m = 0; m < n; ++m) {
      if ((made >> m & 1u) != 0) continue;
      const auto& next = w.subset_[made | 1u << m];
      const std::int8_t broken = std::int8_t(next.broken + next.breaks_here);
      const Scalar climb = next.climb_m + std::max(Scalar(0), next.error_m - subset.error_m);
      if (broken < subset.broken || (broken == subset.broken && climb < subset.climb_m)) {
        subset.broken = broken;
        subset.climb_m = climb;
      }
    }
  }

  MoveOrder<Scalar> order;
  order.turns = n;
  unsigned made = 0;
  for (int t = 0; t < n; ++t) {
    const auto& here = w.subset_[made];
    int next = -1;
    for (int m = 0; m < n; ++m) {
      if ((made >> m & 1u) != 0) continue;
      const auto& after = w.subset_[made | 1u << m];
      const Scalar climb = after.climb_m + std::max(Scalar(0), after.error_m - here.error_m);
      const bool best =
          after.broken + after.breaks_here == here.broken && climb <= here.climb_m + kRounding_m<Scalar>;
      if (best && (next < 0 || size[m] > size[next])) next = m;
    }
    made |= 1u << next;
    const Margin<Scalar> margin = least_margin(problem, choice, made);
    Turn<Scalar>& turn = order.turn[std::size_t(t)];
    turn.move = next;
    turn.level_error_after_m = w.subset_[made].error_m;
    turn.limits_hold = holds(margin);
    turn.tightest = margin.limit;
    turn.margin_N = margin.limit < 0 ? Scalar(0) : margin.N;
    order.limits_hold_throughout = order.limits_hold_throughout && turn.limits_hold;
    order.level_never_worse =
        order.level_never_worse && turn.level_error_after_m <= here.error_m + Scalar(kSame_m);
  }
  return order;
}

template MoveOrder<double> order_moves(const Problem<double>&, const Choice<double>&, Workspace<double>&);
template MoveOrder<float> order_moves(const Problem<float>&, const Choice<float>&, Workspace<float>&);

}  // namespace hangtrue::adjust
