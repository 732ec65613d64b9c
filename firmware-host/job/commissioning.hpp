// commissioning.hpp: checks of the instruments, led step by step. Pure state machines: the caller shows next(), waits until
// what is read has settled, and hands the settled values to take(), until done(). say/checks.hpp words all of it.
//
// Zero check   an inclinometer on one place, read on face 1 and on face 2 (turned round), `rounds` times. Slope and
//              roll are checked together when the instrument has both.
// Datum check  two places read from two set-ups of the laser, beyond either end of the run, the laser levelling itself
//              anew before each round.
// Scale check  of scale, unit and sign: scale_guide.hpp.
// What is made of the values, and which sigma: core/fit/repeatability.hpp. Earlier checks and drift: checks.hpp.
// Units        SI, rad.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/fit/repeatability.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

enum class CheckKind { zero, datum, scale };

/// A settled value of one channel of the instrument under check, as a reading would have it.
struct CheckReading {
  Channel gives = Channel::slope;
  double value = 0, sigma = 0;
  std::optional<double> temperature_C;
};

// ---- why a check cannot begin, or takes nothing

struct GivesNoAngle {};     // neither slope nor roll: no zero check
struct GivesNoDistance {};  // no datum check
struct RoundsNotAllowed {   // fewer than 1, more than kMostRounds
  int rounds = 0;
};
struct PlacesOffRun {
  double near_m = 0, far_m = 0, length_m = 0;
};
struct PlacesTooClose {  // or in the wrong order
  double near_m = 0, far_m = 0, least_apart_m = 0;
};
struct NotSettled {
  Channel gives = Channel::slope;
};
struct AllTaken {
  CheckKind kind = CheckKind::zero;
};
// Of a scale check.
struct NoPieceUnderIt {};   // neither slope nor roll
struct NoHeightForIt {};    // no distance
struct NoBase {};           // a slope channel whose feet are not known
struct FeetAcrossNotSaid {  // a roll channel likewise
};
struct FeetTooClose {
  Channel gives = Channel::slope;
  double feet_m = 0, least_m = 0;
};
struct LengthTooShort {  // of the piece, or between the places
  bool by_places = false;
  double length_m = 0, least_m = 0;
};
struct LengthTooLong {
  bool by_places = false;
  double length_m = 0, most_m = 0;
};
using CheckRefusal = std::variant<GivesNoAngle, GivesNoDistance, RoundsNotAllowed, PlacesOffRun,
                                  PlacesTooClose, NotSettled, AllTaken, NoPieceUnderIt, NoHeightForIt, NoBase,
                                  FeetAcrossNotSaid, FeetTooClose, LengthTooShort, LengthTooLong>;

// ---- what a check found

struct StillToTake {  // the check is not done
  CheckKind kind = CheckKind::zero;
  int readings = 0;
};
struct FoundOffset {  // the zero, or the tilt
  double value_rad = 0, sigma_rad = 0;
  int rounds = 0;
  std::optional<double> p_of_none;  // where it is as good as none: the chance of as much without any
  double apart_m = 0;               // of a datum check's places
};
struct FoundScatter {  // of one reading, r.m.s., in the channel's unit; limits of the test
  double sigma = 0, stated = 0, most = 0, p_value = 0;
  bool too_much = false;
};
struct BeyondExpected {  // more than kServiceSigmas of what nobody checked may have
  double expected_sigma_rad = 0;
};
struct FirstOfItsKind {};
struct ComparedWithFormer {
  book::Time former{};
  double value_rad = 0, sigma_rad = 0;
  Drift since;
};
struct ScattersMore {  // than at the former check
  book::Time former{};
  double former_sigma = 0, p_value = 0;
};
struct HowTiltCounts {};  // of a datum check, once
// Of a scale check.
struct FoundScale {
  double seen = 0, due = 0;     // change, SI
  double scale = 0, sigma = 0;  // seen / due
  int rounds = 0;
  bool sound = false;
};
struct RoundsDisagree {
  double sigma = 0, stated = 0, p_value = 0;  // of one reading
};
/// What would explain a scale that is not 1.
struct ScaleIsWrong {
  enum class Why {
    way,         // nothing but the direction
    unit,        // `meant` is sent, and `said` is what it is taken for
    inches,      // piece or feet: inches for millimetres, or the reverse
    exchanged,   // it answers to the other piece: slope and roll
    no_change,   // it answers to nothing
    calibration  // none of these
  };
  Why why = Why::calibration;
  bool wrong_way = false;
  bool both_ways = false;         // slope and roll of this instrument alike
  std::string_view said, meant;   // units as a sheet writes them; "%" too
  bool device_says_unit = false;  // not the kit sheet
  bool has_scale = false;         // a register, whose `scale` may be off as well
  int sign = 1;                   // of the kit sheet
  double scale = 0;
};

/// `channel`: slope or roll of a zero check; distance: the finding is of a datum check. Of a scale check any of the three.
struct CheckFinding {
  Channel channel = Channel::slope;
  std::variant<StillToTake, FoundOffset, FoundScatter, BeyondExpected, FirstOfItsKind, ComparedWithFormer,
               ScattersMore, HowTiltCounts, FoundScale, RoundsDisagree, ScaleIsWrong>
      what;
};

/// `checks` go into the book, `findings` to the person. sound: nothing in it asks for a repeat or for service.
template <class Check>
struct CheckOutcome {
  std::vector<Check> checks;
  std::vector<fit::Checked> found;  // one a check
  std::vector<CheckFinding> findings;
  bool sound = true;
};

// ---- the checks

struct ZeroStep {
  enum class Action { stand_and_mark, turn_round, turn_back };
  Action action = Action::stand_and_mark;
  int round = 1, rounds = kRounds;  // the first is 1
  int face = 1;                     // 1 or 2
};

class ZeroCheckGuide {
 public:
  /// Why this instrument cannot be checked so; nothing where it can.
  [[nodiscard]] static std::optional<CheckRefusal> objection(const sheet::KitInstrument& instrument,
                                                             int rounds = kRounds);
  /// Without objection only.
  explicit ZeroCheckGuide(const sheet::KitInstrument& instrument, int rounds = kRounds);

  [[nodiscard]] const std::string& instrument() const { return name_; }
  [[nodiscard]] int steps() const { return 2 * rounds_; }
  [[nodiscard]] int step() const { return step_; }  // how many are taken
  [[nodiscard]] bool done() const { return step_ == steps(); }
  /// The next thing to do; nothing when done().
  [[nodiscard]] std::optional<ZeroStep> next() const;
  /// The settled values for this step, one of each channel that is checked (others are passed over). Where one is missing,
  /// nothing is taken.
  [[nodiscard]] std::optional<CheckRefusal> take(std::span<const CheckReading> values);
  /// When done(). `earlier`: entries of the book, its checks in order.
  [[nodiscard]] CheckOutcome<book::ZeroCheck> result(std::span<const book::NumberedEntry> earlier) const;

 private:
  struct CheckedChannel {
    sheet::KitChannel kit;
    std::vector<CheckReading> taken;  // face 1, face 2, face 1 ...
  };
  std::string name_;
  int rounds_, step_ = 0;
  std::vector<CheckedChannel> channels_;
};

struct DatumStep {
  enum class Action { set_up_before_start, carry_beyond_end, level_anew, read_far_and_mark, read_far };
  Action action = Action::set_up_before_start;
  int set_up = 1, round = 1, rounds = kRounds;  // the first is 1
  double at_m = 0;                              // where to read
};

class DatumCheckGuide {
 public:
  /// Why this cannot be checked so: no distance channel, places off the run or not one after the other.
  [[nodiscard]] static std::optional<CheckRefusal> objection(const sheet::KitInstrument& instrument,
                                                             const sheet::RunSheet& run, double near_m,
                                                             double far_m, int rounds = kRounds);
  /// Without objection only. near_m < far_m: places along the run, the farther apart the better.
  DatumCheckGuide(const sheet::KitInstrument& instrument, const sheet::RunSheet& run, double near_m,
                  double far_m, int rounds = kRounds);

  [[nodiscard]] const std::string& instrument() const { return name_; }
  [[nodiscard]] int steps() const { return 4 * rounds_; }
  [[nodiscard]] int step() const { return int(taken_.size()); }
  [[nodiscard]] bool done() const { return step() == steps(); }
  [[nodiscard]] std::optional<DatumStep> next() const;
  [[nodiscard]] std::optional<CheckRefusal> take(std::span<const CheckReading> values);
  [[nodiscard]] CheckOutcome<book::DatumCheck> result(std::span<const book::NumberedEntry> earlier) const;

 private:
  std::string name_;
  double tilt_sigma_;  // of the run sheet: what a laser that nobody checked may have
  double near_m_, far_m_;
  int rounds_;
  std::vector<CheckReading> taken_;  // set-up 1: near, far, near, far ...; then set-up 2
};

}  // namespace hangtrue::job
