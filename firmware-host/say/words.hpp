// words.hpp: enumerators and small values in words, as files, page and terminal have them.
#pragma once

#include <string>
#include <string_view>

#include "core/adjust/problem.hpp"
#include "core/fit/fit.hpp"
#include "core/fit/repeatability.hpp"
#include "core/quantity/channel.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::say {

using hangtrue::word;  // of a channel
[[nodiscard]] std::string_view word(survey::Edge edge);
[[nodiscard]] std::string_view word(fit::Status status);
[[nodiscard]] std::string_view word(adjust::Where where);
[[nodiscard]] std::string_view word(fit::ScatterVerdict verdict);

/// A zero error, a datum's tilt or a sigma of such: "0.125 mm/m", "0.00150 in/ft".
[[nodiscard]] std::string fine_slope_words(double slope_rad, sheet::Show show);
/// "21 C", "70 F".
[[nodiscard]] sheet::Shown temperature_shown(double temperature_C, sheet::Show show);
[[nodiscard]] std::string temperature_words(double temperature_C, sheet::Show show);
/// "2026-09-14", UTC.
[[nodiscard]] std::string date_of(book::Time time);
/// "95.0 %", "over 99.9 %".
[[nodiscard]] std::string percent(double chance);
/// "\"east rod\"": a name of the sheet, as it is written there.
[[nodiscard]] std::string in_quotes(std::string_view name);

/// "a, b and c".
[[nodiscard]] std::string listed(const std::vector<std::string>& words);
/// The supports of a sheet: "wall bracket, lift one and east rod".
[[nodiscard]] std::string supports_of(const sheet::RunSheet& run);
/// The stages of a sheet, as a complaint lists them: "\"hung\", \"in use\"".
[[nodiscard]] std::string stages_of(const sheet::RunSheet& run);

}  // namespace hangtrue::say
