#include "core/fit/distribution.hpp"

#include <cmath>
#include <limits>

namespace hangtrue::fit {
namespace {

constexpr int kMostTerms = 100000;

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

}  // namespace

double chi_squared_tail(double value, int degrees_of_freedom) {
  if (!(value > 0) || degrees_of_freedom <= 0) return 1;
  if (std::isinf(value)) return 0;
  const double a = double(degrees_of_freedom) / 2;
  const double x = value / 2;
  const double log_front = a * std::log(x) - x - std::lgamma(a);
  return x < a + 1 ? 1 - lower_by_series(a, x, log_front) : upper_by_fraction(a, x, log_front);
}

double normal_cdf(double value) { return std::erfc(-value / std::sqrt(2.0)) / 2; }

}  // namespace hangtrue::fit
