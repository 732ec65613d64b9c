// unknowns.hpp: what a fit may estimate, each with a Gaussian prior.
//
// Units   those of beam::State and survey::KitState: m, rad, factors near 1, natural logarithms for springs.
// Order   shape parameters first, changes among them after what they change; then datums, zero errors, marks, the drift's
//         share (build_unknowns keeps it; Fit checks it).
// Sigma   one standard deviation; a prior of sigma 0 is no unknown: its mean holds (state_of_means,
// kit_of_means).
#pragma once

#include <cstdint>
#include <span>

#include "core/beam/run.hpp"
#include "core/quantity/limits.hpp"
#include "core/survey/observation.hpp"

namespace hangtrue::fit {

enum class UnknownKind : std::uint8_t {
  shape,         // `shape` says which quantity of beam::State
  change,        // how much more that quantity is than it was: adds to it; `shape` says which
  datum_height,  // index: set-up; m
  datum_tilt,    // index: set-up; rad, positive where the plane climbs along the run
  zero,          // index: instrument channel; rad or m
  mark_height,   // index: stable mark; m
  mark_change,   // index: stable mark: how much higher it is than it was; adds to its height
  drift_share    // of what the run was expected to do by itself since; index unused
};

struct Unknown {
  UnknownKind kind{};
  beam::Parameter shape{};  // for UnknownKind::shape and change only
  std::int16_t index = 0;   // for the others
  friend constexpr bool operator==(Unknown, Unknown) = default;
};

template <class Scalar>
struct Prior {
  Scalar mean = 0;
  Scalar sigma = 0;  // 0: known, not estimated
};

template <class Scalar>
struct UnknownList {
  Unknown unknown[kMaxUnknowns];
  Prior<Scalar> prior[kMaxUnknowns];
  int count = 0;

  /// False when the list is full. A prior of sigma 0 is left out, and that is true.
  [[nodiscard]] bool push(Unknown what, Prior<Scalar> known) {
    if (!(known.sigma > 0)) return true;
    if (count == kMaxUnknowns) return false;
    unknown[count] = what;
    prior[count++] = known;
    return true;
  }
};

/// Whether it is a quantity of beam::State, by which the solver can differentiate.
[[nodiscard]] constexpr bool is_of_shape(UnknownKind kind) {
  return kind == UnknownKind::shape || kind == UnknownKind::change;
}

/// What a quantity of beam::State may be more than it was in an earlier survey.
template <class Scalar>
struct Change {
  beam::Parameter what;
  Prior<Scalar> prior;
};

/// What is known before any reading. Only what has sigma > 0 becomes an unknown.
template <class Scalar>
struct Priors {
  beam::Motions<Prior<Scalar>> offset[kMaxSupports];        // of supports engaged by the survey's stage
  beam::Motions<Prior<Scalar>> later_offset[kMaxSupports];  // of supports that engage after it
  beam::Motions<Prior<Scalar>> log_spring[kMaxSupports];
  beam::Motions<Prior<Scalar>> give[kMaxSupports];  // of supports called rigid: what they may give
  Prior<Scalar> bending{1, 0};
  Prior<Scalar> torsion{1, 0};
  Prior<Scalar> load[kMaxLoads];
  Prior<Scalar> bow[kMaxBows];
  Prior<Scalar> datum_height[kMaxSetUps];
  Prior<Scalar> datum_tilt[kMaxSetUps];
  Prior<Scalar> zero[kMaxChannels];
  Prior<Scalar> mark_height[kMaxMarks];
  Prior<Scalar> mark_change[kMaxMarks];
  Prior<Scalar> drift_share{1, 0};
  std::span<const Change<Scalar>>
      changes;  // each becomes an unknown; moves need a State::move_stage in Problem::base

  Priors() {
    for (Prior<Scalar>& factor : load) factor.mean = 1;
  }
};

/// Fills `list` with the unknowns of a survey at `stage` whose finished shape is wanted at `finished_stage`
/// (>= stage):
///   offsets of every support listed up to `stage`, in the motions it holds (offset), of those listed only
///   later, up to `finished_stage` (later_offset); both stiffness factors; springs (held with compliance > 0)
///   of those supports; loads that are on in any stage up to `finished_stage`; the run's bows; what supports give; the changes;
///   datums;
///   zero errors; marks; the drift's share.
/// False when there are more than kMaxUnknowns (the list then holds the first ones).
template <class Scalar>
[[nodiscard]] bool build_unknowns(const beam::Run<Scalar>& run, int stage, int finished_stage,
                                  const Priors<Scalar>& priors, UnknownList<Scalar>& list);

/// The prior means as state and kit, known quantities among them: what Problem::base and Problem::kit are
/// made from.
template <class Scalar>
[[nodiscard]] beam::State<Scalar> state_of_means(const beam::Run<Scalar>& run, int stage,
                                                 const Priors<Scalar>& priors);
template <class Scalar>
[[nodiscard]] survey::KitState<Scalar> kit_of_means(const Priors<Scalar>& priors);

/// Writes the value of one unknown to where it belongs; a change adds to what is there.
template <class Scalar>
void assign(Unknown what, Scalar value, beam::State<Scalar>& state, survey::KitState<Scalar>& kit);

}  // namespace hangtrue::fit
