// hangtrue predict RUN.toml: shape, reactions and limits of every stage.
#include <cmath>
#include <iostream>
#include <memory>
#include <optional>
#include <utility>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/job/finished_level.hpp"
#include "firmware-host/json/predict.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/predict.hpp"
#include "firmware-host/say/sheet_doubts.hpp"
#include "firmware-host/sheet/units.hpp"
#include "tools/hangtrue/colour.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

void add_predict(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("predict", "shape, reactions and limits for each stage, as the sheet has it");
  struct Arguments {
    std::string run, after;
    bool json = false;
  };
  const auto arguments = std::make_shared<Arguments>();
  command->add_option("RUN", arguments->run, "the run sheet (TOML)")->required();
  command->add_option(
      "--after", arguments->after,
      "how it is then, creep included: a stretch of time such as \"1 year\"; else the sheet's own");
  command->add_flag("--json", arguments->json, "for programs, SI units");
  command->callback([arguments, &exit_code] {
    const std::optional<double> asked_days = sheet::parse_days(arguments->after);
    if (!arguments->after.empty() && !asked_days)
      throw Stop{kBadInput, "hangtrue: --after \"" + arguments->after +
                                "\": a stretch of time such as \"365 days\" or \"1 year\"\n"};
    const QuestionedRun questioned = question_run(arguments->run);
    const sheet::RunSheet& run = questioned.sheet;
    if (!arguments->json) std::cerr << say::doubts_view(run, questioned.doubts);
    job::SolvedRun solved(run);
    beam::Solver<double>& solver = solved.solver();
    const job::FinishedLevel level = job::finished_level(run, solver);
    std::optional<job::BestSetting> best;
    if (level.within == false) {
      auto found = job::best_setting(run);
      if (found.ok())
        best = std::move(found).value();
      else
        std::cerr << "How well it could be set is not known: " << say::complaint(run, found.fault()).text()
                  << '\n';
    }
    std::optional<job::PredictedLater> later;
    if (const auto days = asked_days ? asked_days : run.tolerance.after_days)
      later = job::predicted_later(run, solver, *days);
    if (arguments->json)
      std::cout << json::prediction_json(run, solver, level, best ? &*best : nullptr, questioned.doubts,
                                         later ? &*later : nullptr)
                       .dump()
                << '\n';
    else
      show(say::prediction_view(run, solver, level, best ? &*best : nullptr, later ? &*later : nullptr),
           level.within ? std::vector<Stress>{{std::string(say::as_written_words(*level.within)),
                                               *level.within ? Tone::good : Tone::bad}}
                        : std::vector<Stress>());
    // "No" where the run will not be level, the sheet's own limit is exceeded, or a rating.
    if (level.within == false) exit_code = kAnswerIsNo;
    if (later && level.within && later->within != true) exit_code = kAnswerIsNo;
    const int finished = run.tolerance.stage;
    if (run.tolerance.span_ratio)
      for (const job::Span& span : job::spans(run, solver, finished))
        if (!span.overhang && span.ratio() < *run.tolerance.span_ratio) exit_code = kAnswerIsNo;
    for (int stage = 0; stage <= finished; ++stage)
      for (int i = 0; i < int(run.supports.size()); ++i) {
        const std::optional<double> rating = run.supports[std::size_t(i)].rating_N;
        if (rating && std::abs(solver.support(stage, i).force_N) > *rating) exit_code = kAnswerIsNo;
      }
  });
}

}  // namespace hangtrue::tools
