// scale_guide.hpp: the guided check of scale, unit and sign: a known length is put in, and the change that is read is compared
// with the one that is due. A pure state machine like those of commissioning.hpp.
//
// Piece      an inclinometer on a firm place, face 1, as it stands on the run: read as it is, then with a piece of known thickness
//            under the foot nearer to the END of the run (slope), then under the foot at the LEFT edge (roll). Due is
//                thickness / base        slope, the kit sheet's base
//                thickness / feet        roll, the distance between the feet across
//            both positive: a slope climbs along the run, a roll is positive where the left edge is high. So scale, unit, sign
//            and which end is the start are seen at once.
// Places     a laser is read at a place, and at one that lies higher by a known length. Due is that length: a distance is the
//            height of the place above the datum plane.
// Scale      seen / due, seen the mean over the rounds; sigma of the scale after JCGM 100:2008, 5.1.2:
//                sigma^2 = (sigma of seen / due)^2 + (sigma of the length / length)^2 + (kFeetSigma_m / feet)^2
// Sound      the scale is within kScaleSigmas of its sigma and within kScaleWithin of 1, and the rounds agree (at kAlarmConfidence).
// Otherwise  what is wrong is named by what would explain it: the wrong way; a unit taken for another; inches for millimetres in
//            what was said of piece or feet; slope and roll exchanged; no change at all.
// Units      SI, rad; sigma is one standard deviation.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "firmware-host/job/commissioning.hpp"

namespace hangtrue::job {

/// What is known of a check before it begins.
struct ScaleSetting {
  bool by_places = false;               // two places of a laser; false: a piece under an inclinometer
  double length_m = 0;                  // thickness of the piece, or how much higher the second place lies
  std::optional<double> feet_across_m;  // between the feet across the run; due where roll is checked
};

struct ScaleStep {
  enum class Action {
    stand,
    take_piece_out,
    piece_under_end,
    piece_under_left,
    first_place,
    first_place_again,
    higher_place
  };
  Action action = Action::stand;
  int round = 1, rounds = kScaleRounds;  // the first is 1
  double length_m = 0;
};

class ScaleCheckGuide {
 public:
  /// Why this cannot be checked so; nothing where it can.
  [[nodiscard]] static std::optional<CheckRefusal> objection(const sheet::KitInstrument& instrument,
                                                             const ScaleSetting& setting,
                                                             int rounds = kScaleRounds);
  /// Without objection only.
  ScaleCheckGuide(const sheet::KitInstrument& instrument, const ScaleSetting& setting,
                  int rounds = kScaleRounds);

  [[nodiscard]] const std::string& instrument() const { return kit_.name; }
  [[nodiscard]] const ScaleSetting& setting() const { return setting_; }
  [[nodiscard]] int steps() const { return rounds_ * steps_of_round(); }
  [[nodiscard]] int step() const { return step_; }
  [[nodiscard]] bool done() const { return step_ == steps(); }
  [[nodiscard]] std::optional<ScaleStep> next() const;
  /// The settled values for this step, one of each channel that is checked. Where one is missing, nothing is taken.
  [[nodiscard]] std::optional<CheckRefusal> take(std::span<const CheckReading> values);
  /// When done(): one check a channel, whether it is sound or not.
  [[nodiscard]] CheckOutcome<book::ScaleCheck> result(std::span<const book::NumberedEntry> earlier) const;

 private:
  struct CheckedChannel {
    sheet::KitChannel kit;
    int step_with = 1;  // of a round, in which the length is put in for this channel
    double due = 0;     // change
    std::vector<CheckReading> taken;
  };
  /// What one channel read, as the check has it.
  struct Seen;

  [[nodiscard]] int steps_of_round() const { return 1 + int(channels_.size()); }
  [[nodiscard]] double change(const CheckedChannel& channel, int step_of_round) const;
  [[nodiscard]] Seen seen_by(const CheckedChannel& channel) const;
  [[nodiscard]] ScaleIsWrong explain(const CheckedChannel& channel, const Seen& seen) const;

  sheet::KitInstrument kit_;
  ScaleSetting setting_;
  int rounds_, step_ = 0;
  std::vector<CheckedChannel> channels_;  // slope before roll
};

}  // namespace hangtrue::job
