// Any bytes into ModbusAnswer: all are accounted for, the answer has as many registers as were asked for, and
// the result does not depend on how the bytes are cut. The first four bytes are the request: address,
// function, first register, count. The mutator makes an answer or an exception of some of the bytes most of
// the time, to get beyond the checksum.
#include <algorithm>

#include "firmware-host/wire/modbus.hpp"
#include "tests/fuzz/fuzz.hpp"

namespace {

using namespace hangtrue;
using wire::ModbusAnswer;

constexpr std::size_t kRequestBytes = 4;

void push(ModbusAnswer& answer, std::string_view chunk, const wire::ReadRequest& request) {
  const ModbusAnswer::State state = answer.push(chunk);
  const ModbusAnswer::Counts& counts = answer.counts();
  fuzz::require(counts.in == counts.used + counts.dropped_in_all() + answer.pending(),
                "every byte is accounted for");
  const auto registers =
      static_cast<std::size_t>(state == ModbusAnswer::State::registers ? request.count : 0);
  fuzz::require(answer.registers().size() == registers, "as many registers as were asked for");
}

}  // namespace

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size, std::size_t most,
                                               unsigned seed) {
  size = LLVMFuzzerMutate(data, size, most);
  if (seed % 4 == 0 || size <= kRequestBytes) return size;
  const bool refused = seed % 4 == 1;
  const std::size_t at = kRequestBytes + seed / 4 % (size - kRequestBytes);
  const std::size_t bytes = 5 + (refused ? 0u : 2u * data[3]);
  if (at + bytes > size) return size;
  data[at] = data[0];
  data[at + 1] = static_cast<std::uint8_t>(data[1] | (refused ? 0x80 : 0));
  if (!refused) data[at + 2] = static_cast<std::uint8_t>(2 * data[3]);
  const unsigned crc = wire::crc16(fuzz::text_of(data + at, bytes - 2));
  data[at + bytes - 2] = static_cast<std::uint8_t>(crc);
  data[at + bytes - 1] = static_cast<std::uint8_t>(crc >> 8);
  return size;
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < kRequestBytes) return 0;
  const wire::ReadRequest request{data[0], data[1], data[2], data[3]};
  const std::string_view bytes = fuzz::text_of(data + kRequestBytes, size - kRequestBytes);
  ModbusAnswer whole, pieces;
  whole.expect(request);
  pieces.expect(request);
  push(whole, bytes, request);
  fuzz::in_chunks(bytes, static_cast<std::uint32_t>(size),
                  [&](std::string_view chunk) { push(pieces, chunk, request); });
  fuzz::require(whole.finish() == pieces.finish() && whole.fault() == pieces.fault() &&
                    whole.exception_code() == pieces.exception_code() &&
                    whole.counts().dropped == pieces.counts().dropped &&
                    std::ranges::equal(whole.registers(), pieces.registers()),
                "the result does not depend on how the bytes are cut");
  fuzz::require(whole.pending() == 0, "nothing is pending at the end");
  return 0;
}
