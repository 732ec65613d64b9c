#include "firmware-host/json/predict.hpp"

#include <nlohmann/json.hpp>

namespace hangtrue::json {

nlohmann::ordered_json prediction_json(const sheet::RunSheet& run, beam::Solver<double>& solver) {
  using Json = nlohmann::ordered_json;
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
    if (const auto lifted = job::other_equilibrium(run, solver, stage))
      stages.back()["other_equilibrium"] = {{"lifted", *lifted}};
  }
  return {{"run", run.title}, {"stages", stages}};
}

}  // namespace hangtrue::json
