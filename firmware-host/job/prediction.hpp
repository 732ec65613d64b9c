// prediction.hpp: what the predicted shape of a stage shows: places, spans with their sag, bending stress. SI.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "firmware-host/job/solved_run.hpp"

namespace hangtrue::job {

/// A place at which results are given; where something jumps, once for each side.
struct Place {
  double at_m;
  beam::Side side;
};
/// Every node, both sides of every jump, every station; in order.
[[nodiscard]] std::vector<Place> places(const sheet::RunSheet& run, const beam::Solver<double>& solver);

/// Where the level error is taken: both edges of every station. Station 0 left, station 0 right, station 1 left ...
[[nodiscard]] std::vector<double> edge_heights(const sheet::RunSheet& run, const beam::Solver<double>& solver,
                                               int stage);
/// Where such a point lies across, m, to the left.
[[nodiscard]] double across_m(const sheet::RunSheet& run, std::size_t point);

/// One span between neighbouring supports that bear, or the stretch beyond the outermost.
struct Span {
  double from_m, to_m;
  double
      sag_m;  // largest drop below the line between the two supports; beyond the outermost: of the end below the support
  bool overhang;
  /// length / sag; infinite without sag.
  [[nodiscard]] double ratio() const;
};
[[nodiscard]] std::vector<Span> spans(const sheet::RunSheet& run, const beam::Solver<double>& solver,
                                      int stage);

/// Whether twist makes any part of the run warp: rails side by side, channels.
[[nodiscard]] bool warps(const sheet::RunSheet& run);

/// Where the run can stand in two ways at a stage (beam::Solver::other_equilibrium): the one-way supports that hang free in the
/// other one; it may be none.
[[nodiscard]] std::optional<std::vector<std::string>> other_equilibrium(const sheet::RunSheet& run,
                                                                        beam::Solver<double>& solver,
                                                                        int stage);

/// Largest bending stress at the outermost fibre of each member in a stage, Pa; 0 where it is not known (given sections).
/// Shown, not judged.
[[nodiscard]] std::vector<double> bending_stress_Pa(const sheet::RunSheet& run,
                                                    const beam::Solver<double>& solver, int stage);

}  // namespace hangtrue::job
