#include "core/change/trend.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/change/distribution.hpp"

namespace hangtrue::change {

std::optional<Line> fit_line(std::span<const double> days, std::span<const double> values,
                             std::span<const double> sigmas) {
  const std::size_t n = days.size();
  if (n < 2 || values.size() != n || sigmas.size() != n) return std::nullopt;
  double weights = 0, mean_t = 0, mean_y = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double weight = 1 / (sigmas[i] * sigmas[i]);
    if (!std::isfinite(weight) || !std::isfinite(days[i]) || !std::isfinite(values[i])) return std::nullopt;
    weights += weight;
    mean_t += weight * days[i];
    mean_y += weight * values[i];
  }
  mean_t /= weights;
  mean_y /= weights;
  double tt = 0, ty = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double weight = 1 / (sigmas[i] * sigmas[i]), t = days[i] - mean_t;
    tt += weight * t * t;
    ty += weight * t * (values[i] - mean_y);
  }
  if (!(tt > 0)) return std::nullopt;
  Line line;
  line.rate = ty / tt;
  line.at_start = mean_y - line.rate * mean_t;
  line.rate_sigma = 1 / std::sqrt(tt);
  line.at_start_sigma = std::sqrt(1 / weights + mean_t * mean_t / tt);
  line.covariance = -mean_t / tt;
  for (std::size_t i = 0; i < n; ++i) {
    const double off = (values[i] - line.at_start - line.rate * days[i]) / sigmas[i];
    line.misfit += off * off;
  }
  line.degrees_of_freedom = static_cast<int>(n) - 2;
  return line;
}

// |at_start + rate t - limit| <= k sigma(t): a quadratic in t.
Crossing crossing(const Line& line, double limit, double now_days, double confidence) {
  const double k = normal_quantile((1 + confidence) / 2);
  const double short_by = limit - line.at_start;
  Crossing result;
  if (line.rate != 0 && short_by / line.rate >= now_days) result.best_days = short_by / line.rate;
  const double a = line.rate * line.rate - k * k * line.rate_sigma * line.rate_sigma;
  const double b = -2 * (short_by * line.rate + k * k * line.covariance);
  const double c = short_by * short_by - k * k * line.at_start_sigma * line.at_start_sigma;
  const double root = b * b - 4 * a * c;
  if (root < 0) {  // a > 0: never within reach; a < 0: always
    if (a < 0) result.from_days = now_days;
    return result;
  }
  const double q = -(b + std::copysign(std::sqrt(root), b)) / 2;
  double first = q / a, second = q != 0 ? c / q : first;
  if (first > second) std::swap(first, second);
  if (a > 0) {
    if (second < now_days) return result;  // it was passed, and lies behind
    result.from_days = std::max(first, now_days);
    result.to_days = second;
  } else if (first >= now_days) {
    result.from_days = now_days;  // within reach up to `first`, and again from `second` on
  } else {
    result.from_days = std::max(second, now_days);
  }
  return result;
}

}  // namespace hangtrue::change
