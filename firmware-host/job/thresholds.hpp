// thresholds.hpp: every threshold of this room, with its source, or "no source" and the reason why it is as it is.
#pragma once

namespace hangtrue::job {

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
