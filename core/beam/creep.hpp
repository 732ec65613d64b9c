// creep.hpp: how far a run is expected to go on moving while its lasting loads stay on, and how sure that is.
//
// Model   Effective modulus. Under a lasting load a part deforms to (1 + creep) times its first deformation; so the run
//         under its lasting loads is solved twice, as it is and with every piece's stiffness divided by (1 + creep). The
//         difference is the drift from hand-over to the end of creep. Supports keep the zeros the stages left them
//         with, and one-way ones stay as they stood: a prop set under a run that had sagged takes up load. Springs of
//         supports do not creep, nor do warmth and bow.
// Band    The creep factors are known to a relative sigma, all together; sigma of the drift is what it changes when
//         they all are one sigma greater.
// Axes    as in run.hpp; drift of height up positive, so a run that sags on has drift < 0.
// Limits  No course in time: this is where it ends. Creep of moisture coming and going is not in it.
// Source  EN 1995-1-1:2004, 2.2.3 and 2.3.2.2: final deformation u (1 + k_def), the quasi-permanent share of a variable
//         load creeping alike (from memory). Relative sigma 0.3: common practice, no source.
#pragma once

#include <cstddef>
#include <span>

#include "core/beam/solver.hpp"

namespace hangtrue::beam {

/// Stiffness of one kind (EI, GJ or G times shear area) and how it creeps.
template <class Scalar>
struct Creeping {
  Scalar stiffness;
  Scalar creep;  // deformation under lasting load grows to (1 + creep) times its first value; steel 0
};

/// Two members that bend together: stiffnesses add now, and they add again after creep. Load moves to what creeps less.
template <class Scalar>
[[nodiscard]] constexpr Creeping<Scalar> side_by_side(const Creeping<Scalar>& a, const Creeping<Scalar>& b) {
  const Scalar now = a.stiffness + b.stiffness;
  const Scalar later = a.stiffness / (1 + a.creep) + b.stiffness / (1 + b.creep);
  return {now, later > 0 ? now / later - 1 : Scalar(0)};
}

/// The pieces as they are to lasting load, their creep factors taken `times` over. out.size() must be pieces.size().
template <class Scalar>
void soften(std::span<const Piece<Scalar>> pieces, Scalar times, std::span<Piece<Scalar>> out);

template <class Scalar>
struct Drift {
  Scalar value;
  Scalar sigma;  // one standard deviation, >= 0
};

template <class Scalar>
class CreepForecast {
 public:
  [[nodiscard]] static std::size_t pieces_needed(const Run<Scalar>& run);
  [[nodiscard]] static std::size_t storage_needed(const Run<Scalar>& run);

  /// `pieces` and `storage` must outlive the forecast, as must what the run views. relative_sigma >= 0. A creep factor
  /// that is -1 or less, or not a number, is RunFaultCode::stiffness_not_positive.
  [[nodiscard]] static Result<CreepForecast, RunFault> create(const Run<Scalar>& run,
                                                              std::span<Piece<Scalar>> pieces,
                                                              std::span<Scalar> storage,
                                                              Scalar relative_sigma = Scalar(0.3));

  /// From the end of `stage` on. `as_built` has solved the same run for `state`; lasting_share has one entry a load,
  /// 1 for a load that stays, 0 for one that comes and goes, and must live as long as questions are asked below.
  /// A stage that is none, or shares that do not match the loads: StageFaultCode::state_not_usable.
  [[nodiscard]] Result<Done, StageFault> solve(int stage, const State<Scalar>& state,
                                               std::span<const Scalar> lasting_share,
                                               const Solver<Scalar>& as_built);

  // After solve() -------------------------------------------------------------------------------------------

  [[nodiscard]] Drift<Scalar> height(Scalar x_m, Scalar across_m = 0) const;
  [[nodiscard]] Drift<Scalar> slope(Scalar x_m) const;
  [[nodiscard]] Drift<Scalar> roll(Scalar x_m) const;
  [[nodiscard]] Drift<Scalar> force(int support) const;

  /// The run under its lasting loads before and after creep, as expected: what any instrument sees of the drift is the
  /// difference of what it reads on the two. Numbers of stages are those of the run.
  [[nodiscard]] const Solver<Scalar>& first() const { return first_; }
  [[nodiscard]] const Solver<Scalar>& later() const { return later_; }

 private:
  CreepForecast(const Run<Scalar>& run, Solver<Scalar> first, Solver<Scalar> later,
                Solver<Scalar> later_one_sigma_more);
  template <class Quantity>
  [[nodiscard]] Drift<Scalar> drift_of(Quantity quantity) const;

  Run<Scalar> run_;
  Solver<Scalar> first_;                 // under lasting loads, before creep
  Solver<Scalar> later_;                 // after creep as expected
  Solver<Scalar> later_one_sigma_more_;  // after creep of one sigma more
  int stage_ = 0;
};

extern template class CreepForecast<double>;
extern template class CreepForecast<float>;

}  // namespace hangtrue::beam
