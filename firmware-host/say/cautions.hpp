// cautions.hpp: the cautions that stand wherever a run is about to be moved or bolted.
#pragma once

#include <string>
#include <vector>

namespace hangtrue::say {

/// One sentence each.
[[nodiscard]] const std::vector<std::string>& caution_sentences();
/// All of them as a paragraph.
[[nodiscard]] std::string cautions();

}  // namespace hangtrue::say
