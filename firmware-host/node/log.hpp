// log.hpp: readings kept without power, until the host has them.
//
// Model     a ring of entries, each with its number and a CRC. Entry n lies in slot n % slots. The host asks for what it has not
//           taken, and says up to which number it has it; that mark lies in two places, written in turns.
// Power     may go at any instant: an entry is invalid from its first byte on until its CRC is written last. At the next start at
//           most that one is unfinished; unfinished() says so once, and its slot is free.
// Full      the oldest entry gives way, taken or not; lost() says how many the host never took.
// Exactly   an entry keeps its number for ever, so that a host which asks twice knows what it has.
// once
// CRC-32    of IEEE 802.3, reflected, polynomial EDB88320; of "123456789" it is CBF43926 (from memory).
// Memory    the caller's, of bytes that last. Two marks of 16 bytes, then the slots.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

namespace hangtrue::node {

[[nodiscard]] std::uint32_t crc32(std::span<const std::uint8_t> bytes, std::uint32_t crc = 0);

/// One settled reading of both axes. SI; sigma is one standard deviation.
struct LogEntry {
  std::uint32_t number = 0;   // from 1
  std::uint16_t station = 0;  // from 1
  float slope = 0, slope_sigma = 0, roll_rad = 0, roll_sigma_rad = 0, temperature_C = 0;
};

class Log {
 public:
  static constexpr std::size_t kMarkBytes = 16, kEntryBytes = 32;
  using Memory = std::span<volatile std::uint8_t>;

  /// Reads what is there. Memory for at least one entry.
  explicit Log(Memory memory);

  /// Keeps it; returns its number.
  std::uint32_t add(LogEntry entry);
  /// The first entry with that number or a later one, if there is any.
  [[nodiscard]] std::optional<LogEntry> from(std::uint32_t number) const;
  /// The host has all up to `number`: false for a number that was never given or is already behind the mark.
  [[nodiscard]] bool take(std::uint32_t number);

  [[nodiscard]] std::uint32_t newest() const { return newest_; }  // 0: none yet
  [[nodiscard]] std::uint32_t taken() const { return taken_; }
  /// Entries whose writing was cut off before this start.
  [[nodiscard]] std::uint32_t unfinished() const { return unfinished_; }
  /// Entries that gave way before they were taken.
  [[nodiscard]] std::uint32_t lost() const;
  [[nodiscard]] std::uint32_t slots() const { return slots_; }

 private:
  using Bytes = std::array<std::uint8_t, kEntryBytes>;
  [[nodiscard]] std::size_t slot_at(std::uint32_t number) const {
    return 2 * kMarkBytes + std::size_t(number % slots_) * kEntryBytes;
  }
  void read_marks();
  void read_entries();
  [[nodiscard]] std::optional<LogEntry> read(std::size_t at) const;
  void write_last_word_last(std::size_t at, std::span<const std::uint8_t> bytes);

  Memory memory_;
  std::uint32_t slots_;
  std::uint32_t newest_ = 0, oldest_ = 0, taken_ = 0, mark_turn_ = 0, unfinished_ = 0;
};

}  // namespace hangtrue::node
