#include "core/adjust/prospect.hpp"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>

#include "core/adjust/problem.hpp"
#include "core/quantity/units.hpp"

namespace hangtrue::adjust {

namespace {

/// SplitMix64. Source: G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators",
/// OOPSLA 2014 (constants from memory; the test checks moments and independence that matter here).
class Uniform {
 public:
  /// In (0, 1).
  double next() {
    state_ += 0x9E3779B97F4A7C15u;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    z ^= z >> 31;
    return (double(z >> 12) + 0.5) * (1.0 / 4503599627370496.0);  // 2^-52
  }

 private:
  std::uint64_t state_ = 20;
};

template <class Scalar>
using Row = Eigen::Map<const Eigen::Matrix<Scalar, Eigen::Dynamic, 1>>;

template <class Scalar>
Row<Scalar> row_of(const Spread<Scalar>& spread, int point) {
  return Row<Scalar>(spread.factor.data() + std::ptrdiff_t(point) * spread.columns, spread.columns);
}

/// Standard normals by G. E. P. Box, M. E. Muller, Ann. Math. Statist. 29 (1958) 610.
template <class Scalar>
void draw_normals(Uniform& uniform, std::span<Scalar> out) {
  for (std::size_t i = 0; i < out.size(); i += 2) {
    const double radius = std::sqrt(-2.0 * std::log(uniform.next()));
    const double angle = 2.0 * kPi * uniform.next();
    out[i] = Scalar(radius * std::cos(angle));
    if (i + 1 < out.size()) out[i + 1] = Scalar(radius * std::sin(angle));
  }
}

template <class Scalar>
bool keeps(const StraightLimit<Scalar>& straight, std::span<const Scalar> height_m) {
  return std::all_of(straight.departures.begin(), straight.departures.end(), [&](const auto& departure) {
    return std::abs(departure_of(departure, height_m)) <= straight.limit_m;
  });
}

template <class Scalar>
void find_chance(std::span<const Scalar> mean_m, const Spread<Scalar>& spread, Scalar tolerance_m,
                 std::optional<Scalar> target_m, const StraightLimit<Scalar>& straight,
                 Prospect<Scalar>& out) {
  std::array<Scalar, kMaxUnknowns> normal;
  std::array<Scalar, kMaxPoints> noise, shape;
  const int points = int(mean_m.size());
  Uniform uniform;
  int both = 0, one = 0;
  double squares = 0;  // of the drawn level errors less that of the mean shape
  for (int pair = 0; pair < kDraws / 2; ++pair) {
    draw_normals(uniform, std::span<Scalar>(normal.data(), std::size_t(spread.columns)));
    const Row<Scalar> z(normal.data(), spread.columns);
    for (int j = 0; j < points; ++j) noise[std::size_t(j)] = row_of(spread, j).dot(z);
    int within = 0;
    for (const Scalar sign : {Scalar(1), Scalar(-1)}) {
      for (std::size_t j = 0; j < std::size_t(points); ++j) shape[j] = mean_m[j] + sign * noise[j];
      const std::span<const Scalar> drawn(shape.data(), mean_m.size());
      const Scalar error = level_error(drawn, target_m);
      if (error <= tolerance_m && keeps(straight, drawn)) ++within;
      const double off = double(error - out.level_error_m);
      squares += off * off;
    }
    both += within == 2 ? 1 : 0;
    one += within == 1 ? 1 : 0;
  }
  const double pairs = kDraws / 2;
  const double chance = (both + 0.5 * one) / pairs;
  const double variance = std::max(0.0, (both + 0.25 * one) / pairs - chance * chance);
  out.drawn_sigma_m = Scalar(std::sqrt(squares / kDraws));
  out.chance = Scalar(chance);
  out.chance_standard_error = Scalar(std::max(std::sqrt(variance / pairs), 1.0 / kDraws));
}

}  // namespace

template <class Scalar>
Prospect<Scalar> prospect(std::span<const Scalar> mean_m, const Spread<Scalar>& spread,
                          std::type_identity_t<Scalar> tolerance_m,
                          std::optional<std::type_identity_t<Scalar>> target_m,
                          const std::type_identity_t<StraightLimit<Scalar>>& straight) {
  Prospect<Scalar> out;
  if (mean_m.empty()) return out;
  const auto [low, high] = std::minmax_element(mean_m.begin(), mean_m.end());
  out.level_error_m = level_error(mean_m, target_m);
  out.highest = int(high - mean_m.begin());
  out.lowest = int(low - mean_m.begin());
  if (target_m) {
    if (*high - *target_m >= *target_m - *low)
      out.lowest = out.highest;
    else
      out.highest = out.lowest;
  }
  if (spread.columns == 0) {
    out.chance = out.level_error_m <= tolerance_m && keeps(straight, mean_m) ? Scalar(1) : Scalar(0);
    return out;
  }
  const auto top = row_of(spread, out.highest), bottom = row_of(spread, out.lowest);
  out.level_error_sigma_m = target_m ? 2 * top.norm() : (top - bottom).norm();
  find_chance(mean_m, spread, tolerance_m, target_m, straight, out);
  return out;
}

template <class Scalar>
Scalar sigma_if_measured(const Prospect<Scalar>& prospect, const Spread<Scalar>& spread,
                         std::span<const Scalar> unknown_row, std::type_identity_t<Scalar> measured_sigma,
                         bool with_target) {
  if (spread.columns == 0) return 0;
  const Row<Scalar> unknown(unknown_row.data(), spread.columns);
  const auto top = row_of(spread, prospect.highest), bottom = row_of(spread, prospect.lowest);
  const Scalar covariance = with_target ? 2 * top.dot(unknown) : (top - bottom).dot(unknown);
  const Scalar variance = unknown.squaredNorm() + measured_sigma * measured_sigma;
  const Scalar before = prospect.level_error_sigma_m;
  if (!(variance > 0)) return before;
  return std::sqrt(std::max(Scalar(0), before * before - covariance * covariance / variance));
}

template struct Prospect<double>;
template struct Prospect<float>;
template Prospect<double> prospect(std::span<const double>, const Spread<double>&, double,
                                   std::optional<double>, const StraightLimit<double>&);
template Prospect<float> prospect(std::span<const float>, const Spread<float>&, float, std::optional<float>,
                                  const StraightLimit<float>&);
template double sigma_if_measured(const Prospect<double>&, const Spread<double>&, std::span<const double>,
                                  double, bool);
template float sigma_if_measured(const Prospect<float>&, const Spread<float>&, std::span<const float>, float,
                                 bool);

}  // namespace hangtrue::adjust
