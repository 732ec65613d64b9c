// modbus_poll.hpp: asks the units on one serial line for their registers, in turn, for as long as the line is
// open.
//
// Contract  One request is on the line at a time. Before each the line has been silent for 3.5 characters;
//           then the request, then an answer within the unit's timeout (counted from the end of the request,
//           and as long again as the answer takes on the wire), or the next attempt. Requests that are due
//           are taken in the order in which they fell due, so that a unit that does not answer costs the
//           others one timeout and no more.
// Attempts  a request that fails is asked again up to `retries` times; then the poll has failed and the
//           unit's state is told. A request whose last poll failed is asked once, without retries, after a
//           pause that doubles from the unit's interval to Settings::longest_pause (or longer, see Late).
// Exception an answer as well: it is told by its name, and asked again after the same pauses.
// Late      an RTU answer does not say which request it answers, but for unit, function and length. So a unit
//           that owes an answer (a poll with more askings than answers) is not asked anything new until it
//           has come, or until 3 timeouts, at least Settings::late_least, have gone by since the unit was
//           last asked or answered. What comes so late is dropped and counted, and told in the unit's
//           sentence. An answer to any attempt of a poll answers that poll.
// Doubt     where a unit has two requests of one function and length, an answer that comes later still would
//           pass for one to the next request, and each after it for the one before. So such a unit is doubted
//           when an answer that it owes has had its time, and when the line opens (whoever asked before us may
//           have left one on its way): its next answer gives no value, and the unit is believed only when
//           nothing more comes from it for twice that time. An answer later than that can still give one
//           wrong value; it cannot go on to give others.
// Echo      an adapter that returns what we send: the echo of a read request is no answer to it, and is
//           dropped.
// Broadcast never: address 0 cannot be asked.
// Owner     feeds bytes(), opened() and lost(), and writes what it is given; all on the executor's single
//           thread.
// Lifetime  held by shared_ptr; stop() ends it; no callback comes after that.
// Source    Modbus over serial line specification and implementation guide V1.02 (2006): 2.4.1 (from memory:
//           timeout, frame and addressed unit checked by the master), 2.5.1.1 (silence of 3.5 characters,
//           1.750 ms above 19200 baud).
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>

#include "firmware-host/wire/modbus.hpp"

namespace hangtrue::serial {

/// Worse ones last; a unit with several requests is in the worst state of them.
enum class UnitState {
  not_asked,  // since the line opened
  answering,
  exception,     // answers that it will not
  garbled,       // something came that is no answer to what was asked
  not_answering  // nothing came
};
[[nodiscard]] std::string_view word(UnitState state);

struct PolledUnit {
  std::string name;                         // as it is to be named in sentences
  std::vector<wire::ReadRequest> requests;  // each is asked every so often
  std::chrono::milliseconds every{100};
  std::chrono::milliseconds timeout{500};
  int retries = 2;
};

struct UnitEvent {
  UnitState state;
  std::string sentence;
};

/// Of one unit, since the beginning: asked = answered + exceptions + failed, and one more while an answer is
/// waited for.
struct UnitCounts {
  std::uint64_t asked = 0;       // requests sent, retries too
  std::uint64_t answered = 0;    // with registers
  std::uint64_t exceptions = 0;  // with an exception
  std::uint64_t failed = 0;      // with neither, within the timeout
};

class ModbusPoll : public std::enable_shared_from_this<ModbusPoll> {
 public:
  using Write = std::function<void(std::string bytes)>;  // SerialLine::write, most often
  /// The registers that a request asked for; the view lives for the call.
  using OnRegisters =
      std::function<void(std::size_t unit, std::size_t request, std::span<const std::uint16_t> registers)>;
  /// Once when a unit's state begins, and again when its sentence differs.
  using OnEvent = std::function<void(std::size_t unit, const UnitEvent& event)>;

  struct Settings {
    unsigned baud = 9600;
    unsigned bits_per_character = 10;  // start, 8 data, parity, stop
    std::vector<PolledUnit> units;
    std::chrono::milliseconds longest_pause{2000};
    std::chrono::milliseconds late_least{1000};
  };
  static constexpr int kLate = 3;  // timeouts

  /// Throws std::invalid_argument for a request that wire::read_request() refuses (address 0 is one).
  [[nodiscard]] static std::shared_ptr<ModbusPoll> create(boost::asio::any_io_executor executor,
                                                          Settings settings, Write write,
                                                          OnRegisters on_registers, OnEvent on_event);
  void start();
  void stop();
  /// The line can be written to, or no longer. Units are then not_asked until they answer or do not; that is
  /// not told.
  void opened();
  void lost();
  void bytes(std::string_view chunk);

  [[nodiscard]] UnitState state(std::size_t unit) const;
  [[nodiscard]] const UnitCounts& counts(std::size_t unit) const;
  /// Every byte that came, by what became of it: in = used + dropped_in_all() + pending().
  [[nodiscard]] const wire::ModbusAnswer& answer() const { return answer_; }
  /// Bytes that made sense, for LineHealth: used, echoes, other units' and late answers.
  [[nodiscard]] std::uint64_t understood() const;

 private:
  using Clock = std::chrono::steady_clock;
  static constexpr std::size_t kNone = static_cast<std::size_t>(-1);
  /// One request of one unit.
  struct Item {
    std::size_t unit, request;
    Clock::time_point due{};
    int attempts = 0;          // of the present poll
    Clock::duration pause{0};  // since its last poll failed; 0: it did not
    UnitState state = UnitState::not_asked;
    std::string sentence;
  };
  struct Unit {
    PolledUnit kit;
    std::size_t polled = kNone;                 // item whose poll has begun and not ended
    int owes = 0;                               // answers
    wire::ReadRequest owed{};                   // what the answers that it owes are to
    wire::ModbusAnswer late_answer;             // one of them
    bool late = false;                          // one of them came
    bool alike = false;                         // two of its requests cannot be told apart by their answers
    bool doubted = false, listened_to = false;  // see Doubt; its next answer has come, will there be more?
    Clock::time_point heard{};                  // last asked, or answered, late or not
    UnitEvent told{UnitState::not_asked, {}};
    UnitCounts counts;
  };

  ModbusPoll(boost::asio::any_io_executor executor, Settings settings, Write write, OnRegisters on_registers,
             OnEvent on_event);
  boost::asio::awaitable<void> poll();
  boost::asio::awaitable<void> wait_until(Clock::time_point time);
  [[nodiscard]] std::size_t next() const;
  [[nodiscard]] Clock::time_point may_begin(std::size_t item) const;
  [[nodiscard]] Clock::time_point silent_at(std::size_t item) const;
  void ask(std::size_t item);
  void settle(std::size_t item);
  [[nodiscard]] Clock::duration patience(const Unit& unit) const;
  void listen(Item& item);
  std::size_t hear_late(Unit& unit, std::string_view chunk);
  void answered(Item& item);
  void refused(Item& item, int code);
  void failed(Item& item, wire::ModbusFault fault);
  void end_poll(Item& item, UnitState state, std::string sentence);
  [[nodiscard]] Clock::duration longer_pause(const Item& item) const;
  [[nodiscard]] std::string late_words(const Unit& unit) const;
  [[nodiscard]] std::string unit_words(const Item& item) const;
  [[nodiscard]] std::string register_words(const Item& item) const;
  [[nodiscard]] Clock::duration on_the_wire(std::size_t characters) const;

  Settings settings_;  // but for the units
  Write write_;
  OnRegisters on_registers_;
  OnEvent on_event_;
  boost::asio::steady_timer timer_;
  std::vector<Unit> units_;
  std::vector<Item> items_;
  wire::ModbusAnswer answer_;
  std::size_t asked_unit_ = kNone;  // last
  std::uint64_t late_bytes_ = 0;    // in late answers while nothing was asked
  Clock::time_point deadline_{};    // of the answer
  Clock::time_point last_byte_{};   // on the line, either way
  Clock::time_point settled_{};     // when the last request was over
  bool open_ = false, stopped_ = false;
};

}  // namespace hangtrue::serial
