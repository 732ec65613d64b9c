// doubts.hpp: what must be settled before the bolts are tightened, in words: what is the matter, and the one thing to do next.
#pragma once

#include <string>

#include "firmware-host/job/doubts.hpp"

namespace hangtrue::say {

/// Stable, as other programs read it: "moved while read", "bearing open", "strays together", "place disagrees",
/// "read from other end", "too little read", "walk not closed", "scale not checked", "prior left behind".
[[nodiscard]] std::string_view kind_of(const job::Doubt& doubt);
/// "East rod sank by 2.10 mm +- 0.02 mm after reading 51, 14:02."
[[nodiscard]] std::string doubt_words(const sheet::RunSheet& run, const job::Doubt& doubt);
/// "Close the walk: read again at 0 mm, 2100 mm and 4200 mm."
[[nodiscard]] std::string next_words(const sheet::RunSheet& run, const job::Doubt& doubt);
/// What a person can settle by hand: "Is lift one tight? Try to turn its nut.", and the answers to it.
[[nodiscard]] std::string is_it_tight(const sheet::RunSheet& run, const std::string& support);
[[nodiscard]] std::string bears_words(const std::string& support, bool bears, sheet::Show show);
/// Likewise: at which support the places of a walk begin.
[[nodiscard]] std::string where_it_begins(sheet::Show show);
[[nodiscard]] std::string begins_at(const std::string& support, sheet::Show show);
/// What moved while it was read: "east rod sank by 2.10 mm +- 0.02 mm after reading 51, 14:02".
[[nodiscard]] std::string movement_words(const sheet::RunSheet& run, const job::FoundMovement& movement);

}  // namespace hangtrue::say
