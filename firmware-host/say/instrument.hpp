// instrument.hpp: how instruments do, in words: each state once, for standard output, status and the page alike.
#pragma once

#include <string>
#include <string_view>

#include "firmware-host/job/instrument_state.hpp"
#include "firmware-host/sheet/format.hpp"

namespace hangtrue::say {

/// "well", "waiting", "silent", "out of range" ..., or the line's own word: "lost", "wrong speed" ...
[[nodiscard]] std::string word(const job::InstrumentState& state);
/// One plain sentence: what it is, and what to do.
[[nodiscard]] std::string sentence(const job::InstrumentState& state, sheet::Show show);

/// "settled", "never seen", "out of its range" ...
[[nodiscard]] std::string_view word(survey::Verdict verdict);
/// "slope still moving, spread 0.30 mm/m, may be 0.05 mm/m".
[[nodiscard]] std::string words(const job::ChannelState& state, sheet::Show show);

/// A channel's value in site units: "3.49 mm/m", "1234.500 mm", "19.5 C".
[[nodiscard]] std::string channel_value(Channel channel, double value, sheet::Show show);
/// Of a reading: as channel_value, a distance in inches in the fractions of site units: "96 3/4 in".
[[nodiscard]] std::string reading_value(Channel channel, double value, sheet::Show show);
/// As people look at it live, a distance to what a laser can tell: {"3.49", "mm/m"}, {"1234.50", "mm"}, {"20", "C"}.
[[nodiscard]] sheet::Shown live_value(Channel channel, double value, sheet::Show show);

}  // namespace hangtrue::say
