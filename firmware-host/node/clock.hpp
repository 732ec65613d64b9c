// clock.hpp: a time that does not wrap, from a tick of 32 bits that does. To be asked at least once in 49 days.
#pragma once

#include <cstdint>

namespace hangtrue::node {

class Clock {
 public:
  [[nodiscard]] std::uint64_t ms(std::uint32_t tick) {
    ms_ += std::uint32_t(tick - last_);  // modulo 2^32
    last_ = tick;
    return ms_;
  }

 private:
  std::uint32_t last_ = 0;
  std::uint64_t ms_ = 0;
};

}  // namespace hangtrue::node
