// cautions.hpp: the cautions that stand wherever a run is about to be moved or bolted.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/sheet/format.hpp"

namespace hangtrue::say {

/// One sentence each.
[[nodiscard]] const std::vector<std::string>& caution_sentences();
/// The same in the language in which a run is shown.
[[nodiscard]] std::vector<std::string> caution_sentences(sheet::Show show);
/// All of them as a paragraph.
[[nodiscard]] std::string cautions();

}  // namespace hangtrue::say
