#include "firmware-host/job/station_changes.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/adjust/prospect.hpp"

namespace hangtrue::job {

namespace {

double length(std::span<const double> row) {
  double squares = 0;
  for (const double entry : row) squares += entry * entry;
  return std::sqrt(squares);
}

// What the later survey's fit says of heights, the share of the drift that came included.
class Shape {
 public:
  Shape(const sheet::RunSheet& run, SurveyFit& session, const ExpectedDrift& drift)
      : run_(run), fit_(session.fitted()), drift_(drift), drift_row_(std::size_t(session.unknowns().count)) {
    const fit::UnknownList<double>& unknowns = session.unknowns();
    for (int u = 0; u < unknowns.count; ++u) {
      if (unknowns.unknown[u].kind != fit::UnknownKind::drift_share) continue;
      fit_.factor_row(u, drift_row_);
      share_ = fit_.estimate(u).value;
    }
  }

  bool compare(const std::vector<fit::StationShape<double>>* then, bool heights_compared, ShapeChange& out) {
    const std::size_t stations = run_.stations_m.size(), unknowns = drift_row_.size();
    std::vector<std::vector<double>> rows(stations, std::vector<double>(unknowns));
    std::vector<double> mean(unknowns);
    double mean_from = 0, mean_change = 0;
    for (std::size_t i = 0; i < stations; ++i) {
      const auto each = station(i, then == nullptr ? nullptr : &(*then)[i], rows[i]);
      if (!each) return false;
      for (std::size_t u = 0; u < unknowns; ++u) mean[u] += rows[i][u] / double(stations);
      mean_from += each->from_m / double(stations);
      mean_change += each->change_m / double(stations);
      out.stations.push_back(*each);
    }
    for (std::size_t i = 0; i < stations; ++i) {
      StationChange& each = out.stations[i];
      each.from_m += (drift_.before_m.empty() ? 0 : drift_.before_m[i]) - mean_from;
      if (!heights_compared) each.change_m -= mean_change;
      each.to_m = each.from_m + each.change_m;
      if (!heights_compared)
        for (std::size_t u = 0; u < unknowns; ++u) rows[i][u] -= mean[u];
      each.sigma_m = length(rows[i]);
    }
    if (heights_compared) {
      common_m_ = mean_change;
      common_sigma_m_ = length(mean);
    }
    return true;
  }

  // Over both edges. `judged`: whether the stage is a finished one.
  bool level(bool judged, ShapeChange& out) {
    constexpr double kHighest = std::numeric_limits<double>::infinity();
    double low_m = kHighest, high_m = -kHighest, low_from_m = kHighest, high_from_m = -kHighest;
    PointOfRun low, high;
    const std::size_t unknowns = drift_row_.size();
    std::vector<double> heights, rows, row(unknowns), change_row(unknowns);
    std::size_t lowest = 0, highest = 0, lowest_from = 0, highest_from = 0;
    std::vector<double> rows_from;
    for (std::size_t i = 0; i < run_.stations_m.size(); ++i)
      for (const double across : {run_.width_m / 2, -run_.width_m / 2}) {
        const auto now = fit_.height(run_.stations_m[i], across, false, row);
        const auto change = fit_.height(run_.stations_m[i], across, true, change_row);
        if (!now.ok() || !change.ok()) return false;
        for (std::size_t u = 0; u < unknowns; ++u) {
          rows_from.push_back(row[u] - change_row[u]);
          row[u] += drift_.height_m[i] * drift_row_[u];
        }
        const double crept = drift_.before_m.empty() ? 0 : drift_.before_m[i];
        const double before = now.value() - change.value() + crept;
        const double height = now.value() + crept + share_ * drift_.height_m[i];
        if (before < low_from_m) low_from_m = before, lowest_from = heights.size();
        if (before > high_from_m) high_from_m = before, highest_from = heights.size();
        if (height < low_m) low_m = height, low = {run_.stations_m[i], across}, lowest = heights.size();
        if (height > high_m) high_m = height, high = {run_.stations_m[i], across}, highest = heights.size();
        heights.push_back(height);
        rows.insert(rows.end(), row.begin(), row.end());
      }
    out.level.from_m = high_from_m - low_from_m;
    out.level.to_m = high_m - low_m;
    const auto sigma = [&](const std::vector<double>& of, std::size_t high_row, std::size_t low_row) {
      for (std::size_t u = 0; u < unknowns; ++u)
        row[u] = of[high_row * unknowns + u] - of[low_row * unknowns + u];
      return length(row);
    };
    out.level.from_sigma_m = sigma(rows_from, highest_from, lowest_from);
    out.level.to_sigma_m = sigma(rows, highest, lowest);
    if (judged && run_.tolerance.level_m > 0) judge(heights, rows, out.level);
    out.common_m = common_m_;
    out.common_sigma_m = common_sigma_m_;
    if (high.at_m == low.at_m && high.across_m == low.across_m) return true;
    out.level_error = Followed{LevelError{high.at_m, low.at_m}, high, low, std::nullopt, ""};
    if (run_.tolerance.level_m > 0) {
      out.level_error->limit_m = run_.tolerance.level_m;
      out.level_error->limit_stage = run_.stages[std::size_t(run_.tolerance.stage)];
    }
    return true;
  }

 private:
  void judge(const std::vector<double>& heights, const std::vector<double>& rows, LevelErrors& level) const {
    const sheet::Tolerance& allowed = run_.tolerance;
    const adjust::Spread<double> spread{rows, int(drift_row_.size())};
    level.straight = straightness(run_, heights, spread);
    const auto departures = departures_that_count(run_, heights, spread);
    level.chance_within = adjust::prospect<double>(heights, spread, allowed.level_m, {},
                                                   {departures, allowed.per ? allowed.per->gap_m : 0})
                              .chance;
    const double sigmas = change::normal_quantile(allowed.confidence);
    const bool past = level.to_m - allowed.level_m > sigmas * level.to_sigma_m ||
                      (level.straight &&
                       level.straight->departure_m - allowed.per->gap_m > sigmas * level.straight->sigma_m);
    level.verdict = level.chance_within >= allowed.confidence ? ToleranceVerdict::within
                    : past                                    ? ToleranceVerdict::past
                                                              : ToleranceVerdict::cannot_tell;
  }

  // `row` of the change of height.
  std::optional<StationChange> station(std::size_t i, const fit::StationShape<double>* then,
                                       std::vector<double>& row) {
    StationChange each;
    each.at_m = run_.stations_m[i];
    std::vector<double> other(row.size());
    const auto height = fit_.height(each.at_m, 0, false, other);
    const auto change = fit_.height(each.at_m, 0, true, row);
    const auto roll = fit_.roll(each.at_m, then == nullptr, other);
    if (!height.ok() || !change.ok() || !roll.ok()) return std::nullopt;
    for (std::size_t u = 0; u < row.size(); ++u) row[u] += drift_.height_m[i] * drift_row_[u];
    each.roll_sigma_rad = std::hypot(length(other), then == nullptr ? 0.0 : then->roll_sigma_rad);
    each.roll_change_rad = roll.value() - (then == nullptr ? 0.0 : then->roll_rad);
    each.from_m = height.value() - change.value();
    each.change_m = change.value() + share_ * drift_.height_m[i];
    return each;
  }

  const sheet::RunSheet& run_;
  fit::Fit<double>& fit_;
  const ExpectedDrift& drift_;
  std::vector<double> drift_row_;  // of the share; 0 where none is expected
  double share_ = 0;
  double common_m_ = 0, common_sigma_m_ = 0;
};

}  // namespace

ShapeChange shape_change(const sheet::RunSheet& run, SurveyFit& later,
                         const std::vector<fit::StationShape<double>>* then, const ExpectedDrift& drift,
                         bool heights_compared) {
  ShapeChange result;
  Shape shape(run, later, drift);
  if (shape.compare(then, heights_compared, result))
    (void)shape.level(later.stage() >= run.tolerance.stage, result);
  return result;
}

}  // namespace hangtrue::job
