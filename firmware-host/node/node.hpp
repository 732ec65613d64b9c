// node.hpp: an instrument node: reads its converter, settles, sends, keeps what nobody took, and makes the card of its own readings.
//
// Sends    XDR, as a kit sheet reads them: ALONG and ACROSS (angles in degrees), SEQ (number of the sentence, 0 to 9999); then CASE
//          (Celsius) and DIAL (the station). Of an axis that is not well nothing is sent, and a statement says why.
//          Beside these, statements and answers of its own, with the same checksum:
//              $HTNOD,WORD,...      what happened, answers, refusals (what was found, what would be right)
//              $HTRDG,number,station,slope,sigma,roll,sigma,temperature     a reading as it is kept (slope and roll to 1e-10)
//              $HTLOG,...           the same, handed over on request
//              $HTCRD,...           the card: station, millimetres along, heights in micrometres
// Station  by command, or by the button: each press is the next station. A reading is taken once at each, when both axes have
//          settled, and kept in memory that lasts.
// Time     of samples: the converter's own clock. Of silence: the board's tick.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

#include "firmware-host/node/board.hpp"
#include "firmware-host/node/clock.hpp"
#include "firmware-host/node/commands.hpp"
#include "firmware-host/node/log.hpp"
#include "firmware-host/node/packed_run.hpp"
#include "firmware-host/node/signal.hpp"
#include "firmware-host/node/survey.hpp"
#include "firmware-host/wire/sentence.hpp"

namespace hangtrue::node {

inline constexpr std::size_t kLongestCommand = 200;
/// Without a sample for so long the converter counts as silent.
inline constexpr std::uint64_t kSilent_ms = 3000;
/// An important sentence waits so long for room on the line, then it is dropped and counted.
inline constexpr std::uint64_t kPatience_ms = 2000;
/// Samples from which self test takes what the axes show, before and with the sensor's own signal.
inline constexpr std::uint32_t kSelfTestSamples = 50;

class Node {
 public:
  Node();
  /// One round: all that has come in, and what follows from it. Then the caller waits for an interrupt.
  void round();

 private:
  // Samples.
  void on_sample(const Sample& sample);
  void watch_axes();
  void state_of(int axis, AxisState state);
  void send_values();
  void take_reading();
  void next_station(std::uint32_t station);
  void go_on_with_self_test(std::span<const std::int32_t, 2> counts);

  // Commands.
  void on_host_byte(char byte);
  void obey(const Command& command);
  void hand_over();
  void say_who();
  void begin_run();
  void take_run_data(const Command& command);
  void end_run(std::uint32_t length);
  void adopt_run(std::size_t length, bool at_start);
  void print_card();
  void print_moves();

  [[nodiscard]] std::uint64_t now_ms() { return clock_.ms(board::tick_ms()); }
  /// Waits for room on the line; what never gets any is counted.
  void say(wire::Sentence& sentence);
  void say_word(std::string_view word, std::string_view more);
  void refuse(std::string_view what, std::string_view found, std::string_view wanted);

  Clock clock_;
  std::array<Axis, 2> axis_;
  std::array<AxisState, 2> told_{AxisState::silent, AxisState::silent};
  std::uint64_t sample_us_ = 0, last_sample_ms_ = 0;
  std::uint16_t number_ = 0;
  bool seen_ = false, button_ = false;
  std::uint32_t missed_ = 0, told_overruns_ = 0, told_refused_ = 0, dropped_ = 0, told_dropped_ = 0;
  float temperature_C_ = kReference_C;

  std::uint32_t rate_ = 10, until_sent_ = 0, sequence_ = 0;
  std::uint32_t station_ = 0;
  bool taken_here_ = true;

  enum class SelfTest : std::uint8_t { idle, before, excited } self_test_ = SelfTest::idle;
  std::uint32_t self_test_samples_ = 0;
  std::array<std::int64_t, 2> before_{}, excited_{};

  std::array<char, kLongestCommand> line_{};
  std::size_t line_length_ = 0;
  bool line_too_long_ = false;

  Log log_;
  PackedRun run_;
  bool has_run_ = false, receiving_ = false;
  Survey survey_;
  Card card_;
};

}  // namespace hangtrue::node
