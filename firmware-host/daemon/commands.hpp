// commands.hpp: what a person types to the daemon, one command a line. Forgiving of case and spaces; pure.
//
//   station 1200 mm | station 4     where the walking instruments stand; a length with its unit, or the number of a
//                                   listed station from 1
//   face 1 | face 2                 2: turned round (also written face -1)
//   edge left | middle | right
//   set-up NAME                     a new or former placing of the laser datum
//   stage NAME                      closes this survey and begins one at that stage
//   take | take fixed               readings of what has settled; fixed: of the instruments that stay where they are
//   undo                            sets the last take aside
//   status, card, done, help
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/survey/reading.hpp"

namespace hangtrue::daemon {

/// Longer lines are refused unread.
inline constexpr std::size_t kLongestCommand = 200;

struct GoToStation {
  std::optional<double> at_m;  // one of the two
  std::optional<int> number;   // from 1
};
struct TurnFace {
  int face;
};  // 1 or -1
struct ChooseEdge {
  survey::Edge edge;
};
struct PlaceSetUp {
  std::string name;
};
struct BeginStage {
  std::string name;
};
struct Take {
  bool fixed;
};
struct Undo {};
struct ShowStatus {};
struct ShowCard {};
struct FinishSurvey {};
struct ShowHelp {};
/// No command, or one without what it needs.
struct Refusal {
  std::string command;  // the first word, fit to be shown
  std::string reason;   // what would be right
};

using Command = std::variant<GoToStation, TurnFace, ChooseEdge, PlaceSetUp, BeginStage, Take, Undo,
                             ShowStatus, ShowCard, FinishSurvey, ShowHelp, Refusal>;

/// Nothing for a line without words.
[[nodiscard]] std::optional<Command> parse_command(std::string_view line);

/// One line for each command.
[[nodiscard]] const std::vector<std::string>& help();

/// Lower case of A ... Z; names are compared so.
[[nodiscard]] std::string lower(std::string_view text);

}  // namespace hangtrue::daemon
