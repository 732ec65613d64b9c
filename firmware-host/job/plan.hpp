// plan.hpp: before going to site: where to read, with what, how often, to be as sure as is wanted; and what such readings
// cannot tell apart.
//
// Certainty  For levelling: sigma of the finished height less the mean, r.m.s. over all stations and both edges. It is what the
//            fit's next best reading brings down, and it does not depend on a shape that nobody has seen yet, as the sigma of
//            highest minus lowest would. Wanted unless said: kLevellingShare of the tolerance.
//            For a recheck: the smallest rise or sinking that two such surveys would show, at the worst of the engaged
//            supports. Wanted unless said: kRecheckShare of the tolerance.
// Choice     Greedy: each time what takes most variance away a reading (fit::Fit::next_reading); then stops change places as
//            long as that helps, and those that are not needed go. A walking inclinometer is read both ways round wherever it
//            stands, all of its channels. A further set-up of the laser is taken only where the ones before do not suffice.
//            Instruments that stay are read once.
// Checked    Then more is read as long as there is a stop of which no other reading would show a mistake (plan_check.hpp). At
//            least kLeastPlaces places are read.
// Closing    Each instrument that is carried along reads the first, the middle and the last of its places once more at the end; of a
//            laser those of its last set-up. What moved meanwhile shows there; certainty does not count it.
// Stations   Of more than kMostPlannedStations so many are chosen among, spread evenly; certainty is told for these.
// Rests on   the run as the sheet predicts it, linearised there; sigmas, zero errors and datum tilts of the kit and the sheet.
//            A run that hangs far from what is predicted (a support turned much, on a soft bracket) is known less well.
// Stops      when reached, at kMostPlanned readings, or, where no number of readings would do, when more of them would take
//            less than a tenth of what is left.
// Units      SI, rad; sigma is one standard deviation.
#pragma once

#include <limits>
#include <string>
#include <vector>

#include "firmware-host/job/fault.hpp"
#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::job {

enum class PlanFor { levelling, recheck };

struct PlanWish {
  PlanFor what = PlanFor::levelling;
  int stage = 0;
  double wanted_m = 0;                         // > 0
  double least_redundancy = kLeastRedundancy;  // 0: a mistake need not show
};

/// One place to read, with one instrument.
struct PlanStop {
  std::string set_up;  // of a distance; else empty
  double at_m = 0;
  std::string mark;  // a distance to that stable mark; empty: on the run
  std::string instrument;
  std::vector<Channel> channels;
  survey::Edge edge = survey::Edge::middle;
  bool both_faces = false;
  bool stays = false;  // an instrument that is not carried along
  int times = 1;
  [[nodiscard]] int readings() const { return times * (both_faces ? 2 : 1) * int(channels.size()); }
};

/// An unknown that leaves the finished heights open.
struct LeavesOpen {
  UnknownId unknown;
  double sigma_after_m = 0;  // certainty for levelling if it were known
};

/// Why an unknown is hardly learned.
enum class NotLearnedBecause {
  not_on_yet,  // a load of a later stage
  not_seen     // by these readings
};
struct NotLearned {
  NotLearnedBecause why{};
  std::vector<UnknownId> unknowns;
};

struct SmallestMovement {
  UnknownId movement;  // move_rise, move_pitch or move_roll of a support; change is true
  // m or rad; infinite where no size would show. With the marks of the sheet; and with a mark beyond each end instead. Marks
  // are taken to have stayed where they were.
  double smallest = std::numeric_limits<double>::infinity();
  double with_two_marks = std::numeric_limits<double>::infinity();
};

struct Plan {
  PlanWish wish;
  bool reached = false;
  double certainty_m = 0;               // of all that is planned, as wished for
  double sigma_before_m = 0;            // for levelling, nothing read
  double sigma_m = 0;                   // for levelling, all read
  double sigma_at_best_m = 0;           // for levelling, with ever so many readings of this kit at this stage
  int readings = 0;                     // of the walk, without its closing
  std::vector<PlanStop> walk;           // in order
  std::vector<PlanStop> closing;        // then: what is read once more, to close the walk
  std::vector<LeavesOpen> leaves_open;  // most first, at most kMostLeftOpen; those beyond kWorth
  std::vector<std::vector<UnknownId>> not_apart;  // groups of which only what they do together shows
  std::vector<NotLearned> not_learned;
  std::vector<SmallestMovement> movements;  // of a recheck
  // Of a recheck: the run as a whole, higher or lower.
  double whole_run_m = std::numeric_limits<double>::infinity();
  double whole_run_with_two_marks_m = std::numeric_limits<double>::infinity();
};

/// The stage that a plan is for unless said: for levelling the first that has the supports of the finished one, when all can
/// still be set; for a recheck the finished one.
[[nodiscard]] int planned_stage(const sheet::RunSheet& run, PlanFor what);

[[nodiscard]] Result<Plan, Fault> make_plan(const sheet::RunSheet& run, const sheet::KitSheet& kit,
                                            const PlanWish& wish);

/// The planned readings, their values as the sheet predicts them. In the order of the walk.
[[nodiscard]] std::vector<sheet::ReadingEntry> planned_readings(const sheet::RunSheet& run,
                                                                const sheet::KitSheet& kit, const Plan& plan);

}  // namespace hangtrue::job
