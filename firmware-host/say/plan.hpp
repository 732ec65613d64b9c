// plan.hpp: where to read, and what stays open, in words. Site units as the sheet asks.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/job/plan.hpp"

namespace hangtrue::say {

/// An unknown as a person would say it: "how high east rod stands", "the weight of \"books\"".
[[nodiscard]] std::string plain(const job::UnknownId& unknown);
/// One sentence: unknowns of which only what they do together shows.
[[nodiscard]] std::string not_apart(const std::vector<job::UnknownId>& unknowns);
/// One sentence.
[[nodiscard]] std::string not_learned(const job::NotLearned& group);

/// What people read, within 80 columns.
[[nodiscard]] std::string plan_view(const sheet::RunSheet& run, const job::Plan& plan);

}  // namespace hangtrue::say
