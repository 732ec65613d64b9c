#include "firmware-host/wire/channels.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <tuple>

#include "firmware-host/sheet/units.hpp"

namespace hangtrue::wire {

namespace {

constexpr std::size_t kMostUnknownNames = 64;

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

std::string_view unit_of_type(char type) {
  switch (type) {
    case 'A':
      return "deg";
    case 'D':
      return "m";
    case 'C':
      return "C";
    default:
      return "";
  }
}

/// How devices write units, in lower case, and how sheets do.
struct Spelling {
  std::string_view device, sheet;
};
constexpr std::array kSpellings = {Spelling{"inch", "in"}, Spelling{"\"", "in"},      Spelling{"'", "ft"},
                                   Spelling{"c", "C"},     Spelling{"degc", "C"},     Spelling{"f", "F"},
                                   Spelling{"degf", "F"},  Spelling{"degrees", "deg"}};

std::string as_in_sheets(std::string_view unit) {
  std::string plain;
  for (const char c : unit) {
    if (c == '\xB0') {
      plain += "deg";
    } else if (c != '\xC2') {  // in UTF-8 it goes before the degree sign
      plain += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    }
  }
  for (const Spelling& spelling : kSpellings)
    if (plain == spelling.device) return std::string(spelling.sheet);
  return plain;
}

std::string complaint(const sheet::KitInstrument& instrument, std::size_t channel,
                      const PatternFault& fault) {
  return instrument.name + ": channel[" + std::to_string(channel + 1) + "].transducer \"" +
         instrument.channels[channel].transducer + "\": found " + fault.found + ", expected " +
         fault.expected;
}

}  // namespace

std::optional<double> to_si(const sheet::KitChannel& channel, double raw, std::string_view unit,
                            std::size_t stations) {
  if (channel.gives == Channel::station) {
    const bool is_one = raw == std::floor(raw) && raw >= 1 && raw <= static_cast<double>(stations);
    return is_one ? std::optional(raw - 1) : std::nullopt;
  }
  const auto value = sheet::convert(raw, unit, sheet::kind_of(channel.gives));
  if (!value.ok()) return std::nullopt;
  return channel.gives == Channel::temperature ? value.value() : channel.sign * value.value();
}

int registers_of(sheet::RegisterType type) {
  return type == sheet::RegisterType::int16 || type == sheet::RegisterType::uint16 ? 1 : 2;
}

std::optional<double> value_of(std::span<const std::uint16_t> registers, sheet::RegisterType type,
                               bool high_word_first) {
  if (registers.size() < static_cast<std::size_t>(registers_of(type))) return std::nullopt;
  const std::uint32_t first = registers[0];
  if (type == sheet::RegisterType::uint16) return first;
  if (type == sheet::RegisterType::int16) return static_cast<std::int16_t>(first);
  const std::uint32_t second = registers[1];
  const std::uint32_t both = high_word_first ? first << 16 | second : second << 16 | first;
  if (type == sheet::RegisterType::uint32) return both;
  if (type == sheet::RegisterType::int32) return static_cast<std::int32_t>(both);
  const float value = std::bit_cast<float>(both);
  return std::isfinite(value) ? std::optional<double>(value) : std::nullopt;
}

// --- XDR

ChannelMap::ChannelMap(const sheet::KitInstrument& instrument, std::size_t stations) : stations_(stations) {
  add(instrument, 0);
}

ChannelMap::ChannelMap(std::span<const sheet::KitInstrument* const> instruments, std::size_t stations)
    : stations_(stations) {
  for (std::size_t i = 0; i < instruments.size(); ++i) add(*instruments[i], i);
}

void ChannelMap::add(const sheet::KitInstrument& instrument, std::size_t number) {
  for (std::size_t i = 0; i < instrument.channels.size(); ++i)
    channels_.push_back(
        {number, i, instrument.channels[i], instrument.talker, type_of(instrument.channels[i].gives)});
}

bool ChannelMap::is_mixed(Mapped& channel, std::string_view talker, std::span<const XdrQuad> quads,
                          std::size_t at) {
  for (std::size_t i = 0; i < quads.size(); ++i)
    if (i != at && quads[i].type == quads[at].type && quads[i].name == quads[at].name) channel.twice = true;
  if (channel.heard.empty()) channel.heard = talker;
  if (channel.heard != talker) channel.other = talker;
  return channel.twice || !channel.other.empty();
}

std::string ChannelMap::mixed(std::size_t instrument) const {
  for (const Mapped& channel : channels_) {
    if (channel.instrument != instrument) continue;
    if (channel.twice)
      return "\"" + channel.kit.transducer +
             "\" stands twice in one sentence, and nobody knows which is meant; give the device's values "
             "names of their own";
    if (!channel.other.empty())
      return "two talkers, " + channel.heard + " and " + channel.other + ", send \"" +
             channel.kit.transducer +
             "\", and nobody knows which is meant; name the one by talker in the kit sheet";
  }
  return {};
}

void ChannelMap::forget() {
  for (Mapped& channel : channels_) {
    channel.heard.clear();
    channel.other.clear();
    channel.twice = false;
  }
}

std::optional<double> ChannelMap::convert(const Mapped& channel, double raw) {
  const auto value = to_si(channel.kit, raw, unit_of_type(channel.type), stations_);
  if (!value) ++not_usable_;
  return value;
}

void ChannelMap::count_unknown(const XdrQuad& quad, std::string_view talker) {
  std::string key = std::string(quad.name) + " (" + quad.type + ")";
  if (!talker.empty()) key += " from " + std::string(talker);
  if (unknown_.size() >= kMostUnknownNames && !unknown_.contains(key)) key = "others";
  ++unknown_[std::move(key)];
}

// --- Modbus

RegisterMap::RegisterMap(const sheet::KitInstrument& instrument, std::size_t stations)
    : channels_(instrument.channels), stations_(stations) {
  struct Wanted {
    int function, first, end;
    std::size_t channel;
  };
  std::vector<Wanted> all;
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    if (!channels_[i].modbus) continue;
    const sheet::Register& place = *channels_[i].modbus;
    const int end = place.number + registers_of(place.type);
    if (place.number < 0 || end > 0x10000) {
      complaints_.push_back(complaint(
          instrument, i,
          {"a value that goes beyond register 65535", "a number up to 65534 for a type of 32 bits"}));
      continue;
    }
    all.push_back({place.holding ? 3 : 4, place.number, end, i});
  }
  std::sort(all.begin(), all.end(), [](const Wanted& a, const Wanted& b) {
    return std::tie(a.function, a.first, a.channel) < std::tie(b.function, b.first, b.channel);
  });
  for (const Wanted& wanted : all) {
    const bool adjoins = !requests_.empty() && requests_.back().function == wanted.function &&
                         wanted.first <= requests_.back().first + requests_.back().count &&
                         wanted.end <= requests_.back().first + kMostRegisters;
    if (!adjoins) requests_.push_back({instrument.address, wanted.function, wanted.first, 0});
    ReadRequest& request = requests_.back();
    request.count = std::max(request.count, wanted.end - request.first);
    places_.push_back(
        {wanted.channel, requests_.size() - 1, static_cast<std::size_t>(wanted.first - request.first)});
  }
}

std::optional<double> RegisterMap::convert(const Place& place, std::span<const std::uint16_t> registers) {
  const sheet::KitChannel& channel = channels_[place.channel];
  std::optional<double> value;
  if (place.offset < registers.size())
    value = value_of(registers.subspan(place.offset), channel.modbus->type, channel.modbus->high_word_first);
  if (value) value = to_si(channel, *value * channel.modbus->scale, channel.unit, stations_);
  if (!value) ++not_usable_;
  return value;
}

// --- Line

LineMap::LineMap(const sheet::KitInstrument& instrument, std::size_t stations) : stations_(stations) {
  for (std::size_t i = 0; i < instrument.channels.size(); ++i) {
    auto pattern = LinePattern::compile(instrument.channels[i].transducer);
    if (pattern.ok()) {
      channels_.push_back({i, instrument.channels[i], std::move(pattern).value()});
    } else {
      complaints_.push_back(complaint(instrument, i, pattern.fault()));
    }
  }
}

std::optional<double> LineMap::convert(const Mapped& channel, const LineMatch& match) {
  const std::string unit = channel.pattern.has_unit() ? as_in_sheets(match.unit) : channel.kit.unit;
  const auto value = to_si(channel.kit, match.number, unit, stations_);
  if (!value) ++not_usable_;
  return value;
}

void LineMap::count(std::string_view line, bool fits, bool ambiguous, bool of_use) {
  if (!fits) ++unmatched_;
  if (ambiguous) ++ambiguous_;
  if (!of_use) last_of_no_use_ = line;
}

}  // namespace hangtrue::wire
