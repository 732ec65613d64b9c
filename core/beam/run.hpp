// run.hpp: the run as mechanics sees it: pieces of constant section, loads, supports, stages.
//
// Model   A straight line run from its start mark (x = 0) to its end (x = length), bending in the vertical
//         plane with shear (Timoshenko) and turning about its own axis (Saint-Venant torsion). Small
//         displacements, linear elastic; a piece with E Iw resists twist by warping too (V. Z. Vlasov), free
//         to warp at the ends and at supports that do not hold it. The cross-section keeps its shape; torque
//         counts about the shear centre, which lies at one place across all along. A support may stand beside the axis: its rise then holds the edge
//         there, height + across * roll, and its force turns the run too; several may stand at one place. A
//         one-way support that has lifted holds in none of its motions.
// Axes    x along the run, y to the left when looking along, z up. Height z in m; slope dz/dx in rad,
//         positive where the run climbs; roll about x in rad, positive where the left edge is high.
// Forces  on the run: up positive; couples in the sense of a positive slope; torques in the sense of a
//         positive roll. Loads are weights: down positive. Moment positive sagging, shear = dM/dx, bimoment =
//         E Iw d2(roll)/dx2, torque = GJ d(roll)/dx less d(bimoment)/dx.
// Names   live with the caller; here everything goes by its index.
// Memory  these are views: the arrays belong to the caller and must outlive every solver made from them.
// Source  S. P. Timoshenko, Strength of Materials, Part I (bending, shear deformation, torsion; from memory).
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <span>

#include "core/quantity/limits.hpp"

namespace hangtrue::beam {

/// A stretch of constant section. The first begins at x = 0, each next one where the former ends, the last
/// ends at the run's length. Stiffness is of everything that carries over the stretch together.
template <class Scalar>
struct Piece {
  Scalar to_m;
  Scalar bending_N_m2;  // EI, > 0
  Scalar torsion_N_m2;  // GJ, > 0
  Scalar shear_N =
      std::numeric_limits<Scalar>::infinity();  // G times shear area; infinity: no shear deformation
  // Under lasting load, deformation grows to (1 + creep) times its first value (k_def of EN 1995-1-1; steel
  // 0).
  Scalar bending_creep = 0;
  Scalar torsion_creep = 0;
  Scalar shear_creep = 0;
  Scalar warping_N_m4 = 0;  // E Iw about the axis of bending; 0: twist does not make it warp
  Scalar warping_creep = 0;
};

enum class LoadKind : std::uint8_t {
  spread,  // weight along a stretch, N/m, varying linearly from `begin` at from_m to `end` at to_m
  point,   // weight `begin` in N at from_m
  couple,  // couple `begin` in N m at from_m, in the sense of a positive slope
  warmth   // stress-free curvature `begin` in 1/m over a stretch, positive sagging (warmer below):
           // alpha * (T_below - T_above) / depth
};

/// One part of a named load. A load is the sum of its parts; warmth does not mix with the other kinds in one
/// load.
template <class Scalar>
struct LoadPart {
  int load = 0;  // index of the named load
  LoadKind kind = LoadKind::spread;
  Scalar from_m = 0;
  Scalar to_m = 0;
  Scalar begin = 0;
  Scalar end = 0;
  Scalar across_m = 0;  // where the weight acts across the run, to the left positive
};

/// The motions in which a support can hold the run.
enum class Motion : std::uint8_t { rise, pitch, roll };
inline constexpr std::array kMotions{Motion::rise, Motion::pitch, Motion::roll};
inline constexpr int kMotionCount = int(kMotions.size());

/// One motion that a support restrains.  shape at the support = zero position - compliance * force.
template <class Scalar>
struct Restraint {
  bool held = false;      // false: free, no unknown
  Scalar compliance = 0;  // m/N or rad/(N m); 0: rigid
  bool pulled_home =
      false;  // engages at the support's own zero (misfit becomes force), not at the run's position
};

enum class Holds : std::uint8_t {
  both,  // up and down
  push,  // from below: can only hold the run up
  pull   // from above: can only hold the run up
};

template <class Scalar>
struct Support {
  Scalar at_m = 0;
  Restraint<Scalar> rise, pitch, roll;
  Holds holds = Holds::both;
  Scalar across_m = 0;         // where its rise holds and its force acts across the run, to the left positive
  bool holds_warping = false;  // keeps the section there from warping: d(roll)/dx as it was when it engaged
  [[nodiscard]] constexpr const Restraint<Scalar>& restraint(Motion motion) const {
    return motion == Motion::rise ? rise : motion == Motion::pitch ? pitch : roll;
  }
  [[nodiscard]] constexpr bool one_way() const { return holds != Holds::both; }
};

/// A step of the work. Bit i set: support i listed, load i on.
struct Stage {
  std::uint32_t supports = 0;
  std::uint64_t loads = 0;
  [[nodiscard]] constexpr bool lists_support(int i) const { return ((supports >> i) & 1u) != 0; }
  [[nodiscard]] constexpr bool lists_load(int i) const { return ((loads >> i) & 1u) != 0; }
};
static_assert(kMaxSupports <= 32 && kMaxLoads <= 64, "Stage keeps them as bits");

template <class Scalar>
struct Run {
  Scalar length_m = 0;
  std::span<const Piece<Scalar>> pieces;
  std::span<const LoadPart<Scalar>> load_parts;
  int loads = 0;
  std::span<const Support<Scalar>> supports;
  std::span<const Stage> stages;
  int bows = 0;  // shapes sin(k pi x / length), k = 1 ... bows, stress-free, of amplitude State::bow_m
  Scalar shear_centre_m = 0;  // where the axis of bending lies across: loads beside it twist the run
};

/// Rise, pitch and roll of one support: an offset of its zero, a move, a factor, a force.
template <class Value>
struct Motions {
  Value rise{}, pitch{}, roll{};
  constexpr Value& operator[](Motion m) { return (*this)[int(m)]; }
  constexpr const Value& operator[](Motion m) const { return (*this)[int(m)]; }
  /// 0 rise, 1 pitch, 2 roll.
  constexpr Value& operator[](int m) { return m == 0 ? rise : m == 1 ? pitch : roll; }
  constexpr const Value& operator[](int m) const { return m == 0 ? rise : m == 1 ? pitch : roll; }
};

/// What the shape depends on besides the sheet. The default is the sheet taken at its word.
template <class Scalar>
struct State {
  Motions<Scalar> offset[kMaxSupports];      // of each support's zero from nominal; m, rad, rad
  Motions<Scalar> log_spring[kMaxSupports];  // natural logarithm of the factor on each spring's stiffness
  Scalar bending_factor = 1;                 // on EI and shear stiffness together
  Scalar torsion_factor = 1;                 // on GJ and E Iw together
  Scalar load_factor[kMaxLoads];
  Scalar bow_m[kMaxBows] = {};
  // Moves made now: of each support's zero, acting from move_stage on (a support not engaged then: from when
  // it next engages).  -1: none.
  Motions<Scalar> move[kMaxSupports];
  int move_stage = -1;
  // How much more each motion yields than the sheet says: added to its compliance, m/N and rad/(N m). What a support called
  // rigid may give.
  Motions<Scalar> give[kMaxSupports];
  // In the first `bearing_given` stages the one-way supports whose bit is set in `lifted` do not bear and all others do,
  // whatever their forces say. In later stages what bears is found.
  std::uint32_t lifted[kMaxStages] = {};
  int bearing_given = 0;

  State() {
    for (Scalar& factor : load_factor) factor = Scalar(1);
  }
};

/// A quantity of State by which shapes can be differentiated.
enum class ParameterKind : std::uint8_t {
  offset_rise,
  offset_pitch,
  offset_roll,  // index: support
  bending,
  torsion,  // index unused; per unit of factor
  spring_rise,
  spring_pitch,
  spring_roll,  // index: support; per unit of natural logarithm
  load,         // index: load; per unit of factor
  bow,          // index: bow shape, 0 for sin(pi x / L); per metre
  move_rise,
  move_pitch,
  move_roll,  // index: support; acts from State::move_stage on
  give_rise,
  give_pitch,
  give_roll  // index: support; per unit of compliance
};
struct Parameter {
  ParameterKind kind{};
  std::int16_t index = 0;
  friend constexpr bool operator==(Parameter, Parameter) = default;
};

/// What can be asked of each motion of a support.
inline constexpr Motions<ParameterKind> kOffsets{ParameterKind::offset_rise, ParameterKind::offset_pitch,
                                                 ParameterKind::offset_roll};
inline constexpr Motions<ParameterKind> kSprings{ParameterKind::spring_rise, ParameterKind::spring_pitch,
                                                 ParameterKind::spring_roll};
inline constexpr Motions<ParameterKind> kMoves{ParameterKind::move_rise, ParameterKind::move_pitch,
                                               ParameterKind::move_roll};
inline constexpr Motions<ParameterKind> kGives{ParameterKind::give_rise, ParameterKind::give_pitch,
                                               ParameterKind::give_roll};

}  // namespace hangtrue::beam
