// chart.hpp: a chart drawn into a rectangle.
#pragma once

#include "tools/report/text.hpp"

namespace hangtrue::report {

/// With its legend, for that width; its caption is not part of it.
[[nodiscard]] double chart_height(PangoContext* context, const Chart& chart, double width, double text_pt);
void draw_chart(cairo_t* cairo, PangoContext* context, const Chart& chart, double x, double y, double width,
                double text_pt);

}  // namespace hangtrue::report
