// instantiated.cpp: every template of this room once, as a node would use them, so that the cross build compiles them and
// tools/core-symbols sees what they refer to.
#include "firmware-host/wire/channels.hpp"
#include "firmware-host/wire/line_reader.hpp"
#include "firmware-host/wire/modbus.hpp"
#include "firmware-host/wire/xdr.hpp"

namespace hangtrue::wire {

using OnSample = void (*)(const Sample&);

void read_sentences(XdrReader& reader, ChannelMap& map, std::string_view chunk, OnSample on_sample) {
  reader.push(chunk, [&](std::string_view talker, std::span<const XdrQuad> quads) {
    map.read(talker, quads, on_sample, [](const XdrQuad&, std::string_view) {});
  });
}

void read_registers(const ModbusAnswer& answer, RegisterMap& map, std::size_t request, OnSample on_sample) {
  map.read(request, answer.registers(), on_sample);
}

void read_lines(LineReader& reader, LineMap& map, std::string_view chunk, OnSample on_sample) {
  reader.push(chunk, [&](std::string_view line) { return map.read(line, on_sample); });
}

}  // namespace hangtrue::wire
