// stored_card.hpp: a shim card as the level book keeps it, and as the phone is told of it: complete without the sheets and the
// fit that it came from.
//
// Former  Books hold cards of former programs: those of schemas 1 and 2 did not say whether the fit holds, nor of a move
//         whether the limits hold and what the level error is once it is made; those of schemas up to 4 knew no doubts, no
//         readings set aside, no bearing sets. Those members are then absent; absent never counts as fine.
// Units   SI, radians; sigma is one standard deviation. A number that was not finite is NaN.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "firmware-host/job/card.hpp"

namespace hangtrue::job {

struct StoredPiece {
  adjust::Where where{};
  double thickness_m = 0;
  int count = 0;
};

struct StoredMove {
  int order = 0;  // from 1
  std::string support;
  double rise_m = 0, pitch_rad = 0, roll_rad = 0;
  std::vector<StoredPiece> pieces;
  double turns = 0;                     // of a rod; up positive
  std::optional<bool> limits_hold;      // once it is made: no support unloaded or over its rating
  std::optional<double> level_error_m;  // of the finished run, once it is made
  std::vector<Effect> effects;
  std::optional<std::string> when_stage;  // made when that stage begins; none: now

  /// Only what is known to hold.
  [[nodiscard]] bool limits_known_to_hold() const { return limits_hold.value_or(false); }
};

struct StoredReaction {
  std::string support;
  double force_before_N = 0, force_after_N = 0, moment_before_Nm = 0, moment_after_Nm = 0;
};

/// The finished run's level error, and the chance that it is within tolerance.
struct LevelForecast {
  double level_error_m = 0, sigma_m = 0, chance = 0;
  std::optional<double> departure_m;        // largest under the sheet's straight-edge, where it names one
  std::optional<double> departure_sigma_m;  // former cards do not say
};

struct StoredDoubt {
  std::string kind, says, next;  // as they were said
};
struct StoredAside {
  std::size_t row = 0;  // of the survey's readings, from 1
  std::string reason;
  double normalised = 0;
};
/// What the readings left open.
struct StoredOpen {
  bool first_setting =
      false;  // the bolts' own misfit decides: the moves may be made although the answer is read again
  std::vector<StoredDoubt> doubts;
  std::vector<StoredAside> set_aside;
  std::vector<BearingOption> bearing;
};

struct StoredCard {
  adjust::HoldPoint hold_point{};
  std::string reason;               // as it was said
  std::vector<std::string> advice;  // likewise
  LevelForecast before, after;
  bool proved_best = false;
  std::optional<bool> fit_holds;
  std::optional<StoredOpen> open;  // former cards do not say
  std::vector<StoredMove> moves;   // in order
  std::vector<StoredReaction> reactions;
  std::vector<double> at_m, left_m, right_m;  // finished, after the moves

  /// Only what is known to hold.
  [[nodiscard]] bool fit_known_to_hold() const { return fit_holds.value_or(false); }
  /// Whether its moves are there to be made: not where the answer is read again, unless it is a first setting.
  [[nodiscard]] bool moves_may_be_made() const {
    return fit_known_to_hold() &&
           (hold_point != adjust::HoldPoint::read_again || (open && open->first_setting));
  }
};

}  // namespace hangtrue::job
