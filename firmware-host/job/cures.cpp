#include "firmware-host/job/cures.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include "core/adjust/workspace.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

class Trial {
 public:
  Trial(const adjust::Problem<double>& problem, std::span<const double> sag_m, double tolerance_m,
        adjust::Workspace<double>& workspace)
      : problem_(problem), sag_m_(sag_m), tolerance_m_(tolerance_m), workspace_(workspace) {
    problem_.node_limit = std::min(problem.node_limit, kNodesOfCure);
    heights_.assign(problem.height_m.begin(), problem.height_m.end());
  }

  /// Whether the best choice is within tolerance when each finished height is `changed` of its check point.
  bool suffices(const std::function<double(std::size_t)>& changed) {
    for (std::size_t j = 0; j < heights_.size(); ++j) heights_[j] = changed(j);
    problem_.height_m = heights_;
    const auto choice = adjust::choose(problem_, workspace_);
    return choice.ok() && choice.value().outcome != adjust::Outcome::none_keeps_limits &&
           choice.value().outcome != adjust::Outcome::none_found &&
           choice.value().level_error_after_m <= tolerance_m_;
  }

  /// As shown: stiffness in hundredths, rounded up, and what follows from it.
  [[nodiscard]] LessSag less_sag(double share) const {
    LessSag less;
    less.stiffness_factor = std::ceil(100 / std::max(share, 1e-6)) / 100;
    less.load_factor = 1 / less.stiffness_factor;
    double peak = 0;
    for (const double each : sag_m_) peak = std::max(peak, std::abs(each));
    less.camber_m = (1 - less.load_factor) * peak;
    return less;
  }

 private:
  adjust::Problem<double> problem_;
  std::span<const double> sag_m_;
  double tolerance_m_;
  adjust::Workspace<double>& workspace_;
  std::vector<double> heights_;
};

}  // namespace

Result<Cures, Fault> find_cures(const adjust::Problem<double>& problem, std::span<const double> sag_m,
                                double tolerance_m, std::span<const double> bow_m,
                                adjust::Workspace<double>& workspace) {
  const auto found = adjust::find_cure<double>(problem, sag_m, tolerance_m, workspace);
  if (!found) return Fault(found.fault());
  const adjust::Cure<double>& continuous = found.value();
  Cures cures;
  cures.no_settings = continuous.what == adjust::CureFor::no_settings;
  cures.continuous_error_m = continuous.continuous_error_m;
  if (cures.no_settings) return cures;
  cures.finer_steps = continuous.what == adjust::CureFor::finer_steps;

  Trial trial(problem, sag_m, tolerance_m, workspace);
  const std::span<const double> height_m = problem.height_m;
  if (continuous.what == adjust::CureFor::less_sag || cures.finer_steps)
    for (const double part : kSharesTried) {
      const LessSag less = trial.less_sag(continuous.load_factor * part);
      if (less.stiffness_factor > kStiffestCure) break;
      if (!(less.stiffness_factor > 1)) continue;
      if (!trial.suffices([&](std::size_t j) { return height_m[j] + (less.load_factor - 1) * sag_m[j]; }))
        continue;
      cures.less_sag = less;
      break;
    }
  if (continuous.what == adjust::CureFor::less_sag && !cures.less_sag)
    if (const LessSag less = trial.less_sag(continuous.load_factor); less.stiffness_factor <= kStiffestCure)
      cures.less_sag_and_finer_steps = less;

  for (std::size_t j = 0; j + 1 < height_m.size(); j += 2)
    cures.twist_m = std::max(cures.twist_m, std::abs(height_m[j] - height_m[j + 1]));
  if (cures.twist_m > kMatters * tolerance_m)
    cures.no_twist = trial.suffices([&](std::size_t j) { return (height_m[j] + height_m[j ^ 1u]) / 2; });

  if (!bow_m.empty())
    cures.no_bow = trial.suffices([&](std::size_t j) { return height_m[j] - bow_m[j / 2]; });
  return cures;
}

std::vector<double> bow_found(const FitReport& report) {
  std::vector<double> bow;
  const bool found = std::any_of(report.parameters.begin(), report.parameters.end(), [](const auto& each) {
    return each.id.of == UnknownOf::bow &&
           std::abs(each.estimate.value) > kBowFoundSigmas * each.estimate.sigma;
  });
  if (found)
    for (const fit::StationShape<double>& station : report.stations) bow.push_back(station.bow_m);
  return bow;
}

}  // namespace hangtrue::job
