// words.hpp: what fit and card say, in words a person on a lift can use. Site units as the sheet asks.
#pragma once

#include <string>
#include <string_view>

#include "firmware-host/job/survey_session.hpp"

namespace hangtrue::say {

using hangtrue::word;  // of a channel
[[nodiscard]] std::string_view word(survey::Edge edge);
[[nodiscard]] std::string_view word(fit::Status status);
[[nodiscard]] std::string_view word(adjust::Where where);
[[nodiscard]] std::string_view word(fit::ScatterVerdict verdict);

/// A zero error, a datum's tilt or a sigma of such: "0.125 mm/m", "0.00150 in/ft".
[[nodiscard]] std::string fine_slope_words(double slope_rad, sheet::Show show);
/// "21 C", "70 F".
[[nodiscard]] std::string temperature_words(double temperature_C, sheet::Show show);
/// "2026-09-14", UTC.
[[nodiscard]] std::string date_of(book::Time time);

/// The stages of a sheet, as a complaint lists them: "\"hung\", \"in use\"".
[[nodiscard]] std::string stages_of(const sheet::RunSheet& run);
/// "wall bracket: rise", "load books", "bending stiffness", "bow 2".
[[nodiscard]] std::string parameter_name(const sheet::RunSheet& run, beam::Parameter parameter);
/// "wall bracket: pitch is 1.20 mm/m +- 0.11 mm/m off what was assumed", in words for each kind.
[[nodiscard]] std::string cause_words(const sheet::RunSheet& run, const fit::Unknown& unknown,
                                      const std::string& name, double value, double sigma);
/// A value of a parameter with the unit that is its own: "1.20 mm", "0.3 mm/m", "1.08 times".
[[nodiscard]] std::string parameter_value(const sheet::RunSheet& run, const std::string& name, double value);
/// Its sigma, likewise.
[[nodiscard]] std::string parameter_sigma(const sheet::RunSheet& run, const job::NamedEstimate& named);
[[nodiscard]] std::string aside_words(const fit::Judgement<double>& judgement);
[[nodiscard]] std::string next_words(const sheet::RunSheet& run, const job::NextReading& next);
[[nodiscard]] std::string weighing_words(const sheet::RunSheet& run, int load, double sigma_now_m,
                                         double sigma_after_m);
/// Which unknown leaves most open, and what knowing it would be worth.
[[nodiscard]] std::string open_words(const sheet::RunSheet& run, const std::string& name, double sigma_now_m,
                                     double sigma_after_m);
/// How a channel's repeats compare with what is stated, and what to do where they scatter more.
[[nodiscard]] std::string repeats_words(const sheet::RunSheet& run, const job::Repeats& repeats);
[[nodiscard]] std::string cure_words(const sheet::RunSheet& run, const adjust::Cure<double>& cure);
[[nodiscard]] std::string reason_words(const sheet::RunSheet& run, const job::Card& card);
[[nodiscard]] std::string percent(double chance);
/// What the answer of the hold point asks for, one sentence.
[[nodiscard]] std::string to_do_words(adjust::HoldPoint answer);
/// The heading over a card's moves: how far they can be trusted.
[[nodiscard]] std::string moves_heading(bool fit_holds, adjust::HoldPoint answer);
/// "rise 2.50 mm, pitch 1.20 mm/m"; what is 0 is left out, but the rise.
[[nodiscard]] std::string motion_words(double rise_m, double pitch_rad, double roll_rad, sheet::Show show);
/// What to slacken for a move there, one sentence.
[[nodiscard]] std::string slacken_words(sheet::AdjustBy by, const std::string& support);
/// What stays under the run meanwhile; and what to prop, where a support's limits do not hold until the next move.
[[nodiscard]] std::string keep_words(bool limits_hold, const std::string& support);
/// What a move does to another support: "east rod carries 120 N more, the run there sinks 0.012 mm"; empty: too little to tell.
[[nodiscard]] std::string effect_words(const job::Effect& effect, sheet::Show show);

}  // namespace hangtrue::say
