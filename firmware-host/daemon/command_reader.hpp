// command_reader.hpp: lines from standard input, whatever it is: a terminal, a pipe, a socket, a file, nothing at all.
//
// Threads   none. Lifetime: must outlive what awaits it; close() ends that.
// Bounds    a line longer than kLongestCommand is dropped up to its end and handed over as `too_long`.
// Shared    where the system gives a way, the descriptor is opened anew, so that making it non-blocking does not make
//           somebody else's end of it (the shell's terminal) so.
#pragma once

#include <optional>
#include <string>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>

namespace hangtrue::daemon {

struct CommandLine {
  std::string text;
  bool too_long = false;
};

class CommandReader {
 public:
  explicit CommandReader(boost::asio::any_io_executor executor);

  /// The next line without its end; nothing once the input has ended, failed, or was closed.
  [[nodiscard]] boost::asio::awaitable<std::optional<CommandLine>> next();
  void close();

 private:
  [[nodiscard]] std::optional<CommandLine> cut();
  [[nodiscard]] boost::asio::awaitable<bool> read_more();

  boost::asio::posix::stream_descriptor input_;
  std::string pending_;
  bool skipping_ = false;  // within a line that is too long
  bool ended_ = false;
};

}  // namespace hangtrue::daemon
