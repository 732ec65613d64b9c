// line_health.hpp: whether what comes over an open line makes sense, and what is wrong where it does not.
//
// Input     the bytes themselves, how many of them the line's decoder could use, and the time.
// Output    one verdict, and one plain sentence that says what to do. Every verdict ends by itself when the line is well
//           again.
// Verdicts
//   not judged    too little has come yet.
//   well          something was understood, and no verdict below holds.
//   wrong speed   bytes come and none is understood; at least 15 % of them are bytes that the device cannot have sent. The
//                 two ends differ in speed, or in parity in a way that looks the same. Told after 256 bytes, or after 32
//                 bytes and 5 s (30 s where something was understood before).
//   wrong parity  like wrong speed, but every byte that is not NUL is text. The speed is right and the parity differs: a
//                 byte whose parity or stop bit is wrong comes as NUL (see serial_line.hpp).
//   seven bits    like wrong speed, but without their top bits all bytes are text, and the top bits are a parity.
//   held low      like wrong speed, but nothing comes except NUL. The wires are swapped, the device has no power, the
//                 speed is far too high, or one end has even parity and the other odd.
//   other speech  text comes, and none of it is what the kit sheet says. Told after 5 lines or 256 bytes that took 5 s
//                 (30 s where something was understood before), or after 4096 bytes. On a modbus line: text comes.
//   noisy         what comes is understood, but 2 % of the last bytes (1024 or more) are damaged; 10 % on a modbus line.
//   flood         for 3 seconds in a row more bytes came than 1.25 times what the speed carries.
// Damaged   on a text line every byte except 0x20 ... 0x7E, CR, LF, tab and the degree sign; on a modbus line every byte
//           that was not understood.
// Recovery  a line of text that is understood ends a verdict. Where the bytes made no sense it takes two such lines with
//           no damaged byte between them, for one alone may be chance. noisy ends below half of its share, flood after
//           one second within bounds.
// Limits    a modbus unit whose speed is wrong does not answer at all. That is not told here but by modbus_poll.hpp
//           (not answering). The numbers: thresholds.hpp.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "firmware-host/serial/thresholds.hpp"

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
  Looks not_understood_;  // since the last line that was understood and trusted
  std::int64_t not_understood_from_us_ = 0;
  Looks since_understood_;        // since the last that was understood, trusted or not
  std::uint64_t understood_ = 0;  // as told
  bool ever_understood_ = false;  // since the stream began
  char last_ = '\n';
  double recent_ = 0, recent_wrong_ = 0;  // bytes, halved together now and then, so that old ones count less
  std::int64_t second_from_us_ = 0;
  double in_second_ = 0;
  int full_seconds_ = 0;
  LineVerdict verdict_ = LineVerdict::not_judged;
};

}  // namespace hangtrue::serial
