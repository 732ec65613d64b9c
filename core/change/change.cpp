#include "core/change/change.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <vector>

namespace hangtrue::change {
namespace {

using Triangle = Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>;
using Column = Eigen::Map<const Eigen::VectorXd>;

constexpr double kHighest = std::numeric_limits<double>::infinity();

Column column(std::span<const double> values) {
  return {values.data(), static_cast<Eigen::Index>(values.size())};
}

bool all_positive(const Column& values) { return values.allFinite() && (values.array() > 0).all(); }

// Calls look(set) with every set of `size` out of `count` changes, in lexical order.
template <class Look>
void each_set(int size, int count, const Look& look) {
  std::vector<int> set(static_cast<std::size_t>(size));
  std::iota(set.begin(), set.end(), 0);
  for (;;) {
    look(std::span<const int>(set));
    // The last member that can still move on does; those after it follow closely.
    int last = size - 1;
    while (last >= 0 && set[std::size_t(last)] == count - size + last) --last;
    if (last < 0) return;
    std::iota(set.begin() + last, set.end(), set[std::size_t(last)] + 1);
  }
}

}  // namespace

double corrected(double p_value, int looked_at) {
  return -std::expm1(std::max(looked_at, 1) * std::log1p(-std::clamp(p_value, 0.0, 1.0)));
}

bool Changes::begin(int count, std::span<const double> wide, std::span<const double> prior,
                    std::span<const double> triangle, std::span<const double> right) {
  *this = {};
  if (count <= 0 || count > kMaxChanges) return false;
  const auto n = static_cast<std::size_t>(count);
  if (wide.size() != n || prior.size() != n || right.size() != n || triangle.size() != n * n) return false;
  const Triangle root(triangle.data(), count, count);
  if (!root.allFinite() || !column(right).allFinite() || !all_positive(column(wide)) ||
      !all_positive(column(prior)))
    return false;

  count_ = count;
  wide_ = column(wide);
  const Eigen::VectorXd scale = wide_.cwiseQuotient(column(prior));
  const Eigen::MatrixXd of_prior = Eigen::MatrixXd::Identity(count, count);
  information_ = scale.asDiagonal() * (root.transpose() * root - of_prior) * scale.asDiagonal();
  right_ = scale.cwiseProduct(root.transpose() * column(right));
  looked_at_ = static_cast<int>((information_.diagonal().array() > kSeen).count());

  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(information_);
  const Eigen::VectorXd& values = eigen.eigenvalues();  // smallest first
  const auto directions = (values.array() > kSeen).count();
  seen_ = values.tail(directions).cwiseSqrt().cwiseInverse().asDiagonal() *
          eigen.eigenvectors().rightCols(directions).transpose();
  statistic_ = (seen_ * right_).squaredNorm();
  return true;
}

// What is left of change j once `beside` are free: elimination in the given order. A change of which no more than rounding
// is left by its turn takes nothing.
Changes::Left Changes::left(int j, std::span<const int> beside) const {
  const int n = static_cast<int>(std::min(beside.size(), std::size_t(kMostNamed)));
  const int right = n + 1;  // column of the right side
  double a[kMostNamed + 1][kMostNamed + 2];
  const auto change = [&](int i) { return i < n ? beside[static_cast<std::size_t>(i)] : j; };
  for (int i = 0; i <= n; ++i) {
    for (int k = 0; k <= n; ++k) a[i][k] = information_(change(i), change(k));
    a[i][right] = right_(change(i));
  }
  for (int p = 0; p < n; ++p) {
    if (a[p][p] <= kRounding * information_(change(p), change(p))) continue;
    for (int i = p + 1; i <= n; ++i) {
      const double share = a[i][p] / a[p][p];
      for (int k = p; k <= right; ++k) a[i][k] -= share * a[p][k];
    }
  }
  return {a[n][n], a[n][right]};
}

Single Changes::single(int j, std::span<const int> beside) const {
  const Left rest = left(j, beside);
  Single result;
  result.seen = rest.information > kSeen;
  if (!result.seen) return result;
  const double root = std::sqrt(rest.information);
  result.value = wide_(j) * rest.right / rest.information;
  result.sigma = wide_(j) / root;
  result.p_value = normal_two_sided(rest.right / root);
  return result;
}

double Changes::explains(std::span<const int> set) const {
  double sum = 0;
  for (std::size_t k = 0; k < set.size(); ++k) {
    const Left each = left(set[k], set.first(k));
    if (each.information > kRounding * information_(set[k], set[k]) && each.information > 0)
      sum += each.right * each.right / each.information;
  }
  return sum;
}

// The test over the directions that can be seen, less those that the set spans: Gram and Schmidt make an orthonormal basis
// of what the set does to each direction, and the part of the right side that lies in it is taken out.
GlobalTest Changes::rest(std::span<const int> beside) const {
  const Eigen::VectorXd along = seen_ * right_;
  Eigen::MatrixXd basis(seen_.rows(), kMostNamed);
  int spanned = 0;
  for (const int j : beside.first(std::min(beside.size(), std::size_t(kMostNamed)))) {
    Eigen::VectorXd direction = seen_ * information_.col(j);
    const double whole = direction.squaredNorm();
    for (int b = 0; b < spanned; ++b) direction -= basis.col(b).dot(direction) * basis.col(b);
    if (direction.squaredNorm() <= kRounding * whole) continue;
    basis.col(spanned++) = direction.normalized();
  }
  GlobalTest test{statistic_, static_cast<int>(seen_.rows()) - spanned, 1};
  test.statistic -= (basis.leftCols(spanned).transpose() * along).squaredNorm();
  test.statistic = std::max(test.statistic, 0.0);
  if (test.degrees_of_freedom > 0) test.p_value = chi_squared_tail(test.statistic, test.degrees_of_freedom);
  return test;
}

double Changes::likeness(int i, int j) const {
  if (!(information_(i, i) > kSeen) || !(information_(j, j) > kSeen)) return 0;
  return information_(i, j) / std::sqrt(information_(i, i) * information_(j, j));
}

double Changes::detectable_sigmas(double confidence, double power) const {
  const int directions = static_cast<int>(seen_.rows());
  if (directions == 0) return kHighest;
  const double no_alarm = std::exp(std::log(confidence) / std::max(looked_at_, 1));  // chance of each
  const double by_name = normal_quantile((1 + no_alarm) / 2) + normal_quantile(power);
  const double limit = chi_squared_quantile(confidence, directions);
  double low = 0, high = 10;
  while (noncentral_chi_squared_tail(limit, directions, high * high) < power) high *= 2;
  while (high - low > kSameSize * high) {
    const double middle = (low + high) / 2;
    (noncentral_chi_squared_tail(limit, directions, middle * middle) < power ? low : high) = middle;
  }
  return std::max(by_name, high);
}

double Changes::smallest_detectable(int j, double confidence, double power) const {
  const Single alone = single(j);
  return alone.seen ? detectable_sigmas(confidence, power) * alone.sigma : kHighest;
}

double Changes::ln_weight(std::span<const int> set, std::span<const Belief> beliefs) const {
  const auto n = static_cast<Eigen::Index>(std::min(set.size(), std::size_t(kMostNamed)));
  Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMostNamed, kMostNamed> known(n, n);
  Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMostNamed, 1> right(n);
  double weight = 0;
  for (Eigen::Index i = 0; i < n; ++i) {
    const int change = set[static_cast<std::size_t>(i)];
    for (Eigen::Index k = 0; k < n; ++k) known(i, k) = information_(change, set[static_cast<std::size_t>(k)]);
    const double precision = wide_(change) / beliefs[static_cast<std::size_t>(change)].sigma;
    known(i, i) += precision * precision;
    right(i) = right_(change);
    weight += std::log(precision);
  }
  const Eigen::LLT<decltype(known)> root(known);
  if (root.info() != Eigen::Success) return -kHighest;
  const decltype(right) sizes = root.solve(right);
  weight += sizes.dot(right) / 2 - root.matrixLLT().diagonal().array().log().sum();
  for (Eigen::Index i = 0; i < n; ++i) {
    const Belief& belief = beliefs[static_cast<std::size_t>(set[static_cast<std::size_t>(i)])];
    weight += belief.ln_odds(wide_(set[static_cast<std::size_t>(i)]) * sizes(i));
  }
  return weight;
}

std::vector<Weighed> Changes::heaviest(int size, std::span<const Belief> beliefs, std::size_t most,
                                       std::span<const int> holding) const {
  std::vector<Weighed> found;
  const auto heavier = [](const Weighed& a, const Weighed& b) { return a.ln_weight > b.ln_weight; };
  const auto look = [&](std::vector<int> set) {
    const double weight = ln_weight(set, beliefs);
    if (!(weight > -kHighest) || (found.size() == most && weight <= found.back().ln_weight)) return;
    std::sort(set.begin(), set.end());
    if (found.size() == most) found.pop_back();
    Weighed weighed{std::move(set), weight};
    found.insert(std::upper_bound(found.begin(), found.end(), weighed, heavier), std::move(weighed));
  };
  std::vector<int> others;
  for (int j = 0; j < count_; ++j)
    if (information_(j, j) > kSeen && std::find(holding.begin(), holding.end(), j) == holding.end())
      others.push_back(j);
  const int more = size - static_cast<int>(holding.size());
  if (most == 0 || more < 0 || more > static_cast<int>(others.size())) return found;
  each_set(more, static_cast<int>(others.size()), [&](std::span<const int> chosen) {
    std::vector<int> set(holding.begin(), holding.end());
    for (const int k : chosen) set.push_back(others[static_cast<std::size_t>(k)]);
    look(std::move(set));
  });
  return found;
}

}  // namespace hangtrue::change
