#include "firmware-host/wire/modbus.hpp"

#include <algorithm>

namespace hangtrue::wire {

namespace {

constexpr std::size_t kShortest = 5;  // an exception: unit, function, code, CRC
constexpr unsigned kRefused = 0x80;   // set in the function of an exception

constexpr std::array<std::uint16_t, 256> make_crc_table() {
  std::array<std::uint16_t, 256> table{};
  for (unsigned byte = 0; byte < 256; ++byte) {
    unsigned crc = byte;
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1u) != 0 ? (crc >> 1) ^ 0xA001u : crc >> 1;
    table[byte] = static_cast<std::uint16_t>(crc);
  }
  return table;
}
constexpr std::array<std::uint16_t, 256> kCrcTable = make_crc_table();

/// Over a frame and its own CRC the CRC is 0.
bool is_frame(std::string_view bytes) { return bytes.size() >= kShortest && crc16(bytes) == 0; }

char high(int number) { return static_cast<char>((number >> 8) & 0xFF); }
char low(int number) { return static_cast<char>(number & 0xFF); }

}  // namespace

std::uint16_t crc16(std::string_view bytes) {
  unsigned crc = 0xFFFF;
  for (const char c : bytes) crc = (crc >> 8) ^ kCrcTable[(crc ^ static_cast<unsigned char>(c)) & 0xFFu];
  return static_cast<std::uint16_t>(crc);
}

Result<std::array<char, 8>, RequestFault> read_request(const ReadRequest& request) {
  if (request.address < 1 || request.address > 247) return RequestFault::no_single_unit;
  if (request.function != 3 && request.function != 4) return RequestFault::no_read_function;
  if (request.count < 1 || request.count > kMostRegisters) return RequestFault::count_not_allowed;
  if (request.first < 0 || request.first > kRegisters - request.count) return RequestFault::no_such_register;
  std::array<char, 8> bytes = {low(request.address), low(request.function), high(request.first),
                               low(request.first),   high(request.count),   low(request.count)};
  const int crc = crc16({bytes.data(), 6});
  bytes[6] = low(crc);
  bytes[7] = high(crc);
  return bytes;
}

std::uint32_t silence_us(int baud, int bits_per_character) {
  if (baud > kFixedSilenceAbove_baud) return kFixedSilence_us;
  // 3.5 characters in microseconds, rounded up; no baud rate at all is as slow as the slowest.
  const std::int64_t twice_baud = 2 * std::int64_t{std::max(baud, 1)};
  return static_cast<std::uint32_t>((7 * std::int64_t{bits_per_character} * 1'000'000 + twice_baud - 1) /
                                    twice_baud);
}

void ModbusAnswer::expect(const ReadRequest& request) {
  (void)finish();
  const auto bytes = read_request(request);
  asked_ = 0;
  state_ = State::fault;
  fault_ = ModbusFault::silent;
  exception_code_ = 0;
  if (!bytes.ok()) return;
  request_ = bytes.value();
  asked_ = request.count;
  state_ = State::need_more;
}

std::span<const std::uint16_t> ModbusAnswer::registers() const {
  return {registers_.data(), state_ == State::registers ? static_cast<std::size_t>(asked_) : 0};
}

ModbusAnswer::State ModbusAnswer::push(std::string_view chunk) {
  counts_.in += chunk.size();
  for (std::size_t i = 0; i < chunk.size(); ++i) {
    if (state_ != State::need_more) {
      counts_.drop(ModbusFault::unasked, chunk.size() - i);
      break;
    }
    if (length_ == bytes_.size()) {  // what is longer than two frames and holds no answer goes from the front
      const std::size_t half = std::min(start_, kLongestFrame);
      counts_.drop(ModbusFault::noise, half);
      std::copy(bytes_.begin() + static_cast<std::ptrdiff_t>(half), bytes_.end(), bytes_.begin());
      length_ -= half;
      start_ -= half;
    }
    bytes_[length_++] = chunk[i];
    look();
  }
  return state_;
}

void ModbusAnswer::look() {
  while (start_ < length_ && state_ == State::need_more) {
    const std::size_t bytes = length_ - start_;
    const std::size_t wanted = wanted_here();
    const bool whole = wanted != 0 && bytes >= wanted;
    if (whole && crc16(held(start_, wanted)) == 0) {
      take(wanted);
    } else if (begins_as_echo()) {
      if (bytes < request_.size()) return;
      counts_.drop(ModbusFault::echo, bytes);
      length_ = start_;
    } else if (whole) {
      fault_ = ModbusFault::wrong_crc;
      close(State::fault, wanted);
    } else if (wanted != 0) {
      return;
    } else {
      ++start_;
    }
  }
}

std::size_t ModbusAnswer::wanted_here() const {
  const std::size_t bytes = length_ - start_;
  const unsigned function = static_cast<unsigned char>(request_[1]);
  if (bytes_[start_] != request_[0]) return 0;
  if (bytes == 1 || byte(start_ + 1) == (function | kRefused)) return kShortest;
  if (byte(start_ + 1) != function) return 0;
  const std::size_t answer = kShortest + 2 * static_cast<std::size_t>(asked_);
  return bytes == 2 || byte(start_ + 2) == 2 * static_cast<unsigned>(asked_) ? answer : 0;
}

bool ModbusAnswer::begins_as_echo() const {
  const std::string_view request(request_.data(), request_.size());
  const std::string_view here = held(start_, length_ - start_);
  return here.size() <= request.size() && std::equal(here.begin(), here.end(), request.begin());
}

void ModbusAnswer::take(std::size_t bytes) {
  if (bytes == kShortest) {
    exception_code_ = static_cast<int>(byte(start_ + 2));
    close(State::exception, bytes);
    return;
  }
  for (std::size_t i = 0, at = start_ + 3; i < static_cast<std::size_t>(asked_); ++i, at += 2)
    registers_[i] = static_cast<std::uint16_t>(byte(at) << 8 | byte(at + 1));
  close(State::registers, bytes);
}

void ModbusAnswer::close(State state, std::size_t bytes) {
  if (start_ > 0) counts_.drop(what_is(held(0, start_)), start_);
  if (state == State::fault) {
    counts_.drop(fault_, bytes);
  } else {
    counts_.used += bytes;
  }
  counts_.drop(ModbusFault::unasked, length_ - start_ - bytes);
  length_ = start_ = 0;
  state_ = state;
}

ModbusAnswer::State ModbusAnswer::finish() {
  if (state_ != State::need_more) return state_;
  const ModbusFault whole = length_ == 0 ? ModbusFault::silent : what_is(held(0, length_));
  fault_ = whole;
  if (whole == ModbusFault::noise && start_ < length_) {
    fault_ = ModbusFault::cut_short;
    close(State::fault, length_ - start_);
  } else {
    start_ = 0;
    close(State::fault, length_);
  }
  return state_;
}

ModbusFault ModbusAnswer::what_is(std::string_view bytes) const {
  if (!is_frame(bytes)) return ModbusFault::noise;
  if (bytes[0] != request_[0]) return ModbusFault::other_unit;
  const unsigned function = static_cast<unsigned char>(bytes[1]) & ~kRefused;
  return function != static_cast<unsigned char>(request_[1]) ? ModbusFault::other_function
                                                             : ModbusFault::wrong_length;
}

std::string_view name(ModbusFault fault) {
  switch (fault) {
    case ModbusFault::silent:
      return "no answer";
    case ModbusFault::unasked:
      return "not asked for";
    case ModbusFault::echo:
      return "echo of the request";
    case ModbusFault::noise:
      return "no frame";
    case ModbusFault::other_unit:
      return "from another unit";
    case ModbusFault::other_function:
      return "of another function";
    case ModbusFault::wrong_length:
      return "not as many registers as asked for";
    case ModbusFault::wrong_crc:
      return "checksum does not match";
    case ModbusFault::cut_short:
      return "answer cut short";
    case ModbusFault::count:
      break;
  }
  return "unknown";
}

std::string_view exception_name(int code) {
  switch (code) {
    case 1:
      return "illegal function";
    case 2:
      return "illegal data address";
    case 3:
      return "illegal data value";
    case 4:
      return "server device failure";
    case 5:
      return "acknowledge";
    case 6:
      return "server device busy";
    case 8:
      return "memory parity error";
    case 10:
      return "gateway path unavailable";
    case 11:
      return "gateway target failed to respond";
    default:
      return "not in the standard";
  }
}

}  // namespace hangtrue::wire
