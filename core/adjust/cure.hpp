// cure.hpp: what would bring a run level that shims, rods and lifts cannot.
//
// Question  By which factor s must the elastic sag still to come shrink, so that the least level error over
//           all continuous settings (travel and force limits kept, stock and steps forgotten) is the
//           tolerance?
//               heights = height_m + influences * settings + (s - 1) * elastic_m
// Answers   three ways to the same s: bending stiffness 1 / s times, load s times, or built-in camber (1 - s)
//           * largest |elastic_m|, up.   The force limits are kept at the present loads.
// Exact     the least level error is convex in s; s is the largest factor below 1 that meets the tolerance,
//           to 1e-4.
#pragma once

#include "core/adjust/search.hpp"

namespace hangtrue::adjust {

enum class CureFor : std::uint8_t {
  not_run,
  no_settings,  // not even continuous settings keep travel and force limits; no number is written
  finer_steps,  // continuous settings alone meet the tolerance: thinner shims or finer steps would do;
                // factors are 1
  less_sag,     // the numbers say how much
  not_sag       // even without elastic sag the shape stays out of tolerance: bow as made, or travel too short
};

template <class Scalar>
struct Cure {
  CureFor what = CureFor::not_run;
  Scalar continuous_error_m = 0;   // least level error with continuous settings, as things are
  Scalar load_factor = 1;          // s
  Scalar stiffness_factor = 1;     // 1 / s
  Scalar camber_m = 0;             // (1 - s) * largest |elastic_m|
  Scalar without_sag_error_m = 0;  // not_sag: the least level error that any s between 0 and 1 reaches
};

/// elastic_m: one entry a check point, elastic height change still to come by the loads in question (sag
/// negative).
template <class Scalar>
[[nodiscard]] Result<Cure<Scalar>, AdjustFault> find_cure(const Problem<Scalar>& problem,
                                                          std::span<const Scalar> elastic_m,
                                                          Scalar tolerance_m, Workspace<Scalar>& workspace);

}  // namespace hangtrue::adjust
