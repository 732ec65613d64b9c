// small_lu.hpp: solves a small dense system by Gaussian elimination with partial pivoting, storage on the
// stack.
//
// Eigen's decompositions refer to the heap even where they never use it; a bare-metal image may not. At most
// kMax rows. Source  G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed., algorithm 3.4.1 (from
// memory).
#pragma once

#include <cmath>
#include <utility>

namespace hangtrue::beam {

template <class Scalar, int kMax>
class SmallLu {
 public:
  explicit SmallLu(int size) : size_(size) {
    for (int i = 0; i < size_ * kMax; ++i) entry_[i] = 0;
  }
  [[nodiscard]] Scalar& operator()(int row, int column) { return entry_[row * kMax + column]; }

  /// After the entries are set, once. A singular matrix leaves values that are not finite in the solutions.
  void factor() {
    for (int k = 0; k < size_; ++k) {
      int pivot = k;
      for (int i = k + 1; i < size_; ++i)
        if (std::abs(row(i)[k]) > std::abs(row(pivot)[k])) pivot = i;
      swap_[k] = pivot;
      if (pivot != k)
        for (int j = 0; j < size_; ++j) std::swap(row(k)[j], row(pivot)[j]);
      const Scalar inverse = 1 / row(k)[k];
      for (int i = k + 1; i < size_; ++i) {
        const Scalar factor = row(i)[k] *= inverse;
        if (factor == 0) continue;
        for (int j = k + 1; j < size_; ++j) row(i)[j] -= factor * row(k)[j];
      }
    }
  }

  /// Right side in, solution out.
  void solve(Scalar* values) const {
    for (int k = 0; k < size_; ++k) std::swap(values[k], values[swap_[k]]);
    for (int k = 0; k < size_; ++k)
      for (int i = k + 1; i < size_; ++i) values[i] -= row(i)[k] * values[k];
    for (int k = size_ - 1; k >= 0; --k) {
      for (int j = k + 1; j < size_; ++j) values[k] -= row(k)[j] * values[j];
      values[k] /= row(k)[k];
    }
  }

 private:
  [[nodiscard]] Scalar* row(int i) { return entry_ + i * kMax; }
  [[nodiscard]] const Scalar* row(int i) const { return entry_ + i * kMax; }

  int size_;
  int swap_[kMax] = {};
  Scalar entry_[kMax * kMax];
};

}  // namespace hangtrue::beam
