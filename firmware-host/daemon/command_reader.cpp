#include "firmware-host/daemon/command_reader.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <array>

#include <boost/asio/buffer.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "firmware-host/daemon/thresholds.hpp"

namespace hangtrue::daemon {
namespace {

namespace net = boost::asio;
using boost::system::error_code;

int own_standard_input() {
  const int anew = ::open("/proc/self/fd/0", O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
  return anew >= 0 ? anew : ::fcntl(STDIN_FILENO, F_DUPFD_CLOEXEC, 3);  // a socket cannot be opened anew
}

}  // namespace

CommandReader::CommandReader(net::any_io_executor executor) : input_(executor) {
  const int descriptor = own_standard_input();
  if (descriptor >= 0)
    input_.assign(descriptor);
  else
    ended_ = true;  // started without a standard input
}

void CommandReader::close() {
  ended_ = true;
  pending_.clear();
  error_code ignored;  // nothing is written to it that could be lost
  input_.close(ignored);
}

net::awaitable<std::optional<CommandLine>> CommandReader::next() {
  for (;;) {
    if (auto line = cut()) co_return line;
    if (ended_ || !co_await read_more()) break;
  }
  // The last line need not have an end.
  if (pending_.empty() || skipping_) co_return std::nullopt;
  CommandLine last{std::move(pending_)};
  pending_.clear();
  co_return last;
}

std::optional<CommandLine> CommandReader::cut() {
  const std::size_t end = pending_.find('\n');
  if (end == std::string::npos) {
    if (pending_.size() <= kLongestCommand) return std::nullopt;
    pending_.clear();
    if (skipping_) return std::nullopt;
    skipping_ = true;
    return CommandLine{{}, true};
  }
  CommandLine line{pending_.substr(0, end)};
  pending_.erase(0, end + 1);
  if (skipping_) {  // the end of what was refused already
    skipping_ = false;
    return cut();
  }
  if (line.text.size() > kLongestCommand) return CommandLine{{}, true};
  return line;
}

net::awaitable<bool> CommandReader::read_more() {
  std::array<char, 1024> chunk;
  error_code error;
  std::size_t length =
      co_await input_.async_read_some(net::buffer(chunk), net::redirect_error(net::use_awaitable, error));
  if (error ==
      net::error::operation_not_supported) {  // files and /dev/null cannot be waited for, and need not be
    const ssize_t read = ::read(input_.native_handle(), chunk.data(), chunk.size());
    length = read > 0 ? static_cast<std::size_t>(read) : 0;
    error = length > 0 ? error_code() : error_code(net::error::eof);
  }
  pending_.append(chunk.data(), length);
  if (error) ended_ = true;
  co_return length > 0;
}

}  // namespace hangtrue::daemon
