#include "firmware-host/daemon/order_queue.hpp"

#include <algorithm>

#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace hangtrue::daemon {

namespace net = boost::asio;

namespace {

net::awaitable<void> woken(net::steady_timer& timer) {
  timer.expires_at(net::steady_timer::time_point::max());
  boost::system::error_code cancelled;
  co_await timer.async_wait(net::redirect_error(net::use_awaitable, cancelled));
}

}  // namespace

OrderQueue::OrderQueue(const net::any_io_executor& executor) : filled_(executor), emptied_(executor) {}

void OrderQueue::put(Order order) {
  orders_.push_back(std::move(order));
  filled_.cancel();
}

net::awaitable<void> OrderQueue::put_in_turn(Order order) {
  while (orders_.size() >= kMostWaiting && !closed_) co_await woken(emptied_);
  if (!closed_) put(std::move(order));
}

net::awaitable<std::optional<Order>> OrderQueue::next() {
  while (orders_.empty() && !closed_) co_await woken(filled_);
  if (closed_) co_return std::nullopt;
  Order order = std::move(orders_.front());
  orders_.pop_front();
  emptied_.cancel();
  co_return order;
}

std::optional<Order> OrderQueue::take_out(const std::function<bool(const Order&)>& wanted) {
  const auto found = std::find_if(orders_.begin(), orders_.end(), wanted);
  if (found == orders_.end()) return std::nullopt;
  Order order = std::move(*found);
  orders_.erase(found);
  emptied_.cancel();
  return order;
}

void OrderQueue::close() {
  closed_ = true;
  filled_.cancel();
  emptied_.cancel();
}

}  // namespace hangtrue::daemon
