// plan_walk.hpp: which stops a plan can have, in which order they are walked, and the fit of what would be read there.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "firmware-host/job/plan.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

using Stops = std::vector<PlanStop>;

/// One way to read with an instrument, wherever it stands; both faces at once count as one reading without a zero error.
struct Offer {
  PlanStop stop;  // at_m is open
  std::vector<const sheet::KitChannel*> channels;
};

/// Run, kit and wish of a plan. The sheets must outlive it.
class PlanGround {
 public:
  PlanGround(const sheet::RunSheet& run_sheet, const sheet::KitSheet& kit_sheet, const PlanWish& plan_wish)
      : run(run_sheet), kit(kit_sheet), wish(plan_wish), solved_(run_sheet) {}

  const sheet::RunSheet& run;
  const sheet::KitSheet& kit;
  const PlanWish wish;

  /// Solves the run at what is assumed before any reading: to be called first. `sigma_before_m`: certainty for levelling then.
  [[nodiscard]] Result<Done, Fault> solve(double& sigma_before_m);

  /// What is read whatever else is: by instruments that stay; and the first reading of each set-up, without which no other of
  /// it says anything.
  [[nodiscard]] Stops given(int set_ups) const;
  /// What can be read at a station.
  [[nodiscard]] std::vector<Offer> offers(int set_ups) const;
  /// Most set-ups of the laser that a plan takes; none without one that is carried along.
  [[nodiscard]] int most_set_ups() const;

  /// The reading as the choice weighs it. A distance has the set-up and the zero error that it has in `survey`.
  [[nodiscard]] survey::Reading<double> weighed(const Offer& offer, const sheet::KitChannel& channel,
                                                const sheet::Survey& survey) const;
  /// As the sheet predicts it.
  [[nodiscard]] double predicted(const survey::Reading<double>& reading) const;
  [[nodiscard]] std::vector<sheet::ReadingEntry> readings(const Stops& stops) const;
  /// A survey that took these readings; nullptr where it cannot be fitted.
  [[nodiscard]] std::unique_ptr<SurveyFit> fitted(const Stops& stops) const;

  /// Equal stops together, the only reading of a set-up left out, in the order of a walk.
  [[nodiscard]] Stops tidy(const Stops& stops) const;

 private:
  [[nodiscard]] sheet::ReadingEntry entry(const PlanStop& stop, Channel channel, int face) const;

  SolvedRun solved_;
};

/// One reading of each mark of the sheet in each set-up, behind the walk.
void add_marks(const sheet::RunSheet& run, Stops& walk);
/// What closes that walk.
[[nodiscard]] Stops closing_of(const Stops& walk);
/// Places along the run that are read, in order.
[[nodiscard]] std::vector<double> places_of(const Stops& walk);
[[nodiscard]] int readings_of(const Stops& stops);

}  // namespace hangtrue::job
