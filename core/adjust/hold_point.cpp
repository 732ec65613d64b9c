#include "core/adjust/hold_point.hpp"

namespace hangtrue::adjust {

std::string_view short_name(HoldPoint answer) {
  switch (answer) {
    case HoldPoint::shim_first:
      return "shim first";
    case HoldPoint::read_again:
      return "read again";
    case HoldPoint::shims_cannot:
      return "shims cannot";
    case HoldPoint::ready_to_bolt:
      break;
  }
  return "ready to bolt";
}

HoldPointAnswer hold_point(const HoldPointInput& in) {
  const auto answer = [&in](HoldPoint point, HoldPointReason reason) {
    return HoldPointAnswer{point, reason, in};
  };
  const bool support_objects = in.support_unloaded || in.support_over_rating;
  const bool sure_now = in.chance_now >= in.confidence;

  if (!in.has_readings) return answer(HoldPoint::read_again, HoldPointReason::no_readings);
  if (!in.fit_holds) return answer(HoldPoint::read_again, HoldPointReason::fit_does_not_hold);
  if (in.doubt_against_moves) return answer(HoldPoint::read_again, HoldPointReason::doubt_against_moves);
  if (sure_now && !support_objects && in.doubt_open)
    return answer(HoldPoint::read_again, HoldPointReason::doubt_open);
  if (sure_now && !support_objects)
    return answer(HoldPoint::ready_to_bolt, HoldPointReason::within_tolerance);
  if (!in.choice_exists) return answer(HoldPoint::shims_cannot, HoldPointReason::no_moves_keep_limits);
  if (support_objects && in.moves == 0)
    return answer(HoldPoint::shims_cannot, HoldPointReason::support_not_cured);
  if (in.chance_after >= in.confidence)
    return answer(HoldPoint::shim_first,
                  sure_now ? HoldPointReason::moves_cure_a_support : HoldPointReason::moves_suffice);
  // Written so that a number that is none (NaN) never passes for level.
  if (!(in.level_error_after_m <= in.tolerance_m))
    return answer(HoldPoint::shims_cannot, HoldPointReason::error_after_too_large);
  if (!in.straight_after) return answer(HoldPoint::shims_cannot, HoldPointReason::not_straight_after);
  const bool by_fit_up = in.chance_without_fit_up.value_or(0) >= in.confidence;
  return answer(HoldPoint::read_again,
                by_fit_up ? HoldPointReason::first_setting : HoldPointReason::uncertainty_alone);
}

}  // namespace hangtrue::adjust
