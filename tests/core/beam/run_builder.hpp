// run_builder.hpp: small runs for tests. Owns what a Run and a Solver only view.
#pragma once

#include <gtest/gtest.h>

#include <initializer_list>
#include <limits>
#include <stdexcept>
#include <string>
#include <vector>

#include "core/beam/solver.hpp"

namespace hangtrue::beam::test {

template <class Scalar>
Restraint<Scalar> rigid() {
  return {.held = true};
}
template <class Scalar>
Restraint<Scalar> spring(Scalar stiffness) {
  return {.held = true, .compliance = 1 / stiffness};
}

/// Holds rise and roll; pitch free.
template <class Scalar>
Support<Scalar> pin(Scalar at_m) {
  return {.at_m = at_m, .rise = rigid<Scalar>(), .pitch = {}, .roll = rigid<Scalar>()};
}
/// Holds rise, pitch and roll.
template <class Scalar>
Support<Scalar> clamp(Scalar at_m) {
  return {.at_m = at_m, .rise = rigid<Scalar>(), .pitch = rigid<Scalar>(), .roll = rigid<Scalar>()};
}
/// Holds rise and roll, one way.
template <class Scalar>
Support<Scalar> seat(Scalar at_m, Holds holds = Holds::push) {
  Support<Scalar> support = pin(at_m);
  support.holds = holds;
  return support;
}

template <class Scalar>
struct RunBuilder {
  Scalar length_m = 0;
  std::vector<Piece<Scalar>> pieces;
  std::vector<LoadPart<Scalar>> load_parts;
  int loads = 0;
  std::vector<Support<Scalar>> supports;
  std::vector<Stage> stages;
  int bows = 0;
  Scalar shear_centre_m = 0;

  /// One piece over the whole length.
  static RunBuilder uniform(Scalar length_m, Scalar bending_N_m2, Scalar torsion_N_m2 = 1000,
                            Scalar shear_N = std::numeric_limits<Scalar>::infinity()) {
    RunBuilder builder;
    builder.length_m = length_m;
    builder.pieces = {{length_m, bending_N_m2, torsion_N_m2, shear_N}};
    return builder;
  }

  int add(const Support<Scalar>& support) {
    supports.push_back(support);
    return static_cast<int>(supports.size()) - 1;
  }

  /// A named load of one part or more; their `load` is set here.
  int add_load(std::initializer_list<LoadPart<Scalar>> parts) {
    for (LoadPart<Scalar> part : parts) {
      part.load = loads;
      load_parts.push_back(part);
    }
    return loads++;
  }
  int add_spread(Scalar from_m, Scalar to_m, Scalar begin, Scalar end, Scalar across_m = 0) {
    return add_load({{0, LoadKind::spread, from_m, to_m, begin, end, across_m}});
  }
  int add_uniform(Scalar weight_N_per_m) { return add_spread(0, length_m, weight_N_per_m, weight_N_per_m); }
  int add_point(Scalar at_m, Scalar weight_N, Scalar across_m = 0) {
    return add_load({{0, LoadKind::point, at_m, at_m, weight_N, 0, across_m}});
  }
  int add_couple(Scalar at_m, Scalar couple_Nm) {
    return add_load({{0, LoadKind::couple, at_m, at_m, couple_Nm, 0, 0}});
  }
  int add_warmth(Scalar from_m, Scalar to_m, Scalar curvature_per_m) {
    return add_load({{0, LoadKind::warmth, from_m, to_m, curvature_per_m, curvature_per_m, 0}});
  }

  int add_stage(std::initializer_list<int> with_supports, std::initializer_list<int> with_loads) {
    Stage stage;
    for (const int i : with_supports) stage.supports |= 1u << i;
    for (const int i : with_loads) stage.loads |= std::uint64_t{1} << i;
    stages.push_back(stage);
    return static_cast<int>(stages.size()) - 1;
  }
  /// A stage with every support and load there is so far.
  int add_full_stage() {
    Stage stage;
    for (std::size_t i = 0; i < supports.size(); ++i) stage.supports |= 1u << i;
    for (int i = 0; i < loads; ++i) stage.loads |= std::uint64_t{1} << i;
    stages.push_back(stage);
    return static_cast<int>(stages.size()) - 1;
  }

  /// Valid while the builder is neither changed nor destroyed.
  [[nodiscard]] Run<Scalar> run() const {
    return {length_m, pieces, load_parts, loads, supports, stages, bows, shear_centre_m};
  }
};

/// A solver with its storage.
template <class Scalar>
class Bench {
 public:
  explicit Bench(const RunBuilder<Scalar>& builder, int columns = 0)
      : storage_(Solver<Scalar>::storage_needed(builder.run(), columns)),
        solver_(create(builder, columns, storage_)) {}

  /// Solves; a fault fails the test by throwing.
  Solver<Scalar>& solve(const State<Scalar>& state = {}, std::span<const Parameter> parameters = {}) {
    const auto done = solver_.solve(state, parameters);
    if (!done.ok())
      throw std::runtime_error("stage fault " + std::to_string(static_cast<int>(done.fault().code)) +
                               " in stage " + std::to_string(done.fault().stage) + ", support " +
                               std::to_string(done.fault().support));
    return solver_;
  }
  Solver<Scalar>& solver() { return solver_; }
  Solver<Scalar>* operator->() { return &solver_; }

 private:
  static Solver<Scalar> create(const RunBuilder<Scalar>& builder, int columns, std::vector<Scalar>& storage) {
    auto made = Solver<Scalar>::create(builder.run(), columns, std::span<Scalar>(storage));
    if (!made.ok())
      throw std::runtime_error("run fault " + std::to_string(static_cast<int>(made.fault().code)) +
                               ", index " + std::to_string(made.fault().index));
    return std::move(made).value();
  }
  std::vector<Scalar> storage_;
  Solver<Scalar> solver_;
};

}  // namespace hangtrue::beam::test
