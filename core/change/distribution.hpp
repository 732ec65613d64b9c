// distribution.hpp: the distributions that rechecks need, from Boost.Math. Nothing here throws: where an argument is not
// a number, neither is the result.
#pragma once

namespace hangtrue::change {

/// Chance that chi-squared with `degrees_of_freedom` (> 0) exceeds `value` (>= 0).
[[nodiscard]] double chi_squared_tail(double value, int degrees_of_freedom);
/// The value that chi-squared exceeds with chance 1 - `chance` (0 < chance < 1).
[[nodiscard]] double chi_squared_quantile(double chance, int degrees_of_freedom);
/// Chance that a non-central chi-squared variable exceeds `value`.
[[nodiscard]] double noncentral_chi_squared_tail(double value, int degrees_of_freedom, double noncentrality);

/// Chance that a standard normal variable lies farther from 0 than `value`, either way.
[[nodiscard]] double normal_two_sided(double value);
/// The value that a standard normal variable exceeds with chance 1 - `chance` (0 < chance < 1).
[[nodiscard]] double normal_quantile(double chance);

}  // namespace hangtrue::change
