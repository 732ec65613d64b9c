#include "firmware-host/job/solved_run.hpp"

namespace hangtrue::job {

beam::State<double> state_of_sheet(const sheet::RunSheet& run) {
  beam::State<double> state;
  for (std::size_t i = 0; i < run.supports.size(); ++i) state.offset[i] = run.supports[i].offset_mean;
  return state;
}

SolvedRun::SolvedRun(const sheet::RunSheet& run, int columns) {
  const beam::Run<double> view = run.run();
  storage_.resize(beam::Solver<double>::storage_needed(view, columns));
  auto made = beam::Solver<double>::create(view, columns, storage_);
  if (!made) {
    trouble_ = made.fault();
    return;
  }
  solver_ = std::move(made).value();
  if (const auto solved = solver_->solve(state_of_sheet(run)); !solved) trouble_ = solved.fault();
}

}  // namespace hangtrue::job
