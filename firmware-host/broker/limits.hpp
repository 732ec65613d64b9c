// limits.hpp: every limit of this room, with its source or the reason for it.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>

namespace hangtrue::broker {

/// Source: IANA's registry of service names: mqtt 1883, secure-mqtt 8883.
inline constexpr std::uint16_t kPort = 1883, kPortOfTls = 8883;
/// Of one level of a topic; a topic as a whole may have 65,535 (MQTT 5.0, section 1.5.4). No source: longer than names are.
inline constexpr std::size_t kLongestLevel_bytes = 200;

/// A broker that says nothing for one and a half times as long is gone (MQTT 5.0, section 3.1.2.10), to us and we to it. No source
/// for the time: a will that comes within half a minute.
inline constexpr int kKeepAlive_s = 20;
/// Waits before the next attempt: the first, doubled each time up to the longest. No source: soon where a broker is started anew,
/// seldom where there is none.
inline constexpr std::chrono::milliseconds kFirstWait{500}, kLongestWait{30'000};
/// A connection that lasted so long was a sound one: the waits begin anew. No source: one that breaks at once says no more than two
/// sentences in that time.
inline constexpr std::chrono::seconds kSound{30};
/// How often the connection's thread looks for new messages. No source: live values come every half second.
inline constexpr std::chrono::milliseconds kTurn{50};

/// Messages that wait while the broker is away or slow; of more the oldest are left out. No source: an hour's readings by several people.
inline constexpr std::size_t kMostWaiting = 1000;
/// Messages on their way that the broker has not acknowledged. No source: few, since what it does not take must wait here, where it is bounded.
inline constexpr std::size_t kMostOnTheWay = 16;
/// Live values that wait to be sent: what is older is of no use.
inline constexpr std::size_t kMostLive = 64;
/// What waits at the end is given so long to go, and only where the broker is there. No source.
inline constexpr std::chrono::seconds kLastWait{5};
/// A thread that hangs in the look-up of a broker's name is waited for so long at the end. No source.
inline constexpr std::chrono::seconds kLookUpWait{5};

}  // namespace hangtrue::broker
