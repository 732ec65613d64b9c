// filter.hpp: one least-squares problem for all who solve it.
#pragma once

#include <array>
#include <vector>

namespace hangtrue::bench {

inline constexpr int kUnknowns = 24;
using Row24 = std::array<double, kUnknowns>;

/// Rows whitened: divided by their sigma. The first kUnknowns are the prior's.
struct Readings {
  std::vector<Row24> row;
  std::vector<double> value;
};

/// Builds the problem from whitened rows and solves it with dense QR, one linear step.
[[nodiscard]] Row24 solve_with_ceres(const Readings& readings);

}  // namespace hangtrue::bench
