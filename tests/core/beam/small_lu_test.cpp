#include "core/beam/small_lu.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace hangtrue::beam {
namespace {

// Random matrices with a zero diagonal, so that rows must change places again and again.
TEST(SmallLu, SolvesWhateverOrderTheRowsComeIn) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> number(-1, 1);
  for (int size = 1; size <= 12; ++size)
    for (int trial = 0; trial < 50; ++trial) {
      SmallLu<double, 12> lu(size);
      double matrix[12][12], truth[12], values[12];
      for (int i = 0; i < size; ++i) truth[i] = number(random);
      for (int i = 0; i < size; ++i) {
        values[i] = 0;
        for (int j = 0; j < size; ++j) {
          matrix[i][j] = i == j && size > 1 ? 0 : number(random) + (j == (i + 1) % size ? 3 : 0);
          lu(i, j) = matrix[i][j];
          values[i] += matrix[i][j] * truth[j];
        }
      }
      lu.factor();
      lu.solve(values);
      // Rounding, times a condition number that the 3 beside the diagonal keeps moderate.
      for (int i = 0; i < size; ++i) EXPECT_NEAR(values[i], truth[i], 1e-10) << size << " rows";
    }
}

TEST(SmallLu, LeavesNothingFiniteOfASingularSystem) {
  SmallLu<double, 3> lu(2);
  lu(0, 0) = lu(0, 1) = lu(1, 0) = lu(1, 1) = 1;
  double values[] = {1, 2};
  lu.factor();
  lu.solve(values);
  EXPECT_FALSE(std::isfinite(values[0]) && std::isfinite(values[1]));
}

}  // namespace
}  // namespace hangtrue::beam
