// repeats.hpp: how readings that were repeated under the same conditions scatter, beside what is stated.
//
// Same      instrument, channel, place (kSamePlace_m), edge, face, set-up. Only readings that the fit kept.
// Test      core/fit/repeatability.hpp, question a, at kAlarmConfidence, pooled over one channel. Stated sigmas stay as they
//           are; where they differ within a group, its mean is weighted.
// Units     rad, or m for a distance; sigma is one standard deviation.
#pragma once

#include <span>
#include <vector>

#include "core/fit/fit.hpp"
#include "core/fit/repeatability.hpp"
#include "firmware-host/job/unknown_id.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::job {

struct Repeats {
  ChannelId channel;
  int groups = 0, degrees_of_freedom = 0;
  double pooled_sigma = 0;  // experimental, of one reading
  double stated_sigma = 0;  // r.m.s. of those the readings came with
  double p_value = 1;
  fit::ScatterVerdict verdict = fit::ScatterVerdict::not_tested;
};

/// One a channel that has any, in order of its first reading. `judgements`: one a reading.
[[nodiscard]] std::vector<Repeats> pooled_repeats(std::span<const sheet::ReadingEntry> readings,
                                                  std::span<const fit::Judgement<double>> judgements);

}  // namespace hangtrue::job
