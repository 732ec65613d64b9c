// byte_counts.hpp: bytes by what became of them. Every decoder here keeps
//     in = used + dropped_in_all() + pending
// after every chunk, and its counts do not depend on how the stream is cut into chunks.
//
// Reason  an enum class whose last enumerator is `count`; name(Reason) says it in words.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace hangtrue::wire {

template <class Reason>
struct CountsBy {
  std::uint64_t in = 0;
  std::uint64_t used = 0;  // in what was decoded, line ends and checksums included
  std::array<std::uint64_t, static_cast<std::size_t>(Reason::count)> dropped{};

  [[nodiscard]] std::uint64_t dropped_as(Reason reason) const {
    return dropped[static_cast<std::size_t>(reason)];
  }
  [[nodiscard]] std::uint64_t dropped_in_all() const {
    std::uint64_t sum = 0;
    for (const std::uint64_t bytes : dropped) sum += bytes;
    return sum;
  }
  void drop(Reason reason, std::size_t bytes) { dropped[static_cast<std::size_t>(reason)] += bytes; }
};

}  // namespace hangtrue::wire
