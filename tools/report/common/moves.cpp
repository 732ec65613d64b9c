#include "tools/report/common/moves.hpp"

#include <cmath>
#include <optional>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::report {

namespace {

/// As the sheet wrote it, where the stock still has it.
std::string piece_label(const sheet::RunSheet& run, int support, double thickness_m) {
  if (support >= 0 && run.supports[std::size_t(support)].adjust.stock >= 0)
    for (const sheet::PieceOfStock& piece :
         run.stocks[std::size_t(run.supports[std::size_t(support)].adjust.stock)].pieces)
      if (std::abs(piece.thickness_m - thickness_m) < 1e-9) return piece.label;
  return sheet::show_length(thickness_m, run.show);
}

}  // namespace

std::string pieces_words(const sheet::RunSheet& run, const job::StoredMove& move) {
  const int support = run.support(move.support);
  if (move.turns != 0) return say::turns_words(move.turns);
  std::string text;
  std::optional<adjust::Where> stack;
  for (const job::StoredPiece& piece : move.pieces) {
    const bool same = stack == piece.where;
    text += (text.empty() ? ""
             : same       ? " + "
                          : "; ") +
            (same || piece.where == adjust::Where::whole ? "" : std::string(say::word(piece.where)) + ": ") +
            std::to_string(piece.count) + " \xC3\x97 " + piece_label(run, support, piece.thickness_m);
    stack = piece.where;
  }
  if (!text.empty()) return text;
  return (move.rise_m < 0 ? "down " : "up ") + sheet::show_length(std::abs(move.rise_m), run.show);
}

std::string turned_words(const sheet::RunSheet& run, const job::StoredMove& move) {
  return say::motion_words(move.rise_m, move.pitch_rad, move.roll_rad, run.show);
}

}  // namespace hangtrue::report
