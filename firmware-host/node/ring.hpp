// ring.hpp: the one thing that an interrupt and the main program share: a ring for one producer and one consumer.
//
// Model    put() is called by the producer alone, take() by the consumer alone; either may interrupt the other anywhere. Each
//          writes its own index alone, with release, and reads the other's with acquire.
// Limits   kSize elements, a power of two. A full ring refuses: put() is false, and the producer counts what was lost.
// Source   L. Lamport, Proving the correctness of multiprocess programs, IEEE Trans. Software Eng. SE-3 (1977), on a queue of one
//          producer and one consumer without locks (from memory).
#pragma once

#include <array>
#include <atomic>
#include <cstdint>

namespace hangtrue::node {

template <class Element, std::uint32_t kSize>
class Ring {
  static_assert(kSize > 1 && (kSize & (kSize - 1)) == 0, "indices wrap by a mask");
  static_assert(std::atomic<std::uint32_t>::is_always_lock_free);

 public:
  /// False, and nothing changes, when it is full.
  [[nodiscard]] bool put(Element element) {
    const std::uint32_t written = written_.load(std::memory_order_relaxed);
    if (written - taken_.load(std::memory_order_acquire) == kSize) return false;
    element_[written & (kSize - 1)] = element;
    written_.store(written + 1, std::memory_order_release);
    return true;
  }
  /// False, and `element` stays, when it is empty.
  [[nodiscard]] bool take(Element& element) {
    const std::uint32_t taken = taken_.load(std::memory_order_relaxed);
    if (written_.load(std::memory_order_acquire) == taken) return false;
    element = element_[taken & (kSize - 1)];
    taken_.store(taken + 1, std::memory_order_release);
    return true;
  }
  /// For the producer: so many more there is room for, at least.
  [[nodiscard]] std::uint32_t room() const {
    return kSize - (written_.load(std::memory_order_relaxed) - taken_.load(std::memory_order_acquire));
  }

 private:
  std::array<Element, kSize> element_{};
  std::atomic<std::uint32_t> written_{0}, taken_{0};  // counts; they wrap
};

}  // namespace hangtrue::node
