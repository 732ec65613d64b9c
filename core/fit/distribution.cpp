#include "core/fit/distribution.hpp"

#include <cmath>
#include <limits>

namespace hangtrue::fit {
namespace {

constexpr int kMostTerms = 100000;

// Lower regularised incomplete gamma function by its series, for x < a + 1.
template <class Scalar>
Scalar lower_by_series(Scalar a, Scalar x, Scalar log_front) {
  Scalar term = 1 / a;
  Scalar sum = term;
  for (int n = 1; n < kMostTerms; ++n) {
    term *= x / (a + Scalar(n));
    sum += term;
    if (term < sum * std::numeric_limits<Scalar>::epsilon()) break;
  }
  return sum * std::exp(log_front);
}

// Upper regularised incomplete gamma function by its continued fraction (modified Lentz), for x >= a + 1.
template <class Scalar>
Scalar upper_by_fraction(Scalar a, Scalar x, Scalar log_front) {
  const Scalar tiny = std::numeric_limits<Scalar>::min() / std::numeric_limits<Scalar>::epsilon();
  Scalar b = x + 1 - a;
  Scalar c = 1 / tiny;
  Scalar d = 1 / b;
  Scalar fraction = d;
  for (int n = 1; n < kMostTerms; ++n) {
    const Scalar factor = -Scalar(n) * (Scalar(n) - a);
    b += 2;
    d = factor * d + b;
    if (std::abs(d) < tiny) d = tiny;
    c = b + factor / c;
    if (std::abs(c) < tiny) c = tiny;
    d = 1 / d;
    const Scalar change = d * c;
    fraction *= change;
    if (std::abs(change - 1) < 2 * std::numeric_limits<Scalar>::epsilon()) break;
  }
  return fraction * std::exp(log_front);
}

}  // namespace

template <class Scalar>
Scalar chi_squared_tail(Scalar value, int degrees_of_freedom) {
  if (!(value > 0) || degrees_of_freedom <= 0) return 1;
  if (std::isinf(value)) return 0;
  const Scalar a = Scalar(degrees_of_freedom) / 2;
  const Scalar x = value / 2;
  const Scalar log_front = a * std::log(x) - x - std::lgamma(a);
  return x < a + 1 ? 1 - lower_by_series(a, x, log_front) : upper_by_fraction(a, x, log_front);
}

template <class Scalar>
Scalar normal_cdf(Scalar value) {
  return std::erfc(-value / std::sqrt(Scalar(2))) / 2;
}

template double chi_squared_tail(double, int);
template float chi_squared_tail(float, int);
template double normal_cdf(double);
template float normal_cdf(float);

}  // namespace hangtrue::fit
