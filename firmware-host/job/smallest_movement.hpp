// smallest_movement.hpp: the smallest movements that two surveys with the same readings would show.
//
// Rests on   the run as the sheet predicts it. The second survey is fitted as a recheck's is: zero errors and datums anew, changes
//            as unknowns (change_candidates.hpp), marks where they were.
// Units      m, rad.
#pragma once

#include <limits>
#include <optional>
#include <vector>

#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/readings.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

struct Movement {
  UnknownId id;  // move_rise, move_pitch or move_roll of an engaged support; change is true
  double smallest =
      0;  // found with kRecheckPower at kRecheckConfidence, corrected for many; infinite: no size would show
};
struct Movements {
  std::vector<Movement> of_supports;
  double whole_run_m =
      std::numeric_limits<double>::infinity();  // higher or lower as a whole, tested by itself
};

/// At the support where it is greatest, the smallest rise or sinking that shows. 0 without a support that holds in rise.
[[nodiscard]] double worst_rise_m(const Movements& movements);

/// None where two such surveys cannot be fitted.
[[nodiscard]] std::optional<Movements> smallest_movements(const sheet::RunSheet& run,
                                                          const sheet::KitSheet& kit, int stage,
                                                          const std::vector<sheet::ReadingEntry>& readings);

}  // namespace hangtrue::job
