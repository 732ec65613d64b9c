#include "core/fit/distribution.hpp"

#include <cmath>
#include <limits>

#include "core/fit/log_gamma.hpp"
#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {
namespace {

// Lower regularised incomplete gamma function by its series, for x < a + 1.
double lower_by_series(double a, double x, double log_front) {
  double term = 1 / a;
  double sum = term;
  for (int n = 1; n < kMostTerms; ++n) {
    term *= x / (a + double(n));
    sum += term;
    if (term < sum * std::numeric_limits<double>::epsilon()) break;
  }
  return sum * std::exp(log_front);
}

// Upper regularised incomplete gamma function by its continued fraction (modified Lentz), for x >= a + 1.
double upper_by_fraction(double a, double x, double log_front) {
  const double tiny = std::numeric_limits<double>::min() / std::numeric_limits<double>::epsilon();
  double b = x + 1 - a;
  double c = 1 / tiny;
  double d = 1 / b;
  double fraction = d;
  for (int n = 1; n < kMostTerms; ++n) {
    const double factor = -double(n) * (double(n) - a);
    b += 2;
    d = factor * d + b;
    if (std::abs(d) < tiny) d = tiny;
    c = b + factor / c;
    if (std::abs(c) < tiny) c = tiny;
    d = 1 / d;
    const double change = d * c;
    fraction *= change;
    if (std::abs(change - 1) < 2 * std::numeric_limits<double>::epsilon()) break;
  }
  return fraction * std::exp(log_front);
}

// Regularised incomplete beta function I_x(a, b), with y = 1 - x given beside x so that neither loses figures, by its
// continued fraction (modified Lentz); fast for x < (a + 1) / (a + b + 2).
double beta_by_fraction(double a, double b, double x, double y) {
  const double tiny = std::numeric_limits<double>::min() / std::numeric_limits<double>::epsilon();
  const auto away_from_zero = [tiny](double value) { return std::abs(value) < tiny ? tiny : value; };
  double c = 1;
  double d = 1 / away_from_zero(1 - (a + b) * x / (a + 1));
  double fraction = d;
  for (int m = 1; m < kMostTerms; ++m) {
    const double n = double(m);
    const double even = n * (b - n) * x / ((a + 2 * n - 1) * (a + 2 * n));
    const double odd = -(a + n) * (a + b + n) * x / ((a + 2 * n) * (a + 2 * n + 1));
    d = 1 / away_from_zero(1 + even * d);
    c = away_from_zero(1 + even / c);
    fraction *= d * c;
    d = 1 / away_from_zero(1 + odd * d);
    c = away_from_zero(1 + odd / c);
    const double change = d * c;
    fraction *= change;
    if (std::abs(change - 1) < 2 * std::numeric_limits<double>::epsilon()) break;
  }
  const double log_front = log_gamma(a + b) - log_gamma(a) - log_gamma(b) + a * std::log(x) + b * std::log(y);
  return fraction * std::exp(log_front) / a;
}

double beta(double a, double b, double x, double y) {
  if (!(x > 0)) return 0;
  if (!(y > 0)) return 1;
  return x < (a + 1) / (a + b + 2) ? beta_by_fraction(a, b, x, y) : 1 - beta_by_fraction(b, a, y, x);
}

// Where a tail that falls from 1 at 0 has fallen to `chance`.
template <class Tail>
double where_tail_is(double chance, const Tail& tail) {
  double low = 0, high = 1;
  while (tail(high) > chance && high < std::numeric_limits<double>::max() / 2) {
    low = high;
    high *= 2;
  }
  // Close to 0 as well: halving finds the first figure in a step each, then 53 more.
  for (int step = 0; step < 1100; ++step) {
    const double middle = low + (high - low) / 2;
    if (!(middle > low && middle < high)) break;
    (tail(middle) > chance ? low : high) = middle;
  }
  return low + (high - low) / 2;
}

}  // namespace

double chi_squared_tail(double value, int degrees_of_freedom) {
  if (!(value > 0) || degrees_of_freedom <= 0) return 1;
  if (std::isinf(value)) return 0;
  const double a = double(degrees_of_freedom) / 2;
  const double x = value / 2;
  const double log_front = a * std::log(x) - x - log_gamma(a);
  return x < a + 1 ? 1 - lower_by_series(a, x, log_front) : upper_by_fraction(a, x, log_front);
}

double chi_squared_quantile(double chance, int degrees_of_freedom) {
  if (degrees_of_freedom <= 0) return 0;
  return where_tail_is(1 - chance, [=](double value) { return chi_squared_tail(value, degrees_of_freedom); });
}

double normal_cdf(double value) { return std::erfc(-value / std::sqrt(2.0)) / 2; }

double t_tail(double value, double degrees_of_freedom) {
  if (std::isinf(degrees_of_freedom)) return normal_cdf(-value);
  if (value < 0) return 1 - t_tail(-value, degrees_of_freedom);
  if (std::isinf(value)) return 0;
  const double whole = degrees_of_freedom + value * value;
  return beta(degrees_of_freedom / 2, 0.5, degrees_of_freedom / whole, value * value / whole) / 2;
}

double t_quantile(double chance, double degrees_of_freedom) {
  if (chance < 0.5) return -t_quantile(1 - chance, degrees_of_freedom);
  return where_tail_is(1 - chance, [=](double value) { return t_tail(value, degrees_of_freedom); });
}

double f_tail(double value, double above, double below) {
  if (!(value > 0)) return 1;
  if (std::isinf(value)) return 0;
  const double whole = below + above * value;
  return beta(below / 2, above / 2, below / whole, above * value / whole);
}

double f_quantile(double chance, double above, double below) {
  return where_tail_is(1 - chance, [=](double value) { return f_tail(value, above, below); });
}

}  // namespace hangtrue::fit
