// waker.hpp: a coroutine waits here until somebody wakes it, or until a deadline.
//
// Waking    does not add up: who is woken looks itself at what has changed. Nobody waiting: nothing happens. No wake is missed
//           by one who looks and then waits without giving the thread away in between.
// Threads   none: everything on the executor's thread. Lifetime: must outlive who waits.
#pragma once

#include <chrono>
#include <utility>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace hangtrue::daemon {

class Waker {
 public:
  using Clock = std::chrono::steady_clock;

  explicit Waker(const boost::asio::any_io_executor& executor) : timer_(executor) {}

  void wake() { timer_.cancel(); }
  [[nodiscard]] boost::asio::awaitable<void> wait(Clock::time_point until = Clock::time_point::max()) {
    timer_.expires_at(until);
    boost::system::error_code woken;  // or none at the deadline; who waits looks itself
    co_await timer_.async_wait(boost::asio::redirect_error(boost::asio::use_awaitable, woken));
  }

 private:
  boost::asio::steady_timer timer_;
};

}  // namespace hangtrue::daemon
