#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <optional>

#include "firmware-host/wire/modbus.hpp"
#include "tools/rehearsal/ways_of_speaking.hpp"

namespace hangtrue::rehearsal {

namespace {

// Modbus Application Protocol V1.1b3, sections 6 and 7; frames: Modbus over serial line V1.02, 2.5.1.
constexpr std::uint8_t kReadHolding = 3, kReadInput = 4, kLastOfFixedLength = 6, kExceptionBit = 0x80;
constexpr std::uint8_t kIllegalFunction = 1, kIllegalAddress = 2, kIllegalValue = 3, kBusy = 6;
constexpr std::size_t kReadRequest = 8, kShortestFrame = 4;

struct Ends {
  double lowest, highest;
};
Ends ends(sheet::RegisterType type) {
  const auto of = [](auto sample) {
    using Number = decltype(sample);
    return Ends{double(std::numeric_limits<Number>::lowest()), double(std::numeric_limits<Number>::max())};
  };
  switch (type) {
    case sheet::RegisterType::int16:
      return of(std::int16_t{});
    case sheet::RegisterType::uint16:
      return of(std::uint16_t{});
    case sheet::RegisterType::int32:
      return of(std::int32_t{});
    case sheet::RegisterType::uint32:
      return of(std::uint32_t{});
    case sheet::RegisterType::float32:
      break;
  }
  return of(float{});
}

bool is_wide(sheet::RegisterType type) { return type >= sheet::RegisterType::int32; }

/// The words of a channel's registers, in the order of their numbers.
std::vector<std::uint16_t> register_words(const sheet::Register& place, double number) {
  const Ends limits = ends(place.type);
  const double held = std::clamp(number, limits.lowest, limits.highest);
  if (!is_wide(place.type)) return {static_cast<std::uint16_t>(std::llround(held))};
  const std::uint32_t bits = place.type == sheet::RegisterType::float32
                                 ? std::bit_cast<std::uint32_t>(static_cast<float>(held))
                                 : static_cast<std::uint32_t>(std::llround(held));
  std::vector<std::uint16_t> two = {static_cast<std::uint16_t>(bits >> 16), static_cast<std::uint16_t>(bits)};
  if (!place.high_word_first) std::swap(two[0], two[1]);
  return two;
}

void append_word(std::string& frame, unsigned word) {
  frame += static_cast<char>(word >> 8 & 0xFF);
  frame += static_cast<char>(word & 0xFF);
}

std::uint8_t byte_of(std::string_view frame, std::size_t at) { return static_cast<std::uint8_t>(frame[at]); }
int word_of(std::string_view frame, std::size_t at) {
  return byte_of(frame, at) << 8 | byte_of(frame, at + 1);
}

void append_crc(std::string& frame, unsigned spoilt_by = 0) {  // low byte first
  const unsigned sum = wire::crc16(frame) ^ spoilt_by;
  frame += static_cast<char>(sum & 0xFF);
  frame += static_cast<char>(sum >> 8 & 0xFF);
}

class ModbusInstrument final : public Instrument {
 public:
  ModbusInstrument(const Truth& truth, const sheet::KitSheet& kit_sheet, std::size_t index,
                   std::uint64_t seed, FaultRates rates, double handling_s)
      : Instrument(truth, kit_sheet, index, seed, rates, handling_s) {
    for (std::size_t i = 0; i < kit().channels.size(); ++i) check(i);
  }

  std::string hear(std::string_view bytes, double now_s) override {
    if (now_s - heard_at_s_ > kForgets_s) heard_.clear();
    heard_at_s_ = now_s;
    std::string out;
    for (const char byte : bytes) {
      heard_ += byte;
      const bool whole = is_whole(heard_);
      if (whole) out += answer(heard_, now_s);
      if (whole || heard_.size() == wire::kLongestFrame) heard_.clear();
    }
    return out;
  }

 private:
  void check(std::size_t i) const {
    const sheet::KitChannel& channel = kit().channels[i];
    const sheet::Register& place = channel.modbus.value();
    if (!is_measured_of_run(channel.gives)) return;
    const Ends limits = ends(place.type);
    const bool whole_numbers = place.type != sheet::RegisterType::float32;
    if (whole_numbers && 0.5 > std::abs(number(channel, channel.sigma) - number(channel, 0)))
      refuse(i, "half a step of its register is more than its sigma; a smaller scale would be right");
    const bool only_positive = channel.gives == Channel::distance && channel.sign * place.scale > 0;
    if (limits.lowest == 0 && !only_positive) refuse(i, "its register holds no negative numbers");
    for (const auto& end : {channel.range_from, channel.range_to}) {
      if (!end) continue;
      const double wanted = number(channel, *end);
      if (wanted < limits.lowest - 0.5 || wanted > limits.highest + 0.5)
        refuse(i, "its register cannot hold the ends of its range");
    }
  }

  /// What the register holds for a value in SI, not yet rounded.
  static double number(const sheet::KitChannel& channel, double value) {
    const double counted = is_measured_of_run(channel.gives) ? channel.sign * value : value;
    return in_unit(counted, channel.unit, channel.gives) / channel.modbus->scale;
  }

  /// Requests of the common functions have eight bytes; any other ends where its CRC fits.
  static bool is_whole(std::string_view frame) {
    if (frame.size() < kShortestFrame) return false;
    if (byte_of(frame, 1) <= kLastOfFixedLength && frame.size() != kReadRequest) return false;
    return wire::crc16(frame.substr(0, frame.size() - 2)) ==
           (byte_of(frame, frame.size() - 1) << 8 | byte_of(frame, frame.size() - 2));
  }

  std::string answer(std::string_view request, double now_s) {
    if (byte_of(request, 0) != kit().address) return {};  // another unit, or all of them
    if (happens(rates_.no_answer)) {
      ++faults_.not_answered;
      return {};
    }
    const std::uint8_t function = byte_of(request, 1);
    std::string frame = {request[0], request[1]};
    std::uint8_t exception = 0;
    std::string registers;
    if (function != kReadHolding && function != kReadInput) {
      exception = kIllegalFunction;
    } else if (happens(rates_.exception)) {
      ++faults_.exceptions;
      exception = kBusy;
    } else {
      exception = read(function == kReadHolding, word_of(request, 2), word_of(request, 4), now_s, registers);
    }
    if (exception == 0) {
      frame += static_cast<char>(registers.size());
      frame += registers;
    } else {
      frame[1] = static_cast<char>(function | kExceptionBit);
      frame += static_cast<char>(exception);
    }
    ++faults_.messages;
    const bool wrong = happens(rates_.wrong_checksum);
    if (wrong) ++faults_.wrong_checksum;
    append_crc(frame, wrong ? 0x0100 : 0);
    maybe_tear(frame);
    return frame;
  }

  /// The registers' bytes into `out`, or why not.
  std::uint8_t read(bool holding, int first, int count, double now_s, std::string& out) {
    if (count < 1 || count > wire::kMostRegisters) return kIllegalValue;
    std::vector<std::optional<std::uint16_t>> asked(static_cast<std::size_t>(count));
    for (std::size_t i = 0; i < kit().channels.size(); ++i) {
      const sheet::KitChannel& channel = kit().channels[i];
      const sheet::Register& place = *channel.modbus;
      const int wide = is_wide(place.type) ? 2 : 1;
      if (place.holding != holding || place.number + wide <= first || place.number >= first + count) continue;
      const std::vector<std::uint16_t> held = register_words(place, number(channel, value(i, now_s)));
      for (int k = 0; k < wide; ++k) {
        const int at = place.number + k - first;
        if (at >= 0 && at < count) asked[static_cast<std::size_t>(at)] = held[static_cast<std::size_t>(k)];
      }
    }
    for (const std::optional<std::uint16_t>& one : asked) {
      if (!one) return kIllegalAddress;
      append_word(out, *one);
    }
    return 0;
  }

  std::string heard_;
  double heard_at_s_ = 0;
};

}  // namespace

std::unique_ptr<Instrument> make_modbus_instrument(const Truth& truth, const sheet::KitSheet& kit,
                                                   std::size_t index, std::uint64_t seed, FaultRates rates,
                                                   double handling_s) {
  return std::make_unique<ModbusInstrument>(truth, kit, index, seed, rates, handling_s);
}

}  // namespace hangtrue::rehearsal
