// order_queue.hpp: what people ask, from standard input and from phones, one after the other.
//
// Threads   none: everything on the executor's thread. Lifetime: must outlive what awaits it; close() ends that.
// Bounds    put_in_turn() waits while kMostOrders orders wait; what put() adds the page's server bounds.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <optional>
#include <string>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>

#include "firmware-host/daemon/command_reader.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/daemon/waker.hpp"

namespace hangtrue::daemon {

struct Order {
  CommandLine line;
  std::optional<std::int64_t> seen = {};  // the revision that a phone showed; none: from standard input
  std::function<void(bool done, const std::string& words)> reply = {};  // may be empty
  std::optional<std::int64_t> pressed_us =
      {};                   // on the daemon's clock, of a phone's; none: from standard input
  bool while_held = false;  // typed while the daemon was held up: nobody knows when
};

class OrderQueue {
 public:
  explicit OrderQueue(const boost::asio::any_io_executor& executor);

  void put(Order order);
  [[nodiscard]] boost::asio::awaitable<void> put_in_turn(Order order);
  /// The next; nothing once closed.
  [[nodiscard]] boost::asio::awaitable<std::optional<Order>> next();
  /// Whether one waits that `wanted` accepts.
  [[nodiscard]] bool has(const std::function<bool(const Order&)>& wanted) const;
  /// The first that `wanted` accepts, out of its turn.
  [[nodiscard]] std::optional<Order> take_out(const std::function<bool(const Order&)>& wanted);
  void close();

 private:
  std::deque<Order> orders_;
  Waker filled_, emptied_;
  bool closed_ = false;
};

}  // namespace hangtrue::daemon
