// asking.hpp: sends one command to a device that answers on request, again and again while its line is open.
//
// The command goes out as soon as the line opens, and again after each `every`. While the line is closed nothing is sent or
// kept for later. This class does not look at answers: the decoder reads them, and SerialLine tells when none comes
// (State::silent).
// Threads   none; Lifetime held by shared_ptr, stop() ends it.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/steady_timer.hpp>

namespace hangtrue::serial {

class Asking : public std::enable_shared_from_this<Asking> {
 public:
  using Write = std::function<void(std::string bytes)>;  // SerialLine::write, most often

  /// `command` is sent as it is, line end and all; `every` > 0.
  [[nodiscard]] static std::shared_ptr<Asking> create(boost::asio::any_io_executor executor,
                                                      std::string command, std::chrono::milliseconds every,
                                                      Write write);
  void start();
  void stop();
  /// The line can be written to, or no longer.
  void opened();
  void lost();

 private:
  Asking(boost::asio::any_io_executor executor, std::string command, std::chrono::milliseconds every,
         Write write);
  boost::asio::awaitable<void> ask();

  std::string command_;
  std::chrono::milliseconds every_;
  Write write_;
  boost::asio::steady_timer timer_;
  bool open_ = false, stopped_ = false;
};

}  // namespace hangtrue::serial
