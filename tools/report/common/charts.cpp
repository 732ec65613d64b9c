#include "tools/report/common/charts.hpp"

#include <algorithm>

#include "core/quantity/units.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/table.hpp"
#include "tools/report/common/figures.hpp"

namespace hangtrue::report {

namespace {

constexpr int kMostTicks = 9;
/// An axis of heights or slopes spans no less, so that mere noise does not look like a shape. Ours, no source.
constexpr double kLeastRange = 2e-5;  // m, rad

/// Of places along the run: decimal in millimetres; in inches from a hand's breadth up to whole rods.
double step_of_places(double range_m, sheet::Show show) {
  if (show.is_metric()) return tick_step(range_m, kMostTicks);
  for (const double inches : {3.0, 6.0, 12.0, 24.0, 36.0, 60.0, 120.0, 240.0, 600.0, 1200.0})
    if (range_m / kInch_m / inches <= kMostTicks) return inches * kInch_m;
  return range_m;
}

Axis axis_of(Axis axis, sheet::Show show) {
  axis.too_tall = say::said(show, axis.too_tall);
  axis.decimal_sign = sheet::with_decimal_sign(".", show.language).front();
  return axis;
}

}  // namespace

Axis height_axis(sheet::Show show) {
  return axis_of({Figures{show}.unit(), show.is_metric() ? 1e-3 : kInch_m, kLeastRange}, show);
}
Axis slope_axis(sheet::Show show) {
  return axis_of({Figures{show}.slope_unit(), show.is_metric() ? 1e-3 : 1.0 / 12, kLeastRange}, show);
}

Chart chart_along(const sheet::RunSheet& run, std::string caption, Axis up, double height_pt) {
  Chart chart{std::move(caption), std::move(up)};
  chart.x_to = run.length_m;
  chart.height_pt = height_pt;
  for (const double at : ticks_between(0, run.length_m, step_of_places(run.length_m, run.show)))
    chart.ticks.push_back({at, sheet::show_place(at, run.show)});
  return chart;
}

std::vector<Tick> day_ticks(double from_days, double to_days) {
  const double step = tick_step(to_days - from_days, kMostTicks);
  std::vector<Tick> ticks;
  for (const double at : ticks_between(from_days, to_days, step))
    ticks.push_back({at, tick_label(at, step) + " d"});
  return ticks;
}

std::string letter(std::size_t support) { return std::string(1, char('A' + int(support))); }

std::vector<Pointer> support_pointers(const sheet::RunSheet& run, int stage,
                                      const std::vector<std::string>& hang_free) {
  std::vector<Pointer> pointers;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    if (say::is_engaged(run, i, stage, hang_free)) {
      const Pointer pointer{run.beam_supports[i].at_m, letter(i),
                            run.beam_supports[i].holds == beam::Holds::pull};
      const auto beside = std::find_if(pointers.begin(), pointers.end(), [&](const Pointer& other) {
        return other.x == pointer.x && other.above == pointer.above;
      });
      if (beside == pointers.end())
        pointers.push_back(pointer);
      else
        beside->letter += pointer.letter;  // side by side: one pointer for both
    }
  return pointers;
}

PlanView plan_view(const sheet::RunSheet& run) {
  PlanView view{run.length_m};
  for (std::string* const word :
       {&view.start, &view.left, &view.right, &view.above, &view.at, &view.of_length})
    *word = say::said(run.show, *word);
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    view.supports.push_back({run.beam_supports[i].at_m,
                             run.width_m > 0 ? 2 * run.beam_supports[i].across_m / run.width_m : 0,
                             letter(i)});
  return view;
}

std::string letters_explained(const sheet::RunSheet& run) {
  std::vector<std::string> names;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    names.push_back(letter(i) + ' ' + run.supports[i].name);
  return listed(names) + '.';
}

std::string letters_explained(const sheet::RunSheet& run, int stage,
                              const std::vector<std::string>& hang_free) {
  std::vector<std::string> names, others;
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    (say::is_engaged(run, i, stage, hang_free) ? names : others)
        .push_back(letter(i) + ' ' + run.supports[i].name);
  return (names.empty() ? say::said(run.show, "none") : listed(names)) + '.' +
         (others.empty() ? std::string()
                         : say::text(run.show, " Not engaged, and not drawn: {}.", listed(others)));
}

}  // namespace hangtrue::report
