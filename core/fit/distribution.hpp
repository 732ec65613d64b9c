// distribution.hpp: the two distributions a self-test needs.
//
// Source   M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 26.4 (chi-squared as an
//          incomplete gamma function), 6.5.29 (series), 6.5.31 (continued fraction); from memory, tested
//          against quantiles. Accuracy 1e-12 relative down to tails of 1e-300; always in double: in float the
//          terms of the exponent cancel.
#pragma once

namespace hangtrue::fit {

/// Chance that chi-squared with `degrees_of_freedom` (>= 0) exceeds `value`: the p-value of a test.
/// 1 for value <= 0 or no degrees of freedom.
[[nodiscard]] double chi_squared_tail(double value, int degrees_of_freedom);

/// Chance that a standard normal variable is at most `value`.
[[nodiscard]] double normal_cdf(double value);

}  // namespace hangtrue::fit
