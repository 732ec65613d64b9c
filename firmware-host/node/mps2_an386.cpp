// mps2_an386.cpp: the board as QEMU emulates it: Cortex-M4F at 25 MHz, two lines, system tick, watchdog, memory of 16 MiB beside the
// processor's own that can be backed by a file (and so keeps what it holds when the emulator is killed).
//
// Sources   Arm Application Note AN386 (memory map, interrupts), Cortex-M System Design Kit reference (UART and watchdog registers),
//           ARMv7-M Architecture Reference Manual (system control, SysTick, vectors). From memory, tried against QEMU 7.2.
// Lines     the first is the host's; on the second the converter's samples come (sample.hpp); each sample is answered by one
//           byte, its number, so that whoever plays the converter knows how far the node is; 'E' and 'e' turn the sensor's own
//           signal on and off.
#include "firmware-host/node/board.hpp"

#include "firmware-host/node/ring.hpp"

extern "C" {
extern std::uint32_t begin_of_data, end_of_data, data_in_flash, begin_of_bss, end_of_bss, end_of_stack,
    begin_of_stack;
extern volatile std::uint32_t left_behind;
extern const char first_tick[];  // its address is the number
extern void (*first_to_construct)();
extern void (*last_to_construct)();
[[noreturn]] void work();  // the program
[[noreturn]] void start_of_node();
}

namespace hangtrue::node::board {

namespace {

using Register = volatile std::uint32_t;

Register& at(std::uint32_t address) { return *reinterpret_cast<Register*>(std::uintptr_t(address)); }

// ---- registers ----

constexpr std::uint32_t kUart[] = {0x40004000, 0x40005000};  // host, sensor
constexpr std::uint32_t kData = 0x0, kState = 0x4, kControl = 0x8, kInterrupt = 0xC, kDivider = 0x10;
constexpr std::uint32_t kTxFull = 1, kRxFull = 2, kRxOverrun = 8;
constexpr std::uint32_t kTxOn = 1, kRxOn = 2, kTxInterrupts = 4, kRxInterrupts = 8;
constexpr std::uint32_t kWatchdog = 0x40008000, kWatchdogLock = 0xC00, kUnlock = 0x1ACCE551;
constexpr std::uint32_t kTickControl = 0xE000E010, kTickReload = 0xE000E014, kTickNow = 0xE000E018;
constexpr std::uint32_t kEnableInterrupt = 0xE000E100, kPendInterrupt = 0xE000E200,
                        kCoprocessors = 0xE000ED88;
constexpr std::uint32_t kClock_Hz = 25'000'000;
constexpr std::uint32_t kWatchdogTicks = kClock_Hz;  // a second to the warning, another one to the new start
constexpr std::uint32_t kBitten = 0xB17E0001, kPaint = 0x57ACCED5;

constexpr std::uintptr_t kLasting = 0x21000000;
constexpr std::size_t kLastingBytes = 64 * 1024;

// ---- what interrupts and the main program share ----

Ring<std::uint8_t, 1024> to_host;
Ring<std::uint8_t, 512> from_host;
Ring<std::uint8_t, 64> to_sensor;
Ring<std::uint8_t, 256> from_sensor;
// Single words, each written by its interrupt alone.
std::atomic<std::uint32_t> ticks{0}, overruns_host{0}, overruns_sensor{0};

template <std::uint32_t kSize>
void receive(std::uint32_t uart, Ring<std::uint8_t, kSize>& ring, std::atomic<std::uint32_t>& overruns) {
  at(uart + kInterrupt) = 2;
  if ((at(uart + kState) & kRxOverrun) != 0) {
    at(uart + kState) = kRxOverrun;
    overruns.store(overruns.load(std::memory_order_relaxed) + 1, std::memory_order_relaxed);
  }
  while ((at(uart + kState) & kRxFull) != 0)
    if (!ring.put(std::uint8_t(at(uart + kData))))
      overruns.store(overruns.load(std::memory_order_relaxed) + 1, std::memory_order_relaxed);
}

template <std::uint32_t kSize>
void transmit(std::uint32_t uart, Ring<std::uint8_t, kSize>& ring) {
  at(uart + kInterrupt) = 1;
  std::uint8_t byte = 0;
  while ((at(uart + kState) & kTxFull) == 0 && ring.take(byte)) at(uart + kData) = byte;
}

void host_received() { receive(kUart[0], from_host, overruns_host); }
void host_sent() { transmit(kUart[0], to_host); }
void sensor_received() { receive(kUart[1], from_sensor, overruns_sensor); }
void sensor_sent() { transmit(kUart[1], to_sensor); }
void ticked() { ticks.store(ticks.load(std::memory_order_relaxed) + 1, std::memory_order_relaxed); }

// The first time-out: what follows is a new start.
void watchdog_warns() {
  left_behind = kBitten;
  for (;;) {
  }
}
void fault() { watchdog_warns(); }

bool bit = false;
SampleReader samples;
std::uint32_t samples_taken = 0;

/// The transmitting interrupt does all the writing: here it is only called.
void wake_sender(std::uint32_t interrupt) { at(kPendInterrupt) = 1u << interrupt; }

void send_to_sensor(std::uint8_t byte) {
  if (to_sensor.put(byte)) wake_sender(3);
}

}  // namespace

void start() {
  bit = left_behind == kBitten;
  left_behind = 0;
  for (const std::uint32_t uart : kUart) {
    at(uart + kDivider) = kClock_Hz / 38400;
    at(uart + kControl) = kTxOn | kRxOn | kTxInterrupts | kRxInterrupts;
  }
  at(kEnableInterrupt) = 0xF;  // both lines, both ways
  ticks.store(std::uint32_t(reinterpret_cast<std::uintptr_t>(first_tick)), std::memory_order_relaxed);
  at(kTickReload) = kClock_Hz / 1000 - 1;
  at(kTickNow) = 0;
  at(kTickControl) = 7;
  at(kWatchdog + kWatchdogLock) = kUnlock;
  at(kWatchdog) = kWatchdogTicks;
  at(kWatchdog + 8) = 3;  // warning, then new start
}

void wait() { __asm volatile("wfi"); }
std::uint32_t tick_ms() { return ticks.load(std::memory_order_relaxed); }
void feed_watchdog() { at(kWatchdog + kInterrupt) = 1; }
bool watchdog_bit() { return bit; }

bool take_host_byte(char& byte) {
  std::uint8_t taken = 0;
  if (!from_host.take(taken)) return false;
  byte = char(taken);
  return true;
}

bool send(std::string_view bytes) {
  if (to_host.room() < bytes.size()) return false;
  for (const char byte : bytes) static_cast<void>(to_host.put(std::uint8_t(byte)));
  wake_sender(1);
  return true;
}

std::uint32_t host_overruns() { return overruns_host.load(std::memory_order_relaxed); }

bool take_sample(Sample& sample) {
  std::uint8_t byte = 0;
  while (from_sensor.take(byte)) {
    if (!samples.push(byte, sample)) continue;
    ++samples_taken;
    send_to_sensor(std::uint8_t(sample.number));
    return true;
  }
  return false;
}

SensorCounts sensor_counts() {
  return {samples_taken, samples.refused(), overruns_sensor.load(std::memory_order_relaxed)};
}

void excite_sensor(bool on) { send_to_sensor(on ? 'E' : 'e'); }

std::span<volatile std::uint8_t> lasting_memory() {
  return {reinterpret_cast<volatile std::uint8_t*>(kLasting), kLastingBytes};
}

Stack stack() {
  const std::uint32_t* unused = &end_of_stack;
  while (unused < &begin_of_stack && *unused == kPaint) ++unused;
  const auto bytes = [](const std::uint32_t* from, const std::uint32_t* to) {
    return std::uint32_t(reinterpret_cast<std::uintptr_t>(to) - reinterpret_cast<std::uintptr_t>(from));
  };
  return {bytes(&end_of_stack, &begin_of_stack), bytes(unused, &begin_of_stack)};
}

}  // namespace hangtrue::node::board

// ---- start ----

extern "C" {

[[noreturn]] void abort() {
  hangtrue::node::board::watchdog_warns();
  __builtin_unreachable();
}

void start_of_node() {
  using namespace hangtrue::node::board;
  at(kCoprocessors) = at(kCoprocessors) | (0xFu << 20);  // floating point
  __asm volatile("dsb\n isb");
  const std::uint32_t* from = &data_in_flash;
  for (std::uint32_t* to = &begin_of_data; to < &end_of_data; ++to) *to = *from++;
  for (std::uint32_t* to = &begin_of_bss; to < &end_of_bss; ++to) *to = 0;
  // Painted up to here, to see later how far the stack went.
  const auto* const here = static_cast<std::uint32_t*>(__builtin_frame_address(0)) - 16;
  for (std::uint32_t* to = &end_of_stack; to < here; ++to) *to = kPaint;
  for (auto construct = &first_to_construct; construct < &last_to_construct; ++construct) (*construct)();
  work();
}

}  // extern "C"

namespace {

using Handler = void (*)();
using namespace hangtrue::node::board;

struct Vectors {
  const void* stack;
  Handler start, nmi, fault[12], tick, line[16];
};

void nothing() {}

[[gnu::section(".vectors"), gnu::used]] const Vectors vectors{
    &begin_of_stack,
    start_of_node,
    watchdog_warns,
    {fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault},
    ticked,
    {host_received, host_sent, sensor_received, sensor_sent, nothing, nothing, nothing, nothing, nothing,
     nothing, nothing, nothing, nothing, nothing, nothing, nothing}};

}  // namespace
