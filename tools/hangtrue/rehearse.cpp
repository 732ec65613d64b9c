// hangtrue rehearse RUN.toml KIT.toml: simulated instruments on pseudo-terminals, so that the job can be tried without any.
//
// Walks the run as an installer would, with the shipped daemon at the other end, and at the end puts the truth beside what
// the daemon found. With --pull an instrument loses its plug on the way. With --play it only plays the instruments and says
// where they are.
#include <chrono>
#include <csignal>
#include <filesystem>
#include <iostream>
#include <memory>
#include <thread>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "tools/hangtrue/subcommand.hpp"
#include "tools/rehearsal/daemon_run.hpp"

namespace hangtrue::tools {

namespace {

volatile std::sig_atomic_t g_stop = 0;

struct Arguments {
  std::string run, kit, stage, daemon, book, pull;
  std::uint64_t seed = 1;
  double rate = 10, seconds = 0;
  int set_ups = 1;
  bool json = false, play = false, verbose = false, no_faults = false;
};

// hangtrued beside this command: ../firmware-host/hangtrued of the build, or the same directory once installed.
std::string daemon_beside() {
  const std::filesystem::path here = std::filesystem::read_symlink("/proc/self/exe").parent_path();
  for (const std::filesystem::path& place :
       {here / "hangtrued", here.parent_path() / "firmware-host" / "hangtrued"})
    if (std::filesystem::exists(place)) return place.string();
  throw Stop{kCouldNot, "hangtrue: hangtrued is not beside this command; say where with --daemon\n"};
}

int play(rehearsal::Rehearsal& rehearsal, const sheet::KitSheet& kit, const Arguments& arguments) {
  for (std::size_t i = 0; i < kit.instruments.size(); ++i)
    std::cout << kit.instruments[i].name << ": " << rehearsal.ports()[i].string() << '\n';
  std::cout << "kit sheet with these ports: " << rehearsal.kit_path().string() << '\n'
            << "Playing at the first station. Ctrl-C ends it." << std::endl;
  std::signal(SIGINT, [](int) { g_stop = 1; });
  std::signal(SIGTERM, [](int) { g_stop = 1; });
  rehearsal.start();
  rehearsal.place({});
  const auto began = std::chrono::steady_clock::now();
  while (g_stop == 0 && (arguments.seconds <= 0 || std::chrono::steady_clock::now() - began <
                                                       std::chrono::duration<double>(arguments.seconds)))
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  rehearsal.stop();
  return kDone;
}

std::size_t instrument_named(const sheet::KitSheet& kit, const std::string& name) {
  std::string names;
  for (std::size_t i = 0; i < kit.instruments.size(); ++i) {
    if (kit.instruments[i].name == name) return i;
    names += (names.empty() ? "\"" : ", \"") + kit.instruments[i].name + '"';
  }
  throw Stop{kBadInput, "hangtrue: --pull \"" + name + "\", but " + kit.file + " has " + names + '\n'};
}

int run_all(const Arguments& arguments) {
  const sheet::RunSheet run = load_run(arguments.run);
  const sheet::KitSheet kit = load_kit(arguments.kit, run);
  rehearsal::Options options;
  options.seed = arguments.seed;
  options.samples_per_s = arguments.rate;
  options.handling_s = 10 / arguments.rate;
  if (arguments.no_faults) options.faults = rehearsal::kNoFaults;
  if (!arguments.stage.empty()) options.stage = stage_named(run, arguments.stage, arguments.run);
  rehearsal::Rehearsal rehearsal(run, kit, options);
  if (arguments.play) return play(rehearsal, kit, arguments);

  rehearsal::WalkOptions walk_options;
  walk_options.set_ups = arguments.set_ups;
  const std::vector<rehearsal::Step> steps = rehearsal::walk(run, kit, walk_options);
  rehearsal::DaemonRun daemon;
  daemon.daemon = arguments.daemon.empty() ? daemon_beside() : arguments.daemon;
  daemon.run_path = arguments.run;
  daemon.book_path =
      arguments.book.empty() ? (rehearsal.directory() / "rehearsal.levelbook").string() : arguments.book;
  if (!arguments.verbose) daemon.log_path = (rehearsal.directory() / "daemon.log").string();
  if (!arguments.pull.empty()) daemon.pull = instrument_named(kit, arguments.pull);
  const bool tells = !arguments.json && !arguments.verbose;
  bool within_line = false;
  daemon.on_step = [&](std::size_t done) {
    if (!tells) return;
    std::cout << "\r  walking the run: " << done << " of " << steps.size() << " placings read" << std::flush;
    within_line = true;
  };
  daemon.on_note = [&](const std::string& words) {
    if (arguments.json) return;
    std::cout << (within_line ? "\n  " : "  ") << words << std::endl;
    within_line = false;
  };
  daemon.on_line = [&](const std::string& line) {
    if (arguments.verbose) std::cerr << line << '\n';
    if (line.rfind("refused ", 0) == 0 && !arguments.verbose) std::cerr << '\n' << line << '\n';
  };
  if (!arguments.json)
    std::cout << "Rehearsal, seed " << arguments.seed
              << ": an invented truth, simulated instruments on pseudo-terminals.\n";
  rehearsal.start();
  const rehearsal::Outcome outcome =
      rehearsal::run_with_daemon(rehearsal, run.stages[std::size_t(options.stage)], steps, daemon);
  rehearsal.stop();
  if (outcome.exit_code != 0 || outcome.result_json.empty())
    throw Stop{kCouldNot, "hangtrue: the daemon ended with " + std::to_string(outcome.exit_code) +
                              " and gave " + (outcome.result_json.empty() ? "no card\n" : "a card\n")};
  const rehearsal::Comparison comparison = rehearsal::compare(run, rehearsal.truth(), outcome.result_json);
  if (arguments.json) {
    nlohmann::ordered_json json = nlohmann::ordered_json::parse(outcome.result_json);
    json["truth"] = {{"tilt_rad", comparison.tilt_truth_rad},
                     {"sag_m", comparison.sag_truth_m},
                     {"largest_height_difference_m", comparison.largest_difference_m},
                     {"level_error_before_m", comparison.level_error_truth_m},
                     {"level_error_after_m", comparison.level_error_after_truth_m}};
    std::cout << json.dump() << '\n';
    return kDone;
  }
  std::cout << "\n\n";
  for (const std::string& line : outcome.card) std::cout << line << '\n';
  std::cout << '\n' << rehearsal::words(comparison, run.show);
  std::cout << rehearsal::words(rehearsal.faults()) << ".\n";
  if (!arguments.book.empty()) std::cout << "Level book: " << arguments.book << '\n';
  return kDone;
}

}  // namespace

void add_rehearse(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("rehearse", "try the whole job with simulated instruments on pseudo-terminals");
  const auto arguments = std::make_shared<Arguments>();
  command->add_option("RUN", arguments->run, "the run sheet (TOML)")->required();
  command->add_option("KIT", arguments->kit, "the kit sheet (TOML); its ports are replaced")->required();
  command->add_option("--stage", arguments->stage, "the stage to survey; the first unless given");
  command->add_option("--seed", arguments->seed, "of the invented truth, 1 unless given");
  command->add_option("--rate", arguments->rate, "samples a second, 10 unless given")
      ->check(CLI::Range(0.5, 2000.0));
  command->add_option("--set-ups", arguments->set_ups, "placings of the laser datum")
      ->check(CLI::Range(1, kMaxSetUps));
  command->add_option("--daemon", arguments->daemon, "path of hangtrued");
  command->add_option("--book", arguments->book, "keep the level book here");
  command->add_option(
      "--pull", arguments->pull,
      "the name of an instrument whose plug is pulled in the middle of the walk and put back");
  command->add_flag("--no-faults", arguments->no_faults, "nothing torn, garbled, unanswered or outlying");
  command->add_flag("--play", arguments->play, "only play the instruments; start hangtrued yourself");
  command->add_option("--seconds", arguments->seconds, "with --play: end after so long");
  command->add_flag("--verbose", arguments->verbose, "every line between walk and daemon, on standard error");
  command->add_flag("--json", arguments->json, "for programs, SI units");
  command->callback([arguments, &exit_code] { exit_code = run_all(*arguments); });
}

}  // namespace hangtrue::tools
