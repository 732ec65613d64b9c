// carried_state.hpp: what one survey of a run tells the next one: estimates that still hold, with their covariance.
//
// Holds     stiffness, springs, loads, bow, zero errors, heights of marks, and where supports stand. No set-up of the laser
//           datum: each visit places it anew.
// Forget    When supports were moved, or another visit begins, part of it holds no longer (history.hpp says when). What is
//           forgotten starts again from the priors of the sheets.
// Warmth    Where supports stand is so at a temperature: rods and posts are longer when they are warmer (warmth.hpp).
// Drift     What the run was expected to do by itself since its loads came on is no part of the estimates: they say how it was built.
// Units     SI, rad; sigma is one standard deviation.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "core/fit/fit.hpp"
#include "firmware-host/book/book.hpp"
#include "firmware-host/job/unknown_id.hpp"

namespace hangtrue::job {

class DriftForecast;

struct CarriedState {
  fit::Carried<double> estimates;

  /// Channels with a zero error, numbered as in `estimates`.
  struct Zero {
    ChannelId channel;
    double sigma = 0;  // prior of the sheets
    /// Time of the last reading that the estimate rests on; one without a time counts as later than any. None: never read.
    std::optional<book::Time> read;
  };
  std::vector<Zero> zeros;

  /// At which the supports stand so; none: nobody read one.
  std::optional<double> temperature_C;

  /// What the run was expected to do by itself up to the survey that begins from this; its share is an unknown near 1. None:
  /// nothing.
  std::shared_ptr<const DriftForecast> drift;

  /// Where supports stand: they may have been moved.
  void forget_offsets();
  /// One support's zero may have risen since, by so much: one sigma, mean 0.
  void rise_may_differ(int support, double sigma_m);
  /// The zero errors of all channels: instruments were away, or are others.
  void forget_zeros();
  /// That of one channel, by its number; the channel keeps its number.
  void forget_zero(int number);
};

}  // namespace hangtrue::job
