// frame.hpp: where a chart's points come to stand on paper; y downwards, in points.
#pragma once

#include "tools/report/chart/chart.hpp"

namespace hangtrue::report {

/// Room for the figures of the upright axis, right of the plot, and for pointers.
inline constexpr double kLabels = 44, kRightOfPlot = 6, kPointerRoom = 13;

struct Frame {
  double left, right, top, bottom;  // of the plot
  double x_from, x_scale, y_middle, y_scale, exaggeration = 0, inset = 0;
  [[nodiscard]] double at_x(double x) const { return left + inset + (x - x_from) * x_scale; }
  [[nodiscard]] double at_y(double y) const { return (top + bottom) / 2 - (y - y_middle) * y_scale; }
};

[[nodiscard]] bool any_pointer(const Chart& chart, bool above);

/// Of a chart whose top left corner is at x, y.
[[nodiscard]] Frame frame_of(const Chart& chart, double x, double y, double width, double text_pt);

}  // namespace hangtrue::report
