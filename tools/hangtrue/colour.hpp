// colour.hpp: colour where standard output is a terminal that has it: verdicts and cautions stand out. It never carries a meaning of
// its own: without it the same words stand there.
//
// Source  no-color.org: NO_COLOR, where it is not empty, forbids it; terminfo(5): TERM=dumb has none; the sequences are SGR of ECMA-48,
//         section 8.3.117.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace hangtrue::tools {

enum class Tone { good, caution, bad };

/// Words that stand somewhere in a text as they are here, and may be of several lines.
struct Stress {
  std::string words;
  Tone tone;
};

/// One that can do more than go on: not TERM=dumb.
[[nodiscard]] bool is_terminal(int descriptor);
/// The one place that decides: a terminal, and nobody minds.
[[nodiscard]] bool takes_colour(int descriptor);
/// The one place that paints: of each the first that is there; line by line, so that a pager that begins anywhere is right.
[[nodiscard]] std::string painted(std::string text, const std::vector<Stress>& stresses);
/// To standard output, painted where that takes it.
void show(const std::string& text, const std::vector<Stress>& stresses);

}  // namespace hangtrue::tools
