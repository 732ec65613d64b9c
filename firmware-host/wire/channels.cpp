#include "firmware-host/wire/channels.hpp"

#include <cmath>

#include "core/quantity/units.hpp"

namespace hangtrue::wire {

namespace {

constexpr std::size_t kMostUnknownNames = 64;

char type_of(sheet::Gives gives) {
  switch (gives) {
    case sheet::Gives::slope:
    case sheet::Gives::roll:
      return 'A';
    case sheet::Gives::distance:
      return 'D';
    case sheet::Gives::temperature:
      return 'C';
    case sheet::Gives::station:
      return 'G';
  }
  return 'G';
}

}  // namespace

ChannelMap::ChannelMap(const sheet::KitInstrument& instrument, std::size_t stations)
    : stations_(static_cast<double>(stations)) {
  for (std::size_t i = 0; i < instrument.channels.size(); ++i) {
    const sheet::KitChannel& channel = instrument.channels[i];
    channels_.push_back({i, channel.transducer, type_of(channel.gives), channel.gives, double(channel.sign)});
  }
}

bool ChannelMap::convert(const Channel& channel, Sample& sample) {
  const double raw = sample.value;
  switch (channel.gives) {
    case sheet::Gives::slope:
      if (std::abs(raw) >= 90) break;
      sample.value = channel.sign * std::tan(raw * (kPi / 180));
      return true;
    case sheet::Gives::roll:
      sample.value = channel.sign * raw * (kPi / 180);
      return true;
    case sheet::Gives::distance:
      sample.value = channel.sign * raw;
      return true;
    case sheet::Gives::temperature:
      return true;
    case sheet::Gives::station:
      if (raw != std::floor(raw) || raw < 1 || raw > stations_) break;
      sample.value = raw - 1;
      return true;
  }
  ++not_usable_;
  return false;
}

void ChannelMap::count_unknown(const XdrQuad& quad) {
  std::string key = std::string(quad.name) + " (" + quad.type + ")";
  if (unknown_.size() >= kMostUnknownNames && !unknown_.contains(key)) key = "others";
  ++unknown_[std::move(key)];
}

}  // namespace hangtrue::wire
