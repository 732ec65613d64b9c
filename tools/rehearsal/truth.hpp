// truth.hpp: a run as it might really hang, drawn from its sheet by a seed: what a rehearsal's instruments look at.
//
// Drawn    each support's offset (rise, pitch, roll), the factor on each spring, on bending and torsion stiffness and on
//          each load, the bow as made, each instrument channel's zero error, each set-up's datum height and tilt.
//          Normal, cut at two sigma, with the sheet's own prior sigma where that is narrow and with kMost... below
//          where it is wide: a sheet's wide prior says "not known", not "usually that far off".
// Fit-up   a support that engages only after the surveyed stage meets the run where that then is; its offset is its misfit, by
//          the sheet's fit_up. What it pulls home has its own zero, as well as the fit takes it to be known.
// Marks    stable ones off the run: each a height, drawn once, that stays whatever the run does.
// Visits   another visit has other datums, and where the kit was meanwhile away also other zero errors.
// Moves    of supports, made for good at the stage that is looked at. Those made at a later stage count as made at that of the
//          first: the same wherever no support engages in between.
// Creep    of wood-based parts, where it is asked for: exactly as expected_drift.hpp has it, from the stage that is looked at.
// Seeds    the same sheet, kit and seed give the same truth; each quantity has its own stream, so that a set-up or a
//          channel more changes no other.
// Units    SI, axes and signs as in core/beam/run.hpp.
// Errors   std::invalid_argument with the sheet's words where the run cannot be solved as the sheet has it.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "core/beam/solver.hpp"
#include "core/survey/observation.hpp"
#include "core/survey/reading.hpp"
#include "firmware-host/job/expected_drift.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::rehearsal {

inline constexpr double kMostRise_m = 0.003;    // sigma of a support's rise offset, at most
inline constexpr double kMostTurn_rad = 0.003;  // of its pitch and roll
inline constexpr double kMostLog = 0.15;        // of the logarithm of a spring's factor
inline constexpr double kUsualDatum_m =
    -1.4;  // height of the laser plane below the run, unless the channel's range says more

/// What somebody put under an instrument, for the guided check of its scale.
struct PutUnder {
  double end_m = 0,
         left_m =
             0;  // thickness under the foot nearer to the end of the run, and under that at the left edge
  double feet_across_m = 1;  // between its feet across the run
  double higher_m = 0;       // how much higher it is than it would be
  friend bool operator==(const PutUnder&, const PutUnder&) = default;
};

/// Where an instrument stands.
struct Stand {
  double at_m = 0;
  int face = 1;  // 1 or -1
  survey::Edge edge = survey::Edge::middle;
  int set_up = 0;  // of the laser datum, counted from 0
  int mark = -1;   // the laser is held at that mark of the run sheet, which is at at_m; -1: on the run
  PutUnder put = {};
  friend bool operator==(const Stand&, const Stand&) = default;
};

/// What a line of heights tells at a glance.
struct Profile {
  std::vector<double> at_m, height_m;
  /// Slope of the straight line through it by least squares, rad.
  [[nodiscard]] double tilt_rad() const;
  /// Largest departure from that line, m, with its sign: negative where the run hangs below it.
  [[nodiscard]] double sag_m() const;
};

class Truth {
 public:
  Truth(const sheet::RunSheet& run, const sheet::KitSheet& kit, int stage, std::uint64_t seed);

  /// What channel `channel` of instrument `instrument` (indices into the kit) reads, without noise: zero error, face,
  /// datum, feet and all; SI. A channel with a station of its own stands there, whatever `stand` says.
  /// temperature: Celsius; station: number counted from 1 of the station nearest to the stand.
  [[nodiscard]] double reading(std::size_t instrument, std::size_t channel, const Stand& stand) const;

  [[nodiscard]] const sheet::RunSheet& run() const { return run_; }
  [[nodiscard]] const beam::State<double>& state() const { return state_; }
  [[nodiscard]] double zero(std::size_t instrument, std::size_t channel) const;
  [[nodiscard]] double mark_height_m(int mark) const { return kit_state_.mark_height_m[mark]; }
  [[nodiscard]] double datum_height_m(int set_up) const { return kit_state_.datum_height_m[set_up]; }
  [[nodiscard]] double datum_tilt_rad(int set_up) const { return kit_state_.datum_tilt_rad[set_up]; }

  /// Heights of the reference line at the surveyed stage.
  [[nodiscard]] Profile profile(std::span<const double> at_m) const;
  /// Highest minus lowest of all stations and both edges at the stage that counts as finished (or twice the largest
  /// departure from the sheet's target height), m.
  [[nodiscard]] double level_error_m() const;
  /// The same after these moves of the supports' zeros, made at the surveyed stage; one entry a support.
  [[nodiscard]] double level_error_after_m(std::span<const beam::Motions<double>> moves) const;

  /// Moves that support's zero for good. std::invalid_argument, and nothing is moved, where the run would not stand then.
  void move(int support, const beam::Motions<double>& by);
  /// Comes anew, the first visit being 0: the datums of that visit from now on, and with `kit` its zero errors too.
  void visit(std::uint64_t visit, bool kit);
  /// What lasting loads have done to wood-based parts so many days after they came on; in the place of what was asked for before.
  /// The change of the run's lowest point against its ends, m; 0 where nothing creeps.
  double let_creep(double days);
  /// Looks at that stage from now on.
  void look_at(int stage);

 private:
  [[nodiscard]] beam::State<double> moved(std::span<const beam::Motions<double>> moves) const;
  [[nodiscard]] double level_error_m(const beam::Solver<double>& solver) const;

  const sheet::RunSheet run_;
  const sheet::KitSheet kit_;
  std::uint64_t seed_;
  int stage_ = 0;
  beam::State<double> state_;
  survey::KitState<double> kit_state_;
  std::vector<std::vector<double>> zeros_;           // by instrument and channel
  job::SolvedRun solved_;                            // at state_
  std::shared_ptr<const job::DriftForecast> crept_;  // nullptr: nothing
};

}  // namespace hangtrue::rehearsal
