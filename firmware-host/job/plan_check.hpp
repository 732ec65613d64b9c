// plan_check.hpp: what a planned survey shows of its own mistakes, what it leaves open, and what it cannot tell apart.
//
// Checked      A mistake in a reading shows in the others where its redundancy, 1 - h P h' / sigma^2, is at least what the wish
//              asks for (W. Baarda 1968, from memory).
// Left open    An unknown is named where the certainty for levelling would fall below kWorth of itself if it were known.
// Not apart    Unknowns whose estimates have a correlation beyond kNotApart.
#pragma once

#include <optional>

#include "firmware-host/job/plan_walk.hpp"

namespace hangtrue::job {

/// The stops of which a mistake would hardly show, and that where it would least; instruments that stay, and marks, apart. Too
/// few places count as one stop more, as long as an instrument can be carried to another.
struct Checked {
  int unchecked = 0;
  const PlanStop* least = nullptr;  // of the walk
};
[[nodiscard]] Checked check(const PlanGround& ground, SurveyFit& session, const Stops& walk);
/// How many are unchecked; none where it cannot be fitted.
[[nodiscard]] std::optional<int> unchecked(const PlanGround& ground, const Stops& stops);
[[nodiscard]] bool too_few_places(const PlanGround& ground, const std::vector<double>& places);
/// The station farthest from all of these.
[[nodiscard]] double farthest_from(const PlanGround& ground, const std::vector<double>& places);

/// Fills leaves_open, not_apart and not_learned of a plan whose walk `session` has read. False where it cannot be said.
[[nodiscard]] bool find_what_stays_open(const PlanGround& ground, SurveyFit& session, Plan& plan);

}  // namespace hangtrue::job
