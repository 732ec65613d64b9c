#include "firmware-host/job/predicted_later.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "core/adjust/problem.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

PredictedLater predicted_later(const sheet::RunSheet& run, const beam::Solver<double>& solver, double days) {
  PredictedLater later;
  later.stage = run.tolerance.stage;
  later.days = days;
  const book::Time finished{};
  const book::Time then = finished + std::chrono::duration_cast<std::chrono::microseconds>(
                                         std::chrono::duration<double, std::ratio<86400>>(days));
  const DriftForecast forecast(run, later.stage, state_of_sheet(run), {finished, finished, then});
  later.cause = forecast.expected().cause;
  later.creep_share = forecast.expected().final_share;

  for (std::size_t i = 0; i < run.stations_m.size(); ++i) {
    const double now = solver.height(later.stage, run.stations_m[i]);
    later.moved_m.push_back(forecast.height_m(run.stations_m[i], 0));
    later.height_m.push_back(now + later.moved_m.back());
    later.sigma_m.push_back(kCreepSigma * std::abs(later.moved_m.back()));
  }
  const std::vector<double> edges = edge_heights(run, solver, later.stage);
  const auto edges_then = [&](double times) {
    std::vector<double> heights = edges;
    for (std::size_t point = 0; point < heights.size(); ++point)
      heights[point] += times * forecast.height_m(run.stations_m[point / 2], across_m(run, point));
    return heights;
  };
  const auto level_error = [&](double times) {
    return adjust::level_error<double>(edges_then(times), run.tolerance.target_height_m);
  };
  later.level_error_m = level_error(1);
  later.level_error_sigma_m = std::max(std::abs(level_error(1 + kCreepSigma) - later.level_error_m),
                                       std::abs(level_error(1 - kCreepSigma) - later.level_error_m));
  later.straight = straightness(run, edges_then(1));
  if (run.tolerance.level_m > 0 && later.cause != DriftCause::not_worked_out)
    later.within =
        later.level_error_m <= run.tolerance.level_m && (!later.straight || later.straight->within);
  return later;
}

}  // namespace hangtrue::job
