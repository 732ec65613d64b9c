// distribution.hpp: the two distributions a self-test needs.
//
// Source   M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 26.4 (chi-squared as an
// incomplete gamma
//          function), 6.5.29 (series), 6.5.31 (continued fraction); from memory, tested against quantiles.
// Accuracy relative 1e-12 in double down to tails of 1e-300; float as its digits allow.
#pragma once

namespace hangtrue::fit {

/// Chance that chi-squared with `degrees_of_freedom` (>= 0) exceeds `value`: the p-value of a test.
/// 1 for value <= 0 or no degrees of freedom.
template <class Scalar>
[[nodiscard]] Scalar chi_squared_tail(Scalar value, int degrees_of_freedom);

/// Chance that a standard normal variable is at most `value`.
template <class Scalar>
[[nodiscard]] Scalar normal_cdf(Scalar value);

}  // namespace hangtrue::fit
