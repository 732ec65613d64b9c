// story.hpp: the surveys of one run as one story: each fitted with what those before it taught.
//
// Lasting   (lasting_for) Stiffness factors, springs, loads, bow, zero errors and heights of stable marks last from one survey to the next;
//           so a bare and a dressed survey together tell bow from sag. Where supports stand lasts as well, until a move is
//           made: a support moved while others hold bends the run, and moves what they are taken to stand at, so that then
//           no support's offset lasts. Nor does any where a later survey is of an earlier stage with other supports, nor after
//           kSameVisit: then nothing says that supports still stand as they did, and instruments' zero errors are taken
//           anew as well. Datums never last.
// Which     The surveys of the same run sheet (RunText) before the one that is told about, in order of the book, that have
//           readings which are kept; the last kMostChapters of them. One that cannot be fitted, or whose fit does not hold, teaches nothing: what those
//           before it taught goes on, and that is said.
// Moves     Of its cards those that stand as made; where no move of a survey was ever marked, all that its last card asks
//           for (books of former schemas know no marks), if a later survey follows it.
// Units     SI, rad; sigma is one standard deviation.
#pragma once

#include <chrono>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

/// Common practice, no source: so long a job on site may take between two surveys of it.
inline constexpr std::chrono::days kSameVisit{14};
inline constexpr std::size_t kMostChapters = 24;

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
  std::vector<std::string> moved;             // supports moved after its readings, by its cards
  std::unique_ptr<SurveyFit> session;         // fitted; nothing where `trouble` says why
  std::optional<sheet::Complaint> complaint;  // why there is none
  std::string trouble;  // why it teaches nothing, a sentence; empty: it goes into what follows
};

struct Story {
  std::vector<Chapter> chapters;  // the last is the survey that was asked for
  std::vector<std::unique_ptr<CarriedState>>
      lasting;  // [i]: what chapters up to i taught, as it was then; may be empty
  std::vector<std::unique_ptr<sheet::KitSheet>> kits;     // what sessions refer to
  std::vector<std::unique_ptr<CarriedState>> began_from;  // likewise

  [[nodiscard]] const Chapter& last() const { return chapters.back(); }
};

/// The story up to that survey, itself included. The run sheet must outlive it. `kit`: for the last survey in the place of
/// the one in the book, or nullptr; must outlive it too.
[[nodiscard]] Result<Story, book::Fault> tell_story(const book::Book& book, const sheet::RunSheet& run,
                                                    const book::SurveyRecord& survey,
                                                    const sheet::KitSheet* kit = nullptr);

/// What earlier surveys of this run taught to this one, which is under way; nothing where they taught nothing.
struct Taught {
  std::unique_ptr<CarriedState> lasting;
  std::string not_taken;  // a sentence where something stood in the way
};
[[nodiscard]] Result<Taught, book::Fault> taught_before(const book::Book& book, const sheet::RunSheet& run,
                                                        const book::SurveyRecord& survey);

/// A survey of the book, with all that belongs to it.
[[nodiscard]] Result<BookedSurvey, book::Fault> booked_survey(const book::Book& book,
                                                              const sheet::RunSheet& run,
                                                              const sheet::KitSheet& kit,
                                                              const book::SurveyRecord& survey);
/// The kit sheet that a survey went by; nothing where the book's cannot be read any more.
[[nodiscard]] Result<std::unique_ptr<sheet::KitSheet>, book::Fault> booked_kit(
    const book::Book& book, const sheet::RunSheet& run, const book::SurveyRecord& survey);

/// What each survey taught, as a table of sigmas: as assumed, and after each of the last few; only what got better known.
/// Empty where there is one survey alone.
[[nodiscard]] std::string story_view(const sheet::RunSheet& run, const Story& story);

/// What lasts of `from` where not everything does.
enum class Forget { nothing, offsets, zeros, offsets_and_zeros };
[[nodiscard]] std::unique_ptr<CarriedState> lasting_for(const CarriedState& from, Forget forget);

}  // namespace hangtrue::job
