// hangtrue shims RUN.toml --readings R.csv --stage NAME [--kit KIT.toml]: shim card and hold point.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/table.hpp"
#include "tools/hangtrue/colour.hpp"
#include "tools/hangtrue/progress.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

Tone tone_of(adjust::HoldPoint answer) {
  switch (answer) {
    case adjust::HoldPoint::ready_to_bolt:
      return Tone::good;
    case adjust::HoldPoint::shims_cannot:
      return Tone::bad;
    case adjust::HoldPoint::shim_first:
    case adjust::HoldPoint::read_again:
      break;
  }
  return Tone::caution;
}

}  // namespace

void add_shims(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("shims", "shim card: the moves to make now, and whether to bolt");
  const auto source = std::make_shared<SurveySource>();
  source->add_options(*command);
  command->callback([source, &exit_code] {
    const auto survey = fitted(*source);
    const auto made = [&] {
      const Progress progress("choosing the moves");
      return job::make_card(*survey->session);
    }();
    if (!made) stop_for({say::complaint(survey->run, made.fault())});
    const job::Card& card = made.value();
    if (source->json)
      std::cout << json::shims_json(survey->run, survey->session->report(), card).dump() << '\n';
    else
      show(say::card_view(survey->run, survey->session->report(), card),
           {{say::in_capitals(std::string(adjust::short_name(card.hold_point.answer))),
             tone_of(card.hold_point.answer)},
            {say::cautions(), Tone::caution}});
    const adjust::HoldPoint answer = card.hold_point.answer;
    if (answer == adjust::HoldPoint::shims_cannot || answer == adjust::HoldPoint::read_again)
      exit_code = kAnswerIsNo;
  });
}

}  // namespace hangtrue::tools
