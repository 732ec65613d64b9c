// threads.hpp: the pitch of a thread by its name, or as a length.
//
// Names    "M12": coarse pitch; "M12x1.25": the pitch that it says, not above the coarse one.
//          "1/2-13", "1/2-13 UNC", "1/2 UNC", "10-32 UNF", "#10-24": size and threads an inch, which must go together.
// Source   ISO 261:1998, ISO general purpose metric screw threads, general plan: coarse pitches; ASME B1.1, Unified inch screw
//          threads: series UNC and UNF. Both from memory, not checked against the standards.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "core/quantity/result.hpp"
#include "firmware-host/sheet/walk.hpp"

namespace hangtrue::sheet {

/// What one turn moves, in m. The fault says what is wrong with the name; empty where the text is no name of a thread.
[[nodiscard]] Result<double, QuantityFault> parse_thread(std::string_view text);

/// The key `thread` of a rod: a name, or a length that one turn moves.
[[nodiscard]] std::optional<double> read_thread(Walk& table);

}  // namespace hangtrue::sheet
