#include "tools/report/chart/draw.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "tools/report/chart/series.hpp"

namespace hangtrue::report {

namespace {

constexpr double kSample = 22,
                 kBetween = 12;  // in the legend: width of a line's sample, room between two entries

/// Where the figures along begin: below the plot, and below the pointers where there are any.
double ground_of(const Chart& chart, const Frame& frame) {
  return frame.bottom + (any_pointer(chart, false) ? kPointerRoom : 0);
}

void draw_upright_axis(cairo_t* cairo, PangoContext* context, const Axis& axis, const Frame& frame, double y,
                       Style small) {
  const double span = (frame.bottom - frame.top) / frame.y_scale / axis.unit;
  const double step = tick_step(span, 6), low = frame.y_middle / axis.unit - span / 2;
  for (const double tick : ticks_between(low, low + span, step)) {
    const double level = frame.at_y(tick * axis.unit);
    cairo_set_source_rgb(cairo, 0.86, 0.86, 0.86);
    set_stroke(cairo, Stroke::solid, 0.4);
    cairo_move_to(cairo, frame.left, level);
    cairo_line_to(cairo, frame.right, level);
    cairo_stroke(cairo);
    cairo_set_source_rgb(cairo, 0, 0, 0);
    std::string figure = tick_label(tick, step);
    std::replace(figure.begin(), figure.end(), '.', axis.decimal_sign);
    const Text label(context, figure, small);
    label.draw(cairo, frame.left - 4 - label.width(), level - label.height() / 2);
  }
  const Text name(context, axis.name, small);
  name.draw(cairo, frame.left - 4 - name.width(), y);
}

void draw_axes(cairo_t* cairo, PangoContext* context, const Chart& chart, const Frame& frame, double x,
               double y, double text_pt) {
  const Style small{0.8 * text_pt};
  draw_upright_axis(cairo, context, chart.up, frame, y, small);
  const double ground = ground_of(chart, frame);
  for (const Tick& tick : chart.ticks) {
    const double at = frame.at_x(tick.at);
    cairo_set_source_rgb(cairo, 0, 0, 0);
    set_stroke(cairo, Stroke::solid, 0.5);
    cairo_move_to(cairo, at, frame.bottom);
    cairo_line_to(cairo, at, frame.bottom + 3);
    cairo_stroke(cairo);
    const Text label(context, tick.label, small);
    const double middle = std::min(at - label.width() / 2, frame.right + kRightOfPlot - label.width());
    label.draw(cairo, std::max(middle, x), ground + (ground > frame.bottom ? 0 : 4));
  }
  cairo_set_source_rgb(cairo, 0, 0, 0);
  set_stroke(cairo, Stroke::solid, 0.6);
  cairo_rectangle(cairo, frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top);
  cairo_stroke(cairo);
  if (frame.exaggeration > 0) {
    const Text stated(context,
                      fmt::format(fmt::runtime(chart.up.too_tall), tick_label(frame.exaggeration, 1)), small);
    stated.draw(cairo, frame.right - stated.width(), y);
  }
}

void draw_pointers(cairo_t* cairo, PangoContext* context, const Chart& chart, const Frame& frame,
                   double text_pt) {
  for (const Pointer& pointer : chart.pointers) {
    const double x = frame.at_x(pointer.x), way = pointer.above ? -1 : 1;
    const double edge = pointer.above ? frame.top : frame.bottom;
    cairo_set_source_rgb(cairo, 0, 0, 0);
    cairo_move_to(cairo, x, edge);
    cairo_line_to(cairo, x - 4, edge + way * 7);
    cairo_line_to(cairo, x + 4, edge + way * 7);
    cairo_close_path(cairo);
    cairo_fill(cairo);
    const Text letter(context, pointer.letter, {0.85 * text_pt, true});
    letter.draw(cairo, x + 5.5, edge + (pointer.above ? -kPointerRoom + 2 : 0));
    set_stroke(cairo, Stroke::dotted, 0.5);
    cairo_move_to(cairo, x, frame.top);
    cairo_line_to(cairo, x, frame.bottom);
    cairo_stroke(cairo);
  }
}

/// A sample of the series, and its label.
void draw_entry(cairo_t* cairo, const Series& series, const Text& label, double x, double y) {
  Frame sample{};
  sample.left = x;
  sample.x_scale = kSample;
  sample.top = sample.bottom = y + label.height(0, 1) / 2;
  sample.y_scale = 1;
  Series line{"", series.stroke, Dot::none, series.band, series.weight, {0, 1}, {0, 0}, {}};
  if (series.band) line.half = {3.5, 3.5};
  if (series.stroke != Stroke::none || series.band) draw_series(cairo, line, sample);
  Series point{"", Stroke::none, series.dot, false, 0, {0.5}, {0}, {}};
  if (!series.half.empty() && !series.band) point.half = {4.5};
  if (series.dot != Dot::none) draw_series(cairo, point, sample);
  cairo_set_source_rgb(cairo, 0, 0, 0);
  label.draw(cairo, x + kSample + 4, y);
}

/// Draws only where there is a cairo_t. Returns the height.
double legend(cairo_t* cairo, PangoContext* context, const Chart& chart, double x, double y, double width,
              double text_pt) {
  const double line = 1.45 * text_pt;
  double right = 0, height = 0;
  for (const Series& series : chart.series) {
    if (series.label.empty()) continue;
    const Text label(context, series.label, {0.85 * text_pt}, width - kSample - 4);
    const double wide = kSample + 4 + label.width();
    if (right > 0 && right + wide > width) {
      right = 0;
      height += line;
    }
    if (cairo != nullptr) draw_entry(cairo, series, label, x + right, y + height);
    right += wide + kBetween;
    height += label.height() - label.height(0, 1);
  }
  return right > 0 ? height + line : height;
}

void clip_to_plot(cairo_t* cairo, const Frame& frame) {
  cairo_rectangle(cairo, frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top);
  cairo_clip(cairo);
}

void draw_limits(cairo_t* cairo, PangoContext* context, const Chart& chart, const Frame& frame,
                 double text_pt) {
  for (const Limit& limit : chart.limits) {
    const double level = frame.at_y(limit.y);
    set_stroke(cairo, Stroke::dash_dot, 1.3);
    cairo_move_to(cairo, frame.left, level);
    cairo_line_to(cairo, frame.right, level);
    cairo_stroke(cairo);
    const Text label(context, limit.label, {0.8 * text_pt, true});
    const double above = level - label.height() - 1;
    const double top = above > frame.top ? above : level + 1;
    if (!limit.label.empty()) {
      cairo_set_source_rgb(cairo, 1, 1, 1);
      cairo_rectangle(cairo, frame.right - 5 - label.width(), top + 1, label.width() + 2, label.height() - 2);
      cairo_fill(cairo);
      cairo_set_source_rgb(cairo, 0, 0, 0);
    }
    label.draw(cairo, frame.right - 4 - label.width(), top);
  }
}

double legend_top(const Chart& chart, const Frame& frame, double text_pt) {
  return ground_of(chart, frame) + 4 + 1.4 * text_pt;
}

}  // namespace

double chart_height(PangoContext* context, const Chart& chart, double width, double text_pt) {
  return legend_top(chart, frame_of(chart, 0, 0, width, text_pt), text_pt) +
         legend(nullptr, context, chart, kLabels, 0, width - kLabels - kRightOfPlot, text_pt);
}

void draw_chart(cairo_t* cairo, PangoContext* context, const Chart& chart, double x, double y, double width,
                double text_pt) {
  const Frame frame = frame_of(chart, x, y, width, text_pt);
  // Bands first: grid and pointers stay seen on them.
  cairo_save(cairo);
  clip_to_plot(cairo, frame);
  for (Series band : chart.series)
    if (band.band) {
      band.stroke = Stroke::none;
      band.dot = Dot::none;
      draw_series(cairo, band, frame);
    }
  cairo_restore(cairo);
  draw_axes(cairo, context, chart, frame, x, y, text_pt);
  draw_pointers(cairo, context, chart, frame, text_pt);
  cairo_save(cairo);
  clip_to_plot(cairo, frame);
  for (Series line : chart.series) {
    if (line.band) line.half.clear();
    draw_series(cairo, line, frame);
  }
  cairo_restore(cairo);
  draw_limits(cairo, context, chart, frame, text_pt);
  legend(cairo, context, chart, x + kLabels, legend_top(chart, frame, text_pt),
         width - kLabels - kRightOfPlot, text_pt);
}

}  // namespace hangtrue::report
