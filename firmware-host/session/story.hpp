// story.hpp: the surveys of one run as one story: each fitted with what those before it taught.
//
// Lasting   Stiffness factors, springs, loads, bow, zero errors and heights of stable marks last from one survey to the next;
//           so a bare and a dressed survey together tell bow from sag. Where supports stand lasts as well, until a move is
//           made: a support moved while others hold bends the run, and moves what they are taken to stand at, so that then
//           no support's offset lasts. Nor does any where a later survey is of an earlier stage with other supports. Datums
//           never last.
// Which     The surveys of the same run sheet (RunText) before the one that is told about, in order of the book, that have
//           readings which are kept. One that cannot be fitted, or whose fit does not hold, teaches nothing: what those
//           before it taught goes on, and that is said.
// Moves     Of its cards those that stand as made; where no move of a survey was ever marked, all that its last card asks
//           for (books of former schemas know no marks), if a later survey follows it.
// Units     SI, rad; sigma is one standard deviation.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/session/survey_session.hpp"

namespace hangtrue::session {

/// A survey as the book has it.
struct BookedSurvey {
  book::SurveyRecord record;
  std::vector<book::BookedReading> readings;  // all, in order; those set aside by hand have kept == false
  std::vector<book::BookedCard> cards;
  std::vector<book::SetUp> set_ups;
  std::vector<std::string> notes;
  Checks checks;  // as they stood for it
};

/// One survey of the story, fitted. report().judgements goes by the kept readings, in order.
struct Chapter {
  BookedSurvey booked;
  int stage = 0;
  std::vector<std::string> moved;          // supports moved after its readings, by its cards
  std::vector<std::string> moved_before;   // in earlier chapters, since the offsets last counted
  std::unique_ptr<SurveySession> session;  // fitted; nothing where `trouble` says why
  std::string trouble;                     // one sentence; empty: it goes into what follows
  /// Why what earlier surveys taught was not, or not wholly, taken; empty where all was.
  std::string not_taken;
};

/// Both sheets must outlive it.
struct Story {
  std::vector<Chapter> chapters;  // the last is the survey that was asked for
  std::vector<std::unique_ptr<Lasting>>
      lasting;  // [i]: what chapters up to i taught; for a session that begins from it

  [[nodiscard]] const Chapter& last() const { return chapters.back(); }
};

/// The story up to that survey, itself included. The kit is the survey's own for each chapter that has the same kit sheet,
/// and is read from the book for the others.
[[nodiscard]] Result<Story, book::Fault> tell_story(const book::Book& book, const sheet::RunSheet& run,
                                                    const sheet::KitSheet& kit,
                                                    const book::SurveyRecord& survey);

/// What earlier surveys of this run taught to one that is to come at `stage` (the daemon's own, which is under way).
[[nodiscard]] Result<std::unique_ptr<Lasting>, book::Fault> taught_before(const book::Book& book,
                                                                          const sheet::RunSheet& run,
                                                                          const sheet::KitSheet& kit,
                                                                          const book::SurveyRecord& survey);

}  // namespace hangtrue::session
