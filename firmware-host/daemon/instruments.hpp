// instruments.hpp: the instruments of the kit, each on its line: what it gives, how it does, and what is told of that.
//
// States    every instrument has one at any time, told when it changes: "state NAME: WORD, SENTENCE"; where its values stop
//           coming "lost NAME: SENTENCE" as well, and "back NAME" when they come again.
// Order     as in the kit sheet; an index counts from 0.
// Threads   none. Lifetime: the callbacks may come until stop(); both sheets and the announcer must outlive it.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <boost/asio/any_io_executor.hpp>

#include "firmware-host/daemon/announcer.hpp"
#include "firmware-host/daemon/instrument_line.hpp"
#include "firmware-host/daemon/port.hpp"
#include "firmware-host/daemon/sheets.hpp"

namespace hangtrue::daemon {

class Instruments {
 public:
  struct Heard {
    /// It tells that it stands at another station now.
    std::function<void(std::size_t instrument, std::size_t station)> station;
    /// A node says something of its own: a sentence from '$' to its checksum.
    std::function<void(std::size_t instrument, std::string_view sentence)> node;
    /// A sample came, a line was opened or lost, a state is another: who waits for an instrument looks again.
    std::function<void()> news;
  };

  Instruments(const Sheets& sheets, const Announcer& announcer, Heard heard);

  void open(const boost::asio::any_io_executor& executor);
  void stop();

  [[nodiscard]] std::size_t size() const { return slots_.size(); }
  [[nodiscard]] const InstrumentLine& line(std::size_t instrument) const { return slots_[instrument].line; }
  [[nodiscard]] const sheet::KitInstrument& kit(std::size_t instrument) const {
    return slots_[instrument].line.kit();
  }
  [[nodiscard]] job::InstrumentState state(std::size_t instrument) const;
  /// The station that it told last, counted from 0.
  [[nodiscard]] std::optional<std::size_t> tells(std::size_t instrument) const {
    return slots_[instrument].tells;
  }

  /// Whether it is a node, which has spoken and whose line is open.
  [[nodiscard]] bool is_node(std::size_t instrument) const;
  void say_to_node(std::size_t instrument, const std::string& line) {
    slots_[instrument].port->say_to_node(line);
  }

  /// All walking channels (or the fixed ones) begin anew: they stand elsewhere, or were read. Only what is measured from now on
  /// counts: what came before and waits on the lines is read first, and what is on its way is let pass.
  void restart(bool fixed = false);
  /// All channels of one instrument.
  void restart_all_of(std::size_t instrument);
  /// Whether this program was held up just now (by the machine, or by a long fit). Nobody knows then when what waited on the
  /// lines was measured: all channels begin anew, kAfterHold_us later. To be called wherever something comes in.
  bool look_for_a_hold();

  /// Tells the states that are others than were told before.
  void tell_states();
  /// Lines with their bytes, states and channels, as events "status".
  void tell_status() const;

  /// Raw samples that came faster than they are kept.
  [[nodiscard]] std::uint64_t raw_passed_over() const;
  /// Raw samples since the last call, for the book. `offset`: from the monotonic clock to the wall clock.
  [[nodiscard]] std::vector<book::Samples> take_raw(std::chrono::system_clock::duration offset);

 private:
  /// An instrument, where it is plugged in, and what was told of it last.
  struct Slot {
    InstrumentLine line;
    Port* port = nullptr;
    std::size_t member = 0;  // of the port
    std::int64_t open_since_us = 0;
    std::optional<std::size_t> tells = {};
    std::string told = {};  // word of the state
    bool told_lost = false;
  };

  void sample_came(std::size_t instrument, const wire::Sample& sample, bool is_of_now);
  void line_changed(std::size_t port, const serial::Event& event);
  void tell_settled(std::size_t instrument, const InstrumentLine::LiveChannel& channel) const;

  const Sheets& sheets_;
  const Announcer& announcer_;
  Heard heard_;
  std::vector<Slot> slots_;
  std::vector<std::unique_ptr<Port>> ports_;
  std::int64_t alive_us_ = 0;        // when something came in last, if only the watch's turn; 0: not begun
  std::int64_t counts_from_us_ = 0;  // after a hold
};

}  // namespace hangtrue::daemon
