// asked_recheck.hpp: the comparison of this survey with an earlier one, once somebody has asked for it.
//
// From then on it is made anew whenever it is shown and the readings are others than those behind it. No earlier survey that
// was asked for is forgotten until another is named.
#pragma once

#include <optional>
#include <string>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"
#include "firmware-host/page/messages.hpp"

namespace hangtrue::daemon {

class AskedRecheck {
 public:
  /// All must outlive it.
  AskedRecheck(const Sheets& sheets, const SurveyLog& log, const SurveyUnderWay& survey,
               const Announcer& announcer)
      : sheets_(sheets), log_(log), survey_(survey), announcer_(announcer) {}

  [[nodiscard]] Answer ask(const CompareWith& command);
  void readings_are_others() { due_ = true; }
  /// Made anew where that is due; none: nobody asked.
  [[nodiscard]] std::optional<page::Recheck> topic();

 private:
  void make();

  const Sheets& sheets_;
  const SurveyLog& log_;
  const SurveyUnderWay& survey_;
  const Announcer& announcer_;
  std::string from_;  // the earlier survey; empty: none
  std::optional<job::Recheck> recheck_;
  Told trouble_;      // why there is none
  bool due_ = false;  // the readings are others than those behind it
};

}  // namespace hangtrue::daemon
