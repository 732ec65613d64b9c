// level_bound.hpp: lower bounds on the level error when each setting may still be anywhere between two values.
//
// Model     minimise highest - lowest over u, highest and lowest, subject to
//               lowest <= height_j + column_j . u <= highest     every check point j
//               row . u >= rhs, or = rhs                          force limits, travel, planes
//               from_i <= u_i <= to_i
//           and, with a target height, (highest + lowest) / 2 = target.
// Method    dual simplex on the tight constraints, which for this problem is the exchange of Chebyshev
//           approximation: start at a vertex that is best for a few constraints, take in the most violated one, let
//           the one go that keeps all multipliers >= 0. Its inverse (size n + 2) is kept and updated.
//           Source: E. W. Cheney, Introduction to Approximation Theory, 1966, on exchange algorithms (from memory).
// Bound     from the multipliers alone, normalised so that it holds whatever rounding did to them; also when the
//           iteration stops early. Infeasible only where a combination of constraints proves it.
// Memory    all inside; no heap. Part of the Workspace.
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <span>

#include "core/adjust/problem.hpp"
#include "core/adjust/thresholds.hpp"

namespace hangtrue::adjust {

template <class Scalar>
class LevelBound {
 public:
  static constexpr int kMaxSize = kMaxSettings + 2;
  static constexpr int kMaxRows = 2 * kMaxForceLimits + 3 * kMaxPlaces + kMaxStocks * (kMaxPieceKinds + 1);
  static constexpr Scalar kInfinity = std::numeric_limits<Scalar>::infinity();

  /// A basic solution, and the bound that follows from it.
  struct Vertex {
    int tight[kMaxSize];
    Scalar inverse[kMaxSize][kMaxSize];  // inverse[k]: how x moves when tight constraint k's right side grows
    Scalar x[kMaxSize];                  // u, then highest, then lowest
    Scalar multiplier[kMaxSize];
    Scalar from[kMaxSettings], to[kMaxSettings];
    Scalar bound;                // no u within from ... to is better; infinity: none is feasible
    Scalar margin;               // infeasible: by how much the proof holds
    Scalar slope[kMaxSettings];  // of bound (infeasible: of margin) in the value at which a setting is held
    bool solved;                 // x is the optimum (to rounding), not merely a bound
  };

  void begin(std::span<const Scalar> height_m, int settings, std::optional<Scalar> target_m) {
    points_ = int(height_m.size());
    settings_ = settings;
    rows_ = 0;
    target_ = target_m;
    std::copy(height_m.begin(), height_m.end(), height_);
  }
  [[nodiscard]] std::span<Scalar> heights() { return {height_, std::size_t(points_)}; }
  [[nodiscard]] std::span<Scalar> column(int setting) { return {column_[setting], std::size_t(points_)}; }
  [[nodiscard]] std::span<const Scalar> column(int setting) const {
    return {column_[setting], std::size_t(points_)};
  }

  /// row . u >= rhs, or = rhs. A row of zeros is left to the caller's own check.
  void add_row(const Scalar* row, Scalar rhs, bool equality) {
    Scalar scale = 0;
    for (int i = 0; i < settings_; ++i) scale = std::max(scale, std::abs(row[i]));
    if (!(scale > 0)) return;
    for (int i = 0; i < settings_; ++i) row_[rows_][i] = row[i] / scale;
    rhs_[rows_] = rhs / scale;
    equality_[rows_] = equality;
    ++rows_;
  }

  /// Heights at u; out has points() entries.
  void heights_at(const Scalar* u, Scalar* out) const {
    Eigen::Map<Vector> heights(out, points_);
    heights = Eigen::Map<const Vector>(height_, points_);
    for (int i = 0; i < settings_; ++i)
      if (u[i] != Scalar(0)) heights += u[i] * Eigen::Map<const Vector>(column_[i], points_);
  }

  void start(Vertex& v, const Scalar* from, const Scalar* to) const;
  void copy(const Vertex& from, Vertex& to) const;
  /// Holds u_setting at value from now on.
  void fix(Vertex& v, int setting, Scalar value) const;
  /// Improves the bound until it is the best there is, or reaches `enough`.
  void solve(Vertex& v, Scalar enough) const;
  /// Whether the same multipliers keep the bound at `enough` or more if the setting, held now, is held anywhere from
  /// its value to `farthest` instead.
  [[nodiscard]] bool reaches(const Vertex& v, int setting, Scalar farthest, Scalar enough) const {
    const Scalar change = v.slope[setting] * (farthest - v.from[setting]);
    return v.bound == kInfinity ? v.margin + change > 0 : std::min(v.bound, v.bound + change) >= enough;
  }

 private:
  using Vector = Eigen::Matrix<Scalar, Eigen::Dynamic, 1>;

  struct Violated {
    int row = -1;
    Scalar by = 0;
    bool above = false;  // an equality missed on the far side: taken in with its sign turned
  };

  // Constraints by number: points (height <= highest), points (height >= lowest), rows, lower ends, upper ends; and
  // last the target.
  [[nodiscard]] int size() const { return settings_ + 2; }
  [[nodiscard]] int highest() const { return settings_; }
  [[nodiscard]] int lowest() const { return settings_ + 1; }
  [[nodiscard]] int first_row() const { return 2 * points_; }
  [[nodiscard]] int first_lower() const { return first_row() + rows_; }
  [[nodiscard]] int first_upper() const { return first_lower() + settings_; }
  [[nodiscard]] int target_row() const { return first_upper() + settings_; }

  void normal(int row, Scalar* out) const;
  [[nodiscard]] bool stays(const Vertex& v, int row) const;
  [[nodiscard]] Violated most_violated(const Vertex& v) const;
  [[nodiscard]] bool proves_infeasible(Vertex& v, const Violated& violated, const Scalar* share) const;
  void bound_from_multipliers(Vertex& v) const;

  int points_ = 0, settings_ = 0, rows_ = 0;
  std::optional<Scalar> target_;
  Scalar height_[kMaxPoints];
  Scalar column_[kMaxSettings][kMaxPoints];
  Scalar row_[kMaxRows][kMaxSettings], rhs_[kMaxRows];
  bool equality_[kMaxRows];
  mutable Scalar scratch_[kMaxPoints];
};

template <class Scalar>
void LevelBound<Scalar>::copy(const Vertex& from, Vertex& to) const {
  const int n = size();
  for (int k = 0; k < n; ++k) {
    to.tight[k] = from.tight[k];
    to.x[k] = from.x[k];
    to.multiplier[k] = from.multiplier[k];
    std::copy(from.inverse[k], from.inverse[k] + n, to.inverse[k]);
  }
  std::copy(from.from, from.from + settings_, to.from);
  std::copy(from.to, from.to + settings_, to.to);
  to.bound = from.bound;  // holds for every value a setting may be fixed at
  std::fill(to.slope, to.slope + settings_, Scalar(0));
}

template <class Scalar>
void LevelBound<Scalar>::start(Vertex& v, const Scalar* from, const Scalar* to) const {
  // Two points alone decide, here the ends of the present shape; each setting at the end which is better for them.
  const auto [low, high] = std::minmax_element(height_, height_ + points_);
  const int top = int(high - height_), bottom = int(low - height_);
  const int n = size();
  for (int k = 0; k < n; ++k) std::fill(v.inverse[k], v.inverse[k] + n, Scalar(0));
  v.x[highest()] = height_[top];
  v.x[lowest()] = height_[bottom];
  for (int i = 0; i < settings_; ++i) {
    v.from[i] = from[i];
    v.to[i] = to[i];
    const Scalar gain = column_[i][top] - column_[i][bottom];
    const Scalar sign = gain >= 0 ? Scalar(1) : Scalar(-1);
    v.tight[i] = gain >= 0 ? first_lower() + i : first_upper() + i;
    v.multiplier[i] = std::abs(gain);
    v.x[i] = gain >= 0 ? from[i] : to[i];
    v.inverse[i][i] = sign;
    v.inverse[i][highest()] = sign * column_[i][top];
    v.inverse[i][lowest()] = sign * column_[i][bottom];
    v.x[highest()] += column_[i][top] * v.x[i];
    v.x[lowest()] += column_[i][bottom] * v.x[i];
  }
  v.tight[highest()] = top;
  v.tight[lowest()] = points_ + bottom;
  v.multiplier[highest()] = v.multiplier[lowest()] = 1;
  v.inverse[highest()][highest()] = 1;
  v.inverse[lowest()][lowest()] = -1;
  v.bound = -kInfinity;
  std::fill(v.slope, v.slope + settings_, Scalar(0));
  v.solved = false;
}

template <class Scalar>
void LevelBound<Scalar>::fix(Vertex& v, int setting, Scalar value) const {
  v.from[setting] = v.to[setting] = value;
  for (int k = 0; k < size(); ++k) {
    const bool lower = v.tight[k] == first_lower() + setting, upper = v.tight[k] == first_upper() + setting;
    if (!lower && !upper) continue;
    const Scalar step = (value - v.x[setting]) * (lower ? Scalar(1) : Scalar(-1));
    for (int i = 0; i < size(); ++i) v.x[i] += step * v.inverse[k][i];
    return;
  }
}

template <class Scalar>
void LevelBound<Scalar>::normal(int row, Scalar* out) const {
  std::fill(out, out + size(), Scalar(0));
  if (row < points_) {
    for (int i = 0; i < settings_; ++i) out[i] = -column_[i][row];
    out[highest()] = 1;
  } else if (row < first_row()) {
    for (int i = 0; i < settings_; ++i) out[i] = column_[i][row - points_];
    out[lowest()] = -1;
  } else if (row < first_lower()) {
    std::copy(row_[row - first_row()], row_[row - first_row()] + settings_, out);
  } else if (row < first_upper()) {
    out[row - first_lower()] = 1;
  } else if (row < target_row()) {
    out[row - first_upper()] = -1;
  } else {
    out[highest()] = out[lowest()] = 1;
  }
}

/// Equalities and fixed settings, once tight, stay so: their multipliers may have either sign.
template <class Scalar>
bool LevelBound<Scalar>::stays(const Vertex& v, int row) const {
  if (row < first_row()) return false;
  if (row < first_lower()) return equality_[row - first_row()];
  if (row == target_row()) return true;
  const int setting = row < first_upper() ? row - first_lower() : row - first_upper();
  return v.from[setting] == v.to[setting];
}

template <class Scalar>
typename LevelBound<Scalar>::Violated LevelBound<Scalar>::most_violated(const Vertex& v) const {
  heights_at(v.x, scratch_);
  Eigen::Map<const Vector> heights(scratch_, points_);
  Violated worst;
  const auto offer = [&worst](int row, Scalar by, bool above = false) {
    if (by > worst.by) worst = {row, by, above};
  };
  Eigen::Index top = 0, bottom = 0;
  const Scalar high = heights.maxCoeff(&top), low = heights.minCoeff(&bottom);
  offer(int(top), high - v.x[highest()]);
  offer(points_ + int(bottom), v.x[lowest()] - low);
  for (int r = 0; r < rows_; ++r) {
    Scalar sum = -rhs_[r];
    for (int i = 0; i < settings_; ++i) sum += row_[r][i] * v.x[i];
    offer(first_row() + r, -sum);
    if (equality_[r]) offer(first_row() + r, sum, true);
  }
  for (int i = 0; i < settings_; ++i) {
    offer(first_lower() + i, v.from[i] - v.x[i]);
    offer(first_upper() + i, v.x[i] - v.to[i]);
  }
  if (target_) {
    const Scalar sum = v.x[highest()] + v.x[lowest()] - 2 * *target_;
    offer(target_row(), -sum);
    offer(target_row(), sum, true);
  }
  return worst;
}

/// The violated constraint as a combination of tight ones: share[k] of constraint k. With no inequality among them
/// of positive share nothing can be given up; that is a proof only if it holds over the whole box.
template <class Scalar>
bool LevelBound<Scalar>::proves_infeasible(Vertex& v, const Violated& violated, const Scalar* share) const {
  Scalar weight_sum[kMaxSettings] = {}, rhs = 0, size_of_terms = 0;
  const auto add = [&](int row, Scalar weight) {
    if (row < first_row() || row >= first_lower()) return;
    const int r = row - first_row();
    for (int i = 0; i < settings_; ++i) weight_sum[i] += weight * row_[r][i];
    rhs += weight * rhs_[r];
    size_of_terms += std::abs(weight * rhs_[r]);
  };
  add(violated.row, violated.above ? Scalar(-1) : Scalar(1));
  for (int k = 0; k < size(); ++k)
    add(v.tight[k], stays(v, v.tight[k]) ? -share[k] : std::max(Scalar(0), -share[k]));
  Scalar reach = 0;
  for (int i = 0; i < settings_; ++i) {
    const Scalar most = std::max(weight_sum[i] * v.from[i], weight_sum[i] * v.to[i]);
    reach += most;
    size_of_terms += std::abs(most);
  }
  v.margin = rhs - reach - (Scalar(1e-12) + 64 * std::numeric_limits<Scalar>::epsilon() * size_of_terms);
  if (!(v.margin > 0)) return false;
  for (int i = 0; i < settings_; ++i) v.slope[i] = -weight_sum[i];
  return true;
}

template <class Scalar>
void LevelBound<Scalar>::bound_from_multipliers(Vertex& v) const {
  Scalar above = 0, below = 0;
  for (int k = 0; k < size(); ++k) {
    if (v.tight[k] >= first_row()) continue;
    (v.tight[k] < points_ ? above : below) += std::max(Scalar(0), v.multiplier[k]);
  }
  if (!(target_ ? above + below > 0 : above > 0 && below > 0)) return;  // no bound to be had; keep the former
  const Scalar scale_above = target_ ? 2 / (above + below) : 1 / above;
  const Scalar scale_below = target_ ? scale_above : 1 / below;

  Scalar base = target_ ? (1 - above * scale_above) * 2 * *target_ : Scalar(0);
  Scalar slope[kMaxSettings] = {};
  for (int k = 0; k < size(); ++k) {
    const int row = v.tight[k];
    if (row < first_row()) {
      const bool high = row < points_;
      const int point = high ? row : row - points_;
      const Scalar weight = std::max(Scalar(0), v.multiplier[k]) * (high ? scale_above : -scale_below);
      base += weight * height_[point];
      for (int i = 0; i < settings_; ++i) slope[i] += weight * column_[i][point];
    } else if (row < first_lower()) {
      const int r = row - first_row();
      const Scalar weight = equality_[r] ? v.multiplier[k] : std::max(Scalar(0), v.multiplier[k]);
      base += weight * rhs_[r];
      for (int i = 0; i < settings_; ++i) slope[i] -= weight * row_[r][i];
    }
  }
  Scalar bound = base;
  for (int i = 0; i < settings_; ++i) bound += std::min(slope[i] * v.from[i], slope[i] * v.to[i]);
  v.bound = bound;
  std::copy(slope, slope + settings_, v.slope);
}

template <class Scalar>
void LevelBound<Scalar>::solve(Vertex& v, Scalar enough) const {
  const int n = size();
  const int most_pivots = 20 * n + 100;
  v.solved = false;
  for (int pivot = 0; pivot < most_pivots; ++pivot) {
    if (v.x[highest()] - v.x[lowest()] >= enough) {
      bound_from_multipliers(v);
      if (v.bound >= enough) return;
    }
    const Violated violated = most_violated(v);
    Scalar size_of_x = 0;
    for (int i = 0; i < n; ++i) size_of_x = std::max(size_of_x, std::abs(v.x[i]));
    if (violated.row < 0 || violated.by <= 32 * std::numeric_limits<Scalar>::epsilon() * size_of_x) {
      v.solved = true;
      break;
    }

    Scalar direction[kMaxSize], share[kMaxSize];
    normal(violated.row, direction);
    if (violated.above)
      for (int i = 0; i < n; ++i) direction[i] = -direction[i];
    for (int k = 0; k < n; ++k) {
      share[k] = 0;
      for (int i = 0; i < n; ++i) share[k] += direction[i] * v.inverse[k][i];
    }
    // Of the constraints whose multiplier would vanish first, within a little, the one of largest share (Harris).
    const auto may_leave = [&](int k) { return share[k] > kLeastShare<Scalar> && !stays(v, v.tight[k]); };
    Scalar within = kInfinity;
    for (int k = 0; k < n; ++k)
      if (may_leave(k)) within = std::min(within, (v.multiplier[k] + kLittle<Scalar>) / share[k]);
    int leaving = -1;
    for (int k = 0; k < n; ++k)
      if (may_leave(k) && v.multiplier[k] / share[k] <= within && (leaving < 0 || share[k] > share[leaving]))
        leaving = k;
    if (leaving < 0) {
      bound_from_multipliers(v);
      if (proves_infeasible(v, violated, share)) v.bound = kInfinity;
      return;
    }

    const Scalar pivot_share = share[leaving];
    Scalar* entering = v.inverse[leaving];
    for (int i = 0; i < n; ++i) entering[i] /= pivot_share;
    const Scalar ratio = v.multiplier[leaving] / pivot_share;
    for (int k = 0; k < n; ++k) {
      if (k == leaving || share[k] == Scalar(0)) continue;
      for (int i = 0; i < n; ++i) v.inverse[k][i] -= share[k] * entering[i];
      v.multiplier[k] -= ratio * share[k];
      if (v.multiplier[k] < 0 && !stays(v, v.tight[k])) v.multiplier[k] = 0;
    }
    for (int i = 0; i < n; ++i) v.x[i] += violated.by * entering[i];
    v.multiplier[leaving] = ratio;
    v.tight[leaving] = violated.row;
    if (violated.above) {
      for (int i = 0; i < n; ++i) entering[i] = -entering[i];
      v.multiplier[leaving] = -ratio;
    }
  }
  bound_from_multipliers(v);
}

}  // namespace hangtrue::adjust
