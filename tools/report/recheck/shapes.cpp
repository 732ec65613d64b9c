// Before, now and the change: drawings, and the table of stations.
#include "tools/report/common/charts.hpp"
#include "tools/report/recheck/writer.hpp"

namespace hangtrue::report {

namespace {

struct ShapeSeries {
  Series before, now, change, expected, roll;
};

ShapeSeries series_of(const RecheckWriter& of) {
  const job::Recheck& recheck = of.recheck;
  ShapeSeries result{
      {of.text("earlier, survey {}", recheck.from), Stroke::dashed, Dot::none, false, 0.9, {}, {}},
      {of.text("later, survey {}", recheck.to), Stroke::solid, Dot::none, false, 1.3, {}, {}},
      {of.said("change, with 95 % band"), Stroke::solid, Dot::open, true, 1.3, {}, {}},
      {of.said("expected by itself"), Stroke::dash_dot, Dot::none, false, 0.9, {}, recheck.drift.height_m},
      {of.said("change of roll, with 95 % band"), Stroke::solid, Dot::open, true, 1.3, {}, {}}};
  for (const job::StationChange& station : recheck.stations) {
    result.before.x.push_back(station.at_m);
    result.before.y.push_back(station.from_m);
    result.now.y.push_back(station.to_m);
    result.change.y.push_back(station.change_m);
    result.change.half.push_back(k95 * station.sigma_m);
    result.roll.y.push_back(station.roll_change_rad);
    result.roll.half.push_back(k95 * station.roll_sigma_rad);
  }
  result.now.x = result.change.x = result.expected.x = result.roll.x = result.before.x;
  return result;
}

void take_mean_off(std::vector<double>& heights) {
  double mean = 0;
  for (const double height : heights) mean += height / double(heights.size());
  for (double& height : heights) height -= mean;
}

/// Behind "change of height": without stable marks only the shape is compared.
std::string less_its_mean(const RecheckWriter& of) {
  return of.recheck.heights_compared ? std::string() : of.said(", less its mean");
}

Chart before_and_now(const RecheckWriter& of, const ShapeSeries& series) {
  Chart chart =
      chart_along(of.run, of.said("Shape before and now, seen from the side."), height_axis(of.show), 140);
  chart.states_exaggeration = true;
  chart.pointers = support_pointers(of.run, of.recheck.to_stage, of.recheck.hang_free);
  chart.series = {series.before, series.now};
  return chart;
}

Chart change_of_height(const RecheckWriter& of, const ShapeSeries& series) {
  Chart chart =
      chart_along(of.run, of.text("Change of height{}.", less_its_mean(of)), height_axis(of.show), 140);
  chart.states_exaggeration = true;
  chart.pointers = support_pointers(of.run, of.recheck.to_stage, of.recheck.hang_free);
  chart.series = {series.change};
  if (of.recheck.drift.verdict != job::DriftVerdict::none_expected &&
      series.expected.y.size() == series.change.y.size()) {
    Series expected = series.expected;
    if (!of.recheck.heights_compared) take_mean_off(expected.y);
    chart.series.push_back(std::move(expected));
  }
  return chart;
}

Chart change_of_roll(const RecheckWriter& of, const ShapeSeries& series) {
  Chart chart = chart_along(of.run, of.said("Change of roll, positive where the left edge rose."),
                            slope_axis(of.show), 100);
  chart.pointers = support_pointers(of.run, of.recheck.to_stage, of.recheck.hang_free);
  chart.series = {series.roll};
  return chart;
}

Table station_table(const RecheckWriter& of) {
  Table table{of.text("Change at the stations, heights in {}{}", of.unit(), less_its_mean(of)),
              columns(of.said(">at|>earlier|>later|>change|>sigma|>expected|>change of roll|>sigma")),
              {}};
  const std::vector<double>& expected = of.recheck.drift.height_m;
  for (std::size_t i = 0; i < of.recheck.stations.size(); ++i) {
    const job::StationChange& station = of.recheck.stations[i];
    table.rows.push_back({{of.place(station.at_m), of.number(station.from_m), of.number(station.to_m),
                           of.number(station.change_m), of.sigma_number(station.sigma_m),
                           i < expected.size() ? of.number(expected[i]) : "-",
                           of.slope(station.roll_change_rad), of.slope(station.roll_sigma_rad)}});
  }
  return table;
}

}  // namespace

void RecheckWriter::shapes() {
  document.add(NewPage{230});
  document.add(Heading{said("Before, now and the change")});
  if (recheck.stations.empty()) {
    document.add(Paragraph{said("The two shapes could not be compared.")});
    return;
  }
  const ShapeSeries series = series_of(*this);
  document.add(before_and_now(*this, series));
  document.add(change_of_height(*this, series));
  document.add(change_of_roll(*this, series));
  document.add(Paragraph{letters_explained(run, recheck.to_stage, recheck.hang_free),
                         said("Supports in the drawings:"), 0.9});
  document.add(station_table(*this));
}

}  // namespace hangtrue::report
