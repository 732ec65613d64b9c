// Who waits is woken by a word or by the deadline, and by nothing else.
#include "firmware-host/daemon/waker.hpp"

#include <gtest/gtest.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

namespace hangtrue::daemon {
namespace {

namespace net = boost::asio;

TEST(Waker, WakesTheOneWhoWaitsAndIsNotKeptForLater) {
  net::io_context context;
  Waker waker(context.get_executor());
  int woken = 0;
  const auto wait_twice = [&]() -> net::awaitable<void> {
    for (; woken < 2; ++woken) co_await waker.wait();
  };
  waker.wake();  // nobody waits yet
  net::co_spawn(context, wait_twice, net::detached);
  context.poll();
  EXPECT_EQ(woken, 0);
  waker.wake();
  waker.wake();  // of one who was woken already
  context.poll();
  EXPECT_EQ(woken, 1);
  waker.wake();
  context.poll();
  EXPECT_EQ(woken, 2);
}

TEST(Waker, TheDeadlineWakesAsWell) {
  net::io_context context;
  Waker waker(context.get_executor());
  bool woken = false;
  const auto wait = [&]() -> net::awaitable<void> {
    co_await waker.wait(Waker::Clock::now());
    woken = true;
  };
  net::co_spawn(context, wait, net::detached);
  context.run();
  EXPECT_TRUE(woken);
}

}  // namespace
}  // namespace hangtrue::daemon
