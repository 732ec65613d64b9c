#include "firmware-host/node/log.hpp"

#include <algorithm>
#include <bit>

namespace hangtrue::node {

namespace {

void put_word(std::span<std::uint8_t> out, std::size_t at, std::uint32_t word) {
  for (std::size_t i = 0; i < 4; ++i) out[at + i] = std::uint8_t(word >> (8 * i));
}
std::uint32_t word_at(std::span<const std::uint8_t> bytes, std::size_t at) {
  std::uint32_t word = 0;
  for (std::size_t i = 0; i < 4; ++i) word |= std::uint32_t(bytes[at + i]) << (8 * i);
  return word;
}
void put_number(std::span<std::uint8_t> out, std::size_t at, float number) {
  put_word(out, at, std::bit_cast<std::uint32_t>(number));
}
float number_at(std::span<const std::uint8_t> bytes, std::size_t at) {
  return std::bit_cast<float>(word_at(bytes, at));
}

// Whether the last word is the CRC of those before.
bool is_whole(std::span<const std::uint8_t> bytes) {
  const std::size_t end = bytes.size() - 4;
  return crc32(bytes.first(end)) == word_at(bytes, end);
}

template <std::size_t kSize>
std::array<std::uint8_t, kSize> copied(std::span<const volatile std::uint8_t> memory, std::size_t at) {
  std::array<std::uint8_t, kSize> bytes{};
  for (std::size_t i = 0; i < kSize; ++i) bytes[i] = memory[at + i];
  return bytes;
}

// Memory that was never written holds the same byte all over.
bool is_blank(std::span<const std::uint8_t> bytes) {
  return std::all_of(bytes.begin(), bytes.end(), [&](std::uint8_t byte) { return byte == bytes[0]; }) &&
         (bytes[0] == 0 || bytes[0] == 0xFF);
}

}  // namespace

std::uint32_t crc32(std::span<const std::uint8_t> bytes, std::uint32_t crc) {
  crc = ~crc;
  for (const std::uint8_t byte : bytes) {
    crc ^= byte;
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1u) != 0 ? (crc >> 1) ^ 0xEDB88320u : crc >> 1;
  }
  return ~crc;
}

Log::Log(Memory memory)
    : memory_(memory), slots_(std::uint32_t((memory.size() - 2 * kMarkBytes) / kEntryBytes)) {
  read_marks();
  read_entries();
}

// A mark: turn, number, 0, CRC. The later turn counts.
void Log::read_marks() {
  for (std::size_t i = 0; i < 2; ++i) {
    const auto bytes = copied<kMarkBytes>(memory_, i * kMarkBytes);
    const std::uint32_t turn = word_at(bytes, 0);
    if (turn == 0 || !is_whole(bytes) || turn < mark_turn_) continue;
    mark_turn_ = turn;
    taken_ = word_at(bytes, 4);
  }
}

void Log::read_entries() {
  newest_ = taken_;
  for (std::uint32_t slot = 0; slot < slots_; ++slot) {
    const std::size_t at = slot_at(slot);
    const auto bytes = copied<kEntryBytes>(memory_, at);
    if (is_blank(bytes)) continue;
    const std::optional<LogEntry> entry = read(at);
    if (!entry || entry->number % slots_ != slot) {
      ++unfinished_;
      for (std::size_t i = 0; i < kEntryBytes; ++i) memory_[at + i] = 0;
      continue;
    }
    newest_ = std::max(newest_, entry->number);
    if (oldest_ == 0 || entry->number < oldest_) oldest_ = entry->number;
  }
}

std::optional<LogEntry> Log::read(std::size_t at) const {
  const auto bytes = copied<kEntryBytes>(memory_, at);
  if (!is_whole(bytes)) return std::nullopt;
  LogEntry entry;
  entry.number = word_at(bytes, 0);
  entry.station = std::uint16_t(word_at(bytes, 4));
  entry.slope = number_at(bytes, 8);
  entry.slope_sigma = number_at(bytes, 12);
  entry.roll_rad = number_at(bytes, 16);
  entry.roll_sigma_rad = number_at(bytes, 20);
  entry.temperature_C = number_at(bytes, 24);
  if (entry.number == 0) return std::nullopt;
  return entry;
}

// The last word is spoilt first and written last.
void Log::write_last_word_last(std::size_t at, std::span<const std::uint8_t> bytes) {
  const std::size_t end = bytes.size() - 4;
  for (std::size_t i = 0; i < 4; ++i) memory_[at + end + i] = std::uint8_t(~bytes[end + i]);
  for (std::size_t i = 0; i < bytes.size(); ++i) memory_[at + i] = bytes[i];
}

std::uint32_t Log::add(LogEntry entry) {
  entry.number = newest_ + 1;
  Bytes bytes{};
  put_word(bytes, 0, entry.number);
  put_word(bytes, 4, entry.station);
  put_number(bytes, 8, entry.slope);
  put_number(bytes, 12, entry.slope_sigma);
  put_number(bytes, 16, entry.roll_rad);
  put_number(bytes, 20, entry.roll_sigma_rad);
  put_number(bytes, 24, entry.temperature_C);
  put_word(bytes, 28, crc32(std::span<const std::uint8_t>(bytes).first(28)));
  write_last_word_last(slot_at(entry.number), bytes);
  newest_ = entry.number;
  if (oldest_ == 0) oldest_ = newest_;
  if (newest_ - oldest_ >= slots_) oldest_ = newest_ - slots_ + 1;
  return newest_;
}

std::optional<LogEntry> Log::from(std::uint32_t number) const {
  const std::uint32_t first = newest_ >= slots_ ? newest_ - slots_ + 1 : 1;
  for (std::uint32_t n = std::max(number, first); n <= newest_; ++n) {
    const std::optional<LogEntry> entry = read(slot_at(n));
    if (entry && entry->number == n) return entry;
  }
  return std::nullopt;
}

bool Log::take(std::uint32_t number) {
  if (number > newest_ || number < taken_) return false;
  if (number == taken_) return true;
  std::array<std::uint8_t, kMarkBytes> bytes{};
  put_word(bytes, 0, ++mark_turn_);
  put_word(bytes, 4, number);
  put_word(bytes, 12, crc32(std::span<const std::uint8_t>(bytes).first(12)));
  write_last_word_last(std::size_t(mark_turn_ % 2) * kMarkBytes, bytes);
  taken_ = number;
  return true;
}

std::uint32_t Log::lost() const { return oldest_ > taken_ + 1 ? oldest_ - taken_ - 1 : 0; }

}  // namespace hangtrue::node
