// commands.hpp: what a host or a person may say to the node, a line each.
//
//     rate 10          sentences a second, 1 to 50
//     zero             what the axes show now, settled, is nought
//     station 3        it stands at that station, from 1
//     self test        the sensor's own signal must show in both axes
//     log              hands over what is not taken yet
//     taken 17         the host has all entries up to that number: they are not handed over again
//     run begin        a packed run follows;  run data 64 0A1B...   its bytes from that offset;  run end 1234   its length
//     card             fits its own readings and makes the shim card
//     forget           the readings of this survey are dropped (the log keeps them)
//     who              version, run, station, counts
#pragma once

#include <cstdint>
#include <string_view>

#include "core/quantity/result.hpp"

namespace hangtrue::node {

enum class Word : std::uint8_t {
  rate,
  zero,
  station,
  self_test,
  log,
  taken,
  run_begin,
  run_data,
  run_end,
  card,
  forget,
  who
};

struct Command {
  Word word = Word::who;
  std::uint32_t number = 0;
  std::string_view data = {};  // run data: an even number of hexadecimal digits; a view of the line
};

/// What was found, and what would be right. Views of the line and of constants.
struct Refusal {
  std::string_view found;
  const char* wanted = "";
};

[[nodiscard]] Result<Command, Refusal> read_command(std::string_view line);

/// Value of a hexadecimal digit, or -1.
[[nodiscard]] int hex_value(char digit);

}  // namespace hangtrue::node
