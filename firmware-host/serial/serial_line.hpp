// serial_line.hpp: one tty, kept open by its configured path for as long as the program runs.
//
// Contract  Opens the path, sets 8 data bits and raw mode at the given speed, parity and stop bits, and hands every
//           chunk of bytes to one callback as it comes. Whatever a device can do (it is absent at the start, unplugged,
//           silent) is a state with one plain sentence that says what to do. The other callback is told once, when the
//           state begins. A line that is not open is tried again after `first_retry`, then after pauses that double up to
//           `longest_retry`, until it is stopped.
// Path      is opened anew by the name in Settings each time. Name a link such as /dev/serial/by-id/...: a number such as
//           ttyUSB0 may go to another device after unplugging.
// Bytes     after State::lost the next bytes begin a new stream. Whoever cuts lines out of them must then drop the line that
//           it has begun, or half a line is glued to another. What a pseudo-terminal held unread when its other end
//           closed is lost in the kernel.
// Damage    a byte whose parity or stop bit is wrong comes as NUL (termios INPCK), so that it is never read
//           as text.
// Parity    a pseudo-terminal has none. The line is opened without it, and its sentence says so.
// Writing   write() queues and returns; what is written is taken whole or not at all:
//               in = written + dropped + pending      (bytes; WriteCounts)
//           Dropped when the line is not open, when more than kLongestQueue bytes would wait because the
//           other end does not read, and when the line is lost before they have gone.
// Lock      a line that is open is ours alone: an advisory lock (flock), and TIOCEXCL where the system heeds
//           it.
// Threads   none: everything happens on the executor's single thread.
// Lifetime  held by shared_ptr; what may outlive a call holds its own. stop() ends it; the callbacks are not
//           called after that.
// Errors    nothing is thrown for what a device can do.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/steady_timer.hpp>

#include "firmware-host/serial/thresholds.hpp"

namespace hangtrue::serial {

enum class State {
  not_started,  // start() was not called yet
  open,         // bytes may come
  silent,       // open, but no byte within Settings::silence_limit
  absent,       // no such path, or nothing behind it
  not_a_tty,    // the path is a file, a directory, or another kind of device
  no_permission,
  busy,        // another program (or another line of ours) holds it
  cannot_set,  // it opened, but refused the speed or raw mode
  lost,        // was open; hung up, ended or failed
  stopped      // stop() was called
};

/// One word for each, for status lines: "open", "silent", "not a tty" ...
[[nodiscard]] std::string_view word(State state);

enum class Parity { none, even, odd };

struct Settings {
  std::string path;  // of a tty, or of a link to one
  unsigned baud = 9600;
  Parity parity = Parity::none;
  int stop_bits = 1;  // 1 or 2
  std::chrono::milliseconds silence_limit = kSilence;
  std::chrono::milliseconds first_retry = kFirstRetry;
  std::chrono::milliseconds longest_retry = kLongestRetry;
};

/// What changed. `again` tells a return (plugged in again, speaks again) from the first time.
struct Event {
  State state;
  bool again;
  std::string sentence;
};

/// Bytes given to write(), by what became of them.
struct WriteCounts {
  std::uint64_t in = 0, written = 0, dropped = 0, pending = 0;
};

/// An open tty, or why it is none (descriptor -1). Made raw, set as asked, locked.
struct Opened {
  int descriptor;
  State state;  // open, or the reason
  std::string sentence;
};
[[nodiscard]] Opened open_tty(const Settings& settings);

class SerialLine : public std::enable_shared_from_this<SerialLine> {
 public:
  using OnBytes = std::function<void(std::string_view chunk)>;  // the view lives for the call
  using OnEvent = std::function<void(const Event& event)>;

  [[nodiscard]] static std::shared_ptr<SerialLine> create(boost::asio::any_io_executor executor,
                                                          Settings settings, OnBytes on_bytes,
                                                          OnEvent on_event);
  void start();
  void stop();
  /// Sends the bytes after those that wait already. Returns whether they were taken; see Writing.
  bool write(std::string bytes);

  /// Hands over at once what has come and waits to be read, so that what comes from then on came after. Not from within OnBytes.
  void read_what_waits();

  /// Bytes can come and go: State::open or State::silent.
  [[nodiscard]] bool is_open() const { return port_.is_open(); }
  [[nodiscard]] const WriteCounts& writes() const { return writes_; }
  [[nodiscard]] State state() const { return state_; }
  [[nodiscard]] const std::string& sentence() const { return sentence_; }
  [[nodiscard]] const Settings& settings() const { return settings_; }

 private:
  using Clock = std::chrono::steady_clock;

  SerialLine(boost::asio::any_io_executor executor, Settings settings, OnBytes on_bytes, OnEvent on_event);
  boost::asio::awaitable<void> keep_open();
  boost::asio::awaitable<void> read_until_lost();
  boost::asio::awaitable<void> watch_silence();
  boost::asio::awaitable<void> write_queue();
  [[nodiscard]] bool open();
  void bytes_came(std::string_view chunk);
  void change(State state, std::string sentence, bool again = false);
  [[nodiscard]] bool stopped() const { return state_ == State::stopped; }

  Settings settings_;
  OnBytes on_bytes_;
  OnEvent on_event_;
  boost::asio::posix::stream_descriptor port_;
  boost::asio::steady_timer retry_;
  boost::asio::steady_timer silence_;
  Clock::time_point heard_;
  std::string queue_;  // to be written, besides what is on its way
  bool writes_now_ = false;
  WriteCounts writes_;
  State state_ = State::not_started;
  std::string sentence_;
  bool was_open_ = false;
};

}  // namespace hangtrue::serial
