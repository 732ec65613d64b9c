// corrections.hpp: what was said wrongly of a reading is set right by a new entry in the book; and the list of readings.
//
// Each of set_right(), set_aside() and put_back() writes an entry of this survey, or for a whole take one for each of its readings
// at once, and answers "corrected", or refuses. Who asked then reads the survey anew from the book.
#pragma once

#include <string>
#include <vector>

#include "core/quantity/result.hpp"
#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/moves_on_job.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"

namespace hangtrue::daemon {

class Corrections {
 public:
  /// All must outlive it. Nothing is corrected while moves of a card are being made.
  Corrections(const Sheets& sheets, SurveyLog& log, const MovesOnJob& moves)
      : sheets_(sheets), log_(log), moves_(moves) {}

  [[nodiscard]] Answer set_right(const Correct& command);
  [[nodiscard]] Answer set_aside(const SetAsideEntry& command);
  [[nodiscard]] Answer put_back(const PutBackEntry& command);
  /// Of this survey, those set aside as well, each an event "reading".
  [[nodiscard]] Answer list(const Announcer& announcer) const;

  /// Whether the last take that counts stands at that place, which is said to be another: then who took it stands there too.
  [[nodiscard]] bool moves_last_take(const Correct& command, double from_m,
                                     const std::string& from_mark) const;

 private:
  using Readings = std::vector<book::BookedReading>;
  /// What is meant, of this survey and in order; or why there is nothing.
  [[nodiscard]] Result<Readings, Told> meant(const Meant& what) const;
  /// The reading as it should have been taken, or why it cannot have been so.
  [[nodiscard]] Result<sheet::ReadingEntry, Told> set_right(sheet::ReadingEntry reading,
                                                            const Correct& command) const;
  [[nodiscard]] Result<std::vector<book::Content>, Told> corrected(const Readings& readings,
                                                                   const Correct& command) const;
  [[nodiscard]] Answer write(const char* command, const Readings& readings,
                             const std::vector<book::Content>& contents, const Told& says);

  const Sheets& sheets_;
  SurveyLog& log_;
  const MovesOnJob& moves_;
};

}  // namespace hangtrue::daemon
