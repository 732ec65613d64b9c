// How the level error and the supports that moved go on over all surveys.
#include <algorithm>
#include <cmath>

#include "firmware-host/say/recheck.hpp"
#include "tools/report/common/charts.hpp"
#include "tools/report/recheck/writer.hpp"

namespace hangtrue::report {

namespace {

/// The days drawn: from the first survey on, up to where the limit would be reached, at most so many times as far as the last.
double last_day_drawn(const job::Trend& trend) {
  constexpr double kMostAhead = 4;
  const double last = *std::max_element(trend.days.begin(), trend.days.end());
  double end = last;
  for (const auto& reached : {trend.reached_from_days, trend.reached_to_days})
    if (reached && std::isfinite(*reached)) end = std::max(end, std::min(*reached, kMostAhead * last));
  return end;
}

/// The straight line through the weighted middle of the points.
Series line_of(const RecheckWriter& of, const job::Trend& trend, double end_days) {
  constexpr int kSteps = 40;
  constexpr double kDaysAYear = 365.25;
  double weights = 0, middle_days = 0, middle = 0;
  for (std::size_t i = 0; i < trend.days.size(); ++i) {
    const double sigma = i < trend.sigma.size() && trend.sigma[i] > 0 ? trend.sigma[i] : 1;
    weights += 1 / (sigma * sigma);
    middle_days += trend.days[i] / (sigma * sigma);
    middle += trend.value[i] / (sigma * sigma);
  }
  middle_days /= weights;
  middle /= weights;
  Series line{of.said("trend, with 95 % band"), Stroke::solid, Dot::none, true, 0.9, {}, {}};
  for (int k = 0; k <= kSteps; ++k) {
    const double day = end_days * k / kSteps, years = (day - middle_days) / kDaysAYear;
    line.x.push_back(day);
    line.y.push_back(middle + trend.per_year * years);
    line.half.push_back(k95 * std::hypot(trend.per_year_sigma * years, 1 / std::sqrt(weights)));
  }
  return line;
}

Chart chart_of(const RecheckWriter& of, const job::Trend& trend, const std::string& what) {
  Chart chart{of.text("{} over the days since the first survey; bars: 95 %.", what), height_axis(of.show)};
  chart.height_pt = 95;
  const double end = last_day_drawn(trend);
  chart.x_from = -0.03 * end;
  chart.x_to = 1.03 * end;
  chart.ticks = day_ticks(chart.x_from, chart.x_to);
  Series points{of.said("as found"), Stroke::none, Dot::full, false, 0, trend.days, trend.value};
  if (trend.sigma.size() == trend.days.size())
    for (const double sigma : trend.sigma) points.half.push_back(k95 * sigma);
  chart.series = {line_of(of, trend, end), points};
  if (trend.limit)
    chart.limits.push_back({*trend.limit, of.text("limit {}", of.fine(*trend.limit)) +
                                              (trend.limit_stage.empty() ? "" : ", " + trend.limit_stage)});
  return chart;
}

std::string reached_words(const RecheckWriter& of, const job::Trend& trend) {
  if (!trend.limit) return "-";
  if (trend.reached_from_days || trend.reached_to_days)
    return (trend.reached_from_days ? of.text("from {}", of.plain(*trend.reached_from_days, 0))
                                    : of.said("from before these surveys")) +
           (trend.reached_to_days ? of.text(" to {}", of.plain(*trend.reached_to_days, 0))
                                  : of.said(", or never"));
  return of.said(trend.past_limit ? "past it already" : "not in sight");
}

Table table_of(const RecheckWriter& of, const job::Trend& trend, const std::string& what) {
  Table table{what,
              columns(of.said(
                  ">a year|>sigma|>p that there is none|>limit|limit reached, days after the first survey")),
              {}};
  const std::string limit = trend.limit ? of.fine(*trend.limit) : of.said("none");
  table.rows.push_back(
      {{of.fine(trend.per_year), of.sigma(trend.per_year_sigma), of.p_words(trend.p_value),
        trend.limit && !trend.limit_stage.empty() ? of.text("{} at stage \"{}\"", limit, trend.limit_stage)
                                                  : limit,
        reached_words(of, trend)}});
  if (!trend.goes_evenly())
    table.note = of.text("A straight line does not describe these surveys well (p {}): do not extend it.",
                         of.p_words(trend.misfit_p));
  return table;
}

}  // namespace

void RecheckWriter::trends() {
  if (recheck.trends.empty()) return;
  document.add(Heading{said("Over all surveys")});
  for (const job::Trend& trend : recheck.trends) {
    if (trend.days.empty()) continue;
    const std::string what = say::trend_name(trend.of, show);
    document.add(Paragraph{typeset(say::trend(trend, show)), what + '.'});
    document.add(chart_of(*this, trend, what));
    document.add(table_of(*this, trend, what));
  }
}

}  // namespace hangtrue::report
