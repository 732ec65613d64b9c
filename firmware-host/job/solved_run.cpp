#include "firmware-host/job/solved_run.hpp"

namespace hangtrue::job {

SolvedRun::SolvedRun(const sheet::RunSheet& run, int columns) {
  const beam::Run<double> view = run.run();
  storage_.resize(beam::Solver<double>::storage_needed(view, columns));
  auto made = beam::Solver<double>::create(view, columns, storage_);
  if (!made) {
    trouble_ = made.fault();
    return;
  }
  solver_ = std::move(made).value();
  if (const auto solved = solver_->solve(beam::State<double>{}); !solved) trouble_ = solved.fault();
}

}  // namespace hangtrue::job
