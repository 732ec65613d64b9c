// cures.hpp: what would bring a run level that its settings cannot: only what does, by trying it.
//
// Tried    each alone, with the stock and the steps as they are: the same run less sag (stiffer, lighter or cambered), without
//          twist, without the bow that was found; and finer steps, with continuous settings. Then less sag and finer steps
//          together, where neither does alone.
// Cures    where the best choice of moves (core/adjust/search.hpp) then meets the tolerance; for finer steps where the least
//          error over all continuous settings does.
// Twist    the difference of the two edges, taken out at every station.
// Units    SI.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "core/adjust/cure.hpp"
#include "core/adjust/search.hpp"
#include "firmware-host/job/fault.hpp"
#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

struct LessSag {
  double stiffness_factor = 1;  // so many times as stiff,
  double load_factor = 1;       // or so much of the loads,
  double camber_m = 0;          // or so much camber built in
};

struct Cures {
  bool no_settings = false;         // not even continuous settings keep travel and limits of force
  double continuous_error_m = 0;    // least level error without steps
  bool finer_steps = false;         // alone
  std::optional<LessSag> less_sag;  // alone
  std::optional<LessSag> less_sag_and_finer_steps;
  bool no_twist = false;
  double twist_m = 0;  // largest difference of the two edges, finished, as things are
  bool no_bow = false;
};

/// `problem` and its influences as for the choice; sag_m one entry a check point: what stiffness alone would take away;
/// bow_m one entry a station, empty where no bow was found.
[[nodiscard]] Result<Cures, Fault> find_cures(const adjust::Problem<double>& problem,
                                              std::span<const double> sag_m, double tolerance_m,
                                              std::span<const double> bow_m,
                                              adjust::Workspace<double>& workspace);

/// The bow as made, one entry a station; empty where the fit found none.
[[nodiscard]] std::vector<double> bow_found(const FitReport& report);

}  // namespace hangtrue::job
