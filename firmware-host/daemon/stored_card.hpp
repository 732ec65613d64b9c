// stored_card.hpp: a shim card read back from its JSON, as job::shims_json() makes it and the level book keeps it.
//
// Strict  every member that is used must be there and be of its kind. One that is missing is refused, never completed: a card
//         that does not say whether the limits hold does not say that they do. Members that are not used are passed over.
// Null    a number that is none (NaN) is null in JSON; only those that may be so are optional. `when_stage` is left out of a
//         move that is made now.
// Units   SI, signs as in shims --json.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <boost/describe/class.hpp>
#include <nlohmann/json_fwd.hpp>

#include "core/quantity/result.hpp"
#include "firmware-host/page/messages.hpp"

namespace hangtrue::daemon {

struct StoredPiece {
  page::Where where = page::Where::whole;
  double thickness_m = 0;
  int count = 0;
};
BOOST_DESCRIBE_STRUCT(StoredPiece, (), (where, thickness_m, count))

struct StoredEffect {
  std::string support;
  double rise_m = 0, force_N = 0;
};
BOOST_DESCRIBE_STRUCT(StoredEffect, (), (support, rise_m, force_N))

struct StoredMove {
  int order = 0;
  std::string support;
  double rise_m = 0, pitch_rad = 0, roll_rad = 0, turns = 0;
  std::vector<StoredPiece> pieces;
  bool limits_hold = false;
  std::optional<double> level_error_m;
  std::vector<StoredEffect> effects;
  std::optional<std::string> when_stage;
};
BOOST_DESCRIBE_STRUCT(StoredMove, (),
                      (order, support, rise_m, pitch_rad, roll_rad, turns, pieces, limits_hold, level_error_m,
                       effects, when_stage))

struct StoredCard {
  std::string hold_point, reason;
  std::vector<std::string> advice;
  std::optional<double> level_error_before_m, level_error_before_sigma_m, chance_within_tolerance_before;
  std::optional<double> level_error_after_m, level_error_after_sigma_m, chance_within_tolerance;
  bool fit_holds = false;
  std::vector<StoredMove> moves;
};
BOOST_DESCRIBE_STRUCT(StoredCard, (),
                      (hold_point, reason, advice, level_error_before_m, level_error_before_sigma_m,
                       chance_within_tolerance_before, level_error_after_m, level_error_after_sigma_m,
                       chance_within_tolerance, fit_holds, moves))

/// Or a sentence for people: what is missing or wrong, and what to do instead.
[[nodiscard]] Result<StoredCard, std::string> read_card(nlohmann::ordered_json card);

}  // namespace hangtrue::daemon
