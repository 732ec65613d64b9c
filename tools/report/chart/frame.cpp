#include "tools/report/chart/frame.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace hangtrue::report {

namespace {

constexpr double kInset = 8;  // so that what stands at the ends is seen whole

/// The largest round figure that is not above.
double round_figure(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  double best = power;
  for (const double figure : {1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0})
    if (figure * power <= value * (1 + 1e-9)) best = figure * power;
  return best;
}

/// Lowest and highest of all that is drawn.
std::pair<double, double> range_of(const Chart& chart) {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  const auto take = [&](double value) {
    if (!std::isfinite(value)) return;
    low = std::min(low, value);
    high = std::max(high, value);
  };
  for (const Series& series : chart.series)
    for (std::size_t i = 0; i < series.y.size(); ++i) {
      const double half = series.half.empty() ? 0 : series.half[i];
      take(series.y[i] - half);
      take(series.y[i] + half);
    }
  for (const Limit& limit : chart.limits) take(limit.y);
  return low <= high ? std::pair{low, high} : std::pair{0.0, 0.0};
}

}  // namespace

bool any_pointer(const Chart& chart, bool above) {
  return std::any_of(chart.pointers.begin(), chart.pointers.end(),
                     [&](const Pointer& each) { return each.above == above; });
}

Frame frame_of(const Chart& chart, double x, double y, double width, double text_pt) {
  const auto [low, high] = range_of(chart);
  const double range = std::max((high - low) * 1.12, chart.up.least_range);
  Frame frame{};
  frame.left = x + kLabels;
  frame.right = x + width - kRightOfPlot;
  frame.top = y + 1.5 * text_pt + (any_pointer(chart, true) ? kPointerRoom : 0);
  frame.bottom = frame.top + chart.height_pt;
  frame.x_from = chart.x_from;
  frame.inset = kInset;
  frame.x_scale = (frame.right - frame.left - 2 * kInset) / std::max(chart.x_to - chart.x_from, 1e-9);
  frame.y_middle = (low + high) / 2;
  frame.y_scale = chart.height_pt / range;
  if (chart.states_exaggeration) {
    frame.exaggeration = round_figure(frame.y_scale / frame.x_scale);
    frame.y_scale = frame.exaggeration * frame.x_scale;
  }
  return frame;
}

}  // namespace hangtrue::report
