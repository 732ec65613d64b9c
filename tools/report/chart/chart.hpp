// chart.hpp: what a chart shows, not how it is drawn (draw.hpp).
//
// Units   series, limits, ticks and pointers are in the same units along and up; an axis says in which unit its figures are
//         written. Sizes on paper in points, 1/72 in.
// Grey    everything reads in black and white: lines differ by their dashes, bands by their tint.
#pragma once

#include <string>
#include <vector>

namespace hangtrue::report {

enum class Stroke { none, solid, dashed, dotted, dash_dot };
enum class Dot { none, open, full, cross, square };

struct Series {
  std::string label;
  Stroke stroke = Stroke::solid;
  Dot dot = Dot::none;
  bool band = false;  // `half` as a tinted band; else as bars
  double weight = 0.9;
  std::vector<double> x, y, half{};  // `half` empty, or one a point
};

/// The upright axis.
struct Axis {
  std::string name{};      // of the unit, written above the axis
  double unit = 1;         // one of it, in what the series are in
  double least_range = 1;  // the axis spans no less, in what the series are in
  std::string too_tall = "Heights drawn {} times too tall";
  char decimal_sign = '.';
};
/// Of the axis along.
struct Tick {
  double at = 0;
  std::string label;
};
/// A level line with its label at the right end.
struct Limit {
  double y = 0;
  std::string label;
};
/// A triangle with a letter below the drawing, or above it.
struct Pointer {
  double x = 0;
  std::string letter;
  bool above = false;
};

struct Chart {
  std::string caption;
  Axis up;
  double x_from = 0, x_to = 1;
  std::vector<Tick> ticks{};
  std::vector<Series> series{};
  std::vector<Limit> limits{};
  std::vector<Pointer> pointers{};
  double height_pt = 165;
  bool states_exaggeration = false;  // heights over lengths, a round figure
};

/// The run from above: its start mark, the way one looks, left and right, and where the supports are.
struct PlanView {
  struct Place {
    double x = 0, across = 0;  // across: 1 at the left edge, -1 at the right one
    std::string letter;
  };
  double length = 1;  // of the run; places are in the same unit
  std::vector<Place> supports{};
  // Its words; the last three where it is told instead of drawn.
  std::string start = "start mark", left = "left edge", right = "right edge";
  std::string above = "The run from above, from its start mark", at = "at", of_length = "of the length";
};

/// Steps of 1, 2 or 5, so large that at most so many fit into the range.
[[nodiscard]] double tick_step(double range, int most);
/// All multiples of the step between the two, which may be ticks themselves.
[[nodiscard]] std::vector<double> ticks_between(double from, double to, double step);
/// With as many digits as the step has.
[[nodiscard]] std::string tick_label(double value, double step);

}  // namespace hangtrue::report
