// The shape: drawings of height and roll with their readings, the table of stations, and the residuals.
#include <algorithm>
#include <array>

#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/charts.hpp"

namespace hangtrue::report {

namespace {

constexpr double kGate = fit::Options<double>{}.gate, kMostShown = 8;  // of the residuals that are drawn

struct FittedSeries {
  explicit FittedSeries(const Figures& of)
      : middle{of.said("fitted height less its mean, with 95 % band"),
               Stroke::solid,
               Dot::none,
               true,
               1.3,
               {},
               {}},
        left{of.said("left edge"), Stroke::dashed, Dot::none, false, 0.8, {}, {}},
        right{of.said("right edge"), Stroke::dotted, Dot::none, false, 1.1, {}, {}},
        roll{of.said("fitted roll, with 95 % band"), Stroke::solid, Dot::none, true, 1.3, {}, {}} {}

  Series middle, left, right, roll;
};

FittedSeries fitted_series(const AsBuiltWriter& of) {
  FittedSeries result(of);
  const double half_width = of.run.width_m / 2;
  for (const auto& station : of.fit.stations) {
    const double height = station.height_m - of.mean_m;
    result.middle.x.push_back(station.at_m);
    result.middle.y.push_back(height);
    result.middle.half.push_back(k95 * station.height_less_mean_sigma_m);
    result.left.y.push_back(height + station.roll_rad * half_width);
    result.right.y.push_back(height - station.roll_rad * half_width);
    result.roll.y.push_back(station.roll_rad);
    result.roll.half.push_back(k95 * station.roll_sigma_rad);
  }
  result.left.x = result.right.x = result.roll.x = result.middle.x;
  return result;
}

Series points(std::string label, Dot dot) { return {std::move(label), Stroke::none, dot, false, 0, {}, {}}; }

struct ReadingSeries {
  explicit ReadingSeries(const Figures& of)
      : distances(points(of.said("distance readings, with 95 % bars"), Dot::open)),
        distances_aside(points(of.said("set aside"), Dot::cross)),
        rolls(points(of.said("roll readings, with 95 % bars"), Dot::open)),
        rolls_aside(points(of.said("set aside"), Dot::cross)),
        residuals{points(of.said("slope"), Dot::open), points(of.said("roll"), Dot::full),
                  points(of.said("distance"), Dot::square)},
        residuals_aside(points(of.said("set aside by the gate"), Dot::cross)) {}

  Series distances, distances_aside, rolls, rolls_aside;
  std::array<Series, 3> residuals;  // normalised, by channel
  Series residuals_aside;
};

ReadingSeries reading_series(const AsBuiltWriter& of) {
  ReadingSeries result(of);
  for (const JudgedReading& each : of.readings) {
    if (each.judgement == nullptr) continue;
    const sheet::ReadingEntry& reading = each.reading();
    const double residual = each.judgement->residual;
    if (reading.at_m >= 0 && reading.at_m <= of.run.length_m) {
      Series& judged = each.used() ? result.residuals[std::size_t(reading.channel)] : result.residuals_aside;
      judged.x.push_back(reading.at_m);
      judged.y.push_back(std::clamp(each.judgement->normalised, -kMostShown, kMostShown));
    }
    if (!of.shape.solved()) continue;
    const auto push = [&](Series& series, double y) {
      series.x.push_back(reading.at_m);
      series.y.push_back(y);
      series.half.push_back(k95 * reading.sigma);
    };
    const auto& solver = of.shape.solver();
    const double across = int(reading.edge) * of.run.width_m / 2;
    if (reading.channel == Channel::distance && reading.mark.empty())
      push(each.used() ? result.distances : result.distances_aside,
           solver.height(of.fit.stage, reading.at_m, across) - of.mean_m + residual);
    // The residual is of the value as read: face 2 sees the opposite.
    if (reading.channel == Channel::roll)
      push(each.used() ? result.rolls : result.rolls_aside,
           solver.at(of.fit.stage, reading.at_m).roll_rad + reading.face * residual);
  }
  return result;
}

void add_if_any(Chart& chart, const Series& series) {
  if (!series.x.empty()) chart.series.push_back(series);
}

/// The tolerance as a band of its own height: about the target height, or else about the middle of what is to lie in it.
/// `mean_m`: what was taken off the heights.
std::vector<Limit> tolerance_band(const sheet::RunSheet& run, const Series& left, const Series& right,
                                  double mean_m) {
  const double level = run.tolerance.level_m;
  if (!(level > 0) || left.y.empty()) return {};
  const auto [left_low, left_high] = std::minmax_element(left.y.begin(), left.y.end());
  const auto [right_low, right_high] = std::minmax_element(right.y.begin(), right.y.end());
  const double high = std::max(*left_high, *right_high), low = std::min(*left_low, *right_low);
  const double middle =
      run.tolerance.target_height_m ? *run.tolerance.target_height_m - mean_m : (high + low) / 2;
  return {{middle + level / 2, say::text(run.show, "tolerance {}", sheet::show_length(level, run.show))},
          {middle - level / 2, ""}};
}

std::vector<std::string> hang_free(const job::FitReport& fit) {
  return fit.bearing.empty() ? std::vector<std::string>{} : fit.bearing.front().lifted;
}

Chart profile(const AsBuiltWriter& of, const FittedSeries& fitted, const ReadingSeries& read) {
  Chart chart = chart_along(
      of.run, of.text("Shape as surveyed, {}, seen from the side.", of.quoted_stage(of.fit.stage)),
      height_axis(of.show), 190);
  chart.states_exaggeration = true;
  chart.pointers = support_pointers(of.run, of.fit.stage, hang_free(of.fit));
  if (of.fit.stage == of.finished())
    chart.limits = tolerance_band(of.run, fitted.left, fitted.right, of.mean_m);
  chart.series = {fitted.middle, fitted.left, fitted.right};
  add_if_any(chart, read.distances);
  add_if_any(chart, read.distances_aside);
  return chart;
}

Chart finished_profile(const AsBuiltWriter& of, const job::Card& card) {
  const std::size_t count = card.left_before_m.size();
  double mean = 0;
  for (std::size_t i = 0; i < count; ++i)
    mean += (card.left_before_m[i] + card.right_before_m[i]) / 2 / double(count);
  const std::vector<double>& at_m = of.run.stations_m;
  Series middle{of.said("middle"), Stroke::solid, Dot::none, false, 1.3, at_m, {}};
  Series left{of.said("left edge"), Stroke::dashed, Dot::none, false, 0.8, at_m, card.left_before_m};
  Series right{of.said("right edge"), Stroke::dotted, Dot::none, false, 1.1, at_m, card.right_before_m};
  for (std::size_t i = 0; i < count; ++i) {
    left.y[i] -= mean;
    right.y[i] -= mean;
    middle.y.push_back((left.y[i] + right.y[i]) / 2);
  }
  Chart chart =
      chart_along(of.run, of.text("Finished and loaded, {}, as things are.", of.quoted_stage(of.finished())),
                  height_axis(of.show), 150);
  chart.states_exaggeration = true;
  chart.pointers = support_pointers(of.run, of.finished(), {});
  chart.limits = tolerance_band(of.run, left, right, mean);
  chart.series = {middle, left, right};
  return chart;
}

Chart roll_chart(const AsBuiltWriter& of, const FittedSeries& fitted, const ReadingSeries& read) {
  Chart chart =
      chart_along(of.run, of.said("Roll, positive where the left edge is high."), slope_axis(of.show), 110);
  chart.pointers = support_pointers(of.run, of.fit.stage, hang_free(of.fit));
  chart.series = {fitted.roll};
  add_if_any(chart, read.rolls);
  add_if_any(chart, read.rolls_aside);
  return chart;
}

Table station_table(const AsBuiltWriter& of, const FittedSeries& fitted) {
  Table table{of.text("Shape at the stations, {} (roll: {})", of.unit(), of.slope_unit()),
              columns(of.said(
                  ">at|>height|>sigma|>left edge|>right edge|>roll|>sigma|>of it tilt and height|>bent by "
                  "supports|>sag|>bow|>to come")),
              {}};
  for (std::size_t i = 0; i < of.fit.stations.size(); ++i) {
    const auto& station = of.fit.stations[i];
    table.rows.push_back(
        {{of.place(station.at_m), of.number(station.height_m - of.mean_m),
          of.sigma_number(station.height_less_mean_sigma_m), of.number(fitted.left.y[i]),
          of.number(fitted.right.y[i]), of.slope_number(station.roll_rad),
          of.slope_number(station.roll_sigma_rad), of.number(station.tilt_and_height_m - of.mean_m),
          of.number(station.bent_by_supports_m), of.number(station.sag_m), of.number(station.bow_m),
          of.number(station.sag_to_come_m)}});
  }
  table.note = of.said(
      "Heights are less their mean over the stations; sigma is one standard deviation of that. Tilt is what "
      "shims cure, sag they do "
      "not; bow is as made; to come is what later stages add.");
  return table;
}

Chart residual_chart(const AsBuiltWriter& of, const ReadingSeries& read) {
  Chart chart = chart_along(
      of.run, of.said("Normalised residuals of the readings along the run; the gate is at \xC2\xB1 4."),
      Axis{}, 85);
  for (const Series& each : read.residuals) add_if_any(chart, each);
  add_if_any(chart, read.residuals_aside);
  chart.limits = {{kGate, of.said("gate")}, {-kGate, ""}};
  return chart;
}

}  // namespace

void AsBuiltWriter::drawings() {
  document.add(NewPage{230});
  document.add(Heading{said("Shape")});
  const FittedSeries fitted = fitted_series(*this);
  const ReadingSeries read = reading_series(*this);
  document.add(profile(*this, fitted, read));
  if (fit.stage != finished() && from.card != nullptr) document.add(finished_profile(*this, *from.card));
  document.add(roll_chart(*this, fitted, read));
  document.add(
      Paragraph{letters_explained(run, fit.stage, hang_free(fit)), said("Supports in the drawings:"), 0.9});
  document.add(station_table(*this, fitted));
  document.add(residual_chart(*this, read));
}

}  // namespace hangtrue::report
