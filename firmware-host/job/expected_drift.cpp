#include "firmware-host/job/expected_drift.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <utility>

#include "core/change/drift_course.hpp"
#include "core/survey/observation.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

double days_between(book::Time from, book::Time to) {
  return std::chrono::duration<double, std::ratio<86400>>(to - from).count();
}

DriftForecast::DriftForecast(const sheet::RunSheet& run, int stage, const beam::State<double>& state,
                             const SurveyTimes& times)
    : run_(run), stage_(stage) {
  expected_.days = days_between(times.from, times.to);
  expected_.final_share = change::creep_share(days_between(times.loaded, times.to)) -
                          change::creep_share(days_between(times.loaded, times.from));
  expected_.height_m.assign(run.stations_m.size(), 0);
  expected_.sigma_m = expected_.height_m;
  expected_.cause = expected_.final_share > 0 ? DriftCause::nothing_creeps : DriftCause::no_time_passed;
  const bool creeps = std::any_of(run.pieces.begin(), run.pieces.end(), [](const auto& piece) {
    return piece.bending_creep > 0 || piece.torsion_creep > 0 || piece.shear_creep > 0;
  });
  if (!creeps || !(expected_.final_share > 0)) return;
  if (!solve(state)) {
    expected_.cause = DriftCause::not_worked_out;
    return;
  }
  double most = 0;
  for (std::size_t i = 0; i < run.stations_m.size(); ++i) {
    expected_.height_m[i] = expected_.final_share * forecast_->height(run.stations_m[i]).value;
    expected_.sigma_m[i] = kCreepSigma * std::abs(expected_.height_m[i]);
    most = std::max(most, std::abs(expected_.height_m[i]));
  }
  if (most < kDrift_m) return;
  expected_.cause = DriftCause::wood_based_parts;
  describe_sag();
}

bool DriftForecast::solve(const beam::State<double>& state) {
  const beam::Run<double> view = run_.run();
  soft_pieces_.resize(beam::CreepForecast<double>::pieces_needed(view));
  storage_.resize(beam::CreepForecast<double>::storage_needed(view));
  auto forecast = beam::CreepForecast<double>::create(view, soft_pieces_, storage_, kCreepSigma);
  SolvedRun as_built(run_);
  for (const sheet::LoadEntry& load : run_.loads) lasting_share_.push_back(load.permanent_share);
  if (!forecast.ok() || as_built.trouble() || !as_built.solver().solve(state) ||
      !forecast.value().solve(stage_, state, lasting_share_, as_built.solver()))
    return false;
  forecast_.emplace(std::move(forecast).value());
  return true;
}

void DriftForecast::describe_sag() {
  const std::vector<double>& at = run_.stations_m;
  const double first = expected_.height_m.front(), last = expected_.height_m.back();
  const double length = at.back() - at.front();
  for (std::size_t i = 0; i < at.size(); ++i) {
    const double part = length > 0 ? (at[i] - at.front()) / length : 0;
    const double sag = expected_.height_m[i] - first - part * (last - first);
    if (std::abs(sag) > std::abs(expected_.sag_m)) expected_.sag_m = sag;
  }
  expected_.sag_sigma_m = kCreepSigma * std::abs(expected_.sag_m);
}

double DriftForecast::on(const survey::Reading<double>& reading) const {
  const auto seen = [&](const beam::Solver<double>& solver) {
    return survey::predicted<double>({&solver, stage_, run_.length_m, run_.width_m}, reading, {});
  };
  return expected_.final_share * (seen(forecast_->later()) - seen(forecast_->first()));
}

double DriftForecast::height_m(double at_m, double across_m) const {
  return any() ? expected_.final_share * forecast_->height(at_m, across_m).value : 0;
}
double DriftForecast::slope_rad(double at_m) const {
  return any() ? expected_.final_share * forecast_->slope(at_m).value : 0;
}
double DriftForecast::roll_rad(double at_m) const {
  return any() ? expected_.final_share * forecast_->roll(at_m).value : 0;
}

std::shared_ptr<const DriftForecast> drift_since(const sheet::RunSheet& run, int stage,
                                                 const beam::State<double>& state, book::Time loaded,
                                                 book::Time to) {
  if (to - loaded < kCreepTold) return nullptr;
  auto forecast = std::make_shared<DriftForecast>(run, stage, state, SurveyTimes{loaded, loaded, to});
  return forecast->any() ? std::move(forecast) : nullptr;
}

void judge_drift(ExpectedDrift& drift, const change::Single& measured) {
  if (!measured.seen) {
    drift.verdict = DriftVerdict::cannot_tell;
    return;
  }
  drift.share = 1 + measured.value;
  drift.share_sigma = measured.sigma;
  const double off = measured.value / std::hypot(measured.sigma, kCreepSigma);
  drift.verdict = off < -kDriftSigmas  ? DriftVerdict::less
                  : off > kDriftSigmas ? DriftVerdict::more
                                       : DriftVerdict::as_expected;
}

}  // namespace hangtrue::job
