#include "firmware-host/json/fit.hpp"

#include <nlohmann/json.hpp>

#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/doubts.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::json {

nlohmann::ordered_json warmth_json(const job::Warmth& warmth) {
  using Json = nlohmann::ordered_json;
  if (warmth.supports.empty()) return {};
  const auto or_null = [](const std::optional<double>& value) { return value ? Json(*value) : Json(); };
  Json supports = Json::array();
  for (const job::Grown& each : warmth.supports)
    supports.push_back({{"support", each.support}, {"rise_m", each.rise_m}, {"sigma_m", each.sigma_m}});
  return {{"stood_C", or_null(warmth.stood_C)}, {"mean_C", or_null(warmth.mean_C)}, {"supports", supports}};
}

nlohmann::ordered_json fit_json(const sheet::RunSheet& run, const job::FitReport& report) {
  using Json = nlohmann::ordered_json;
  Json json;
  json["stage"] = run.stages[std::size_t(report.stage)];
  json["status"] = say::word(report.status);
  const auto column = [&](const char* name, auto member) {
    Json values = Json::array();
    for (const fit::StationShape<double>& station : report.stations) values.push_back(station.*member);
    json[name] = std::move(values);
  };
  using Shape = fit::StationShape<double>;
  column("at_m", &Shape::at_m);
  column("height_m", &Shape::height_m);
  column("height_sigma_m", &Shape::height_sigma_m);
  column("height_less_mean_sigma_m", &Shape::height_less_mean_sigma_m);
  column("slope_rad", &Shape::slope_rad);
  column("slope_sigma_rad", &Shape::slope_sigma_rad);
  column("roll_rad", &Shape::roll_rad);
  column("roll_sigma_rad", &Shape::roll_sigma_rad);
  column("tilt_and_height_m", &Shape::tilt_and_height_m);
  column("bent_by_supports_m", &Shape::bent_by_supports_m);
  column("sag_m", &Shape::sag_m);
  column("bow_m", &Shape::bow_m);
  column("sag_to_come_m", &Shape::sag_to_come_m);
  Json parameters = Json::array();
  for (const job::UnknownEstimate& each : report.parameters)
    parameters.push_back({{"name", name_of(each.id)},
                          {"value", each.estimate.value},
                          {"sigma", each.estimate.sigma},
                          {"prior_value", each.estimate.prior_value},
                          {"prior_sigma", each.estimate.prior_sigma},
                          {"learned", each.estimate.learned}});
  json["parameters"] = std::move(parameters);
  json["chi_squared"] = report.self_test.chi_squared;
  json["degrees_of_freedom"] = report.self_test.degrees_of_freedom;
  json["p_value"] = report.self_test.p_value;
  json["holds"] = report.self_test.outcome == fit::TestOutcome::holds;
  Json aside = Json::array();
  for (std::size_t i = 0; i < report.judgements.size(); ++i)
    if (report.judgements[i].verdict != fit::Verdict::kept)
      aside.push_back({{"row", i + 1},
                       {"reason", say::aside_words(report.judgements[i])},
                       {"normalised", report.judgements[i].normalised}});
  json["set_aside"] = std::move(aside);
  Json movements = Json::array(), bearing = Json::array();
  for (const job::FoundMovement& each : report.movements)
    movements.push_back({{"name", name_of(each.what)},
                         {"value", each.by.value},
                         {"sigma", each.by.sigma},
                         {"after_row", each.after_row},
                         {"words", say::movement_words(run, each)}});
  json["movements"] = std::move(movements);
  for (const job::BearingOption& option : report.bearing)
    bearing.push_back({{"lifted", option.lifted}, {"probability", option.probability}});
  json["bearing"] = std::move(bearing);
  Json causes = Json::array();
  for (const job::LikelierCause& cause : report.causes)
    causes.push_back({{"cause", say::cause_words(cause, run.show)}, {"weight", cause.weight}});
  json["causes"] = std::move(causes);
  Json repeats = Json::array();
  for (const job::Repeats& each : report.repeats)
    repeats.push_back({{"channel", name_of(each.channel)},
                       {"groups", each.groups},
                       {"degrees_of_freedom", each.degrees_of_freedom},
                       {"pooled_sigma", each.pooled_sigma},
                       {"stated_sigma", each.stated_sigma},
                       {"p_value", each.p_value},
                       {"verdict", say::word(each.verdict)}});
  json["repeats"] = std::move(repeats);
  json["warnings"] = say::warnings(report.warnings, run.show);
  if (const std::string too_well = say::too_well_words(report); !too_well.empty())
    json["warnings"].push_back(too_well);
  if (const std::string warmth = say::warmth_note(run, report); !warmth.empty())
    json["warnings"].push_back(warmth);
  if (const Json warmth = warmth_json(report.warmth); !warmth.empty()) json["warmth"] = warmth;
  if (report.next)
    json["next_reading"] = {{"at_m", report.next->at_m},
                            {"channel", word(report.next->channel)},
                            {"sigma_after_m", report.next->sigma_after_m},
                            {"sigma_now_m", report.next->sigma_now_m},
                            {"instrument", report.next->instrument},
                            {"face", report.next->face},
                            {"edge", say::word(report.next->edge)}};
  else
    json["next_reading"] = nullptr;
  return json;
}

}  // namespace hangtrue::json
