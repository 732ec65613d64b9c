// shims.hpp: what `shims --json` prints, and what the level book keeps of a card: values to JSON and strictly back.
//
// Present  {"hold_point", "reason", "advice": [sentence], "level_error_before_m", "level_error_before_sigma_m",
//          "chance_within_tolerance_before", the same three after ("chance_within_tolerance"), "proved_best", "fit_holds",
//          "first_setting", "set_aside": [{"row", "reason", "normalised"}], "doubts": [{"kind", "says", "next"}],
//          "bearing": [{"lifted": [support], "probability"}], "moves": [{"order", "support", "rise_m", "pitch_rad", "roll_rad", "pieces": [{"where", "thickness_m", "count"}],
//          "turns", "limits_hold", "level_error_m", "effects": [{"support", "rise_m", "force_N"}], and "when_stage" where the
//          move is made only when that stage begins}], "reactions": [{"support", "force_before_N", "force_after_N",
//          "moment_before_Nm", "moment_after_Nm"}], "finished": {"at_m", "left_m", "right_m"}}. SI. Limits and level error of a
//          move: once it is made (core/adjust/move_order.hpp).
// Former   cards of programs whose books have schema 1 or 2: as above, without "fit_holds", "limits_hold", "level_error_m"; those of
//          schemas up to 4 without the four members from "first_setting" to "bearing".
// Null     stands for a number that was not finite.
#pragma once

#include <string>
#include <string_view>

#include <nlohmann/json_fwd.hpp>

#include "core/quantity/result.hpp"
#include "firmware-host/job/stored_card.hpp"

namespace hangtrue::json {

/// The card with its sentences in the units of the sheet.
[[nodiscard]] job::StoredCard stored_card(const sheet::RunSheet& run, const job::FitReport& report,
                                          const job::Card& card);

/// In the present form; what a former card does not say is left out.
[[nodiscard]] nlohmann::ordered_json shims_json(const job::StoredCard& card);
[[nodiscard]] nlohmann::ordered_json shims_json(const sheet::RunSheet& run, const job::FitReport& report,
                                                const job::Card& card);

/// Why a text is no card: "moves[2].limits_hold: missing, expected true or false".
struct NotACard {
  std::string says;
};
/// Back from the level book, in the present or the former form. Nothing is completed: a member that is missing or of another
/// type is refused.
[[nodiscard]] Result<job::StoredCard, NotACard> read_card(std::string_view text);

}  // namespace hangtrue::json
