#include "firmware-host/json/recheck.hpp"

#include <cmath>

#include <nlohmann/json.hpp>

#include "firmware-host/json/fit.hpp"
#include "firmware-host/json/predict.hpp"
#include "firmware-host/say/recheck.hpp"

namespace hangtrue::json {

namespace {

using Json = nlohmann::ordered_json;

Json change(const job::ChangeSeen& seen) {
  Json json{{"name", say::change_name(seen.id)}, {"can_be_seen", seen.can_be_seen}};
  if (!seen.can_be_seen) return json;
  json["value"] = seen.change.value;
  json["sigma"] = seen.change.sigma;
  json["p_value"] = seen.p_value;
  json["p_corrected"] = seen.p_corrected;
  json["smallest_detectable"] = seen.smallest_detectable;
  return json;
}

Json causes(const job::Recheck& recheck, sheet::Show show) {
  Json all = Json::array();
  for (const job::Cause& cause : recheck.causes) {
    Json& one = all.emplace_back(change(cause.change));
    one["or_else"] = say::change_names(cause.or_else);
    one["tell_apart"] = say::tell_apart(cause);
    one["not_listed"] = cause.not_listed;
    one["words"] = say::moved(cause, show);
  }
  return all;
}

Json stations(const job::Recheck& recheck) {
  Json all = Json::array();
  for (const job::StationChange& each : recheck.stations)
    all.push_back({{"at_m", each.at_m},
                   {"from_m", each.from_m},
                   {"to_m", each.to_m},
                   {"change_m", each.change_m},
                   {"change_sigma_m", each.sigma_m},
                   {"roll_change_rad", each.roll_change_rad},
                   {"roll_change_sigma_rad", each.roll_sigma_rad}});
  return all;
}

Json or_null(const std::optional<double>& value) { return value ? Json(*value) : Json(); }

Json trends(const job::Recheck& recheck, sheet::Show show) {
  Json all = Json::array();
  for (const job::Trend& trend : recheck.trends)
    all.push_back({{"what", say::trend_name(trend.of, show)},
                   {"surveys", trend.surveys},
                   {"days", trend.days},
                   {"value_m", trend.value},
                   {"sigma_m", trend.sigma},
                   {"per_year_m", trend.per_year},
                   {"per_year_sigma_m", trend.per_year_sigma},
                   {"p_value", trend.p_value},
                   {"misfit_p_value", trend.misfit_p},
                   {"limit_m", or_null(trend.limit)},
                   {"limit_stage", trend.limit_stage.empty() ? Json() : Json(trend.limit_stage)},
                   {"reached_from_days", or_null(trend.reached_from_days)},
                   {"reached_to_days", or_null(trend.reached_to_days)},
                   {"words", say::trend(trend, show)}});
  return all;
}

Json misread(const job::Recheck& recheck) {
  Json all = Json::array();
  if (const auto* const why = std::get_if<job::ReadingsContradict>(&recheck.why_not))
    for (const job::Misread& each : why->likely)
      all.push_back({{"kind", say::word(each.kind)},
                     {"stage", each.stage.empty() ? Json() : Json(each.stage)},
                     {"channel", each.channel.instrument.empty() ? Json() : Json(name_of(each.channel))},
                     {"factor", each.factor},
                     {"weight", each.weight}});
  return all;
}

Json unseen(const job::Unseen& is) {
  return {{"support", is.rise_m > 0 ? Json(is.support.name) : Json()},
          {"rise_m", is.rise_m > 0 && std::isfinite(is.rise_m) ? Json(is.rise_m) : Json()},
          {"whole_run_m", is.whole_run_m > 0 ? Json(is.whole_run_m) : Json()},
          {"no_mark", is.no_mark},
          {"one_face", is.one_face},
          {"places_not_read", is.places_not_read}};
}

Json drift(const job::ExpectedDrift& drift, sheet::Show show) {
  return {{"reasons", say::drift_reasons(drift)},      {"sag_m", drift.sag_m},
          {"sag_sigma_m", drift.sag_sigma_m},          {"measured_share", drift.share},
          {"measured_share_sigma", drift.share_sigma}, {"verdict", say::word(drift.verdict)},
          {"words", say::drift(drift, show)}};
}

Json always_told(const sheet::RunSheet& run, const job::Recheck& recheck) {
  Json changes = Json::array(), apart = Json::array();
  for (const job::ChangeSeen& seen : recheck.seen) changes.push_back(change(seen));
  for (const auto& pair : recheck.cannot_be_told_apart) apart.push_back(say::twins(pair));
  return {{"run", run.title},
          {"from", recheck.from},
          {"to", recheck.to},
          {"stage_from", run.stages[std::size_t(recheck.from_stage)]},
          {"stage_to", run.stages[std::size_t(recheck.to_stage)]},
          {"days", recheck.drift.days},
          {"clock_ahead_from", recheck.from_clock.empty() ? Json() : Json(recheck.from_clock)},
          {"clock_ahead_to", recheck.to_clock.empty() ? Json() : Json(recheck.to_clock)},
          {"answer", say::word(recheck.answer)},
          {"reason", say::reason(run, recheck)},
          {"chi_squared", recheck.test.statistic},
          {"degrees_of_freedom", recheck.test.degrees_of_freedom},
          {"p_value", recheck.test.p_value},
          {"misread", misread(recheck)},
          {"heights_compared", recheck.heights_compared},
          {"marks", recheck.marks},
          {"causes", causes(recheck, run.show)},
          {"changes", std::move(changes)},
          {"cannot_be_told_apart", std::move(apart)},
          {"expected_drift", drift(recheck.drift, run.show)},
          {"stations", stations(recheck)},
          {"level_error_from_m", recheck.level.from_m},
          {"level_error_from_sigma_m", recheck.level.from_sigma_m},
          {"level_error_to_m", recheck.level.to_m},
          {"level_error_to_sigma_m", recheck.level.to_sigma_m},
          {"level_allowed_m", recheck.tolerance.level_m > 0 ? Json(recheck.tolerance.level_m) : Json()},
          {"past_tolerance", recheck.level.verdict == job::ToleranceVerdict::past},
          {"tolerance", say::word(recheck.level.verdict)},
          {"chance_within_tolerance", recheck.level.verdict == job::ToleranceVerdict::not_asked
                                          ? Json()
                                          : Json(recheck.level.chance_within)},
          {"unseen", unseen(recheck.unseen)},
          {"trends", trends(recheck, run.show)},
          {"remarks", say::remarks(recheck, run.show)}};
}

}  // namespace

nlohmann::ordered_json recheck_json(const sheet::RunSheet& run, const job::Recheck& recheck) {
  Json json = always_told(run, recheck);
  if (recheck.level.straight) {
    json["straightness"] = straightness_json(*recheck.level.straight);
    json["straightness"]["departure_sigma_m"] = recheck.level.straight->sigma_m;
  }
  for (const job::Remark& remark : recheck.remarks)
    if (const auto* const taken_off = std::get_if<job::WarmthTakenOff>(&remark))
      json["warmth"] = warmth_json(taken_off->warmth);
  return json;
}

}  // namespace hangtrue::json
