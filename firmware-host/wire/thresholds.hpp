// thresholds.hpp: every limit of this room, with its source, or with the reason where there is no source.
#pragma once

#include <cstddef>
#include <cstdint>

namespace hangtrue::wire {

// --- sentences

/// Characters of a sentence from '$' to the line feed, both counted. Source: NMEA 0183 version 3.01, section 5.3 (from
/// memory, not checked against it).
inline constexpr std::size_t kLongestSentence = 82;
/// Quads of one sentence. A quad takes at least five characters (",G,,,"), so that 82 characters hold no more.
inline constexpr std::size_t kMostQuads = 16;

// --- numbers in text

/// Significant digits of a number. Every integer of so many digits is exact in a double (IEEE 754: 2^53 > 10^15).
inline constexpr int kMostDigits = 15;
/// Digits behind the point. 10^22 is the greatest power of ten that is exact in a double (5^22 < 2^53 < 5^23), so that
/// dividing by it rounds once.
inline constexpr int kMostPlaces = 22;
/// Characters of a number in a text line. No source: room for the digits above, a sign, a point and some leading zeros.
inline constexpr std::size_t kLongestNumber = 48;

// --- text lines

/// Characters of a line without its end. No source: devices print lines well under 100 characters.
inline constexpr std::size_t kLongestLine = 200;
/// Characters of a line pattern. No source: half of the longest line.
inline constexpr std::size_t kLongestPattern = 100;
/// Characters of a unit in a line. No source: "degrees" is the longest unit that is known here.
inline constexpr std::size_t kLongestUnit = 8;

// --- Modbus

/// Registers that one request may ask for. Source: Modbus application protocol V1.1b3, 6.3 and 6.4.
inline constexpr int kMostRegisters = 125;
/// Registers are numbered from 0 to 65535. Source: the same, 4.4.
inline constexpr int kRegisters = 0x10000;
/// Bytes of a frame. Source: Modbus over serial line V1.02, 2.5.1.
inline constexpr std::size_t kLongestFrame = 256;
/// Above this speed the line is silent for a fixed time between frames, at and below it for 3.5 characters. Source: the
/// same, 2.5.1.1.
inline constexpr int kFixedSilenceAbove_baud = 19200;
inline constexpr std::uint32_t kFixedSilence_us = 1750;

}  // namespace hangtrue::wire
