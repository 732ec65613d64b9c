// solver.hpp: the shape of a run through the stages of its hanging, and how it depends on what is uncertain.
//
// Method   Force method. Released structure: the run clamped at x = 0 and free elsewhere; its deflection
//          under each unit support force, unit support couple and named load follows by integrating M/EI and
//          V/GA exactly over intervals of constant section and linear load (once, in create(); cost linear in
//          pieces). Unknowns of a stage: height and slope of the clamp, and each engaged support's force and
//          couple: at most 2 + 2 * supports, two equations of equilibrium and one a restrained motion,
//              shape at support + compliance * force = zero position.
//          Torsion alike with 1 + supports. Where a stage lists a support beside the axis, bending and torsion
//          are one system of at most 3 + 4 * supports. Warping: d(roll)/dx at the nodes from a system of three
//          diagonals, whose pivots are sums of positive terms (warping.hpp). Rigid is compliance 0; there are no penalty numbers.
// Stages   A support new to a stage locks at the shape at the end of the stage before (the first stage: at
//          zero, straight) plus its offset; a motion pulled home locks at its offset alone. A released
//          support's force vanishes. The sum of increments of a linear body is the total under these zero
//          positions, which is what is solved.
// One-way  Force on the run >= 0. Lifted: no rise, pitch or roll force; keeps its zero; may bear again
//          (active set).
// Limits   capacities in limits.hpp; all memory is the caller's (storage_needed); no heap, no exceptions.
// Accuracy double: 1e-12 relative and better for one or two spans; float: 1e-5 at 50 pieces (tests/core/beam).
// Not for  large displacements, plastic hinges, buckling, vibration, runs that are curved in plan.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

#include "core/beam/run.hpp"
#include "core/quantity/result.hpp"

namespace hangtrue::beam {

enum class RunFaultCode : std::uint8_t {
  pieces_do_not_cover,     // pieces not in order, or not from 0 to the length; index: the first piece
                           // that is wrong or missing (may be one past the last)
  stiffness_not_positive,  // EI, GJ or shear stiffness <= 0 or not a number; index: piece
  load_off_run,            // a load part outside 0 ... length, or to before from; index: load part
  load_not_finite,         // index: load part
  load_kinds_mixed,        // warmth and weight in one load; index: load
  support_off_run,         // outside 0 ... length, or across not a number; index: support
  compliance_negative,     // negative or not a number; index: support
  too_many,          // more supports, stages, loads, load parts, bows or parameters than limits.hpp allows
  no_stage,          // nothing to solve
  storage_too_small  // less than storage_needed()
};
struct RunFault {
  RunFaultCode code{};
  int index = -1;
};

enum class StageFaultCode : std::uint8_t {
  falls,  // no engaged support holds the run up
  tips,   // it is held up at one place alone and no pitch is held: free to turn about `support`
  spins,  // no engaged support holds the roll, nor do those beside the axis stand off one straight line
  over_determined,  // two rigid supports hold the same motion at the same place, or three hold height and roll
                    // there; `support` is the last one
  does_not_settle,  // one-way supports lift and bear in turns without end
  state_not_usable  // a factor <= 0 or a value not finite
};
struct StageFault {
  StageFaultCode code{};
  int stage = 0;
  int support = -1;
};

/// Values at one place of one stage; the members' units are in their names.
template <class Scalar>
struct Section {
  Scalar height_m, slope_rad;  // slope dz/dx of the reference line; at a jump of shear the mean of both sides
  Scalar rotation_rad;         // of the section: slope without the shear's share
  Scalar roll_rad;
  Scalar moment_Nm, shear_N, torque_Nm;
  Scalar bimoment_Nm2;
};

/// What a support does to the run at the end of a stage. The force acts where the support stands across; torque_Nm is the
/// support's own roll couple, without the force's about the axis.
template <class Scalar>
struct SupportAction {
  bool engaged = false;  // listed, and if one-way, not lifted
  Scalar force_N = 0, moment_Nm = 0, torque_Nm = 0;
};

enum class Side : std::uint8_t { left, right };

template <class Scalar>
class Solver {
 public:
  /// Scalars of storage for a run, with at most `columns` parameters to differentiate by.
  [[nodiscard]] static std::size_t storage_needed(const Run<Scalar>& run, int columns);

  /// Checks the run and integrates the released structure. `storage` must outlive the solver.
  [[nodiscard]] static Result<Solver, RunFault> create(const Run<Scalar>& run, int columns,
                                                       std::span<Scalar> storage);

  /// Solves all stages for `state`, with derivatives by `parameters` (at most `columns` of create()).
  /// On a fault no result is valid.
  [[nodiscard]] Result<Done, StageFault> solve(const State<Scalar>& state,
                                               std::span<const Parameter> parameters = {});

  // After solve() -------------------------------------------------------------------------------------------

  [[nodiscard]] Section<Scalar> at(int stage, Scalar x_m, Side side = Side::right) const;
  [[nodiscard]] SupportAction<Scalar> support(int stage, int support) const;

  /// A one-way support that the stage lists: what must not be negative where the set of bearing supports is an equilibrium:
  /// the force on the run where it bears, N; else how far the run hangs clear of it where it stands, m.
  struct Contact {
    bool bears = false;
    Scalar margin = 0;
  };
  [[nodiscard]] Contact contact(int stage, int support) const;
  /// Derivatives of that margin, one entry a parameter of solve().
  void contact_derivatives(int stage, int support, std::span<Scalar> out) const;
  /// Whether another choice of bearing supports, too, is an equilibrium of that stage, with another shape: supports that hold
  /// more than a rise may bear or hang free under the same loads. `lifted`: those that do not bear there. What solve() found
  /// stays, but for its derivatives.
  [[nodiscard]] bool other_equilibrium(int stage, std::uint32_t& lifted);

  /// Height at x, at y = across_m (left positive; small angles): height + roll * across.
  [[nodiscard]] Scalar height(int stage, Scalar x_m, Scalar across_m = 0) const;

  /// Derivatives, one entry a parameter of solve(); out.size() must be that count.
  void height_derivatives(int stage, Scalar x_m, Scalar across_m, std::span<Scalar> out) const;
  void slope_derivatives(int stage, Scalar x_m, std::span<Scalar> out) const;
  void roll_derivatives(int stage, Scalar x_m, std::span<Scalar> out) const;
  void force_derivatives(int stage, int support, std::span<Scalar> out) const;

  /// Lowest point of the reference line, between nodes too.
  struct Lowest {
    Scalar height_m, at_m;
  };
  [[nodiscard]] Lowest lowest(int stage) const;

  /// Height of the reference line at every node, linear in nodes; out.size() must be nodes_m().size().
  void node_heights(int stage, std::span<Scalar> out) const;

  /// Places where something changes: ends, piece ends, ends of loads, supports; in order, each once.
  [[nodiscard]] std::span<const Scalar> nodes_m() const;
  /// True where a force, a couple or a section jumps at node i.
  [[nodiscard]] bool jumps(int node) const;

  /// Solves one stage alone: support zeros as `zeros_from` found them for that stage, every load's factor
  /// times its share (one entry a load; must live as long as questions are asked), one-way supports as they stood there. Only that
  /// stage may be asked about afterwards. For expected drift: creep.hpp.
  [[nodiscard]] Result<Done, StageFault> solve_held(int stage, const State<Scalar>& state,
                                                    std::span<const Scalar> load_share,
                                                    const Solver& zeros_from);

 private:
  // Unknowns of a stage in their order: of bending, then (from twist_row_) of torsion.
  enum : int { kClampHeight, kClampSlope, kForces };
  enum : int { kClampRoll, kTorques };
  // Rows of bend_ and of twist_ at a node; moment, shear and torque are those right of it.
  enum BendRow : int { kHeight, kRotation, kMoment, kShear, kBendRows };
  // Warp, d(roll)/dx, is kept where a stretch that warps begins or ends; only a run that warps has that row.
  enum TwistRow : int { kRoll, kTorque, kWarp };
  // Flexibility of an interval, 1/EI, 1/GA, 1/GJ; and its E Iw.
  struct Flex {
    Scalar bend, shear, twist, warping;
  };
  static constexpr std::size_t kFlexes = 4;
  // Columns of the released structure: forces and couples of supports first (of torsion: roll couples and torques
  // of forces, then bimoments), then loads. 72 and 84 at the most.
  static constexpr int kMaxBend = 2 * kMaxSupports + kMaxLoads;
  static constexpr int kMaxTwist = 3 * kMaxSupports + kMaxLoads;
  // Deflections of the released structure at one place, one entry a column.
  struct Basis {
    Scalar height[kMaxBend], rotation[kMaxBend], moment[kMaxBend], shear[kMaxBend];
    Scalar roll[kMaxTwist], torque[kMaxTwist], warp[kMaxTwist], bimoment[kMaxTwist];
  };
  // A place between node `interval` and the next, `along` from the former.
  struct Place {
    int interval;
    Scalar along;
  };
  // What one load part adds along an interval, and to which columns.
  struct LoadTerms {
    int bend_column, twist_column;
    Scalar height, rotation, moment, shear, roll, torque;
    Scalar torque_of_xi[2];  // over the whole interval: torque = first * xi + second * xi^2
  };
  // The polynomial of one interval under the forces of one stage.
  struct Interval {
    Scalar height, rotation, moment, shear, load_begin, load_slope, curvature, bend_flex, shear_flex, length,
        from;
  };

  /// Two places are one where they differ by less: rounding.
  [[nodiscard]] static Scalar same_place(Scalar length_m) {
    return Scalar(32) * std::numeric_limits<Scalar>::epsilon() * length_m;
  }
  /// Of a run that check() found good.
  Solver(const Run<Scalar>& run, int columns, Scalar* storage);
  [[nodiscard]] static Result<Done, RunFault> check(const Run<Scalar>& run, int columns,
                                                    std::span<const Scalar> storage);
  void find_nodes();
  void integrate();
  void integrate_warping();
  [[nodiscard]] int node_at(Scalar x_m) const;
  [[nodiscard]] Flex flex(int interval) const {
    const Scalar* const begin = flex_ + kFlexes * std::size_t(interval);
    return {begin[0], begin[1], begin[2], begin[3]};
  }
  void set_flex(int interval, Flex yields) {
    Scalar* const begin = flex_ + kFlexes * std::size_t(interval);
    begin[0] = yields.bend;
    begin[1] = yields.shear;
    begin[2] = yields.twist;
    begin[3] = yields.warping;
  }
  [[nodiscard]] Place place(Scalar x_m, Side side) const;
  [[nodiscard]] LoadTerms load_terms(int index, Place place) const;
  void basis_at(Place place, Basis& basis) const;
  [[nodiscard]] Interval interval_of(int stage, int interval) const;
  [[nodiscard]] Scalar bow_height(Scalar x_m, int bow) const;
  [[nodiscard]] Scalar bow_slope(Scalar x_m, int bow) const;
  [[nodiscard]] Scalar load_factor(int stage, int load) const;
  [[nodiscard]] Scalar elastic_bend(int stage, const Scalar* basis) const;
  [[nodiscard]] Scalar elastic_twist(int stage, const Scalar* basis) const;
  void combine(int stage, const Scalar* bend_basis, Scalar rigid_height, Scalar rigid_rotation,
               bool whole_shape, Scalar x_m, std::span<Scalar> out) const;
  void combine_roll(int stage, const Scalar* roll_basis, Scalar rigid_roll, std::span<Scalar> out) const;

  // What a support can hold: its motions, then the warp.
  static constexpr int kHeldWarp = kMotionCount, kMostHeld = kMotionCount + 1;
  // What of the run one system of equations is about.
  struct Parts {
    bool bending, torsion;
  };
  static constexpr Parts kBending{true, false}, kTorsion{false, true}, kTogether{true, true};
  // A motion that an engaged support holds, and the columns of the released structure that its force loads.
  struct HeldMotion {
    int support;
    Motion motion;
    int bend;   // a unit of its force or couple; -1: it does not bend the run
    int twist;  // `lever` of torque, or a bimoment; -1: it does not twist the run
    Scalar lever;
    bool warps;  // it holds not a motion but the warp
  };
  struct Held {
    HeldMotion row[kMostHeld * kMaxSupports];
    int count = 0;
  };
  class Statics;
  /// The arm by which a support's rise takes part in roll; 0: in none.
  [[nodiscard]] Scalar arm(int support) const {
    const Support<Scalar>& of = run_.supports[std::size_t(support)];
    return of.rise.held ? of.across_m - run_.shear_centre_m : Scalar(0);
  }
  [[nodiscard]] const Restraint<Scalar>& restraint(const HeldMotion& row) const {
    return run_.supports[std::size_t(row.support)].restraint(row.motion);
  }
  [[nodiscard]] Result<Held, StageFault> held_motions(int stage, std::uint32_t engaged, Parts parts) const;
  [[nodiscard]] Result<Done, StageFault> hold_the_run(int stage, const Held& held, Parts parts) const;
  [[nodiscard]] bool stand_in_line(const Held& held) const;
  [[nodiscard]] bool one_too_many(const Held& held, int row) const;
  [[nodiscard]] bool warp_is_held(const Held& held, int node) const;
  /// Whether a stage lists a support beside the axis: bending and torsion are one system then.
  [[nodiscard]] bool couples(int stage) const;

  void set_zeros(int stage);
  [[nodiscard]] Result<Done, StageFault> settle(int stage);
  [[nodiscard]] Result<Done, StageFault> finish(int stage, std::uint32_t engaged);
  [[nodiscard]] std::uint32_t all_supports() const {
    return (run_.supports.size() >= 32 ? 0u : (1u << run_.supports.size())) - 1u;
  }
  [[nodiscard]] std::uint32_t one_way() const;
  [[nodiscard]] static std::uint32_t bearing_of(std::uint32_t listed, std::uint32_t choice,
                                                std::uint32_t pattern);
  [[nodiscard]] Result<Done, StageFault> solve_forces(int stage, std::uint32_t engaged);
  [[nodiscard]] Result<Done, StageFault> solve_values(int stage, std::uint32_t engaged, Parts parts);
  [[nodiscard]] Result<Done, StageFault> solve_derivatives(int stage, std::uint32_t engaged, Parts parts);
  [[nodiscard]] bool contradicts(int stage, std::uint32_t engaged, int* support) const;
  [[nodiscard]] Result<Done, StageFault> check(const State<Scalar>& state) const;

  [[nodiscard]] Scalar* bend(int node, BendRow row) const {
    return bend_ + (std::size_t(node) * kBendRows + std::size_t(row)) * std::size_t(bend_columns_);
  }
  [[nodiscard]] Scalar* twist(int node, TwistRow row) const {
    return twist_ + std::size_t(node * twist_rows_ + row) * std::size_t(twist_columns_);
  }
  // Solution of a stage: row `unknown` (clamp height, clamp slope, support forces and couples; then clamp
  // roll, support torques), column 0 the value, column 1 + p the derivative by parameter p.
  [[nodiscard]] Scalar* solution(int stage, int unknown) const {
    return solution_ + (std::size_t(stage) * std::size_t(unknowns_) + std::size_t(unknown)) *
                           std::size_t(1 + max_parameters_);
  }
  [[nodiscard]] Scalar* clamp_height(int stage) const { return solution(stage, kClampHeight); }
  [[nodiscard]] Scalar* clamp_slope(int stage) const { return solution(stage, kClampSlope); }
  [[nodiscard]] Scalar* clamp_roll(int stage) const { return solution(stage, twist_row_ + kClampRoll); }
  /// Force or couple of a column of the released structure, and torque (or bimoment) of one of torsion.
  [[nodiscard]] Scalar* force(int stage, int column) const { return solution(stage, kForces + column); }
  [[nodiscard]] Scalar* torque(int stage, int column) const {
    return solution(stage, twist_row_ + kTorques + column);
  }
  /// `held`: a motion, or kHeldWarp.
  [[nodiscard]] std::size_t index(int support, int held) const {
    return std::size_t(support * holds_ + held);
  }
  [[nodiscard]] Scalar* zero(int support, int held) const {
    return zero_ + index(support, held) * std::size_t(1 + max_parameters_);
  }
  [[nodiscard]] Scalar* zero(int support, Motion motion) const { return zero(support, int(motion)); }
  [[nodiscard]] Scalar& stage_zero(int stage, int support, int held) const {
    return stage_zeros_[std::size_t(stage * holds_) * run_.supports.size() + index(support, held)];
  }

  [[nodiscard]] Scalar* stage_rise(int stage, int support) const {
    return stage_rise_ +
           (std::size_t(stage) * run_.supports.size() + std::size_t(support)) * std::size_t(max_parameters_);
  }

  Run<Scalar> run_;
  int max_parameters_ = 0, parameters_ = 0;
  int nodes_ = 0, support_bends_ = 0, bend_columns_ = 0, support_twists_ = 0, twist_columns_ = 0;
  int unknowns_ = 0, twist_row_ = 0;
  bool warps_ = false;                         // some piece does
  int twist_rows_ = 2, holds_ = kMotionCount;  // one more where the run warps
  Scalar force_unit_ = 1, torque_unit_ = 1;  // EI / length^2, GJ / length: the small systems are of order one

  Motions<int> column_[kMaxSupports] = {};  // of the released structure; -1: not held. Roll: of torsion
  int torque_column_[kMaxSupports] =
      {};                               // of torsion: the torque of a rise beside the axis; -1: there is none
  int warp_column_[kMaxSupports] = {};  // of torsion: the bimoment; -1: it holds no warp
  int support_node_[kMaxSupports] = {};
  int part_first_[kMaxLoadParts] = {}, part_last_[kMaxLoadParts] = {};  // nodes
  bool warmth_[kMaxLoads] = {};
  std::uint32_t engaged_[kMaxStages] = {};
  Parameter parameter_[kMaxParameters] = {};
  State<Scalar> state_;
  const Scalar* share_ = nullptr;  // solve_held(): factor on each load

  // In the caller's storage.
  Scalar* node_m_ = nullptr;   // nodes
  Scalar* jump_ = nullptr;     // nodes; 0 or 1
  Scalar* flex_ = nullptr;     // intervals x Flex
  Scalar* bend_ = nullptr;     // nodes x BendRow x bend_columns
  Scalar* twist_ = nullptr;    // nodes x TwistRow x twist_columns
  Scalar* couples_ = nullptr;  // nodes: how the warps of a node and of the next hang together, N m3
  Scalar* excess_ =
      nullptr;  // nodes: what a pivot of the system for the warps is more than that; 0: nothing warps there
  Scalar* solution_ = nullptr;  // stages x unknowns x (1 + parameters)
  Scalar* zero_ = nullptr;      // supports x motions x (1 + parameters): zero positions of the stage in hand
  Scalar* stage_zeros_ = nullptr;  // stages x supports x motions: their values, stage by stage
  Scalar* stage_rise_ = nullptr;   // stages x supports x parameters: derivatives of the rises among them
};

// Instantiated for double and float in solver.cpp (the released structure), stages.cpp and shape.cpp.

}  // namespace hangtrue::beam
