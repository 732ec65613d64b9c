// thresholds.hpp: every time-out, patience and limit of this room, with its source, or with the reason where there is no source.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>

namespace hangtrue::serial {

// --- opening, and coming back

/// Without a byte for so long an open line counts as silent. No source: devices that send by themselves send at least once a
/// second.
inline constexpr std::chrono::milliseconds kSilence{5000};
/// From one try to open a tty to the next: the first pause, and the longest, to which it doubles. No source: a plug that is
/// put back is noticed within 2 s, and trying costs nothing that anybody notices.
inline constexpr std::chrono::milliseconds kFirstRetry{100}, kLongestRetry{2000};
/// Bytes that may wait to be written. No source: a request is 8, a command to a device at most 64.
inline constexpr std::size_t kLongestQueue = 4096;
/// Bytes that are read at once of those that wait on a line. No source: several times what the kernel keeps of a tty.
inline constexpr std::size_t kMostWaiting = 1 << 20;

// --- polling of Modbus units

/// How long a unit that does not answer is left alone at most: the pause doubles up to this. No source: a unit that is
/// switched on again is noticed within 2 s.
inline constexpr std::chrono::milliseconds kLongestPause{2000};
/// An answer that is owed is waited for over so many timeouts, and at least so long. No source: a gateway that is busy
/// answers within a second.
inline constexpr int kLate = 3;
inline constexpr std::chrono::milliseconds kLateLeast{1000};

/// Values of two requests have changed places where each is at least so many times nearer to the other's former value than to
/// its own; and where they changed by at least so many units of a register in all, so that noise is none. No source: noise of
/// instruments is a few units.
inline constexpr long kNearer = 8, kLeastJump = 16;
/// Rounds in a row that are dropped for it. No source: each is verified for two seconds.
inline constexpr int kMostJumps = 3;

// --- health of a line. No source for any of these: tried on simulated wrong speeds and parities
//     (tests/firmware-host/serial/uart.hpp, line_health_test.cpp), so that each fault is told and a sound line is not blamed.

/// Bytes since the last that was understood, after which a line is judged; and the fewer that do once it was not understood
/// for kSlow_us (kSlowAfterWell_us where something was understood before).
inline constexpr std::uint64_t kJudged = 256, kJudgedSlow = 32;
inline constexpr std::int64_t kSlow_us = 5'000'000, kSlowAfterWell_us = 30'000'000;
/// Lines, or bytes, of text that is not what the kit sheet says.
inline constexpr std::uint64_t kUnknownLines = 5, kUnknownBytes = 4096;
/// Share of the bytes that cannot be right, from which on the bytes make no sense.
inline constexpr double kWrongShare = 0.15;
/// Share of the bytes that stands for all of them, but for a chance hit.
inline constexpr double kAll = 0.98;
/// Share of the bytes that are right at least, where it is parity or data bits that differ.
inline constexpr double kMixed = 0.15;
/// Share of damaged bytes on a noisy line, of text or modbus, over the last kNoisyBytes to four times as many.
inline constexpr double kNoisyShare = 0.02, kNoisyModbusShare = 0.10, kNoisyBytes = 1024;
/// Times what the line carries, over so many seconds in a row: the speed of the two ends differs.
inline constexpr double kFull = 1.25;
inline constexpr int kFloodSeconds = 3;

}  // namespace hangtrue::serial
