// information_filter.hpp: linear least squares, one reading at a time, in memory fixed beforehand.
//
// Model    value = row . x + noise,  noise ~ N(0, sigma^2), one reading a call; x may have a Gaussian prior.
// Method   Kept is the triangle R (upper, diagonal >= 0) and the right side z with |R x - z|^2 +
//          sum_of_squares  =  sum over all rows of ((value - row . x) / sigma)^2, prior rows among them. A
//          reading is one sweep of Givens rotations; R is a square root of the information matrix, so the
//          condition number is never squared. No reading is stored: memory and cost of the next one do not
//          grow.
// Units    the caller's. Scale the unknowns so that their prior sigmas are near 1, above all in float.
// Limits   at most Max unknowns (a size from 1 to Max is chosen by start()); everything lies in the object:
//          no heap. Squares of row / sigma must not leave the range of Scalar (float: keep |row / sigma|
//          within 1e-15 ... 1e15).
// Not for  values that are not finite, or sigma <= 0: the caller refuses those (core/fit/fit.hpp does).
// Source   G. J. Bierman, Factorization Methods for Discrete Sequential Estimation, Academic Press 1977
//          (square-root information filter); G. H. Golub, C. F. Van Loan, Matrix Computations (Givens
//          rotations). From memory.
#pragma once

#include <algorithm>
#include <cmath>
#include <span>

namespace hangtrue::fit {

template <class Scalar, int Max>
class InformationFilter {
  static_assert(Max > 0);

 public:
  /// Begins with `unknowns` (1 ... Max) of which nothing is known.
  void start(int unknowns) {
    size_ = std::clamp(unknowns, 1, Max);
    width_ = padded(size_ + 1);
    for (int i = 0; i < size_; ++i) {
      std::fill_n(row_[i], width_, Scalar(0));
      inverse_[i] = 0;
    }
    sum_of_squares_ = 0;
  }

  /// Begins with independent priors: mean and sigma (> 0) of each unknown.
  void start(std::span<const Scalar> mean, std::span<const Scalar> sigma) {
    start(static_cast<int>(mean.size()));
    for (int i = 0; i < size_; ++i)
      know(i, mean[static_cast<std::size_t>(i)], sigma[static_cast<std::size_t>(i)]);
  }

  /// After start(n) and before any reading: an independent prior for unknown i, sigma > 0.
  void know(int i, Scalar mean, Scalar sigma) {
    row_[i][i] = 1 / sigma;
    row_[i][size_] = mean / sigma;
    inverse_[i] = sigma;
  }

  /// One reading enters: value = row . x, sigma > 0; row has one entry an unknown. Leading zeros cost
  /// nothing.
  void add(std::span<const Scalar> row, Scalar value, Scalar sigma) {
    alignas(kAlign) Scalar incoming[kStride];
    const Scalar weight = 1 / sigma;
    for (int j = 0; j < size_; ++j) incoming[j] = row[static_cast<std::size_t>(j)] * weight;
    incoming[size_] = value * weight;
    for (int j = size_ + 1; j < width_; ++j) incoming[j] = 0;
    for (int k = 0; k < size_; ++k) {
      if (incoming[k] == 0) continue;
      const Scalar kept = row_[k][k];
      const Scalar inverse = 1 / std::sqrt(kept * kept + incoming[k] * incoming[k]);
      rotate(row_[k], incoming, k & ~(kBlock - 1), kept * inverse, incoming[k] * inverse);
      incoming[k] = 0;
      inverse_[k] = inverse;
    }
    sum_of_squares_ += incoming[size_] * incoming[size_];
  }

  /// The least-squares answer x. False, and x as far as it goes zero, while some unknown is not determined.
  [[nodiscard]] bool answer(std::span<Scalar> x) const {
    alignas(kAlign) Scalar solved[kStride];
    std::fill_n(solved, width_, Scalar(0));
    bool determined = true;
    // A block of rows at a time, the last first: what is known outside the block in one sweep for all its
    // rows, so that they need not wait for each other; then the triangle within.
    for (int first = (size_ - 1) & ~(kBlock - 1); first >= 0; first -= kBlock) {
      const int end = std::min(first + kBlock, size_);
      Scalar rest[kBlock];
      for (int i = first; i < end; ++i)
        rest[i - first] = row_[i][size_] - dot(row_[i], solved, first + kBlock);
      for (int i = end - 1; i >= first; --i) {
        determined = determined && inverse_[i] != 0;
        const Scalar entry = rest[i - first] * inverse_[i];
        solved[i] = entry;
        for (int above = first; above < i; ++above) rest[above - first] -= row_[above][i] * entry;
      }
    }
    for (int i = 0; i < size_; ++i) x[static_cast<std::size_t>(i)] = determined ? solved[i] : Scalar(0);
    return determined;
  }

  /// w = R^-T g, so that the variance of g . x is |w|^2 and the covariance of g . x and h . x is w_g . w_h.
  /// Every unknown must be determined. `g` and `w` may be the same.
  void whiten(std::span<const Scalar> g, std::span<Scalar> w) const {
    alignas(kAlign) Scalar rest[kStride];
    for (int j = 0; j < size_; ++j) rest[j] = g[static_cast<std::size_t>(j)];
    for (int j = size_; j < width_; ++j) rest[j] = 0;
    for (int i = 0; i < size_; ++i) {
      const Scalar entry = rest[i] * inverse_[i];
      w[static_cast<std::size_t>(i)] = entry;
      if (entry != 0) subtract(rest, row_[i], i & ~(kBlock - 1), entry);
    }
  }

  /// Variance of g . x; every unknown must be determined.
  [[nodiscard]] Scalar variance(std::span<const Scalar> g) const {
    Scalar w[Max];
    whiten(g, std::span<Scalar>(w, static_cast<std::size_t>(size_)));
    Scalar sum = 0;
    for (int i = 0; i < size_; ++i) sum += w[i] * w[i];
    return sum;
  }

  /// Smallest reachable sum of ((value - row . x) / sigma)^2 over all rows, the prior's among them.
  [[nodiscard]] Scalar sum_of_squares() const { return sum_of_squares_; }

  /// ln det R, half the log-determinant of the information matrix; every unknown must be determined.
  [[nodiscard]] Scalar log_determinant() const {
    Scalar sum = 0;
    for (int i = 0; i < size_; ++i) sum += std::log(row_[i][i]);
    return sum;
  }

  /// Only the unknowns `kept` (indices, in the order wanted) survive, into `out` (another filter): what is
  /// known of them when nothing more is heard of the others. `out` begins with a sum of squares of 0.
  void marginal(std::span<const int> kept, InformationFilter& out) const {
    int order[Max];  // old index of each new column: the dropped first
    bool stays[Max] = {};
    for (const int i : kept) stays[i] = true;
    int dropped = 0;
    for (int i = 0; i < size_; ++i)
      if (!stays[i]) order[dropped++] = i;
    std::copy(kept.begin(), kept.end(), order + dropped);

    out.start(size_);
    Scalar row[Max];
    for (int i = 0; i < size_; ++i) {
      for (int j = 0; j < size_; ++j) row[j] = row_[i][order[j]];
      out.add(std::span<const Scalar>(row, static_cast<std::size_t>(size_)), row_[i][size_], Scalar(1));
    }

    const int size = size_ - dropped;
    const int width = padded(size + 1);
    for (int i = 0; i < size; ++i) {
      for (int j = 0; j <= size; ++j) out.row_[i][j] = out.row_[i + dropped][j + dropped];
      std::fill(out.row_[i] + size + 1, out.row_[i] + width, Scalar(0));
      out.inverse_[i] = out.inverse_[i + dropped];
    }
    out.size_ = size;
    out.width_ = width;
    out.sum_of_squares_ = 0;
  }

  [[nodiscard]] int unknowns() const { return size_; }
  /// Row i of R, all columns (zero left of the diagonal), and its right side z.
  [[nodiscard]] std::span<const Scalar> triangle_row(int i) const {
    return {row_[i], static_cast<std::size_t>(size_)};
  }
  [[nodiscard]] Scalar right_side(int i) const { return row_[i][size_]; }

 private:
  // Rows are padded with zeros to whole blocks, and loops run over whole blocks: constant inner trip counts
  // let the compiler use vector instructions at -O2. What lies left of the diagonal is zero and stays so.
  static constexpr int kBlock = 4;
  static constexpr int kAlign = kBlock * sizeof(Scalar);
  static constexpr int padded(int n) { return (n + kBlock - 1) & ~(kBlock - 1); }
  static constexpr int kStride = padded(Max + 1);

  void rotate(Scalar* __restrict kept, Scalar* __restrict incoming, int from, Scalar c, Scalar s) const {
    for (int j = from; j < width_; j += kBlock) {
      Scalar a[kBlock], b[kBlock];
      for (int l = 0; l < kBlock; ++l) a[l] = c * kept[j + l] + s * incoming[j + l];
      for (int l = 0; l < kBlock; ++l) b[l] = c * incoming[j + l] - s * kept[j + l];
      for (int l = 0; l < kBlock; ++l) kept[j + l] = a[l];
      for (int l = 0; l < kBlock; ++l) incoming[j + l] = b[l];
    }
  }

  Scalar dot(const Scalar* __restrict a, const Scalar* __restrict b, int from) const {
    Scalar sum[kBlock] = {};
    for (int j = from; j < width_; j += kBlock)
      for (int l = 0; l < kBlock; ++l) sum[l] += a[j + l] * b[j + l];
    return (sum[0] + sum[2]) + (sum[1] + sum[3]);
  }

  void subtract(Scalar* __restrict from_row, const Scalar* __restrict row, int from, Scalar factor) const {
    for (int j = from; j < width_; j += kBlock)
      for (int l = 0; l < kBlock; ++l) from_row[j + l] -= factor * row[j + l];
  }

  alignas(kAlign) Scalar row_[Max][kStride] = {};  // [R | z | padding]
  Scalar inverse_[Max] = {};                       // 1 / R(i, i); 0: not determined
  Scalar sum_of_squares_ = 0;
  int size_ = 1;
  int width_ = padded(2);
};

}  // namespace hangtrue::fit
