// trend.hpp: a quantity over three or more surveys: a straight line, and when it would reach a limit.
//
// Model     value = at_start + rate * time + noise of known sigma, independent; weighted least squares.
// Reached   the limit's crossing with its band by Fieller's theorem: all times t at which at_start + rate t is within k
//           sigma of the limit. Where the rate is not told from 0 the band has no end.
// Units     of the values, and days.
// Source    JCGM 100:2008, H.3 (a straight line with its covariance); E. C. Fieller, Some problems in interval estimation,
//           J. R. Stat. Soc. B 16 (1954) 175-185 (from memory).
#pragma once

#include <optional>
#include <span>

namespace hangtrue::change {

struct Line {
  double at_start = 0, rate = 0;  // at time 0; a day
  double at_start_sigma = 0, rate_sigma = 0, covariance = 0;
  double misfit = 0;  // chi-squared
  int degrees_of_freedom = 0;
};

/// At least two different times, as many values and sigmas (> 0); nothing else gives a line.
[[nodiscard]] std::optional<Line> fit_line(std::span<const double> days, std::span<const double> values,
                                           std::span<const double> sigmas);

struct Crossing {
  std::optional<double> from_days, to_days;  // an absent end: not in sight that way
  std::optional<double> best_days;           // of the line itself, if it ever gets there
};

/// When the line reaches `limit` at this confidence (two-sided), from `now_days` on; from_days is now_days where the limit
/// may be reached already. Nothing in it: out of reach, or it moves away.
[[nodiscard]] Crossing crossing(const Line& line, double limit, double now_days, double confidence);

}  // namespace hangtrue::change
