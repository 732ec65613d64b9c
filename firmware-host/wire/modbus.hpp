// modbus.hpp: Modbus RTU as a client that only reads: requests for registers, and the answers to them.
//
//     request    unit, 3 or 4, first register (2), count (2), CRC (2)            8 bytes
//     answer     unit, 3 or 4, 2 * count, registers (2 each), CRC (2)            5 + 2 * count bytes
//     exception  unit, 3 or 4 with the top bit set, code, CRC (2)                5 bytes
//     Numbers high byte first; the CRC low byte first.
//
// Looking    An answer is looked for at every byte, so noise before it, the echo of the request that some
//            adapters give, and the late answer of another unit do no harm. How long the gaps between
//            characters are is not looked at: adapters hand bytes on in lumps. Never asks address 0
//            (broadcast).
// Not seen   An answer does not carry the number of its first register. An answer that comes after its time
//            can therefore be taken for that to the next request of the same unit, function and count:
//            whoever asks must let the line fall silent (and push() what comes meanwhile) before asking that
//            unit again. CRC-16 sees every flip of one or two bits and every burst up to 16 bits in a frame
//            as long as these are; of all other damage it misses one part in 65536.
// Memory     no heap, no exceptions; about 900 bytes. Builds for bare metal.
// Source     Modbus application protocol V1.1b3, 6.3, 6.4 and 7; Modbus over serial line V1.02, 2.5.1 (frame,
//            CRC, silence) and 2.2 (addresses). Frames, CRCs and timings are checked against
//            data/reference/modbus_vectors.json; what its source lines call from memory is so here: the
//            addresses 1 ... 247, and the list of exception codes.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

#include "core/quantity/result.hpp"
#include "firmware-host/wire/byte_counts.hpp"
#include "firmware-host/wire/thresholds.hpp"

namespace hangtrue::wire {

/// CRC-16: starts at FFFF, polynomial A001 reflected. In a frame the low byte goes first.
[[nodiscard]] std::uint16_t crc16(std::string_view bytes);

struct ReadRequest {
  int address = 1;   // of the unit, 1 ... 247
  int function = 3;  // 3 holding registers, 4 input registers
  int first = 0;     // protocol address of the first register, from 0
  int count = 1;     // 1 ... 125
  bool operator==(const ReadRequest&) const = default;
};

/// In the order in which they are looked for.
enum class RequestFault : std::uint8_t {
  no_single_unit,     // address outside 1 ... 247; 0 would be all of them at once
  no_read_function,   // neither 3 nor 4
  count_not_allowed,  // outside 1 ... 125
  no_such_register    // first < 0, or the last one beyond 65535
};

/// The eight bytes to send.
[[nodiscard]] Result<std::array<char, 8>, RequestFault> read_request(const ReadRequest& request);

/// Why there is no answer, and what became of bytes that were none.
enum class ModbusFault : std::uint8_t {
  silent,          // nothing came in time; no byte is ever counted here
  unasked,         // came while nothing was asked, or after the answer
  echo,            // the request itself, as some adapters give it back
  noise,           // no frame: no answer begins here
  other_unit,      // a whole frame, but of another unit: a late answer, or one address given twice
  other_function,  // a whole frame of the unit that was asked, but of another function
  wrong_length,    // a whole answer, but not with as many registers as were asked for
  wrong_crc,       // begins and ends as the answer would, and the CRC does not match
  cut_short,       // began as the answer would, and did not end in time
  count
};
[[nodiscard]] std::string_view name(ModbusFault fault);

/// "illegal data address", or "not in the standard".
[[nodiscard]] std::string_view exception_name(int code);

/// How long the line is left silent between frames: 3.5 characters, but 1750 us above 19200 baud. Rounded up.
/// `bits_per_character`: start, data, parity and stop bits; 11 by the standard, 10 for 8N1.
[[nodiscard]] std::uint32_t silence_us(int baud, int bits_per_character);

class ModbusAnswer {
 public:
  enum class State : std::uint8_t {
    need_more,  // no answer yet
    registers,  // registers() holds what was asked for
    exception,  // the unit refused: exception_code()
    fault       // there will be none: fault()
  };
  using Counts = CountsBy<ModbusFault>;

  /// A request has been sent: from now on its answer is looked for. What was pending is closed as by
  /// finish(). A request that read_request() refuses leaves nothing asked.
  void expect(const ReadRequest& request);

  /// The next bytes. Once it has answered with anything but need_more, the request is done with: what
  /// follows, in the same chunk as well, is counted as unasked, and the state stays until expect(). Before
  /// the first expect() the state is fault (silent).
  State push(std::string_view chunk);

  /// The time is up, or the line is lost: a request that still waits ends in a fault. Returns the state.
  State finish();

  [[nodiscard]] State state() const { return state_; }
  /// Of the last answer; valid until the next expect(). Empty unless the state is registers.
  [[nodiscard]] std::span<const std::uint16_t> registers() const;
  [[nodiscard]] int exception_code() const { return exception_code_; }
  [[nodiscard]] ModbusFault fault() const { return fault_; }

  [[nodiscard]] const Counts& counts() const { return counts_; }
  [[nodiscard]] std::size_t pending() const { return length_; }

 private:
  /// Looks for an answer from start_ on.
  void look();
  /// As many bytes as an answer that begins at start_ would have; 0 when none can begin there.
  [[nodiscard]] std::size_t wanted_here() const;
  [[nodiscard]] bool begins_as_echo() const;
  /// The answer of so many bytes at start_.
  void take(std::size_t bytes);
  /// Ends the wait: `bytes` from start_ on are the answer, or the fault.
  void close(State state, std::size_t bytes);
  [[nodiscard]] ModbusFault what_is(std::string_view bytes) const;
  [[nodiscard]] std::string_view held(std::size_t from, std::size_t bytes) const {
    return {bytes_.data() + from, bytes};
  }
  [[nodiscard]] unsigned byte(std::size_t at) const { return static_cast<unsigned char>(bytes_[at]); }

  std::array<char, 8> request_{};
  int asked_ = 0;  // registers; 0: nothing is asked
  State state_ = State::fault;
  ModbusFault fault_ = ModbusFault::silent;
  int exception_code_ = 0;
  std::array<char, 2 * kLongestFrame> bytes_{};  // since expect(); an answer may begin at start_
  std::size_t length_ = 0, start_ = 0;
  std::array<std::uint16_t, kMostRegisters> registers_{};
  Counts counts_;
};

}  // namespace hangtrue::wire
