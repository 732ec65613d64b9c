// survey_log.hpp: the survey under way, as it is kept in the level book.
//
// Contract   every change is an entry, acknowledged by what the functions return. A book that cannot be written is said
//            once, by on_trouble; live values go on, and the next entry that can be written says that it is over.
// Going on   a survey that was not closed (a power cut, a stopped daemon) is gone on with, when the run sheet and the
//            stage are the same.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/daemon/sheets.hpp"
#include "firmware-host/session/checks.hpp"

namespace hangtrue::daemon {

class SurveyLog {
 public:
  /// Called with true and what is the matter, and with false and a sentence when it is over.
  using OnTrouble = std::function<void(bool trouble, const std::string& says)>;

  SurveyLog(book::Book book, std::string path, OnTrouble on_trouble);

  /// Finds or appends the sheets, and goes on with or begins a survey of that stage. `id`: as asked for, or empty.
  [[nodiscard]] Result<Done, book::Fault> begin(const Sheets& sheets, const std::string& stage,
                                                const std::string& id);
  /// The same sheets at another stage: closes this survey and begins the next, both or neither.
  [[nodiscard]] Result<Done, book::Fault> begin_next(const std::string& stage);

  [[nodiscard]] Result<book::Number, book::Fault> append(const std::vector<book::Content>& contents);
  [[nodiscard]] Result<book::SealRecord, book::Fault> seal();
  /// Marks the take-back of these readings.
  [[nodiscard]] Result<book::Number, book::Fault> set_aside(const std::vector<book::Number>& readings,
                                                            const std::string& reason);

  /// A survey of the same run before this one that has readings which are kept.
  struct Former {
    std::string stage;
    std::vector<book::BookedReading> readings;
    std::vector<std::string> moved;  // supports that its cards say to move
    session::Checks checks;          // as they stood then
  };
  /// Of this survey, those set aside as well.
  [[nodiscard]] Result<std::vector<book::BookedReading>, book::Fault> readings() const;
  [[nodiscard]] Result<std::vector<Former>, book::Fault> former_surveys(const Sheets& sheets) const;
  /// Checks of instruments in the book, in order.
  [[nodiscard]] Result<std::vector<book::NumberedEntry>, book::Fault> checks() const {
    return book_.checks();
  }
  /// What they mean for this survey, as they stand now.
  [[nodiscard]] Result<session::Checks, book::Fault> checks_of_survey(const Sheets& sheets) const {
    return checks_of(survey_, sheets);
  }
  /// The set-up that was placed last in this survey; its name is empty: none yet.
  [[nodiscard]] Result<book::SetUp, book::Fault> last_set_up() const;

  [[nodiscard]] const std::string& id() const { return begun_.id; }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] bool continued() const { return continued_; }
  [[nodiscard]] bool in_trouble() const { return in_trouble_; }

 private:
  void note(const book::Fault* fault);
  [[nodiscard]] Result<book::Number, book::Fault> write(const std::vector<book::Entry>& entries);
  [[nodiscard]] Result<std::vector<book::BookedReading>, book::Fault> kept_of(book::Number survey) const;
  [[nodiscard]] Result<std::vector<std::string>, book::Fault> moved_in(book::Number survey) const;
  [[nodiscard]] Result<session::Checks, book::Fault> checks_of(book::Number survey,
                                                               const Sheets& sheets) const;

  book::Book book_;
  std::string path_;
  OnTrouble on_trouble_;
  book::Number survey_ = 0;
  book::SurveyBegun begun_;
  bool continued_ = false;
  bool in_trouble_ = false;
};

}  // namespace hangtrue::daemon
