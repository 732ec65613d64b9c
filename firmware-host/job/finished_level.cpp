#include "firmware-host/job/finished_level.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <vector>

#include "core/adjust/workspace.hpp"
#include "firmware-host/job/settings.hpp"

namespace hangtrue::job {

namespace {

/// The parts of every check point's height; height_m is the mean.
std::vector<LevelParts> parts_of(const sheet::RunSheet& run, const std::vector<double>& height_m) {
  const std::size_t stations = run.stations_m.size();
  double mean_x = 0, mean_z = 0, xx = 0, xz = 0;
  const auto middle = [&](std::size_t s) { return (height_m[2 * s] + height_m[2 * s + 1]) / 2; };
  for (std::size_t s = 0; s < stations; ++s) {
    mean_x += run.stations_m[s] / double(stations);
    mean_z += middle(s) / double(stations);
  }
  for (std::size_t s = 0; s < stations; ++s) {
    const double x = run.stations_m[s] - mean_x;
    xx += x * x;
    xz += x * (middle(s) - mean_z);
  }
  const double slope = xx > 0 ? xz / xx : 0;
  std::vector<LevelParts> parts(height_m.size());
  for (std::size_t point = 0; point < parts.size(); ++point) {
    LevelParts& part = parts[point];
    part.height_m = mean_z;
    part.tilt_m = slope * (run.stations_m[point / 2] - mean_x);
    part.sag_m = middle(point / 2) - mean_z - part.tilt_m;
    part.twist_m = height_m[point] - middle(point / 2);
  }
  return parts;
}

LevelParts combined(const LevelParts& a, double by_a, const LevelParts& b, double by_b) {
  return {by_a * a.height_m + by_b * b.height_m, by_a * a.tilt_m + by_b * b.tilt_m,
          by_a * a.sag_m + by_b * b.sag_m, by_a * a.twist_m + by_b * b.twist_m};
}

// The first stage in which everything is engaged that can be adjusted and holds the finished run.
int stage_of_setting(const sheet::RunSheet& run) {
  const int finished = run.tolerance.stage;
  for (int stage = 0; stage < finished; ++stage) {
    bool all = true;
    for (int i = 0; i < int(run.supports.size()); ++i)
      if (run.supports[std::size_t(i)].adjust.by != sheet::AdjustBy::nothing &&
          run.beam_stages[std::size_t(finished)].lists_support(i))
        all = all && run.beam_stages[std::size_t(stage)].lists_support(i);
    if (all) return stage;
  }
  return finished;
}

}  // namespace

FinishedLevel finished_level(const sheet::RunSheet& run, const beam::Solver<double>& solver) {
  FinishedLevel level;
  level.stage = run.tolerance.stage;
  const std::vector<double> height_m = edge_heights(run, solver, level.stage);
  const std::optional<double> target_m = run.tolerance.target_height_m;
  level.level_error_m = adjust::level_error<double>(height_m, target_m);
  level.straight = straightness(run, height_m);
  if (run.tolerance.level_m > 0)
    level.within =
        level.level_error_m <= run.tolerance.level_m && (!level.straight || level.straight->within);

  const auto [low, high] = std::minmax_element(height_m.begin(), height_m.end());
  const std::size_t lowest = std::size_t(low - height_m.begin()),
                    highest = std::size_t(high - height_m.begin());
  const auto point = [&](std::size_t at) {
    return EdgePoint{run.stations_m[at / 2], at % 2 == 0 ? survey::Edge::left : survey::Edge::right,
                     height_m[at]};
  };
  level.highest = point(highest);
  level.lowest = point(lowest);
  const std::vector<LevelParts> parts = parts_of(run, height_m);
  if (!target_m) {
    level.parts = combined(parts[highest], 1, parts[lowest], -1);
    level.parts.height_m = 0;  // the same of both
  } else {
    const LevelParts nominal{*target_m, 0, 0, 0};
    level.parts = *high - *target_m >= *target_m - *low ? combined(parts[highest], 2, nominal, -2)
                                                        : combined(nominal, 2, parts[lowest], -2);
  }
  return level;
}

Result<BestSetting, Fault> best_setting(const sheet::RunSheet& run) {
  BestSetting best;
  best.stage = stage_of_setting(run);
  Settings settings(run, best.stage, run.tolerance.stage);
  if (settings.trouble()) return *settings.trouble();
  if (const auto done = settings.find(state_of_sheet(run)); !done) return done.fault();
  const auto workspace = std::make_unique<adjust::Workspace<double>>();
  const auto chosen = choose_moves(run, settings.problem(), *workspace);
  if (!chosen) return Fault(chosen.fault());
  best.outcome = chosen.value().outcome;
  best.level_error_m = chosen.value().level_error_after_m;
  const bool keeps_limits =
      best.outcome == adjust::Outcome::proved_best || best.outcome == adjust::Outcome::stopped_at_limit;
  std::vector<double> height_m(settings.problem().height_m.size());
  adjust::finished_heights<double>(settings.problem(), chosen.value(), height_m);
  best.straight = straightness(run, height_m);
  best.within = keeps_limits && best.level_error_m <= run.tolerance.level_m &&
                (!best.straight || best.straight->within);
  if (best.within) return best;
  if (keeps_limits && best.level_error_m <= run.tolerance.level_m) return best;  // a cure of level is none
  auto cures = find_cures(settings.problem(), settings.sag_m(), run.tolerance.level_m, {}, *workspace);
  if (!cures) return cures.fault();
  best.cures = std::move(cures).value();
  return best;
}

}  // namespace hangtrue::job
