#include "firmware-host/json/stations.hpp"

#include <cmath>
#include <string>

#include <nlohmann/json.hpp>

#include "firmware-host/say/plan.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::json {

namespace {

using Json = nlohmann::ordered_json;

Json finite(double value) { return std::isfinite(value) ? Json(value) : Json(); }

Json names(const std::vector<job::UnknownId>& unknowns) {
  Json all = Json::array();
  for (const job::UnknownId& each : unknowns) all.push_back(name_of(each));
  return all;
}

Json stops(const std::vector<job::PlanStop>& stops) {
  Json all = Json::array();
  for (const job::PlanStop& stop : stops) {
    Json channels = Json::array();
    for (const Channel channel : stop.channels) channels.push_back(word(channel));
    Json& one = all.emplace_back(Json{{"at_m", stop.at_m},
                                      {"instrument", stop.instrument},
                                      {"channels", channels},
                                      {"edge", say::word(stop.edge)},
                                      {"faces", stop.both_faces ? Json{1, -1} : Json{1}},
                                      {"times", stop.times},
                                      {"stays", stop.stays}});
    if (!stop.set_up.empty()) one["set_up"] = stop.set_up;
    if (!stop.mark.empty()) one["mark"] = stop.mark;
  }
  return all;
}

struct Motion {
  const char *name, *smallest, *with_two_marks;  // keys with their unit
};
Motion motion(job::UnknownOf of) {
  switch (of) {
    case job::UnknownOf::move_pitch:
      return {"pitch", "smallest_rad", "with_two_marks_rad"};
    case job::UnknownOf::move_roll:
      return {"roll", "smallest_rad", "with_two_marks_rad"};
    default:
      return {"rise", "smallest_m", "with_two_marks_m"};
  }
}

Json movements(const job::Plan& plan) {
  Json all = Json::array();
  for (const job::SmallestMovement& each : plan.movements) {
    const Motion how = motion(each.movement.of);
    all.push_back({{"support", each.movement.name},
                   {"motion", how.name},
                   {how.smallest, finite(each.smallest)},
                   {how.with_two_marks, finite(each.with_two_marks)}});
  }
  return all;
}

}  // namespace

nlohmann::ordered_json stations_json(const sheet::RunSheet& run, const job::Plan& plan) {
  Json json;
  json["run"] = run.title;
  json["stage"] = run.stages[std::size_t(plan.wish.stage)];
  json["for"] = plan.wish.what == job::PlanFor::levelling ? "levelling" : "recheck";
  json["wanted_m"] = plan.wish.wanted_m;
  json["reached"] = plan.reached;
  json["certainty_m"] = finite(plan.certainty_m);
  json["sigma_before_m"] = plan.sigma_before_m;
  json["sigma_m"] = plan.sigma_m;
  json["sigma_at_best_m"] = plan.sigma_at_best_m;
  json["readings"] = plan.readings;
  json["walk"] = stops(plan.walk);
  json["closing"] = stops(plan.closing);
  json["leaves_open"] = Json::array();
  for (const job::LeavesOpen& open : plan.leaves_open)
    json["leaves_open"].push_back(
        {{"name", name_of(open.unknown)}, {"sigma_if_known_m", open.sigma_after_m}});
  json["not_apart"] = Json::array();
  for (const auto& group : plan.not_apart)
    json["not_apart"].push_back({{"names", names(group)}, {"words", say::not_apart(group)}});
  json["not_learned"] = Json::array();
  for (const job::NotLearned& group : plan.not_learned)
    json["not_learned"].push_back({{"names", names(group.unknowns)}, {"words", say::not_learned(group)}});
  if (plan.wish.what != job::PlanFor::recheck) return json;
  json["confidence"] = job::kRecheckConfidence;
  json["power"] = job::kRecheckPower;
  json["movements"] = movements(plan);
  json["whole_run_m"] = finite(plan.whole_run_m);
  json["whole_run_with_two_marks_m"] = finite(plan.whole_run_with_two_marks_m);
  return json;
}

}  // namespace hangtrue::json
