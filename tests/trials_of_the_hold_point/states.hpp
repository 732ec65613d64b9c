// states.hpp: what may be true of a run while it is surveyed, and what a person then reads.
//
// A state is drawn from the sheet's own priors: offsets, springs, stiffness, loads, bow, zero errors, datum, and the misfit of
// supports that are bolted on after the survey. A right state has nothing else. A wrong one has one thing that neither sheet
// nor priors know, by its kind. The same seed gives the same state.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/readings.hpp"
#include "firmware-host/sheet/run_sheet.hpp"
#include "tests/trials_of_the_hold_point/dense_run.hpp"
#include "tests/trials_of_the_hold_point/sheets.hpp"

namespace hangtrue::hold_trials {

enum class Kind {
  // Nothing is wrong. Level: so set that the finished run is well within its tolerance, all supports bearing.
  level,
  level_early,  // with supports still to come, whose own misfit is drawn afterwards
  unlevel,
  unlevel_early,
  bearing,     // one-way supports bear and hang free in every way
  not_closed,  // level or not; the walk is not closed
  // A support rises, pitches or rolls while the run is read.
  slip_early,
  slip_late,
  slip_in_closing,
  slip_not_closed,
  datum_knocked,
  one_stray,
  strays_together,
  stop_misplaced,  // read one to three stations beside the place that was noted
  two_stations,    // nowhere else was read
  // The sheet's unit, scale or sign of an instrument is not that of its values. Never checked.
  takes_degrees,
  takes_percent,
  takes_in_per_ft,
  takes_inches,
  sign_swapped,
  wrong_though_checked,  // one of these, and the kit sheet says that the scale was checked
  soft_bracket,          // called rigid; up to a fifth of the run's own flexibility
  from_other_end,        // places and signs mirrored
  lift_hangs_free,
  load_forgotten,
  load_doubled,
  face_of_a_stop,  // both faces exchanged at one place
  face_of_one,     // one reading's face
  count
};
inline constexpr int kKinds = int(Kind::count);
[[nodiscard]] std::string_view name(Kind kind);
/// Whether nothing is wrong.
[[nodiscard]] bool is_right(Kind kind);

/// One of the trial sheets with everything that is worked out once.
struct Ground {
  explicit Ground(const TrialSheet& from);
  Ground(const Ground&) = delete;  // views its own sheet
  Ground(Ground&&) = default;
  TrialSheet sheet;
  sheet::RunSheet run;
  sheet::KitSheet checked, unchecked;  // kits: scale checked or not
  beam::Run<double> view;
  DenseRun dense;
  int finished = 0;
  [[nodiscard]] bool has_laser() const;
  [[nodiscard]] bool lists_one_way(int from_stage, int to_stage) const;
};

/// What an instrument adds to all that it reads; SI.
struct TrueZero {
  std::string instrument;
  Channel channel{};
  double zero = 0;
};
/// The plane of one placing of the laser: height at the start mark, and tilt along the run.
struct TrueDatum {
  std::string set_up;
  double height_m = 0, tilt_rad = 0;
};

struct State {
  Kind kind{};
  std::uint64_t seed = 0;
  int stage = 0;  // of the survey
  bool scale_checked = true;
  bool closed = true;
  TrueRun truth;                   // as it is once the walk is over
  std::vector<StageShape> shapes;  // of it, up to the finished stage
  std::vector<TrueZero> zeros;
  std::vector<TrueDatum> datums;              // as they were before anything knocked one
  std::vector<double> mark_height_m;          // of the sheet's stable marks
  std::vector<sheet::ReadingEntry> readings;  // in order of time
};

/// A state of that kind on that ground, or nothing where the ground cannot have one (no laser to knock, no bracket called
/// rigid, no third lift).
[[nodiscard]] std::optional<State> draw(const Ground& ground, Kind kind, std::uint64_t seed);

/// The run at that stage with nothing wrong, as the sheet's own priors have it; nobody has read it yet. Nothing where the drawn
/// run would fall or tip.
[[nodiscard]] std::optional<State> draw_unread(const Ground& ground, int stage, std::uint64_t seed);
/// What a person then reads on one visit: with zero errors and a datum of that visit's own, and the sheet's stable marks before
/// and after each set-up's walk, each at its height by the state's `mark_height_m`.
[[nodiscard]] std::vector<sheet::ReadingEntry> read_on_a_visit(const Ground& ground, const State& state,
                                                               std::uint64_t seed);

}  // namespace hangtrue::hold_trials
