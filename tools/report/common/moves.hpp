// moves.hpp: the moves of a card in words.
#pragma once

#include <string>

#include "firmware-host/job/stored_card.hpp"

namespace hangtrue::report {

/// What is to be put in or turned: "2 x 1 mm + 1 x 0.5 mm" (with a multiplication sign), "near: ...; far: ...", "1 1/4 turns
/// up", "down 3 mm".
[[nodiscard]] std::string pieces_words(const sheet::RunSheet& run, const job::StoredMove& move);
/// Which is a rise, a pitch and a roll of so much.
[[nodiscard]] std::string turned_words(const sheet::RunSheet& run, const job::StoredMove& move);

}  // namespace hangtrue::report
