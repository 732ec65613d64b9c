#include "firmware-host/daemon/order_queue.hpp"

#include <algorithm>

namespace hangtrue::daemon {

namespace net = boost::asio;

OrderQueue::OrderQueue(const net::any_io_executor& executor) : filled_(executor), emptied_(executor) {}

void OrderQueue::put(Order order) {
  orders_.push_back(std::move(order));
  filled_.wake();
}

net::awaitable<void> OrderQueue::put_in_turn(Order order) {
  while (orders_.size() >= kMostOrders && !closed_) co_await emptied_.wait();
  if (!closed_) put(std::move(order));
}

net::awaitable<std::optional<Order>> OrderQueue::next() {
  while (orders_.empty() && !closed_) co_await filled_.wait();
  if (closed_) co_return std::nullopt;
  Order order = std::move(orders_.front());
  orders_.pop_front();
  emptied_.wake();
  co_return order;
}

bool OrderQueue::has(const std::function<bool(const Order&)>& wanted) const {
  return std::any_of(orders_.begin(), orders_.end(), wanted);
}

std::optional<Order> OrderQueue::take_out(const std::function<bool(const Order&)>& wanted) {
  const auto found = std::find_if(orders_.begin(), orders_.end(), wanted);
  if (found == orders_.end()) return std::nullopt;
  Order order = std::move(*found);
  orders_.erase(found);
  emptied_.wake();
  return order;
}

void OrderQueue::close() {
  closed_ = true;
  filled_.wake();
  emptied_.wake();
}

}  // namespace hangtrue::daemon
