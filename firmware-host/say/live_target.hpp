// live_target.hpp: a move or a load under watch, in words: how far it has come, what must be read, and when to stop.
#pragma once

#include <string>

#include "firmware-host/job/live_target.hpp"

namespace hangtrue::say {

/// "walking inclinometer slope at 1200 mm".
[[nodiscard]] std::string watched_words(const sheet::RunSheet& run, const job::WatchedChannel& watched);
/// Stable, as the page reads it: "on the way", "done", "too far", "wrong way", "stop".
[[nodiscard]] std::string_view word(job::TargetVerdict verdict);
/// One sentence of what to do now; of "stop" with the channel that is farthest off and what it looks like.
[[nodiscard]] std::string target_words(const sheet::RunSheet& run, const job::LiveTarget& target,
                                       const job::TargetNow& now);
/// For the book: each channel before, now and due.
[[nodiscard]] std::string target_record(const sheet::RunSheet& run, const job::LiveTarget& target,
                                        const job::TargetNow& now);

}  // namespace hangtrue::say
