// daemon_run.hpp: a whole rehearsal: the shipped daemon as a child, an installer walking, and the truth beside what was found.
//
// The daemon is driven as a person would: commands on its standard input, answers on its standard output, one event a
// line, the first word naming it. A command's answer is the next line that begins with one of
//     here  taken  refused  undone  made  result  done
// Where it stays, the daemon speaks its JSON lines; they are read as the plain ones that they stand for.
#pragma once

#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "tools/rehearsal/rehearsal.hpp"
#include "tools/rehearsal/walk.hpp"

namespace hangtrue::rehearsal {

struct Outcome {
  int exit_code = -1;                // 128 + signal where one ended it
  std::size_t taken = 0;             // answers "taken", those of "take fixed" too
  std::vector<std::string> refused;  // answers "refused", whole lines
  std::vector<std::string> lost;     // lines "lost NAME: why" and "back NAME", whole
  std::vector<std::string> back;
  std::vector<std::string> card;  // the last card's lines
  std::string result_json;        // of the last "result"; empty: none came
};

struct DaemonRun {
  std::string daemon;               // path of hangtrued
  std::string run_path, book_path;  // run sheet and level book
  std::vector<std::string> more;    // further arguments
  std::string log_path;             // where its standard error goes; empty: to ours
  /// For one answer; a reading takes handling, settling window and the fit.
  std::chrono::seconds patience{60};
  int tries = 2;  // of a "take" that is refused, with a pause between them
  std::chrono::milliseconds between_tries{1000};
  /// An instrument (index into the kit) whose plug is pulled in the middle of the walk, within a reading, and put back
  /// after so long. The reading counts only if it is taken after the daemon has said that the instrument is back: one that
  /// a walking instrument missed is taken again.
  std::optional<std::size_t> pull;
  std::chrono::milliseconds unplugged{2000};
  /// Before the walk: guided checks of scale, unit and sign.
  std::vector<ScaleWalk> scale_checks;
  /// After the walk: the card, on_card, its moves made (where it has any that may be made), read again, the same walk. on_card
  /// moves nothing. The run itself follows each move.
  bool go_on = false;
  std::function<void(const Outcome& outcome)> on_card;
  /// The book is sealed at the end.
  bool seal = false;
  /// Sees every line of the daemon as it comes, and every command behind "> "; may be empty.
  std::function<void(const std::string& line)> on_line;
  /// What happens to the instruments on purpose, in words; may be empty.
  std::function<void(const std::string& words)> on_note;
  /// Steps of the walk that are done; may be empty.
  std::function<void(std::size_t steps)> on_step;
  /// Not empty: after the walk the daemon is asked for the card (where anything was read), not told "done", and stays, until
  /// this says true or it ends by itself. on_event then gets each of its events; on_stay is called when that begins.
  std::function<bool()> ended;
  std::function<void(const nlohmann::json& event)> on_event;
  std::function<void(const Outcome& outcome)> on_stay;
};

/// The truth beside what the daemon found. SI; heights compare at the places that the daemon gives.
struct Comparison {
  double tilt_truth_rad = 0, tilt_found_rad = 0;
  double sag_truth_m = 0, sag_found_m = 0;
  double largest_difference_m = 0;                          // of the heights, both less their mean
  double level_error_truth_m = 0, level_error_found_m = 0;  // finished, as things are
  double level_error_after_truth_m = 0, level_error_after_found_m = 0;  // finished, after the card's moves
  double level_error_after_sigma_m = 0;                                 // as the daemon states it
  std::string hold_point;
};

/// From the JSON behind the daemon's "result". std::invalid_argument when it is not what it should be.
[[nodiscard]] Comparison compare(const sheet::RunSheet& run, const Truth& truth,
                                 const std::string& result_json);
/// A table for people, at most 80 columns, with the sheet's units.
[[nodiscard]] std::string words(const Comparison& comparison, sheet::Show show);

/// Starts the daemon on the rehearsal's kit, walks, asks for the card with "done" (or stays), waits for the end. The
/// rehearsal must be started. std::runtime_error when the daemon does not start, ends too soon or does not answer; it never outlives this.
[[nodiscard]] Outcome run_with_daemon(Rehearsal& rehearsal, const std::string& stage,
                                      const std::vector<Step>& steps, const DaemonRun& options);

}  // namespace hangtrue::rehearsal
