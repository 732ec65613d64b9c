// solved_run.hpp: a run sheet's mechanics, solved.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/beam/solver.hpp"
#include "firmware-host/job/fault.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

/// The run as the sheet has it: supports off by what it knows of them (rise_mean, pitch_mean, roll_mean), all else at its word.
[[nodiscard]] beam::State<double> state_of_sheet(const sheet::RunSheet& run);

/// Owns the storage that a beam::Solver works in. The sheet must outlive it.
class SolvedRun {
 public:
  /// Solves it for state_of_sheet(); `columns` derivatives can be asked for later.
  explicit SolvedRun(const sheet::RunSheet& run, int columns = 0);
  SolvedRun(const SolvedRun&) = delete;
  SolvedRun& operator=(const SolvedRun&) = delete;

  /// What stands in the way, or nothing. solver() is only there when nothing does.
  [[nodiscard]] const std::optional<Fault>& trouble() const { return trouble_; }
  [[nodiscard]] beam::Solver<double>& solver() { return *solver_; }
  [[nodiscard]] const beam::Solver<double>& solver() const { return *solver_; }

 private:
  std::vector<double> storage_;
  std::optional<beam::Solver<double>> solver_;
  std::optional<Fault> trouble_;
};

}  // namespace hangtrue::job
