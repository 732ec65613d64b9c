// dense_run.hpp: the finished run as it really would be, by a way of its own: a dense stiffness matrix over a mesh.
//
// Why     The trials of the hold point need a truth that shares nothing with the solver under test. That one goes by forces;
//         this one by displacements. The two share the run's description (core/beam/run.hpp), which is data alone.
// Model   Timoshenko beam in bending, Saint-Venant torsion, small displacements; a support beside the axis couples them: its
//         reaction acts on height + across * roll. Warping: cubic elements in roll, stiffness GJ and E Iw (the matrices of a beam
//         under tension; Przemieniecki, ch. 5 and 15, from memory). Bends about the shear centre, which may lie to one side. Elements that are exact at their nodes:
//         J. S. Przemieniecki, Theory of Matrix Structural Analysis, 1968, ch. 5 (stiffness with shear, from memory);
//         Z. Friedman and J. B. Kosmatka, Computers & Structures 47 (1993) 473 (shape functions with shear, from memory).
//         Support reactions are multipliers, so that rigid is exact:  shape + compliance * reaction = zero position.
// Stages  A support new to a stage locks at the run's present position plus its offset (the first stage: at zero, straight);
//         a motion pulled home locks at its offset alone; a support that comes back locks anew without its offset. A support
//         that is no longer listed carries nothing. Moves act at the stage in which they are made, on supports that are
//         engaged then; on others when they next engage.
// One-way Every subset of the one-way supports is tried; a subset is an equilibrium where every bearing one pushes the run up
//         (or carries nothing) and no lifted one is run into. A lifted one holds in no motion. Several equilibria may exist.
// Units   SI, radians; signs as in core/beam/run.hpp.
// Limits  a straight run of some metres and some tens of elements: a finer mesh loses digits (fourth power of their number).
//         Between nodes the height is a cubic, wrong by q h^4 / (384 EI) at the most; the roll a straight line, or a cubic where the
//         run warps, wrong there by the fourth power of h sqrt(GJ / E Iw).
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include <Eigen/Dense>

#include "core/beam/run.hpp"

namespace hangtrue::hold_trials {

/// What is true of a run besides its sheet.
struct TrueRun {
  beam::State<double> state;  // offsets, springs, factors, bow, moves
  beam::Motions<double>
      added_compliance[kMaxSupports]{};  // of supports softer than the sheet says; m/N, rad/(N m)
  std::uint32_t which = 0;               // of several equilibria: this one, counted round
};

/// The run at the end of one stage.
struct StageShape {
  Eigen::VectorXd bend;   // height and section rotation of every node, without the bow
  Eigen::VectorXd twist;  // roll and warp, d(roll)/dx, of every node
  std::array<double, kMaxBows> bow_m{};
  std::uint32_t bearing = 0;                                   // supports that hold the run
  std::array<beam::Motions<double>, kMaxSupports> reaction{};  // on the run; roll: the support's own couple
  int equilibria = 0;                                          // that exist under this stage's zero positions
};

class DenseRun {
 public:
  /// `places_m`: more places that become nodes. The run's arrays must outlive this.
  explicit DenseRun(const beam::Run<double>& run, std::span<const double> places_m = {}, int elements = 60);

  /// All stages up to and with `last`; nothing where one of them has no equilibrium (the run falls, tips or spins).
  /// `then`: what is true from stage `from` on, where that is not what was true while supports engaged before it.
  [[nodiscard]] std::optional<std::vector<StageShape>> solve(const TrueRun& truth, int last,
                                                             const TrueRun* then = nullptr,
                                                             int from = 0) const;

  [[nodiscard]] double height(const StageShape& shape, double x_m, double across_m = 0) const;
  [[nodiscard]] double roll(const StageShape& shape, double x_m) const;
  [[nodiscard]] const std::vector<double>& nodes_m() const { return nodes_m_; }

  /// Motion of the run at one support under a unit force (or couple) in that motion there, all other motions of the supports
  /// in `engaged` holding as the sheet says; nothing where the run then falls or turns. m/N or rad/(N m).
  [[nodiscard]] std::optional<double> flexibility(std::uint32_t engaged, int support,
                                                  beam::Motion motion) const;

 private:
  // A stiffness matrix in which only what supports act on is left.
  struct Condensed {
    Eigen::MatrixXd stiffness;  // kept x kept
    Eigen::MatrixXd load;       // kept x loads
    Eigen::MatrixXd spread;     // all x kept: what the kept ones do to all
    Eigen::MatrixXd own;        // all x loads: what loads do while the kept ones are held
  };
  struct Zeros {
    std::array<beam::Motions<double>, kMaxSupports> motion;
    std::array<double, kMaxSupports> warp;
  };

  void make_mesh(std::span<const double> places_m, int elements);
  [[nodiscard]] Condensed condense_bending() const;
  [[nodiscard]] Condensed condense_torsion() const;
  [[nodiscard]] static Condensed condense(const Eigen::MatrixXd& stiffness, const Eigen::MatrixXd& load,
                                          const std::vector<int>& kept);
  [[nodiscard]] int node_at(double x_m) const;
  [[nodiscard]] std::array<double, 4> stiffness_over(double from_m, double to_m) const;
  [[nodiscard]] double load_factor(const TrueRun& truth, int stage, int load) const;
  [[nodiscard]] double compliance(const TrueRun& truth, int support, beam::Motion motion) const;
  void lock(const TrueRun& truth, int stage, const std::vector<StageShape>& before, Zeros& zeros) const;
  [[nodiscard]] bool holds(std::uint32_t engaged) const;
  [[nodiscard]] StageShape shape(const TrueRun& truth, int stage, const Zeros& zeros,
                                 std::uint32_t engaged) const;
  [[nodiscard]] bool is_equilibrium(const StageShape& shape, std::uint32_t listed, const Zeros& zeros) const;

  beam::Run<double> run_;
  std::vector<double> nodes_m_;
  std::vector<std::array<double, 4>> flex_;  // of each element: EI, GA, GJ, E Iw
  std::vector<int> kept_nodes_;              // with supports, each once
  std::array<int, kMaxSupports> kept_{};     // of each support: index into kept_nodes_
  std::array<bool, kMaxLoads> warm_{};
  double weight_N_ = 0;  // of everything: what small forces are compared with
  Condensed bending_, torsion_;
};

/// Highest less lowest of all stations' edges; with a target twice the largest departure from it.
[[nodiscard]] double level_error(const DenseRun& run, const StageShape& shape,
                                 std::span<const double> stations_m, double width_m,
                                 std::optional<double> target_m = {});

}  // namespace hangtrue::hold_trials
