#include "core/beam/solver.hpp"

#include <algorithm>
#include <cmath>

#include "core/beam/small_lu.hpp"
#include "core/quantity/units.hpp"

namespace hangtrue::beam {

namespace {

enum Motion { kRise, kPitch, kRoll };

template <class Scalar>
const Restraint<Scalar>& restraint(const Support<Scalar>& support, int motion) {
  return motion == kRise ? support.rise : motion == kPitch ? support.pitch : support.roll;
}
template <class Scalar>
bool one_way(const Support<Scalar>& support) {
  return support.holds != Holds::both;
}

// Two places are one when rounding alone tells them apart.
template <class Scalar>
Scalar same_place(Scalar length_m) {
  return Scalar(32) * std::numeric_limits<Scalar>::epsilon() * length_m;
}

// The factor by which log_spring changes a compliance.
template <class Scalar>
Scalar compliance_now(const Restraint<Scalar>& restraint, Scalar log_spring) {
  return restraint.compliance * std::exp(-log_spring);
}

// Right sides and unknowns of the small systems: at most two and two a support.
constexpr int kMaxSystem = 2 + 2 * kMaxSupports;
}  // namespace

// ---- the released structure ----

template <class Scalar>
std::size_t Solver<Scalar>::storage_needed(const Run<Scalar>& run, int columns) {
  const std::size_t nodes = run.pieces.size() + 2 * run.load_parts.size() + run.supports.size() + 2;
  const std::size_t supports = run.supports.size();
  const auto loads = std::size_t(std::max(run.loads, 0));
  const std::size_t bend = 2 * supports + loads, twist = supports + loads;
  const auto values = std::size_t(1 + std::max(columns, 0));
  return nodes * (2 + 3 + 4 * bend + 2 * twist) +
         run.stages.size() * ((3 + 3 * supports) * values + 3 * supports) + 3 * supports * values;
}

template <class Scalar>
auto Solver<Scalar>::create(const Run<Scalar>& run, int columns, std::span<Scalar> storage)
    -> Result<Solver, RunFault> {
  if (const auto usable = check(run, columns, storage); !usable) return usable.fault();
  return Solver(run, columns, storage.data());
}

template <class Scalar>
auto Solver<Scalar>::check(const Run<Scalar>& run, int columns, std::span<const Scalar> storage)
    -> Result<Done, RunFault> {
  using Code = RunFaultCode;
  const Scalar length = run.length_m;
  const Scalar slack = same_place(length);
  if (run.supports.size() > kMaxSupports || run.stages.size() > kMaxStages || run.loads > kMaxLoads ||
      run.loads < 0 || run.load_parts.size() > kMaxLoadParts || run.bows > kMaxBows || run.bows < 0 ||
      columns > kMaxParameters || columns < 0)
    return RunFault{Code::too_many};
  if (run.stages.empty()) return RunFault{Code::no_stage};

  Scalar reached = 0;
  for (std::size_t i = 0; i < run.pieces.size(); ++i) {
    const Piece<Scalar>& piece = run.pieces[i];
    if (!(piece.to_m > reached) || !(piece.to_m <= length + slack))
      return RunFault{Code::pieces_do_not_cover, int(i)};
    if (!(piece.bending_N_m2 > 0) || !(piece.torsion_N_m2 > 0) || !(piece.shear_N > 0) ||
        !std::isfinite(piece.bending_N_m2) || !std::isfinite(piece.torsion_N_m2))
      return RunFault{Code::stiffness_not_positive, int(i)};
    reached = piece.to_m;
  }
  if (!(length > 0) || !std::isfinite(length) || std::abs(reached - length) > slack)
    return RunFault{Code::pieces_do_not_cover, int(run.pieces.size())};

  bool seen[kMaxLoads] = {}, warmth[kMaxLoads] = {};
  for (std::size_t i = 0; i < run.load_parts.size(); ++i) {
    const LoadPart<Scalar>& part = run.load_parts[i];
    const bool stretch = part.kind == LoadKind::spread || part.kind == LoadKind::warmth;
    if (!std::isfinite(part.begin) || !std::isfinite(part.end) || !std::isfinite(part.across_m))
      return RunFault{Code::load_not_finite, int(i)};
    if (part.load < 0 || part.load >= run.loads || !(part.from_m >= -slack) ||
        !(part.from_m <= length + slack) ||
        (stretch && (!(part.to_m > part.from_m) || !(part.to_m <= length + slack))))
      return RunFault{Code::load_off_run, int(i)};
    const bool warm = part.kind == LoadKind::warmth;
    if (seen[part.load] && warmth[part.load] != warm) return RunFault{Code::load_kinds_mixed, part.load};
    seen[part.load] = true;
    warmth[part.load] = warm;
  }
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const Support<Scalar>& support = run.supports[i];
    if (!(support.at_m >= -slack) || !(support.at_m <= length + slack))
      return RunFault{Code::support_off_run, int(i)};
    for (int motion = 0; motion < 3; ++motion) {
      const Restraint<Scalar>& held = restraint(support, motion);
      if (held.held && (!(held.compliance >= 0) || !std::isfinite(held.compliance)))
        return RunFault{Code::compliance_negative, int(i)};
    }
  }
  if (storage.size() < storage_needed(run, columns)) return RunFault{Code::storage_too_small};

  return Done{};
}

template <class Scalar>
Solver<Scalar>::Solver(const Run<Scalar>& run, int columns, Scalar* storage)
    : run_(run), max_parameters_(columns) {
  for (const LoadPart<Scalar>& part : run.load_parts) warmth_[part.load] = part.kind == LoadKind::warmth;
  // Columns: held motions of supports, then loads.
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const Support<Scalar>& support = run.supports[i];
    rise_column_[i] = support.rise.held ? support_bends_++ : -1;
    pitch_column_[i] = support.pitch.held ? support_bends_++ : -1;
    roll_column_[i] = support.roll.held ? support_twists_++ : -1;
  }
  bend_columns_ = support_bends_ + run.loads;
  twist_columns_ = support_twists_ + run.loads;
  twist_row_ = 2 + support_bends_;
  unknowns_ = twist_row_ + 1 + support_twists_;

  Scalar* next = storage;
  const auto take = [&next](std::size_t count) {
    Scalar* const begin = next;
    next += count;
    return begin;
  };
  const std::size_t most_nodes = run.pieces.size() + 2 * run.load_parts.size() + run.supports.size() + 2;
  node_m_ = take(most_nodes);
  jump_ = take(most_nodes);
  find_nodes();
  const auto nodes = std::size_t(nodes_);
  const auto values = std::size_t(1 + columns);
  flex_ = take(3 * nodes);
  bend_ = take(4 * nodes * std::size_t(bend_columns_));
  twist_ = take(2 * nodes * std::size_t(twist_columns_));
  solution_ = take(run.stages.size() * std::size_t(unknowns_) * values);
  zero_ = take(3 * run.supports.size() * values);
  stage_zeros_ = take(3 * run.stages.size() * run.supports.size());
  integrate();
}

template <class Scalar>
void Solver<Scalar>::find_nodes() {
  int count = 0;
  const auto add = [&](Scalar x) { node_m_[count++] = std::clamp(x, Scalar(0), run_.length_m); };
  add(0);
  for (const Piece<Scalar>& piece : run_.pieces) add(piece.to_m);
  const int of_pieces = count;  // in order already
  for (const LoadPart<Scalar>& part : run_.load_parts) {
    add(part.from_m);
    if (part.kind == LoadKind::spread || part.kind == LoadKind::warmth) add(part.to_m);
  }
  for (const Support<Scalar>& support : run_.supports) add(support.at_m);
  // The few others into the long sorted row: insertion from the back, no heap.
  for (int i = of_pieces; i < count; ++i) {
    const Scalar x = node_m_[i];
    Scalar* const place = std::upper_bound(node_m_, node_m_ + i, x);
    std::move_backward(place, node_m_ + i, node_m_ + i + 1);
    *place = x;
  }
  const Scalar slack = same_place(run_.length_m);
  nodes_ = 1;
  for (int i = 1; i < count; ++i)
    if (node_m_[i] - node_m_[nodes_ - 1] > slack) node_m_[nodes_++] = node_m_[i];
  node_m_[nodes_ - 1] = run_.length_m;

  for (std::size_t i = 0; i < run_.supports.size(); ++i) support_node_[i] = node_at(run_.supports[i].at_m);
  for (std::size_t i = 0; i < run_.load_parts.size(); ++i) {
    const LoadPart<Scalar>& part = run_.load_parts[i];
    const bool stretch = part.kind == LoadKind::spread || part.kind == LoadKind::warmth;
    part_first_[i] = node_at(part.from_m);
    part_last_[i] = stretch ? node_at(part.to_m) : part_first_[i];
  }
}

// The node nearest to x.
template <class Scalar>
int Solver<Scalar>::node_at(Scalar x_m) const {
  const Scalar* const after = std::lower_bound(node_m_, node_m_ + nodes_, x_m);
  const int i = int(after - node_m_);
  if (i == 0) return 0;
  if (i == nodes_) return nodes_ - 1;
  return node_m_[i] - x_m < x_m - node_m_[i - 1] ? i : i - 1;
}

// Integrates every column from the clamp at x = 0 to the free end, exactly: within an interval
//   V = V0 - q s - dq s^2/2,  M = M0 + V0 s - q s^2/2 - dq s^3/6,  rotation' = M/EI + curvature,
//   height' = rotation - V/GA,     torque' = q across,   roll' = torque/GJ        (dq: slope of the load).
template <class Scalar>
void Solver<Scalar>::integrate() {
  const int bends = bend_columns_, twists = twist_columns_;
  const auto bend = [&](int node, int row) {
    return bend_ + (std::size_t(node) * 4u + std::size_t(row)) * std::size_t(bends);
  };
  const auto twist = [&](int node, int row) {
    return twist_ + (std::size_t(node) * 2u + std::size_t(row)) * std::size_t(twists);
  };
  std::fill(bend_, bend_ + 4u * std::size_t(nodes_) * std::size_t(bends), Scalar(0));
  std::fill(twist_, twist_ + 2u * std::size_t(nodes_) * std::size_t(twists), Scalar(0));
  std::fill(jump_, jump_ + nodes_, Scalar(0));

  // What jumps at a node, entered right of it before the march.
  for (std::size_t i = 0; i < run_.supports.size(); ++i) {
    const int node = support_node_[i];
    if (rise_column_[i] >= 0) bend(node, 3)[rise_column_[i]] = 1;
    if (pitch_column_[i] >= 0) bend(node, 2)[pitch_column_[i]] = -1;
    if (roll_column_[i] >= 0) twist(node, 1)[roll_column_[i]] = -1;
    if (rise_column_[i] >= 0 || pitch_column_[i] >= 0 || roll_column_[i] >= 0) jump_[node] = 1;
  }
  for (std::size_t i = 0; i < run_.load_parts.size(); ++i) {
    const LoadPart<Scalar>& part = run_.load_parts[i];
    const int node = part_first_[i];
    if (part.kind == LoadKind::point) {
      bend(node, 3)[support_bends_ + part.load] -= part.begin;
      twist(node, 1)[support_twists_ + part.load] += part.begin * part.across_m;
      jump_[node] = 1;
    } else if (part.kind == LoadKind::couple) {
      bend(node, 2)[support_bends_ + part.load] -= part.begin;
      jump_[node] = 1;
    }
  }

  std::size_t piece = 0;
  Scalar stiffest = 0, stiffest_in_torsion = 0;
  for (const Piece<Scalar>& each : run_.pieces) {
    stiffest = std::max(stiffest, each.bending_N_m2);
    stiffest_in_torsion = std::max(stiffest_in_torsion, each.torsion_N_m2);
  }
  force_unit_ = stiffest / (run_.length_m * run_.length_m);
  torque_unit_ = stiffest_in_torsion / run_.length_m;

  const Scalar slack = same_place(run_.length_m);
  for (int node = 0; node + 1 < nodes_; ++node) {
    while (piece + 1 < run_.pieces.size() && run_.pieces[piece].to_m <= node_m_[node] + slack) {
      ++piece;
      jump_[node] = 1;
    }
    const Piece<Scalar>& section = run_.pieces[piece];
    Scalar* const flex = flex_ + 3 * node;
    flex[0] = 1 / section.bending_N_m2;
    flex[1] = 1 / section.shear_N;
    flex[2] = 1 / section.torsion_N_m2;

    const Scalar h = node_m_[node + 1] - node_m_[node];
    const Scalar bend_h = flex[0] * h, shear_h = flex[1] * h, twist_h = flex[2] * h;
    const Scalar *const z0 = bend(node, 0), *const r0 = bend(node, 1), *const m0 = bend(node, 2),
                        *const v0 = bend(node, 3);
    Scalar *const z1 = bend(node + 1, 0), *const r1 = bend(node + 1, 1), *const m1 = bend(node + 1, 2),
                  *const v1 = bend(node + 1, 3);
    for (int c = 0; c < bends; ++c) {
      z1[c] = z0[c] + h * (r0[c] + bend_h * (m0[c] / 2 + v0[c] * h / 6)) - shear_h * v0[c];
      r1[c] = r0[c] + bend_h * (m0[c] + v0[c] * h / 2);
      m1[c] += m0[c] + v0[c] * h;
      v1[c] += v0[c];
    }
    const Scalar *const p0 = twist(node, 0), *const t0 = twist(node, 1);
    Scalar *const p1 = twist(node + 1, 0), *const t1 = twist(node + 1, 1);
    for (int c = 0; c < twists; ++c) {
      p1[c] = p0[c] + twist_h * t0[c];
      t1[c] += t0[c];
    }

    for (int i = 0; i < int(run_.load_parts.size()); ++i) {
      if (node < part_first_[i] || node >= part_last_[i]) continue;
      const LoadTerms load = load_terms(i, {node, h});
      z1[load.bend_column] += load.height;
      r1[load.bend_column] += load.rotation;
      m1[load.bend_column] += load.moment;
      v1[load.bend_column] += load.shear;
      p1[load.twist_column] += load.roll;
      t1[load.twist_column] += load.torque;
    }
  }
}

// What a load part that covers the interval adds between its node and `place`, by the polynomials above.
template <class Scalar>
inline auto Solver<Scalar>::load_terms(int index, Place place) const -> LoadTerms {
  const LoadPart<Scalar>& part = run_.load_parts[std::size_t(index)];
  const Scalar s = place.along;
  LoadTerms load{support_bends_ + part.load, support_twists_ + part.load, 0, 0, 0, 0, 0, 0};
  if (part.kind == LoadKind::warmth) {
    load.rotation = part.begin * s;
    load.height = part.begin * s * s / 2;
    return load;
  }
  const Scalar* const flex = flex_ + 3 * place.interval;
  const Scalar from = node_m_[part_first_[index]], over = node_m_[part_last_[index]] - from;
  const Scalar dq = (part.end - part.begin) / over;
  const Scalar q = part.begin + dq * (node_m_[place.interval] - from);
  const Scalar first = s * (q + dq * s / 2),
               second = s * s * (q / 2 + dq * s / 6);  // of q, once and twice integrated
  load.shear = -first;
  load.moment = -second;
  load.rotation = -flex[0] * s * s * s * (q / 6 + dq * s / 24);
  load.height = -flex[0] * s * s * s * s * (q / 24 + dq * s / 120) + flex[1] * second;
  load.torque = part.across_m * first;
  load.roll = flex[2] * part.across_m * second;
  return load;
}

// ---- evaluation ----

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
  const Scalar* const node = bend_node(place.interval);
  const Scalar* const flex = flex_ + 3 * place.interval;
  const Scalar s = place.along;
  const Scalar bend_s = flex[0] * s, shear_s = flex[1] * s, twist_s = flex[2] * s;
  for (int c = 0; c < bends; ++c) {
    const Scalar z = node[c], r = node[bends + c], m = node[2 * bends + c], v = node[3 * bends + c];
    basis.height[c] = z + s * (r + bend_s * (m / 2 + v * s / 6)) - shear_s * v;
    basis.rotation[c] = r + bend_s * (m + v * s / 2);
    basis.moment[c] = m + v * s;
    basis.shear[c] = v;
  }
  const Scalar* const turn = twist_node(place.interval);
  for (int c = 0; c < twists; ++c) {
    basis.roll[c] = turn[c] + twist_s * turn[twists + c];
    basis.torque[c] = turn[twists + c];
  }
  for (int i = 0; i < int(run_.load_parts.size()); ++i) {
    if (place.interval < part_first_[i] || place.interval >= part_last_[i]) continue;
    const LoadTerms load = load_terms(i, place);
    basis.height[load.bend_column] += load.height;
    basis.rotation[load.bend_column] += load.rotation;
    basis.moment[load.bend_column] += load.moment;
    basis.shear[load.bend_column] += load.shear;
    basis.roll[load.twist_column] += load.roll;
    basis.torque[load.twist_column] += load.torque;
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
  for (int c = 0; c < support_bends_; ++c) sum += solution(stage, 2 + c)[0] * basis[c];
  for (int l = 0; l < run_.loads; ++l)
    if (!warmth_[l]) sum += load_factor(stage, l) * basis[support_bends_ + l];
  return sum / state_.bending_factor;
}
// Likewise of a roll.
template <class Scalar>
Scalar Solver<Scalar>::elastic_twist(int stage, const Scalar* basis) const {
  Scalar sum = 0;
  for (int c = 0; c < support_twists_; ++c) sum += solution(stage, twist_row_ + 1 + c)[0] * basis[c];
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
  for (int c = 0; c < support_bends_; ++c) add_bend(c, solution(stage, 2 + c)[0], false);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0)
      add_bend(support_bends_ + l, factor, warmth_[l]);
  for (int b = 0; b < run_.bows; ++b) {
    free_z += state_.bow_m[b] * bow_height(x, b);
    free_r += state_.bow_m[b] * bow_slope(x, b);
  }
  const Scalar clamp_height = solution(stage, 0)[0], clamp_slope = solution(stage, 1)[0];
  section.height_m = clamp_height + clamp_slope * x + elastic_z / state_.bending_factor + free_z;
  section.rotation_rad = clamp_slope + elastic_r / state_.bending_factor + free_r;

  Scalar elastic_roll_here = 0;
  const auto add_twist = [&](int column, Scalar factor) {
    elastic_roll_here += factor * basis.roll[column];
    section.torque_Nm += factor * basis.torque[column];
  };
  for (int c = 0; c < support_twists_; ++c) add_twist(c, solution(stage, twist_row_ + 1 + c)[0]);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0) add_twist(support_twists_ + l, factor);
  section.roll_rad = solution(stage, twist_row_)[0] + elastic_roll_here / state_.torsion_factor;

  // Slope: at a node the mean of both sides; at the ends the run's own side.
  const int nearest = node_at(x);
  const bool on_node = std::abs(node_m_[nearest] - x) <= same_place(run_.length_m);
  Scalar shear_strain = section.shear_N * flex_[3 * here.interval + 1];
  if (on_node && nearest > 0 && nearest < nodes_ - 1) {
    const Interval before = interval_of(stage, nearest - 1), after = interval_of(stage, nearest);
    const Scalar left_shear =
        before.shear - before.length * (before.load_begin + before.load_slope * before.length / 2);
    shear_strain =
        (left_shear * before.shear_flex + after.shear * after.shear_flex) * state_.bending_factor / 2;
  }
  section.slope_rad = section.rotation_rad - shear_strain / state_.bending_factor;

  // Beyond the ends there is nothing: the outer side of an end carries no force.
  const bool outside =
      on_node && ((nearest == 0 && side == Side::left) || (nearest == nodes_ - 1 && side == Side::right));
  if (outside) section.moment_Nm = section.shear_N = section.torque_Nm = 0;
  return section;
}

// Flexibilities in here include the state's bending factor.
template <class Scalar>
auto Solver<Scalar>::interval_of(int stage, int interval) const -> Interval {
  const int bends = bend_columns_;
  const Scalar* const node = bend_node(interval);
  Interval sum{};
  sum.from = node_m_[interval];
  sum.length = node_m_[interval + 1] - sum.from;
  sum.bend_flex = flex_[3 * interval] / state_.bending_factor;
  sum.shear_flex = flex_[3 * interval + 1] / state_.bending_factor;
  Scalar elastic_z = 0, elastic_r = 0;
  const auto add = [&](int column, Scalar factor, bool warm) {
    const Scalar z = factor * node[column], r = factor * node[bends + column];
    (warm ? sum.height : elastic_z) += z;
    (warm ? sum.rotation : elastic_r) += r;
    sum.moment += factor * node[2 * bends + column];
    sum.shear += factor * node[3 * bends + column];
  };
  for (int c = 0; c < support_bends_; ++c) add(c, solution(stage, 2 + c)[0], false);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0) add(support_bends_ + l, factor, warmth_[l]);
  sum.height += elastic_z / state_.bending_factor + solution(stage, 0)[0] + solution(stage, 1)[0] * sum.from;
  sum.rotation += elastic_r / state_.bending_factor + solution(stage, 1)[0];
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
  if (const int c = rise_column_[support]; c >= 0) action.force_N = solution(stage, 2 + c)[0];
  if (const int c = pitch_column_[support]; c >= 0) action.moment_Nm = solution(stage, 2 + c)[0];
  if (const int c = roll_column_[support]; c >= 0) action.torque_Nm = solution(stage, twist_row_ + 1 + c)[0];
  return action;
}

template <class Scalar>
void Solver<Scalar>::node_heights(int stage, std::span<Scalar> out) const {
  const Scalar clamp_height = solution(stage, 0)[0], clamp_slope = solution(stage, 1)[0];
  Scalar factor[kMaxBend];
  for (int c = 0; c < support_bends_; ++c) factor[c] = solution(stage, 2 + c)[0] / state_.bending_factor;
  for (int l = 0; l < run_.loads; ++l)
    factor[support_bends_ + l] = load_factor(stage, l) / (warmth_[l] ? Scalar(1) : state_.bending_factor);
  for (int node = 0; node < nodes_; ++node) {
    const Scalar* const basis = bend_node(node);
    Scalar sum = clamp_height + clamp_slope * node_m_[node];
    for (int c = 0; c < bend_columns_; ++c) sum += factor[c] * basis[c];
    for (int b = 0; b < run_.bows; ++b) sum += state_.bow_m[b] * bow_height(node_m_[node], b);
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
    for (int c = 0; c < support_bends_; ++c) sum += solution(stage, 2 + c)[1 + p] * bend_basis[c];
    sum = sum / stiffness + rigid_height * solution(stage, 0)[1 + p] +
          rigid_rotation * solution(stage, 1)[1 + p];
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
void Solver<Scalar>::combine_roll(int stage, const Scalar* roll_basis, std::span<Scalar> out) const {
  const Scalar stiffness = state_.torsion_factor;
  for (int p = 0; p < parameters_; ++p) {
    Scalar sum = 0;
    for (int c = 0; c < support_twists_; ++c)
      sum += solution(stage, twist_row_ + 1 + c)[1 + p] * roll_basis[c];
    sum = sum / stiffness + solution(stage, twist_row_)[1 + p];
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
  if (across_m == 0) return;
  Scalar roll[kMaxParameters];
  combine_roll(stage, basis.roll, {roll, std::size_t(parameters_)});
  for (int p = 0; p < parameters_; ++p) out[std::size_t(p)] += across_m * roll[p];
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
  Scalar slope[kMaxBend];
  const Scalar weight = inner_node ? Scalar(0.5) : Scalar(1);
  for (int c = 0; c < bend_columns_; ++c)
    slope[c] = basis.rotation[c] - weight * flex_[3 * right.interval + 1] * basis.shear[c];
  if (inner_node) {
    const Place left = place(x, Side::left);
    basis_at(left, basis);
    for (int c = 0; c < bend_columns_; ++c)
      slope[c] -= weight * flex_[3 * left.interval + 1] * basis.shear[c];
  }
  combine(stage, slope, 0, 1, false, x, out);
}

template <class Scalar>
void Solver<Scalar>::roll_derivatives(int stage, Scalar x_m, std::span<Scalar> out) const {
  Basis basis;
  basis_at(place(x_m, Side::right), basis);
  combine_roll(stage, basis.roll, out);
}

template <class Scalar>
void Solver<Scalar>::force_derivatives(int stage, int support, std::span<Scalar> out) const {
  const int c = rise_column_[support];
  const bool engaged = ((engaged_[stage] >> support) & 1u) != 0;
  for (int p = 0; p < parameters_; ++p)
    out[std::size_t(p)] = c >= 0 && engaged ? solution(stage, 2 + c)[1 + p] : Scalar(0);
}

template <class Scalar>
auto Solver<Scalar>::lowest(int stage) const -> Lowest {
  Lowest best{std::numeric_limits<Scalar>::infinity(), 0};
  for (int i = 0; i + 1 < nodes_; ++i) {
    const Interval piece = interval_of(stage, i);
    const auto height = [&](Scalar s) {
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

// ---- stages ----

template <class Scalar>
auto Solver<Scalar>::check(const State<Scalar>& state) const -> Result<Done, StageFault> {
  bool usable = state.bending_factor > 0 && state.torsion_factor > 0 && std::isfinite(state.bending_factor) &&
                std::isfinite(state.torsion_factor);
  for (std::size_t i = 0; i < run_.supports.size(); ++i)
    for (int m = 0; m < 3; ++m)
      usable = usable && std::isfinite(state.offset[i][m]) && std::isfinite(state.log_spring[i][m]) &&
               std::isfinite(state.move[i][m]);
  for (int l = 0; l < run_.loads; ++l) usable = usable && std::isfinite(state.load_factor[l]);
  for (int b = 0; b < run_.bows; ++b) usable = usable && std::isfinite(state.bow_m[b]);
  if (!usable) return StageFault{StageFaultCode::state_not_usable};
  return Done{};
}

template <class Scalar>
auto Solver<Scalar>::solve(const State<Scalar>& state, std::span<const Parameter> parameters)
    -> Result<Done, StageFault> {
  if (parameters.size() > std::size_t(max_parameters_)) return StageFault{StageFaultCode::state_not_usable};
  if (auto usable = check(state); !usable) return usable.fault();
  state_ = state;
  share_ = nullptr;
  parameters_ = int(parameters.size());
  std::copy(parameters.begin(), parameters.end(), parameter_);
  for (int stage = 0; stage < int(run_.stages.size()); ++stage) {
    set_zeros(stage);
    if (auto settled = settle(stage); !settled) return settled.fault();
  }
  return Done{};
}

template <class Scalar>
auto Solver<Scalar>::solve_held(int stage, const State<Scalar>& state, std::span<const Scalar> load_share,
                                const Solver& zeros_from) -> Result<Done, StageFault> {
  if (load_share.size() != std::size_t(run_.loads))
    return StageFault{StageFaultCode::state_not_usable, stage};
  if (auto usable = check(state); !usable) return usable.fault();
  state_ = state;
  share_ = load_share.data();
  parameters_ = 0;
  const Scalar* const zeros = zeros_from.stage_zeros_ + 3u * std::size_t(stage) * run_.supports.size();
  for (int i = 0; i < int(run_.supports.size()); ++i)
    for (int m = 0; m < 3; ++m) zero(i, m)[0] = zeros[3 * i + m];
  engaged_[stage] = zeros_from.engaged_[stage];
  if (auto bent = solve_bending(stage, engaged_[stage], false); !bent) return bent.fault();
  return solve_twist(stage, engaged_[stage], false);
}

// Zero positions at the beginning of a stage, and their derivatives.
template <class Scalar>
void Solver<Scalar>::set_zeros(int stage) {
  const int values = 1 + parameters_;
  std::uint32_t before = 0, ever = 0;
  for (int s = 0; s < stage; ++s) {
    before = run_.stages[std::size_t(s)].supports;
    ever |= before;
  }
  if (stage == 0) before = 0;

  for (int i = 0; i < int(run_.supports.size()); ++i) {
    if (!run_.stages[std::size_t(stage)].lists_support(i)) continue;
    const Support<Scalar>& support = run_.supports[std::size_t(i)];
    const bool engages = ((before >> i) & 1u) == 0;
    const bool again = engages && ((ever >> i) & 1u) != 0;
    // A move acts at its stage, or when its support next engages after it.
    bool moves = state_.move_stage >= 0 && stage == state_.move_stage;
    if (state_.move_stage >= 0 && stage > state_.move_stage && engages) {
      moves = true;
      for (int s = state_.move_stage; s < stage; ++s)
        if (run_.stages[std::size_t(s)].lists_support(i)) moves = false;
    }

    for (int m = 0; m < 3; ++m) {
      if (!restraint(support, m).held) continue;
      Scalar* const position = zero(i, m);
      const bool home = restraint(support, m).pulled_home;
      const bool offset_acts = engages && (home || !again);
      if (engages) {
        std::fill(position, position + values, Scalar(0));
        if (!home && stage > 0) {
          const int node = support_node_[i];
          const Scalar x = node_m_[node];
          const std::span<Scalar> slopes{position + 1, std::size_t(parameters_)};
          const Scalar* const bend = bend_node(node);
          const Section<Scalar> here = at(stage - 1, x);
          if (m == kRise) {
            position[0] = here.height_m;
            combine(stage - 1, bend, 1, x, true, x, slopes);
          } else if (m == kPitch) {
            position[0] = here.rotation_rad;
            combine(stage - 1, bend + bend_columns_, 0, 1, false, x, slopes);
          } else {
            position[0] = here.roll_rad;
            combine_roll(stage - 1, twist_node(node), slopes);
          }
        }
      }
      if (offset_acts) position[0] += state_.offset[i][m];
      if (moves) position[0] += state_.move[i][m];
      for (int p = 0; p < parameters_; ++p) {
        const Parameter parameter = parameter_[p];
        if (parameter.index != i) continue;
        if (offset_acts && int(parameter.kind) == int(ParameterKind::offset_rise) + m) position[1 + p] += 1;
        if (moves && int(parameter.kind) == int(ParameterKind::move_rise) + m) position[1 + p] += 1;
      }
    }
  }
  for (int i = 0; i < int(run_.supports.size()); ++i)
    for (int m = 0; m < 3; ++m)
      stage_zeros_[3u * (std::size_t(stage) * run_.supports.size() + std::size_t(i)) + std::size_t(m)] =
          zero(i, m)[0];
}

// One-way supports: which of them bear. The first guess is all; then one change at a time, the worst first;
// should that go round in circles or fall through, every choice is tried.
template <class Scalar>
auto Solver<Scalar>::settle(int stage) -> Result<Done, StageFault> {
  const std::uint32_t listed = run_.stages[std::size_t(stage)].supports &
                               ((run_.supports.size() >= 32 ? 0u : (1u << run_.supports.size())) - 1u);
  std::uint32_t choice = 0;
  int choices = 0;
  for (int i = 0; i < int(run_.supports.size()); ++i)
    if (((listed >> i) & 1u) != 0 && one_way(run_.supports[std::size_t(i)])) {
      choice |= 1u << i;
      ++choices;
    }

  std::uint32_t engaged = listed;
  Result<Done, StageFault> outcome = solve_bending(stage, engaged, false);
  const StageFault first_fault =
      outcome.ok() ? StageFault{StageFaultCode::does_not_settle, stage} : outcome.fault();
  if (!outcome && choices == 0) return outcome.fault();
  StageFault last_fault = first_fault;
  bool settled = false;
  for (int turn = 0; outcome.ok() && turn < 4 * choices + 1; ++turn) {
    int changed = -1;
    if (!contradicts(stage, engaged, &changed)) {
      settled = true;
      break;
    }
    engaged ^= 1u << changed;
    outcome = solve_bending(stage, engaged, false);
    if (!outcome) last_fault = outcome.fault();
  }
  for (std::uint32_t pattern = 0; !settled && pattern < (1u << choices); ++pattern) {
    engaged = listed & ~choice;
    int bit = 0;
    for (int i = 0; i < int(run_.supports.size()); ++i)
      if (((choice >> i) & 1u) != 0 && ((pattern >> bit++) & 1u) == 0) engaged |= 1u << i;
    if (const auto solved = solve_bending(stage, engaged, false); !solved) {
      // What the run would do rather than settle: tip, as long as anything can still hold it up.
      const bool better =
          last_fault.code == StageFaultCode::does_not_settle ||
          (last_fault.code == StageFaultCode::falls && solved.fault().code == StageFaultCode::tips);
      if (better && pattern + 1 < (1u << choices)) last_fault = solved.fault();
      continue;
    }
    int changed = -1;
    settled = !contradicts(stage, engaged, &changed);
  }
  if (!settled) return last_fault;

  engaged_[stage] = engaged;
  if (auto twisted = solve_twist(stage, engaged, parameters_ > 0); !twisted) return twisted.fault();
  if (parameters_ == 0) return Done{};
  return solve_bending(stage, engaged, true);
}

// Whether a bearing one-way support is pulled on, or a lifted one run into; the worst of them.
template <class Scalar>
bool Solver<Scalar>::contradicts(int stage, std::uint32_t engaged, int* support) const {
  constexpr Scalar kRounding = Scalar(4096) * std::numeric_limits<Scalar>::epsilon();
  Scalar largest = 0;
  for (int c = 0; c < support_bends_; ++c) largest = std::max(largest, std::abs(solution(stage, 2 + c)[0]));
  Scalar worst = 0;
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    const Support<Scalar>& each = run_.supports[std::size_t(i)];
    if (!one_way(each) || !each.rise.held || !run_.stages[std::size_t(stage)].lists_support(i)) continue;
    Scalar amiss;  // in units of force
    if (((engaged >> i) & 1u) != 0) {
      amiss = -solution(stage, 2 + rise_column_[i])[0];
    } else {
      const Scalar gap = at(stage, node_m_[support_node_[i]]).height_m - zero(i, kRise)[0];
      amiss = -gap * force_unit_ / run_.length_m;
    }
    if (amiss > kRounding * largest && amiss > worst) {
      worst = amiss;
      *support = i;
    }
  }
  return worst > 0;
}

template <class Scalar>
auto Solver<Scalar>::solve_bending(int stage, std::uint32_t engaged, bool with_derivatives)
    -> Result<Done, StageFault> {
  const Scalar length = run_.length_m;
  const Scalar stiffness = state_.bending_factor;
  const int supports = int(run_.supports.size());

  // Rows and columns of the system: clamp height and slope, then what each engaged support gives.
  struct Row {
    int support, motion, column;
  };
  Row rows[2 * kMaxSupports];
  int count = 0, pitches = 0, lone = -1;
  bool apart = false;
  for (int i = 0; i < supports; ++i) {
    if (((engaged >> i) & 1u) == 0) continue;
    if (rise_column_[i] >= 0) {
      rows[count++] = {i, kRise, rise_column_[i]};
      apart = apart || (lone >= 0 && support_node_[lone] != support_node_[i]);
      lone = i;
    }
    if (pitch_column_[i] >= 0) {
      rows[count++] = {i, kPitch, pitch_column_[i]};
      ++pitches;
    }
  }
  if (lone < 0) return StageFault{StageFaultCode::falls, stage};
  if (!apart && pitches == 0) return StageFault{StageFaultCode::tips, stage, lone};
  for (int a = 0; a < count; ++a)
    for (int b = 0; b < a; ++b) {
      const bool rigid =
          restraint(run_.supports[std::size_t(rows[a].support)], rows[a].motion).compliance == 0 &&
          restraint(run_.supports[std::size_t(rows[b].support)], rows[b].motion).compliance == 0;
      if (rigid && rows[a].motion == rows[b].motion &&
          support_node_[rows[a].support] == support_node_[rows[b].support])
        return StageFault{StageFaultCode::over_determined, stage, rows[a].support};
    }

  // In units of length, of EI / length^2 and of EI / length, so that all entries are of order one.
  const Scalar force = force_unit_, couple = force_unit_ * length;
  const auto unit = [&](int motion) { return motion == kRise ? force : couple; };
  const int size = 2 + count;
  SmallLu<Scalar, kMaxSystem> system(size);
  for (int k = 0; k < count; ++k) {
    const int node = support_node_[rows[k].support];
    const bool rise = rows[k].motion == kRise;
    system(0, 2 + k) = rise ? Scalar(1) : Scalar(0);
    system(1, 2 + k) = rise ? (length - node_m_[node]) / length : Scalar(-1);
    system(2 + k, 0) = rise ? Scalar(1) : Scalar(0);
    system(2 + k, 1) = rise ? node_m_[node] / length : Scalar(1);
    const Scalar* const basis = bend_node(node) + (rise ? 0 : bend_columns_);
    const Scalar row_unit = rise ? length : Scalar(1);
    for (int j = 0; j < count; ++j)
      system(2 + k, 2 + j) = basis[rows[j].column] * unit(rows[j].motion) / (stiffness * row_unit);
    const Restraint<Scalar>& held = restraint(run_.supports[std::size_t(rows[k].support)], rows[k].motion);
    const Scalar log_spring = state_.log_spring[rows[k].support][rows[k].motion];
    system(2 + k, 2 + k) += compliance_now(held, log_spring) * unit(rows[k].motion) / row_unit;
  }
  system.factor();

  const Scalar* const end = bend_node(nodes_ - 1);
  const auto solve_column = [&](int column, Scalar* right) {
    system.solve(right);
    for (int u = 0; u < 2 + support_bends_; ++u) solution(stage, u)[column] = 0;
    solution(stage, 0)[column] = right[0] * length;
    solution(stage, 1)[column] = right[1];
    for (int k = 0; k < count; ++k)
      solution(stage, 2 + rows[k].column)[column] = right[2 + k] * unit(rows[k].motion);
  };
  // What a load of factor `factor` adds to the right side.
  const auto add_load = [&](int load, Scalar factor, Scalar* right) {
    const int c = support_bends_ + load;
    right[0] -= factor * end[3 * bend_columns_ + c] / force;
    right[1] -= factor * end[2 * bend_columns_ + c] / couple;
    const Scalar shrink = warmth_[load] ? Scalar(1) : stiffness;
    for (int k = 0; k < count; ++k) {
      const Scalar* const basis = bend_node(support_node_[rows[k].support]);
      right[2 + k] -= rows[k].motion == kRise ? factor * basis[c] / (shrink * length)
                                              : factor * basis[bend_columns_ + c] / shrink;
    }
  };
  const auto add_bow = [&](int bow, Scalar amplitude, Scalar* right) {
    for (int k = 0; k < count; ++k) {
      const Scalar x = node_m_[support_node_[rows[k].support]];
      right[2 + k] -=
          rows[k].motion == kRise ? amplitude * bow_height(x, bow) / length : amplitude * bow_slope(x, bow);
    }
  };
  const auto add_zeros = [&](int column, Scalar* right) {
    for (int k = 0; k < count; ++k)
      right[2 + k] +=
          zero(rows[k].support, rows[k].motion)[column] / (rows[k].motion == kRise ? length : Scalar(1));
  };

  Scalar right[kMaxSystem];
  if (!with_derivatives) {
    std::fill(right, right + size, Scalar(0));
    add_zeros(0, right);
    for (int l = 0; l < run_.loads; ++l)
      if (const Scalar factor = load_factor(stage, l); factor != 0) add_load(l, factor, right);
    for (int b = 0; b < run_.bows; ++b) add_bow(b, state_.bow_m[b], right);
    solve_column(0, right);
    if (!std::isfinite(solution(stage, 0)[0])) return StageFault{StageFaultCode::state_not_usable, stage};
    return Done{};
  }

  for (int p = 0; p < parameters_; ++p) {
    const Parameter parameter = parameter_[p];
    std::fill(right, right + size, Scalar(0));
    add_zeros(1 + p, right);
    switch (parameter.kind) {
      case ParameterKind::load:
        if (run_.stages[std::size_t(stage)].lists_load(parameter.index))
          add_load(parameter.index, share_ == nullptr ? Scalar(1) : share_[parameter.index], right);
        break;
      case ParameterKind::bow:
        add_bow(parameter.index, 1, right);
        break;
      case ParameterKind::bending:
        for (int k = 0; k < count; ++k) {
          const int node = support_node_[rows[k].support];
          right[2 + k] += rows[k].motion == kRise
                              ? elastic_bend(stage, bend_node(node)) / (stiffness * length)
                              : elastic_bend(stage, bend_node(node) + bend_columns_) / stiffness;
        }
        break;
      case ParameterKind::spring_rise:
      case ParameterKind::spring_pitch: {
        const int motion = parameter.kind == ParameterKind::spring_rise ? kRise : kPitch;
        for (int k = 0; k < count; ++k) {
          if (rows[k].support != parameter.index || rows[k].motion != motion) continue;
          const Restraint<Scalar>& held = restraint(run_.supports[std::size_t(parameter.index)], motion);
          const Scalar yields = compliance_now(held, state_.log_spring[parameter.index][motion]) *
                                solution(stage, 2 + rows[k].column)[0];
          right[2 + k] += yields / (motion == kRise ? length : Scalar(1));
        }
        break;
      }
      default:
        break;
    }
    solve_column(1 + p, right);
  }
  return Done{};
}

template <class Scalar>
auto Solver<Scalar>::solve_twist(int stage, std::uint32_t engaged, bool with_derivatives)
    -> Result<Done, StageFault> {
  const Scalar stiffness = state_.torsion_factor;
  int rows[kMaxSupports];
  int count = 0;
  for (int i = 0; i < int(run_.supports.size()); ++i)
    if (((engaged >> i) & 1u) != 0 && roll_column_[i] >= 0) rows[count++] = i;
  if (count == 0) return StageFault{StageFaultCode::spins, stage};
  const auto compliance = [&](int support) {
    return compliance_now(run_.supports[std::size_t(support)].roll, state_.log_spring[support].roll);
  };
  for (int a = 0; a < count; ++a)
    for (int b = 0; b < a; ++b)
      if (support_node_[rows[a]] == support_node_[rows[b]] && compliance(rows[a]) == 0 &&
          compliance(rows[b]) == 0)
        return StageFault{StageFaultCode::over_determined, stage, rows[a]};

  const Scalar torque = torque_unit_;
  const int size = 1 + count;
  SmallLu<Scalar, kMaxSystem> system(size);
  for (int k = 0; k < count; ++k) {
    const Scalar* const basis = twist_node(support_node_[rows[k]]);
    system(0, 1 + k) = -1;
    system(1 + k, 0) = 1;
    for (int j = 0; j < count; ++j) system(1 + k, 1 + j) = basis[roll_column_[rows[j]]] * torque / stiffness;
    system(1 + k, 1 + k) += compliance(rows[k]) * torque;
  }
  system.factor();

  const Scalar* const end = twist_node(nodes_ - 1) + twist_columns_;
  const auto solve_column = [&](int column, Scalar* right) {
    system.solve(right);
    for (int u = twist_row_; u < unknowns_; ++u) solution(stage, u)[column] = 0;
    solution(stage, twist_row_)[column] = right[0];
    for (int k = 0; k < count; ++k)
      solution(stage, twist_row_ + 1 + roll_column_[rows[k]])[column] = right[1 + k] * torque;
  };
  const auto add_load = [&](int load, Scalar factor, Scalar* right) {
    const int c = support_twists_ + load;
    right[0] -= factor * end[c] / torque;
    for (int k = 0; k < count; ++k)
      right[1 + k] -= factor * twist_node(support_node_[rows[k]])[c] / stiffness;
  };
  const auto add_zeros = [&](int column, Scalar* right) {
    for (int k = 0; k < count; ++k) right[1 + k] += zero(rows[k], kRoll)[column];
  };

  Scalar right[kMaxSystem] = {};
  add_zeros(0, right);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0) add_load(l, factor, right);
  solve_column(0, right);
  if (!with_derivatives) return Done{};

  for (int p = 0; p < parameters_; ++p) {
    const Parameter parameter = parameter_[p];
    std::fill(right, right + size, Scalar(0));
    add_zeros(1 + p, right);
    if (parameter.kind == ParameterKind::load &&
        run_.stages[std::size_t(stage)].lists_load(parameter.index)) {
      add_load(parameter.index, share_ == nullptr ? Scalar(1) : share_[parameter.index], right);
    } else if (parameter.kind == ParameterKind::torsion) {
      for (int k = 0; k < count; ++k)
        right[1 + k] += elastic_twist(stage, twist_node(support_node_[rows[k]])) / stiffness;
    } else if (parameter.kind == ParameterKind::spring_roll) {
      for (int k = 0; k < count; ++k)
        if (rows[k] == parameter.index)
          right[1 + k] += compliance(rows[k]) * solution(stage, twist_row_ + 1 + roll_column_[rows[k]])[0];
    }
    solve_column(1 + p, right);
  }
  return Done{};
}

template class Solver<double>;
template class Solver<float>;

}  // namespace hangtrue::beam
