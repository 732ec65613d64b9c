#include "tools/report/layout/ink.hpp"

namespace hangtrue::report {

void grey(cairo_t* cairo, double level) { cairo_set_source_rgb(cairo, level, level, level); }

void rule(cairo_t* cairo, double from, double to, double y, double weight, double level) {
  grey(cairo, level);
  cairo_set_dash(cairo, nullptr, 0, 0);
  cairo_set_line_cap(cairo, CAIRO_LINE_CAP_BUTT);
  cairo_set_line_width(cairo, weight);
  cairo_move_to(cairo, from, y);
  cairo_line_to(cairo, to, y);
  cairo_stroke(cairo);
  grey(cairo, 0);
}

void draw_code(cairo_t* cairo, const book::QrCode& code, double x, double y, double side) {
  const double module = side / (code.side + 2 * book::QrCode::kQuiet);
  for (int row = 0; row < code.side; ++row)
    for (int column = 0; column < code.side; ++column)
      if (code.is_dark(row, column))
        cairo_rectangle(cairo, x + (column + book::QrCode::kQuiet) * module,
                        y + (row + book::QrCode::kQuiet) * module, module, module);
  cairo_set_antialias(cairo, CAIRO_ANTIALIAS_NONE);  // no light seams between modules
  cairo_fill(cairo);
  cairo_set_antialias(cairo, CAIRO_ANTIALIAS_DEFAULT);
}

}  // namespace hangtrue::report
