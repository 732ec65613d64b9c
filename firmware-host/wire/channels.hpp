// channels.hpp: from what a line brings (quads of sentences, registers, text lines) to samples of channels.
//
// Whatever way a device speaks, its numbers become SI here:
//     slope        dz/dx = tangent of an angle, or the slope itself (mm/m, in/ft), times the channel's sign;
//                  angles of 90 degrees and more are no slope
//     roll         radians, times sign
//     distance     metres, times sign
//     temperature  Celsius
//     station      number of the station, counted from 1 in order along the run; the sample holds the index,
//                  from 0
// Unit       that of the quad's type (A degrees, D metres, C Celsius, G none), of {unit} in the line, or else the
//            channel's own (see units.hpp).
// Not usable what cannot be is counted: an angle that is no slope, a unit of another kind, a station that the run has
//            not, a float that is no number.
// Memory     no heap, no exceptions. The caller gives the storage: one element a channel, which must outlive the map,
//            as must the texts that a ChannelSpec views. Builds for bare metal.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "core/quantity/channel.hpp"
#include "firmware-host/wire/line_pattern.hpp"
#include "firmware-host/wire/modbus.hpp"
#include "firmware-host/wire/thresholds.hpp"
#include "firmware-host/wire/units.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::wire {

/// What a Modbus register holds; the number in the channel's unit is `scale` times it.
enum class RegisterType : std::uint8_t { int16, uint16, int32, uint32, float32 };

struct RegisterPlace {
  bool holding = false;  // false: input register
  int number = 0;        // protocol address of the first register, from 0
  RegisterType type = RegisterType::int16;
  bool high_word_first = true;
  double scale = 1;
};

/// One channel as the wire needs to know it.
struct ChannelSpec {
  std::size_t instrument = 0, channel = 0;  // as the caller counts them; they come back in each Sample
  Channel gives = Channel::slope;
  int sign = 1;            // -1 where the device counts the other way; temperatures and stations have none
  Unit unit = Unit::none;  // of the number, where the device does not say
  std::string_view name = {};    // XDR: the transducer's, in the sentence
  std::string_view talker = {};  // XDR: only sentences of this one, two letters; empty: of any
  RegisterPlace place = {};      // Modbus
};

struct Sample {
  std::size_t channel = 0;  // ChannelSpec::channel
  Channel gives = Channel::slope;
  double value = 0;  // slope and roll in rad, distance in m, temperature in Celsius, station as index from 0
  std::size_t instrument = 0;  // ChannelSpec::instrument
};

/// The number that the device sent, in that unit, as the channel's SI value; nothing where it cannot be one.
/// `stations`: how many the run has.
[[nodiscard]] std::optional<double> to_si(const ChannelSpec& channel, double raw, Unit unit,
                                          std::size_t stations);

/// What registers hold, first one first; nothing for a float that is not finite, or when there are too few.
[[nodiscard]] std::optional<double> value_of(std::span<const std::uint16_t> registers, RegisterType type,
                                             bool high_word_first);
/// 1, or 2 for the 32-bit types.
[[nodiscard]] int registers_of(RegisterType type);

/// The two letters before XDR, or none.
class Talker {
 public:
  Talker() = default;
  explicit Talker(std::string_view text);
  [[nodiscard]] bool is_none() const { return letters_[0] == '\0'; }
  [[nodiscard]] std::string_view text() const { return {letters_.data(), is_none() ? 0u : letters_.size()}; }
  bool operator==(const Talker&) const = default;

 private:
  std::array<char, 2> letters_{};
};

/// A channel of a ChannelMap, and what has been heard of it.
struct QuadChannel {
  ChannelSpec spec;
  Talker heard = {}, other = {};  // the talker that its quads come from, and another one
  bool twice = false;             // its quad stood twice in a sentence
};

/// XDR: the quads of one line to the channels of the instruments on it. Two channels may share a name.
/// Mixed  where no talker is named and two talkers send a channel's quad, or where it stands twice in one
///        sentence, nobody knows which is meant: the channel gives nothing from then on, until the stream
///        begins anew.
class ChannelMap {
 public:
  ChannelMap(std::span<QuadChannel> channels, std::size_t stations)
      : channels_(channels), stations_(stations) {}

  /// Calls on_sample(const Sample&) for every quad that a channel claims, in order, and on_unknown(const
  /// XdrQuad&, std::string_view talker) for every other one; there the talker is empty unless it is only the
  /// talker that keeps a channel from claiming it. Channels that name a talker claim quads of that talker alone.
  template <class OnSample, class OnUnknown>
  void read(std::string_view talker, std::span<const XdrQuad> quads, OnSample&& on_sample,
            OnUnknown&& on_unknown) {
    for (const XdrQuad& quad : quads) {
      bool claimed = false;
      bool of_other_talker = false;
      for (QuadChannel& channel : channels_) {
        if (!has_quad(channel.spec, quad)) continue;
        if (!channel.spec.talker.empty() && channel.spec.talker != talker) {
          of_other_talker = true;
          continue;
        }
        claimed = true;
        if (is_mixed(channel, talker, quads, quad)) continue;
        const std::optional<double> value = convert(channel.spec, quad);
        if (value)
          on_sample(Sample{channel.spec.channel, channel.spec.gives, *value, channel.spec.instrument});
      }
      if (claimed) continue;
      ++unknown_;
      on_unknown(quad, of_other_talker ? talker : std::string_view{});
    }
  }

  /// Quads that no channel claims.
  [[nodiscard]] std::uint64_t unknown() const { return unknown_; }
  /// Quads that a channel claims but that cannot be.
  [[nodiscard]] std::uint64_t not_usable() const { return not_usable_; }
  /// A channel of this instrument that gives nothing though its quads come (see Mixed), or nullptr.
  [[nodiscard]] const QuadChannel* mixed(std::size_t instrument) const;
  /// The stream has ended: who talks may be others when it begins anew.
  void forget();

 private:
  [[nodiscard]] static bool has_quad(const ChannelSpec& channel, const XdrQuad& quad);
  /// Notes who talks, and whether the quad stands twice.
  static bool is_mixed(QuadChannel& channel, std::string_view talker, std::span<const XdrQuad> quads,
                       const XdrQuad& quad);
  [[nodiscard]] std::optional<double> convert(const ChannelSpec& channel, const XdrQuad& quad);

  std::span<QuadChannel> channels_;
  std::size_t stations_;
  std::uint64_t unknown_ = 0, not_usable_ = 0;
};

/// A channel of a RegisterMap, and where it stands in the answers.
struct RegisterChannel {
  static constexpr std::size_t kNotAsked = static_cast<std::size_t>(-1);
  ChannelSpec spec;
  std::size_t request = kNotAsked;  // kNotAsked: it goes beyond the last register
  std::size_t offset = 0;           // of its first register in the answer
};

/// Modbus: what to ask one unit, and its registers to samples. Only registers that a channel names are asked
/// for: a device may answer a gap with an exception. Registers that adjoin or overlap go into one request, up
/// to 125; a value is never torn.
class RegisterMap {
 public:
  /// Puts the channels in order of function (3 first), register and number. `room`: for as many requests as there
  /// are channels; a channel whose request has no room is not asked for.
  RegisterMap(int address, std::span<RegisterChannel> channels, std::span<ReadRequest> room,
              std::size_t stations);

  /// In order of function and register.
  [[nodiscard]] std::span<const ReadRequest> requests() const { return requests_; }
  [[nodiscard]] std::span<const RegisterChannel> channels() const { return channels_; }

  /// Calls on_sample(const Sample&) for every channel that the answer to request `request` brings.
  template <class OnSample>
  void read(std::size_t request, std::span<const std::uint16_t> registers, OnSample&& on_sample) {
    for (const RegisterChannel& channel : channels_) {
      if (channel.request != request) continue;
      const std::optional<double> value = convert(channel, registers);
      if (value) on_sample(Sample{channel.spec.channel, channel.spec.gives, *value, channel.spec.instrument});
    }
  }

  [[nodiscard]] std::uint64_t not_usable() const { return not_usable_; }

 private:
  [[nodiscard]] std::optional<double> convert(const RegisterChannel& channel,
                                              std::span<const std::uint16_t> registers);

  std::span<RegisterChannel> channels_;
  std::span<ReadRequest> requests_;
  std::size_t stations_;
  std::uint64_t not_usable_ = 0;
};

/// A channel of a LineMap.
struct LineChannel {
  ChannelSpec spec;
  LinePattern pattern = {};
};

/// Line: the text lines of one device to samples. A line may serve several channels.
class LineMap {
 public:
  LineMap(std::span<const LineChannel> channels, std::size_t stations)
      : channels_(channels), stations_(stations) {}

  /// Calls on_sample(const Sample&) for every channel whose pattern fits. Returns whether the line was of
  /// use: false when no pattern fits, or what fits is ambiguous or cannot be; fit to be the answer to
  /// LineReader.
  template <class OnSample>
  bool read(std::string_view line, OnSample&& on_sample) {
    ++lines_;
    bool fits = false, ambiguous = false, of_use = false;
    for (const LineChannel& channel : channels_) {
      const LineMatch match = channel.pattern.match(line);
      if (match.fit == LineMatch::Fit::none) continue;
      fits = true;
      if (match.fit == LineMatch::Fit::ambiguous) {
        ambiguous = true;
        continue;
      }
      const std::optional<double> value = convert(channel, match);
      if (!value) continue;
      of_use = true;
      on_sample(Sample{channel.spec.channel, channel.spec.gives, *value, channel.spec.instrument});
    }
    count(line, fits, ambiguous, of_use);
    return of_use;
  }

  [[nodiscard]] std::uint64_t lines() const { return lines_; }
  /// Lines that no pattern fits.
  [[nodiscard]] std::uint64_t unmatched() const { return unmatched_; }
  /// Lines in which a pattern fits, but in more than one way.
  [[nodiscard]] std::uint64_t ambiguous() const { return ambiguous_; }
  /// Values that cannot be.
  [[nodiscard]] std::uint64_t not_usable() const { return not_usable_; }
  /// The last line that was of no use, to show, its first kLongestLine characters; empty when there was none.
  [[nodiscard]] std::string_view last_of_no_use() const { return {last_.data(), last_length_}; }

 private:
  [[nodiscard]] std::optional<double> convert(const LineChannel& channel, const LineMatch& match);
  void count(std::string_view line, bool fits, bool ambiguous, bool of_use);

  std::span<const LineChannel> channels_;
  std::size_t stations_;
  std::uint64_t lines_ = 0, unmatched_ = 0, ambiguous_ = 0, not_usable_ = 0;
  std::array<char, kLongestLine> last_{};
  std::size_t last_length_ = 0;
};

}  // namespace hangtrue::wire
