#include "firmware-host/json/predict.hpp"

#include <nlohmann/json.hpp>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/sheet_doubts.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::json {

namespace {

using Json = nlohmann::ordered_json;

Json point_json(const job::EdgePoint& point) {
  return {{"at_m", point.at_m}, {"edge", say::word(point.edge)}, {"height_m", point.height_m}};
}

Json within_json(const job::FinishedLevel& level) { return level.within ? Json(*level.within) : Json(); }

Json later_json(const sheet::RunSheet& run, const job::PredictedLater& later) {
  const bool known = later.cause != job::DriftCause::not_worked_out;
  const auto unless_unknown = [&](const auto& value) { return known ? Json(value) : Json(); };
  return {{"days", later.days},
          {"stage", run.stages[std::size_t(later.stage)]},
          {"creeps", unless_unknown(later.cause == job::DriftCause::wood_based_parts)},
          {"creep_share", later.creep_share},
          {"at_m", run.stations_m},
          {"height_m", unless_unknown(later.height_m)},
          {"height_sigma_m", unless_unknown(later.sigma_m)},
          {"moved_m", unless_unknown(later.moved_m)},
          {"level_error_m", unless_unknown(later.level_error_m)},
          {"level_error_sigma_m", unless_unknown(later.level_error_sigma_m)},
          {"within_tolerance", later.within ? Json(*later.within) : Json()}};
}

// Of the tolerance's stage.
void add_level(Json& stage, const sheet::RunSheet& run, const job::FinishedLevel& level,
               const job::BestSetting* best) {
  stage["level_error_m"] = level.level_error_m;
  stage["within_tolerance"] = within_json(level);
  stage["tolerance_m"] = level.within ? Json(run.tolerance.level_m) : Json();
  stage["highest"] = point_json(level.highest);
  stage["lowest"] = point_json(level.lowest);
  stage["parts"] = {{"height_m", level.parts.height_m},
                    {"tilt_m", level.parts.tilt_m},
                    {"sag_m", level.parts.sag_m},
                    {"twist_m", level.parts.twist_m}};
  if (level.straight) stage["straightness"] = straightness_json(*level.straight);
  if (best == nullptr) return;
  stage["best_setting"] = {{"when_stage", run.stages[std::size_t(best->stage)]},
                           {"level_error_m", best->level_error_m},
                           {"within_tolerance", best->within},
                           {"proved_best", best->outcome == adjust::Outcome::proved_best}};
  if (best->cures) stage["best_setting"]["cures"] = say::cure_words(run, *best->cures);
}

}  // namespace

Json straightness_json(const job::Straightness& straight) {
  return {{"departure_m", straight.departure_m},
          {"edge", say::word(straight.edge)},
          {"from_m", straight.from_m},
          {"at_m", straight.at_m},
          {"to_m", straight.to_m},
          {"within", straight.within}};
}

Json prediction_json(const sheet::RunSheet& run, beam::Solver<double>& solver,
                     const job::FinishedLevel& level, const job::BestSetting* best,
                     const std::vector<job::SheetDoubt>& doubts, const job::PredictedLater* later) {
  const std::vector<job::Place> where = job::places(run, solver);
  Json stages = Json::array();
  for (int stage = 0; stage < int(run.stages.size()); ++stage) {
    Json at = Json::array(), height = Json::array(), slope = Json::array(), roll = Json::array(),
         moment = Json::array(), shear = Json::array(), torque = Json::array();
    for (const job::Place& place : where) {
      const beam::Section<double> here = solver.at(stage, place.at_m, place.side);
      at.push_back(place.at_m);
      height.push_back(here.height_m);
      slope.push_back(here.slope_rad);
      roll.push_back(here.roll_rad);
      moment.push_back(here.moment_Nm);
      shear.push_back(here.shear_N);
      torque.push_back(here.torque_Nm);
    }
    Json bimoment = Json::array();
    if (job::warps(run))
      for (const job::Place& place : where)
        bimoment.push_back(solver.at(stage, place.at_m, place.side).bimoment_Nm2);
    Json supports = Json::array();
    for (int i = 0; i < int(run.supports.size()); ++i) {
      const beam::SupportAction<double> action = solver.support(stage, i);
      supports.push_back({{"name", run.supports[std::size_t(i)].name},
                          {"engaged", action.engaged},
                          {"force_N", action.force_N},
                          {"moment_Nm", action.moment_Nm},
                          {"torque_Nm", action.torque_Nm}});
    }
    const auto lowest = solver.lowest(stage);
    stages.push_back({{"name", run.stages[std::size_t(stage)]},
                      {"at_m", at},
                      {"height_m", height},
                      {"slope_rad", slope},
                      {"roll_rad", roll},
                      {"moment_Nm", moment},
                      {"shear_N", shear},
                      {"torque_Nm", torque},
                      {"supports", supports},
                      {"lowest_m", lowest.height_m},
                      {"lowest_at_m", lowest.at_m}});
    if (stage == level.stage) add_level(stages.back(), run, level, best);
    if (job::warps(run)) stages.back()["bimoment_Nm2"] = bimoment;
    if (const auto lifted = job::other_equilibrium(run, solver, stage))
      stages.back()["other_equilibrium"] = {{"lifted", *lifted}};
  }
  Json sheet_doubts = Json::array();
  for (const job::SheetDoubt& doubt : doubts)
    sheet_doubts.push_back(
        {{"line", doubt.line}, {"key", doubt.key}, {"says", say::doubt_words(run, doubt)}});
  Json answer{{"run", run.title},
              {"sheet_doubts", sheet_doubts},
              {"level_error_m", level.level_error_m},
              {"within_tolerance", within_json(level)},
              {"stages", stages}};
  if (later != nullptr) answer["later"] = later_json(run, *later);
  if (run.shear_centre_m != 0) answer["shear_centre_m"] = run.shear_centre_m;
  return answer;
}

}  // namespace hangtrue::json
