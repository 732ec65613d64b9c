// series.hpp: the lines, bands, bars and dots of a series.
#pragma once

#include <cairo.h>

#include "tools/report/chart/frame.hpp"

namespace hangtrue::report {

void set_stroke(cairo_t* cairo, Stroke stroke, double weight);
void draw_series(cairo_t* cairo, const Series& series, const Frame& frame);

}  // namespace hangtrue::report
