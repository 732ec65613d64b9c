#include "tools/report/common/moves.hpp"

#include <utility>
#include <vector>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/language.hpp"

namespace hangtrue::report {

std::string pieces_words(const sheet::RunSheet& run, const job::StoredMove& move) {
  if (move.turns != 0) return say::turns_words(move.turns, run.show);
  std::vector<std::pair<adjust::Where, std::string>> stacks;
  for (const job::StoredPiece& piece : move.pieces) {
    if (stacks.empty() || stacks.back().first != piece.where) stacks.push_back({piece.where, ""});
    std::string& stack = stacks.back().second;
    stack =
        say::with_pieces(std::move(stack), piece.count,
                         say::piece_name(run, run.support(move.support), piece.thickness_m), " \xC3\x97 ");
  }
  if (stacks.empty()) return say::lift_words(move.rise_m, run.show);
  std::string text;
  for (const auto& [where, stack] : stacks)
    text += (text.empty() ? "" : "; ") +
            (where == adjust::Where::whole ? "" : say::where_words(where, run.show) + ": ") + stack;
  return text;
}

std::string turned_words(const sheet::RunSheet& run, const job::StoredMove& move) {
  return say::motion_words(move.rise_m, move.pitch_rad, move.roll_rad, run.show);
}

}  // namespace hangtrue::report
