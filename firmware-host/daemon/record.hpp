// record.hpp: what the level book holds, for the page: the surveys and seals, and one survey's record as text.
#pragma once

#include <string>

#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/page/messages.hpp"

namespace hangtrue::daemon {

/// The last of each, the latest first.
[[nodiscard]] page::Record record_topic(const SurveyLog& log);

/// A fit: it takes its time. Empty: there is no such survey.
[[nodiscard]] std::string record_text(const SurveyLog& log, const Sheets& sheets, const std::string& survey);

}  // namespace hangtrue::daemon
