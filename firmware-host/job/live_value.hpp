// live_value.hpp: what an instrument reads now, corrected by what is known of it.
//
// Model     value = face * (reads - zero error), as in core/survey/observation.hpp; slope and roll alone. A distance is left as
//           it is: its zero error is part of its datum. Scale, sign and unit are the kit sheet's, applied before; a slope on two
//           feet is the chord over its base, here as in the fit.
// Zero      As the fit of the survey estimates it: with the checks of the instrument, what earlier surveys taught, and both
//           faces of what was read. Without a fit, or where nothing was learned: none, with the sigma of the kit sheet.
// Known     where its sigma is at most kZeroKnown of what the kit sheet says.
// Units     rad or m, as the channel; sigma is one standard deviation.
#pragma once

#include "firmware-host/job/survey_fit.hpp"

namespace hangtrue::job {

/// Of the zero error that the kit sheet allows. No source: half of it tells which side is high where nothing did before.
inline constexpr double kZeroKnown = 0.5;
/// Beyond two sigmas lie 5 % of a normal distribution. No source for the choice: one in twenty is borne for what is but looked at.
inline constexpr double kLeansSigmas = 2;

struct ZeroError {
  double value = 0, sigma = 0;
  bool known = false;
};

/// Of that channel; `fitted` may be nullptr.
[[nodiscard]] ZeroError zero_error(const FitReport* fitted, const std::string& instrument,
                                   const sheet::KitChannel& channel);

struct LiveValue {
  double value = 0;        // of the run, whichever way round the instrument stands
  double sigma = 0;        // of the kit's reading and the zero error together
  bool corrected = false;  // false: its zero error may be in it
  /// Whether it is beyond kLeansSigmas: nearer to 0 nobody knows which side is high.
  [[nodiscard]] bool leans() const;
};

/// `face`: 1, or -1 where the instrument is turned round.
[[nodiscard]] LiveValue live_value(const sheet::KitChannel& channel, double reads, int face,
                                   const ZeroError& zero);

}  // namespace hangtrue::job
