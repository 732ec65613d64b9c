// history.hpp: what the surveys of a run taught one after the other, in words.
#pragma once

#include <string>

#include "firmware-host/job/history.hpp"

namespace hangtrue::say {

/// Without a full stop: "survey 2: its fit does not hold, so nothing of it is carried on".
[[nodiscard]] std::string not_taught(const sheet::RunSheet& run, const job::NotTaught& survey);

/// What each survey taught, as a table of sigmas: as assumed, and after each of the last few; only what got better known.
/// Empty where there is one survey alone.
[[nodiscard]] std::string history_view(const sheet::RunSheet& run, const job::History& history);

}  // namespace hangtrue::say
