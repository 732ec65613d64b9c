#include "firmware-host/daemon/kit_channels.hpp"

#include <utility>

namespace hangtrue::daemon {
namespace {

/// Names of unknown quads that are counted apart. No source: more than one device sends, few enough to read.
constexpr std::size_t kMostUnknownNames = 64;

wire::RegisterType type_of(sheet::RegisterType type) {
  switch (type) {
    case sheet::RegisterType::int16:
      return wire::RegisterType::int16;
    case sheet::RegisterType::uint16:
      return wire::RegisterType::uint16;
    case sheet::RegisterType::int32:
      return wire::RegisterType::int32;
    case sheet::RegisterType::uint32:
      return wire::RegisterType::uint32;
    case sheet::RegisterType::float32:
      break;
  }
  return wire::RegisterType::float32;
}

/// What was found in place of a pattern.
std::string found(const wire::PatternFault& fault) {
  using Why = wire::PatternFault::Why;
  switch (fault.why) {
    case Why::too_long:
      return "a pattern of " + std::to_string(fault.count) + " characters, where " +
             std::to_string(wire::kLongestPattern) + " are the most";
    case Why::stray_brace:
      return "a brace that is part of neither {number}, {number,} nor {unit}";
    case Why::strange_character:
      return "a character that no line brings";
    case Why::no_number:
      return "no {number}";
    case Why::many_numbers:
      return "{number} " + std::to_string(fault.count) + " times";
    case Why::many_units:
      break;
  }
  return "{unit} " + std::to_string(fault.count) + " times";
}

std::vector<wire::QuadChannel> quads_of(std::span<const sheet::KitInstrument* const> instruments) {
  std::vector<wire::QuadChannel> all;
  for (std::size_t i = 0; i < instruments.size(); ++i)
    for (std::size_t k = 0; k < instruments[i]->channels.size(); ++k)
      all.push_back({.spec = spec_of(*instruments[i], k, i)});
  return all;
}

std::vector<wire::RegisterChannel> registers_of(const sheet::KitInstrument& instrument) {
  std::vector<wire::RegisterChannel> all;
  for (std::size_t i = 0; i < instrument.channels.size(); ++i)
    if (instrument.channels[i].modbus) all.push_back({.spec = spec_of(instrument, i, 0)});
  return all;
}

Result<wire::LinePattern, wire::PatternFault> pattern_of(const sheet::KitChannel& channel) {
  return wire::LinePattern::compile(channel.transducer,
                                    channel.within ? wire::Extent::within : wire::Extent::whole);
}

std::vector<wire::LineChannel> lines_of(const sheet::KitInstrument& instrument) {
  std::vector<wire::LineChannel> all;
  for (std::size_t i = 0; i < instrument.channels.size(); ++i)
    if (auto pattern = pattern_of(instrument.channels[i]); pattern.ok())
      all.push_back({spec_of(instrument, i, 0), pattern.value()});
  return all;
}

}  // namespace

wire::ChannelSpec spec_of(const sheet::KitInstrument& instrument, std::size_t channel, std::size_t number) {
  const sheet::KitChannel& kit = instrument.channels[channel];
  wire::ChannelSpec spec{.instrument = number, .channel = channel, .gives = kit.gives, .sign = kit.sign};
  spec.unit = wire::unit_named(kit.unit).value_or(wire::Unit::none);
  spec.name = kit.transducer;
  spec.talker = instrument.talker;
  if (kit.modbus)
    spec.place = {kit.modbus->holding, kit.modbus->number, type_of(kit.modbus->type),
                  kit.modbus->high_word_first, kit.modbus->scale};
  return spec;
}

std::vector<sheet::Complaint> complaints_of_speech(const sheet::KitInstrument& instrument,
                                                   const std::string& file) {
  std::vector<sheet::Complaint> complaints;
  for (std::size_t i = 0; i < instrument.channels.size(); ++i) {
    const sheet::KitChannel& channel = instrument.channels[i];
    if (instrument.speaks == sheet::Speaks::line)
      if (const auto pattern = pattern_of(channel); !pattern.ok())
        complaints.push_back({file, channel.line, channel.key, found(pattern.fault()),
                              "a pattern with one {number}, such as \"DIST {number} {unit}\""});
    const wire::RegisterPlace place = spec_of(instrument, i, 0).place;
    if (channel.modbus && place.number + wire::registers_of(place.type) > wire::kRegisters)
      complaints.push_back({file, channel.line, channel.key,
                            '"' + channel.transducer + "\", of a type that takes two registers",
                            "a register from 0 to 65534"});
  }
  return complaints;
}

KitQuads::KitQuads(std::span<const sheet::KitInstrument* const> instruments, std::size_t stations)
    : channels_(quads_of(instruments)), map_(channels_, stations) {}

KitQuads::KitQuads(const sheet::KitInstrument& instrument, std::size_t stations)
    : KitQuads(std::vector<const sheet::KitInstrument*>{&instrument}, stations) {}

std::string KitQuads::mixed(std::size_t instrument) const {
  const wire::QuadChannel* const channel = map_.mixed(instrument);
  if (channel == nullptr) return {};
  const std::string name = '"' + std::string(channel->spec.name) + '"';
  if (channel->twice)
    return name +
           " stands twice in one sentence, and nobody knows which is meant; give the device's values names "
           "of their own";
  return "two talkers, " + std::string(channel->heard.text()) + " and " + std::string(channel->other.text()) +
         ", send " + name + ", and nobody knows which is meant; name the one by talker in the kit sheet";
}

void KitQuads::count_unknown(const wire::XdrQuad& quad, std::string_view other_talker) {
  std::string key = std::string(quad.name) + " (" + quad.type + ")";
  if (!other_talker.empty()) key += " from " + std::string(other_talker);
  if (unknown_.size() >= kMostUnknownNames && !unknown_.contains(key)) key = "others";
  ++unknown_[std::move(key)];
}

KitRegisters::KitRegisters(const sheet::KitInstrument& instrument, std::size_t stations)
    : channels_(registers_of(instrument)),
      room_(channels_.size()),
      map_(instrument.address, channels_, room_, stations) {}

KitLines::KitLines(const sheet::KitInstrument& instrument, std::size_t stations)
    : channels_(lines_of(instrument)), map_(channels_, stations) {}

}  // namespace hangtrue::daemon
