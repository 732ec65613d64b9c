// thresholds.hpp: what a sheet that says nothing means, and the limits of what it may say.
#pragma once

#include <cstddef>

namespace hangtrue::sheet {

/// The longest rod or post. No source: no run in a building hangs so far below what carries it.
inline constexpr double kLongestRod_m = 30;

/// Places nearer than this are one place. No source: far below what can be measured, far above rounding of units.
inline constexpr double kSamePlace_m = 1e-9;

/// Two thicknesses of a stock are the same below this. No source: a thousandth of what a gauge tells.
inline constexpr double kSameThickness_m = 1e-9;

// Standard deviations where the sheet gives none. No source: wide enough for what a first set-out on site leaves open.
inline constexpr double kDefaultLoadSigma = 0.05;          // relative
inline constexpr double kDefaultMemberWeightSigma = 0.03;  // relative
inline constexpr double kDefaultRiseSigma_m = 0.020;
inline constexpr double kDefaultTurnSigma_rad = 0.020;
inline constexpr double kDefaultLogSpringSigma = 0.3;

/// Of a lift, where the sheet names no step. No source: what can be set by hand.
inline constexpr double kDefaultLiftStep_m = 0.001;
/// A support may stand so many widths of the run from its middle: half a width beyond either edge. No source: farther out a slip
/// of the pen is likelier than a hanger.
inline constexpr double kFarthestAcross = 1;
/// Rails whose middles of stiffness lie nearer than this across have one axis of bending. No source: a millimetre of arm turns no
/// run that can be measured.
inline constexpr double kSameAxis_m = 0.001;
/// Beyond either end of the run. No source: farther than any laser here reads.
inline constexpr double kFarthestMark_m = 100;
/// No source: a line on the phone.
inline constexpr std::size_t kLongestMark = 60;
/// Spaces between stations, where the sheet names none. No source.
inline constexpr int kDefaultSpaces = 10;

}  // namespace hangtrue::sheet
