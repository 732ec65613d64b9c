#include "core/change/change.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "core/fit/distribution.hpp"

namespace hangtrue::change {
namespace {

// A direction is seen where its sigma is below what was called wide: information above 1.
constexpr double kSeen = 1;
// Information that is this share of what a change has by itself is rounding.
constexpr double kRounding = 1e-9;
// With more changes than this, sets of four are too many to try.
constexpr int kMostWithFour = 48;
constexpr double kHighest = std::numeric_limits<double>::infinity();

double two_sided(double size) { return std::erfc(std::abs(size) / std::numbers::sqrt2); }

// Eigenvalues and vectors of a symmetric matrix by Jacobi's rotations, row k of `vector` to value[k]. G. H. Golub, C. F.
// Van Loan, Matrix Computations, 4th ed., 8.5 (from memory). `matrix` is used up.
void eigen(int n, double (*matrix)[kMaxChanges], double (*vector)[kMaxChanges]) {
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j) vector[i][j] = i == j ? 1 : 0;
  for (int sweep = 0; sweep < 60; ++sweep) {
    double off = 0, all = 0;
    for (int i = 0; i < n; ++i)
      for (int j = 0; j < n; ++j) {
        all += matrix[i][j] * matrix[i][j];
        if (i != j) off += matrix[i][j] * matrix[i][j];
      }
    if (off <= 1e-30 * all) return;
    for (int p = 0; p < n; ++p)
      for (int q = p + 1; q < n; ++q) {
        if (matrix[p][q] == 0) continue;
        const double half = (matrix[q][q] - matrix[p][p]) / (2 * matrix[p][q]);
        const double t = (half >= 0 ? 1 : -1) / (std::abs(half) + std::hypot(half, 1.0));
        const double c = 1 / std::hypot(t, 1.0), s = t * c;
        for (int k = 0; k < n; ++k) {
          const double a = matrix[k][p], b = matrix[k][q];
          matrix[k][p] = c * a - s * b;
          matrix[k][q] = s * a + c * b;
        }
        for (int k = 0; k < n; ++k) {
          const double a = matrix[p][k], b = matrix[q][k];
          matrix[p][k] = c * a - s * b;
          matrix[q][k] = s * a + c * b;
        }
        for (int k = 0; k < n; ++k) {
          const double a = vector[p][k], b = vector[q][k];
          vector[p][k] = c * a - s * b;
          vector[q][k] = s * a + c * b;
        }
      }
  }
}

}  // namespace

double corrected(double p_value, int looked_at) {
  return -std::expm1(std::max(looked_at, 1) * std::log1p(-std::clamp(p_value, 0.0, 1.0)));
}

double noncentral_chi_squared_tail(double value, int degrees_of_freedom, double noncentrality) {
  // A mixture of central ones with Poisson weights.
  const double half = noncentrality / 2;
  double sum = 0, log_weight = -half, weights = 0;
  for (int k = 0; k < 10'000; ++k) {
    const double weight = std::exp(log_weight);
    weights += weight;
    sum += weight * fit::chi_squared_tail(value, degrees_of_freedom + 2 * k);
    if (k > half && 1 - weights < 1e-13) break;
    log_weight += std::log(half) - std::log(k + 1.0);
    if (half == 0) break;
  }
  return sum;
}

bool Changes::begin(int count, std::span<const double> wide, std::span<const double> prior,
                    std::span<const double> triangle, std::span<const double> right) {
  count_ = 0;
  if (count <= 0 || count > kMaxChanges) return false;
  const auto n = static_cast<std::size_t>(count);
  if (wide.size() != n || prior.size() != n || right.size() != n || triangle.size() != n * n) return false;
  const auto finite = [](double each) { return std::isfinite(each); };
  const auto positive = [](double each) { return std::isfinite(each) && each > 0; };
  if (!std::all_of(triangle.begin(), triangle.end(), finite) ||
      !std::all_of(right.begin(), right.end(), finite) || !std::all_of(wide.begin(), wide.end(), positive) ||
      !std::all_of(prior.begin(), prior.end(), positive))
    return false;
  count_ = count;
  const auto entry = [&](int i, int j) {
    return triangle[static_cast<std::size_t>(i) * n + static_cast<std::size_t>(j)];
  };
  const auto scale = [&](int i) {
    return wide[static_cast<std::size_t>(i)] / prior[static_cast<std::size_t>(i)];
  };
  for (int i = 0; i < count; ++i) {
    wide_[i] = wide[static_cast<std::size_t>(i)];
    right_[i] = 0;
    for (int k = 0; k < count; ++k) right_[i] += entry(k, i) * right[static_cast<std::size_t>(k)];
    for (int j = 0; j < count; ++j) {
      information_[i][j] = i == j ? -1 : 0;  // the prior's
      for (int k = 0; k < count; ++k) information_[i][j] += entry(k, i) * entry(k, j);
      information_[i][j] *= scale(i) * scale(j);
    }
    right_[i] *= scale(i);
  }
  looked_at_ = 0;
  for (int j = 0; j < count; ++j) looked_at_ += information_[j][j] > kSeen ? 1 : 0;

  double matrix[kMaxChanges][kMaxChanges];
  for (int i = 0; i < count; ++i) std::copy_n(information_[i], count, matrix[i]);
  eigen(count, matrix, seen_);
  statistic_ = 0;
  directions_ = 0;
  for (int k = 0; k < count; ++k) {
    const double value = matrix[k][k];
    if (!(value > kSeen)) continue;
    double along = 0;
    for (int i = 0; i < count; ++i) along += seen_[k][i] * right_[i];
    for (int i = 0; i < count; ++i) seen_[directions_][i] = seen_[k][i] / std::sqrt(value);
    statistic_ += along * along / value;
    ++directions_;
  }
  return true;
}

// What is left of change j once `beside` are free: elimination in the given order; what is no more than rounding by then
// takes nothing.
Changes::Left Changes::left(int j, std::span<const int> beside) const {
  const int n = static_cast<int>(std::min(beside.size(), std::size_t(kMostNamed)));
  double a[kMostNamed + 1][kMostNamed + 2];
  const auto of = [&](int i) { return i < n ? beside[static_cast<std::size_t>(i)] : j; };
  for (int i = 0; i <= n; ++i) {
    for (int k = 0; k <= n; ++k) a[i][k] = information(of(i), of(k));
    a[i][n + 1] = right_[of(i)];
  }
  for (int p = 0; p < n; ++p) {
    if (a[p][p] <= kRounding * information(of(p), of(p))) continue;
    for (int i = p + 1; i <= n; ++i) {
      const double share = a[i][p] / a[p][p];
      for (int k = p; k <= n + 1; ++k) a[i][k] -= share * a[p][k];
    }
  }
  return {a[n][n], a[n][n + 1]};
}

Single Changes::single(int j, std::span<const int> beside) const {
  const Left rest = left(j, beside);
  Single result;
  result.seen = rest.information > kSeen;
  if (!result.seen) return result;
  const double root = std::sqrt(rest.information);
  result.value = wide_[j] * rest.right / rest.information;
  result.sigma = wide_[j] / root;
  result.p_value = two_sided(rest.right / root);
  return result;
}

double Changes::explains(std::span<const int> set) const {
  double sum = 0;
  for (std::size_t k = 0; k < set.size(); ++k) {
    const Left each = left(set[k], set.first(k));
    if (each.information > kRounding * information(set[k], set[k]) && each.information > 0)
      sum += each.right * each.right / each.information;
  }
  return sum;
}

// The directions that can be seen, less those that the set spans: what the set does to each direction is projected out.
GlobalTest Changes::rest(std::span<const int> beside) const {
  double basis[kMostNamed][kMaxChanges];  // orthonormal, over the directions
  double along[kMaxChanges];              // of the right side, over the directions
  for (int k = 0; k < directions_; ++k) {
    along[k] = 0;
    for (int i = 0; i < count_; ++i) along[k] += seen_[k][i] * right_[i];
  }
  int spanned = 0;
  for (const int j : beside.first(std::min(beside.size(), std::size_t(kMostNamed)))) {
    double* const direction = basis[spanned];
    double whole = 0, size = 0;
    for (int k = 0; k < directions_; ++k) {
      direction[k] = 0;
      for (int i = 0; i < count_; ++i) direction[k] += seen_[k][i] * information(i, j);
      whole += direction[k] * direction[k];
    }
    for (int b = 0; b < spanned; ++b) {
      double shared = 0;
      for (int k = 0; k < directions_; ++k) shared += basis[b][k] * direction[k];
      for (int k = 0; k < directions_; ++k) direction[k] -= shared * basis[b][k];
    }
    for (int k = 0; k < directions_; ++k) size += direction[k] * direction[k];
    if (size <= kRounding * whole) continue;
    for (int k = 0; k < directions_; ++k) direction[k] /= std::sqrt(size);
    ++spanned;
  }
  GlobalTest test{statistic_, directions_ - spanned, 1};
  for (int b = 0; b < spanned; ++b) {
    double taken = 0;
    for (int k = 0; k < directions_; ++k) taken += basis[b][k] * along[k];
    test.statistic -= taken * taken;
  }
  test.statistic = std::max(test.statistic, 0.0);
  if (test.degrees_of_freedom > 0)
    test.p_value = fit::chi_squared_tail(test.statistic, test.degrees_of_freedom);
  return test;
}

double Changes::likeness(int i, int j) const {
  if (!(information(i, i) > kSeen) || !(information(j, j) > kSeen)) return 0;
  return information(i, j) / std::sqrt(information(i, i) * information(j, j));
}

double Changes::detectable_sigmas(double confidence, double power) const {
  if (directions_ == 0) return kHighest;
  const double chance = std::exp(std::log(confidence) / std::max(looked_at_, 1));  // of no alarm, each
  const auto normal = [](double p) { return fit::t_quantile(p, kHighest); };
  const double by_name = normal((1 + chance) / 2) + normal(power);
  const double limit = fit::chi_squared_quantile(confidence, directions_);
  double low = 0, high = 10;
  while (noncentral_chi_squared_tail(limit, directions_, high * high) < power) high *= 2;
  while (high - low > 1e-6 * high) {
    const double middle = (low + high) / 2;
    (noncentral_chi_squared_tail(limit, directions_, middle * middle) < power ? low : high) = middle;
  }
  return std::max(by_name, high);
}

double Changes::smallest_detectable(int j, double confidence, double power) const {
  const Single alone = single(j);
  return alone.seen ? detectable_sigmas(confidence, power) * alone.sigma : kHighest;
}

// Whether every one of the set is significant beside the others, corrected; false also where one cannot be seen there.
bool Changes::all_needed(std::span<const int> set, double confidence, Named* values) const {
  for (std::size_t i = 0; i < set.size(); ++i) {
    int others[kMostNamed];
    std::size_t count = 0;
    for (std::size_t k = 0; k < set.size(); ++k)
      if (k != i) others[count++] = set[k];
    const Single each = single(set[i], {others, count});
    if (!each.seen || std::abs(each.value) > kPlausible * wide_[set[i]] ||
        corrected(each.p_value, looked_at_) >= 1 - confidence)
      return false;
    if (values == nullptr) continue;
    values->value[i] = each.value;
    values->sigma[i] = each.sigma;
  }
  return true;
}

Named Changes::name(double confidence, std::span<const int> rank, double same) const {
  Named named;
  named.rest = global();
  const auto passes = [&](const GlobalTest& test) {
    return test.degrees_of_freedom == 0 || test.p_value >= 1 - confidence;
  };
  const int most = count_ <= kMostWithFour ? kMostNamed : kMostNamed - 1;
  for (int size = 1; size <= most && size <= count_ && !passes(named.rest); ++size) {
    const auto length = static_cast<std::size_t>(size);
    // Twice through all sets of this size: what the best explains, then the lowest rank that comes near it.
    double best_gain = 0, chosen_gain = 0;
    int chosen[kMostNamed] = {}, chosen_rank = -1;
    for (int pass = 0; pass < 2; ++pass) {
      int set[kMostNamed];
      for (int k = 0; k < size; ++k) set[k] = k;
      for (bool more = true; more;) {
        const std::span<const int> here(set, length);
        const double gain = explains(here);
        if (gain > (pass == 0 ? best_gain : best_gain * (1 - kRounding) - same) &&
            all_needed(here, confidence, nullptr)) {
          int ranks = 0;
          for (const int j : here) ranks += rank.empty() ? 0 : rank[static_cast<std::size_t>(j)];
          if (pass == 0) {
            best_gain = gain;
          } else if (chosen_rank < 0 || ranks < chosen_rank || (ranks == chosen_rank && gain > chosen_gain)) {
            std::copy_n(set, size, chosen);
            chosen_rank = ranks;
            chosen_gain = gain;
          }
        }
        int k = size - 1;
        while (k >= 0 && set[k] == count_ - size + k) --k;
        more = k >= 0;
        if (!more) break;
        ++set[k];
        for (int i = k + 1; i < size; ++i) set[i] = set[i - 1] + 1;
      }
      if (best_gain == 0) break;
    }
    if (chosen_rank < 0) break;
    const double more = chosen_gain - explains({named.change, static_cast<std::size_t>(named.count)});
    if (corrected(two_sided(std::sqrt(std::max(more, 0.0))), looked_at_) >= 1 - confidence) break;
    named.count = size;
    std::copy_n(chosen, size, named.change);
    (void)all_needed({chosen, length}, confidence, &named);
    named.rest = rest({chosen, length});
  }
  return named;
}

}  // namespace hangtrue::change
