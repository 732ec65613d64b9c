// prospect.hpp: how sure the finished level error is.
//
// Model     heights of the finished run are normal with the given mean and covariance S S', S = `factor`.
// Chance    P(level error <= tolerance), by drawing: a fixed sequence (same input, same answer on every
//           machine to rounding), kDraws draws in mirrored pairs, standard error reported.
// Sigma     drawn: root mean square of what the drawn level errors differ from that of the mean shape. So it also holds where
//           sigmas are large beside the differences between points, and any misfit makes the level error larger.
//           First order: one standard deviation of (height at the highest - height at the lowest point of the mean shape); with a
//           target twice that of the point farthest from it. Chance and drawn sigma do not rest on it.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <type_traits>

#include "core/adjust/thresholds.hpp"

namespace hangtrue::adjust {

/// Factor of a covariance: row j (columns entries from j * columns) belongs to check point j. Metres.
/// columns 0: nothing is uncertain. At most kMaxUnknowns columns.
template <class Scalar>
struct Spread {
  std::span<const Scalar> factor;
  int columns = 0;
};

/// Three check points in a row along one edge: what the middle one departs from the straight line over the outer two, which it
/// divides at `share` from the one before. Up positive.
template <class Scalar>
struct Departure {
  int before = 0, middle = 0, after = 0;
  Scalar share = 0;
};
template <class Scalar>
[[nodiscard]] Scalar departure_of(const Departure<Scalar>& departure,
                                  std::type_identity_t<std::span<const Scalar>> height_m) {
  return height_m[std::size_t(departure.middle)] -
         (1 - departure.share) * height_m[std::size_t(departure.before)] -
         departure.share * height_m[std::size_t(departure.after)];
}

/// What a straight-edge may find, beside the level error: each no larger than `limit_m`, up or down. None: nothing is asked.
template <class Scalar>
struct StraightLimit {
  std::span<const Departure<Scalar>> departures;
  Scalar limit_m = 0;
};

template <class Scalar>
struct Prospect {
  Scalar level_error_m = 0;          // of the mean shape
  Scalar level_error_sigma_m = 0;    // first order: of (highest - lowest point of the mean shape)
  Scalar drawn_sigma_m = 0;          // of the drawn level errors about level_error_m: what to show
  int highest = 0, lowest = 0;       // check points; with a target both the farthest one
  Scalar chance = 0;                 // P(level error <= tolerance, and no departure over its limit)
  Scalar chance_standard_error = 0;  // of the drawing; never below 1 / kDraws where anything is uncertain
};

/// `mean_m` one entry a check point.
template <class Scalar>
[[nodiscard]] Prospect<Scalar> prospect(std::span<const Scalar> mean_m, const Spread<Scalar>& spread,
                                        std::type_identity_t<Scalar> tolerance_m,
                                        std::optional<std::type_identity_t<Scalar>> target_m = {},
                                        const std::type_identity_t<StraightLimit<Scalar>>& straight = {});

/// Sigma of the level error if one unknown were measured with standard deviation `measured_sigma` (0: known
/// exactly).
///   unknown_row  `columns` entries: the unknown's row of the same factor (covariance with point j is the
///   product of
///                the rows; its variance is the row's square)
/// Source: conditional variance of a normal vector, var - cov^2 / (var_unknown + measured_sigma^2).
template <class Scalar>
[[nodiscard]] Scalar sigma_if_measured(const Prospect<Scalar>& prospect, const Spread<Scalar>& spread,
                                       std::span<const Scalar> unknown_row,
                                       std::type_identity_t<Scalar> measured_sigma = 0,
                                       bool with_target = false);

}  // namespace hangtrue::adjust
