// expected_drift.hpp: what a run was expected to do by itself between two surveys, and how much of it came.
//
// Model   Creep of wood-based parts under the lasting loads (core/beam/creep.hpp), taken to begin with the first survey of the
//         history and to go on as core/change/drift_course.hpp has it. What falls between two surveys is added to what the
//         later one's readings are expected to be; the share of it that came is an unknown near 1.
// Axes    heights up positive: what sags has height < 0. SI, rad; sigma is one standard deviation.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "core/beam/creep.hpp"
#include "core/change/change.hpp"
#include "core/survey/reading.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

enum class DriftVerdict { none_expected, as_expected, less, more, cannot_tell };
enum class DriftCause {
  not_asked,        // the surveys were not compared
  no_time_passed,   // nothing expected
  nothing_creeps,   // nothing expected
  not_worked_out,   // the run could not be solved under its lasting loads: nothing was taken off
  wood_based_parts  // creep
};

struct ExpectedDrift {
  DriftCause cause = DriftCause::not_asked;
  double days = 0;                    // between the surveys
  double final_share = 0;             // of what creep comes to in the end, the part that falls between them
  double sag_m = 0, sag_sigma_m = 0;  // lowest point against the line between the outer stations; < 0 sinks
  double share = 1, share_sigma = 0;  // measured share of the expected, nothing assumed of it
  DriftVerdict verdict = DriftVerdict::none_expected;
  std::vector<double> height_m, sigma_m;  // at the stations, middle
  std::vector<double> before_m;           // what had come by the earlier survey, likewise
};

struct SurveyTimes {
  book::Time loaded, from, to;  // of the history's first survey, of the two that are compared
};
[[nodiscard]] double days_between(book::Time from, book::Time to);

/// The run's own course between two surveys. The run sheet must outlive it.
class DriftForecast {
 public:
  /// At `stage`, from the state that the earlier survey's fit found.
  DriftForecast(const sheet::RunSheet& run, int stage, const beam::State<double>& state,
                const SurveyTimes& times);
  DriftForecast(const DriftForecast&) = delete;
  DriftForecast& operator=(const DriftForecast&) = delete;

  [[nodiscard]] const ExpectedDrift& expected() const { return expected_; }
  [[nodiscard]] bool any() const { return expected_.cause == DriftCause::wood_based_parts; }
  /// What it adds to a reading of the run; where any().
  [[nodiscard]] double on(const survey::Reading<double>& reading) const;
  /// What it adds to the run itself; 0 where not any().
  [[nodiscard]] double height_m(double at_m, double across_m) const;
  [[nodiscard]] double slope_rad(double at_m) const;
  [[nodiscard]] double roll_rad(double at_m) const;

 private:
  bool solve(const beam::State<double>& state);
  void describe_sag();

  const sheet::RunSheet& run_;
  int stage_;
  ExpectedDrift expected_;
  std::vector<beam::Piece<double>> soft_pieces_;
  std::vector<double> storage_, lasting_share_;
  std::optional<beam::CreepForecast<double>> forecast_;
};

/// From the first survey of a history to one begun at `to`: what fits of that one take. Nothing within kCreepTold, where nothing
/// creeps, or where it cannot be worked out.
[[nodiscard]] std::shared_ptr<const DriftForecast> drift_since(const sheet::RunSheet& run, int stage,
                                                               const beam::State<double>& state,
                                                               book::Time loaded, book::Time to);

/// How much of it came. `measured`: of the share beside all that moved, less 1.
void judge_drift(ExpectedDrift& drift, const change::Single& measured);

}  // namespace hangtrue::job
