#include "tools/report/chart/series.hpp"

#include <cmath>

namespace hangtrue::report {

void set_stroke(cairo_t* cairo, Stroke stroke, double weight) {
  cairo_set_line_width(cairo, weight);
  const double dashed[] = {5, 2.5}, dotted[] = {0.1, 2.4}, both[] = {6, 2.2, 0.1, 2.2};
  cairo_set_line_cap(cairo, stroke == Stroke::dotted || stroke == Stroke::dash_dot ? CAIRO_LINE_CAP_ROUND
                                                                                   : CAIRO_LINE_CAP_BUTT);
  if (stroke == Stroke::dashed)
    cairo_set_dash(cairo, dashed, 2, 0);
  else if (stroke == Stroke::dotted)
    cairo_set_dash(cairo, dotted, 2, 0);
  else if (stroke == Stroke::dash_dot)
    cairo_set_dash(cairo, both, 4, 0);
  else
    cairo_set_dash(cairo, nullptr, 0, 0);
}

namespace {

void draw_dot(cairo_t* cairo, Dot dot, double x, double y) {
  constexpr double kSize = 2.1;
  if (dot == Dot::none) return;
  set_stroke(cairo, Stroke::solid, 0.7);
  cairo_new_path(cairo);
  if (dot == Dot::cross) {
    for (const double way : {-1.0, 1.0}) {
      cairo_move_to(cairo, x - kSize, y - way * kSize);
      cairo_line_to(cairo, x + kSize, y + way * kSize);
    }
    cairo_stroke(cairo);
    return;
  }
  if (dot == Dot::square)
    cairo_rectangle(cairo, x - kSize * 0.85, y - kSize * 0.85, 1.7 * kSize, 1.7 * kSize);
  else
    cairo_arc(cairo, x, y, kSize * 0.9, 0, 2 * M_PI);
  cairo_set_source_rgb(cairo, dot == Dot::full ? 0 : 1, dot == Dot::full ? 0 : 1, dot == Dot::full ? 0 : 1);
  cairo_fill_preserve(cairo);
  cairo_set_source_rgb(cairo, 0, 0, 0);
  cairo_stroke(cairo);
}

}  // namespace

void draw_series(cairo_t* cairo, const Series& series, const Frame& frame) {
  const std::size_t count = series.x.size();
  const auto x = [&](std::size_t i) { return frame.at_x(series.x[i]); };
  const auto y = [&](std::size_t i, double halves) {
    return frame.at_y(series.y[i] + (series.half.empty() ? 0 : halves * series.half[i]));
  };
  if (count == 0) return;
  if (series.band && !series.half.empty()) {
    cairo_new_path(cairo);
    for (std::size_t i = 0; i < count; ++i) cairo_line_to(cairo, x(i), y(i, 1));
    for (std::size_t i = count; i-- > 0;) cairo_line_to(cairo, x(i), y(i, -1));
    cairo_close_path(cairo);
    cairo_set_source_rgb(cairo, 0.82, 0.82, 0.82);
    cairo_fill(cairo);
  }
  cairo_set_source_rgb(cairo, 0, 0, 0);
  if (series.stroke != Stroke::none) {
    set_stroke(cairo, series.stroke, series.weight);
    cairo_new_path(cairo);
    for (std::size_t i = 0; i < count; ++i) cairo_line_to(cairo, x(i), y(i, 0));
    cairo_stroke(cairo);
  }
  if (!series.band && !series.half.empty()) {
    set_stroke(cairo, Stroke::solid, 0.5);
    for (std::size_t i = 0; i < count; ++i) {
      cairo_move_to(cairo, x(i), y(i, -1));
      cairo_line_to(cairo, x(i), y(i, 1));
    }
    cairo_stroke(cairo);
  }
  for (std::size_t i = 0; i < count; ++i) draw_dot(cairo, series.dot, x(i), y(i, 0));
}

}  // namespace hangtrue::report
