// survey_log.hpp: the survey under way, as it is kept in the level book.
//
// Contract   every change is an entry, acknowledged by what the functions return. A book that cannot be written, or was taken
//            away, is said once, by on_trouble; live values go on, and the next entry that can be written says that it is over.
// Going on   a survey that was not closed (a power cut, a stopped daemon) is gone on with, when the run sheet and the
//            stage are the same.
// Time       the wall clock's, set ahead for a rehearsal of what comes later.
#pragma once

#include <chrono>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/job/recheck.hpp"

namespace hangtrue::daemon {

class SurveyLog {
 public:
  /// Called with true and what is the matter, and with false and a sentence when it is over.
  using OnTrouble = std::function<void(bool trouble, const std::string& says)>;

  SurveyLog(book::Book book, std::string path, OnTrouble on_trouble, std::chrono::seconds ahead = {});

  /// Finds or appends the sheets, and goes on with or begins a survey of that stage. `id`: as asked for, or empty.
  [[nodiscard]] Result<Done, book::Fault> begin(const Sheets& sheets, const std::string& stage,
                                                const std::string& id);
  /// The same sheets at another stage: closes this survey and begins the next, both or neither.
  [[nodiscard]] Result<Done, book::Fault> begin_next(const std::string& stage);

  [[nodiscard]] Result<book::Number, book::Fault> append(const std::vector<book::Content>& contents);
  [[nodiscard]] Result<book::SealRecord, book::Fault> seal();
  /// Says so where the book was taken away, also while nothing is written.
  void look_after_book();
  /// Marks the take-back of these readings.
  [[nodiscard]] Result<book::Number, book::Fault> set_aside(const std::vector<book::Number>& readings,
                                                            const std::string& reason);

  /// What earlier surveys of the same run taught to this one.
  [[nodiscard]] Result<job::CarriedInto, book::Fault> taught(const Sheets& sheets) const;
  /// A survey of the book, whichever it is.
  struct Kept {
    book::SurveyRecord record;
    std::vector<book::BookedReading> readings;  // those set aside as well
    std::optional<job::History> history;  // up to it, where it goes by the run sheet that this one goes by
  };
  [[nodiscard]] Result<std::optional<Kept>, book::Fault> survey(const std::string& id,
                                                                const Sheets& sheets) const;
  /// Of this survey, those set aside as well.
  [[nodiscard]] Result<std::vector<book::BookedReading>, book::Fault> readings() const;
  /// Of this survey the card whose moves are being made: the last with one that stands as made, else the last card.
  [[nodiscard]] Result<std::optional<book::BookedCard>, book::Fault> card_on_job() const {
    return card_of(survey_);
  }
  /// What the survey before this one left to be seen.
  struct Promise {
    std::string survey;     // its id
    book::BookedCard card;  // at least one of its moves stands as made
  };
  /// Of the last survey of this run before this one in which anything was kept or moved; none when that was at another
  /// stage, or without a move that stands as made.
  [[nodiscard]] Result<std::optional<Promise>, book::Fault> promise() const;
  /// The survey of that name, or the last before this one at its stage with readings that are kept; none: there is none such.
  [[nodiscard]] Result<std::optional<book::SurveyRecord>, book::Fault> earlier(const std::string& id) const;
  /// What moved between that survey and this one.
  [[nodiscard]] Result<job::Recheck, job::Fault> recheck(const Sheets& sheets,
                                                         const std::string& from) const {
    return job::recheck(book_, sheets.run, from, id());
  }
  /// Of the whole book, in order; or the last so many.
  [[nodiscard]] Result<std::vector<book::SurveyRecord>, book::Fault> surveys(
      std::optional<int> last = {}) const {
    return book_.surveys(last);
  }
  [[nodiscard]] Result<std::vector<book::SealRecord>, book::Fault> seals(std::optional<int> last = {}) const {
    return book_.seals(last);
  }
  /// Checks of instruments in the book, in order.
  [[nodiscard]] Result<std::vector<book::NumberedEntry>, book::Fault> checks() const {
    return book_.checks();
  }
  /// What they mean for this survey, as they stand now.
  [[nodiscard]] Result<job::Checks, book::Fault> checks_of_survey(const Sheets& sheets) const {
    return checks_of(survey_, sheets);
  }
  /// Texts of all notes in the book, of whatever survey.
  [[nodiscard]] Result<std::vector<std::string>, book::Fault> notes() const;
  /// What people said of this survey.
  [[nodiscard]] Result<job::FoundByHand, book::Fault> found_by_hand() const;
  /// What this survey is called, and its persons.
  [[nodiscard]] Result<book::Naming, book::Fault> naming() const;
  /// The set-up that was placed last in this survey; its name is empty: none yet.
  [[nodiscard]] Result<book::SetUp, book::Fault> last_set_up() const;

  [[nodiscard]] book::Time now() const { return book::now() + ahead_; }
  [[nodiscard]] const std::string& id() const { return begun_.id; }
  [[nodiscard]] const std::string& stage() const { return begun_.stage; }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] bool continued() const { return continued_; }
  [[nodiscard]] bool in_trouble() const { return trouble_.has_value(); }

 private:
  void note(const book::Fault* fault);
  [[nodiscard]] Result<book::Number, book::Fault> write(const std::vector<book::Entry>& entries);
  [[nodiscard]] Result<std::optional<book::BookedCard>, book::Fault> card_of(book::Number survey) const;
  [[nodiscard]] Result<job::Checks, book::Fault> checks_of(book::Number survey, const Sheets& sheets) const;

  book::Book book_;
  std::string path_;
  OnTrouble on_trouble_;
  std::chrono::seconds ahead_;
  book::Number survey_ = 0;
  book::SurveyBegun begun_;
  bool continued_ = false;
  std::optional<book::Trouble> trouble_;  // that was said last, and is not over
};

}  // namespace hangtrue::daemon
