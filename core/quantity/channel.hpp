// channel.hpp: the quantities that a channel of an instrument can give.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>

namespace hangtrue {

enum class Channel : std::uint8_t {
  slope,        // dz/dx along the run, rad
  roll,         // turn about the run's axis, rad
  distance,     // from a laser datum to the run or to a mark, m
  temperature,  // of the instrument, degrees Celsius
  station       // number of the station at which the instrument stands, from 1
};
inline constexpr std::array kChannels{Channel::slope, Channel::roll, Channel::distance, Channel::temperature,
                                      Channel::station};

/// Whether it measures the run itself, and so becomes readings. The others only go with them.
[[nodiscard]] constexpr bool is_measured_of_run(Channel channel) {
  return channel == Channel::slope || channel == Channel::roll || channel == Channel::distance;
}

/// Its word in sheets, in files of readings and in the level book.
[[nodiscard]] constexpr std::string_view word(Channel channel) {
  constexpr std::array<std::string_view, kChannels.size()> words{"slope", "roll", "distance", "temperature",
                                                                 "station"};
  return words[static_cast<std::size_t>(channel)];
}
[[nodiscard]] constexpr std::optional<Channel> channel_named(std::string_view text) {
  for (const Channel channel : kChannels)
    if (word(channel) == text) return channel;
  return std::nullopt;
}

}  // namespace hangtrue
