// commissioning.hpp: checks of the instruments, led step by step. Pure state machines: the caller shows instruction(),
// waits until what it names has settled, and hands the settled values to take(), until done().
//
// Zero check   an inclinometer on one place, read on face 1 and on face 2 (turned round), `rounds` times. Slope and
//              roll are checked together when the instrument has both.
// Datum check  two places read from two set-ups of the laser, beyond either end of the run, the laser levelling itself
//              anew before each round.
// What is made of the values, and which sigma: core/fit/repeatability.hpp. Earlier checks and drift: checks.hpp.
// Units        SI, rad; sentences in the units that the run sheet shows.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/fit/repeatability.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

inline constexpr int kRounds = 3, kMostRounds = 20;

/// A settled value of one channel of the instrument under check, as a reading would have it.
struct CheckReading {
  Channel gives = Channel::slope;
  double value = 0, sigma = 0;
  std::optional<double> temperature_C;
};

/// What a check found: `checks` go into the book, `sentences` to the person. sound: nothing in it asks for a repeat or
/// for service.
template <class Check>
struct CheckOutcome {
  std::vector<Check> checks;
  std::vector<fit::Checked> found;  // one a check
  std::vector<std::string> sentences;
  bool sound = true;
};

class ZeroCheckGuide {
 public:
  /// Why this instrument cannot be checked so; nothing where it can.
  [[nodiscard]] static std::optional<std::string> objection(const sheet::KitInstrument& instrument,
                                                            int rounds = kRounds);
  /// Without objection only.
  ZeroCheckGuide(const sheet::KitInstrument& instrument, sheet::Show show, int rounds = kRounds);

  [[nodiscard]] int steps() const { return 2 * rounds_; }
  [[nodiscard]] int step() const { return step_; }  // how many are taken
  [[nodiscard]] bool done() const { return step_ == steps(); }
  /// The next thing to do, in plain words.
  [[nodiscard]] std::string instruction() const;
  /// The settled values for this step, one of each channel that is checked (others are passed over). A sentence says
  /// what is missing; nothing is taken then.
  [[nodiscard]] std::optional<std::string> take(std::span<const CheckReading> values);
  /// Undoes the last step; false when there is none.
  bool take_back();
  /// When done(). `earlier`: entries of the book, its checks in order.
  [[nodiscard]] CheckOutcome<book::ZeroCheck> result(std::span<const book::NumberedEntry> earlier) const;

 private:
  struct CheckedChannel {
    sheet::KitChannel kit;
    std::vector<CheckReading> taken;  // face 1, face 2, face 1 ...
  };
  std::string name_;
  sheet::Show show_;
  int rounds_, step_ = 0;
  std::vector<CheckedChannel> channels_;
};

class DatumCheckGuide {
 public:
  /// Why this cannot be checked so: no distance channel, places off the run or not one after the other.
  [[nodiscard]] static std::optional<std::string> objection(const sheet::KitInstrument& instrument,
                                                            const sheet::RunSheet& run, double near_m,
                                                            double far_m, int rounds = kRounds);
  /// Without objection only. near_m < far_m: places along the run, the farther apart the better.
  DatumCheckGuide(const sheet::KitInstrument& instrument, const sheet::RunSheet& run, double near_m,
                  double far_m, int rounds = kRounds);

  [[nodiscard]] int steps() const { return 4 * rounds_; }
  [[nodiscard]] int step() const { return int(taken_.size()); }
  [[nodiscard]] bool done() const { return step() == steps(); }
  [[nodiscard]] std::string instruction() const;
  [[nodiscard]] std::optional<std::string> take(std::span<const CheckReading> values);
  bool take_back();
  [[nodiscard]] CheckOutcome<book::DatumCheck> result(std::span<const book::NumberedEntry> earlier) const;

 private:
  std::string name_;
  sheet::Show show_;
  double tilt_sigma_;  // of the run sheet: what a laser that nobody checked may have
  double near_m_, far_m_;
  int rounds_;
  std::vector<CheckReading> taken_;  // set-up 1: near, far, near, far ...; then set-up 2
};

}  // namespace hangtrue::job
