// history.hpp: the surveys of one run in order, each fitted from what those before it taught.
//
// Carried   Stiffness factors, springs, loads, bow, zero errors and heights of stable marks carry over from one survey to the
//           next; so a bare and a dressed survey together tell bow from sag. Where supports stand carries over too, until a
//           move is made: a move of one support while others hold bends the run, so that the offsets of all of them change.
//           Offsets are also forgotten where the next survey is of an earlier stage with other supports. After
//           kSameVisit they are forgotten because nothing says that the supports still stand as they did, and zero errors
//           are forgotten with them. Datums never carry over.
// Creep     Bow, loads and stiffness carry over as they were when the run was built. What wood-based parts were expected to do since
//           the history's first survey (expected_drift.hpp) is added to what a later survey's readings should be, its share an
//           unknown near 1 in every survey; heights that are shown have it in them.
// Surveys   Those of the same run sheet (book::RunText) before the one that is asked for, in order of the book, that have
//           readings which are kept; the first and the last of them, kMostSurveys in all. A survey that cannot be fitted, or whose fit does not
//           hold, teaches nothing: the next one begins from the surveys before it, and `not_taught` says so.
// Moves     Those that stand as made on the survey's cards. Books of former schemas know no marks of moves: there, all moves
//           of the last card count as made once a later survey follows.
// Units     SI, rad; sigma is one standard deviation.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/fault.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

/// What people said of a survey: which supports bear, and at which one the places begin (empty: nobody said).
struct FoundByHand {
  std::vector<sheet::BearingRemark> bearing;
  std::string starts_at;
};
/// Of one survey's entries; the last one of each counts.
[[nodiscard]] FoundByHand found_by_hand(const std::vector<book::NumberedEntry>& entries);

/// A survey as the book has it.
struct BookedSurvey {
  book::SurveyRecord record;
  std::vector<book::BookedReading> readings;  // all, in order; those set aside by hand have kept == false
  std::vector<book::BookedCard> cards;
  std::vector<book::SetUp> set_ups;
  std::vector<std::string> notes;
  book::Naming naming;
  Checks checks;  // as they stood for it
  FoundByHand found;
};
[[nodiscard]] std::vector<sheet::ReadingEntry> kept_readings(const BookedSurvey& survey);
/// Its readings by the given sheet in the place of the book's (other_kit.hpp).
void read_by(const sheet::KitSheet& booked, const sheet::KitSheet& given, BookedSurvey& survey);

/// Why a survey teaches nothing to those after it.
struct StageNotOnSheet {
  std::string stage;
};
struct FitDoesNotHold {};
struct NotTaught {
  std::string survey;                                        // id
  std::variant<StageNotOnSheet, Fault, FitDoesNotHold> why;  // the fault: it cannot be fitted
};

/// One survey of the history. session->report().judgements goes by the kept readings, in order.
struct FittedSurvey {
  BookedSurvey booked;
  int stage = 0;
  std::vector<std::string> moved;       // supports moved after its readings, by its cards
  std::unique_ptr<SurveyFit> session;   // fitted; none where it cannot be fitted
  std::optional<NotTaught> not_taught;  // none: it goes into what follows

  /// What stands in the way of a fit; nullptr where nothing does.
  [[nodiscard]] const Fault* fault() const {
    return not_taught ? std::get_if<Fault>(&not_taught->why) : nullptr;
  }
};

struct History {
  std::vector<FittedSurvey> surveys;  // the last is the one that was asked for
  std::vector<std::unique_ptr<CarriedState>>
      carried;  // [i]: what surveys up to i taught; none where survey i taught nothing
  std::vector<std::unique_ptr<sheet::KitSheet>> kits;  // what sessions refer to
  std::vector<std::unique_ptr<CarriedState>>
      began_from;  // likewise; [i]: of survey i, none where from the sheets alone

  [[nodiscard]] const FittedSurvey& last() const { return surveys.back(); }
};

/// The history up to that survey, itself included. The run sheet must outlive it. `kit`: for the last survey in the place of
/// the one in the book, its sigmas, signs, scales and feet too (other_kit.hpp), or nullptr; must outlive it too.
[[nodiscard]] Result<History, book::Fault> fit_history(const book::Book& book, const sheet::RunSheet& run,
                                                       const book::SurveyRecord& survey,
                                                       const sheet::KitSheet* kit = nullptr);

/// What earlier surveys of this run carry into one that is under way.
struct CarriedInto {
  std::unique_ptr<CarriedState> state;  // none: they taught nothing
  std::optional<NotTaught> not_taken;   // the last survey that taught nothing
};
[[nodiscard]] Result<CarriedInto, book::Fault> carried_into(const book::Book& book,
                                                            const sheet::RunSheet& run,
                                                            const book::SurveyRecord& survey);

/// A survey of the book, with all that belongs to it.
[[nodiscard]] Result<BookedSurvey, book::Fault> booked_survey(const book::Book& book,
                                                              const sheet::KitSheet& kit,
                                                              const book::SurveyRecord& survey);
/// The kit sheet that a survey went by; none where the book's cannot be read any more.
[[nodiscard]] Result<std::unique_ptr<sheet::KitSheet>, book::Fault> booked_kit(
    const book::Book& book, const sheet::RunSheet& run, const book::SurveyRecord& survey);

/// What remains of `from` once offsets of supports or zero errors of instruments, or both, are forgotten.
enum class Forget { nothing, offsets, zeros, offsets_and_zeros };
[[nodiscard]] std::unique_ptr<CarriedState> without(const CarriedState& from, Forget forgotten);

}  // namespace hangtrue::job
