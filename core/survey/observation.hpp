// observation.hpp: what an instrument reads on a solved run, and how that depends on the run's parameters.
//
// Model   see reading.hpp:  slope, roll:  value = face * truth + zero
//                           distance:     value = height at the edge - (datum height + datum tilt * x) + zero
//         Edges lie at y = +- width / 2; heights there include the roll. A slope on two feet is the chord
//         between them; without a base it is the tangent, on an edge with the turn of the section along x as
//         well (taken as the chord of the roll over 1e-5 of the run, in single precision 1e-3).
// Units   SI, rad. Signs as in core/beam/run.hpp.
// Limits  places beyond the run's ends count as the ends; a base longer than the run is cut to the run.
#pragma once

#include <span>

#include "core/beam/solver.hpp"
#include "core/quantity/limits.hpp"
#include "core/survey/reading.hpp"

namespace hangtrue::survey {

/// What the instruments add to what they see: datum planes and zero errors; and what stands off the run.
template <class Scalar>
struct KitState {
  Scalar datum_height_m[kMaxSetUps] = {};
  Scalar datum_tilt_rad[kMaxSetUps] = {};
  Scalar zero[kMaxChannels] = {};  // rad or m, as the channel
  Scalar mark_height_m[kMaxMarks] = {};
  Scalar drift_share = 1;
};

/// A solved run as the instruments find it.
template <class Scalar>
struct Scene {
  const beam::Solver<Scalar>* solver = nullptr;  // solved
  int stage = 0;                                 // of the survey
  Scalar length_m = 0;
  Scalar width_m = 0;
};

/// The value that `reading` should have (its own value and sigma are not used).
template <class Scalar>
[[nodiscard]] Scalar predicted(const Scene<Scalar>& scene, const Reading<Scalar>& reading,
                               const KitState<Scalar>& kit);

/// Derivatives of predicted() by the solver's parameters, one entry each; scratch of the same size.
template <class Scalar>
void predicted_by_shape(const Scene<Scalar>& scene, const Reading<Scalar>& reading, std::span<Scalar> out,
                        std::span<Scalar> scratch);

/// Derivatives of predicted() by the kit: by the datum height and tilt of the reading's set-up (0 without
/// one), by the zero error of its channel, by the height of its mark, by the share of the drift.
template <class Scalar>
struct ByKit {
  Scalar datum_height, datum_tilt, zero, mark_height, drift_share;
};
template <class Scalar>
[[nodiscard]] ByKit<Scalar> predicted_by_kit(const Reading<Scalar>& reading);

}  // namespace hangtrue::survey
