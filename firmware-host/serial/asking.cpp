#include "firmware-host/serial/asking.hpp"

#include <exception>
#include <utility>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace hangtrue::serial {

namespace net = boost::asio;

std::shared_ptr<Asking> Asking::create(net::any_io_executor executor, std::string command,
                                       std::chrono::milliseconds every, Write write) {
  return std::shared_ptr<Asking>(
      new Asking(std::move(executor), std::move(command), every, std::move(write)));
}

Asking::Asking(net::any_io_executor executor, std::string command, std::chrono::milliseconds every,
               Write write)
    : command_(std::move(command)), every_(every), write_(std::move(write)), timer_(executor) {}

void Asking::start() {
  net::co_spawn(
      timer_.get_executor(), [self = shared_from_this()] { return self->ask(); },
      [](std::exception_ptr failure) {
        if (failure) std::rethrow_exception(failure);  // a defect of ours
      });
}

void Asking::stop() {
  stopped_ = true;
  timer_.cancel();
}

void Asking::opened() {
  if (open_) return;
  open_ = true;
  timer_.cancel();
}

void Asking::lost() { open_ = false; }

net::awaitable<void> Asking::ask() {
  while (!stopped_) {
    if (open_) write_(command_);
    timer_.expires_after(every_);
    boost::system::error_code ended;  // cancelled by opened(), which asks at once, or by stop()
    co_await timer_.async_wait(net::redirect_error(net::use_awaitable, ended));
  }
}

}  // namespace hangtrue::serial
