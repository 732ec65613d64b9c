// instrument_state.hpp: how an instrument does, and how one of its channels does, as values. Worded in say/instrument.hpp.
//
// Units   SI and radians; degrees Celsius.
#pragma once

#include <optional>
#include <string>
#include <variant>

#include "core/quantity/channel.hpp"
#include "core/survey/settling.hpp"

namespace hangtrue::job {

struct AboutToOpen {};  // its line has not been tried yet
struct ListenedTo {     // its line was opened a moment ago
  std::string line;     // as the line says it
};
/// Its line or its speech stands in the way, or spoils part of it; serial and wire have a word and a sentence for that.
struct LineTrouble {
  std::string word, sentence;
};
/// More sentences come damaged than a sound cable spoils.
struct DamagedSentences {
  std::string port;
};
/// Bytes come, but not what the kit sheet says of it.
struct OtherBytes {
  std::string port, instrument;
};
struct Speaks {};
/// It has no channel that gives readings.
struct GivesNoReadings {};
// Of the channel that does worst:
struct NeverCame {
  Channel channel{};
  std::string transducer;  // as the kit sheet calls it
};
struct ComesNoMore {
  Channel channel{};
};
struct NotANumber {
  Channel channel{};
};
struct OutOfRange {
  Channel channel{};
  double value = 0, from = 0, to = 0;
  bool of_kit_sheet = false;  // the range; else what no run and no room goes beyond
};
struct StuckAt {
  Channel channel{};
  double value = 0;
};
struct NotAtRest {
  Channel channel{};
  double spread = 0, may_spread = 0;
};

using Condition =
    std::variant<AboutToOpen, ListenedTo, LineTrouble, DamagedSentences, OtherBytes, Speaks, GivesNoReadings,
                 NeverCame, ComesNoMore, NotANumber, OutOfRange, StuckAt, NotAtRest>;

struct InstrumentState {
  Condition condition;
  bool speaks = false;  // its values come and are understood
};

/// Nothing to see to: it does well, or has not had the time to show how it does.
[[nodiscard]] inline bool is_quiet(const InstrumentState& state) {
  return std::holds_alternative<Speaks>(state.condition) ||
         std::holds_alternative<GivesNoReadings>(state.condition) ||
         std::holds_alternative<AboutToOpen>(state.condition) ||
         std::holds_alternative<ListenedTo>(state.condition);
}

/// One channel that gives readings, whether it has settled.
struct ChannelState {
  Channel channel{};
  survey::Verdict verdict = survey::Verdict::never_seen;
  std::optional<double> newest;
  double spread = 0, may_spread = 0;
};

}  // namespace hangtrue::job
