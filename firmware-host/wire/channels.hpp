// channels.hpp: from the quads of one instrument's sentences to samples of the channels that its kit sheet
// names.
//
// This is the one place where what the device sends becomes SI:
//     slope        A, degrees      dz/dx = tan(angle), times the channel's sign; angles of 90 degrees and
//     more are no slope roll         A, degrees      radians, times sign distance     D, metres       metres,
//     times sign temperature  C, Celsius      Celsius station      G               number of the station,
//     counted from 1 in order along the run
// A quad whose name and type no channel claims is counted by its name. Two channels may share a transducer.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <vector>

#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::wire {

struct Sample {
  std::size_t channel = 0;  // index into KitInstrument::channels
  sheet::Gives gives = sheet::Gives::slope;
  double value = 0;  // slope and roll in rad, distance in m, temperature in Celsius, station as index from 0
};

class ChannelMap {
 public:
  /// `stations`: how many the run has; a station number beyond them is refused and counted.
  ChannelMap(const sheet::KitInstrument& instrument, std::size_t stations);

  /// Calls on_sample(const Sample&) for every quad that a channel claims, in order.
  template <class OnSample>
  void read(std::span<const XdrQuad> quads, OnSample&& on_sample) {
    for (const XdrQuad& quad : quads) {
      bool claimed = false;
      for (const Channel& channel : channels_) {
        if (channel.type != quad.type || channel.transducer != quad.name) continue;
        claimed = true;
        Sample sample{channel.index, channel.gives, quad.value};
        if (convert(channel, sample)) on_sample(static_cast<const Sample&>(sample));
      }
      if (!claimed) count_unknown(quad);
    }
  }

  /// Quads that no channel claims, by "NAME (type)". Beyond 64 names the rest goes under "others".
  [[nodiscard]] const std::map<std::string, std::uint64_t>& unknown() const { return unknown_; }
  /// Quads that a channel claims but that cannot be: an angle that is no slope, a station that the run has
  /// not.
  [[nodiscard]] std::uint64_t not_usable() const { return not_usable_; }

 private:
  struct Channel {
    std::size_t index;
    std::string transducer;
    char type;
    sheet::Gives gives;
    double sign;
  };
  [[nodiscard]] bool convert(const Channel& channel, Sample& sample);
  void count_unknown(const XdrQuad& quad);

  std::vector<Channel> channels_;
  double stations_;
  std::map<std::string, std::uint64_t> unknown_;
  std::uint64_t not_usable_ = 0;
};

}  // namespace hangtrue::wire
