// What was assumed and what was measured: of the last survey, and survey by survey.
#include <algorithm>

#include "firmware-host/say/history.hpp"
#include "firmware-host/say/unknown.hpp"
#include "tools/report/as_built/writer.hpp"

namespace hangtrue::report {

namespace {

constexpr std::size_t kMostSurveys = 4;  // with a column each
/// An unknown of which the readings took away less than this share of the variance counts as assumed. Ours, no source.
constexpr double kLeastLearned = 0.05;

const job::UnknownEstimate* estimate_in(const job::FittedSurvey& survey, const job::UnknownId& id) {
  for (const job::UnknownEstimate& each : survey.session->report().parameters)
    if (each.id == id) return &each;
  return nullptr;
}

Table survey_table(const AsBuiltWriter& of) {
  Table table{of.said("Surveys of this run, in order"),
              columns(of.said("survey|stage|begun (UTC)|>readings used|fit|went into the next")),
              {}};
  for (const job::FittedSurvey& survey : of.from.history.surveys) {
    const book::SurveyRecord& record = survey.booked.record;
    const job::FitReport* const fit = survey.session ? &survey.session->report() : nullptr;
    const std::string went = survey.not_taught ? say::not_taught(of.run, *survey.not_taught)
                             : survey.moved.empty()
                                 ? of.said("all that lasts")
                                 : of.said("all that lasts, but where supports stand: some were moved");
    table.rows.push_back({{record.begun.id, record.begun.stage, minute_of(record.time),
                           fit ? std::to_string(fit->self_test.degrees_of_freedom) : "-",
                           of.said(!fit                                                ? "none"
                                   : fit->self_test.outcome == fit::TestOutcome::holds ? "holds"
                                                                                       : "does not hold"),
                           went}});
  }
  return table;
}

/// The sigma of each unknown that lasts: before, and after each of those surveys.
Table sigma_table(const AsBuiltWriter& of, const std::vector<const job::FittedSurvey*>& surveys) {
  Table table{of.said("Sigma of what lasts, survey by survey"), columns(of.said("what|>before, sigma")), {}};
  for (const job::FittedSurvey* survey : surveys)
    table.columns.push_back({of.text("after {}", survey->booked.record.begun.id), Align::right});
  table.columns.push_back({of.said("found at last"), Align::right});
  for (const job::UnknownEstimate& unknown : surveys.back()->session->report().parameters) {
    const job::UnknownId& id = unknown.id;
    if (id.of == job::UnknownOf::datum_height || id.of == job::UnknownOf::datum_tilt) continue;
    const job::UnknownEstimate* first = nullptr;
    std::vector<std::string> after;
    for (const job::FittedSurvey* survey : surveys) {
      const job::UnknownEstimate* const found = estimate_in(*survey, id);
      if (first == nullptr) first = found;
      after.push_back(found ? of.sigma_of(found->found()) : "-");
    }
    Row row{{say::name_words(id, of.show), first ? of.sigma_of(first->assumed()) : "-"}};
    row.cells.insert(row.cells.end(), after.begin(), after.end());
    row.cells.push_back(of.value(unknown.found()));
    table.rows.push_back(std::move(row));
  }
  table.note = of.said(
      "Stiffness, springs, loads, bow, zero errors and heights of stable marks last from survey to survey; "
      "where supports stand lasts until "
      "one is moved; where the laser stood never does.");
  return table;
}

}  // namespace

void AsBuiltWriter::learned() {
  document.add(Heading{said("What was assumed and what was measured")});
  Table table{text("Unknowns of the fit of survey {}", survey_id()),
              columns(said("what|>assumed|>sigma|>found|>sigma|>learned")),
              {}};
  for (const job::UnknownEstimate& unknown : fit.parameters) {
    const double learned = std::max(0.0, unknown.estimate.learned);
    table.rows.push_back(
        {{say::name_words(unknown.id, show), value(unknown.assumed()), sigma_of(unknown.assumed()),
          value(unknown.found()), sigma_of(unknown.found()), percentage(learned)},
         false,
         learned < kLeastLearned});
  }
  table.note = said(
      "Learned: the share of the variance assumed beforehand that the readings took away. In italics: less "
      "than 5 %, an assumption and no "
      "measurement. A sigma of a support's rise includes the common height of run and datum, which no "
      "reading without a stable mark knows.");
  document.add(std::move(table));
}

void AsBuiltWriter::taught() {
  if (from.history.surveys.size() < 2) return;
  document.add(Heading{said("What each survey taught")});
  document.add(survey_table(*this));
  std::vector<const job::FittedSurvey*> fitted;
  for (const job::FittedSurvey& survey : from.history.surveys)
    if (survey.session) fitted.push_back(&survey);
  if (fitted.size() > kMostSurveys) fitted.erase(fitted.begin(), fitted.end() - kMostSurveys);
  if (!fitted.empty()) document.add(sigma_table(*this, fitted));
}

}  // namespace hangtrue::report
