// rehearsed_clock.hpp: the note by which a rehearsal's daemon says that its clock is ahead, in the level book of its survey.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace hangtrue::job {

inline constexpr std::string_view kRehearsal = "This is a rehearsal: the clock is taken to be ",
                                  kAhead = " ahead of what it is.";

/// `by`: as a person said it, "365 days".
[[nodiscard]] inline std::string rehearsed_clock_note(const std::string& by) {
  return std::string(kRehearsal) + by + std::string(kAhead);
}
/// By how much such a note says that the clock is ahead; nothing where it is another note.
[[nodiscard]] inline std::optional<std::string> rehearsed_clock(std::string_view note) {
  if (!note.starts_with(kRehearsal) || !note.ends_with(kAhead)) return std::nullopt;
  note.remove_prefix(kRehearsal.size());
  note.remove_suffix(kAhead.size());
  return std::string(note);
}

}  // namespace hangtrue::job
