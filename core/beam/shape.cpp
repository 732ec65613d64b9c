// The solved run: shape, forces, derivatives.
#include "core/beam/solver.hpp"

#include <algorithm>
#include <cmath>

#include "core/beam/warping.hpp"
#include "core/quantity/units.hpp"

namespace hangtrue::beam {

template <class Scalar>
auto Solver<Scalar>::place(Scalar x_m, Side side) const -> Place {
  const Scalar x = std::clamp(x_m, Scalar(0), run_.length_m);
  const int nearest = node_at(x);
  if (std::abs(node_m_[nearest] - x) <= same_place(run_.length_m)) {
    const bool left = nearest == nodes_ - 1 || (side == Side::left && nearest > 0);
    return left ? Place{nearest - 1, node_m_[nearest] - node_m_[nearest - 1]} : Place{nearest, Scalar(0)};
  }
  const int interval = int(std::upper_bound(node_m_, node_m_ + nodes_, x) - node_m_) - 1;
  return {interval, x - node_m_[interval]};
}

template <class Scalar>
void Solver<Scalar>::basis_at(Place place, Basis& basis) const {
  const int bends = bend_columns_, twists = twist_columns_;
  const int node = place.interval;
  const Scalar *const heights = bend(node, kHeight), *const rotations = bend(node, kRotation),
                      *const moments = bend(node, kMoment), *const shears = bend(node, kShear);
  const Flex yields = flex(node);
  const Scalar s = place.along;
  const Scalar bend_s = yields.bend * s, shear_s = yields.shear * s, twist_s = yields.twist * s;
  for (int c = 0; c < bends; ++c) {
    const Scalar z = heights[c], r = rotations[c], m = moments[c], v = shears[c];
    basis.height[c] = z + s * (r + bend_s * (m / 2 + v * s / 6)) - shear_s * v;
    basis.rotation[c] = r + bend_s * (m + v * s / 2);
    basis.moment[c] = m + v * s;
    basis.shear[c] = v;
  }
  const Scalar *const rolls = twist(node, kRoll), *const torques = twist(node, kTorque);
  const bool warps = yields.warping > 0;
  const Scalar h = node_m_[node + 1] - node_m_[node];
  const Scalar by_torque = warps ? h * h / yields.warping : Scalar(0);
  const auto shape =
      warps ? warp_shape(h / std::sqrt(yields.twist * yields.warping), s / h) : WarpShape<Scalar>{};
  if (warps) {
    const Scalar *const begins = twist(node, kWarp), *const ends = twist(node + 1, kWarp);
    for (int c = 0; c < twists; ++c) {
      const auto sum = [&](auto part) {
        return shape.begin.*part * begins[c] + shape.end.*part * ends[c] +
               by_torque * shape.torque[0].*part * torques[c];
      };
      using Of = typename WarpShape<Scalar>::Of;
      basis.roll[c] = rolls[c] + h * sum(&Of::integral);
      basis.warp[c] = sum(&Of::warp);
      basis.bimoment[c] = yields.warping / h * sum(&Of::slope);
      basis.torque[c] = torques[c];
    }
  } else {
    for (int c = 0; c < twists; ++c) {
      basis.roll[c] = rolls[c] + twist_s * torques[c];
      basis.torque[c] = torques[c];
      basis.warp[c] = yields.twist * torques[c];
      basis.bimoment[c] = 0;
    }
  }
  for (int i = 0; i < int(run_.load_parts.size()); ++i) {
    if (place.interval < part_first_[i] || place.interval >= part_last_[i]) continue;
    const LoadTerms load = load_terms(i, place);
    basis.height[load.bend_column] += load.height;
    basis.rotation[load.bend_column] += load.rotation;
    basis.moment[load.bend_column] += load.moment;
    basis.shear[load.bend_column] += load.shear;
    basis.torque[load.twist_column] += load.torque;
    if (!warps) {
      basis.roll[load.twist_column] += load.roll;
      basis.warp[load.twist_column] += yields.twist * load.torque;
      continue;
    }
    for (const int power : {1, 2}) {
      const Scalar torque = by_torque * load.torque_of_xi[power - 1];
      basis.roll[load.twist_column] += h * torque * shape.torque[power].integral;
      basis.warp[load.twist_column] += torque * shape.torque[power].warp;
      basis.bimoment[load.twist_column] += yields.warping / h * torque * shape.torque[power].slope;
    }
  }
}

template <class Scalar>
Scalar Solver<Scalar>::bow_height(Scalar x_m, int bow) const {
  return std::sin(Scalar(kPi) * Scalar(bow + 1) * x_m / run_.length_m);
}
template <class Scalar>
Scalar Solver<Scalar>::bow_slope(Scalar x_m, int bow) const {
  const Scalar wave = Scalar(kPi) * Scalar(bow + 1) / run_.length_m;
  return wave * std::cos(wave * x_m);
}

// The factor with which a load stands in a stage; 0 where it is not on.
template <class Scalar>
Scalar Solver<Scalar>::load_factor(int stage, int load) const {
  if (!run_.stages[std::size_t(stage)].lists_load(load)) return 0;
  const Scalar share = share_ == nullptr ? Scalar(1) : share_[load];
  return state_.load_factor[load] * share;
}

// The part of a height or rotation that shrinks when stiffness grows; `basis`: its values on the released structure.
template <class Scalar>
Scalar Solver<Scalar>::elastic_bend(int stage, const Scalar* basis) const {
  Scalar sum = 0;
  for (int c = 0; c < support_bends_; ++c) sum += force(stage, c)[0] * basis[c];
  for (int l = 0; l < run_.loads; ++l)
    if (!warmth_[l]) sum += load_factor(stage, l) * basis[support_bends_ + l];
  return sum / state_.bending_factor;
}
// Likewise of a roll.
template <class Scalar>
Scalar Solver<Scalar>::elastic_twist(int stage, const Scalar* basis) const {
  Scalar sum = 0;
  for (int c = 0; c < support_twists_; ++c) sum += torque(stage, c)[0] * basis[c];
  for (int l = 0; l < run_.loads; ++l) sum += load_factor(stage, l) * basis[support_twists_ + l];
  return sum / state_.torsion_factor;
}

template <class Scalar>
Section<Scalar> Solver<Scalar>::at(int stage, Scalar x_m, Side side) const {
  const Scalar x = std::clamp(x_m, Scalar(0), run_.length_m);
  const Place here = place(x, side);
  Basis basis;
  basis_at(here, basis);

  Scalar elastic_z = 0, elastic_r = 0, free_z = 0, free_r = 0;
  Section<Scalar> section{};
  const auto add_bend = [&](int column, Scalar factor, bool warm) {
    (warm ? free_z : elastic_z) += factor * basis.height[column];
    (warm ? free_r : elastic_r) += factor * basis.rotation[column];
    section.moment_Nm += factor * basis.moment[column];
    section.shear_N += factor * basis.shear[column];
  };
  for (int c = 0; c < support_bends_; ++c) add_bend(c, force(stage, c)[0], false);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0)
      add_bend(support_bends_ + l, factor, warmth_[l]);
  for (int b = 0; b < run_.bows; ++b) {
    free_z += state_.bow_m[b] * bow_height(x, b);
    free_r += state_.bow_m[b] * bow_slope(x, b);
  }
  const Scalar slope_at_clamp = clamp_slope(stage)[0];
  section.height_m = clamp_height(stage)[0] + slope_at_clamp * x + elastic_z / state_.bending_factor + free_z;
  section.rotation_rad = slope_at_clamp + elastic_r / state_.bending_factor + free_r;

  Scalar elastic_roll_here = 0, elastic_warp = 0;
  const auto add_twist = [&](int column, Scalar factor) {
    elastic_roll_here += factor * basis.roll[column];
    elastic_warp += factor * basis.warp[column];
    section.torque_Nm += factor * basis.torque[column];
    section.bimoment_Nm2 += factor * basis.bimoment[column];
  };
  for (int c = 0; c < support_twists_; ++c) add_twist(c, torque(stage, c)[0]);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0) add_twist(support_twists_ + l, factor);
  section.roll_rad = clamp_roll(stage)[0] + elastic_roll_here / state_.torsion_factor;

  // Slope: at a node the mean of both sides; at the ends the run's own side.
  const int nearest = node_at(x);
  const bool on_node = std::abs(node_m_[nearest] - x) <= same_place(run_.length_m);
  Scalar shear_strain = section.shear_N * flex(here.interval).shear;
  if (on_node && nearest > 0 && nearest < nodes_ - 1) {
    const Interval before = interval_of(stage, nearest - 1), after = interval_of(stage, nearest);
    const Scalar left_shear =
        before.shear - before.length * (before.load_begin + before.load_slope * before.length / 2);
    shear_strain =
        (left_shear * before.shear_flex + after.shear * after.shear_flex) * state_.bending_factor / 2;
  }
  section.slope_rad = section.rotation_rad - shear_strain / state_.bending_factor;
  if (const Scalar centre = run_.shear_centre_m; centre != 0) {
    Scalar warp = elastic_warp / state_.torsion_factor;
    section.height_m -= centre * section.roll_rad;
    if (on_node && nearest > 0 && nearest < nodes_ - 1) {
      basis_at(place(x, side == Side::left ? Side::right : Side::left), basis);
      warp = (warp + elastic_twist(stage, basis.warp)) / 2;
    }
    section.slope_rad -= centre * warp;
  }

  // Beyond the ends there is nothing: the outer side of an end carries no force.
  const bool outside =
      on_node && ((nearest == 0 && side == Side::left) || (nearest == nodes_ - 1 && side == Side::right));
  if (outside) section.moment_Nm = section.shear_N = section.torque_Nm = section.bimoment_Nm2 = 0;
  return section;
}

// Flexibilities in here include the state's bending factor.
template <class Scalar>
auto Solver<Scalar>::interval_of(int stage, int interval) const -> Interval {
  const Scalar *const heights = bend(interval, kHeight), *const rotations = bend(interval, kRotation),
                      *const moments = bend(interval, kMoment), *const shears = bend(interval, kShear);
  Interval sum{};
  sum.from = node_m_[interval];
  sum.length = node_m_[interval + 1] - sum.from;
  sum.bend_flex = flex(interval).bend / state_.bending_factor;
  sum.shear_flex = flex(interval).shear / state_.bending_factor;
  Scalar elastic_z = 0, elastic_r = 0;
  const auto add = [&](int column, Scalar factor, bool warm) {
    const Scalar z = factor * heights[column], r = factor * rotations[column];
    (warm ? sum.height : elastic_z) += z;
    (warm ? sum.rotation : elastic_r) += r;
    sum.moment += factor * moments[column];
    sum.shear += factor * shears[column];
  };
  for (int c = 0; c < support_bends_; ++c) add(c, force(stage, c)[0], false);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0) add(support_bends_ + l, factor, warmth_[l]);
  sum.height += elastic_z / state_.bending_factor + clamp_height(stage)[0] + clamp_slope(stage)[0] * sum.from;
  sum.rotation += elastic_r / state_.bending_factor + clamp_slope(stage)[0];
  for (std::size_t i = 0; i < run_.load_parts.size(); ++i) {
    if (interval < part_first_[i] || interval >= part_last_[i]) continue;
    const LoadPart<Scalar>& part = run_.load_parts[i];
    const Scalar factor = load_factor(stage, part.load);
    if (part.kind == LoadKind::warmth) {
      sum.curvature += factor * part.begin;
      continue;
    }
    const Scalar from = node_m_[part_first_[i]], over = node_m_[part_last_[i]] - from;
    const Scalar dq = (part.end - part.begin) / over;
    sum.load_begin += factor * (part.begin + dq * (sum.from - from));
    sum.load_slope += factor * dq;
  }
  return sum;
}

template <class Scalar>
Scalar Solver<Scalar>::height(int stage, Scalar x_m, Scalar across_m) const {
  const Section<Scalar> here = at(stage, x_m);
  return here.height_m + here.roll_rad * across_m;
}

template <class Scalar>
SupportAction<Scalar> Solver<Scalar>::support(int stage, int support) const {
  SupportAction<Scalar> action;
  action.engaged = ((engaged_[stage] >> support) & 1u) != 0;
  if (!action.engaged) return action;
  if (const int c = column_[support].rise; c >= 0) action.force_N = force(stage, c)[0];
  if (const int c = column_[support].pitch; c >= 0) action.moment_Nm = force(stage, c)[0];
  if (const int c = column_[support].roll; c >= 0) action.torque_Nm = torque(stage, c)[0];
  return action;
}

template <class Scalar>
void Solver<Scalar>::node_heights(int stage, std::span<Scalar> out) const {
  const Scalar height_at_clamp = clamp_height(stage)[0], slope_at_clamp = clamp_slope(stage)[0];
  Scalar factor[kMaxBend];
  for (int c = 0; c < support_bends_; ++c) factor[c] = force(stage, c)[0] / state_.bending_factor;
  for (int l = 0; l < run_.loads; ++l)
    factor[support_bends_ + l] = load_factor(stage, l) / (warmth_[l] ? Scalar(1) : state_.bending_factor);
  for (int node = 0; node < nodes_; ++node) {
    const Scalar* const basis = bend(node, kHeight);
    Scalar sum = height_at_clamp + slope_at_clamp * node_m_[node];
    for (int c = 0; c < bend_columns_; ++c) sum += factor[c] * basis[c];
    for (int b = 0; b < run_.bows; ++b) sum += state_.bow_m[b] * bow_height(node_m_[node], b);
    if (run_.shear_centre_m != 0)
      sum -= run_.shear_centre_m * (clamp_roll(stage)[0] + elastic_twist(stage, twist(node, kRoll)));
    out[std::size_t(node)] = sum;
  }
}

template <class Scalar>
std::span<const Scalar> Solver<Scalar>::nodes_m() const {
  return {node_m_, std::size_t(nodes_)};
}
template <class Scalar>
bool Solver<Scalar>::jumps(int node) const {
  return jump_[node] != 0;
}

// Derivatives of a bending quantity whose released-structure values are `bend_basis`, and whose share of the
// clamp's height and slope is given. whole_shape: bow enters as height at x; otherwise as slope.
template <class Scalar>
void Solver<Scalar>::combine(int stage, const Scalar* bend_basis, Scalar rigid_height, Scalar rigid_rotation,
                             bool whole_shape, Scalar x_m, std::span<Scalar> out) const {
  const Scalar stiffness = state_.bending_factor;
  for (int p = 0; p < parameters_; ++p) {
    Scalar sum = 0;
    for (int c = 0; c < support_bends_; ++c) sum += force(stage, c)[1 + p] * bend_basis[c];
    sum = sum / stiffness + rigid_height * clamp_height(stage)[1 + p] +
          rigid_rotation * clamp_slope(stage)[1 + p];
    const Parameter parameter = parameter_[p];
    switch (parameter.kind) {
      case ParameterKind::load: {
        const int l = parameter.index;
        if (!run_.stages[std::size_t(stage)].lists_load(l)) break;
        const Scalar share = share_ == nullptr ? Scalar(1) : share_[l];
        sum += share * bend_basis[support_bends_ + l] / (warmth_[l] ? Scalar(1) : stiffness);
        break;
      }
      case ParameterKind::bending:
        sum -= elastic_bend(stage, bend_basis) / stiffness;
        break;
      case ParameterKind::bow:
        sum += whole_shape ? bow_height(x_m, parameter.index) : bow_slope(x_m, parameter.index);
        break;
      default:
        break;
    }
    out[std::size_t(p)] = sum;
  }
}

template <class Scalar>
void Solver<Scalar>::combine_roll(int stage, const Scalar* roll_basis, Scalar rigid_roll,
                                  std::span<Scalar> out) const {
  const Scalar stiffness = state_.torsion_factor;
  for (int p = 0; p < parameters_; ++p) {
    Scalar sum = 0;
    for (int c = 0; c < support_twists_; ++c) sum += torque(stage, c)[1 + p] * roll_basis[c];
    sum = sum / stiffness + rigid_roll * clamp_roll(stage)[1 + p];
    const Parameter parameter = parameter_[p];
    if (parameter.kind == ParameterKind::load) {
      const int l = parameter.index;
      const Scalar share = share_ == nullptr ? Scalar(1) : share_[l];
      if (run_.stages[std::size_t(stage)].lists_load(l))
        sum += share * roll_basis[support_twists_ + l] / stiffness;
    } else if (parameter.kind == ParameterKind::torsion) {
      sum -= elastic_twist(stage, roll_basis) / stiffness;
    }
    out[std::size_t(p)] = sum;
  }
}

template <class Scalar>
void Solver<Scalar>::height_derivatives(int stage, Scalar x_m, Scalar across_m, std::span<Scalar> out) const {
  const Scalar x = std::clamp(x_m, Scalar(0), run_.length_m);
  Basis basis;
  basis_at(place(x, Side::right), basis);
  combine(stage, basis.height, 1, x, true, x, out);
  const Scalar lever = across_m - run_.shear_centre_m;
  if (lever == 0) return;
  Scalar roll[kMaxParameters];
  combine_roll(stage, basis.roll, 1, {roll, std::size_t(parameters_)});
  for (int p = 0; p < parameters_; ++p) out[std::size_t(p)] += lever * roll[p];
}

template <class Scalar>
void Solver<Scalar>::slope_derivatives(int stage, Scalar x_m, std::span<Scalar> out) const {
  const Scalar x = std::clamp(x_m, Scalar(0), run_.length_m);
  const int nearest = node_at(x);
  const bool inner_node =
      std::abs(node_m_[nearest] - x) <= same_place(run_.length_m) && nearest > 0 && nearest < nodes_ - 1;
  Basis basis;
  const Place right = place(x, Side::right);
  basis_at(right, basis);
  Scalar slope[kMaxBend], warp[kMaxTwist];
  const Scalar weight = inner_node ? Scalar(0.5) : Scalar(1);
  for (int c = 0; c < bend_columns_; ++c)
    slope[c] = basis.rotation[c] - weight * flex(right.interval).shear * basis.shear[c];
  for (int c = 0; c < twist_columns_; ++c) warp[c] = weight * basis.warp[c];
  if (inner_node) {
    const Place left = place(x, Side::left);
    basis_at(left, basis);
    for (int c = 0; c < bend_columns_; ++c) slope[c] -= weight * flex(left.interval).shear * basis.shear[c];
    for (int c = 0; c < twist_columns_; ++c) warp[c] += weight * basis.warp[c];
  }
  combine(stage, slope, 0, 1, false, x, out);
  if (run_.shear_centre_m == 0) return;
  Scalar by_warp[kMaxParameters];
  combine_roll(stage, warp, 0, {by_warp, std::size_t(parameters_)});
  for (int p = 0; p < parameters_; ++p) out[std::size_t(p)] -= run_.shear_centre_m * by_warp[p];
}

template <class Scalar>
void Solver<Scalar>::roll_derivatives(int stage, Scalar x_m, std::span<Scalar> out) const {
  Basis basis;
  basis_at(place(x_m, Side::right), basis);
  combine_roll(stage, basis.roll, 1, out);
}

template <class Scalar>
void Solver<Scalar>::force_derivatives(int stage, int support, std::span<Scalar> out) const {
  const int c = column_[support].rise;
  const bool engaged = ((engaged_[stage] >> support) & 1u) != 0;
  for (int p = 0; p < parameters_; ++p)
    out[std::size_t(p)] = c >= 0 && engaged ? force(stage, c)[1 + p] : Scalar(0);
}

template <class Scalar>
auto Solver<Scalar>::lowest(int stage) const -> Lowest {
  Lowest best{std::numeric_limits<Scalar>::infinity(), 0};
  for (int i = 0; i + 1 < nodes_; ++i) {
    const Interval piece = interval_of(stage, i);
    const bool aside = run_.shear_centre_m != 0;  // the reference line turns about the shear centre
    const auto height = [&](Scalar s) {
      if (aside) return at(stage, piece.from + s).height_m;
      Scalar z =
          piece.height +
          s * (piece.rotation + s * piece.curvature / 2 +
               piece.bend_flex * s *
                   (piece.moment / 2 +
                    s * (piece.shear / 6 - s * (piece.load_begin / 24 + s * piece.load_slope / 120)))) -
          piece.shear_flex * s * (piece.shear - s * (piece.load_begin / 2 + s * piece.load_slope / 6));
      for (int b = 0; b < run_.bows; ++b) z += state_.bow_m[b] * bow_height(piece.from + s, b);
      return z;
    };
    const auto slope = [&](Scalar s) {
      if (aside) return at(stage, piece.from + s).slope_rad;
      Scalar r = piece.rotation + s * piece.curvature +
                 piece.bend_flex * s *
                     (piece.moment +
                      s * (piece.shear / 2 - s * (piece.load_begin / 6 + s * piece.load_slope / 24))) -
                 piece.shear_flex * (piece.shear - s * (piece.load_begin + s * piece.load_slope / 2));
      for (int b = 0; b < run_.bows; ++b) r += state_.bow_m[b] * bow_slope(piece.from + s, b);
      return r;
    };
    const auto consider = [&](Scalar s) {
      if (const Scalar z = height(s); z < best.height_m) best = {z, piece.from + s};
    };
    consider(0);
    consider(piece.length);
    // A low point lies where the slope turns from falling to climbing: at most two a quintic; eighths part
    // them.
    constexpr int kParts = 8;
    Scalar left = 0, slope_left = slope(left);
    for (int part = 1; part <= kParts; ++part) {
      const Scalar right = piece.length * Scalar(part) / Scalar(kParts), slope_right = slope(right);
      if (slope_left < 0 && slope_right >= 0) {
        Scalar low = left, high = right;
        for (int step = 0; step < 60 && high - low > 0; ++step) {
          const Scalar middle = low + (high - low) / 2;
          (slope(middle) < 0 ? low : high) = middle;
        }
        consider(low + (high - low) / 2);
      }
      left = right;
      slope_left = slope_right;
    }
  }
  return best;
}

#define HANGTRUE_INSTANTIATE(S)                                                       \
  template Section<S> Solver<S>::at(int, S, Side) const;                              \
  template S Solver<S>::height(int, S, S) const;                                      \
  template SupportAction<S> Solver<S>::support(int, int) const;                       \
  template void Solver<S>::node_heights(int, std::span<S>) const;                     \
  template std::span<const S> Solver<S>::nodes_m() const;                             \
  template bool Solver<S>::jumps(int) const;                                          \
  template void Solver<S>::height_derivatives(int, S, S, std::span<S>) const;         \
  template void Solver<S>::slope_derivatives(int, S, std::span<S>) const;             \
  template void Solver<S>::roll_derivatives(int, S, std::span<S>) const;              \
  template void Solver<S>::force_derivatives(int, int, std::span<S>) const;           \
  template auto Solver<S>::lowest(int) const->Lowest;                                 \
  template S Solver<S>::bow_height(S, int) const;                                     \
  template S Solver<S>::bow_slope(S, int) const;                                      \
  template S Solver<S>::load_factor(int, int) const;                                  \
  template S Solver<S>::elastic_bend(int, const S*) const;                            \
  template S Solver<S>::elastic_twist(int, const S*) const;                           \
  template void Solver<S>::combine(int, const S*, S, S, bool, S, std::span<S>) const; \
  template void Solver<S>::combine_roll(int, const S*, S, std::span<S>) const;

HANGTRUE_INSTANTIATE(double)
HANGTRUE_INSTANTIATE(float)
#undef HANGTRUE_INSTANTIATE

}  // namespace hangtrue::beam
