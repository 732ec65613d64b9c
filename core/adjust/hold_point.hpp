// hold_point.hpp: may the final bolts be tightened?
//
// Speaks of level alone. Lifts or props stay until every final bolt is tight and checked by a second person;
// anchors, welds, bolts and framing are others' to design and check.
//
// With c the confidence asked for, p the chance to be within tolerance as things are, q after the best moves,
// in this order:
//   fit does not hold, or no readings     read again    (nothing else can be trusted)
//   a doubt stands against moves          read again    (what moved, what bears, what was misread is open)
//   p >= c and no support objects         ready to bolt; read again while any doubt is open
//   no choice of moves keeps all limits   shims cannot
//   a support objects and the best choice moves nothing   shims cannot
//   q >= c                                shim first
//   error after the best moves > tolerance  shims cannot   (error of the mean finished shape)
//   not straight after the best moves     shims cannot     (of the mean finished shape, under a straight-edge)
//   without fit-up q >= c                 read again    (first setting: the bolts' own misfit decides; the moves may be made)
//   otherwise                             read again    (uncertainty alone stands in the way)
// A support that reads unloaded or over its rating objects: never ready to bolt. The best moves cure it
// whenever a choice exists, since every choice keeps the force limits. A search that stopped at its limit
// never makes a run ready or not ready; the reason carries it, since a better choice may exist than the one
// behind q.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace hangtrue::adjust {

enum class HoldPoint : std::uint8_t { shim_first, read_again, shims_cannot, ready_to_bolt };

/// "shim first", "read again", "shims cannot", "ready to bolt".
[[nodiscard]] std::string_view short_name(HoldPoint answer);

struct HoldPointInput {
  double confidence = 0.95;      // c
  double chance_now = 0;         // p
  double chance_after = 0;       // q; of no meaning where choice_exists is false
  double level_error_now_m = 0;  // of the mean finished shape
  double level_error_after_m = 0;
  double tolerance_m = 0;
  bool straight_after = true;   // after the best moves, under a straight-edge; true where none is asked for
  bool choice_exists = false;   // a choice (perhaps to move nothing) that keeps all limits
  int moves = 0;                // places that the choice touches
  bool search_stopped = false;  // Outcome::stopped_at_limit or none_found
  // The chance after the best moves if supports that engage later fitted to the hair; none: none engages later.
  std::optional<double> chance_without_fit_up;
  bool fit_holds = false;            // the fit's test of itself
  bool doubt_open = false;           // something must be settled before the bolts are tightened
  bool doubt_against_moves = false;  // and before anything is moved
  bool has_readings = false;         // false: level rests on the prior alone
  bool support_unloaded = false;     // as things are, a support that must bear does not
  bool support_over_rating = false;
};

/// The condition that decided.
enum class HoldPointReason : std::uint8_t {
  no_readings,            // read again
  fit_does_not_hold,      // read again
  doubt_against_moves,    // read again
  doubt_open,             // read again: p >= c, but a doubt is open
  within_tolerance,       // ready to bolt: p >= c
  moves_suffice,          // shim first: p < c, q >= c
  moves_cure_a_support,   // shim first: p >= c, but a support objects; q >= c
  no_moves_keep_limits,   // shims cannot: no choice keeps travel, stock and force limits
  support_not_cured,      // shims cannot: a support objects, and the choice moves nothing
  error_after_too_large,  // shims cannot: q < c, error after the best moves > tolerance
  not_straight_after,  // shims cannot: q < c, a straight-edge finds more than is allowed after the best moves
  first_setting,       // read again: as uncertainty_alone, but without fit-up q >= c
  uncertainty_alone    // read again: q < c, error after the best moves within tolerance
};

struct HoldPointAnswer {
  HoldPoint answer = HoldPoint::read_again;
  HoldPointReason reason = HoldPointReason::no_readings;
  HoldPointInput numbers;  // as given
};

[[nodiscard]] HoldPointAnswer hold_point(const HoldPointInput& input);

}  // namespace hangtrue::adjust
