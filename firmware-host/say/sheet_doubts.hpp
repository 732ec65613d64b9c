// sheet_doubts.hpp: doubts of a run sheet in words.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/job/sheet_doubts.hpp"

namespace hangtrue::say {

/// One or two sentences: what is doubtful, and what to look at.
[[nodiscard]] std::string doubt_words(const sheet::RunSheet& run, const job::SheetDoubt& doubt);

/// One a line: "shelf.toml:31: support[2].rise: doubtful: ..."; empty where there is none.
[[nodiscard]] std::string doubts_view(const sheet::RunSheet& run, const std::vector<job::SheetDoubt>& doubts);

}  // namespace hangtrue::say
