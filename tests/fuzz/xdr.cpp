// Any bytes into XdrReader: all are accounted for, values are finite, and the result does not depend on how
// they are cut. The mutator mends the checksum of every sentence most of the time, to get beyond it.
#include <cmath>

#include "firmware-host/wire/xdr.hpp"
#include "tests/fuzz/fuzz.hpp"

namespace {

using namespace hangtrue;

struct Reading {
  wire::XdrReader reader;
  std::string told;  // every value with its talker and name

  void push(std::string_view chunk) {
    reader.push(chunk, [this](std::string_view talker, std::span<const wire::XdrQuad> quads) {
      for (const wire::XdrQuad& quad : quads) {
        fuzz::require(std::isfinite(quad.value), "values are finite");
        told.append(talker)
            .append(1, quad.type)
            .append(std::to_string(quad.value))
            .append(quad.name)
            .append(1, '\n');
      }
    });
    fuzz::require(reader.bytes_in() == reader.bytes_used() + reader.bytes_lost() + reader.bytes_pending(),
                  "every byte is accounted for");
  }
};

}  // namespace

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size, std::size_t most,
                                               unsigned seed) {
  size = LLVMFuzzerMutate(data, size, most);
  if (seed % 4 == 0) return size;
  for (std::size_t i = 0, start = size; i + 2 < size; ++i) {
    if (data[i] == '$') start = i + 1;
    if (data[i] != '*' || start > i) continue;
    const unsigned sum = wire::checksum(fuzz::text_of(data + start, i - start));
    data[i + 1] = static_cast<std::uint8_t>("0123456789ABCDEF"[sum / 16]);
    data[i + 2] = static_cast<std::uint8_t>("0123456789ABCDEF"[sum % 16]);
  }
  return size;
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes = fuzz::text_of(data, size);
  Reading whole, pieces;
  whole.push(bytes);
  fuzz::in_chunks(bytes, static_cast<std::uint32_t>(size),
                  [&pieces](std::string_view chunk) { pieces.push(chunk); });
  fuzz::require(whole.told == pieces.told && whole.reader.bytes_used() == pieces.reader.bytes_used(),
                "the result does not depend on how the bytes are cut");
  return 0;
}
