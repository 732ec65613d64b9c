// channels.hpp: from what a line brings (quads of sentences, registers, text lines) to samples of the
// channels that the kit sheet names.
//
// This is the one place where what a device sends becomes SI, whatever way it speaks:
//     slope        dz/dx = tangent of an angle, or the slope itself (mm/m, in/ft), times the channel's sign;
//                  angles of 90 degrees and more are no slope
//     roll         radians, times sign
//     distance     metres, times sign
//     temperature  Celsius
//     station      number of the station, counted from 1 in order along the run; the sample holds the index,
//                  from 0
// The unit is that of the quad's type (A degrees, D metres, C Celsius, G none), of {unit} in the line ("MM",
// "inch", "degC" and the degree sign are known too), or else the one that the kit sheet names. What cannot be
// is counted as not usable: an angle that is no slope, a unit of another kind, a station that the run has
// not, a float that is no number.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/wire/line_pattern.hpp"
#include "firmware-host/wire/modbus.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::wire {

struct Sample {
  std::size_t channel = 0;  // index into KitInstrument::channels
  Channel gives = Channel::slope;
  double value = 0;  // slope and roll in rad, distance in m, temperature in Celsius, station as index from 0
  std::size_t instrument = 0;  // index into what a ChannelMap was made from; 0 from the other maps
};

/// What the device sent, in a unit as sheets write them, as the channel's SI value; nothing where it cannot
/// be one. `stations`: how many the run has.
[[nodiscard]] std::optional<double> to_si(const sheet::KitChannel& channel, double raw, std::string_view unit,
                                          std::size_t stations);

/// What registers hold, first one first; nothing for a float that is not finite, or when there are too few.
[[nodiscard]] std::optional<double> value_of(std::span<const std::uint16_t> registers,
                                             sheet::RegisterType type, bool high_word_first);
/// 1, or 2 for the 32-bit types.
[[nodiscard]] int registers_of(sheet::RegisterType type);

/// XDR: the quads of one line to the channels of the instruments on it. A quad whose name and type no channel
/// claims is counted by its name. Two channels may share a transducer.
/// Mixed  where the kit sheet names no talker and two talkers send a channel's quad, or where it stands twice
///        in one sentence, nobody knows which is meant: the channel gives nothing from then on, until the
///        stream begins anew.
class ChannelMap {
 public:
  ChannelMap(const sheet::KitInstrument& instrument, std::size_t stations);
  /// Several instruments on one line; none may be null.
  ChannelMap(std::span<const sheet::KitInstrument* const> instruments, std::size_t stations);

  /// Calls on_sample(const Sample&) for every quad that a channel claims, in order. An instrument with a
  /// talker claims quads of that talker alone.
  template <class OnSample>
  void read(std::string_view talker, std::span<const XdrQuad> quads, OnSample&& on_sample) {
    for (std::size_t i = 0; i < quads.size(); ++i) {
      const XdrQuad& quad = quads[i];
      bool claimed = false;
      bool of_other_talker = false;
      for (Mapped& channel : channels_) {
        if (channel.type != quad.type || channel.kit.transducer != quad.name) continue;
        if (!channel.talker.empty() && channel.talker != talker) {
          of_other_talker = true;
          continue;
        }
        claimed = true;
        if (is_mixed(channel, talker, quads, i)) continue;
        const std::optional<double> value = convert(channel, quad.value);
        if (value) on_sample(Sample{channel.index, channel.kit.gives, *value, channel.instrument});
      }
      if (!claimed) count_unknown(quad, of_other_talker ? talker : std::string_view{});
    }
  }
  /// Of no talker in particular: instruments that name one claim nothing.
  template <class OnSample>
  void read(std::span<const XdrQuad> quads, OnSample&& on_sample) {
    read({}, quads, on_sample);
  }

  /// Quads that no channel claims, by "NAME (type)", or "NAME (type) from TT" where only the talker differs.
  /// Beyond 64 names the rest goes under "others".
  [[nodiscard]] const std::map<std::string, std::uint64_t>& unknown() const { return unknown_; }
  /// Quads that a channel claims but that cannot be.
  [[nodiscard]] std::uint64_t not_usable() const { return not_usable_; }
  /// Why a channel of this instrument gives nothing though its quads come; empty: none such. See Mixed.
  [[nodiscard]] std::string mixed(std::size_t instrument) const;
  /// The stream has ended: who talks may be others when it begins anew.
  void forget();

 private:
  struct Mapped {
    std::size_t instrument, index;
    sheet::KitChannel kit;
    std::string talker;
    char type;
    std::string heard = {}, other = {};  // the talker that its quads come from, and another one
    bool twice = false;                  // its quad stood twice in a sentence
  };
  /// Notes who talks, and whether the quad at `at` has a double.
  static bool is_mixed(Mapped& channel, std::string_view talker, std::span<const XdrQuad> quads,
                       std::size_t at);
  void add(const sheet::KitInstrument& instrument, std::size_t number);
  [[nodiscard]] std::optional<double> convert(const Mapped& channel, double raw);
  void count_unknown(const XdrQuad& quad, std::string_view talker);

  std::vector<Mapped> channels_;
  std::size_t stations_;
  std::map<std::string, std::uint64_t> unknown_;
  std::uint64_t not_usable_ = 0;
};

/// Modbus: what to ask one unit, and its registers to samples. Only registers that a channel names are asked
/// for: a device may answer a gap with an exception. Registers that adjoin or overlap go into one request, up
/// to 125; a value is never torn.
class RegisterMap {
 public:
  RegisterMap(const sheet::KitInstrument& instrument, std::size_t stations);

  /// In order of function (3 first) and register.
  [[nodiscard]] const std::vector<ReadRequest>& requests() const { return requests_; }
  /// Channels that cannot be asked for, in words: a 32-bit value that would go beyond the last register.
  [[nodiscard]] const std::vector<std::string>& complaints() const { return complaints_; }

  /// Calls on_sample(const Sample&) for every channel that the answer to request `request` brings.
  template <class OnSample>
  void read(std::size_t request, std::span<const std::uint16_t> registers, OnSample&& on_sample) {
    for (const Place& place : places_) {
      if (place.request != request) continue;
      const std::optional<double> value = convert(place, registers);
      if (value) on_sample(Sample{place.channel, channels_[place.channel].gives, *value});
    }
  }

  [[nodiscard]] std::uint64_t not_usable() const { return not_usable_; }

 private:
  struct Place {
    std::size_t channel, request, offset;
  };
  [[nodiscard]] std::optional<double> convert(const Place& place, std::span<const std::uint16_t> registers);

  std::vector<sheet::KitChannel> channels_;
  std::size_t stations_;
  std::vector<ReadRequest> requests_;
  std::vector<Place> places_;
  std::vector<std::string> complaints_;
  std::uint64_t not_usable_ = 0;
};

/// Line: the text lines of one device to samples. A line may serve several channels.
class LineMap {
 public:
  LineMap(const sheet::KitInstrument& instrument, std::size_t stations);

  /// Channels whose pattern is none, in words: found and expected. They give nothing.
  [[nodiscard]] const std::vector<std::string>& complaints() const { return complaints_; }

  /// Calls on_sample(const Sample&) for every channel whose pattern fits. Returns whether the line was of
  /// use: false when no pattern fits, or what fits is ambiguous or cannot be; fit to be the answer to
  /// LineReader.
  template <class OnSample>
  bool read(std::string_view line, OnSample&& on_sample) {
    ++lines_;
    bool fits = false, ambiguous = false, of_use = false;
    for (const Mapped& channel : channels_) {
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
      on_sample(Sample{channel.index, channel.kit.gives, *value});
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
  /// The last line that was of no use, to show; empty when there was none.
  [[nodiscard]] const std::string& last_of_no_use() const { return last_of_no_use_; }

 private:
  struct Mapped {
    std::size_t index;
    sheet::KitChannel kit;
    LinePattern pattern;
  };
  [[nodiscard]] std::optional<double> convert(const Mapped& channel, const LineMatch& match);
  void count(std::string_view line, bool fits, bool ambiguous, bool of_use);

  std::size_t stations_;
  std::vector<Mapped> channels_;
  std::vector<std::string> complaints_;
  std::uint64_t lines_ = 0, unmatched_ = 0, ambiguous_ = 0, not_usable_ = 0;
  std::string last_of_no_use_;
};

}  // namespace hangtrue::wire
