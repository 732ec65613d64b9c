// uart.hpp: what a serial receiver makes of bits that were sent at another speed, with other parity or data
// bits.
//
// A simulation: the level of the line over time as the sender drives it (idle high; a start bit, the data
// bits from the lowest, perhaps a parity bit, stop bits), and a receiver that waits for a falling edge, looks
// half a bit later whether it is a start bit, and then once in the middle of each bit by its own clock. No
// noise, no jitter, edges without length. What a receiver does after a stop bit that is low differs between
// makes: see Resync. Common practice, no source.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace hangtrue::test {

struct UartFrame {
  double baud = 9600;
  int data_bits = 8;
  char parity = 'N';  // 'N', 'E' or 'O'

  [[nodiscard]] bool parity_bit(unsigned byte) const {
    bool odd = parity == 'O';
    for (int bit = 0; bit < data_bits; ++bit) odd ^= ((byte >> bit) & 1u) != 0;
    return odd;
  }
};

/// The level of a line, as times of its changes; high at first.
class LineLevel {
 public:
  void idle(double seconds) { end_s_ += seconds; }
  void send(std::string_view bytes, const UartFrame& frame) {
    for (const char c : bytes) {
      const auto byte = static_cast<unsigned char>(c);
      drive(false, frame);
      for (int bit = 0; bit < frame.data_bits; ++bit) drive(((byte >> bit) & 1) != 0, frame);
      if (frame.parity != 'N') drive(frame.parity_bit(byte), frame);
      drive(true, frame);
    }
  }

  [[nodiscard]] double end_s() const { return end_s_; }
  /// Changes up to and with this time; the level is high after an even number of them.
  [[nodiscard]] std::size_t changes_until(double time_s, std::size_t from) const {
    while (from < changes_s_.size() && changes_s_[from] <= time_s) ++from;
    return from;
  }
  [[nodiscard]] const std::vector<double>& changes_s() const { return changes_s_; }

 private:
  void drive(bool high, const UartFrame& frame) {
    if (high != high_) changes_s_.push_back(end_s_);
    high_ = high;
    end_s_ += 1 / frame.baud;
  }

  std::vector<double> changes_s_;
  double end_s_ = 0;
  bool high_ = true;
};

/// After a stop bit that is low: the next byte begins at the next falling edge, or with that very bit.
enum class Resync { at_next_edge, with_the_low_bit };

/// The bytes that the receiver gives. A byte with a wrong stop or parity bit comes as NUL where
/// `damaged_is_nul` (termios INPCK), and as it was read otherwise.
inline std::string read_line(const LineLevel& line, const UartFrame& frame, Resync resync,
                             bool damaged_is_nul) {
  std::string bytes;
  const double bit_s = 1 / frame.baud;
  std::size_t at = 0;   // changes passed
  double start_s = -1;  // of a byte that begins with a low bit, already seen
  for (;;) {
    if (start_s < 0) {
      if (at % 2 != 0) ++at;  // low: wait for high first
      if (at >= line.changes_s().size()) return bytes;
      start_s = line.changes_s()[at];
    }
    const auto high = [&](double bits) {
      at = line.changes_until(start_s + bits * bit_s, at);
      return at % 2 == 0;
    };
    if (high(0.5)) {  // no start bit
      start_s = -1;
      continue;
    }
    unsigned byte = 0;
    for (int bit = 0; bit < frame.data_bits; ++bit) byte |= unsigned{high(1.5 + bit)} << bit;
    double stop = 1.5 + frame.data_bits;
    bool good = true;
    if (frame.parity != 'N') good = high(stop++) == frame.parity_bit(byte);
    const bool stops = high(stop);
    good = good && stops;
    bytes += static_cast<char>(good || !damaged_is_nul ? byte : 0u);
    const bool goes_on = !stops && byte != 0 && resync == Resync::with_the_low_bit;
    start_s = goes_on ? start_s + (stop - 0.5) * bit_s : -1;
  }
}

}  // namespace hangtrue::test
