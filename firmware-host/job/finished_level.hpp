// finished_level.hpp: will the run be level when finished, if everything is as the sheet has it? And can it be set so?
//
// Level     error at the tolerance's stage: highest minus lowest of both edges at all stations; with a target height twice the
//           largest departure from it (core/adjust/problem.hpp).
// Parts     the height at a point is
//               mean + tilt + sag + twist
//           mean   of the reference line over the stations
//           tilt   the straight line that fits the reference line best (least squares over the stations), less that mean
//           sag    what is left of the reference line: it is bent
//           twist  half the width times roll: what the edge lies above or below the reference line
//           The parts told are those of the highest point less those of the lowest; they add up to the level error, and any
//           of them may be below 0, where it takes away from the others. With a target: twice those of the point farthest
//           from it, with the sign that makes them add up; `height_m` is then that of the mean less the target.
// Setting   with all supports at their places as the sheet has them, the best moves (core/adjust/search.hpp) at the first stage
//           in which everything is engaged that can be adjusted and holds the finished run; by prediction alone: the card of
//           a survey says which moves to make.
// Units     SI.
#pragma once

#include <optional>

#include "core/survey/observation.hpp"
#include "firmware-host/job/cures.hpp"
#include "firmware-host/job/prediction.hpp"
#include "firmware-host/job/straightness.hpp"

namespace hangtrue::job {

struct EdgePoint {
  double at_m = 0;
  survey::Edge edge = survey::Edge::left;
  double height_m = 0;
};

struct LevelParts {
  double height_m = 0, tilt_m = 0, sag_m = 0, twist_m = 0;
};

struct FinishedLevel {
  int stage = 0;                         // the tolerance's
  double level_error_m = 0;              // predicted
  std::optional<Straightness> straight;  // where the sheet names a straight-edge
  std::optional<bool> within;  // the tolerance, under the straight-edge too; none: the sheet names none
  EdgePoint highest, lowest;
  LevelParts parts;
};

/// `solver` solved as the sheet has it.
[[nodiscard]] FinishedLevel finished_level(const sheet::RunSheet& run, const beam::Solver<double>& solver);

struct BestSetting {
  int stage = 0;  // at which the moves are made
  adjust::Outcome outcome = adjust::Outcome::not_run;
  double level_error_m = 0;  // after the best moves
  std::optional<Straightness> straight;
  bool within = false;         // the tolerance, with a choice that keeps all limits
  std::optional<Cures> cures;  // where it is not
};

/// Of a sheet that names a tolerance; its run can be solved.
[[nodiscard]] Result<BestSetting, Fault> best_setting(const sheet::RunSheet& run);

}  // namespace hangtrue::job
