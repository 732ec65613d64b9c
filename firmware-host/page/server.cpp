#include "firmware-host/page/server.hpp"

#include <pthread.h>
#include <signal.h>

#include <algorithm>
#include <exception>
#include <mutex>
#include <optional>
#include <set>
#include <thread>
#include <utility>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/ip/v6_only.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "firmware-host/page/addresses.hpp"
#include "firmware-host/page/connection.hpp"

namespace hangtrue::page {
namespace {

namespace net = boost::asio;
using boost::system::error_code;
using tcp = net::ip::tcp;

}  // namespace

/// Listens, admits connections, passes topics and answers on to phones, and parts from all of them.
class Server::Core : public Shared {
 public:
  using Shared::Shared;

  /// A sentence when it cannot.
  [[nodiscard]] std::optional<std::string> listen();
  void run();
  void stop();
  void publish(std::string_view topic, std::string json);
  void answer(Phone phone, std::string json);

  [[nodiscard]] const std::vector<std::string>& addresses() const { return addresses_; }
  [[nodiscard]] std::uint16_t port() const { return port_; }

 private:
  void keep_accepting();
  net::awaitable<void> accept();
  void admit(tcp::socket socket);
  /// Closes the connection that can best be done without.
  void make_room();
  void left(const std::shared_ptr<Connection>& connection, std::exception_ptr failure);
  void tell(const std::string& whose, const std::exception_ptr& failure) const;
  void part();
  void wake();  // with the mutex held
  void deliver();

  std::vector<std::string> addresses_;
  std::uint16_t port_ = 0;
  std::string key_trouble_;

  std::mutex mutex_;  // of what follows
  std::vector<std::pair<Phone, std::string>> answers_;
  bool woken_ = false, stopped_ = false;

  // On the server's thread alone.
  std::set<std::shared_ptr<Connection>> connections_;
  tcp::acceptor acceptor_{context};
  net::steady_timer pause_{context}, parting_for_{context};

  std::once_flag stop_once_;
  std::thread thread_;
};

// ---- beginning and end ----------------------------------------------------------------------------------------------

std::optional<std::string> Server::Core::listen() {
  std::string name = options.address;
  if (name.size() > 2 && name.front() == '[' && name.back() == ']') name = name.substr(1, name.size() - 2);
  error_code error;
  const net::ip::address listening = net::ip::make_address(name, error);
  if (error)
    return in_quotes(options.address) +
           " is no numeric address; give 127.0.0.1 for this machine alone, 0.0.0.0 for every address of it, "
           "or one of its own";
  const tcp::endpoint endpoint(listening, options.port);
  error_code ignored;  // listening without these is still listening
  acceptor_.open(endpoint.protocol(), error);
  if (!error) acceptor_.set_option(net::socket_base::reuse_address(true), ignored);
  if (!error && listening.is_v6()) acceptor_.set_option(net::ip::v6_only(false), ignored);
  if (!error) acceptor_.bind(endpoint, error);
  if (!error) acceptor_.listen(net::socket_base::max_listen_connections, error);
  if (error) return cannot_listen(listening, options.port, error);

  port_ = acceptor_.local_endpoint(ignored).port();
  addresses_ = urls_of(listening, port_);
  address = addresses_.front();
  key_trouble_ = access.open(port_, listening.is_loopback(), own_names(), options.key_path, options.pairing);
  return std::nullopt;
}

void Server::Core::run() {
  keep_accepting();
  if (!key_trouble_.empty()) net::post(context, [this] { note(key_trouble_); });
  // Signals are for the thread that waits for them.
  sigset_t all, before;
  ::sigfillset(&all);
  ::pthread_sigmask(SIG_SETMASK, &all, &before);
  thread_ = std::thread([this] {
    while (true) {
      try {
        context.run();
        return;
      } catch (const std::exception& failure) {
        note(std::string("the page's server: ") + failure.what());
      }
    }
  });
  ::pthread_sigmask(SIG_SETMASK, &before, nullptr);
  ::pthread_setname_np(thread_.native_handle(), "page");
}

void Server::Core::stop() {
  std::call_once(stop_once_, [this] {
    {
      const std::scoped_lock lock(mutex_);
      stopped_ = true;
    }
    if (!thread_.joinable()) return;
    net::post(context, [this] { part(); });
    thread_.join();
    // Before the context: what is left holds sockets and timers of it.
    connections_.clear();
    phones.clear();
  });
}

/// A failure within (no memory, most often) costs the connection that was coming, not those after it.
void Server::Core::keep_accepting() {
  net::co_spawn(context, accept(), [this](std::exception_ptr failure) {
    if (failure) tell("accepting connections", failure);
    if (failure && !parting) keep_accepting();
  });
}

/// The thread ends by itself once nothing waits any more.
void Server::Core::part() {
  parting = true;
  error_code ignored;
  acceptor_.close(ignored);
  pause_.cancel();
  for (const auto& connection : connections_) connection->part();
  if (connections_.empty()) return;
  parting_for_.expires_after(options.patience.parting);
  parting_for_.async_wait([this](const error_code& all_gone) {
    if (all_gone) return;
    for (const auto& connection : connections_) connection->cut();
    parting_for_.expires_after(kPause);
    parting_for_.async_wait([this](const error_code& none_left) {
      if (!none_left) context.stop();
    });
  });
}

// ---- connections ----------------------------------------------------------------------------------------------------

net::awaitable<void> Server::Core::accept() {
  bool said = false;
  while (!parting) {
    error_code error;
    tcp::socket socket = co_await acceptor_.async_accept(net::redirect_error(net::use_awaitable, error));
    if (parting) co_return;
    if (!error) {
      said = false;
      admit(std::move(socket));
      continue;
    }
    if (error == net::error::connection_aborted) continue;  // by whoever wanted in
    // No descriptors or memory, most often; trying at once would only turn round and round.
    if (!std::exchange(said, true))
      note("no phone can connect at the moment (" + error.message() +
           "); connections that only wait are closed");
    make_room();
    pause_.expires_after(kPause);
    co_await pause_.async_wait(net::redirect_error(net::use_awaitable, error));
  }
}

void Server::Core::admit(tcp::socket socket) {
  error_code slower;  // without, but no fault
  socket.set_option(tcp::no_delay(true), slower);
  if (connections_.size() >= kMostConnections) make_room();
  const auto connection = make_connection(*this, std::move(socket));
  connections_.insert(connection);
  net::co_spawn(
      context, [connection] { return connection->run(); },
      [this, connection](std::exception_ptr failure) { left(connection, std::move(failure)); });
}

void Server::Core::make_room() {
  const auto worth = [](const std::shared_ptr<Connection>& one) {
    return std::pair(one->state(), one->since());  // one that waits before one that reads its answer
  };
  const auto least = std::min_element(connections_.begin(), connections_.end(),
                                      [&](const auto& a, const auto& b) { return worth(a) < worth(b); });
  if (least == connections_.end() || (*least)->state() == Connection::State::phone) return;
  (*least)->cut();
  connections_.erase(least);
}

void Server::Core::left(const std::shared_ptr<Connection>& connection, std::exception_ptr failure) {
  connection->cut();
  connections_.erase(connection);
  if (parting && connections_.empty()) parting_for_.cancel();
  // Not worth more than that connection: the daemon keeps a record.
  if (failure) tell("a connection", failure);
}

void Server::Core::tell(const std::string& whose, const std::exception_ptr& failure) const {
  try {
    std::rethrow_exception(failure);
  } catch (const std::exception& what) {
    note("the page's server, " + whose + ": " + what.what());
  }
}

// ---- topics and answers ---------------------------------------------------------------------------------------------

void Server::Core::publish(std::string_view topic, std::string json) {
  if (!topics.set(topic, std::move(json))) return;
  const std::scoped_lock lock(mutex_);
  wake();
}

void Server::Core::answer(Phone phone, std::string json) {
  const std::scoped_lock lock(mutex_);
  if (stopped_) return;
  answers_.emplace_back(phone, std::move(json));
  wake();
}

void Server::Core::wake() {
  if (!stopped_ && !std::exchange(woken_, true)) net::post(context, [this] { deliver(); });
}

void Server::Core::deliver() {
  std::vector<std::pair<Phone, std::string>> answers;
  {
    const std::scoped_lock lock(mutex_);
    woken_ = false;
    answers.swap(answers_);
  }
  for (auto& [phone, json] : answers)
    if (const auto found = phones.find(phone); found != phones.end()) found->second->queue(std::move(json));
  for (const auto& [phone, session] : phones) session->send_next();
}

// ---- Server ---------------------------------------------------------------------------------------------------------

Result<std::unique_ptr<Server>, std::string> Server::start(const Options& options, Hooks hooks) {
  auto core = std::make_shared<Core>(options, std::move(hooks));
  if (auto trouble = core->listen()) return *std::move(trouble);
  core->run();
  return std::unique_ptr<Server>(new Server(std::move(core)));
}

Server::Server(std::shared_ptr<Core> core) : core_(std::move(core)) {}
Server::~Server() { stop(); }
void Server::publish(std::string_view topic, std::string json) { core_->publish(topic, std::move(json)); }
void Server::answer(Phone phone, std::string json) { core_->answer(phone, std::move(json)); }
void Server::stop() { core_->stop(); }
const std::vector<std::string>& Server::addresses() const { return core_->addresses(); }
std::string Server::pairing_code() const { return core_->access.code(); }
std::string Server::pair_one() { return core_->access.open_once(); }
std::uint16_t Server::port() const { return core_->port(); }

}  // namespace hangtrue::page
