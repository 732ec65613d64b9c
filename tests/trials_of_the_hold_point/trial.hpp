// trial.hpp: one state through the fit and the card, beside what then is true; and the table of many.
#pragma once

#include <ostream>
#include <span>
#include <string>
#include <vector>

#include "core/adjust/hold_point.hpp"
#include "tests/trials_of_the_hold_point/states.hpp"

namespace hangtrue::hold_trials {

struct Outcome {
  Kind kind{};
  std::size_t sheet = 0;
  std::uint64_t seed = 0;
  int stage = 0;
  bool early = false;    // supports were still to come
  bool one_way = false;  // a one-way support is engaged at the survey or later
  bool fitted = false;   // false: no fit or no card, which counts as "read again"
  bool settled = false;
  bool asked = false;  // whether supports bear; the answer then is that of the second card
  adjust::HoldPoint answer = adjust::HoldPoint::read_again;
  adjust::HoldPointReason reason = adjust::HoldPointReason::no_readings;
  double tolerance_m = 0;
  // Of the finished run: as it then is where it is left as it stands, or, told "shim first", after the moves.
  double promised_m = 0, sigma_m = 0, chance = 0, true_m = 0;
  int heights = 0, covered = 0;  // at the survey, less their mean, by the band of 95 %
  int equilibria = 1;            // the most of any stage
  double fit_s = 0, card_s = 0;  // what they took
  [[nodiscard]] double ratio() const { return true_m / tolerance_m; }
  [[nodiscard]] double z() const { return (promised_m - true_m) / sigma_m; }
};

[[nodiscard]] Outcome try_state(const Ground& ground, const State& state);

/// `each` states of every kind in `kinds`, sheet by sheet in turn, seeds `first_seed` and on; by `workers` threads. The order and
/// the outcome of each do not depend on them.
[[nodiscard]] std::vector<Outcome> try_kinds(std::span<const Ground> grounds, std::span<const Kind> kinds,
                                             int each, std::uint64_t first_seed, int workers);

/// What the outcomes of one kind, or of several, come to.
struct Tally {
  int states = 0, no_fit = 0, ready = 0, shim_first = 0, shims_cannot = 0, read_again = 0;
  int unsafe_ready = 0, unsafe_ready_far = 0;  // past the tolerance, past 1.2 times
  int unsafe_shim = 0, unsafe_shim_far = 0;
  double worst_ready = 0, worst_shim = 0;  // truth / tolerance
  double stated_ready = 0;                 // how many of "ready" would be past by the chance that was told
  double sum = 0, squares = 0;             // of (promised - true) / sigma
  int one_way = 0, one_way_settled = 0;
  int heights = 0, covered = 0;

  void add(const Outcome& outcome);
  [[nodiscard]] double mean() const { return states == no_fit ? 0 : sum / (states - no_fit); }
  [[nodiscard]] double rms() const;
  [[nodiscard]] double coverage() const { return heights == 0 ? 1 : double(covered) / heights; }
  [[nodiscard]] double settled() const { return one_way == 0 ? 1 : double(one_way_settled) / one_way; }
};

/// A row a kind, sums, and the worst cases with what it takes to draw them again.
void print_table(std::ostream& out, std::span<const Ground> grounds, std::span<const Outcome> outcomes);

}  // namespace hangtrue::hold_trials
