#include "core/change/distribution.hpp"

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/complement.hpp>
#include <boost/math/distributions/non_central_chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <numbers>

namespace hangtrue::change {
namespace {

namespace math = boost::math;
namespace on = boost::math::policies;

using Policy = on::policy<on::domain_error<on::ignore_error>, on::pole_error<on::ignore_error>,
                          on::overflow_error<on::ignore_error>, on::evaluation_error<on::ignore_error>,
                          on::rounding_error<on::ignore_error>, on::promote_double<false>>;
using ChiSquared = math::chi_squared_distribution<double, Policy>;
using NoncentralChiSquared = math::non_central_chi_squared_distribution<double, Policy>;
using Normal = math::normal_distribution<double, Policy>;

}  // namespace

double chi_squared_tail(double value, int degrees_of_freedom) {
  return math::cdf(math::complement(ChiSquared(degrees_of_freedom), value));
}

double chi_squared_quantile(double chance, int degrees_of_freedom) {
  return math::quantile(ChiSquared(degrees_of_freedom), chance);
}

double noncentral_chi_squared_tail(double value, int degrees_of_freedom, double noncentrality) {
  return math::cdf(math::complement(NoncentralChiSquared(degrees_of_freedom, noncentrality), value));
}

double normal_two_sided(double value) { return std::erfc(std::abs(value) / std::numbers::sqrt2); }

double normal_quantile(double chance) { return math::quantile(Normal(), chance); }

}  // namespace hangtrue::change
