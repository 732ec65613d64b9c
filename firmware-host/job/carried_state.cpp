#include "firmware-host/job/carried_state.hpp"

#include <cstdint>

namespace hangtrue::job {

namespace {

// No list of unknowns holds such an index, so that a fit finds no estimate of it.
constexpr std::int16_t kForgotten = -1;

void forget(fit::Carried<double>& estimates, const auto& which) {
  for (int k = 0; k < estimates.count; ++k)
    if (which(estimates.unknown[k])) estimates.unknown[k].index = kForgotten;
}

}  // namespace

void CarriedState::forget_offsets() {
  forget(estimates, [](const fit::Unknown& unknown) {
    return unknown.kind == fit::UnknownKind::shape && unknown.shape.kind <= beam::ParameterKind::offset_roll;
  });
}

void CarriedState::forget_zeros() {
  forget(estimates, [](const fit::Unknown& unknown) { return unknown.kind == fit::UnknownKind::zero; });
  zeros.clear();
}

void CarriedState::forget_zero(int number) {
  forget(estimates, [&](const fit::Unknown& unknown) {
    return unknown.kind == fit::UnknownKind::zero && unknown.index == number;
  });
}

}  // namespace hangtrue::job
