// line_health.hpp: whether what comes over an open line makes sense, and what is wrong where it does not.
//
// Looks at the bytes themselves and at how many of them the line's decoder could use; time is passed in. One
// verdict and one plain sentence that says what to do. Every verdict ends by itself when the line is well
// again.
//   not judged    too little came yet
//   well          something was understood, and no verdict below holds
//   wrong speed   bytes come, none is understood, and 15 % of them or more cannot be what the device means:
//                 the two ends differ in speed (or in parity, in a way that looks the same). Told after 256
//                 bytes, or 32 in 5 s (30 s once any was understood)
//   wrong parity  the same, but what is not NUL is text: the speed is right, parity differs (a byte whose
//                 parity or stop bit is wrong comes as NUL, see serial_line.hpp)
//   seven bits    the same, but all is text once the top bit is taken off, and that bit is a parity
//   held low      the same, but nothing comes but NULs: swapped wires, no power, a speed far too high, or
//                 even parity for odd
//   other speech  text comes, and none of it is what the kit sheet says, for 5 s (30 s once any was) and 5
//                 lines or 256 bytes; or for 4096 bytes. On a modbus line: text comes that nobody asked for
//   noisy         what comes is understood, but 2 % of the bytes cannot be right (10 % on a modbus line),
//                 over the last thousand or so
//   flood         for 3 seconds in a row a quarter more bytes came than the speed carries
// Which bytes cannot be right: on a text line all but 0x20 ... 0x7E, CR, LF, tab and the degree sign; on a
// modbus line those that were not understood.
// Recovery  a line of text that is understood ends a verdict; where bytes made no sense, two such lines with
//           none of those between them, for one may be chance. noisy ends below half its share, flood with
//           one second in bounds.
// Limits    a line whose speed is wrong but silent for it (a modbus unit does not answer what it cannot read)
//           is not told here; see modbus_poll.hpp, not answering. Shares and counts are ours, tried on
//           simulated wrong speeds (tests/firmware-host/serial/uart.hpp, line_health_test.cpp); common
//           practice, no source.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace hangtrue::serial {

enum class LineVerdict {
  not_judged,
  well,
  wrong_speed,
  wrong_parity,
  seven_bits,
  held_low,
  other_speech,
  noisy,
  flood
};
[[nodiscard]] std::string_view word(LineVerdict verdict);

class LineHealth {
 public:
  static constexpr std::uint64_t kJudged = 256, kJudgedSlow = 32;  // bytes since the last that was understood
  static constexpr std::int64_t kSlow_us = 5'000'000;  // since the last that was understood, or the first
  static constexpr std::int64_t kSlowAfterWell_us = 30'000'000;  // the same, once any was understood
  static constexpr std::uint64_t kUnknownLines = 5, kUnknownBytes = 4096;
  static constexpr double kWrongShare = 0.15;  // of the bytes
  static constexpr double kAll = 0.98;         // of the bytes, but for a chance hit
  static constexpr double kMixed = 0.15;  // of the bytes are right at least, where parity or data bits differ
  static constexpr double kNoisyShare = 0.02, kNoisyModbusShare = 0.10, kNoisyBytes = 1024;
  static constexpr double kFull = 1.25;  // times what the line carries
  static constexpr int kFloodSeconds = 3;

  enum class Speech { text, modbus };
  /// `line` as it is to be named in sentences; bits_per_character with start, parity and stop bits.
  LineHealth(std::string line, unsigned baud, unsigned bits_per_character, Speech speech);

  /// Bytes have come and the decoder has had them; `understood`: how many it has used of all so far (for
  /// modbus see ModbusPoll::understood()). Returns whether the verdict changed.
  bool bytes(std::string_view chunk, std::uint64_t understood, std::int64_t now_us);
  /// The stream has ended: nothing is judged until more comes.
  void lost();

  [[nodiscard]] LineVerdict verdict() const { return verdict_; }
  [[nodiscard]] bool is_well() const { return verdict_ <= LineVerdict::well; }
  /// "what /dev/... brings at 9600 baud makes no sense; set baud in the kit sheet to the device's own speed".
  [[nodiscard]] std::string sentence() const;

 private:
  /// Bytes by what they look like.
  struct Looks {
    std::uint64_t in = 0, nul = 0, wrong = 0, text_below_top_bit = 0, even = 0, lines = 0;
    void add(const Looks& other);
    void halve();  // so that what came long ago is forgotten
  };
  [[nodiscard]] LineVerdict judge(std::int64_t now_us) const;
  [[nodiscard]] LineVerdict judge_not_understood(std::int64_t now_us) const;
  [[nodiscard]] bool is_unintelligible() const {
    return verdict_ >= LineVerdict::wrong_speed && verdict_ <= LineVerdict::other_speech;
  }
  [[nodiscard]] Looks look_at(std::string_view chunk);
  void count_second(std::size_t bytes, std::int64_t now_us);

  std::string line_;
  unsigned baud_;
  double bytes_per_second_;  // that the line carries
  Speech speech_;
  Looks not_understood_;  // since a line that was understood and trusted
  std::int64_t not_understood_from_us_ = 0;
  Looks since_understood_;        // since the last that was understood, trusted or not
  std::uint64_t understood_ = 0;  // as told
  bool ever_understood_ = false;  // since the stream began
  char last_ = '\n';
  double recent_ = 0, recent_wrong_ = 0;  // halved together: a window that forgets
  std::int64_t second_from_us_ = 0;
  double in_second_ = 0;
  int full_seconds_ = 0;
  LineVerdict verdict_ = LineVerdict::not_judged;
};

}  // namespace hangtrue::serial
