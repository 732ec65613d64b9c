// thresholds.hpp: every threshold of this room, with its source, or "no source" and the reason why it is as it is.
#pragma once

namespace hangtrue::job {

// ---- fit --------------------------------------------------------------------------------------------------------

/// How far the zero of a support that is pulled home later may be from nominal. Common practice, no source: a wall or a
/// ceiling plate set out with a spirit level.
inline constexpr double kLaterHome_m = 0.002, kLaterHome_rad = 0.002;

/// Readings nearer than this stand at the same place. No source: places are given in whole millimetres, and this is far
/// below one and far above rounding.
inline constexpr double kSamePlace_m = 1e-6;

// ---- card -------------------------------------------------------------------------------------------------------

/// A one-way support stays engaged as long as it is not pulled on. One that has just engaged carries nothing yet, which is
/// no fault. No source: below 0 only by rounding.
inline constexpr double kLeastForce_N = -1e-6;

/// Moves count as worse than none where the level error grows by more than this. No source: a nanometre is rounding.
inline constexpr double kWorseBy_m = 1e-9;

/// A further reading is advised where it leaves less than this share of the sigma of the finished shape. No source: one
/// hundredth is worth no walk.
inline constexpr double kReadingWorthIt = 0.99;

/// An unknown is named as what leaves most open, or a load as worth weighing, where knowing it would leave less than this
/// share of the sigma of the level error. No source: less than a twentieth is not worth the trouble.
inline constexpr double kKnowingWorthIt = 0.95;

// ---- checks of the instruments ---------------------------------------------------------------------------------------

/// A finding that nobody asked for is shown only when chance would bring it in less than 1 - this of the cases. No source:
/// one false alarm in a hundred is borne, one in twenty (the usual level) would soon be passed over.
inline constexpr double kAlarmConfidence = 0.99;
/// An instrument whose zero, or a laser whose tilt, lies beyond so many of the sigmas that its sheet gives ought to be
/// serviced. No source: beyond three sigmas lie 0.3 % of a normal distribution.
inline constexpr double kServiceSigmas = 3;
/// How old a check may be, and how soon a calibration is announced. Common practice, no source: once a month.
inline constexpr int kCheckKeeps_days = 30;
inline constexpr int kCalibrationSoon_days = 30;
/// How far the temperature may be from that of the check. Common practice, no source: morning and noon differ by less.
inline constexpr double kTemperatureFar_C = 10.0;
/// Rounds of a guided check. No source: three show a misplaced reading; more than twenty nobody goes through.
inline constexpr int kRounds = 3, kMostRounds = 20;
/// The two places of a datum check are at least this share of the run's length apart. No source: the nearer they are, the
/// less a tilt shows; on a run of 4 m it is 1 m.
inline constexpr double kLeastApart = 0.25;

}  // namespace hangtrue::job
