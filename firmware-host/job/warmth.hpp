// warmth.hpp: what rods and posts grow by as they get warmer, taken off the readings of a survey.
//
// Model     A rod of length L that hangs from above lowers its support by a L (T - T0), a post that stands on the floor raises it by
//           as much; a: thermal expansion. T is the temperature that was read with each reading; the mean of the survey stands for
//           readings without one. T0 is that at which the supports stood so (CarriedState::temperature_C), else the mean of the
//           survey. Each reading loses what such a move of all supports at once does to it, at the survey's stage.
// Limits    The run and what bears on it are as the sheet has them, so a share of the growth that is off by their error stays in
//           the readings. Walls, brackets and what a rod hangs from are taken to stay. Without any temperature nothing is taken off.
// Doubt     Of what the survey's mean differs from T0: kExpansionSigma of it, and kRodTemperatureSigma_C at both times.
// Units     m, degrees Celsius; rises up positive; sigma is one standard deviation.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/survey/reading.hpp"
#include "firmware-host/sheet/readings.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

/// One support at the mean temperature of the survey, against the one at which it stood so.
struct Grown {
  std::string support;
  double rise_m = 0, sigma_m = 0;
};

struct Warmth {
  std::vector<Grown> supports;            // of the stage, whose growth the sheet knows
  std::optional<double> stood_C, mean_C;  // T0; of the survey's readings. None: nobody read one
  double coolest_C = 0, warmest_C = 0;    // of the readings; where mean_C
  bool should_be_read = false;            // none was, and it could matter (kWarmthMatters)
};

/// Takes it off `readings`, one an entry. `stood_C`: T0; none: the survey's own mean.
[[nodiscard]] Warmth take_off_warmth(const sheet::RunSheet& run, int stage,
                                     std::span<const sheet::ReadingEntry> entries,
                                     std::optional<double> stood_C,
                                     std::span<survey::Reading<double>> readings);

/// The two supports of that stage that kPlausibleWarmth_C would move against each other by the most, m; and the one that moves.
struct WarmthToCome {
  std::string support;
  double by_m = 0;
};
[[nodiscard]] WarmthToCome warmth_to_come(const sheet::RunSheet& run, int stage);

}  // namespace hangtrue::job
