// fit_math.hpp: what the parts of the fit have in common. Inside core/fit alone.
#pragma once

#include <cmath>
#include <span>

#include "core/fit/fit.hpp"

namespace hangtrue::fit {

template <class Scalar>
Scalar dot(std::span<const Scalar> a, std::span<const Scalar> b) {
  Scalar sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
  return sum;
}

template <class Scalar>
Scalar squared(std::span<const Scalar> a) {
  return dot<Scalar>(a, a);
}

inline FitFault fault(FitFaultCode code, int index = -1) { return {code, index, {}}; }

/// What can be wrong with one reading; index: its number.
template <class Scalar>
Result<Done, FitFault> check(const survey::Reading<Scalar>& reading, Scalar length_m, int index) {
  if (!std::isfinite(reading.value) || !std::isfinite(reading.at_m) || !std::isfinite(reading.base_m) ||
      !std::isfinite(reading.sigma) || !std::isfinite(reading.drift))
    return fault(FitFaultCode::reading_not_finite, index);
  if (!(reading.sigma > 0)) return fault(FitFaultCode::sigma_not_positive, index);
  const bool on_mark = reading.mark >= 0 && reading.channel == Channel::distance;
  if ((!on_mark && (reading.at_m < 0 || reading.at_m > length_m)) || reading.base_m < 0)
    return fault(FitFaultCode::reading_off_run, index);
  if (reading.set_up >= kMaxSetUps || reading.zero >= kMaxChannels || reading.mark >= kMaxMarks)
    return fault(FitFaultCode::no_such_instrument, index);
  if (reading.face != 1 && reading.face != -1) return fault(FitFaultCode::face_not_usable, index);
  return Done{};
}

}  // namespace hangtrue::fit
