// settings.hpp: what can be set at a stage, what each setting does to the finished run, and with what: the problem that
// core/adjust/search.hpp chooses from.
//
// Moves     count from the run as the state has it, and are made at `stage`; of a support that engages only later, when it
//           engages.
// One-way   Every one-way support is taken as holding both ways, so that all is linear; limits keep it loaded.
// Limits    in every stage from `stage` to the finished one: ratings, and one-way supports stay engaged, lifts too: a run whose
//           lift goes free hangs on what is left.
// Points    station 0 left, station 0 right, station 1 left ... as of edge_heights() (prediction.hpp).
// Units     SI, radians; signs as in core/beam/run.hpp.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/adjust/problem.hpp"
#include "firmware-host/job/fault.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

/// What one move does to another support that is engaged at the stage of the moves.
struct Effect {
  std::string support;
  double rise_m = 0;   // of the run there
  double force_N = 0;  // more (or less) that it carries
};

class Settings {
 public:
  /// The sheet must outlive it.
  Settings(const sheet::RunSheet& run, int stage, int finished);
  Settings(const Settings&) = delete;
  Settings& operator=(const Settings&) = delete;

  /// What stands in the way, or nothing; find() may be called only where nothing does.
  [[nodiscard]] const std::optional<Fault>& trouble() const { return linear_.trouble(); }
  /// Once. `state` without moves.
  /// `more_m`: what stands on the heights beside what the state gives, by point; empty: nothing.
  [[nodiscard]] Result<Done, Fault> find(beam::State<double> state, const std::vector<double>& more_m = {});

  // After find() without fault. -----------------------------------------------------------------------------------

  /// Valid as long as this is.
  [[nodiscard]] const adjust::Problem<double>& problem() const { return problem_; }
  /// Of the finished heights: what stiffness alone would take away. One entry a check point.
  [[nodiscard]] std::span<const double> sag_m() const { return sag_m_; }
  /// What a move of that support does to each other one.
  [[nodiscard]] std::vector<Effect> effects(int support, const beam::Motions<double>& move) const;

 private:
  // One motion of a support that can be set; what one metre or radian of it does.
  struct Motion {
    int support, motion;
    std::vector<double> on_height;  // one a check point, finished
    std::vector<double> on_force;   // one a force limit
  };
  struct AtSupport {
    int support;
    std::vector<double> rise, force;  // one a motion; at the stage of the moves
  };

  [[nodiscard]] bool engaged(int stage, int support) const {
    return run_.beam_stages[std::size_t(stage)].lists_support(support);
  }
  [[nodiscard]] std::vector<beam::Parameter> list_motions();
  void find_influence(const beam::State<double>& state);
  void limit_forces();
  void list_stocks();
  void list_places();

  const sheet::RunSheet& run_;
  const int stage_, finished_;
  sheet::RunSheet linear_sheet_;
  SolvedRun linear_;

  std::vector<int> adjustable_;  // supports
  std::vector<Motion> motions_;
  std::vector<double> height_m_, sag_m_;
  std::vector<AtSupport> at_supports_;  // those that are engaged at the stage of the moves
  std::vector<adjust::ForceLimit<double>> forces_;
  std::vector<std::vector<adjust::PieceKind<double>>> kinds_;
  std::vector<adjust::Stock<double>> stocks_;
  std::vector<adjust::Place<double>> places_;
  adjust::Problem<double> problem_;
};

}  // namespace hangtrue::job
