// fuzz.hpp: what the fuzz targets share. Each takes any bytes and stops the program where an invariant does
// not hold; libFuzzer keeps the bytes that led there.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <random>
#include <string>
#include <string_view>

/// libFuzzer's own mutator, for those that mend a checksum behind it.
extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);

namespace hangtrue::fuzz {

inline void require(bool holds, const char* what) {
  if (holds) return;
  std::fprintf(stderr, "does not hold: %s\n", what);
  std::abort();
}

inline std::string_view text_of(const std::uint8_t* data, std::size_t size) {
  return {reinterpret_cast<const char*>(data), size};
}

/// Takes the text up to the first `mark` off the front, the mark too.
inline std::string_view take_to(char mark, std::string_view& rest) {
  const std::size_t end = rest.find(mark);
  const std::string_view front = rest.substr(0, end);
  rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
  return front;
}

/// Calls on_chunk for the bytes in pieces of 0 ... 30 bytes, cut by `seed`.
template <class OnChunk>
void in_chunks(std::string_view bytes, std::uint32_t seed, OnChunk&& on_chunk) {
  std::minstd_rand random(seed);
  while (!bytes.empty()) {
    const std::string_view chunk = bytes.substr(0, random() % 31);
    on_chunk(chunk);
    bytes.remove_prefix(chunk.size());
  }
}

}  // namespace hangtrue::fuzz
