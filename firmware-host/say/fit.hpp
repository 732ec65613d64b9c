// fit.hpp: a survey's fit in words: causes, readings set aside, repeats, the next best reading, and the whole as a table.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::say {

/// "wall bracket is turned: pitch 1.20 mm/m +- 0.11 mm/m", in words for each kind.
[[nodiscard]] std::string cause_words(const job::LikelierCause& cause, sheet::Show show);
/// Why a reading was set aside; empty where it was kept.
[[nodiscard]] std::string aside_words(const fit::Judgement<double>& judgement, sheet::Show show = {});
[[nodiscard]] std::string next_words(const sheet::RunSheet& run, const job::NextReading& next);
/// How a channel's repeats compare with what is stated, and what to do where they scatter more.
[[nodiscard]] std::string repeats_words(const sheet::RunSheet& run, const job::Repeats& repeats);
/// Share of the prior variance that the readings took away: "94 %".
[[nodiscard]] std::string learned_words(const fit::Estimate<double>& estimate);

/// The likelier causes, at most so many, with their weights; empty where there are none. Lines.
[[nodiscard]] std::string likelier_causes(const job::FitReport& report, sheet::Show show, std::size_t most);
/// That the readings agree better than their sigmas let them (chi-squared's lower tail), with both causes; empty where they do
/// not.
[[nodiscard]] std::string too_well_words(const job::FitReport& report);
/// "Of the readings was taken off what warmth explains, 12 C to 27 C: east rod stands 0.198 mm +- 0.035 mm lower by it."
[[nodiscard]] std::string warmth_words(const job::Warmth& warmth, sheet::Show show);
/// That nobody read a temperature where it could matter.
[[nodiscard]] std::string temperature_not_read(const job::WarmthToCome& by, sheet::Show show);
/// What is to be said of warmth; empty: nothing.
[[nodiscard]] std::string warmth_note(const sheet::RunSheet& run, const job::FitReport& report);
/// The warnings of the checks, and these. Lines.
[[nodiscard]] std::string warning_lines(const sheet::RunSheet& run, const job::FitReport& report);
/// What people read of a fit, within kColumns.
/// "the fit holds", as it stands beside chi-squared.
[[nodiscard]] std::string_view outcome_words(fit::TestOutcome outcome);
[[nodiscard]] std::string fit_view(const sheet::RunSheet& run, const job::FitReport& report);

}  // namespace hangtrue::say
