#include "tools/report/chart.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>

#include "core/quantity/units.hpp"

namespace hangtrue::report {

namespace {

constexpr double kLabels = 44, kRight = 6, kHoldings = 13, kSample = 22, kBetween = 12;
constexpr double kInset = 8;  // so that what stands at the ends is seen whole

double unit_of(const Chart& chart) {
  const bool metric = chart.show == sheet::Show::metric;
  switch (chart.up) {
    case Quantity::height:
      return metric ? 1e-3 : kInch_m;
    case Quantity::slope:
      return metric ? 1e-3 : 1.0 / 12;
    case Quantity::number:
      break;
  }
  return 1;
}
const char* unit_name(const Chart& chart) {
  const bool metric = chart.show == sheet::Show::metric;
  switch (chart.up) {
    case Quantity::height:
      return metric ? "mm" : "in";
    case Quantity::slope:
      return metric ? "mm/m" : "in/ft";
    case Quantity::number:
      break;
  }
  return "";
}

/// The next round figure that is not below (or, `down`, not above).
double round_figure(double value, bool down) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  double best = down ? power : 10 * power;
  for (const double figure : {1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0})
    if (down ? figure * power <= value * (1 + 1e-9) : figure * power >= value * (1 - 1e-9)) {
      best = figure * power;
      if (!down) break;
    }
  return best;
}
/// Steps of 1, 2 or 5.
double tick_step(double range, int most) {
  const double power = std::pow(10.0, std::floor(std::log10(range / most)));
  for (const double figure : {1.0, 2.0, 5.0, 10.0})
    if (range / (figure * power) <= most) return figure * power;
  return 10 * power;
}

std::string number(double value, double step) {
  const int digits = std::max(0, int(-std::floor(std::log10(step) + 1e-9)));
  char text[32];
  std::snprintf(text, sizeof text, "%.*f", digits, std::abs(value) < step * 1e-6 ? 0.0 : value);
  return text;
}

/// Where everything stands; y downwards, in points.
struct Frame {
  double left, right, top, bottom;  // of the plot
  double x_from, x_scale, y_middle, y_scale, exaggeration = 0, inset = 0;
  [[nodiscard]] double at_x(double x) const { return left + inset + (x - x_from) * x_scale; }
  [[nodiscard]] double at_y(double y) const { return (top + bottom) / 2 - (y - y_middle) * y_scale; }
};

bool any_holding(const Chart& chart, bool above) {
  return std::any_of(chart.holdings.begin(), chart.holdings.end(),
                     [&](const Holding& each) { return each.from_above == above; });
}

Frame frame_of(const Chart& chart, double x, double y, double width, double text_pt) {
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
  if (!(low <= high)) low = high = 0;
  const double least = chart.up == Quantity::height ? 2e-5 : chart.up == Quantity::slope ? 2e-5 : 1;
  const double range = std::max((high - low) * 1.12, least);
  Frame frame{};
  frame.left = x + kLabels;
  frame.right = x + width - kRight;
  frame.top = y + 1.5 * text_pt + (any_holding(chart, true) ? kHoldings : 0);
  frame.bottom = frame.top + chart.height_pt;
  frame.x_from = chart.x_from;
  frame.inset = kInset;
  frame.x_scale = (frame.right - frame.left - 2 * kInset) / std::max(chart.x_to - chart.x_from, 1e-9);
  frame.y_middle = (low + high) / 2;
  frame.y_scale = chart.height_pt / range;
  if (chart.states_exaggeration) {
    frame.exaggeration = round_figure(frame.y_scale / frame.x_scale, /*down=*/true);
    frame.y_scale = frame.exaggeration * frame.x_scale;
  }
  return frame;
}

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

void draw_axes(cairo_t* cairo, PangoContext* context, const Chart& chart, const Frame& frame, double x,
               double y, double text_pt) {
  const Style small{0.8 * text_pt};
  const double unit = unit_of(chart), span = (frame.bottom - frame.top) / frame.y_scale / unit;
  const double step = tick_step(span, 6);
  const double low = frame.y_middle / unit - span / 2;
  for (double tick = std::ceil(low / step - 1e-9) * step; tick <= low + span + 1e-9 * span; tick += step) {
    const double level = frame.at_y(tick * unit);
    cairo_set_source_rgb(cairo, 0.86, 0.86, 0.86);
    set_stroke(cairo, Stroke::solid, 0.4);
    cairo_move_to(cairo, frame.left, level);
    cairo_line_to(cairo, frame.right, level);
    cairo_stroke(cairo);
    cairo_set_source_rgb(cairo, 0, 0, 0);
    const Text label(context, number(tick, step), small);
    label.draw(cairo, frame.left - 4 - label.width(), level - label.height() / 2);
  }
  const Text name(context, unit_name(chart), small);
  name.draw(cairo, frame.left - 4 - name.width(), y);

  double along =
      chart.show == sheet::Show::metric || chart.over_days ? tick_step(chart.x_to - chart.x_from, 9) : 0;
  if (along == 0) {
    const double inches = (chart.x_to - chart.x_from) / kInch_m;
    for (const double each : {3.0, 6.0, 12.0, 24.0, 36.0, 60.0, 120.0, 240.0, 600.0, 1200.0})
      if (along == 0 && inches / each <= 9) along = each * kInch_m;
    if (along == 0) along = chart.x_to - chart.x_from;
  }
  const double ground = frame.bottom + (any_holding(chart, false) ? kHoldings : 0);
  for (double tick = std::ceil(chart.x_from / along - 1e-9) * along; tick <= chart.x_to + 1e-9 * along;
       tick += along) {
    cairo_set_source_rgb(cairo, 0, 0, 0);
    set_stroke(cairo, Stroke::solid, 0.5);
    cairo_move_to(cairo, frame.at_x(tick), frame.bottom);
    cairo_line_to(cairo, frame.at_x(tick), frame.bottom + 3);
    cairo_stroke(cairo);
    const Text label(
        context, chart.over_days ? number(tick, along) + " d" : sheet::show_place(tick, chart.show), small);
    const double middle =
        std::min(frame.at_x(tick) - label.width() / 2, frame.right + kRight - label.width());
    label.draw(cairo, std::max(middle, x), ground + (ground > frame.bottom ? 0 : 4));
  }
  cairo_set_source_rgb(cairo, 0, 0, 0);
  set_stroke(cairo, Stroke::solid, 0.6);
  cairo_rectangle(cairo, frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top);
  cairo_stroke(cairo);
  if (frame.exaggeration > 0) {
    const Text stated(context, "Heights drawn " + number(frame.exaggeration, 1) + " times too tall", small);
    stated.draw(cairo, frame.right - stated.width(), y);
  }
}

void draw_holdings(cairo_t* cairo, PangoContext* context, const Chart& chart, const Frame& frame,
                   double text_pt) {
  for (const Holding& holding : chart.holdings) {
    const double x = frame.at_x(holding.x), way = holding.from_above ? -1 : 1;
    const double edge = holding.from_above ? frame.top : frame.bottom;
    cairo_set_source_rgb(cairo, 0, 0, 0);
    cairo_move_to(cairo, x, edge);
    cairo_line_to(cairo, x - 4, edge + way * 7);
    cairo_line_to(cairo, x + 4, edge + way * 7);
    cairo_close_path(cairo);
    cairo_fill(cairo);
    const Text letter(context, holding.letter, {0.85 * text_pt, true});
    letter.draw(cairo, x + 5.5, edge + (holding.from_above ? -kHoldings + 2 : 0));
    set_stroke(cairo, Stroke::dotted, 0.5);
    cairo_move_to(cairo, x, frame.top);
    cairo_line_to(cairo, x, frame.bottom);
    cairo_stroke(cairo);
  }
}

/// Draws where there is a cairo_t; returns its height.
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
    if (cairo != nullptr) {
      const double middle = y + height + label.height(0, 1) / 2;
      Frame sample{};
      sample.left = x + right;
      sample.x_scale = kSample;
      sample.top = sample.bottom = middle;
      sample.y_scale = 1;
      Series drawn{"", series.stroke, Dot::none, series.band, series.weight, {0, 1}, {0, 0}, {}};
      if (series.band) drawn.half = {3.5, 3.5};
      if (series.stroke != Stroke::none || series.band) draw_series(cairo, drawn, sample);
      if (series.dot != Dot::none)
        draw_series(cairo,
                    {"",
                     Stroke::none,
                     series.dot,
                     false,
                     0,
                     {0.5},
                     {0},
                     !series.half.empty() && !series.band ? std::vector<double>{4.5} : std::vector<double>{}},
                    sample);
      cairo_set_source_rgb(cairo, 0, 0, 0);
      label.draw(cairo, x + right + kSample + 4, y + height);
    }
    right += wide + kBetween;
    height += label.height() - label.height(0, 1);
  }
  return right > 0 ? height + line : height;
}

}  // namespace

double chart_height(PangoContext* context, const Chart& chart, double width, double text_pt) {
  const Frame frame = frame_of(chart, 0, 0, width, text_pt);
  return frame.bottom + (any_holding(chart, false) ? kHoldings : 0) + 4 + 1.4 * text_pt +
         legend(nullptr, context, chart, kLabels, 0, width - kLabels - kRight, text_pt);
}

void draw_chart(cairo_t* cairo, PangoContext* context, const Chart& chart, double x, double y, double width,
                double text_pt) {
  const Frame frame = frame_of(chart, x, y, width, text_pt);
  cairo_save(cairo);
  cairo_rectangle(cairo, frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top);
  cairo_clip(cairo);
  for (const Series& series : chart.series)
    if (series.band) {
      Series band = series;
      band.stroke = Stroke::none;
      band.dot = Dot::none;
      draw_series(cairo, band, frame);
    }
  cairo_restore(cairo);
  draw_axes(cairo, context, chart, frame, x, y, text_pt);
  draw_holdings(cairo, context, chart, frame, text_pt);
  cairo_save(cairo);
  cairo_rectangle(cairo, frame.left, frame.top, frame.right - frame.left, frame.bottom - frame.top);
  cairo_clip(cairo);
  for (const Series& series : chart.series) {
    Series line = series;
    if (line.band) line.half.clear();
    draw_series(cairo, line, frame);
  }
  cairo_restore(cairo);
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
  const double below = frame.bottom + (any_holding(chart, false) ? kHoldings : 0) + 4 + 1.4 * text_pt;
  legend(cairo, context, chart, x + kLabels, below, width - kLabels - kRight, text_pt);
}

}  // namespace hangtrue::report
