// board.hpp: all that the node needs of a board. Another board is another file that defines these (mps2_an386.cpp is one), and its
// linker script.
//
// Calls    from the main program alone, never from an interrupt.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

#include "firmware-host/node/sample.hpp"

namespace hangtrue::node::board {

/// Lines, tick and watchdog run from here on.
void start();
/// Sleeps until the next interrupt, at most a millisecond.
void wait();
/// Milliseconds since start(); wraps after 49.7 days (clock.hpp carries on).
[[nodiscard]] std::uint32_t tick_ms();
/// To be called at least once a second, or the board starts anew.
void feed_watchdog();
/// This start was the watchdog's.
[[nodiscard]] bool watchdog_bit();

/// The host's line. Next byte of it; false: none.
[[nodiscard]] bool take_host_byte(char& byte);
/// All of it or nothing; false: no room yet.
[[nodiscard]] bool send(std::string_view bytes);
/// Bytes of the host that nobody took in time.
[[nodiscard]] std::uint32_t host_overruns();

/// The sensor's next sample; false: none.
[[nodiscard]] bool take_sample(Sample& sample);
struct SensorCounts {
  std::uint32_t samples = 0, refused_bytes = 0, overruns = 0;
};
[[nodiscard]] SensorCounts sensor_counts();
/// The sensor adds a known signal of its own while this is on.
void excite_sensor(bool on);

/// Memory that keeps what it holds without power.
[[nodiscard]] std::span<volatile std::uint8_t> lasting_memory();

/// Bytes of the stack: all, and so many of them used at most so far.
struct Stack {
  std::uint32_t size = 0, used = 0;
};
[[nodiscard]] Stack stack();

}  // namespace hangtrue::node::board
