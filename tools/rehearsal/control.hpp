// control.hpp: what a rehearsal is told while it plays: by a person or a test, a line at a time, or by the daemon's events.
//
// Lines   each is answered by one line, "refused: WHY" where it cannot be done; what a place does not say stays as it was:
//   place 1200 mm [face 2] [edge left] [set-up 2]   or a mark's name: the walking instruments go there, hands on them for a while
//     [under-end 0.005] [under-left 0.005] [feet 0.12] [higher 0.5]   in m: a piece under a foot, how far apart those are across the
//                         run, a place that much higher; nothing of it unless it is said
//   unplug NAME | plug in NAME                      an instrument of the kit, with all that shares its line
//   hush | speak          no instrument sends or answers until "speak"
//   move SUPPORT RISE PITCH ROLL                    the run itself moves: m, rad, rad
//   stage NAME            the run is looked at in that stage
//   sent NAME             "sent NAME: 812 messages, 30123 bytes, 0 lost": so far, bytes of the whole line
//   truth                 "truth {...}": level error, finished, m
// Events  as an installer who does all that the daemon says (its JSON lines): "here" puts the instruments there, "check" as
//         its step asks, "made" moves the run. Others are passed over.
// Threads one; the rehearsal plays on its own.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>

#include <nlohmann/json_fwd.hpp>

#include "tools/rehearsal/rehearsal.hpp"

namespace hangtrue::rehearsal {

class Control {
 public:
  /// All must outlive it.
  Control(Rehearsal& rehearsal, const sheet::RunSheet& run, const sheet::KitSheet& kit)
      : rehearsal_(rehearsal), run_(run), kit_(kit) {}

  [[nodiscard]] std::string obey(std::string_view line);
  /// What was done to the run, in words, or why not; nothing for an event that moves nothing.
  std::optional<std::string> follow(const nlohmann::json& event);

 private:
  [[nodiscard]] Stand stand_from(const std::string& words) const;
  [[nodiscard]] std::size_t instrument(const std::string& name) const;
  [[nodiscard]] int set_up(const std::string& name);
  void follow_check(const nlohmann::json& event);

  Rehearsal& rehearsal_;
  const sheet::RunSheet& run_;
  const sheet::KitSheet& kit_;
  Stand stand_;
  std::map<std::string, int> set_ups_;  // those that are no numbers
};

}  // namespace hangtrue::rehearsal
