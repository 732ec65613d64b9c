// rehearsal.hpp: a kit's instruments on pseudo-terminals, looking at a run whose truth is known.
//
//     Rehearsal rehearsal(run, kit, {.seed = 3});
//     rehearsal.start();                       // they send, on a thread of their own, until stop()
//     rehearsal.place({.at_m = 1.2});          // an installer puts the walking ones there
//     ... hangtrued RUN rehearsal.kit_path() ...
//     rehearsal.truth().level_error_m();
//
// Ports   a terminal for each distinct port of the kit, with all the instruments that the kit has on it.
// Pace    those that send by themselves do so samples_per_s times a second, or as often as the port's speed carries; those
//         that answer do so when they are asked.
// Demo data is what this gives: invented, and never a measurement.
// Errors std::invalid_argument (the run or the kit cannot be rehearsed), std::system_error (no terminal, no directory).
#pragma once

#include <chrono>
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
  /// Pulls the plug of the port that this instrument is on (index into the kit; whatever else is on that port goes with
  /// it), and puts it in again under the same link.
  void unplug(std::size_t instrument);
  void plug_in(std::size_t instrument);
  /// Hushed, no instrument sends or answers, and bytes that reach it meanwhile are lost to it.
  void hush(bool quiet);
  /// The run itself is moved (truth.hpp), or looked at in another stage.
  void move(int support, const beam::Motions<double>& by);
  void look_at(int stage);
  /// Truth::let_creep().
  double let_creep(double days);
  /// Index of the support; std::invalid_argument where the run has none of that name.
  [[nodiscard]] int support(const std::string& name) const;
  /// The name of the support nearest to the start mark.
  [[nodiscard]] const std::string& first_support() const;
  /// Somebody comes anew: other datums, and with `kit` other zero errors too (truth.hpp).
  void visit(std::uint64_t visit, bool kit);

  /// The link to each instrument's terminal, in the kit's order; those that share a port share a link.
  [[nodiscard]] const std::vector<std::filesystem::path>& ports() const { return links_; }
  [[nodiscard]] const sheet::KitInstrument& kit(std::size_t instrument) const {
    return instruments_.at(instrument)->kit();
  }
  /// Whether a channel of it that is read is carried along.
  [[nodiscard]] bool walks(std::size_t instrument) const;
  [[nodiscard]] const std::filesystem::path& kit_path() const { return kit_path_; }
  [[nodiscard]] const std::filesystem::path& directory() const { return options_.directory; }
  [[nodiscard]] const Truth& truth() const { return truth_; }
  [[nodiscard]] const Options& options() const { return options_; }
  /// Of all instruments so far.
  [[nodiscard]] FaultCounts faults() const;
  /// What an instrument has sent so far, and what its line lost of it, with all that share the line: nobody read it.
  struct Sent {
    std::uint64_t messages = 0, bytes = 0, bytes_lost = 0;
  };
  [[nodiscard]] Sent sent(std::size_t instrument) const;

 private:
  struct Port {
    std::filesystem::path link;
    std::vector<std::size_t> instruments;
    std::unique_ptr<PseudoTerminal> terminal;  // null: unplugged
    double s_per_byte = 0;
    double busy_until_s = 0;                  // that long the bytes so far take
    std::uint64_t bytes = 0, bytes_lost = 0;  // written so far; bytes_lost: of terminals before this one
    void write(std::string_view out);
  };
  void make_ports(const sheet::KitSheet& kit);
  void play();
  void send_samples();
  void answer();
  /// Returns when something was written to a terminal, when wake() was called, or then.
  void wait_until(std::chrono::steady_clock::time_point then, std::unique_lock<std::mutex>& lock);
  void wake();
  [[nodiscard]] Port& port_of(std::size_t instrument);
  [[nodiscard]] double now_s() const;

  Options options_;
  bool own_directory_;
  Truth truth_;
  std::vector<std::filesystem::path> links_;  // by instrument
  std::filesystem::path kit_path_;
  int waker_ = -1;  // an eventfd

  mutable std::mutex mutex_;  // of all below
  bool stop_ = false, hushed_ = false;
  std::vector<std::unique_ptr<Instrument>> instruments_;
  std::vector<Port> ports_;
  std::chrono::steady_clock::time_point began_;
  std::thread thread_;
};

}  // namespace hangtrue::rehearsal
