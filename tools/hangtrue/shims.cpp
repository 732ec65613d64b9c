// hangtrue shims RUN.toml --readings R.csv --stage NAME [--kit KIT.toml]: shim card and hold point.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/complaint.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

void add_shims(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("shims", "shim card: the moves to make now, and whether to bolt");
  const auto source = std::make_shared<SurveySource>();
  source->add_options(*command);
  command->callback([source, &exit_code] {
    const auto survey = fitted(*source);
    const auto made = job::make_card(*survey->session);
    if (!made) stop_for({say::complaint(survey->run, made.fault())});
    const job::Card& card = made.value();
    if (source->json)
      std::cout << json::shims_json(survey->run, survey->session->report(), card).dump() << '\n';
    else
      std::cout << say::card_view(survey->run, survey->session->report(), card);
    const adjust::HoldPoint answer = card.hold_point.answer;
    if (answer == adjust::HoldPoint::shims_cannot || answer == adjust::HoldPoint::read_again)
      exit_code = kAnswerIsNo;
  });
}

}  // namespace hangtrue::tools
