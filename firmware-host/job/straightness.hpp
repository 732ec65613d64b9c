// straightness.hpp: what a straight-edge laid along the finished run finds, where the sheet's tolerance names one.
//
// Model     A straight-edge of that length lies along the left or the right edge of the run over two stations that are no farther
//           apart; what the run departs from it at a station between counts, above or below. The largest one of all is told.
// Setting   The search for moves (core/adjust/search.hpp) minimizes the level error. Where its choice leaves a larger departure than
//           is allowed it searches once more, with the worst departures beside the heights, scaled so that what is within the
//           tolerance for level is within that under the straight-edge too. That choice counts where it keeps both.
// Units     SI.
#pragma once

#include <optional>
#include <vector>

#include "core/adjust/prospect.hpp"
#include "core/adjust/search.hpp"
#include "core/survey/observation.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

struct Straightness {
  double departure_m = 0;  // the largest
  double sigma_m = 0;      // of that one, over the same three points; 0 of a shape that is not estimated
  bool within = false;     // what the sheet allows
  survey::Edge edge = survey::Edge::left;
  double from_m = 0, at_m = 0, to_m = 0;  // where the straight-edge lies, and where the run departs from it
};

/// Of heights at the check points (edge_heights()), and how well they are known; none: the sheet names no straight-edge.
[[nodiscard]] std::optional<Straightness> straightness(const sheet::RunSheet& run,
                                                       std::span<const double> height_m,
                                                       const adjust::Spread<double>& spread = {});

/// Those departures that could exceed what the sheet allows, of all; the likeliest kMostDepartures of them. None without a
/// straight-edge.
[[nodiscard]] std::vector<adjust::Departure<double>> departures_that_count(
    const sheet::RunSheet& run, std::span<const double> height_m, const adjust::Spread<double>& spread);

/// adjust::choose(), with the straight-edge as above.
[[nodiscard]] Result<adjust::Choice<double>, adjust::AdjustFault> choose_moves(
    const sheet::RunSheet& run, const adjust::Problem<double>& problem, adjust::Workspace<double>& workspace);

}  // namespace hangtrue::job
