#include "core/beam/creep.hpp"

#include <cmath>
#include <utility>

namespace hangtrue::beam {

template <class Scalar>
void soften(std::span<const Piece<Scalar>> pieces, Scalar times, std::span<Piece<Scalar>> out) {
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    Piece<Scalar> soft = pieces[i];
    soft.bending_N_m2 /= 1 + times * soft.bending_creep;
    soft.torsion_N_m2 /= 1 + times * soft.torsion_creep;
    soft.shear_N /= 1 + times * soft.shear_creep;
    soft.warping_N_m4 /= 1 + times * soft.warping_creep;
    out[i] = soft;
  }
}

template <class Scalar>
std::size_t CreepForecast<Scalar>::pieces_needed(const Run<Scalar>& run) {
  return 2 * run.pieces.size();
}

template <class Scalar>
std::size_t CreepForecast<Scalar>::storage_needed(const Run<Scalar>& run) {
  return 3 * Solver<Scalar>::storage_needed(run, 0);
}

template <class Scalar>
CreepForecast<Scalar>::CreepForecast(const Run<Scalar>& run, Solver<Scalar> first, Solver<Scalar> later,
                                     Solver<Scalar> later_one_sigma_more)
    : run_(run),
      first_(std::move(first)),
      later_(std::move(later)),
      later_one_sigma_more_(std::move(later_one_sigma_more)) {}

template <class Scalar>
auto CreepForecast<Scalar>::create(const Run<Scalar>& run, std::span<Piece<Scalar>> pieces,
                                   std::span<Scalar> storage, Scalar relative_sigma)
    -> Result<CreepForecast, RunFault> {
  if (pieces.size() < pieces_needed(run) || storage.size() < storage_needed(run))
    return RunFault{RunFaultCode::storage_too_small};
  const std::size_t count = run.pieces.size();
  const std::size_t each = Solver<Scalar>::storage_needed(run, 0);
  Run<Scalar> soft = run, softer = run;
  soften<Scalar>(run.pieces, 1, pieces.first(count));
  soften<Scalar>(run.pieces, 1 + relative_sigma, pieces.subspan(count, count));
  soft.pieces = pieces.first(count);
  softer.pieces = pieces.subspan(count, count);

  auto first = Solver<Scalar>::create(run, 0, storage.first(each));
  if (!first) return first.fault();
  auto later = Solver<Scalar>::create(soft, 0, storage.subspan(each, each));
  if (!later) return later.fault();
  auto more = Solver<Scalar>::create(softer, 0, storage.subspan(2 * each, each));
  if (!more) return more.fault();
  return CreepForecast(run, std::move(first).value(), std::move(later).value(), std::move(more).value());
}

template <class Scalar>
auto CreepForecast<Scalar>::solve(int stage, const State<Scalar>& state,
                                  std::span<const Scalar> lasting_share, const Solver<Scalar>& as_built)
    -> Result<Done, StageFault> {
  const bool no_such_stage = stage < 0 || stage >= static_cast<int>(run_.stages.size());
  if (no_such_stage || lasting_share.size() != static_cast<std::size_t>(run_.loads))
    return StageFault{StageFaultCode::state_not_usable, stage};
  stage_ = stage;
  for (Solver<Scalar>* solver : {&first_, &later_, &later_one_sigma_more_})
    if (auto done = solver->solve_held(stage, state, lasting_share, as_built); !done) return done.fault();
  return Done{};
}

template <class Scalar>
template <class Quantity>
Drift<Scalar> CreepForecast<Scalar>::drift_of(Quantity quantity) const {
  const Scalar later = quantity(later_);
  return {later - quantity(first_), std::abs(quantity(later_one_sigma_more_) - later)};
}

template <class Scalar>
Drift<Scalar> CreepForecast<Scalar>::height(Scalar x_m, Scalar across_m) const {
  return drift_of([&](const Solver<Scalar>& solver) { return solver.height(stage_, x_m, across_m); });
}

template <class Scalar>
Drift<Scalar> CreepForecast<Scalar>::slope(Scalar x_m) const {
  return drift_of([&](const Solver<Scalar>& solver) { return solver.at(stage_, x_m).slope_rad; });
}

template <class Scalar>
Drift<Scalar> CreepForecast<Scalar>::roll(Scalar x_m) const {
  return drift_of([&](const Solver<Scalar>& solver) { return solver.at(stage_, x_m).roll_rad; });
}

template <class Scalar>
Drift<Scalar> CreepForecast<Scalar>::force(int support) const {
  return drift_of([&](const Solver<Scalar>& solver) { return solver.support(stage_, support).force_N; });
}

template void soften(std::span<const Piece<double>>, double, std::span<Piece<double>>);
template void soften(std::span<const Piece<float>>, float, std::span<Piece<float>>);
template class CreepForecast<double>;
template class CreepForecast<float>;

}  // namespace hangtrue::beam
