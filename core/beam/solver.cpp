// The released structure: the run clamped at its start and free elsewhere, under each force and load alone.
#include "core/beam/solver.hpp"

#include <algorithm>
#include <cmath>

#include "core/beam/warping.hpp"

namespace hangtrue::beam {
namespace {

template <class Scalar>
bool any_warps(const Run<Scalar>& run) {
  return std::any_of(run.pieces.begin(), run.pieces.end(),
                     [](const Piece<Scalar>& piece) { return piece.warping_N_m4 > 0; });
}

}  // namespace

template <class Scalar>
std::size_t Solver<Scalar>::storage_needed(const Run<Scalar>& run, int columns) {
  const std::size_t nodes = run.pieces.size() + 2 * run.load_parts.size() + run.supports.size() + 2;
  const std::size_t supports = run.supports.size();
  const auto loads = std::size_t(std::max(run.loads, 0));
  const std::size_t warps = any_warps(run) ? 1 : 0;
  const auto beside = std::size_t(
      std::count_if(run.supports.begin(), run.supports.end(),
                    [&](const Support<Scalar>& support) { return support.across_m != run.shear_centre_m; }));
  const std::size_t bend = 2 * supports + loads, twist = (1 + warps) * supports + beside + loads;
  const auto values = std::size_t(1 + std::max(columns, 0));
  const std::size_t held = (kMotions.size() + warps) * supports, clamp = 3;
  return nodes * (2 + 2 * warps + kFlexes + kBendRows * bend + (2 + warps) * twist) +
         run.stages.size() * ((clamp + held + beside) * values + held + supports * (values - 1)) +
         held * values;
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
        !std::isfinite(piece.bending_N_m2) || !std::isfinite(piece.torsion_N_m2) ||
        !(piece.warping_N_m4 >= 0) || !std::isfinite(piece.warping_N_m4))
      return RunFault{Code::stiffness_not_positive, int(i)};
    reached = piece.to_m;
  }
  if (!(length > 0) || !std::isfinite(length) || !std::isfinite(run.shear_centre_m) ||
      std::abs(reached - length) > slack)
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
    if (!(support.at_m >= -slack) || !(support.at_m <= length + slack) || !std::isfinite(support.across_m))
      return RunFault{Code::support_off_run, int(i)};
    for (const Motion motion : kMotions) {
      const Restraint<Scalar>& held = support.restraint(motion);
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
  warps_ = any_warps(run);
  if (warps_) ++twist_rows_, ++holds_;
  // Columns: held motions of supports, then loads.
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const Support<Scalar>& support = run.supports[i];
    column_[i].rise = support.rise.held ? support_bends_++ : -1;
    column_[i].pitch = support.pitch.held ? support_bends_++ : -1;
    column_[i].roll = support.roll.held ? support_twists_++ : -1;
    torque_column_[i] = arm(int(i)) != 0 ? support_twists_++ : -1;
  }
  for (std::size_t i = 0; i < run.supports.size(); ++i)
    warp_column_[i] = warps_ && run.supports[i].holds_warping ? support_twists_++ : -1;
  bend_columns_ = support_bends_ + run.loads;
  twist_columns_ = support_twists_ + run.loads;
  twist_row_ = kForces + support_bends_;
  unknowns_ = twist_row_ + kTorques + support_twists_;

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
  flex_ = take(kFlexes * nodes);
  bend_ = take(kBendRows * nodes * std::size_t(bend_columns_));
  twist_ = take(std::size_t(twist_rows_) * nodes * std::size_t(twist_columns_));
  if (warps_) {
    couples_ = take(nodes);
    excess_ = take(nodes);
  }
  solution_ = take(run.stages.size() * std::size_t(unknowns_) * values);
  zero_ = take(std::size_t(holds_) * run.supports.size() * values);
  stage_zeros_ = take(std::size_t(holds_) * run.stages.size() * run.supports.size());
  stage_rise_ = take(run.stages.size() * run.supports.size() * std::size_t(columns));
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
  std::fill(bend_, bend(nodes_, kHeight), Scalar(0));
  std::fill(twist_, twist(nodes_, kRoll), Scalar(0));
  std::fill(jump_, jump_ + nodes_, Scalar(0));

  // What jumps at a node, entered right of it before the march.
  for (std::size_t i = 0; i < run_.supports.size(); ++i) {
    const int node = support_node_[i];
    const Motions<int>& column = column_[i];
    if (column.rise >= 0) bend(node, kShear)[column.rise] = 1;
    if (column.pitch >= 0) bend(node, kMoment)[column.pitch] = -1;
    if (column.roll >= 0) twist(node, kTorque)[column.roll] = -1;
    if (torque_column_[i] >= 0) twist(node, kTorque)[torque_column_[i]] = -1;
    if (column.rise >= 0 || column.pitch >= 0 || column.roll >= 0) jump_[node] = 1;
  }
  for (std::size_t i = 0; i < run_.load_parts.size(); ++i) {
    const LoadPart<Scalar>& part = run_.load_parts[i];
    const int node = part_first_[i];
    if (part.kind == LoadKind::point) {
      bend(node, kShear)[support_bends_ + part.load] -= part.begin;
      twist(node, kTorque)[support_twists_ + part.load] += part.begin * (part.across_m - run_.shear_centre_m);
      jump_[node] = 1;
    } else if (part.kind == LoadKind::couple) {
      bend(node, kMoment)[support_bends_ + part.load] -= part.begin;
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
    const Flex yields{1 / section.bending_N_m2, 1 / section.shear_N, 1 / section.torsion_N_m2,
                      section.warping_N_m4};
    set_flex(node, yields);

    const Scalar h = node_m_[node + 1] - node_m_[node];
    const Scalar bend_h = yields.bend * h, shear_h = yields.shear * h, twist_h = yields.twist * h;
    const Scalar *const z0 = bend(node, kHeight), *const r0 = bend(node, kRotation),
                        *const m0 = bend(node, kMoment), *const v0 = bend(node, kShear);
    Scalar *const z1 = bend(node + 1, kHeight), *const r1 = bend(node + 1, kRotation),
                  *const m1 = bend(node + 1, kMoment), *const v1 = bend(node + 1, kShear);
    for (int c = 0; c < bends; ++c) {
      z1[c] = z0[c] + h * (r0[c] + bend_h * (m0[c] / 2 + v0[c] * h / 6)) - shear_h * v0[c];
      r1[c] = r0[c] + bend_h * (m0[c] + v0[c] * h / 2);
      m1[c] += m0[c] + v0[c] * h;
      v1[c] += v0[c];
    }
    const Scalar *const p0 = twist(node, kRoll), *const t0 = twist(node, kTorque);
    Scalar *const p1 = twist(node + 1, kRoll), *const t1 = twist(node + 1, kTorque);
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
  if (warps_) integrate_warping();
}

// Warps at the nodes, every column: at each node the bimoments of both sides and what a support brings are in balance. Matrix:
// couplings o > 0 off the diagonal, negative; the diagonal is both couplings and an excess r > 0. Eliminated by the excesses that
// are left, s, all terms positive: pivot = o + s, s = r + o_before s_before / pivot_before. Then the rolls.
template <class Scalar>
void Solver<Scalar>::integrate_warping() {
  std::fill(couples_, couples_ + nodes_, Scalar(0));
  std::fill(excess_, excess_ + nodes_, Scalar(0));
  for (std::size_t i = 0; i < run_.supports.size(); ++i)
    if (warp_column_[i] >= 0) twist(support_node_[i], kWarp)[warp_column_[i]] = 1;
  for (int node = 0; node + 1 < nodes_; ++node) {
    const Flex yields = flex(node);
    if (!(yields.warping > 0)) continue;
    const Scalar h = node_m_[node + 1] - node_m_[node];
    const Scalar kappa = h / std::sqrt(yields.twist * yields.warping);
    const auto begin = warp_shape(kappa, Scalar(0)), end = warp_shape(kappa, Scalar(1));
    couples_[node] = yields.warping / h * begin.end.slope;
    const Scalar excess = yields.warping / h * kappa * std::tanh(kappa / 2);
    excess_[node] += excess;
    excess_[node + 1] += excess;
    const Scalar* const torque = twist(node, kTorque);
    Scalar *const here = twist(node, kWarp), *const next = twist(node + 1, kWarp);
    const auto add = [&](int column, int power, Scalar of_torque) {
      here[column] += h * begin.torque[power].slope * of_torque;
      next[column] -= h * end.torque[power].slope * of_torque;
    };
    for (int c = 0; c < twist_columns_; ++c) add(c, 0, torque[c]);
    for (int i = 0; i < int(run_.load_parts.size()); ++i) {
      if (node < part_first_[i] || node >= part_last_[i]) continue;
      const LoadTerms load = load_terms(i, {node, h});
      for (const int power : {1, 2}) add(load.twist_column, power, load.torque_of_xi[power - 1]);
    }
  }
  for (int node = 1; node < nodes_; ++node) {
    const Scalar coupled = couples_[node - 1];
    if (!(coupled > 0)) continue;
    const Scalar passes_on = coupled / (coupled + excess_[node - 1]);
    excess_[node] += passes_on * excess_[node - 1];
    for (int c = 0; c < twist_columns_; ++c) twist(node, kWarp)[c] += passes_on * twist(node - 1, kWarp)[c];
  }
  for (int node = nodes_; node-- > 0;) {
    if (!(excess_[node] > 0)) continue;  // between two stretches that do not warp
    const Scalar coupled = couples_[node];
    Scalar* const warps = twist(node, kWarp);
    const Scalar* const next = coupled > 0 ? twist(node + 1, kWarp) : warps;
    for (int c = 0; c < twist_columns_; ++c)
      warps[c] = (warps[c] + coupled * next[c]) / (coupled + excess_[node]);
  }
  std::fill(twist(0, kRoll), twist(0, kRoll) + twist_columns_, Scalar(0));
  for (int node = 0; node + 1 < nodes_; ++node) {
    Basis basis;
    basis_at({node, node_m_[node + 1] - node_m_[node]}, basis);
    std::copy_n(basis.roll, twist_columns_, twist(node + 1, kRoll));
  }
}

// What a load part that covers the interval adds between its node and `place`, by the polynomials above.
template <class Scalar>
auto Solver<Scalar>::load_terms(int index, Place place) const -> LoadTerms {
  const LoadPart<Scalar>& part = run_.load_parts[std::size_t(index)];
  const Scalar s = place.along;
  LoadTerms load{support_bends_ + part.load, support_twists_ + part.load, 0, 0, 0, 0, 0, 0, {0, 0}};
  if (part.kind == LoadKind::warmth) {
    load.rotation = part.begin * s;
    load.height = part.begin * s * s / 2;
    return load;
  }
  const Flex yields = flex(place.interval);
  const Scalar from = node_m_[part_first_[index]], over = node_m_[part_last_[index]] - from;
  const Scalar dq = (part.end - part.begin) / over;
  const Scalar q = part.begin + dq * (node_m_[place.interval] - from);
  const Scalar first = s * (q + dq * s / 2),
               second = s * s * (q / 2 + dq * s / 6);  // of q, once and twice integrated
  load.shear = -first;
  load.moment = -second;
  load.rotation = -yields.bend * s * s * s * (q / 6 + dq * s / 24);
  load.height = -yields.bend * s * s * s * s * (q / 24 + dq * s / 120) + yields.shear * second;
  const Scalar arm = part.across_m - run_.shear_centre_m;
  load.torque = arm * first;
  load.roll = yields.twist * arm * second;
  const Scalar h = node_m_[place.interval + 1] - node_m_[place.interval];
  load.torque_of_xi[0] = arm * q * h;
  load.torque_of_xi[1] = arm * dq * h * h / 2;
  return load;
}

#define HANGTRUE_INSTANTIATE(S)                                                             \
  template std::size_t Solver<S>::storage_needed(const Run<S>&, int);                       \
  template Result<Solver<S>, RunFault> Solver<S>::create(const Run<S>&, int, std::span<S>); \
  template auto Solver<S>::node_at(S) const->int;                                           \
  template auto Solver<S>::load_terms(int, Place) const->LoadTerms;

HANGTRUE_INSTANTIATE(double)
HANGTRUE_INSTANTIATE(float)
#undef HANGTRUE_INSTANTIATE

}  // namespace hangtrue::beam
