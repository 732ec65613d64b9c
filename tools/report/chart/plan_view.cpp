#include <algorithm>

#include "tools/report/chart/draw.hpp"

namespace hangtrue::report {

namespace {

constexpr double kRun = 2.2,
                 kLine = 1.2;  // height of the run, and of a line of text beside it; times the text

void fill_triangle(cairo_t* cairo, double x, double y, double size) {
  cairo_move_to(cairo, x, y - size);
  cairo_line_to(cairo, x + 1.6 * size, y);
  cairo_line_to(cairo, x, y + size);
  cairo_close_path(cairo);
  cairo_fill(cairo);
}

}  // namespace

double plan_view_height(double text_pt) { return (kRun + 2 * kLine) * text_pt; }

void draw_plan_view(cairo_t* cairo, PangoContext* context, const PlanView& view, double x, double y,
                    double width, double text_pt) {
  const double top = y + kLine * text_pt, high = kRun * text_pt, middle = top + high / 2;
  const Style small{0.85 * text_pt};
  cairo_set_source_rgb(cairo, 0, 0, 0);
  cairo_set_line_width(cairo, 0.9);
  cairo_rectangle(cairo, x, top, width, high);
  cairo_stroke(cairo);
  const Text start(context, view.start, small), left(context, view.left, small),
      right(context, view.right, small);
  start.draw(cairo, x, y);
  left.draw(cairo, x + (width - left.width()) / 2, y);
  right.draw(cairo, x + (width - right.width()) / 2, top + high);
  fill_triangle(cairo, x, middle, 0.6 * text_pt);
  cairo_set_line_width(cairo, 0.6);
  cairo_move_to(cairo, x + text_pt, middle);
  cairo_line_to(cairo, x + width - 1.5 * text_pt, middle);
  cairo_stroke(cairo);
  fill_triangle(cairo, x + width - 1.6 * text_pt, middle, 0.35 * text_pt);
  const double half = 0.75 * text_pt;
  for (const PlanView::Place& support : view.supports) {
    const double level = middle - std::clamp(support.across, -1.0, 1.0) * high / 2;
    const double at = std::clamp(x + width * support.x / view.length, x + half, x + width - half);
    cairo_rectangle(cairo, at - half, level - half, 2 * half, 2 * half);
    cairo_set_source_rgb(cairo, 1, 1, 1);
    cairo_fill_preserve(cairo);
    cairo_set_source_rgb(cairo, 0, 0, 0);
    cairo_set_line_width(cairo, 0.9);
    cairo_stroke(cairo);
    const Text letter(context, support.letter, {0.9 * text_pt, true});
    letter.draw(cairo, at - letter.width() / 2, level - letter.height() / 2);
  }
}

}  // namespace hangtrue::report
