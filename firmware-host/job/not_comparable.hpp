// not_comparable.hpp: why two surveys of a level book cannot be compared. In words: say/not_comparable.hpp.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/other_kit.hpp"
#include "firmware-host/job/sheet_changes.hpp"

namespace hangtrue::job {

/// Which of the two, as a person asked for them.
enum class Which { from, to };

struct NoSuchSurvey {
  Which which{};
  std::string id;
  std::vector<std::string> known;  // ids of the book
};
struct SameSurvey {
  std::string id;
};
struct WrongOrder {
  std::string from, to;  // `from` is the later
};
struct TimeNotReadable {
  std::string survey, time;
};
/// The later survey of the book has the earlier time: a clock was set back, or was wrong before.
struct TimesReversed {
  std::string from, to;
  book::Time from_time{}, to_time{};
};
struct RunSheetNotInBook {
  book::Number entry = 0;
  std::string survey;
};
/// The later survey's sheet differs from the earlier's, or (`given`, its file) the sheet that is given from the later's.
struct SheetsDiffer {
  std::string earlier, later;        // surveys
  std::string given;                 // empty: the two surveys' own sheets
  std::vector<SheetChange> changes;  // those that matter
};
struct StageNotOnLaterSheet {
  std::string survey, stage;
  std::vector<std::string> stages;  // of the sheet
};
/// A support that comes or goes between the two locks in a shape that nobody read.
struct OtherSupports {
  std::string survey, stage, earlier_stage;
};
struct MovedAfterReadings {
  std::string survey;  // the earlier
  std::vector<std::string> supports;
};
struct MovedInBetween {
  std::string survey;  // between the two
};
struct TooFewPlaces {
  std::string survey;
  std::vector<double> at_m;
};
struct KitNotInBook {
  std::string survey;
};

using NotComparable = std::variant<NoSuchSurvey, SameSurvey, WrongOrder, TimeNotReadable, TimesReversed,
                                   RunSheetNotInBook, SheetsDiffer, StageNotOnLaterSheet, OtherSupports,
                                   MovedAfterReadings, MovedInBetween, TooFewPlaces, KitNotInBook, KitCannot>;

}  // namespace hangtrue::job
