// thresholds.hpp: every threshold of rechecks.
#pragma once

namespace hangtrue::change {

/// Changes that are named together. No source: four at once already need more readings than most rechecks have.
inline constexpr int kMostNamed = 4;
/// Information, in units of what was called wide, above which a change or a direction is seen: by definition 1, where its
/// sigma is what was called wide.
inline constexpr double kSeen = 1;
/// Information that is this share of what a change has by itself is rounding. No source: seven digits above double's own.
inline constexpr double kRounding = 1e-9;
/// The detectable size is found to this share of itself. No source: far below what anybody reads.
inline constexpr double kSameSize = 1e-6;

/// The course of creep; sources in drift_course.hpp.
inline constexpr double kCreepEnds_days = 50 * 365.25;
inline constexpr double kCreepExponent = 0.2;

}  // namespace hangtrue::change
