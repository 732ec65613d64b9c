// hangtrue stations RUN.toml KIT.toml [--stage NAME] [--wanted "0.2 mm"] [--for levelling|recheck]: before going to site, where
// to read and how often.
#include <iostream>
#include <memory>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/job/plan.hpp"
#include "firmware-host/json/stations.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/plan.hpp"
#include "firmware-host/sheet/units.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

namespace {

struct StationsArguments {
  std::string run, kit, stage, wanted, what = "levelling";
  bool json = false;
};

job::PlanFor purpose(const std::string& what) {
  if (what == "levelling") return job::PlanFor::levelling;
  if (what == "recheck") return job::PlanFor::recheck;
  stop_for({{"command line", 0, "--for", '"' + what + '"', "levelling or recheck"}});
}

double wanted_m(const sheet::RunSheet& run, const StationsArguments& arguments, job::PlanFor what) {
  if (arguments.wanted.empty()) {
    if (!(run.tolerance.level_m > 0))
      stop_for({{run.file, 0, "tolerance.level", "none",
                 "how level the finished run must be, such as \"1.5 mm\"; or --wanted \"0.2 mm\""}});
    return run.tolerance.level_m *
           (what == job::PlanFor::levelling ? job::kLevellingShare : job::kRecheckShare);
  }
  const auto length = sheet::parse_quantity(arguments.wanted, sheet::Kind::length);
  const std::string expected = "a length above zero with its unit, such as \"0.2 mm\" or \"1/64 in\"";
  if (!length.ok())
    stop_for({{"command line", 0, "--wanted", '"' + arguments.wanted + "\" (" + length.fault().what + ')',
               expected}});
  if (!(length.value() > 0))
    stop_for({{"command line", 0, "--wanted", '"' + arguments.wanted + '"', expected}});
  return length.value();
}

}  // namespace

void add_stations(CLI::App& app, int& exit_code) {
  CLI::App* const command = app.add_subcommand(
      "stations", "before going to site: where to read, how often, and what cannot be told apart");
  const auto arguments = std::make_shared<StationsArguments>();
  command->add_option("RUN", arguments->run, "the run sheet (TOML)")->required();
  command->add_option("KIT", arguments->kit, "the kit sheet (TOML)");
  command->add_option(
      "--stage", arguments->stage,
      "the stage to read at; unless said the first with the finished run's supports, or for a "
      "recheck the finished one");
  command->add_option(
      "--wanted", arguments->wanted,
      "how sure the finished heights, one sigma, unless said a sixth of the tolerance; for a recheck the "
      "rise of a support to be found, a third of it");
  command->add_option("--for", arguments->what, "levelling (unless said) or recheck");
  command->add_flag("--json", arguments->json, "for programs, SI units");
  command->callback([arguments, &exit_code] {
    job::PlanWish wish;
    wish.what = purpose(arguments->what);
    const sheet::RunSheet run = load_run(arguments->run);
    if (arguments->kit.empty())
      stop_for({{"command line", 0, "KIT", "no kit sheet",
                 "the instruments that will be there: a kit sheet after the run sheet"}});
    const sheet::KitSheet kit = load_kit(arguments->kit, run);
    wish.stage = arguments->stage.empty() ? job::planned_stage(run, wish.what)
                                          : stage_named(run, arguments->stage, arguments->run);
    wish.wanted_m = wanted_m(run, *arguments, wish.what);
    const auto made = job::make_plan(run, kit, wish);
    if (!made.ok()) stop_for({say::complaint(run, made.fault())});
    if (arguments->json)
      std::cout << json::stations_json(run, made.value()).dump() << '\n';
    else
      std::cout << say::plan_view(run, made.value());
    if (!made.value().reached) exit_code = kAnswerIsNo;
  });
}

}  // namespace hangtrue::tools
