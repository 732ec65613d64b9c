// rehearsal.hpp: a kit's instruments on pseudo-terminals, looking at a run whose truth is known.
//
//     Rehearsal rehearsal(run, kit, {.seed = 3});
//     rehearsal.start();                       // they send, on a thread of their own, until stop()
//     rehearsal.place({.at_m = 1.2});          // an installer puts the walking ones there
//     ... hangtrued RUN rehearsal.kit_path() ...
//     rehearsal.truth().level_error_m();
//
// Demo data is what this gives: invented, and never a measurement.
// Errors std::invalid_argument (the run or the kit cannot be rehearsed), std::system_error (no terminal, no directory).
#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "tools/rehearsal/instruments.hpp"
#include "tools/rehearsal/pseudo_terminal.hpp"
#include "tools/rehearsal/truth.hpp"

namespace hangtrue::rehearsal {

struct Options {
  std::uint64_t seed = 1;
  int stage = 0;  // that is surveyed
  double samples_per_s = 10;
  double handling_s = 1;
  FaultRates faults = {};
  /// Where the links to the terminals and the rewritten kit sheet go; empty: a directory of its own below the system's
  /// temporary one, removed at the end.
  std::filesystem::path directory = {};
};

class Rehearsal {
 public:
  /// Reads kit.file again for the rewritten one: the same sheet, each port replaced by the link to its terminal.
  Rehearsal(const sheet::RunSheet& run, const sheet::KitSheet& kit, Options options);
  ~Rehearsal();
  Rehearsal(const Rehearsal&) = delete;
  Rehearsal& operator=(const Rehearsal&) = delete;

  void start();
  void stop();

  /// Puts all walking instruments there, with hands on them for a while.
  void place(const Stand& stand);
  /// Pulls the plug of an instrument (index into the kit), and puts it in again under the same link.
  void unplug(std::size_t instrument);
  void plug_in(std::size_t instrument);

  /// Links to the terminals, in the kit's order.
  [[nodiscard]] const std::vector<std::filesystem::path>& ports() const { return ports_; }
  [[nodiscard]] const std::filesystem::path& kit_path() const { return kit_path_; }
  [[nodiscard]] const std::filesystem::path& directory() const { return options_.directory; }
  [[nodiscard]] const Truth& truth() const { return truth_; }
  [[nodiscard]] const Options& options() const { return options_; }
  /// Of all instruments so far.
  [[nodiscard]] FaultCounts faults() const;

 private:
  void play();
  [[nodiscard]] double now_s() const;

  Options options_;
  bool own_directory_;
  Truth truth_;
  std::vector<std::filesystem::path> ports_;
  std::filesystem::path kit_path_;

  mutable std::mutex mutex_;  // of all below
  std::condition_variable stopping_;
  bool stop_ = false;
  std::vector<Instrument> instruments_;
  std::vector<std::unique_ptr<PseudoTerminal>> terminals_;  // null: unplugged
  std::chrono::steady_clock::time_point began_;
  std::thread thread_;
};

}  // namespace hangtrue::rehearsal
