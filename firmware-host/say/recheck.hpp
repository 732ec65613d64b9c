// recheck.hpp: what moved between two surveys, in words and as a person reads it. Each thing is worded here, once, for command,
// daemon, page and report. Site units as the sheet asks.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/job/recheck.hpp"

namespace hangtrue::say {

/// "nothing moved", "moved", "moved somehow", "cannot tell"; "none expected", "as expected", "less", "more", "cannot tell".
[[nodiscard]] std::string_view word(job::RecheckAnswer answer);
[[nodiscard]] std::string_view word(job::DriftVerdict verdict);
/// The answer, and what of the tolerance is not as it should be: "nothing moved, past its tolerance".
[[nodiscard]] std::string verdict(const job::Recheck& recheck, sheet::Show show = {});
/// "2027-11-03", or "2027-11-03, by a rehearsal's clock 365 days ahead"; and what stands behind the date alone.
[[nodiscard]] std::string date_words(book::Time time, const std::string& clock_ahead, sheet::Show show);
[[nodiscard]] std::string clock_words(const std::string& clock_ahead, sheet::Show show);
/// What to do before anything else, at every recheck.
[[nodiscard]] std::string keep_away(sheet::Show show = {});
/// "other stage", "never turned", "faces exchanged", "scale", "rough", "all rough".
[[nodiscard]] std::string_view word(job::MisreadKind kind);
/// "not asked", "within", "past", "cannot tell".
[[nodiscard]] std::string_view word(job::ToleranceVerdict verdict);

/// "east rod: rise", "load books", "unlisted load at 2100 mm", "bow 1", "mark lintel: height": stable, as other programs read it.
[[nodiscard]] std::string change_name(const job::UnknownId& change);
[[nodiscard]] std::vector<std::string> change_names(const std::vector<job::UnknownId>& changes);
/// The same for people: places in site units, in their language.
[[nodiscard]] std::string change_words(const job::UnknownId& change, sheet::Show show);
/// "wall bracket: rise and east rod: rise".
[[nodiscard]] std::string twins(const std::pair<job::UnknownId, job::UnknownId>& pair, sheet::Show show = {});

/// One sentence without a full stop: "east rod sank by 0.80 mm +- 0.04 mm".
[[nodiscard]] std::string moved(const job::Cause& cause, sheet::Show show);
/// What would tell the cause from those that explain the readings as well; empty where there are none.
[[nodiscard]] std::string tell_apart(const job::Cause& cause, sheet::Show show = {});
/// For who owns the run: the answer and what stands of the tolerance, without a term of statistics.
[[nodiscard]] std::string in_short(const sheet::RunSheet& run, const job::Recheck& recheck);
/// The answer in one or two sentences, with its numbers.
[[nodiscard]] std::string reason(const sheet::RunSheet& run, const job::Recheck& recheck);
/// What was expected of the run and what came of it, one sentence; empty where nothing was compared.
[[nodiscard]] std::string drift(const job::ExpectedDrift& drift, sheet::Show show);
/// Why it was expected, a sentence each.
[[nodiscard]] std::vector<std::string> drift_reasons(const job::ExpectedDrift& drift, sheet::Show show = {});
/// "east rod: height against the farthest support", "level error, 0 mm above 3900 mm".
[[nodiscard]] std::string trend_name(const job::TrendOf& trend, sheet::Show show);
[[nodiscard]] std::string trend(const job::Trend& trend, sheet::Show show);
[[nodiscard]] std::string remark(const job::Remark& remark, sheet::Show show);
[[nodiscard]] std::vector<std::string> remarks(const job::Recheck& recheck, sheet::Show show);

/// A chance as a table shows it: "0.023", "< 0.0001".
[[nodiscard]] std::string chance(double p, sheet::Show show = {});

/// What people read, within 80 columns.
[[nodiscard]] std::string recheck_view(const sheet::RunSheet& run, const job::Recheck& recheck);

}  // namespace hangtrue::say
