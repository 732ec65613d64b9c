// walk.hpp: whether the run stayed as it was while it was read, and whether the readings check one another.
//
// Model     Where the fit stands readings are linear in the unknowns: row . x = target + noise of sigma 1. A slip adds
//           size * effect to the readings after an instant; a shift adds it to the readings of one group (a place, a stop).
//           Each is one more unknown, and each is tested alone:
//               size = a' M r / a' M a,  sigma = 1 / sqrt(a' M a),  statistic = (size / sigma)^2,
//           a the effect on each reading that counts, r the residuals, M = I - H P H' (what the other unknowns cannot explain).
//           Without a slip the statistic is chi-squared with one degree of freedom.
// Many      beyond(tried) is the number of sigmas that none of so many tests passes but with chance kFalseAlarm (Bonferroni).
// Harm      What stays unnoticed spoils the answer by how it bends the finished run away from what the fit promises: for a slip
//           its true effect there less what the fit makes of it, for a shift what the fit makes of it. harm_m is highest less
//           lowest of that over the check points, a unit of the slip (with a target twice the largest).
// Noticed   A slip of size s is noticed with chance kNoticed where s / sigma >= beyond(tried) + the normal quantile of that.
// Units     slips of the unknown that moves (m, rad), shifts of the reading (m, rad). Order: positions in `order`, by time.
// Memory    the object (a filter: some 150 KB, not for the stack) and the caller's storage; no heap.
// Source    W. Baarda, A testing procedure for use in geodetic networks, 1968 (one-dimensional alternatives, reliability;
//           from memory).
#pragma once

#include <cstdint>
#include <span>

#include "core/fit/fit.hpp"

namespace hangtrue::fit {

/// Sigmas that the largest of `tried` tests passes by chance in kFalseAlarm of all cases; 0 tried: as 1.
[[nodiscard]] double beyond(int tried);
/// Sigmas beyond that threshold at which kNoticed of all cases are seen.
[[nodiscard]] double noticed_margin();

/// One more unknown: a move of a support's zero, of a datum, or of an instrument's zero.
struct Slip {
  Unknown what;  // shape: beam::kMoves; datum_height, datum_tilt; zero
  [[nodiscard]] bool of_support() const { return what.kind == UnknownKind::shape; }
};

template <class Scalar>
struct Tested {
  Scalar size = 0, sigma = 0;  // sigma 0: these readings do not tell it
  Scalar statistic = 0;
  Scalar harm_m = 0;  // a unit of size
};

template <class Scalar>
struct Movement {    // its statistic: less what the same slip before all readings would explain
  int slip = -1;     // -1: none tested
  int position = 0;  // the first reading after it, in `order`
  Tested<Scalar> test;
  int tried = 0;
  [[nodiscard]] bool found() const {
    return slip >= 0 && double(test.statistic) > beyond(tried) * beyond(tried);
  }
};

/// The slip and instant at which what matters would be noticed least.
template <class Scalar>
struct Blind {
  int slip = -1;  // -1: everything that matters is noticed
  int position = 0;
  Scalar noticed_share = 0;  // size that matters, in sizes that are noticed; below 1
};

template <class Scalar>
class Walk {
 public:
  [[nodiscard]] static std::size_t storage_needed(int unknowns, int readings, int slips, int points);

  struct Given {
    Fit<Scalar>* fit = nullptr;  // after run()
    Problem<Scalar> problem;     // as the fit has it
    // Those of run(), then others that are only planned: these count in what would be noticed, and have no value.
    std::span<const survey::Reading<Scalar>> readings;
    std::span<const Judgement<Scalar>> judgements;  // one a reading of run()
    std::span<const int> order;                     // all readings, by time
    std::span<const Slip> slips;                    // those of supports first
    bool with_strays = false;                       // readings beyond the gate count too
    bool with_target = false;                       // harm is of twice the largest departure
  };
  [[nodiscard]] Result<Done, FitFault> begin(const Given& given, std::span<Scalar> storage);

  /// Of the readings that count and the priors, without any slip.
  [[nodiscard]] Scalar chi_squared() const { return filter_.sum_of_squares(); }

  /// Over all slips and all instants between two readings.
  [[nodiscard]] Movement<Scalar> movement() const;

  /// Slips of supports at instants up to before `last` (a position): which is noticed least, where a slip matters that harms by
  /// `matters_m`. Of the instants those that `begins` marks (one a position; empty: all).
  [[nodiscard]] Blind<Scalar> blind(int last, Scalar matters_m, std::span<const std::uint8_t> begins) const;

  /// All of these readings (indices) shifted by the same, turned with their face.
  [[nodiscard]] Tested<Scalar> shift(std::span<const int> members) const;

 private:
  [[nodiscard]] bool counts(int reading) const;
  [[nodiscard]] std::span<const Scalar> row(int reading) const {
    return rows_.subspan(static_cast<std::size_t>(reading) * p_, p_);
  }
  [[nodiscard]] Scalar effect(int reading, int slip) const;
  [[nodiscard]] Tested<Scalar> test(int slip, Scalar along, Scalar squares, const Scalar* through,
                                    bool with_harm) const;
  [[nodiscard]] Scalar harm(int slip, const Scalar* whitened) const;
  template <class See>
  void each_instant(int slip, See see) const;

  Given given_;
  InformationFilter<Scalar, kMaxUnknowns> filter_;
  std::size_t p_ = 0;
  int moves_ = 0;  // slips of supports
  std::span<Scalar> rows_, residuals_, by_moves_, finished_moves_, finish_;
};

}  // namespace hangtrue::fit
