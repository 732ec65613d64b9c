// pairs.hpp: played pairs of surveys: a run as it may be, read; something that happens to it, or nothing; read again a year later.
// The truth is the dense model of the trials of the hold point, which shares nothing with the solver under test; every visit has
// zero errors, a datum and noise of its own. What the recheck then says stands beside what was done.
//
// Change  it acts on the run as it stands: what locked while supports engaged before stays.
// Stage   the last before the sheet's finished one, with the same supports, so that a load of a later stage can be on already.
// Creep   exactly by the tool's own law (core/beam/creep.hpp, core/change/drift_course.hpp), solved by the dense model; on runs of
//         wood whose supports are all engaged from the first stage on, where that law leaves no choice of zeros.
// Sizes   a change of a turn, a load, a stiffness or a spring is drawn again until it moves some edge by kLeastShown_m.
#pragma once

#include <cstdint>
#include <optional>
#include <ostream>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/job/recheck.hpp"
#include "tests/trials_of_the_hold_point/states.hpp"

namespace hangtrue::recheck_trials {

enum class Happened {
  nothing,
  sink,           // of one support, 0.3 to 3 mm
  pitch,          // of one support, 0.5 to 10 mm/m either way
  roll,           // likewise
  load,           // one that is listed, 1.3 to 3 times
  later_load,     // one that a later stage lists, the whole of it
  unlisted_load,  // a weight at a station, a tenth to a half of all that is on
  stiffness_09,   // of bending
  stiffness_07,
  soft_spring,  // one spring of a support, 0.2 to 0.6 times
  two,          // two of the first four on different things
  creep,        // wood: three surveys, creep as expected
  creep_sink,   // likewise, and a support sinks between the second and the third
  two_marks,    // of three, 2 to 8 mm either way
  mark_sink,    // one of three, and a support sinks
  count
};
inline constexpr int kHappened = int(Happened::count);
inline constexpr double kLeastShown_m = 0.2e-3;
[[nodiscard]] std::string_view name(Happened what);

/// Sheets with stable marks where the kit has a laser, and two of wood behind them.
[[nodiscard]] std::vector<hold_trials::Ground> recheck_grounds();
[[nodiscard]] bool is_of_wood(const hold_trials::Ground& ground);

/// One thing that was done, as the recheck would name it.
struct Done1 {
  std::string
      name;  // of the quantity: "east rod: rise", "load books", "bending stiffness"; "" of a load that no one listed
  double size = 0;  // as job::Cause has it
};

struct Played {
  Happened what{};
  std::size_t sheet = 0;
  std::uint64_t seed = 0;
  std::vector<Done1> truth;
  bool compared = false;  // the recheck was not refused
  std::string says;       // its reason, or why it was refused
  job::Recheck recheck;
  int surveys = 0, hold = 0;  // of wood: fits of the book that hold
  bool trend = false, trend_within = false;
  double took_s = 0;

  [[nodiscard]] bool alarm() const { return recheck.answer != job::RecheckAnswer::nothing_moved; }
  /// Every true change stands among as many first causes; or, `as_well`, at least among what is said to explain as well. That a
  /// support moved does not count for its softer spring, nor the other way, unless it is said so.
  [[nodiscard]] bool right(bool as_well) const;
  /// (stated - true) / sigma of each cause that was named rightly.
  [[nodiscard]] std::vector<double> z() const;
};

/// Nothing where the ground cannot have it. `tried`: at both visits a person says what bears.
[[nodiscard]] std::optional<Played> play(const hold_trials::Ground& ground, Happened what, std::uint64_t seed,
                                         bool tried = false);
/// `each` of every kind, sheet by sheet in turn. Order and outcomes do not depend on `workers`.
[[nodiscard]] std::vector<Played> play_all(std::span<const hold_trials::Ground> grounds,
                                           std::span<const Happened> kinds, int each,
                                           std::uint64_t first_seed, int workers, bool tried = false);
/// Seconds, of processor time, of rechecks in a book of so many surveys of one run, in which nothing moved.
struct LongBook {
  double first_to_last_s = 0, last_two_s = 0;
  std::string first_to_last, last_two;  // what they say
};
[[nodiscard]] LongBook long_book(const hold_trials::Ground& ground, int surveys, std::uint64_t seed);
void print_table(std::ostream& out, std::span<const Played> played);

}  // namespace hangtrue::recheck_trials
