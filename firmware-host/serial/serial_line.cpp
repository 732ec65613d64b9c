#include "firmware-host/serial/serial_line.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <exception>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

namespace hangtrue::serial {
namespace {

namespace net = boost::asio;
using boost::system::error_code;

constexpr std::size_t kChunk = 16 * 1024;

State reason_for(int error) {
  switch (error) {
    case ENOENT:
    case ENOTDIR:
    case ENODEV:
    case ENXIO:
    case EIO:
      return State::absent;  // a pseudo-terminal whose other end has closed answers EIO
    case EISDIR:
    case ENOTTY:
      return State::not_a_tty;
    case EACCES:
    case EPERM:
    case EROFS:
      return State::no_permission;
    case EBUSY:
    case EWOULDBLOCK:
      return State::busy;
    default:
      return State::absent;
  }
}

std::string setting_words(const Settings& settings) {
  static constexpr char kParity[] = {'N', 'E', 'O'};
  return std::to_string(settings.baud) + " baud 8" + kParity[static_cast<std::size_t>(settings.parity)] +
         std::to_string(settings.stop_bits);
}

/// What is the matter, and what to do about it.
std::string sentence_for(State state, const Settings& settings, int error) {
  const std::string& path = settings.path;
  const std::string system = std::strerror(error);
  switch (state) {
    case State::not_a_tty:
      return path + " is not a serial line (tty); name the instrument's tty as port in the kit sheet";
    case State::no_permission:
      return "no permission to open " + path + " (" + system +
             "); add the user to the group that owns it, dialout on most systems";
    case State::busy:
      return path + " is held by another program; close that program";
    case State::cannot_set:
      return path + " refuses " + setting_words(settings) + " (" + system +
             "); set baud, parity and stop bits in the kit sheet to what the adapter can do";
    default:
      return error == ENOENT
                 ? "there is no " + path + "; plug the instrument in, or correct port in the kit sheet"
                 : "nothing answers behind " + path + " (" + system +
                       "); plug the instrument in, or switch it on";
  }
}

Opened refused(int descriptor, State state, const Settings& settings, int error) {
  if (descriptor >= 0) ::close(descriptor);
  return {-1, state, sentence_for(state, settings, error)};
}

/// Source: Linux, Documentation/admin-guide/devices.txt: major numbers 136 to 143 are pseudo-terminal slaves. There the kernel
/// keeps TIOCEXCL after we have closed, for as long as the other end is open, and would refuse to open it for us again.
bool is_pseudo_terminal(const struct stat& kind) {
  const unsigned number = gnu_dev_major(kind.st_rdev);
  return number >= 136 && number <= 143;
}

/// False with errno. `bare`: speed and raw mode only.
bool set_tty(int descriptor, const Settings& wanted, bool bare) {
  termios settings{};
  if (::tcgetattr(descriptor, &settings) != 0) return false;
  ::cfmakeraw(&settings);
  settings.c_cflag |= CLOCAL | CREAD;  // no modem lines
  settings.c_cflag &= ~static_cast<tcflag_t>(CSTOPB | CRTSCTS | PARODD);
  settings.c_iflag &= ~static_cast<tcflag_t>(IGNPAR);
  settings.c_iflag |= INPCK;  // with the two above: a byte that came damaged is NUL
  if (wanted.stop_bits == 2) settings.c_cflag |= CSTOPB;
  if (wanted.parity != Parity::none && !bare) settings.c_cflag |= PARENB;
  if (wanted.parity == Parity::odd && !bare) settings.c_cflag |= PARODD;
  // glibc takes the number itself beside the B... names, and refuses a speed that it has no name for.
  return ::cfsetspeed(&settings, wanted.baud) == 0 && ::tcsetattr(descriptor, TCSANOW, &settings) == 0;
}

/// A coroutine of ours ends by itself; an exception in it is a defect and must not vanish.
void rethrow(std::exception_ptr failure) {
  if (failure) std::rethrow_exception(failure);
}

}  // namespace

std::string_view word(State state) {
  switch (state) {
    case State::not_started:
      return "not started";
    case State::open:
      return "open";
    case State::silent:
      return "silent";
    case State::absent:
      return "absent";
    case State::not_a_tty:
      return "not a tty";
    case State::no_permission:
      return "no permission";
    case State::busy:
      return "busy";
    case State::cannot_set:
      return "cannot set";
    case State::lost:
      return "lost";
    case State::stopped:
      return "stopped";
  }
  return "unknown";
}

Opened open_tty(const Settings& settings) {
  // Looked at before it is opened: to open some devices that are no ttys has effects of its own.
  struct stat kind {};
  if (::stat(settings.path.c_str(), &kind) != 0) {
    const int error = errno;
    return refused(-1, reason_for(error), settings, error);
  }
  if (!S_ISCHR(kind.st_mode)) return refused(-1, State::not_a_tty, settings, ENOTTY);

  const int descriptor = ::open(settings.path.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (descriptor < 0) {
    const int error = errno;
    return refused(-1, reason_for(error), settings, error);
  }
  if (::isatty(descriptor) == 0) return refused(descriptor, State::not_a_tty, settings, ENOTTY);
  if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) return refused(descriptor, State::busy, settings, EBUSY);
  const bool has_parity = !is_pseudo_terminal(kind);
  if (has_parity) ::ioctl(descriptor, TIOCEXCL);  // best effort: some drivers have it not
  if (!set_tty(descriptor, settings, !has_parity)) {
    const int error = errno;
    // EIO comes from a pseudo-terminal whose other end has closed meanwhile: it is gone, it does not refuse the settings.
    return refused(descriptor, error == EINVAL ? State::cannot_set : reason_for(error), settings, error);
  }
  return {
      descriptor, State::open,
      settings.path + " is open at " + setting_words(settings) +
          (has_parity || settings.parity == Parity::none ? "" : "; a pseudo-terminal, which has no parity")};
}

std::shared_ptr<SerialLine> SerialLine::create(net::any_io_executor executor, Settings settings,
                                               OnBytes on_bytes, OnEvent on_event) {
  return std::shared_ptr<SerialLine>(
      new SerialLine(std::move(executor), std::move(settings), std::move(on_bytes), std::move(on_event)));
}

SerialLine::SerialLine(net::any_io_executor executor, Settings settings, OnBytes on_bytes, OnEvent on_event)
    : settings_(std::move(settings)),
      on_bytes_(std::move(on_bytes)),
      on_event_(std::move(on_event)),
      port_(executor),
      retry_(executor),
      silence_(executor) {}

void SerialLine::start() {
  const net::any_io_executor executor = port_.get_executor();
  net::co_spawn(
      executor, [self = shared_from_this()] { return self->keep_open(); }, rethrow);
  net::co_spawn(
      executor, [self = shared_from_this()] { return self->watch_silence(); }, rethrow);
}

void SerialLine::stop() {
  if (stopped()) return;
  state_ = State::stopped;
  sentence_ = settings_.path + " was closed";
  error_code ignored;  // it is being given up: nothing to do about a close that fails
  port_.close(ignored);
  retry_.cancel();
  silence_.cancel();
}

net::awaitable<void> SerialLine::keep_open() {
  std::chrono::milliseconds delay = settings_.first_retry;
  while (!stopped()) {
    if (open()) {
      delay = settings_.first_retry;
      co_await read_until_lost();
      if (stopped()) break;
    }
    retry_.expires_after(delay);
    delay = std::min(2 * delay, settings_.longest_retry);
    error_code ended;  // cancelled by stop(): the loop's condition sees it
    co_await retry_.async_wait(net::redirect_error(net::use_awaitable, ended));
  }
}

bool SerialLine::open() {
  Opened opened = open_tty(settings_);
  if (opened.descriptor < 0) {
    change(opened.state, std::move(opened.sentence));
    return false;
  }
  port_.assign(opened.descriptor);
  heard_ = Clock::now();
  const bool again = was_open_;
  was_open_ = true;
  change(State::open, again ? settings_.path + " is back" : std::move(opened.sentence), again);
  return true;
}

net::awaitable<void> SerialLine::read_until_lost() {
  std::array<char, kChunk> chunk;
  error_code error;
  while (!stopped()) {
    const std::size_t length =
        co_await port_.async_read_some(net::buffer(chunk), net::redirect_error(net::use_awaitable, error));
    if (stopped()) co_return;
    if (length > 0) bytes_came(std::string_view(chunk.data(), length));
    if (error) break;
  }
  if (stopped()) co_return;
  error_code ignored;  // the device is gone already
  port_.close(ignored);
  change(State::lost, settings_.path +
                          (error == net::error::eof ? " hung up" : " failed (" + error.message() + ")") +
                          "; plug it in again, it goes on by itself");
}

void SerialLine::read_what_waits() {
  std::array<char, kChunk> chunk;
  for (std::size_t all = 0; is_open() && all < kMostWaiting;) {
    const ssize_t length = ::read(port_.native_handle(), chunk.data(), chunk.size());  // never blocks
    if (length <= 0) return;  // nothing more; where the line is lost read_until_lost() sees it as well
    all += static_cast<std::size_t>(length);
    bytes_came(std::string_view(chunk.data(), static_cast<std::size_t>(length)));
  }
}

void SerialLine::bytes_came(std::string_view chunk) {
  heard_ = Clock::now();
  if (state_ == State::silent) change(State::open, settings_.path + " speaks again", /*again=*/true);
  on_bytes_(chunk);
}

bool SerialLine::write(std::string bytes) {
  writes_.in += bytes.size();
  if (!is_open() || writes_.pending + bytes.size() > kLongestQueue) {
    writes_.dropped += bytes.size();
    return false;
  }
  writes_.pending += bytes.size();
  queue_ += bytes;
  if (!writes_now_)
    net::co_spawn(
        port_.get_executor(), [self = shared_from_this()] { return self->write_queue(); }, rethrow);
  writes_now_ = true;
  return true;
}

net::awaitable<void> SerialLine::write_queue() {
  error_code error;  // a line that hung up: read_until_lost() sees it as well, and tells
  while (!queue_.empty() && !error) {
    const std::string going = std::exchange(queue_, {});
    const std::size_t written =
        co_await net::async_write(port_, net::buffer(going), net::redirect_error(net::use_awaitable, error));
    writes_.written += written;
    writes_.pending -= written;
  }
  // Only this coroutine takes from the queue: what is pending now will not be sent.
  writes_.dropped += std::exchange(writes_.pending, 0);
  queue_.clear();
  writes_now_ = false;
}

net::awaitable<void> SerialLine::watch_silence() {
  while (!stopped()) {
    const Clock::time_point silent_at =
        (state_ == State::open ? heard_ : Clock::now()) + settings_.silence_limit;
    silence_.expires_at(silent_at);
    error_code ended;  // cancelled by stop(): the loop's condition sees it
    co_await silence_.async_wait(net::redirect_error(net::use_awaitable, ended));
    if (state_ == State::open && Clock::now() - heard_ >= settings_.silence_limit)
      change(State::silent,
             "nothing from " + settings_.path + " for " + std::to_string(settings_.silence_limit.count()) +
                 " ms; switch the instrument on, and check its cable and that it is set to send");
  }
}

void SerialLine::change(State state, std::string sentence, bool again) {
  if (state == state_ && sentence == sentence_) return;  // said already
  state_ = state;
  sentence_ = std::move(sentence);
  on_event_(Event{state_, again, sentence_});
}

}  // namespace hangtrue::serial
