// moves_on_job.hpp: the card whose moves are being made, and what the card before it promised.
//
// Begun     from "begin moves", or the first tick, on the card does not change and nothing is read: what was read before a move
//           is of another shape than what is read after it. "give up" ends that while no move is made; "read again" begins the
//           next survey.
// Refused   moves of a card whose readings do not hold together, that says read again, or that is not whole.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/answer.hpp"
#include "firmware-host/daemon/commands.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/daemon/survey_log.hpp"
#include "firmware-host/daemon/survey_under_way.hpp"
#include "firmware-host/job/stored_card.hpp"
#include "firmware-host/json/shims.hpp"

namespace hangtrue::daemon {

class MovesOnJob {
 public:
  /// A card in the book that can be worked by.
  struct OnJob {
    book::Number entry = 0;
    Result<job::StoredCard, json::NotACard> card;
    std::vector<int> made;  // orders of its moves
    bool begun = false;     // its moves are being made
    std::optional<job::StoredCard> shown =
        {};  // in the page's language; none: read from the book, which is in English
  };
  /// What the card of the survey before this one promised, all its moves made.
  struct Promised {
    std::string survey;
    job::StoredCard card;
  };

  /// All must outlive it.
  MovesOnJob(const Sheets& sheets, SurveyLog& log, const Announcer& announcer)
      : sheets_(sheets), log_(log), announcer_(announcer) {}

  /// At the beginning of a survey, or where one is gone on with: a card of it of which moves were made, and the promise of the
  /// survey before it.
  void from_book();
  /// A card on which nothing was made is of no use any more.
  void readings_are_others() {
    if (!are_being_made()) on_job_.reset();
  }

  /// The card of now, told line by line and put into the book; "result".
  [[nodiscard]] Answer put_card(SurveyUnderWay& survey);
  /// From now on the card is the one that was shown when the person went to make its moves.
  [[nodiscard]] Answer begin(SurveyUnderWay& survey);
  [[nodiscard]] Answer mark(const MarkMove& move);
  /// Whether moves were begun, none was made, and now they are begun no longer.
  [[nodiscard]] bool give_up();

  [[nodiscard]] bool are_being_made() const { return on_job_ && (on_job_->begun || !on_job_->made.empty()); }
  /// The refusal of a command that would change the card while its moves are being made.
  [[nodiscard]] std::optional<Answer> stand_against(const char* command) const;
  [[nodiscard]] const std::optional<OnJob>& on_job() const { return on_job_; }
  [[nodiscard]] const std::optional<Promised>& promised() const { return promised_; }

 private:
  const Sheets& sheets_;
  SurveyLog& log_;
  const Announcer& announcer_;
  std::optional<OnJob> on_job_;
  std::optional<Promised> promised_;
};

}  // namespace hangtrue::daemon
