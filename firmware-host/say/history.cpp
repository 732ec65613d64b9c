#include "firmware-host/say/history.hpp"

#include <algorithm>

#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/table.hpp"

namespace hangtrue::say {

namespace {

constexpr std::size_t kMostColumns = 3;
constexpr double kLearned =
    0.9;  // of the sigma as assumed; what is not brought below is not worth a line. No source.

const job::UnknownEstimate* estimate(const job::FittedSurvey& survey, const job::UnknownId& id) {
  const std::vector<job::UnknownEstimate>& all = survey.session->report().parameters;
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const job::UnknownEstimate& each) { return each.id == id; });
  return found == all.end() ? nullptr : &*found;
}

}  // namespace

std::string not_taught(const sheet::RunSheet& run, const job::NotTaught& survey) {
  const std::string& id = survey.survey;
  if (const auto* const stage = std::get_if<job::StageNotOnSheet>(&survey.why))
    return text(run.show, "survey {}: the run sheet has no stage \"{}\"", id, stage->stage);
  if (const auto* const fault = std::get_if<job::Fault>(&survey.why))
    return text(run.show, "survey {} cannot be fitted: {}", id, complaint(run, *fault).text());
  return text(run.show, "survey {}: its fit does not hold, so nothing of it is carried on", id);
}

std::string history_view(const sheet::RunSheet& run, const job::History& history) {
  std::vector<const job::FittedSurvey*> told;
  for (const job::FittedSurvey& survey : history.surveys)
    if (survey.session && (!survey.not_taught || &survey == &history.last())) told.push_back(&survey);
  if (told.size() < 2 || !history.last().session) return {};
  const std::size_t first = told.size() - std::min(told.size(), kMostColumns);
  std::string view = "What each survey taught (sigma)\n" + column("", 32) + right_set("assumed", 12);
  for (std::size_t k = first; k < told.size(); ++k)
    view += right_set(told[k]->booked.record.begun.id + ", " + told[k]->booked.record.begun.stage, 18);
  view += '\n';
  for (const job::UnknownEstimate& last : history.last().session->report().parameters) {
    const job::UnknownEstimate* earliest = nullptr;
    for (const job::FittedSurvey* survey : told)
      if (earliest == nullptr) earliest = estimate(*survey, last.id);
    if (earliest == &last || !(last.estimate.sigma < kLearned * earliest->estimate.prior_sigma)) continue;
    const auto shown = [&](double size) { return sigma({kind_of(last.id), 0, size}, run.show); };
    view += column(name_of(last.id), 32) + right_set(shown(earliest->estimate.prior_sigma), 12);
    for (std::size_t k = first; k < told.size(); ++k) {
      const job::UnknownEstimate* const then = estimate(*told[k], last.id);
      view += right_set(then == nullptr ? "" : shown(then->estimate.sigma), 18);
    }
    view += '\n';
  }
  return view;
}

}  // namespace hangtrue::say
