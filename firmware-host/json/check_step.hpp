// check_step.hpp: a step of a guided check as the daemon's event "check" has it, beside its sentence.
//
// Of a zero check   {"step", "steps", "face"}: counted from 1; 1, or -1 turned round, as in the event "here".
// Of a datum check  {"step", "steps", "set_up", "at_m"}: the name of the set-up, "1" or "2"; where along the run to read.
// Of a scale check  {"step", "steps", "face", "with", "length_m", "feet_across_m"}: face 1; "nothing", "under the end", "under the
//                   left" or "higher place"; thickness of the piece, or how much higher; 0 where nobody said it.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/job/scale_guide.hpp"

namespace hangtrue::json {

/// Of one that is not done.
[[nodiscard]] nlohmann::ordered_json check_step(const job::ZeroCheckGuide& guide);
[[nodiscard]] nlohmann::ordered_json check_step(const job::DatumCheckGuide& guide);
[[nodiscard]] nlohmann::ordered_json check_step(const job::ScaleCheckGuide& guide);

}  // namespace hangtrue::json
