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

// Unknowns of the small systems: clamp height, slope and roll, then at most a force, two couples and a bimoment a support.
constexpr int kMaxSystem = 3 + (kMotionCount + 1) * kMaxSupports;

Motion motion_of_kind(const Motions<ParameterKind>& kinds, ParameterKind kind) {
  return kind == kinds.rise ? Motion::rise : kind == kinds.pitch ? Motion::pitch : Motion::roll;
}

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
    for (int held = 0; held < holds_; ++held) zero(i, held)[0] = zeros_from.stage_zero(stage, i, held);
  engaged_[stage] = zeros_from.engaged_[stage];
  if (auto bent = solve_forces(stage, engaged_[stage]); !bent) return bent.fault();
  if (couples(stage)) return Done{};
  return solve_values(stage, engaged_[stage], kTorsion);
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
            const Scalar lever = arm(i);
            position[0] = here.height_m + support.across_m * here.roll_rad;
            combine(stage - 1, bend(node, kHeight), 1, x, true, x, slopes);
            if (lever != 0) {
              Scalar rolls[kMaxParameters];
              combine_roll(stage - 1, twist(node, kRoll), 1, {rolls, slopes.size()});
              for (std::size_t p = 0; p < slopes.size(); ++p) slopes[p] += lever * rolls[p];
            }
          } else if (m == Motion::pitch) {
            position[0] = here.rotation_rad;
            combine(stage - 1, bend(node, kRotation), 0, 1, false, x, slopes);
          } else {
            position[0] = here.roll_rad;
            combine_roll(stage - 1, twist(node, kRoll), 1, slopes);
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
    if (warp_column_[i] < 0 || !engages) continue;  // the warp locks in as it is
    Scalar* const warp = zero(i, kHeldWarp);
    std::fill(warp, warp + values, Scalar(0));
    if (stage == 0) continue;
    const Scalar* const basis = twist(support_node_[i], kWarp);
    warp[0] = elastic_twist(stage - 1, basis);
    combine_roll(stage - 1, basis, 0, {warp + 1, std::size_t(parameters_)});
  }
  for (int i = 0; i < int(run_.supports.size()); ++i)
    for (int held = 0; held < holds_; ++held) stage_zero(stage, i, held) = zero(i, held)[0];
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
    if (const auto bent = solve_forces(stage, bearing); !bent) return bent.fault();
    return finish(stage, bearing);
  }

  std::uint32_t engaged = listed;
  Result<Done, StageFault> outcome = solve_forces(stage, engaged);
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
    outcome = solve_forces(stage, engaged);
    if (!outcome) last_fault = outcome.fault();
  }
  for (std::uint32_t pattern = 0; !settled && pattern < (1u << choices); ++pattern) {
    engaged = bearing_of(listed, choice, pattern);
    if (const auto solved = solve_forces(stage, engaged); !solved) {
      // What the run would do rather than settle: tip or spin, as long as anything can still hold it up.
      const StageFaultCode code = solved.fault().code;
      const bool better = last_fault.code == StageFaultCode::does_not_settle ||
                          (last_fault.code == StageFaultCode::falls &&
                           (code == StageFaultCode::tips || code == StageFaultCode::spins));
      if (better && pattern + 1 < (1u << choices)) last_fault = solved.fault();
      continue;
    }
    int changed = -1;
    settled = !contradicts(stage, engaged, &changed);
  }
  if (!settled) return last_fault;
  return finish(stage, engaged);
}

// The forces of that set solved, what is left of the values and all derivatives.
template <class Scalar>
auto Solver<Scalar>::finish(int stage, std::uint32_t engaged) -> Result<Done, StageFault> {
  engaged_[stage] = engaged;
  if (couples(stage)) return solve_derivatives(stage, engaged, kTogether);
  if (auto twisted = solve_values(stage, engaged, kTorsion); !twisted) return twisted.fault();
  if (auto twisted = solve_derivatives(stage, engaged, kTorsion); !twisted) return twisted.fault();
  return solve_derivatives(stage, engaged, kBending);
}

template <class Scalar>
bool Solver<Scalar>::couples(int stage) const {
  for (std::size_t i = 0; i < run_.supports.size(); ++i)
    if (run_.stages[std::size_t(stage)].lists_support(int(i)) && arm(int(i)) != 0) return true;
  return false;
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
          height(stage, node_m_[support_node_[support]], run_.supports[std::size_t(support)].across_m) -
              stage_zero(stage, support, int(Motion::rise))};
}

template <class Scalar>
void Solver<Scalar>::contact_derivatives(int stage, int support, std::span<Scalar> out) const {
  if (((engaged_[stage] >> support) & 1u) != 0) return force_derivatives(stage, support, out);
  height_derivatives(stage, node_m_[support_node_[support]], run_.supports[std::size_t(support)].across_m,
                     out);
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
    for (int held = 0; held < holds_; ++held) zero(i, held)[0] = stage_zero(stage, i, held);
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
  const bool together = couples(stage);
  bool other = false;
  for (std::uint32_t pattern = 0; !other && pattern < (1u << std::popcount(choice)); ++pattern) {
    const std::uint32_t engaged = bearing_of(listed, choice, pattern);
    int unused = -1;
    if (engaged == found || !solve_forces(stage, engaged) || contradicts(stage, engaged, &unused)) continue;
    engaged_[stage] = engaged;
    if (!together && !solve_values(stage, engaged, kTorsion)) continue;
    const auto here = ends();
    for (std::size_t k = 0; k < here.size(); ++k) other = other || std::abs(here[k] - settled[k]) > close;
    if (other) lifted = listed & ~engaged;
  }
  engaged_[stage] = found;
  (void)solve_forces(stage, found);  // as before: they were solved
  if (!together) (void)solve_values(stage, found, kTorsion);
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
      const Scalar gap = height(stage, node_m_[support_node_[i]], each.across_m) - zero(i, Motion::rise)[0];
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
auto Solver<Scalar>::held_motions(int stage, std::uint32_t engaged, Parts parts) const
    -> Result<Held, StageFault> {
  Held held;
  const auto engages = [&](int i) { return ((engaged >> i) & 1u) != 0; };
  const int supports = int(run_.supports.size());
  for (int i = 0; i < supports && parts.bending; ++i) {
    if (!engages(i)) continue;
    const Scalar lever = arm(i);
    if (const int c = column_[i].rise; c >= 0)
      held.row[held.count++] = {i, Motion::rise, c, lever != 0 ? torque_column_[i] : -1, lever, false};
    if (const int c = column_[i].pitch; c >= 0) held.row[held.count++] = {i, Motion::pitch, c, -1, 0, false};
  }
  for (int i = 0; i < supports && parts.torsion; ++i)
    if (const int c = column_[i].roll; c >= 0 && engages(i))
      held.row[held.count++] = {i, Motion::roll, -1, c, 1, false};
  if (const auto holds = hold_the_run(stage, held, parts); !holds) return holds.fault();
  for (int i = 0; i < supports && parts.torsion; ++i)
    if (const int c = warp_column_[i]; c >= 0 && engages(i) && !warp_is_held(held, support_node_[i]))
      held.row[held.count++] = {i, Motion::roll, -1, c, 1, true};
  for (int row = 0; row < held.count; ++row)
    if (one_too_many(held, row))
      return StageFault{StageFaultCode::over_determined, stage, held.row[row].support};
  return held;
}

// Whether the warp at a node is held already, or there is none to hold.
template <class Scalar>
bool Solver<Scalar>::warp_is_held(const Held& held, int node) const {
  for (int k = 0; k < held.count; ++k)
    if (held.row[k].warps && support_node_[held.row[k].support] == node) return true;
  return !(excess_[node] > 0);
}

// Whether those motions leave the run none of its own.
template <class Scalar>
auto Solver<Scalar>::hold_the_run(int stage, const Held& held, Parts parts) const
    -> Result<Done, StageFault> {
  int pitches = 0, rolls = 0, lone = -1;
  bool apart = false;
  for (int k = 0; k < held.count; ++k) {
    const HeldMotion& row = held.row[k];
    pitches += row.motion == Motion::pitch ? 1 : 0;
    rolls += row.motion == Motion::roll ? 1 : 0;
    if (row.motion != Motion::rise) continue;
    apart = apart || (lone >= 0 && support_node_[lone] != support_node_[row.support]);
    lone = row.support;
  }
  if (parts.bending && lone < 0) return StageFault{StageFaultCode::falls, stage};
  if (parts.bending && !apart && pitches == 0) return StageFault{StageFaultCode::tips, stage, lone};
  if (parts.torsion && rolls == 0 && (!parts.bending || stand_in_line(held)))
    return StageFault{StageFaultCode::spins, stage};
  return Done{};
}

// Without a roll that is held: whether the run can turn about one line through all places that hold it up, which is level
// where a pitch is held. It does not tip.
template <class Scalar>
bool Solver<Scalar>::stand_in_line(const Held& held) const {
  const Scalar close = same_place(run_.length_m);
  const HeldMotion *first = nullptr, *second = nullptr;
  bool level = false;
  for (int k = 0; k < held.count; ++k) {
    const HeldMotion& row = held.row[k];
    level = level || row.motion == Motion::pitch;
    if (row.motion != Motion::rise) continue;
    if (first == nullptr) first = &row;
    if (support_node_[row.support] != support_node_[first->support]) second = &row;
  }
  Scalar climb = 0;  // of the line, across along
  const auto along = [&](const HeldMotion& row) {
    return node_m_[support_node_[row.support]] - node_m_[support_node_[first->support]];
  };
  if (!level) climb = (second->lever - first->lever) / along(*second);
  for (int k = 0; k < held.count; ++k) {
    const HeldMotion& row = held.row[k];
    if (row.motion == Motion::rise && std::abs(row.lever - first->lever - climb * along(row)) > close)
      return false;
  }
  return true;
}

// Whether that row and rows before it rigidly hold more motions at one place than there are: pitch is one; height and roll
// are two, of which a rise beside the axis holds a mixture.
template <class Scalar>
bool Solver<Scalar>::one_too_many(const Held& held, int row) const {
  const HeldMotion& one = held.row[row];
  if (one.warps || restraint(one).compliance != 0) return false;
  int before = 0;
  for (int k = 0; k < row; ++k) {
    const HeldMotion& other = held.row[k];
    if (restraint(other).compliance != 0 || support_node_[one.support] != support_node_[other.support] ||
        (one.motion == Motion::pitch) != (other.motion == Motion::pitch))
      continue;
    if (one.motion == other.motion && one.lever == other.lever) return true;
    ++before;
  }
  return before >= 2;
}

// One system of forces of one stage: of bending, of torsion, or of both. Unknowns: clamp height and slope, clamp roll, then
// the force or couple of each motion that is held. Rows: balance of forces, of moments and of torques at the far end, then
// each motion that is held. In units of length, of EI / length^2, of EI / length and of GJ / length, so that all entries are
// of order one.
template <class Scalar>
class Solver<Scalar>::Statics {
 public:
  Statics(Solver& solver, int stage, Parts parts, const Held& held)
      : solver_(solver),
        stage_(stage),
        parts_(parts),
        held_(held),
        length_(solver.run_.length_m),
        bending_(solver.state_.bending_factor),
        torsion_(solver.state_.torsion_factor),
        roll_(parts.bending ? kForces : 0),
        first_(roll_ + (parts.torsion ? 1 : 0)),
        system_(first_ + held.count) {
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      const int at = first_ + k;
      if (row.bend >= 0) {
        const bool rise = row.motion == Motion::rise;
        const Scalar x = solver_.node_m_[node(row)];
        system_(kForceBalance, at) = rise ? Scalar(1) : Scalar(0);
        system_(kMomentBalance, at) = rise ? (length_ - x) / length_ : Scalar(-1);
        system_(at, kClampHeight) = rise ? Scalar(1) : Scalar(0);
        system_(at, kClampSlope) = rise ? x / length_ : Scalar(1);
      }
      if (row.twist >= 0) {
        system_(roll_, at) = row.warps ? Scalar(0) : -row.lever * unit(row) / solver_.torque_unit_;
        system_(at, roll_) = row.warps ? Scalar(0) : row.lever / motion_unit(row);
      }
      for (int j = 0; j < held_.count; ++j) {
        const HeldMotion& other = held_.row[j];
        Scalar moves = 0;
        if (row.bend >= 0 && other.bend >= 0)
          moves = motion_of(row)[other.bend] * unit(other) / (bending_ * motion_unit(row));
        if (row.twist >= 0 && other.twist >= 0)
          moves += row.lever * other.lever * roll_of(row)[other.twist] * unit(other) /
                   (torsion_ * motion_unit(row));
        system_(at, first_ + j) = moves;
      }
      system_(at, at) += compliance(row) * unit(row) / motion_unit(row);
    }
    system_.factor();
  }

  /// The right side begins with the zero positions: their values (column 0) or derivatives.
  void begin(int column) {
    std::fill(right_, right_ + first_ + held_.count, Scalar(0));
    for (int k = 0; k < held_.count; ++k)
      right(k) += zero_of(held_.row[k])[column] / motion_unit(held_.row[k]);
  }
  void add_load(int load, Scalar factor) {
    const int bend = solver_.support_bends_ + load, twist = solver_.support_twists_ + load;
    const int end = solver_.nodes_ - 1;
    if (parts_.bending) {
      right_[kForceBalance] -= factor * solver_.bend(end, kShear)[bend] / solver_.force_unit_;
      right_[kMomentBalance] -= factor * solver_.bend(end, kMoment)[bend] / couple_unit();
    }
    if (parts_.torsion) right_[roll_] -= factor * solver_.twist(end, kTorque)[twist] / solver_.torque_unit_;
    const Scalar shrink = solver_.warmth_[load] ? Scalar(1) : bending_;
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      if (row.bend >= 0) right(k) -= factor * motion_of(row)[bend] / (shrink * motion_unit(row));
      if (row.twist >= 0)
        right(k) -= factor * row.lever * roll_of(row)[twist] / (torsion_ * motion_unit(row));
    }
  }
  void add_bow(int bow, Scalar amplitude) {
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      const Scalar x = solver_.node_m_[node(row)];
      if (row.bend >= 0)
        right(k) -= row.motion == Motion::rise ? amplitude * solver_.bow_height(x, bow) / length_
                                               : amplitude * solver_.bow_slope(x, bow);
    }
  }
  /// By the bending stiffness' factor, of the values already solved.
  void add_bending() {
    for (int k = 0; k < held_.count; ++k)
      if (const HeldMotion& row = held_.row[k]; row.bend >= 0)
        right(k) += solver_.elastic_bend(stage_, motion_of(row)) / (bending_ * motion_unit(row));
  }
  /// By the torsion stiffness' factor, likewise.
  void add_torsion() {
    for (int k = 0; k < held_.count; ++k)
      if (const HeldMotion& row = held_.row[k]; row.twist >= 0)
        right(k) += row.lever * solver_.elastic_twist(stage_, roll_of(row)) / (torsion_ * motion_unit(row));
  }
  /// By the logarithm of a spring, likewise.
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
    const int begin = parts_.bending ? 0 : solver_.twist_row_;
    const int end = parts_.torsion ? solver_.unknowns_ : solver_.twist_row_;
    for (int u = begin; u < end; ++u) solver_.solution(stage_, u)[column] = 0;
    if (parts_.bending) {
      solver_.clamp_height(stage_)[column] = right_[kClampHeight] * length_;
      solver_.clamp_slope(stage_)[column] = right_[kClampSlope];
    }
    if (parts_.torsion) solver_.clamp_roll(stage_)[column] = right_[roll_];
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      const Scalar acts = right(k) * unit(row);
      if (row.bend >= 0) solver_.force(stage_, row.bend)[column] = acts;
      if (row.twist >= 0) solver_.torque(stage_, row.twist)[column] = row.lever * acts;
    }
  }

 private:
  enum : int { kForceBalance, kMomentBalance };  // the balance of torques is row roll_

  [[nodiscard]] Scalar& right(int row) { return right_[first_ + row]; }
  [[nodiscard]] int node(const HeldMotion& row) const { return solver_.support_node_[row.support]; }
  [[nodiscard]] Scalar couple_unit() const { return solver_.force_unit_ * length_; }
  [[nodiscard]] Scalar unit(const HeldMotion& row) const {
    return row.warps                     ? solver_.torque_unit_ * length_
           : row.motion == Motion::rise  ? solver_.force_unit_
           : row.motion == Motion::pitch ? couple_unit()
                                         : solver_.torque_unit_;
  }
  [[nodiscard]] Scalar motion_unit(const HeldMotion& row) const {
    return row.warps ? 1 / length_ : row.motion == Motion::rise ? length_ : Scalar(1);
  }
  [[nodiscard]] const Scalar* zero_of(const HeldMotion& row) const {
    return solver_.zero(row.support, row.warps ? kHeldWarp : int(row.motion));
  }
  /// That motion of the released structure without its roll, a column each; and its roll, or its warp, there.
  [[nodiscard]] const Scalar* motion_of(const HeldMotion& row) const {
    return solver_.bend(node(row), row.motion == Motion::rise ? kHeight : kRotation);
  }
  [[nodiscard]] const Scalar* roll_of(const HeldMotion& row) const {
    return solver_.twist(node(row), row.warps ? kWarp : kRoll);
  }
  [[nodiscard]] Scalar of_spring(const HeldMotion& row) const {
    return spring_compliance(solver_.restraint(row), solver_.state_.log_spring[row.support][row.motion]);
  }
  [[nodiscard]] Scalar compliance(const HeldMotion& row) const {
    return row.warps ? Scalar(0) : of_spring(row) + solver_.state_.give[row.support][row.motion];
  }
  /// A motion whose compliance shrinks by shrinks(row).
  template <class Shrinks>
  void add_yield(int support, Motion motion, Shrinks shrinks) {
    for (int k = 0; k < held_.count; ++k) {
      const HeldMotion& row = held_.row[k];
      if (row.support != support || row.motion != motion || row.warps) continue;
      const Scalar acts =
          row.bend >= 0 ? solver_.force(stage_, row.bend)[0] : solver_.torque(stage_, row.twist)[0];
      right(k) += shrinks(row) * acts / motion_unit(row);
    }
  }

  Solver& solver_;
  int stage_;
  Parts parts_;
  const Held& held_;
  Scalar length_, bending_, torsion_;
  int roll_, first_;  // rows: of the clamp's roll, of the first motion that is held
  SmallLu<Scalar, kMaxSystem> system_;
  Scalar right_[kMaxSystem];
};

// What one-way supports are judged by: the forces, and where a support stands beside the axis the roll with them.
template <class Scalar>
auto Solver<Scalar>::solve_forces(int stage, std::uint32_t engaged) -> Result<Done, StageFault> {
  return solve_values(stage, engaged, couples(stage) ? kTogether : kBending);
}

template <class Scalar>
auto Solver<Scalar>::solve_values(int stage, std::uint32_t engaged, Parts parts) -> Result<Done, StageFault> {
  const auto held = held_motions(stage, engaged, parts);
  if (!held) return held.fault();
  Statics statics(*this, stage, parts, held.value());
  statics.begin(0);
  for (int l = 0; l < run_.loads; ++l)
    if (const Scalar factor = load_factor(stage, l); factor != 0) statics.add_load(l, factor);
  for (int b = 0; b < run_.bows; ++b) statics.add_bow(b, state_.bow_m[b]);
  statics.solve(0);
  if (parts.bending && !std::isfinite(clamp_height(stage)[0]))
    return StageFault{StageFaultCode::state_not_usable, stage};
  return Done{};
}

template <class Scalar>
auto Solver<Scalar>::solve_derivatives(int stage, std::uint32_t engaged, Parts parts)
    -> Result<Done, StageFault> {
  if (parameters_ == 0) return Done{};
  const auto held = held_motions(stage, engaged, parts);
  if (!held) return held.fault();
  Statics statics(*this, stage, parts, held.value());
  for (int p = 0; p < parameters_; ++p) {
    const auto [kind, index] = parameter_[p];
    statics.begin(1 + p);
    switch (kind) {
      case ParameterKind::load:
        if (run_.stages[std::size_t(stage)].lists_load(index))
          statics.add_load(index, share_ == nullptr ? Scalar(1) : share_[index]);
        break;
      case ParameterKind::bow:
        statics.add_bow(index, 1);
        break;
      case ParameterKind::bending:
        statics.add_bending();
        break;
      case ParameterKind::torsion:
        statics.add_torsion();
        break;
      case ParameterKind::spring_rise:
      case ParameterKind::spring_pitch:
      case ParameterKind::spring_roll:
        statics.add_spring(index, motion_of_kind(kSprings, kind));
        break;
      case ParameterKind::give_rise:
      case ParameterKind::give_pitch:
      case ParameterKind::give_roll:
        statics.add_give(index, motion_of_kind(kGives, kind));
        break;
      default:
        break;
    }
    statics.solve(1 + p);
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
