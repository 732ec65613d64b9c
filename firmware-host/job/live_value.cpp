#include "firmware-host/job/live_value.hpp"

#include <algorithm>
#include <cmath>

namespace hangtrue::job {
namespace {

bool has_zero_error(const sheet::KitChannel& channel) {
  return (channel.gives == Channel::slope || channel.gives == Channel::roll) && channel.zero_sigma > 0;
}

}  // namespace

ZeroError zero_error(const FitReport* fitted, const std::string& instrument,
                     const sheet::KitChannel& channel) {
  if (!has_zero_error(channel)) return {0, 0, true};
  ZeroError zero{0, channel.zero_sigma, false};
  if (fitted == nullptr) return zero;
  const auto found =
      std::find_if(fitted->parameters.begin(), fitted->parameters.end(), [&](const UnknownEstimate& each) {
        return each.id.of == UnknownOf::zero && each.id.name == instrument &&
               each.id.channel == channel.gives && !each.id.change;
      });
  if (found == fitted->parameters.end()) return zero;
  const fit::Estimate<double>& estimate = found->estimate;
  if (!std::isfinite(estimate.value) || !(estimate.sigma <= kZeroKnown * channel.zero_sigma)) return zero;
  return {estimate.value, estimate.sigma, true};
}

bool LiveValue::leans() const { return std::abs(value) > kLeansSigmas * sigma; }

LiveValue live_value(const sheet::KitChannel& channel, double reads, int face, const ZeroError& zero) {
  if (channel.gives != Channel::slope && channel.gives != Channel::roll) return {reads, channel.sigma, true};
  return {face * (reads - zero.value), std::hypot(channel.sigma, zero.sigma), zero.known};
}

}  // namespace hangtrue::job
