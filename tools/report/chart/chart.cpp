#include "tools/report/chart/chart.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace hangtrue::report {

double tick_step(double range, int most) {
  const double power = std::pow(10.0, std::floor(std::log10(range / most)));
  for (const double figure : {1.0, 2.0, 5.0, 10.0})
    if (range / (figure * power) <= most) return figure * power;
  return 10 * power;
}

std::vector<double> ticks_between(double from, double to, double step) {
  std::vector<double> ticks;
  for (double tick = std::ceil(from / step - 1e-9) * step; tick <= to + 1e-9 * step; tick += step)
    ticks.push_back(tick);
  return ticks;
}

std::string tick_label(double value, double step) {
  const int digits = std::max(0, int(-std::floor(std::log10(step) + 1e-9)));
  return fmt::format("{:.{}f}", std::abs(value) < step * 1e-6 ? 0.0 : value, digits);
}

}  // namespace hangtrue::report
