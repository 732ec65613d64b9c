// limits.hpp: every limit of the page's server in one table: counts, sizes and times.
//
// Source  where a standard gives one it is named. "No source": chosen by us, for the reason beside it.
#pragma once

#include <chrono>
#include <cstddef>

namespace hangtrue::page {

// ---- counts ---------------------------------------------------------------------------------------------------------

/// Connections at once; beyond, the one that waits longest without having asked is closed. No source: four for each phone; a
/// browser opens a few at a time for the page's files, and keeps one.
inline constexpr std::size_t kMostConnections = 256;
/// Pages that are open at once. No source: more than people on any one site.
inline constexpr std::size_t kMostPhones = 64;
/// Commands of one phone that wait for their answers. No source: the page itself asks one at a time, and gives up.
inline constexpr std::size_t kMostAnswers = 16;

// ---- sizes, bytes ---------------------------------------------------------------------------------------------------

/// Source: RFC 9112, section 3, recommends that a request line of 8000 be taken; there is no such figure for a whole header, and
/// browsers stay far below.
inline constexpr std::size_t kLongestHeader = 8192;
/// No source: the only body is the pairing form, a code of eight digits.
inline constexpr std::size_t kLongestBody = 1024;
/// Of a command's frame. No source: a command is one line of a few hundred at most.
inline constexpr std::size_t kLongestFrame = 4096;
/// Of a survey's name in a path. No source: names of surveys are short numbers.
inline constexpr std::size_t kLongestSurvey = 80;
/// Read at once from a connection. No source: a page of memory.
inline constexpr std::size_t kChunk = 4096;
/// Of a frame, written at once. No source: small enough that a slow network shows progress within Patience::writing.
inline constexpr std::size_t kPiece = 32 * 1024;
/// Of frames, in the kernel. No source: what lies there grows old, while what waits here is replaced by what is newer.
inline constexpr int kUnsent = 16 * 1024;
/// Read and dropped after a refusal, so that the refusal arrives before the connection is reset. No source: ten times what a
/// browser has on its way.
inline constexpr std::size_t kMostLeft = 1 << 20;

// ---- times ----------------------------------------------------------------------------------------------------------

inline constexpr std::chrono::seconds kMostLeftFor{
    1};  // for the same; no source: a round trip of the worst network
inline constexpr std::chrono::milliseconds kPause{
    100};  // before accepting again where nothing could be; no source

/// How long what a phone does may take; shorter in tests. No source for any: on a network that works each takes a tenth.
struct Patience {
  std::chrono::milliseconds request{5'000};   // a whole request, from its first byte
  std::chrono::milliseconds idle{15'000};     // between two requests, or before the first
  std::chrono::milliseconds silence{20'000};  // of a phone, which is asked (ping) after half of that
  std::chrono::milliseconds writing{20'000};  // without that anything more has gone
  std::chrono::milliseconds record{10'000};   // for Hooks::record
  std::chrono::milliseconds parting{800};     // for stop() to part from phones politely
};

// ---- pairing (what they add up to: pairing.hpp) ---------------------------------------------------------------------

/// Wrong codes from one address before it waits. No source: a person mistypes once or twice.
inline constexpr int kMostWrong = 5;
/// The first wait, doubled with each wrong code up to the longest. No source: as phones do with their own codes.
inline constexpr std::chrono::seconds kFirstWait{30}, kLongestWait{3600};
/// Wrong codes in all before the code counts only for addresses that have typed no wrong one; and before it counts for nobody.
/// No source: the second is one in 10,000 of all codes.
inline constexpr int kMostWrongInAll = 1'000, kMostWrongByAll = 10'000;
/// How long a once-code holds. No source: to walk to the phone and type it.
inline constexpr std::chrono::seconds kOnceFor{120};
/// Wrong codes while it holds, from one address and in all. No source: as above; and enough that who shares the phone's address
/// cannot use them up at once.
inline constexpr int kMostWrongOnce = 1'000, kMostWrongOnceByAll = 10'000;
/// No source: a job and its first recheck.
inline constexpr std::chrono::hours kPairedFor{90 * 24};

}  // namespace hangtrue::page
