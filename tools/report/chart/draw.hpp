// draw.hpp: a chart, or the run from above, drawn into a rectangle.
#pragma once

#include "tools/report/chart/chart.hpp"
#include "tools/report/layout/text.hpp"

namespace hangtrue::report {

/// For that width, with its legend; without its caption.
[[nodiscard]] double chart_height(PangoContext* context, const Chart& chart, double width, double text_pt);
void draw_chart(cairo_t* cairo, PangoContext* context, const Chart& chart, double x, double y, double width,
                double text_pt);

[[nodiscard]] double plan_view_height(double text_pt);
void draw_plan_view(cairo_t* cairo, PangoContext* context, const PlanView& view, double x, double y,
                    double width, double text_pt);

}  // namespace hangtrue::report
