// modbus_poll.hpp: asks the units on one serial line for their registers, in turn, for as long as the line is
// open.
//
// Poll      one request until it is answered, or has failed in all its attempts.
// Contract  One request is on the line at a time. It is sent after the line was silent for 3.5 characters. Its answer must
//           come within the unit's timeout, which is counted from the end of the request and does not include the time
//           that the answer itself takes on the wire. Requests are sent in the order in which they fall due. So a unit
//           that does not answer costs the others one timeout and no more.
// Attempts  A request that fails is sent again up to `retries` times. Then the poll has failed, and the unit's state is
//           told. From then on the request is sent once a poll, without retries, after pauses that double from the unit's
//           interval up to Settings::longest_pause (or longer, see Late).
// Exception counts as an answer. It is told by its name, and the request is sent again after the same pauses.
// Late      An answer of Modbus RTU carries its unit, function and length, and nothing else of its request. A unit owes
//           an answer when a poll of it has sent more requests than answers came. It is then asked nothing new until
//           that answer has come, or until 3 timeouts (at least Settings::late_least) have passed since it was last asked
//           or last answered. An answer that comes so late is dropped, counted and told in the unit's sentence. Any
//           answer within a poll answers the poll, whichever attempt it belongs to.
// Alike     Where two requests of a unit have the same function and length, an answer to the one cannot be told from an answer to
//           the other. What such a unit answers is therefore held back until a read of another length, the proof, is answered
//           as well, with just that length or refused: a gateway that hands out each answer one request late, or a unit that
//           fell behind, answers the proof with what was asked before. Then what was held back is dropped, the unit is
//           garbled, and doubted. The proof follows each round of the unit's requests.
// Jump      values that change places between two requests alike, from one round to the next, are no values: the round is
//           dropped and the unit doubted, up to kMostJumps times in a row; then they are taken for what they are.
// Doubt     The next answer of a doubted unit gives no value. It is believed again when nothing more comes from it for twice the
//           time of Late. A unit with requests alike is doubted when an answer that it owes did not come in that time, and when
//           the line opens, since somebody else may have asked it before.
// Not seen  what hands out two answers in each other's places and the proof in its own, from the first round on. And a unit with
//           one request behind a gateway that is one late: its values are one poll old.
// Echo      Some adapters return what we send. The echo of a request is no answer to it and is dropped.
// Broadcast is never used: address 0 cannot be asked.
// Owner     feeds bytes(), opened() and lost(), and writes what Write gives it; all on the executor's single thread.
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

#include "firmware-host/serial/thresholds.hpp"
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
    std::chrono::milliseconds longest_pause = kLongestPause;
    std::chrono::milliseconds late_least = kLateLeast;
  };

  /// Throws std::invalid_argument for a request that wire::read_request() refuses (address 0 is one).
  [[nodiscard]] static std::shared_ptr<ModbusPoll> create(boost::asio::any_io_executor executor,
                                                          Settings settings, Write write,
                                                          OnRegisters on_registers, OnEvent on_event);
  void start();
  void stop();
  /// The line can be written to, or no longer. All units become not_asked when it opens; that is not told.
  void opened();
  void lost();
  void bytes(std::string_view chunk);

  [[nodiscard]] UnitState state(std::size_t unit) const;
  /// Answers of that unit that were asked for and not yet handed over.
  [[nodiscard]] std::size_t under_way(std::size_t unit) const;
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
  struct Held {
    std::size_t request;
    std::vector<std::uint16_t> registers;
  };
  struct Unit {
    PolledUnit kit;                  // with the proof as its last request, where two are alike
    std::size_t polled = kNone;      // the item whose poll has begun and not ended
    int owes = 0;                    // answers that it owes
    wire::ReadRequest owed{};        // the request that they answer
    wire::ModbusAnswer late_answer;  // looks for the next of them
    bool late = false;               // one of them came, after its time
    bool alike = false;              // two of its requests have the same function and length
    bool doubted = false;            // see Doubt
    bool listened_to = false;        // doubted, and its next answer has come: does anything follow it?
    std::size_t proof = kNone;       // the item that is the proof
    std::vector<Held> held = {};     // of the present round
    std::vector<std::vector<std::uint16_t>> last = {};  // by request, of the last round that was believed
    int jumps = 0;                                      // rounds in a row that were none
    Clock::time_point heard{};  // when it was last asked or last answered, late or not
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
  [[nodiscard]] bool is_proof(const Item& item) const;
  void hold(const Item& item);
  void prove(Unit& unit, std::size_t number);
  void try_another_proof(Item& item);
  void out_of_step(Item& item);
  [[nodiscard]] static bool have_jumped(const Unit& unit, const std::vector<Held>& held);
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
