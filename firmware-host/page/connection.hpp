// connection.hpp: what the page's server is put together from, on its one thread: connections, some of which become phones, and
// what they share. Inside the room only.
#pragma once

#include <chrono>
#include <map>
#include <memory>
#include <string>

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>

#include "firmware-host/page/access.hpp"
#include "firmware-host/page/server.hpp"
#include "firmware-host/page/topics.hpp"

namespace hangtrue::page {

/// One phone's WebSocket.
class PhoneSession {
 public:
  virtual ~PhoneSession() = default;
  /// Until it ends, whoever ends it.
  virtual boost::asio::awaitable<void> run() = 0;
  /// What is new, unless something is on its way already.
  virtual void send_next() = 0;
  virtual void queue(std::string answer) = 0;
  /// Politely; then it ends by itself, or by cut().
  virtual void part() = 0;
  virtual void cut() = 0;
};

/// One connection: requests and their replies, one after the other.
class Connection {
 public:
  /// In the order in which they can be done without.
  enum class State { asking, answered, phone };
  virtual ~Connection() = default;
  virtual boost::asio::awaitable<void> run() = 0;
  virtual void part() = 0;
  virtual void cut() = 0;

  [[nodiscard]] State state() const { return state_; }
  [[nodiscard]] std::chrono::steady_clock::time_point since() const { return since_; }

 protected:
  void become(State state) {
    state_ = state;
    since_ = std::chrono::steady_clock::now();
  }

 private:
  State state_ = State::asking;
  std::chrono::steady_clock::time_point since_ = std::chrono::steady_clock::now();
};

struct Shared : std::enable_shared_from_this<Shared> {
  Shared(const Options& with, Hooks call)
      : options(with),
        hooks(std::move(call)),
        access([this](const std::string& sentence) { note(sentence); }) {}
  virtual ~Shared() = default;
  Shared(const Shared&) = delete;
  Shared& operator=(const Shared&) = delete;

  void note(const std::string& sentence) const {
    if (hooks.note) hooks.note(sentence);
  }

  const Options options;
  const Hooks hooks;
  Access access;
  Topics topics;
  std::string address;  // the first by which it is reached
  boost::asio::io_context context{1};
  std::map<Phone, std::shared_ptr<PhoneSession>> phones;
  Phone last_phone = 0;
  bool parting = false;
};

[[nodiscard]] std::shared_ptr<Connection> make_connection(Shared& shared,
                                                          boost::asio::ip::tcp::socket socket);

}  // namespace hangtrue::page
