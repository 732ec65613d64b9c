// The stages, one after the other: zero positions, which one-way supports bear, the forces of every support.
#include "core/beam/solver.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>

#include "core/beam/small_lu.hpp"

namespace hangtrue::beam {
namespace {

// What log_spring leaves of the sheet's compliance.
template <class Scalar>
Scalar spring_compliance(const Restraint<Scalar>& restraint, Scalar log_spring) {
  return restraint.compliance * std::exp(-log_spring);
}

// Unknowns of the small systems: clamp height and slope, then at most a force and a couple a support.
constexpr int kMaxSystem = 2 + 2 * kMaxSupports;

}  // namespace

template <class Scalar>
auto Solver<Scalar>::check(const State<Scalar>& state) const -> Result<Done, StageFault> {
  bool usable = state.bending_factor > 0 && state.torsion_factor > 0 && std::isfinite(state.bending_factor) &&
                std::isfinite(state.torsion_factor);
  for (std::size_t i = 0; i < run_.supports.size(); ++i)
    for (const Motion m : kMotions)
      usable = usable && std::isfinite(state.offset[i][m]) && std::isfinite(state.log_spring[i][m]) &&
               std::isfinite(state.move[i][m]) && std::isfinite(state.give[i][m]);
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
  for (int i = 0; i < int(run_.supports.size()); ++i)
    for (const Motion motion : kMotions) zero(i, motion)[0] = zeros_from.stage_zero(stage, i, motion);
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

    for (const Motion m : kMotions) {
      if (!support.restraint(m).held) continue;
      Scalar* const position = zero(i, m);
      const bool home = support.restraint(m).pulled_home;
      const bool offset_acts = engages && (home || !again);
      if (engages) {
        std::fill(position, position + values, Scalar(0));
        if (!home && stage > 0) {
          const int node = support_node_[i];
          const Scalar x = node_m_[node];
          const std::span<Scalar> slopes{position + 1, std::size_t(parameters_)};
          const Section<Scalar> here = at(stage - 1, x);
          if (m == Motion::rise) {
            position[0] = here.height_m;
            combine(stage - 1, bend(node, kHeight), 1, x, true, x, slopes);
          } else if (m == Motion::pitch) {
            position[0] = here.rotation_rad;
            combine(stage - 1, bend(node, kRotation), 0, 1, false, x, slopes);
          } else {
            position[0] = here.roll_rad;
            combine_roll(stage - 1, twist(node, kRoll), slopes);
          }
        }
      }
      if (offset_acts) position[0] += state_.offset[i][m];
      if (moves) position[0] += state_.move[i][m];
      for (int p = 0; p < parameters_; ++p) {
        const Parameter parameter = parameter_[p];
        if (parameter.index != i) continue;
        if (offset_acts && parameter.kind == kOffsets[m]) position[1 + p] += 1;
        if (moves && parameter.kind == kMoves[m]) position[1 + p] += 1;
      }
    }
  }
  for (int i = 0; i < int(run_.supports.size()); ++i)
    for (const Motion m : kMotions) stage_zero(stage, i, m) = zero(i, m)[0];
  for (int i = 0; i < int(run_.supports.size()); ++i)
    std::copy_n(zero(i, Motion::rise) + 1, parameters_, stage_rise(stage, i));
}

// One-way supports: which of them bear. The first guess is all; then one change at a time, the worst first;
// should that go round in circles or fall through, every choice is tried.
template <class Scalar>
auto Solver<Scalar>::settle(int stage) -> Result<Done, StageFault> {
  const std::uint32_t listed = run_.stages[std::size_t(stage)].supports & all_supports();
  const std::uint32_t choice = listed & one_way();
  const int choices = std::popcount(choice);
  if (stage < state_.bearing_given) {
    const std::uint32_t bearing = listed & ~(choice & state_.lifted[stage]);
    if (const auto bent = solve_bending(stage, bearing, false); !bent) return bent.fault();
    return finish(stage, bearing);
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
    engaged = bearing_of(listed, choice, pattern);
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
  return finish(stage, engaged);
}

// The bending of that set solved, its torsion and all derivatives.
template <class Scalar>
auto Solver<Scalar>::finish(int stage, std::uint32_t engaged) -> Result<Done, StageFault> {
  engaged_[stage] = engaged;
  if (auto twisted = solve_twist(stage, engaged, parameters_ > 0); !twisted) return twisted.fault();
  if (parameters_ == 0) return Done{};
  return solve_bending(stage, engaged, true);
}

template <class Scalar>
std::uint32_t Solver<Scalar>::one_way() const {
  std::uint32_t found = 0;
  for (std::size_t i = 0; i < run_.supports.size(); ++i)
    if (run_.supports[i].one_way() && run_.supports[i].rise.held) found |= 1u << i;
  return found;
}

template <class Scalar>
auto Solver<Scalar>::contact(int stage, int support) const -> Contact {
  const bool bears = ((engaged_[stage] >> support) & 1u) != 0;
  if (bears) return {true, force(stage, column_[support].rise)[0]};
  return {false,
          at(stage, node_m_[support_node_[support]]).height_m - stage_zero(stage, support, Motion::rise)};
}

template <class Scalar>
void Solver<Scalar>::contact_derivatives(int stage, int support, std::span<Scalar> out) const {
  if (((engaged_[stage] >> support) & 1u) != 0) return force_derivatives(stage, support, out);
  height_derivatives(stage, node_m_[support_node_[support]], 0, out);
  const Scalar* const zeros = stage_rise(stage, support);
  for (std::size_t p = 0; p < out.size(); ++p) out[p] -= zeros[p];
}

// Every other choice of bearing supports in which nothing is pulled on and nothing run into, but with the same shape.
template <class Scalar>
bool Solver<Scalar>::other_equilibrium(int stage, std::uint32_t& lifted) {
  const std::uint32_t listed = run_.stages[std::size_t(stage)].supports & all_supports();
  const std::uint32_t choice = listed & one_way(), found = engaged_[stage];
  const int parameters = parameters_;
  parameters_ = 0;
  for (int i = 0; i < int(run_.supports.size()); ++i)
    for (const Motion motion : kMotions) zero(i, motion)[0] = stage_zero(stage, i, motion);
  const Scalar close = same_place(run_.length_m) * Scalar(1e3);
  const auto ends = [&] {
    const Section<Scalar> begin = at(stage, 0), end = at(stage, run_.length_m);
    return std::array{begin.height_m,
                      end.height_m,
                      begin.slope_rad * run_.length_m,
                      end.slope_rad * run_.length_m,
                      begin.roll_rad * run_.length_m,
                      end.roll_rad * run_.length_m};
  };
  const auto settled = ends();
  bool other = false;
  for (std::uint32_t pattern = 0; !other && pattern < (1u << std::popcount(choice)); ++pattern) {
    const std::uint32_t engaged = bearing_of(listed, choice, pattern);
    int unused = -1;
    if (engaged == found || !solve_bending(stage, engaged, false) || contradicts(stage, engaged, &unused))
      continue;
    engaged_[stage] = engaged;
    if (!solve_twist(stage, engaged, false)) continue;
    const auto here = ends();
    for (std::size_t k = 0; k < here.size(); ++k) other = other || std::abs(here[k] - settled[k]) > close;
    if (other) lifted = listed & ~engaged;
  }
  engaged_[stage] = found;
  (void)solve_bending(stage, found, false);  // as before: they were solved
  (void)solve_twist(stage, found, false);
  parameters_ = parameters;
  return other;
}

// Of the one-way supports in `choice` those bear whose bit in `pattern`, counted among them, is not set.
template <class Scalar>
std::uint32_t Solver<Scalar>::bearing_of(std::uint32_t listed, std::uint32_t choice, std::uint32_t pattern) {
  std::uint32_t engaged = listed & ~choice;
  int bit = 0;
  for (int i = 0; i < kMaxSupports; ++i)
    if (((choice >> i) & 1u) != 0 && ((pattern >> bit++) & 1u) == 0) engaged |= 1u << i;
  return engaged;
}

// Whether a bearing one-way support is pulled on, or a lifted one run into; the worst of them.
template <class Scalar>
bool Solver<Scalar>::contradicts(int stage, std::uint32_t engaged, int* support) const {
  constexpr Scalar kRounding = Scalar(4096) * std::numeric_limits<Scalar>::epsilon();
  Scalar largest = 0;
  for (int c = 0; c < support_bends_; ++c) largest = std::max(largest, std::abs(force(stage, c)[0]));
  Scalar worst = 0;
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    const Support<Scalar>& each = run_.supports[std::size_t(i)];
    if (!each.one_way() || !each.rise.held || !run_.stages[std::size_t(stage)].lists_support(i)) continue;
    Scalar amiss;  // in units of force
    if (((engaged >> i) & 1u) != 0) {
      amiss = -force(stage, column_[i].rise)[0];
    } else {
      const Scalar gap = at(stage, node_m_[support_node_[i]]).height_m - zero(i, Motion::rise)[0];
      amiss = -gap * force_unit_ / run_.length_m;
    }
    if (amiss > kRounding * largest && amiss > worst) {
      worst = amiss;
      *support = i;
    }
  }
  return worst > 0;
}

// The motions that the engaged supports hold, or why they do not hold the run.
template <class Scalar>
auto Solver<Scalar>::held_motions(int stage, std::uint32_t engaged) const -> Result<Held, StageFault> {
  Held held;
  int pitches = 0, lone = -1;
  bool apart = false;
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    if (((engaged >> i) & 1u) == 0) continue;
    if (column_[i].rise >= 0) {
      held.row[held.count++] = {i, Motion::rise, column_[i].rise};
      apart = apart || (lone >= 0 && support_node_[lone] != support_node_[i]);
      lone = i;
    }
    if (column_[i].pitch >= 0) {
      held.row[held.count++] = {i, Motion::pitch, column_[i].pitch};
      ++pitches;
    }
  }
  if (lone < 0) return StageFault{StageFaultCode::falls, stage};
  if (!apart && pitches == 0) return StageFault{StageFaultCode::tips, stage, lone};
  for (int a = 0; a < held.count; ++a)
    for (int b = 0; b < a; ++b) {
      const HeldMotion &one = held.row[a], &other = held.row[b];
      if (restraint(one).compliance == 0 && restraint(other).compliance == 0 && one.motion == other.motion &&
          support_node_[one.support] == support_node_[other.support])
        return StageFault{StageFaultCode::over_determined, stage, one.support};
    }
  return held;
}

// The system of bending in one stage. Unknowns: clamp height and slope, then the force or couple of each motion that is held.
// Rows: balance of forces and of moments at the far end, then each motion that is held. In units of length, of EI / length^2
// and of EI / length, so that all entries are of order one.
template <class Scalar>
class Solver<Scalar>::Bending {
 public:
  Bending(Solver& solver, int stage, const Held& held)
      : solver_(solver),
        stage_(stage),
        held_(held),
        length_(solver.run_.length_m),
        stiffness_(solver.state_.bending_factor),
        system_(kForces + held.count) {
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      const bool rise = row.motion == Motion::rise;
      const Scalar x = solver_.node_m_[node(row)];
      system_(kForceBalance, kForces + k) = rise ? Scalar(1) : Scalar(0);
      system_(kMomentBalance, kForces + k) = rise ? (length_ - x) / length_ : Scalar(-1);
      system_(kForces + k, kClampHeight) = rise ? Scalar(1) : Scalar(0);
      system_(kForces + k, kClampSlope) = rise ? x / length_ : Scalar(1);
      const Scalar* const basis = motion_of(row);
      for (int j = 0; j < held_.count; ++j)
        system_(kForces + k, kForces + j) =
            basis[held_.row[j].column] * unit(held_.row[j]) / (stiffness_ * motion_unit(row));
      system_(kForces + k, kForces + k) += compliance(row) * unit(row) / motion_unit(row);
    }
    system_.factor();
  }

  /// The right side begins with the zero positions: their values (column 0) or derivatives.
  void begin(int column) {
    std::fill(right_, right_ + kForces + held_.count, Scalar(0));
    for (int k = 0; k < held_.count; ++k)
      right_[kForces + k] +=
          solver_.zero(held_.row[k].support, held_.row[k].motion)[column] / motion_unit(held_.row[k]);
  }
  void add_load(int load, Scalar factor) {
    const int c = solver_.support_bends_ + load, end = solver_.nodes_ - 1;
    right_[kForceBalance] -= factor * solver_.bend(end, kShear)[c] / solver_.force_unit_;
    right_[kMomentBalance] -= factor * solver_.bend(end, kMoment)[c] / couple_unit();
    const Scalar shrink = solver_.warmth_[load] ? Scalar(1) : stiffness_;
    for (int k = 0; k < held_.count; ++k)
      right_[kForces + k] -= factor * motion_of(held_.row[k])[c] / (shrink * motion_unit(held_.row[k]));
  }
  void add_bow(int bow, Scalar amplitude) {
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      const Scalar x = solver_.node_m_[node(row)];
      right_[kForces + k] -= row.motion == Motion::rise ? amplitude * solver_.bow_height(x, bow) / length_
                                                        : amplitude * solver_.bow_slope(x, bow);
    }
  }
  /// By the stiffness factor, of the values already solved.
  void add_stiffness() {
    for (int k = 0; k < held_.count; ++k)
      right_[kForces + k] +=
          solver_.elastic_bend(stage_, motion_of(held_.row[k])) / (stiffness_ * motion_unit(held_.row[k]));
  }
  /// By the logarithm of a spring, of the values already solved.
  void add_spring(int support, Motion motion) {
    add_yield(support, motion, [this](const HeldMotion& row) { return of_spring(row); });
  }
  /// By what a support gives beyond that, likewise.
  void add_give(int support, Motion motion) {
    add_yield(support, motion, [](const HeldMotion&) { return Scalar(-1); });
  }
  /// Into that column of the stage's solution.
  void solve(int column) {
    system_.solve(right_);
    for (int u = 0; u < solver_.twist_row_; ++u) solver_.solution(stage_, u)[column] = 0;
    solver_.clamp_height(stage_)[column] = right_[kClampHeight] * length_;
    solver_.clamp_slope(stage_)[column] = right_[kClampSlope];
    for (int k = 0; k < held_.count; ++k)
      solver_.force(stage_, held_.row[k].column)[column] = right_[kForces + k] * unit(held_.row[k]);
  }

 private:
  enum : int { kForceBalance, kMomentBalance };

  [[nodiscard]] int node(const HeldMotion& row) const { return solver_.support_node_[row.support]; }
  [[nodiscard]] Scalar couple_unit() const { return solver_.force_unit_ * length_; }
  [[nodiscard]] Scalar unit(const HeldMotion& row) const {
    return row.motion == Motion::rise ? solver_.force_unit_ : couple_unit();
  }
  [[nodiscard]] Scalar motion_unit(const HeldMotion& row) const {
    return row.motion == Motion::rise ? length_ : Scalar(1);
  }
  /// That motion of the released structure, a column each.
  [[nodiscard]] const Scalar* motion_of(const HeldMotion& row) const {
    return solver_.bend(node(row), row.motion == Motion::rise ? kHeight : kRotation);
  }
  [[nodiscard]] Scalar of_spring(const HeldMotion& row) const {
    return spring_compliance(solver_.restraint(row), solver_.state_.log_spring[row.support][row.motion]);
  }
  [[nodiscard]] Scalar compliance(const HeldMotion& row) const {
    return of_spring(row) + solver_.state_.give[row.support][row.motion];
  }
  /// A motion whose compliance shrinks by shrinks(row).
  template <class Shrinks>
  void add_yield(int support, Motion motion, Shrinks shrinks) {
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      if (row.support == support && row.motion == motion)
        right_[kForces + k] += shrinks(row) * solver_.force(stage_, row.column)[0] / motion_unit(row);
    }
  }

  Solver& solver_;
  int stage_;
  const Held& held_;
  Scalar length_, stiffness_;
  SmallLu<Scalar, kMaxSystem> system_;
  Scalar right_[kMaxSystem];
};

template <class Scalar>
auto Solver<Scalar>::solve_bending(int stage, std::uint32_t engaged, bool with_derivatives)
    -> Result<Done, StageFault> {
  const auto held = held_motions(stage, engaged);
  if (!held) return held.fault();
  Bending bending(*this, stage, held.value());
  if (!with_derivatives) {
    bending.begin(0);
    for (int l = 0; l < run_.loads; ++l)
      if (const Scalar factor = load_factor(stage, l); factor != 0) bending.add_load(l, factor);
    for (int b = 0; b < run_.bows; ++b) bending.add_bow(b, state_.bow_m[b]);
    bending.solve(0);
    if (!std::isfinite(clamp_height(stage)[0])) return StageFault{StageFaultCode::state_not_usable, stage};
    return Done{};
  }
  for (int p = 0; p < parameters_; ++p) {
    const Parameter parameter = parameter_[p];
    bending.begin(1 + p);
    switch (parameter.kind) {
      case ParameterKind::load:
        if (run_.stages[std::size_t(stage)].lists_load(parameter.index))
          bending.add_load(parameter.index, share_ == nullptr ? Scalar(1) : share_[parameter.index]);
        break;
      case ParameterKind::bow:
        bending.add_bow(parameter.index, 1);
        break;
      case ParameterKind::bending:
        bending.add_stiffness();
        break;
      case ParameterKind::spring_rise:
        bending.add_spring(parameter.index, Motion::rise);
        break;
      case ParameterKind::spring_pitch:
        bending.add_spring(parameter.index, Motion::pitch);
        break;
      case ParameterKind::give_rise:
        bending.add_give(parameter.index, Motion::rise);
        break;
      case ParameterKind::give_pitch:
        bending.add_give(parameter.index, Motion::pitch);
        break;
      default:
        break;
    }
    bending.solve(1 + p);
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
    if (((engaged >> i) & 1u) != 0 && column_[i].roll >= 0) rows[count++] = i;
  if (count == 0) return StageFault{StageFaultCode::spins, stage};
  const auto of_spring = [&](int support) {
    return spring_compliance(run_.supports[std::size_t(support)].roll, state_.log_spring[support].roll);
  };
  const auto compliance = [&](int support) { return of_spring(support) + state_.give[support].roll; };
  for (int a = 0; a < count; ++a)
    for (int b = 0; b < a; ++b)
      if (support_node_[rows[a]] == support_node_[rows[b]] && of_spring(rows[a]) == 0 &&
          of_spring(rows[b]) == 0)
        return StageFault{StageFaultCode::over_determined, stage, rows[a]};

  const Scalar torque_unit = torque_unit_;
  const int size = kTorques + count;
  SmallLu<Scalar, kMaxSystem> system(size);
  for (int k = 0; k < count; ++k) {
    const Scalar* const basis = twist(support_node_[rows[k]], kRoll);
    system(0, kTorques + k) = -1;
    system(kTorques + k, kClampRoll) = 1;
    for (int j = 0; j < count; ++j)
      system(kTorques + k, kTorques + j) = basis[column_[rows[j]].roll] * torque_unit / stiffness;
    system(kTorques + k, kTorques + k) += compliance(rows[k]) * torque_unit;
  }
  system.factor();

  const Scalar* const end_torque = twist(nodes_ - 1, kTorque);
  const auto solve_column = [&](int column, Scalar* right) {
    system.solve(right);
    for (int u = twist_row_; u < unknowns_; ++u) solution(stage, u)[column] = 0;
    clamp_roll(stage)[column] = right[kClampRoll];
    for (int k = 0; k < count; ++k)
      torque(stage, column_[rows[k]].roll)[column] = right[kTorques + k] * torque_unit;
  };
  const auto add_load = [&](int load, Scalar factor, Scalar* right) {
    const int c = support_twists_ + load;
    right[0] -= factor * end_torque[c] / torque_unit;
    for (int k = 0; k < count; ++k)
      right[kTorques + k] -= factor * twist(support_node_[rows[k]], kRoll)[c] / stiffness;
  };
  const auto add_zeros = [&](int column, Scalar* right) {
    for (int k = 0; k < count; ++k) right[kTorques + k] += zero(rows[k], Motion::roll)[column];
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
        right[kTorques + k] += elastic_twist(stage, twist(support_node_[rows[k]], kRoll)) / stiffness;
    } else if (parameter.kind == ParameterKind::spring_roll || parameter.kind == ParameterKind::give_roll) {
      const bool spring = parameter.kind == ParameterKind::spring_roll;
      for (int k = 0; k < count; ++k)
        if (rows[k] == parameter.index)
          right[kTorques + k] +=
              (spring ? of_spring(rows[k]) : Scalar(-1)) * torque(stage, column_[rows[k]].roll)[0];
    }
    solve_column(1 + p, right);
  }
  return Done{};
}

#define HANGTRUE_INSTANTIATE(S)                                                                     \
  template Result<Done, StageFault> Solver<S>::solve(const State<S>&, std::span<const Parameter>);  \
  template Result<Done, StageFault> Solver<S>::solve_held(int, const State<S>&, std::span<const S>, \
                                                          const Solver&);                           \
  template auto Solver<S>::contact(int, int) const->Contact;                                        \
  template void Solver<S>::contact_derivatives(int, int, std::span<S>) const;                       \
  template bool Solver<S>::other_equilibrium(int, std::uint32_t&);

HANGTRUE_INSTANTIATE(double)
HANGTRUE_INSTANTIATE(float)
#undef HANGTRUE_INSTANTIATE

}  // namespace hangtrue::beam
