// listener.hpp: the other end of one simulated instrument's line: bytes into SI samples, by the decoders of wire/.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

#include "firmware-host/daemon/kit_channels.hpp"
#include "firmware-host/wire/line_reader.hpp"
#include "firmware-host/wire/modbus.hpp"
#include "firmware-host/wire/xdr.hpp"
#include "tools/rehearsal/instruments.hpp"

namespace hangtrue::rehearsal {

class Listener {
 public:
  Listener(const sheet::KitInstrument& kit, std::size_t stations)
      : kit_(kit), channels_(kit, stations), registers_(kit, stations), lines_(kit, stations) {
    if (const auto complaints = daemon::complaints_of_speech(kit, "kit.toml"); !complaints.empty())
      throw std::invalid_argument(complaints.front().text());
  }
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;

  /// What it sends by itself at that time, or answers when it is asked once.
  std::vector<wire::Sample> listen(Instrument& instrument, double now_s) {
    if (kit_.speaks == sheet::Speaks::xdr) return take(instrument.sample(now_s));
    if (kit_.speaks == sheet::Speaks::line)
      return take(kit_.ask.empty() ? instrument.sample(now_s) : instrument.hear(kit_.ask, now_s));
    std::vector<wire::Sample> samples;
    wire::RegisterMap& registers = registers_.map();
    for (std::size_t k = 0; k < registers.requests().size(); ++k) {
      const auto request = wire::read_request(registers.requests()[k]).value();
      answer_.expect(registers.requests()[k]);
      answer_.push(instrument.hear({request.data(), request.size()}, now_s));
      if (answer_.finish() == wire::ModbusAnswer::State::registers)
        registers.read(k, answer_.registers(),
                       [&samples](const wire::Sample& sample) { samples.push_back(sample); });
    }
    return samples;
  }

  /// Bytes of an instrument that sends text.
  std::vector<wire::Sample> take(std::string_view bytes) {
    std::vector<wire::Sample> samples;
    const auto keep = [&samples](const wire::Sample& sample) { samples.push_back(sample); };
    if (kit_.speaks == sheet::Speaks::xdr)
      reader_.push(bytes, [&](std::string_view talker, std::span<const wire::XdrQuad> quads) {
        channels_.read(talker, quads, keep);
      });
    else
      text_.push(bytes, [&](std::string_view line) { return lines_.map().read(line, keep); });
    return samples;
  }

  /// Bytes that were of no use, but for the first line: its beginning might have been missed.
  [[nodiscard]] std::uint64_t bytes_lost() const {
    return reader_.bytes_lost() + answer_.counts().dropped_in_all() + text_.counts().dropped_in_all() -
           text_.counts().dropped_as(wire::LineDropped::begun_before);
  }
  [[nodiscard]] const wire::XdrReader& reader() const { return reader_; }
  [[nodiscard]] const daemon::KitQuads& channels() const { return channels_; }
  [[nodiscard]] const wire::ModbusAnswer& answer() const { return answer_; }
  [[nodiscard]] const wire::LineReader& text() const { return text_; }

 private:
  const sheet::KitInstrument& kit_;
  wire::XdrReader reader_;
  daemon::KitQuads channels_;
  wire::ModbusAnswer answer_;
  daemon::KitRegisters registers_;
  wire::LineReader text_;
  daemon::KitLines lines_;
};

}  // namespace hangtrue::rehearsal
