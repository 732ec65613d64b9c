// distribution.hpp: the distributions that self-tests and field procedures need.
//
// Source   M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions: 26.4 (chi-squared as an incomplete
//          gamma function), 6.5.29 (series), 6.5.31 (continued fraction); 26.5.8 (incomplete beta function by its
//          continued fraction), 26.6.2 (F by it), 26.7.1 (t by it); from memory, tested against quantiles.
//          Accuracy 1e-12 relative down to tails of 1e-300, up to a thousand degrees of freedom (t and F: 1e-9 up to
//          a million); always in double: in float the terms of the exponent cancel.
// Quantiles by bisection of the tail, to the last figures that the tail gives; for use once a check, not in a loop.
#pragma once

namespace hangtrue::fit {

/// Chance that chi-squared with `degrees_of_freedom` (>= 0) exceeds `value`: the p-value of a test.
/// 1 for value <= 0 or no degrees of freedom.
[[nodiscard]] double chi_squared_tail(double value, int degrees_of_freedom);
/// The value that chi-squared exceeds with chance 1 - `chance` (0 < chance < 1); 0 without degrees of freedom.
[[nodiscard]] double chi_squared_quantile(double chance, int degrees_of_freedom);

/// Chance that a standard normal variable is at most `value`.
[[nodiscard]] double normal_cdf(double value);

/// Chance that Student's t exceeds `value` (of either sign). Degrees of freedom > 0, whole or not; infinite: normal.
[[nodiscard]] double t_tail(double value, double degrees_of_freedom);
/// The value that t exceeds with chance 1 - `chance` (0 < chance < 1).
[[nodiscard]] double t_quantile(double chance, double degrees_of_freedom);

/// Chance that F, a ratio of two variances with `above` and `below` degrees of freedom (> 0), exceeds `value`.
/// 1 for value <= 0.
[[nodiscard]] double f_tail(double value, double above, double below);
/// The value that F exceeds with chance 1 - `chance` (0 < chance < 1).
[[nodiscard]] double f_quantile(double chance, double above, double below);

}  // namespace hangtrue::fit
