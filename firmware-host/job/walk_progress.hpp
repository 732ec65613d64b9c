// walk_progress.hpp: how far a walk by a plan has come, and where it goes on.
//
// Read     a stop is read when each of its channels was, on both faces where the plan wants both, so often as it says, at that
//          place and edge. Readings count once, for the first stop that wants them: so the closing of a walk is read anew.
// Set-ups  are not compared by name: a person calls them otherwise than the plan.
// Enough   is the hold point's own: a mistake in what was read would not go unnoticed (ReadingsUnchecked in doubts.hpp).
#pragma once

#include <optional>
#include <span>

#include "firmware-host/job/card.hpp"
#include "firmware-host/job/plan.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::job {

struct WalkProgress {
  int read = 0, stops = 0;       // of what is carried along, the closing among it
  std::optional<PlanStop> next;  // in the order of the walk; none: all is read
};

/// `kept`: the survey's readings that count.
[[nodiscard]] WalkProgress walk_progress(const Plan& plan, std::span<const sheet::ReadingEntry> kept);

/// Whether enough was read for an answer of the hold point to be told.
[[nodiscard]] bool enough_read(const FitReport& report, const Card& card);

}  // namespace hangtrue::job
