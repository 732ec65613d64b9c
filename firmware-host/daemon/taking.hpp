// taking.hpp: "take": readings of what has settled, from the instruments into the book and the survey.
//
// Which     of the walking instruments where they stand, or (fixed) of those that stay; at a mark only distances. One whose line
//           does not speak is left out, and named.
// When      once all of them have settled; those that have, when patience is over.
// Acknowledged  only when it is on disk.
#pragma once

#include <string>
#include <variant>

#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/raw_samples.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/stand.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"

namespace hangtrue::daemon {

/// The answer, or what is still waited for.
using Looked = std::variant<Answer, Told>;

class Taking {
 public:
  /// All must outlive it.
  Taking(const Sheets& sheets, SurveyLog& log, RawSamples& raw, Instruments& instruments, Stand& stand,
         SurveyUnderWay& survey)
      : sheets_(sheets), log_(log), raw_(raw), instruments_(instruments), stand_(stand), survey_(survey) {}

  /// `late`: patience is over.
  [[nodiscard]] Looked look(const Take& command, bool late);

 private:
  /// Whether it would be taken, if it spoke.
  [[nodiscard]] bool is_meant(const InstrumentLine::LiveChannel& channel, const Take& command) const;
  /// Calls `each(instrument, channel)` for every channel that is meant and speaks.
  template <class Each>
  void for_wanted(const Take& command, const Each& each) const;
  /// Instruments that would be taken, if they spoke, and why they do not; empty: all speak.
  [[nodiscard]] Told not_speaking(const Take& command) const;
  [[nodiscard]] Answer take(const Take& command, const Told& missing);
  [[nodiscard]] sheet::ReadingEntry entry(const sheet::KitInstrument& kit,
                                          const InstrumentLine::LiveChannel& channel,
                                          const survey::Settled<double>& settled) const;

  const Sheets& sheets_;
  SurveyLog& log_;
  RawSamples& raw_;
  Instruments& instruments_;
  Stand& stand_;
  SurveyUnderWay& survey_;
};

}  // namespace hangtrue::daemon
