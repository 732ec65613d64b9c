// commands.hpp: what a person types to the daemon, one command a line. Forgiving of case and spaces; pure.
//
//   station 1200 mm | station 4     where the walking instruments stand; a length with its unit, or the number of a
//                                   listed station from 1; or the name of a stable mark of the run sheet, where only a distance
//                                   is read
//   face 1 | face 2                 2: turned round (also written face -1)
//   edge left | middle | right
//   set-up NAME | set-up NAME at 4500 mm   a new or former placing of the laser datum; where it stands along the run, off it
//                                   too, where that is known (a datum check then counts)
//   stage NAME                      closes this survey and begins one at that stage
//   go on                           to the next place of the plan that was not read yet
//   take | take fixed               readings of what has settled; fixed: of the instruments that stay where they are
//   take kept                       readings that a node took by itself while no host was there, from its memory; each once
//   undo                            sets the last take aside, both faces of it
//   readings                        of this survey, with their numbers in the book
//   correct 17 station 1500 mm      or face, edge, set-up: what was said wrongly when entry 17 was taken
//   set aside 17 WHY, put back 17 WHY
//   correct take 17 station 1500 mm, set aside take 17 WHY, put back take 17 WHY   all that was taken at that place in one go with
//                                   entry 17, on both faces (job/takes.hpp); "last" in place of the number: the last that counts
//   check zero [INSTRUMENT]         guided: one place, both ways round, several times
//   check datum PLACE to PLACE [with INSTRUMENT]   guided: two stations, the laser beyond one end, then beyond the other
//   check scale 5 mm [across 120 mm] [with INSTRUMENT]   guided: a piece that thick under one foot of an inclinometer, whose feet
//                                   stand so far apart across the run (due where it gives roll): scale, unit and sign
//   check scale places 500 mm apart [with INSTRUMENT]    guided: a laser at two places, the second so much higher
//   lift one bears | lift one hangs free   what somebody found who tried that support by hand
//   start at wall bracket           the support nearest to the end where the places of this survey begin
//   called NAME, read by NAME, checked by NAME   what this survey is called, who reads, and who checks as a second person
//   begin moves                     puts the card into the book; until its moves are made (or give up) nothing is read
//   made 2, not made 2              ticks move 2 of the card that was shown last, or takes that back
//   watch 2, watch stage, watch off   from now on the instruments stay where they are: move 2 of that card, or the next stage's
//                                   loads, under watch; off: no longer
//   read again                      after moves: closes this survey and begins one at the same stage
//   recheck, recheck 2              compares this survey with an earlier one, by its name; the last of this stage unless given
//   next, give up                   during a check; give up also ends a take that waits, and moves of which none was made; keep: puts one that is in doubt into the book all the same
//   done, done and seal             the card, then closes the survey and ends; and seals: before it ends, the end of the survey too
//   status, card, seal, help
//   pair                            a code by which one phone is paired
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/survey/reading.hpp"

namespace hangtrue::daemon {

struct GoToStation {
  std::optional<double> at_m;  // one of the three
  std::optional<int> number;   // from 1
  std::string mark = {};
};
struct TurnFace {
  int face;
};  // 1 or -1
struct ChooseEdge {
  survey::Edge edge;
};
struct PlaceSetUp {
  std::string name;
  std::optional<double> stands_at_m;
};
struct BeginStage {
  std::string name;
};
struct GoOn {};
struct Take {
  bool fixed;
};
struct TakeKept {};
struct Undo {};
struct ShowReadings {};
/// What a correction is of: an entry, or the whole take that it belongs to.
struct Meant {
  std::int64_t entry = 0;  // 0: the last that counts
  bool whole_take = false;
};
struct Correct {
  Meant what;
  std::variant<GoToStation, TurnFace, ChooseEdge, PlaceSetUp> to;
};
struct SetAsideEntry {
  Meant what;
  std::string reason;
};
struct PutBackEntry {
  Meant what;
  std::string reason;
};
struct CheckZero {
  std::string instrument;  // empty: the one that walks with a slope or roll channel
};
struct CheckDatum {
  double near_m, far_m;
  std::string instrument;  // empty: the one with a distance channel
};
struct CheckScale {
  bool by_places;
  double length_m;  // thickness of the piece, or how much higher the second place lies
  std::optional<double> feet_across_m;
  std::string instrument;  // empty: the only one that it can be
};
struct SayWhatBears {
  std::string support;
  bool bears;  // else it hangs free
};
struct SayStart {
  std::string support;
};
struct NameSurvey {
  enum class What { called, read_by, checked_by } what;
  std::string name;
};
struct BeginMoves {};
struct MarkMove {
  int order;  // on the card
  bool made;
};
struct Watch {
  std::optional<int> order;  // of a move on the card; none: the next stage
};
struct WatchOff {};
struct ReadAgain {};
struct CompareWith {
  std::string survey;  // its name; empty: the last of this stage
};
struct Next {};
struct GiveUp {};
struct KeepCheck {};
struct ShowStatus {};
struct ShowCard {};
struct SealBook {};
struct FinishSurvey {
  bool sealed;  // and seals the book, the end of the survey with it
};
struct ShowHelp {};
struct PairOne {};
/// No command, or one without what it needs.
struct Refusal {
  std::string command;  // the first word, fit to be shown
  std::string reason;   // what would be right
};

using Command = std::variant<GoToStation, GoOn, TurnFace, ChooseEdge, PlaceSetUp, BeginStage, Take, TakeKept,
                             Undo, ShowReadings, Correct, SetAsideEntry, PutBackEntry, CheckZero, CheckDatum,
                             CheckScale, SayWhatBears, SayStart, NameSurvey, BeginMoves, MarkMove, Watch,
                             WatchOff, ReadAgain, CompareWith, Next, GiveUp, KeepCheck, ShowStatus, ShowCard,
                             SealBook, FinishSurvey, ShowHelp, PairOne, Refusal>;

/// Nothing for a line without words.
[[nodiscard]] std::optional<Command> parse_command(std::string_view line);

/// Whether it says that the instruments stand elsewhere, or otherwise, than before.
[[nodiscard]] bool says_where(const Command& command);

/// One line for each command.
[[nodiscard]] const std::vector<std::string>& help();

/// Lower case of A ... Z; names are compared so.
[[nodiscard]] std::string lower(std::string_view text);

}  // namespace hangtrue::daemon
