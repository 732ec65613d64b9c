// thresholds.hpp: every limit of this room, with its source or the reason for it.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>

namespace hangtrue::daemon {

// ---- places -------------------------------------------------------------------------------------------------------

/// A length that was typed names the station that is at most this far away. No source: a pencil mark is about that wide.
inline constexpr double kOnStation_m = 0.001;

// ---- instruments --------------------------------------------------------------------------------------------------

/// A device that was just plugged in may take so long for its first words. No source: those we know start within five
/// seconds, and some settle inside for a moment more.
inline constexpr std::int64_t kFirstWords_us = 7'000'000;
/// Bytes that came within this time are of now. No source: twice the longest pause between sentences that instruments make
/// at their default setting, and a second.
inline constexpr std::int64_t kBytesAreNews_us = 3'000'000;
/// A temperature is used for so long. No source: air in a room changes by tenths of a degree in a minute.
inline constexpr std::int64_t kTemperatureIsNews_us = 60'000'000;
/// What is watched is looked at over so long, and told so often where nothing changes. No source: with a look each 250 ms what shows
/// is said within a second; a person reads a line a second.
inline constexpr std::int64_t kWatchWindow_us = 500'000, kWatchTold_us = 1'000'000;
/// What speaks more seldom counts as silent in between. No source: most inclinometers and laser meters speak once a second or oftener.
inline constexpr std::int64_t kLongestGap_us = 2'000'000;
/// How often silence and the clock are looked after. No source: soon enough for a person to see it happen.
inline constexpr std::chrono::milliseconds kWatchEvery{250};
/// Without a turn for so long this program was held up: what waited on the lines meanwhile has no time of its own, and what it
/// brings for so long afterwards does not count. No source: four turns of the watch; reading all that the kernel keeps of a
/// tty takes a few milliseconds.
inline constexpr std::int64_t kHeld_us = 1'000'000, kAfterHold_us = 300'000;
/// What a line brings is judged in portions of so many bytes; a sentence in twenty that comes damaged is far above what a
/// sound cable spoils. Common practice, no source.
inline constexpr std::uint64_t kJudgedBytes = 2000;
inline constexpr double kDamagedShare = 0.05;
/// What no room and no run goes beyond, where the kit sheet gives no range: 100 m; a slope of 1 is 45 degrees. No source.
inline constexpr double kFarthest_m = 100;
inline constexpr double kSteepest = 1;
/// A step of the wall clock between two looks that is no drift: clock_watch.hpp has the source of what drift may be.
inline constexpr std::chrono::seconds kClockStep{2};
/// A book's last entry so much later than the clock says is no drift either. No source: clocks of two computers agree better.
inline constexpr std::chrono::seconds kAheadIsNews{60};

// ---- book ---------------------------------------------------------------------------------------------------------

/// Raw samples are written so often; a power cut loses no more of them than that. No source.
inline constexpr std::chrono::seconds kRawEvery{1};
/// Raw samples of a channel that are kept of each such time, so that a line that floods does not fill the disk: some 5 KB a second.
/// No source: twice what the fastest instruments give that we know; readings are made of all of them.
inline constexpr std::size_t kMostRaw = 200;

// ---- commands and the page ----------------------------------------------------------------------------------------

/// Longer lines are refused unread. No source: several times the longest command.
inline constexpr std::size_t kLongestCommand = 200;
/// A phone's command that is obeyed so long after it was pressed is refused: its person has moved on, or pressed again. No
/// source: a network that works takes a tenth.
inline constexpr std::int64_t kLate_us = 2'000'000;
/// What pages asked is remembered with its answer, for one whose connection broke. No source: one for each phone at once.
inline constexpr std::size_t kMostRemembered = 64;
/// Orders that may wait before standard input is not read further. No source: a person waits for answers.
inline constexpr std::size_t kMostOrders = 8;
/// Live values are sent at most so often: 40 a second look continuous. No source.
inline constexpr std::int64_t kShowEvery_us = 25'000;
/// What is waited for is told anew at most so often: a sentence must be readable. No source.
inline constexpr std::int64_t kShowWaiting_us = 200'000;
/// Records that may be asked for at once; each is a fit. No source.
inline constexpr int kMostRecords = 4;
/// Of a survey or a person, bytes. No source: what a line of a print holds.
inline constexpr std::size_t kLongestName = 60;

/// Surveys and seals that the page lists, the last of them. No source: more than a person scrolls through.
inline constexpr int kMostListed = 50;
/// A promise of a card is kept within so many standard deviations of the difference: chance alone goes beyond in one of
/// twenty (two-sided, normal distribution).
inline constexpr double kPromiseKept_sigmas = 2;

// ---- broker -------------------------------------------------------------------------------------------------------

/// Live values of a channel are published at most so often. No source: twice a second is enough for a chart, and little for a radio link.
inline constexpr std::int64_t kLiveEvery_us = 500'000;

// ---- standard output ----------------------------------------------------------------------------------------------

/// What may wait for a reader that is slow, and how long the end waits for it. No source.
inline constexpr std::size_t kMostUnread_bytes = 1 << 20;
inline constexpr std::chrono::milliseconds kLastWait{1000};

}  // namespace hangtrue::daemon
