// charts.hpp: charts of a run, in the units of the sheet.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/sheet/run_sheet.hpp"
#include "tools/report/chart/chart.hpp"

namespace hangtrue::report {

[[nodiscard]] Axis height_axis(sheet::Show show);
[[nodiscard]] Axis slope_axis(sheet::Show show);
/// Over the length of the run; ticks at round places.
[[nodiscard]] Chart chart_along(const sheet::RunSheet& run, std::string caption, Axis up, double height_pt);
/// Ticks at round numbers of days.
[[nodiscard]] std::vector<Tick> day_ticks(double from_days, double to_days);

/// "A", "B", ... as in the drawings.
[[nodiscard]] std::string letter(std::size_t support);
/// Supports that are engaged at that stage, in their place below or above a drawing.
[[nodiscard]] std::vector<Pointer> support_pointers(const sheet::RunSheet& run, int stage,
                                                    const std::vector<std::string>& hang_free);
/// The run from above.
[[nodiscard]] PlanView plan_view(const sheet::RunSheet& run);
/// The names that all letters stand for: "A wall bracket, B east rod."
[[nodiscard]] std::string letters_explained(const sheet::RunSheet& run);
/// Likewise in a drawing of that stage: those that are not engaged stand apart.
[[nodiscard]] std::string letters_explained(const sheet::RunSheet& run, int stage,
                                            const std::vector<std::string>& hang_free);

}  // namespace hangtrue::report
