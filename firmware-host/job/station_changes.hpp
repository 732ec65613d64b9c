// station_changes.hpp: the run's shape at the stations in two surveys, and its level error.
//
// Read at both times   at the same stage the change is the difference of the two; at another stage it is what the changes add to
//                      the earlier survey, carried over to the later one's stage.
// Axes                 heights up positive, roll positive where the left edge is high. SI, rad; sigma is one standard deviation.
#pragma once

#include <optional>
#include <vector>

#include "firmware-host/job/expected_drift.hpp"
#include "firmware-host/job/straightness.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/job/trend.hpp"

namespace hangtrue::job {

struct StationChange {
  double at_m = 0;
  double from_m = 0, to_m = 0;  // heights as fitted, less the mean of the earlier where no mark ties them
  double change_m = 0, sigma_m = 0;  // less its mean where no mark ties them
  double roll_change_rad = 0, roll_sigma_rad = 0;
};

/// What the later survey says of the sheet's tolerance, at the sheet's confidence. A run of which little was read is neither: it
/// may stand anywhere, which is no sign that it is past.
enum class ToleranceVerdict {
  not_asked,  // the stage is not finished, or the sheet has no tolerance, or nothing was compared
  within,     // with a chance of the confidence at least (adjust::Prospect)
  past,  // the level error, or what departs from the straight-edge, is that sure to be more, by its own sigma
  cannot_tell  // between
};

/// Highest less lowest over stations and edges, as things stand at the later survey's stage.
struct LevelErrors {
  double from_m = 0, from_sigma_m = 0, to_m = 0, to_sigma_m = 0;
  double chance_within =
      0;  // of the sheet's tolerance, level and straight-edge; where the verdict was asked for
  std::optional<Straightness>
      straight;  // now; where the sheet names a straight-edge and the verdict was asked for
  ToleranceVerdict verdict = ToleranceVerdict::not_asked;
};

struct ShapeChange {
  std::vector<StationChange> stations;
  LevelErrors level;
  double common_m = 0, common_sigma_m = 0;  // how far the run as a whole is higher; where a mark ties heights
  std::optional<Followed> level_error;      // highest and lowest point now, where they are two
};

/// `later`: the later survey's session, with the changes as unknowns. `then`: stations of the earlier survey's fit,
/// where it is of the same stage; else none. `heights_compared`: marks tie the surveys.
[[nodiscard]] ShapeChange shape_change(const sheet::RunSheet& run, SurveyFit& later,
                                       const std::vector<fit::StationShape<double>>* then,
                                       const ExpectedDrift& drift, bool heights_compared);

}  // namespace hangtrue::job
