// recheck_thresholds.hpp: how a recheck searches and computes: limits of its searches and steps. What it takes for likely, and its
// confidence, stand in thresholds.hpp.
#pragma once

#include <cstddef>

#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

// ---- bearing sets ----------------------------------------------------------------------------------------------------

/// Sets of bearing supports at the earlier survey under which it is looked for what moved. No source: two are usual where it is
/// not clear what bears.
inline constexpr std::size_t kMostSupposed = 3;

// ---- candidates ------------------------------------------------------------------------------------------------------

/// Unknowns that a later survey may have more than the earlier one: set-ups and zero errors. No source.
inline constexpr int kUnknownsSpare = 6;
/// Straight parts of the curvature that a softer run adds. No source: they miss a thousandth of a span's sag.
inline constexpr int kCurvatureParts = 48;

// ---- causes ----------------------------------------------------------------------------------------------------------

/// A cause that fits as well (chi-squared of one degree of freedom at kRecheckConfidence) stands beside another even where it is
/// less likely beforehand, down to one over 400. No source: kAsLikely twice.
inline constexpr double kLikelyAtAll = kAsLikely * kAsLikely;
/// Chance of so much more chi-squared, beyond which the readings speak against a spring. No source: a move and a spring of one
/// support do the same but for what springs multiply, which is known to first order only.
inline constexpr double kSpringToldApart = 1e-3;
/// In ln: a set that is so far behind by its linearised weight is not fitted in full. No source: linearised weights are off by less.
inline constexpr double kFarBehind = 30;
/// Sets of up to so many changes are all looked at; larger ones only with what is named already. No source: of forty candidates that
/// is ten thousand, and of four at once a hundred thousand.
inline constexpr int kAllSets = 3;
/// Fits where the run becomes softer, the second about the first. No source: the second leaves a tenth of what the first left.
inline constexpr int kMostTurns = 2;
/// Of what is no move, so many times what is known of its size is never: of a load four times more. No source.
inline constexpr double kFarSizes = 6;

// ---- fits of the later survey ----------------------------------------------------------------------------------------

/// The normal distribution is worked out to so many sigmas; further out its leading term says enough. No source.
inline constexpr double kFarTail = -8;
/// Steps of a fit, halvings of one, and what a last step may still gain in ln. No source: far below what decides.
inline constexpr int kMostFitSteps = 20, kMostStepHalvings = 8;
inline constexpr double kLastGain = 1e-6;
/// Largest step in ln of a spring, and the step that is none. No source.
inline constexpr double kSpringStep = 0.7, kNoSpringStep = 1e-4;

}  // namespace hangtrue::job
