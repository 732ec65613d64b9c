#include "tools/rehearsal/daemon_run.hpp"

#include <fcntl.h>
#include <poll.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <numeric>
#include <stdexcept>
#include <system_error>

#include "firmware-host/sheet/format.hpp"

extern char** environ;

namespace hangtrue::rehearsal {

namespace {

using Clock = std::chrono::steady_clock;

struct DaemonEnded : std::runtime_error {
  DaemonEnded() : std::runtime_error("the daemon has ended") {}
};

std::string first_word(const std::string& line) { return line.substr(0, line.find(' ')); }

/// A child with its standard input and output on one socket. Killed, if it still runs, when this goes.
class Child {
 public:
  Child(const std::vector<std::string>& arguments, const std::string& log_path) {
    std::array<int, 2> ends{};
    if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends.data()) != 0) {
      throw std::system_error(errno, std::generic_category(), "making a socket for the daemon");
    }
    socket_ = ends[0];
    std::vector<char*> argv;
    for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
    argv.push_back(nullptr);
    posix_spawn_file_actions_t actions;
    ::posix_spawn_file_actions_init(&actions);
    ::posix_spawn_file_actions_adddup2(&actions, ends[1], STDIN_FILENO);
    ::posix_spawn_file_actions_adddup2(&actions, ends[1], STDOUT_FILENO);
    if (!log_path.empty()) {
      ::posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, log_path.c_str(),
                                         O_WRONLY | O_CREAT | O_TRUNC, 0644);
    }
    const int error = ::posix_spawnp(&id_, argv[0], &actions, nullptr, argv.data(), environ);
    ::posix_spawn_file_actions_destroy(&actions);
    ::close(ends[1]);
    if (error != 0) {
      ::close(socket_);
      throw std::system_error(error, std::generic_category(), "starting " + arguments[0]);
    }
  }
  ~Child() {
    ::close(socket_);
    if (id_ > 0) {
      ::kill(id_, SIGKILL);
      ::waitpid(id_, nullptr, 0);
    }
  }
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;

  void send(const std::string& line) {
    const std::string bytes = line + "\n";
    for (std::size_t sent = 0; sent < bytes.size();) {
      const ssize_t now = ::send(socket_, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
      if (now < 0) throw std::runtime_error("the daemon does not take \"" + line + "\": it has ended");
      sent += static_cast<std::size_t>(now);
    }
  }

  /// The next line; nothing when `until` passes first. Throws at the end.
  std::optional<std::string> line(Clock::time_point until) {
    for (;;) {
      if (const std::size_t end = pending_.find('\n'); end != std::string::npos) {
        std::string found = pending_.substr(0, end);
        pending_.erase(0, end + 1);
        return found;
      }
      const auto left = std::chrono::ceil<std::chrono::milliseconds>(until - Clock::now()).count();
      pollfd wanted{socket_, POLLIN, 0};
      const int ready = left > 0 ? ::poll(&wanted, 1, static_cast<int>(left)) : 0;
      if (ready == 0) return std::nullopt;
      std::array<char, 4096> chunk;
      const ssize_t size = ready > 0 ? ::read(socket_, chunk.data(), chunk.size()) : -1;
      if (size < 0 && errno == EINTR) continue;
      if (size <= 0) throw DaemonEnded();
      pending_.append(chunk.data(), static_cast<std::size_t>(size));
    }
  }

  void end() const { ::kill(id_, SIGTERM); }

  /// Waits for the end, until `until`; the destructor does the rest.
  int exit_code(Clock::time_point until) {
    for (int status = 0;;) {
      if (::waitpid(id_, &status, WNOHANG) == id_) {
        id_ = -1;
        return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
      }
      if (Clock::now() > until) throw std::runtime_error("the daemon does not end");
      ::usleep(5000);
    }
  }

 private:
  int socket_ = -1;
  pid_t id_ = -1;
  std::string pending_;
};

bool is_answer(const std::string& line) {
  constexpr std::array<std::string_view, 8> kAnswers = {"here", "taken", "refused", "undone",
                                                        "made", "told",  "result",  "done"};
  return std::find(kAnswers.begin(), kAnswers.end(), first_word(line)) != kAnswers.end();
}

/// Speaks with the daemon and keeps what it said.
class Conversation {
 public:
  Conversation(Child& child, const DaemonRun& options, Outcome& outcome)
      : child_(child), options_(options), outcome_(outcome) {}

  /// The next line, in its plain form, unless `until` passes first.
  std::optional<std::string> line(Clock::time_point until) {
    std::optional<std::string> line = child_.line(until);
    if (!line) return line;
    const nlohmann::json event =
        options_.ended ? nlohmann::json::parse(*line, nullptr, /*allow_exceptions=*/false) : nlohmann::json();
    if (event.is_object()) *line = plain(event);
    if (options_.on_line) options_.on_line(*line);
    note(*line);
    if (staying_ && event.is_object() && options_.on_event) options_.on_event(event);
    return line;
  }

  /// Hears what there is until that ends.
  void stay() {
    staying_ = true;
    try {
      while (!options_.ended()) (void)line(Clock::now() + std::chrono::milliseconds(50));
      child_.end();
      for (const auto until = Clock::now() + options_.patience; line(until);) {
      }
    } catch (const DaemonEnded&) {  // by itself, or by our word
    }
  }

  void listen(std::chrono::milliseconds time) {
    const Clock::time_point until = Clock::now() + time;
    while (line(until)) {
    }
  }

  /// Lines until one is wanted.
  template <class Wanted>
  std::string await(const Wanted& wanted, const std::string& what) {
    const Clock::time_point until = Clock::now() + options_.patience;
    while (const std::optional<std::string> next = line(until))
      if (wanted(*next)) return *next;
    throw std::runtime_error("the daemon does not say " + what);
  }

  void send(const std::string& command) {
    if (options_.on_line) options_.on_line("> " + command);
    child_.send(command);
  }

  std::string ask(const std::string& command) {
    send(command);
    return await(is_answer, "anything to \"" + command + "\"");
  }

 private:
  static std::string plain(const nlohmann::json& event) {
    const auto word = event.value("event", "");
    if (word == "result") return word + ' ' + event.dump();
    const auto text = event.value("text", "");
    return word + (text.empty() ? "" : " ") + text;
  }
  void note(const std::string& line) {
    const std::string word = first_word(line);
    if (word == "taken") ++outcome_.taken;
    if (word == "refused") outcome_.refused.push_back(line);
    if (word == "lost") outcome_.lost.push_back(line);
    if (word == "back") outcome_.back.push_back(line);
    if (word == "result") outcome_.result_json = line.substr(std::min(line.size(), word.size() + 1));
    if (word != "|") {
      card_ended_ = true;
      return;
    }
    if (card_ended_) outcome_.card.clear();
    card_ended_ = false;
    outcome_.card.push_back(line.substr(std::min<std::size_t>(line.size(), 2)));
  }

  Child& child_;
  const DaemonRun& options_;
  Outcome& outcome_;
  bool card_ended_ = true, staying_ = false;
};

/// Sends "take", pulls the plug within it and puts it back. Returns the answer of a reading that ended after that.
std::string take_while_unplugged(Conversation& daemon, Rehearsal& rehearsal, const DaemonRun& options) {
  constexpr std::chrono::milliseconds kIntoReading{200};
  const auto note = [&options](const std::string& words) {
    if (options.on_note) options.on_note(words);
  };
  const sheet::KitInstrument& instrument = rehearsal.kit(*options.pull);
  std::optional<std::string> answer;
  bool lost = false, back = false;
  const auto hear = [&](const std::string& line) {
    if (is_answer(line)) answer = line;
    if (line.starts_with("lost " + instrument.name) && !lost) {
      lost = true;
      note("the daemon: " + line);
    }
    if (line.starts_with("back " + instrument.name) && lost) back = true;
  };
  const auto hear_for = [&](std::chrono::milliseconds time) {
    const Clock::time_point until = Clock::now() + time;
    while (const std::optional<std::string> line = daemon.line(until)) hear(*line);
  };
  daemon.send("take");
  hear_for(kIntoReading);
  note("unplugging the " + instrument.name + " within a reading");
  rehearsal.unplug(*options.pull);
  hear_for(options.unplugged);
  rehearsal.plug_in(*options.pull);
  note("plugging the " + instrument.name + " in again");
  const bool missed = answer.has_value() && rehearsal.walks(*options.pull);
  const Clock::time_point until = Clock::now() + options.patience;
  while (!back || !answer) {
    const std::optional<std::string> line = daemon.line(until);
    if (!line) throw std::runtime_error("the daemon does not say that the " + instrument.name + " is back");
    hear(*line);
  }
  note("the " + instrument.name + " is back" + (missed ? ", and the reading is taken again" : ""));
  return missed ? daemon.ask("take") : *answer;
}

/// Each guided check of a scale, step by step as the daemon asks for them.
void check_scales(Conversation& daemon, Rehearsal& rehearsal, const DaemonRun& options) {
  const auto is_of_check = [](const std::string& line) {
    return line.starts_with("check step ") || first_word(line) == "checked" || first_word(line) == "refused";
  };
  const auto ask = [&](const std::string& command) {
    daemon.send(command);
    return daemon.await(is_of_check, "anything to \"" + command + "\"");
  };
  const auto walk_through = [&](const ScaleWalk& check) {
    job::ScaleCheckGuide guide(rehearsal.kit(check.instrument), check.setting);
    std::string answer = ask(check.command);
    while (answer.starts_with("check step ") && !guide.done()) {
      rehearsal.place(stand_for(*guide.next(), check.setting));
      answer = ask("next");
      for (int tried = 1; first_word(answer) == "refused" && tried < options.tries; ++tried) {
        daemon.listen(options.between_tries);
        answer = ask("next");
      }
      // Only the order of the steps is of use here, not the values.
      (void)guide.take(std::vector<job::CheckReading>{
          {Channel::slope, 0, 1, {}}, {Channel::roll, 0, 1, {}}, {Channel::distance, 0, 1, {}}});
    }
    if (first_word(answer) != "checked")
      throw std::runtime_error("the daemon does not end \"" + check.command + "\": " + answer);
    if (options.on_note) options.on_note("scale, unit and sign of the " + answer.substr(8));
    return answer.ends_with("counts from now on");
  };
  // Two readings may by chance disagree more than they should: it is then checked again, as a person would.
  for (const ScaleWalk& check : options.scale_checks)
    for (int tried = 1; !walk_through(check) && tried < options.tries; ++tried) {
    }
}

/// Every step; with `pull` the plug is pulled in the middle.
void walk_along(Conversation& daemon, Rehearsal& rehearsal, const std::vector<Step>& steps,
                const DaemonRun& options, bool pull) {
  for (std::size_t i = 0; i < steps.size(); ++i) {
    rehearsal.place(steps[i].stand);
    for (const std::string& command : steps[i].commands) {
      const bool pull_now = pull && i >= steps.size() / 2 && command == "take";
      std::string answer = pull_now ? take_while_unplugged(daemon, rehearsal, options) : daemon.ask(command);
      if (pull_now) pull = false;
      const bool takes = command.starts_with("take");
      for (int tried = 1; takes && first_word(answer) == "refused" && tried < options.tries; ++tried) {
        daemon.listen(options.between_tries);
        answer = daemon.ask(command);
      }
      if (!takes && first_word(answer) == "refused")
        throw std::runtime_error("the daemon does not take \"" + command + "\": " + answer);
    }
    if (options.on_step) options.on_step(i + 1);
  }
}

/// All moves of the card that are for now, as it says; none where it is not to be trusted.
void make_moves(Conversation& daemon, Rehearsal& rehearsal, const Outcome& outcome,
                const DaemonRun& options) {
  const auto note = [&options](const std::string& words) {
    if (options.on_note) options.on_note(words);
  };
  const nlohmann::json result = nlohmann::json::parse(outcome.result_json);
  // The answer to "begin moves" that lets them begin is the card's result.
  if (const std::string begun = daemon.ask("begin moves"); first_word(begun) != "result")
    return note("no move is made: " + begun.substr(std::min(begun.size(), first_word(begun).size() + 1)));
  for (const nlohmann::json& move : result.at("shims").at("moves")) {
    if (move.contains("when_stage")) continue;
    const std::string answer = daemon.ask("made " + std::to_string(move.at("order").get<int>()));
    if (first_word(answer) != "made") throw std::runtime_error("the daemon does not tick a move: " + answer);
    const auto name = move.at("support").get<std::string>();
    rehearsal.move(rehearsal.support(name),
                   {move.at("rise_m").get<double>(), move.at("pitch_rad").get<double>(),
                    move.at("roll_rad").get<double>()});
    note("move " + answer.substr(first_word(answer).size() + 1));
  }
}

std::string row(const std::string& what, const std::string& truth, const std::string& found) {
  char text[128];
  std::snprintf(text, sizeof text, "  %-40s %16s %16s", what.c_str(), truth.c_str(), found.c_str());
  std::string line = text;
  line.erase(line.find_last_not_of(' ') + 1);
  return line + "\n";
}

}  // namespace

Outcome run_with_daemon(Rehearsal& rehearsal, const std::string& stage, const std::vector<Step>& steps,
                        const DaemonRun& options) {
  std::vector<std::string> arguments = {options.daemon, options.run_path,  rehearsal.kit_path().string(),
                                        "--book",       options.book_path, "--stage",
                                        stage};
  arguments.insert(arguments.end(), options.more.begin(), options.more.end());
  if (options.ended) arguments.emplace_back("--json-lines");
  Outcome outcome;
  Child child(arguments, options.log_path);
  Conversation daemon(child, options, outcome);
  (void)daemon.await([](const std::string& line) { return first_word(line) == "ready"; }, "\"ready\"");
  check_scales(daemon, rehearsal, options);
  if (!steps.empty()) (void)daemon.ask("start at " + rehearsal.first_support());
  walk_along(daemon, rehearsal, steps, options, options.pull.has_value());
  if (options.go_on) {
    (void)daemon.ask("card");
    if (options.on_card) options.on_card(outcome);
    make_moves(daemon, rehearsal, outcome, options);
    rehearsal.visit(1, /*kit=*/false);  // the laser is set up anew
    (void)daemon.ask("read again");
    (void)daemon.ask("start at " + rehearsal.first_support());
    walk_along(daemon, rehearsal, steps, options, /*pull=*/false);
  }
  if (options.ended) {
    if (outcome.taken > 0) (void)daemon.ask("card");
    if (options.on_stay) options.on_stay(outcome);
    daemon.stay();
    outcome.exit_code = child.exit_code(Clock::now() + options.patience);
    return outcome;
  }
  const std::string last = daemon.ask(options.seal ? "done and seal" : "done");
  if (first_word(last) != "done")
    (void)daemon.await([](const std::string& line) { return first_word(line) == "done"; }, "\"done\"");
  outcome.exit_code = child.exit_code(Clock::now() + options.patience);
  return outcome;
}

Comparison compare(const sheet::RunSheet& run, const Truth& truth, const std::string& result_json) {
  Comparison comparison;
  try {
    const nlohmann::json result = nlohmann::json::parse(result_json);
    const nlohmann::json& fit = result.at("fit");
    const nlohmann::json& shims = result.at("shims");
    Profile found;
    fit.at("at_m").get_to(found.at_m);
    fit.at("height_m").get_to(found.height_m);
    if (found.at_m.empty() || found.at_m.size() != found.height_m.size()) {
      throw std::invalid_argument("places and heights of the fit do not go together");
    }
    const Profile true_profile = truth.profile(found.at_m);
    comparison.tilt_truth_rad = true_profile.tilt_rad();
    comparison.tilt_found_rad = found.tilt_rad();
    comparison.sag_truth_m = true_profile.sag_m();
    comparison.sag_found_m = found.sag_m();
    double mean = 0;
    for (std::size_t i = 0; i < found.at_m.size(); ++i) {
      mean += (found.height_m[i] - true_profile.height_m[i]) / static_cast<double>(found.at_m.size());
    }
    for (std::size_t i = 0; i < found.at_m.size(); ++i) {
      comparison.largest_difference_m = std::max(
          comparison.largest_difference_m, std::abs(found.height_m[i] - true_profile.height_m[i] - mean));
    }

    shims.at("hold_point").get_to(comparison.hold_point);
    shims.at("level_error_before_m").get_to(comparison.level_error_found_m);
    shims.at("level_error_after_m").get_to(comparison.level_error_after_found_m);
    shims.at("level_error_after_sigma_m").get_to(comparison.level_error_after_sigma_m);
    comparison.level_error_truth_m = truth.level_error_m();
    std::vector<beam::Motions<double>> moves(run.supports.size());
    for (const nlohmann::json& move : shims.at("moves")) {
      const auto name = move.at("support").get<std::string>();
      const int support = run.support(name);
      if (support < 0)
        throw std::invalid_argument("a move of \"" + name + "\", which the run sheet does not have");
      moves[static_cast<std::size_t>(support)] = {move.at("rise_m").get<double>(),
                                                  move.at("pitch_rad").get<double>(),
                                                  move.at("roll_rad").get<double>()};
    }
    comparison.level_error_after_truth_m = truth.level_error_after_m(moves);
  } catch (const nlohmann::json::exception& error) {
    throw std::invalid_argument(std::string("the daemon's result: ") + error.what());
  }
  return comparison;
}

std::string words(const Comparison& comparison, sheet::Show show) {
  std::string text = row("", "truth", "found");
  text += row("tilt along the run", sheet::show_slope(comparison.tilt_truth_rad, show),
              sheet::show_slope(comparison.tilt_found_rad, show));
  text += row("largest departure from straight", sheet::show_fine(comparison.sag_truth_m, show),
              sheet::show_fine(comparison.sag_found_m, show));
  text += row("level error, finished, as things are", sheet::show_fine(comparison.level_error_truth_m, show),
              sheet::show_fine(comparison.level_error_found_m, show));
  text += row("level error, finished, after the card",
              sheet::show_fine(comparison.level_error_after_truth_m, show),
              sheet::show_fine(comparison.level_error_after_found_m, show));
  text += row("  and its sigma", "", sheet::show_fine(comparison.level_error_after_sigma_m, show));
  text +=
      row("largest difference of the shapes", sheet::show_fine(comparison.largest_difference_m, show), "");
  return text;
}

}  // namespace hangtrue::rehearsal
