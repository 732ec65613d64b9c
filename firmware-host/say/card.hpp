// card.hpp: the shim card in words: its moves, its reason, its advice, and the whole as people read it.
#pragma once

#include <string>

#include "firmware-host/job/stored_card.hpp"

namespace hangtrue::say {

/// "Under a straight-edge of 2000 mm the run departs by 1.204 mm at most (left edge, at 1200 mm), within the 2.000 mm that the sheet
/// allows." With "+- 0.081 mm" behind the first, one sigma, where it is an estimate.
[[nodiscard]] std::string straight_words(const sheet::RunSheet& run, const job::Straightness& straight);
[[nodiscard]] std::string straight_words(const sheet::StraightEdge& per, const job::Straightness& straight,
                                         sheet::Show show);

/// Why the hold point is answered so, with the numbers behind it and the supports that stand against it.
[[nodiscard]] std::string reason_words(const sheet::RunSheet& run, const job::Card& card);
/// What of the level error's sigma comes from how later supports fit; empty where none does, or the reason says it.
[[nodiscard]] std::string fit_up_words(const sheet::RunSheet& run, const job::Card& card);
/// What is meant by left and right, wherever a side is named.
[[nodiscard]] std::string sides_words(sheet::Show show);
/// One sentence; empty where there is nothing to say.
[[nodiscard]] std::string advice_words(const sheet::RunSheet& run, const job::Advice& advice);
/// What would bring a run level that no setting does; never empty.
[[nodiscard]] std::string cure_words(const sheet::RunSheet& run, const job::Cures& cures);
/// What the answer of the hold point asks for, one sentence.
[[nodiscard]] std::string to_do_words(adjust::HoldPoint answer, sheet::Show show);
/// Of a card in the level book that is not whole: why, and what to do instead.
[[nodiscard]] std::string unusable_card(const std::string& why, sheet::Show show = {});
/// A card of the level book, which was kept in English, in the language of the run: its reason by its numbers, its doubts by their kind.
/// As it is where the run's language is English.
[[nodiscard]] job::StoredCard for_people(const sheet::RunSheet& run, job::StoredCard card);
/// The heading over a card's moves: how far they can be trusted.
[[nodiscard]] std::string moves_heading(bool fit_holds, adjust::HoldPoint answer, bool first_setting,
                                        sheet::Show show);
/// "rise 2.50 mm, pitch 1.20 mm/m"; what is 0 is left out, but the rise.
[[nodiscard]] std::string motion_words(double rise_m, double pitch_rad, double roll_rad, sheet::Show show);
/// A shim as the sheet wrote it, where the support's stock still has it: "1/16 in". `support`: its index, or -1.
[[nodiscard]] std::string piece_name(const sheet::RunSheet& run, int support, double thickness_m);
/// A stack with more pieces: "2 x 1 mm", then "2 x 1 mm + 1 x 0.5 mm". `times`: " x ", or with a sign of its own.
[[nodiscard]] std::string with_pieces(std::string stack, int count, const std::string& name,
                                      std::string_view times);
/// Of a lift: "down 3 mm".
[[nodiscard]] std::string lift_words(double rise_m, sheet::Show show);
/// Of a rod: "1 1/4 turns up".
[[nodiscard]] std::string turns_words(double turns, sheet::Show show);
/// What to slacken for a move there, one sentence.
[[nodiscard]] std::string slacken_words(sheet::AdjustBy by, const std::string& support, sheet::Show show);
/// What stays under the run meanwhile; and what to prop, where a support's limits do not hold until the next move.
[[nodiscard]] std::string keep_words(bool limits_hold, const std::string& support, sheet::Show show);
/// What a move does to another support: "east rod carries 120 N more, the run there sinks 0.012 mm"; empty: too little to tell.
[[nodiscard]] std::string effect_words(const job::Effect& effect, sheet::Show show);

/// What people read of a card, within kColumns.
[[nodiscard]] std::string card_view(const sheet::RunSheet& run, const job::FitReport& report,
                                    const job::Card& card);

}  // namespace hangtrue::say
