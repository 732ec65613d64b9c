// clock_watch.hpp: notices that the wall clock was set while the program ran.
//
// The wall clock less the monotonic one stays nearly the same: drift and slewing move it by at most 500 parts in a million
// (the most that adjtimex(2) slews). A step of kClockStep or more between two looks is a jump.
#pragma once

#include <chrono>
#include <optional>

#include "firmware-host/daemon/thresholds.hpp"

namespace hangtrue::daemon {

class ClockWatch {
 public:
  /// Both clocks, read one after the other. The jump since the last look, in seconds, positive where it was set forward.
  [[nodiscard]] std::optional<double> look(std::chrono::system_clock::time_point wall,
                                           std::chrono::steady_clock::time_point monotonic) {
    const auto offset = wall.time_since_epoch() - monotonic.time_since_epoch();
    const auto jump = offset - offset_.value_or(offset);
    offset_ = offset;
    if (std::chrono::abs(jump) < kClockStep) return std::nullopt;
    return std::chrono::duration<double>(jump).count();
  }

 private:
  std::optional<std::chrono::nanoseconds> offset_;
};

}  // namespace hangtrue::daemon
