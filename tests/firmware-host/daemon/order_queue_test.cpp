// One queue for what people ask, wherever they ask it.
#include "firmware-host/daemon/order_queue.hpp"

#include <gtest/gtest.h>

#include <vector>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>

namespace hangtrue::daemon {
namespace {

namespace net = boost::asio;

Order order(const std::string& text) { return {{text}}; }

net::awaitable<void> collect(OrderQueue& queue, std::vector<std::string>& into) {
  for (;;) {
    const std::optional<Order> next = co_await queue.next();
    into.push_back(next ? next->line.text : "end");
    if (!next) co_return;
  }
}

TEST(OrderQueue, GivesThemInTheirOrderToOneWhoWaits) {
  net::io_context context;
  OrderQueue queue(context.get_executor());
  std::vector<std::string> got;
  net::co_spawn(context, collect(queue, got), net::detached);
  context.poll();
  EXPECT_TRUE(got.empty());
  queue.put(order("station 1"));
  queue.put(order("take"));
  context.poll();
  EXPECT_EQ(got, (std::vector<std::string>{"station 1", "take"}));
  queue.close();
  context.poll();
  EXPECT_EQ(got.back(), "end");
}

TEST(OrderQueue, HoldsBackWhoeverPutsInTurnWhileItIsFull) {
  net::io_context context;
  OrderQueue queue(context.get_executor());
  int put = 0;
  const auto put_many = [&]() -> net::awaitable<void> {
    for (int i = 0; i < 20; ++i) {
      Order next = order(std::to_string(i));
      co_await queue.put_in_turn(std::move(next));
      ++put;
    }
  };
  net::co_spawn(context, put_many, net::detached);
  context.poll();
  EXPECT_EQ(put, int(kMostOrders));
  std::vector<std::string> got;
  net::co_spawn(context, collect(queue, got), net::detached);
  context.restart();
  context.poll();
  ASSERT_EQ(got.size(), 20u);
  for (int i = 0; i < 20; ++i) EXPECT_EQ(got[std::size_t(i)], std::to_string(i));
  queue.close();
  context.restart();
  context.poll();
}

TEST(OrderQueue, OneCanBeTakenOutOfItsTurn) {
  net::io_context context;
  OrderQueue queue(context.get_executor());
  for (const char* text : {"take", "give up", "station 2"}) queue.put(order(text));
  const auto wanted = [](const Order& each) { return each.line.text == "give up"; };
  ASSERT_TRUE(queue.take_out(wanted));
  EXPECT_FALSE(queue.take_out(wanted));
  std::vector<std::string> got;
  net::co_spawn(context, collect(queue, got), net::detached);
  context.poll();
  EXPECT_EQ(got, (std::vector<std::string>{"take", "station 2"}));
  queue.close();
  context.restart();
  context.poll();
}

TEST(OrderQueue, KnowsWhatWaitsWithoutTakingItOut) {
  net::io_context context;
  OrderQueue queue(context.get_executor());
  queue.put(order("take"));
  queue.put(order("station 2"));
  const auto is_station = [](const Order& waiting) { return waiting.line.text == "station 2"; };
  EXPECT_TRUE(queue.has(is_station));
  EXPECT_TRUE(queue.take_out(is_station));
  EXPECT_FALSE(queue.has(is_station));
}

}  // namespace
}  // namespace hangtrue::daemon
