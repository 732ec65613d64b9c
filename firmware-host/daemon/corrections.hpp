// corrections.hpp: what was said wrongly of a reading is set right by a new entry in the book; and the list of readings.
//
// Each of set_right(), set_aside() and put_back() writes an entry of this survey and answers "corrected", or refuses. Who asked
// then reads the survey anew from the book.
#pragma once

#include <string>

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

 private:
  /// That reading of this survey, or why there is none.
  [[nodiscard]] Result<book::BookedReading, std::string> booked(book::Number entry) const;
  /// The reading as it should have been taken, or why it cannot have been so.
  [[nodiscard]] Result<sheet::ReadingEntry, std::string> set_right(sheet::ReadingEntry reading,
                                                                   const Correct& command) const;
  [[nodiscard]] Answer write(book::Number entry, const char* command, const book::Content& content,
                             const std::string& says);

  const Sheets& sheets_;
  SurveyLog& log_;
  const MovesOnJob& moves_;
};

}  // namespace hangtrue::daemon
