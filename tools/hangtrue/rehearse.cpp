// hangtrue rehearse RUN.toml KIT.toml: simulated instruments on pseudo-terminals, so that the job can be tried without any.
//
// Walks the run as an installer would, with the shipped daemon at the other end, and at the end puts the truth beside what
// the daemon found. With --pull an instrument loses its plug on the way. With --go-on the card's moves are made, and the run is
// read again, as built; with --later somebody comes back after so long, the daemon's clock set ahead, with a kit whose zero
// errors and datums are others, to a run of which a support has moved meanwhile (--sinks). With --stay the daemon stays with its page, and the
// instruments go where people at the page say. With --play it only plays the instruments, says where they are, and takes lines
// on standard input (tools/rehearsal/control.hpp).
#include <poll.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cmath>
#include <csignal>
#include <filesystem>
#include <iostream>
#include <memory>
#include <optional>
#include <utility>

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/units.hpp"
#include "tools/hangtrue/subcommand.hpp"
#include "tools/rehearsal/control.hpp"
#include "tools/rehearsal/daemon_run.hpp"

namespace hangtrue::tools {

namespace {

volatile std::sig_atomic_t g_stop = 0;

struct RehearseArguments {
  std::string run, kit, stage, daemon, book, pull, page, later, later_stage;
  std::vector<std::string> sinks;
  std::uint64_t seed = 1;
  double rate = 10, seconds = 0;
  int set_ups = 1;
  bool json = false, play = false, hush = false, stay = false, no_walk = false, verbose = false,
       no_faults = false, go_on = false;
};

void end_on_signals() {
  std::signal(SIGINT, [](int) { g_stop = 1; });
  std::signal(SIGTERM, [](int) { g_stop = 1; });
}

/// Lines of standard input as they come, without being held up by it.
class StandardInput {
 public:
  /// The next line; nothing where none has come within that time, or none will.
  std::optional<std::string> line(std::chrono::milliseconds patience) {
    if (const std::size_t end = pending_.find('\n'); end != std::string::npos) {
      std::string found = pending_.substr(0, end);
      pending_.erase(0, end + 1);
      return found;
    }
    pollfd wanted{ended_ ? -1 : STDIN_FILENO, POLLIN, 0};  // -1: waits for the time alone
    if (::poll(&wanted, 1, int(patience.count())) <= 0) return std::nullopt;
    std::array<char, 4096> chunk;
    const ssize_t size = ::read(STDIN_FILENO, chunk.data(), chunk.size());
    if (size > 0) {
      pending_.append(chunk.data(), std::size_t(size));
      return line(std::chrono::milliseconds(0));
    }
    ended_ = true;
    return std::nullopt;
  }
  [[nodiscard]] bool ended() const { return ended_; }

 private:
  std::string pending_;
  bool ended_ = false;
};

// hangtrued beside this command: ../firmware-host/hangtrued of the build, or the same directory once installed.
std::string daemon_beside() {
  const std::filesystem::path here = std::filesystem::read_symlink("/proc/self/exe").parent_path();
  for (const std::filesystem::path& place :
       {here / "hangtrued", here.parent_path() / "firmware-host" / "hangtrued"})
    if (std::filesystem::exists(place)) return place.string();
  throw Stop{kCouldNot, "hangtrue: hangtrued is not beside this command; say where with --daemon\n"};
}

int play(rehearsal::Rehearsal& rehearsal, const sheet::RunSheet& run, const sheet::KitSheet& kit,
         const RehearseArguments& arguments) {
  for (std::size_t i = 0; i < kit.instruments.size(); ++i)
    std::cout << kit.instruments[i].name << ": " << rehearsal.ports()[i].string() << '\n';
  std::cout << "kit sheet with these ports: " << rehearsal.kit_path().string() << '\n'
            << "Playing at the first station. Ctrl-C ends it." << std::endl;
  end_on_signals();
  rehearsal.hush(arguments.hush);
  rehearsal.start();
  rehearsal.place({});
  rehearsal::Control control(rehearsal, run, kit);
  StandardInput input;
  const auto began = std::chrono::steady_clock::now();
  while (g_stop == 0 && (arguments.seconds <= 0 || std::chrono::steady_clock::now() - began <
                                                       std::chrono::duration<double>(arguments.seconds)))
    if (const auto line = input.line(std::chrono::milliseconds(50)))
      std::cout << control.obey(*line) << std::endl;
  rehearsal.stop();
  return kDone;
}

/// What --sinks says: a support, and how it moves.
struct Sinks {
  std::string support;
  beam::Motions<double> by;
  std::string words;
};

Sinks sinks_of(const std::string& text, const sheet::RunSheet& run) {
  const auto complain = [&](const std::string& right) -> Stop {
    return Stop{kBadInput, "hangtrue: --sinks \"" + text + "\": " + right + '\n'};
  };
  const std::size_t equals = text.rfind('=');
  if (equals == std::string::npos)
    throw complain(
        "a support and how far it sinks, \"SUPPORT=0.8 mm\", or how it turns, \"SUPPORT:pitch=1 mm/m\"");
  Sinks sinks{text.substr(0, equals), {}, {}};
  int motion = 0;
  for (const auto& [ending, which] : {std::pair{":pitch", 1}, std::pair{":roll", 2}})
    if (sinks.support.ends_with(ending)) {
      motion = which;
      sinks.support.resize(sinks.support.size() - std::string_view(ending).size());
    }
  if (run.support(sinks.support) < 0) {
    std::string names;
    for (const sheet::SupportEntry& support : run.supports)
      names += (names.empty() ? "\"" : ", \"") + support.name + '"';
    throw complain(run.file + " has " + names);
  }
  const auto value = sheet::parse_quantity(text.substr(equals + 1), motion == 0   ? sheet::Kind::length
                                                                    : motion == 1 ? sheet::Kind::slope
                                                                                  : sheet::Kind::angle);
  if (!value.ok()) throw complain(motion == 0 ? "a length, such as 0.8 mm" : "a slope, such as 1 mm/m");
  sinks.by[motion] = motion == 0 ? -value.value() : value.value();
  sinks.words = "the " + sinks.support +
                (motion == 0 ? (value.value() < 0 ? " has risen by " : " has sunk by ") +
                                   sheet::show_fine(std::abs(value.value()), run.show)
                 : motion == 1 ? " has turned in pitch by " + sheet::show_slope(value.value(), run.show)
                               : " has turned in roll by " + sheet::show_slope(value.value(), run.show));
  return sinks;
}

std::size_t instrument_named(const sheet::KitSheet& kit, const std::string& name) {
  std::string names;
  for (std::size_t i = 0; i < kit.instruments.size(); ++i) {
    if (kit.instruments[i].name == name) return i;
    names += (names.empty() ? "\"" : ", \"") + kit.instruments[i].name + '"';
  }
  throw Stop{kBadInput, "hangtrue: --pull \"" + name + "\", but " + kit.file + " has " + names + '\n'};
}

/// The card, and the truth beside what was found.
void tell(const sheet::RunSheet& run, const rehearsal::Rehearsal& rehearsal,
          const rehearsal::Outcome& outcome, const RehearseArguments& arguments) {
  const rehearsal::Comparison comparison = rehearsal::compare(run, rehearsal.truth(), outcome.result_json);
  if (arguments.json) {
    nlohmann::ordered_json json = nlohmann::ordered_json::parse(outcome.result_json);
    json["truth"] = {{"tilt_rad", comparison.tilt_truth_rad},
                     {"sag_m", comparison.sag_truth_m},
                     {"largest_height_difference_m", comparison.largest_difference_m},
                     {"level_error_before_m", comparison.level_error_truth_m},
                     {"level_error_after_m", comparison.level_error_after_truth_m}};
    std::cout << json.dump() << std::endl;
    return;
  }
  std::cout << "\n\n";
  for (const std::string& line : outcome.card) std::cout << line << '\n';
  std::cout << '\n' << rehearsal::words(comparison, run.show);
  std::cout << rehearsal::words(rehearsal.faults()) << ".\n";
  if (!arguments.book.empty()) std::cout << "Level book: " << arguments.book << '\n';
}

int run_all(const RehearseArguments& arguments) {
  const sheet::RunSheet run = load_run(arguments.run);
  const sheet::KitSheet kit = load_kit(arguments.kit, run);
  rehearsal::Options options;
  options.seed = arguments.seed;
  options.samples_per_s = arguments.rate;
  options.handling_s = 10 / arguments.rate;
  if (arguments.no_faults) options.faults = rehearsal::kNoFaults;
  if (!arguments.stage.empty()) options.stage = stage_named(run, arguments.stage, arguments.run);
  std::vector<Sinks> sinks;
  for (const std::string& each : arguments.sinks) sinks.push_back(sinks_of(each, run));
  if (!arguments.later.empty() && !sheet::parse_days(arguments.later))
    throw Stop{kBadInput, "hangtrue: --later \"" + arguments.later +
                              "\": a stretch of time such as \"365 days\" or \"1 year\"\n"};
  rehearsal::Rehearsal rehearsal(run, kit, options);
  if (arguments.play) return play(rehearsal, run, kit, arguments);

  rehearsal::WalkOptions walk_options;
  walk_options.set_ups = arguments.set_ups;
  std::vector<rehearsal::Step> steps;
  if (!arguments.no_walk) steps = rehearsal::walk(run, kit, walk_options);
  rehearsal::DaemonRun daemon;
  if (!arguments.no_walk) daemon.scale_checks = rehearsal::scale_checks(kit);
  daemon.daemon = arguments.daemon.empty() ? daemon_beside() : arguments.daemon;
  daemon.run_path = arguments.run;
  daemon.book_path =
      arguments.book.empty() ? (rehearsal.directory() / "rehearsal.levelbook").string() : arguments.book;
  if (!arguments.verbose) daemon.log_path = (rehearsal.directory() / "daemon.log").string();
  if (!arguments.pull.empty()) daemon.pull = instrument_named(kit, arguments.pull);
  const bool tells = !arguments.json && !arguments.verbose;
  bool within_line = false;
  std::vector<std::string> addresses;  // of the page, and how to be let in
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
    if (line.starts_with("refused ") && !arguments.verbose) std::cerr << '\n' << line << '\n';
    if (line.starts_with("sealed ") && !arguments.json) daemon.on_note(line);
    for (const char* begin : {"page ", "pairing ", "trouble there is no page"})
      if (line.starts_with(begin)) addresses.push_back(line);
  };
  if (!arguments.json)
    std::cout << "Rehearsal, seed " << arguments.seed
              << ": an invented truth, simulated instruments on pseudo-terminals.\n";
  rehearsal::Control control(rehearsal, run, kit);
  StandardInput input;
  if (arguments.stay) {
    end_on_signals();
    daemon.ended = [&] { return g_stop != 0 || input.ended() || input.line({}).has_value(); };
    daemon.on_event = [&](const nlohmann::json& event) {
      if (const auto moved = control.follow(event)) daemon.on_note(*moved);
    };
    daemon.on_stay = [&](const rehearsal::Outcome& outcome) {
      if (!outcome.result_json.empty()) tell(run, rehearsal, outcome, arguments);
      if (arguments.json) return;
      std::cout << "\nThe daemon stays, and the instruments go where its page says. Enter ends it.\n";
      for (const std::string& line : addresses) std::cout << "  " << line << '\n';
      std::cout << std::flush;
    };
  }
  const std::function<bool()> ended = std::exchange(daemon.ended, {});
  const bool story = arguments.go_on || !arguments.later.empty();
  const auto visit = [&](bool stays, const std::vector<rehearsal::Step>& walk, int stage) {
    rehearsal::DaemonRun now = daemon;
    now.ended = stays ? ended : nullptr;
    addresses.clear();
    if (!arguments.page.empty() && (stays || !story))
      now.more.insert(now.more.end(), {"--page", arguments.page});
    else if (!stays)
      now.more.insert(now.more.end(), {"--page", "off"});
    const rehearsal::Outcome outcome =
        rehearsal::run_with_daemon(rehearsal, run.stages[std::size_t(stage)], walk, now);
    if (outcome.exit_code != 0 || (outcome.result_json.empty() && !stays))
      throw Stop{kCouldNot, "hangtrue: the daemon ended with " + std::to_string(outcome.exit_code) +
                                " and gave " + (outcome.result_json.empty() ? "no card\n" : "a card\n")};
    daemon.pull.reset();
    daemon.scale_checks.clear();
    return outcome;
  };
  const auto heading = [&](const std::string& words) {
    if (!arguments.json) std::cout << "\n\n" << words << ".\n";
    within_line = false;
  };
  daemon.seal = story;
  daemon.go_on = arguments.go_on;
  daemon.on_card = [&](const rehearsal::Outcome& outcome) {
    tell(run, rehearsal, outcome, arguments);
    heading("The card's moves are made, and the run is read again, as built");
  };
  rehearsal.start();
  rehearsal::Outcome outcome = visit(arguments.stay && !story, steps, options.stage);
  if (arguments.go_on && !arguments.json)
    std::cout << "\n\n"
              << rehearsal::words(rehearsal::compare(run, rehearsal.truth(), outcome.result_json), run.show);
  else if (!arguments.stay || story)
    tell(run, rehearsal, outcome, arguments);
  int stage = options.stage;
  if (!arguments.later.empty()) {
    heading(arguments.later + " later, with a kit whose zero errors and datums are others");
    rehearsal.visit(2, /*kit=*/true);
    for (const Sinks& each : sinks) {
      rehearsal.move(rehearsal.support(each.support), each.by);
      daemon.on_note("unseen, " + each.words);
    }
    if (const double sag_m = rehearsal.let_creep(*sheet::parse_days(arguments.later)); sag_m != 0)
      daemon.on_note("unseen, wood-based parts have crept: the middle by " +
                     sheet::show_fine(sag_m, run.show));
    daemon.more = {"--clock-ahead", arguments.later};
    daemon.go_on = false;
    if (!arguments.later_stage.empty()) {
      stage = stage_named(run, arguments.later_stage, arguments.run);
      rehearsal.look_at(stage);
    }
    outcome = visit(false, steps, stage);
    if (arguments.json)
      tell(run, rehearsal, outcome, arguments);
    else
      std::cout << '\n';
  }
  if (arguments.stay && story) {
    daemon.seal = daemon.go_on = false;
    visit(true, {}, stage);
  }
  rehearsal.stop();
  return kDone;
}

}  // namespace

void add_rehearse(CLI::App& app, int& exit_code) {
  CLI::App* const command =
      app.add_subcommand("rehearse", "try the whole job with simulated instruments on pseudo-terminals");
  const auto arguments = std::make_shared<RehearseArguments>();
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
  command->add_flag(
      "--go-on", arguments->go_on,
      "after the card: its moves are made, the run is read again, as built, and the book is sealed");
  CLI::Option* const later = command->add_option("--later", arguments->later,
                                                 "somebody comes back after so long, such as \"365 days\", "
                                                 "with other zero errors and datums, and reads again");
  command
      ->add_option(
          "--sinks", arguments->sinks,
          "with --later: what has moved meanwhile, \"SUPPORT=0.8 mm\", or \"SUPPORT:pitch=1 mm/m\"; may be "
          "given several times")
      ->needs(later);
  command->add_option("--later-stage", arguments->later_stage, "with --later: the stage it is then in")
      ->needs(later);
  command->add_flag("--no-faults", arguments->no_faults, "nothing torn, garbled, unanswered or outlying");
  CLI::Option* const play =
      command->add_flag("--play", arguments->play, "only play the instruments; start hangtrued yourself");
  command->add_flag("--hush", arguments->hush, "with --play: nothing is sent until the line \"speak\"")
      ->needs(play);
  CLI::Option* const stay = command->add_flag(
      "--stay", arguments->stay,
      "the daemon stays with its page after the walk, and the instruments go where it says; Enter ends it");
  command->add_flag("--no-walk", arguments->no_walk, "with --stay: from the start")->needs(stay);
  command->add_option("--page", arguments->page,
                      "as hangtrued's; without, its default where it stays, and off otherwise");
  command->add_option("--seconds", arguments->seconds, "with --play: end after so long");
  command->add_flag("--verbose", arguments->verbose, "every line between walk and daemon, on standard error");
  command->add_flag("--json", arguments->json, "for programs, SI units");
  command->callback([arguments, &exit_code] { exit_code = run_all(*arguments); });
}

}  // namespace hangtrue::tools
