// fitted_shape.hpp: the run solved at what a survey's fit found, for what the fit's own report does not hold: heights between
// stations, forces, spans.
#pragma once

#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::report {

/// The best estimates as a state of the run: what was no unknown of the fit is as the sheet has it.
[[nodiscard]] beam::State<double> fitted_state(const sheet::RunSheet& run, const job::FitReport& fit);

class FittedShape {
 public:
  /// The sheet must outlive it.
  FittedShape(const sheet::RunSheet& run, const job::FitReport& fit);
  /// Whether it could be solved; else nothing may be asked.
  [[nodiscard]] bool solved() const { return solved_; }
  [[nodiscard]] const beam::Solver<double>& solver() const { return mechanics_.solver(); }

 private:
  job::SolvedRun mechanics_;
  bool solved_ = false;
};

}  // namespace hangtrue::report
