// hangtrue fit RUN.toml --readings R.csv --stage NAME [--kit KIT.toml], or hangtrue fit --book B --survey ID: the fit of a survey.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/json/fit.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/history.hpp"
#include "tools/hangtrue/colour.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

Tone tone_of(fit::TestOutcome outcome) {
  if (outcome == fit::TestOutcome::holds) return Tone::good;
  return outcome == fit::TestOutcome::fails ? Tone::bad : Tone::caution;
}

}  // namespace

void add_fit(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand("fit", "fit a survey's readings to the predicted shape");
  const auto source = std::make_shared<SurveySource>();
  source->add_options(*command);
  command->callback([source, &exit_code] {
    const auto survey = fitted(*source);
    const job::FitReport& report = survey->session->report();
    if (source->json)
      std::cout << json::fit_json(survey->run, report).dump() << '\n';
    else
      show(say::fit_view(survey->run, report) + say::history_view(survey->run, survey->history),
           {{std::string(say::outcome_words(report.self_test.outcome)), tone_of(report.self_test.outcome)}});
    if (report.status == fit::Status::not_settled) {
      std::cerr << "hangtrue: the fit did not settle: the readings contradict each other or the sheet too "
                   "much; see those farthest "
                   "off, and whether a face or a unit is mistaken\n";
      exit_code = kCouldNot;
    }
  });
}

}  // namespace hangtrue::tools
