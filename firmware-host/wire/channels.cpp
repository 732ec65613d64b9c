#include "firmware-host/wire/channels.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <tuple>

namespace hangtrue::wire {

namespace {

/// The type of the quads that bring such a channel.
char type_of(Channel gives) {
  switch (gives) {
    case Channel::slope:
    case Channel::roll:
      return 'A';
    case Channel::distance:
      return 'D';
    case Channel::temperature:
      return 'C';
    case Channel::station:
      return 'G';
  }
  return 'G';
}

Unit unit_of_type(char type) {
  switch (type) {
    case 'A':
      return Unit::deg;
    case 'D':
      return Unit::m;
    case 'C':
      return Unit::celsius;
    default:
      return Unit::none;
  }
}

int function_of(const RegisterPlace& place) { return place.holding ? 3 : 4; }

bool is_one_place(const XdrQuad& one, const XdrQuad& other) {
  return one.type == other.type && one.name == other.name;
}

}  // namespace

std::optional<double> to_si(const ChannelSpec& channel, double raw, Unit unit, std::size_t stations) {
  if (channel.gives == Channel::station) {
    const bool is_one = raw == std::floor(raw) && raw >= 1 && raw <= static_cast<double>(stations);
    return is_one ? std::optional(raw - 1) : std::nullopt;
  }
  const std::optional<double> value = in_si(raw, unit, channel.gives);
  if (!value || channel.gives == Channel::temperature) return value;
  return channel.sign * *value;
}

int registers_of(RegisterType type) {
  return type == RegisterType::int16 || type == RegisterType::uint16 ? 1 : 2;
}

std::optional<double> value_of(std::span<const std::uint16_t> registers, RegisterType type,
                               bool high_word_first) {
  if (registers.size() < static_cast<std::size_t>(registers_of(type))) return std::nullopt;
  const std::uint32_t first = registers[0];
  if (type == RegisterType::uint16) return first;
  if (type == RegisterType::int16) return static_cast<std::int16_t>(first);
  const std::uint32_t second = registers[1];
  const std::uint32_t both = high_word_first ? first << 16 | second : second << 16 | first;
  if (type == RegisterType::uint32) return both;
  if (type == RegisterType::int32) return static_cast<std::int32_t>(both);
  const float value = std::bit_cast<float>(both);
  return std::isfinite(value) ? std::optional<double>(value) : std::nullopt;
}

// --- XDR

Talker::Talker(std::string_view text) {
  if (text.size() == letters_.size()) letters_ = {text[0], text[1]};
}

bool ChannelMap::has_quad(const ChannelSpec& channel, const XdrQuad& quad) {
  return type_of(channel.gives) == quad.type && channel.name == quad.name;
}

bool ChannelMap::is_mixed(QuadChannel& channel, std::string_view talker, std::span<const XdrQuad> quads,
                          const XdrQuad& quad) {
  for (const XdrQuad& each : quads)
    if (&each != &quad && is_one_place(each, quad)) channel.twice = true;
  const Talker talks(talker);
  if (channel.heard.is_none()) channel.heard = talks;
  if (channel.heard != talks) channel.other = talks;
  return channel.twice || !channel.other.is_none();
}

const QuadChannel* ChannelMap::mixed(std::size_t instrument) const {
  for (const QuadChannel& channel : channels_)
    if (channel.spec.instrument == instrument && (channel.twice || !channel.other.is_none())) return &channel;
  return nullptr;
}

void ChannelMap::forget() {
  for (QuadChannel& channel : channels_) {
    channel.heard = channel.other = {};
    channel.twice = false;
  }
}

std::optional<double> ChannelMap::convert(const ChannelSpec& channel, const XdrQuad& quad) {
  const auto value = to_si(channel, quad.value, unit_of_type(quad.type), stations_);
  if (!value) ++not_usable_;
  return value;
}

// --- Modbus

RegisterMap::RegisterMap(int address, std::span<RegisterChannel> channels, std::span<ReadRequest> room,
                         std::size_t stations)
    : channels_(channels), stations_(stations) {
  std::sort(channels.begin(), channels.end(), [](const RegisterChannel& a, const RegisterChannel& b) {
    const auto key = [](const RegisterChannel& each) {
      return std::tuple(function_of(each.spec.place), each.spec.place.number, each.spec.channel);
    };
    return key(a) < key(b);
  });
  std::size_t used = 0;
  for (RegisterChannel& channel : channels) {
    channel.request = RegisterChannel::kNotAsked;
    const RegisterPlace& place = channel.spec.place;
    const int function = function_of(place), end = place.number + registers_of(place.type);
    if (place.number < 0 || end > kRegisters) continue;
    const ReadRequest* const last = used > 0 ? &room[used - 1] : nullptr;
    const bool adjoins = last != nullptr && last->function == function &&
                         place.number <= last->first + last->count && end <= last->first + kMostRegisters;
    if (!adjoins) {
      if (used == room.size()) continue;
      room[used++] = {address, function, place.number, 0};
    }
    ReadRequest& request = room[used - 1];
    request.count = std::max(request.count, end - request.first);
    channel.request = used - 1;
    channel.offset = static_cast<std::size_t>(place.number - request.first);
  }
  requests_ = room.first(used);
}

std::optional<double> RegisterMap::convert(const RegisterChannel& channel,
                                           std::span<const std::uint16_t> registers) {
  const RegisterPlace& place = channel.spec.place;
  std::optional<double> value;
  if (channel.offset < registers.size())
    value = value_of(registers.subspan(channel.offset), place.type, place.high_word_first);
  if (value) value = to_si(channel.spec, *value * place.scale, channel.spec.unit, stations_);
  if (!value) ++not_usable_;
  return value;
}

// --- Line

std::optional<double> LineMap::convert(const LineChannel& channel, const LineMatch& match) {
  std::optional<Unit> unit = channel.spec.unit;
  if (channel.pattern.has_unit()) unit = unit_named(match.unit);
  std::optional<double> value;
  if (unit || channel.spec.gives == Channel::station)
    value = to_si(channel.spec, match.number, unit.value_or(Unit::none), stations_);
  if (!value) ++not_usable_;
  return value;
}

void LineMap::count(std::string_view line, bool fits, bool ambiguous, bool of_use) {
  if (!fits) ++unmatched_;
  if (ambiguous) ++ambiguous_;
  if (of_use) return;
  last_length_ = std::min(line.size(), last_.size());
  std::copy_n(line.begin(), last_length_, last_.begin());
}

}  // namespace hangtrue::wire
