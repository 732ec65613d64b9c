#include "firmware-host/say/words.hpp"

#include <fmt/format.h>

#include "firmware-host/say/language.hpp"
#include "firmware-host/sheet/number.hpp"

namespace hangtrue::say {

std::string_view word(survey::Edge edge) {
  switch (edge) {
    case survey::Edge::left:
      return "left";
    case survey::Edge::middle:
      return "middle";
    case survey::Edge::right:
      return "right";
  }
  return "";
}

std::string_view word(fit::Status status) {
  switch (status) {
    case fit::Status::not_run:
      return "not run";
    case fit::Status::prior_only:
      return "nothing measured";
    case fit::Status::live:
      return "live";
    case fit::Status::settled:
      return "settled";
    case fit::Status::not_settled:
      return "not settled";
  }
  return "";
}

std::string_view word(adjust::Where where) {
  switch (where) {
    case adjust::Where::whole:
      return "whole";
    case adjust::Where::near:
      return "near";
    case adjust::Where::far:
      return "far";
    case adjust::Where::left:
      return "left";
    case adjust::Where::right:
      return "right";
    case adjust::Where::near_left:
      return "near left";
    case adjust::Where::near_right:
      return "near right";
    case adjust::Where::far_left:
      return "far left";
    case adjust::Where::far_right:
      return "far right";
  }
  return "";
}

std::string_view word(fit::ScatterVerdict verdict) {
  switch (verdict) {
    case fit::ScatterVerdict::not_tested:
      return "not tested";
    case fit::ScatterVerdict::as_stated:
      return "as stated";
    case fit::ScatterVerdict::larger_than_stated:
      return "larger than stated";
  }
  return "";
}

std::string fine_slope_words(double slope_rad, sheet::Show show) {
  return show.is_metric()
             ? sheet::with_decimal_sign(sheet::show_number(slope_rad * 1e3, 3), show.language) + " mm/m"
             : sheet::with_decimal_sign(sheet::show_number(slope_rad * 12, 5), show.language) + " in/ft";
}

sheet::Shown temperature_shown(double temperature_C, sheet::Show show) {
  return show.is_metric() ? sheet::Shown{fmt::format("{:.0f}", temperature_C), "C"}
                          : sheet::Shown{fmt::format("{:.0f}", temperature_C * 1.8 + 32), "F"};
}
std::string temperature_words(double temperature_C, sheet::Show show) {
  return temperature_shown(temperature_C, show).text();
}

std::string date_of(book::Time time) { return book::rfc3339(time).substr(0, 10); }

std::string listed(const std::vector<std::string>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i)
    text += (i == 0 ? "" : i + 1 == words.size() ? " and " : ", ") + words[i];
  return text;
}

std::string supports_of(const sheet::RunSheet& run) {
  std::vector<std::string> names;
  for (const sheet::SupportEntry& support : run.supports) names.push_back(support.name);
  return listed(names, run.show);
}

std::string stages_of(const sheet::RunSheet& run) {
  std::string names;
  for (const std::string& name : run.stages) names += (names.empty() ? "\"" : ", \"") + name + '"';
  return names;
}

std::string in_quotes(std::string_view name) { return '"' + std::string(name) + '"'; }

std::string percent(double chance) {
  if (chance > 0.999) return "over 99.9 %";
  if (chance < 0.001) return "under 0.1 %";
  return fmt::format("{:.1f}", 100 * chance) + " %";
}

}  // namespace hangtrue::say
