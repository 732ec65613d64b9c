// broker_bench.hpp: a real MQTT broker on a free port of this machine, one who listens to it, and brokers that behave badly.
//
// Waiting is for what must come, half a minute at most; nothing is asserted of how long it took.
#pragma once

#include <arpa/inet.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <poll.h>
#include <pwd.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <fstream>
#include <functional>
#include <mutex>
#include <optional>
#include <sstream>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include <mosquitto.h>

#include "tests/firmware-host/serial/pseudo_terminal.hpp"

namespace hangtrue::broker {

inline constexpr std::chrono::seconds kPatience{30};

inline sockaddr_in loopback(std::uint16_t port) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return address;
}

/// A socket that listens on a port which the system chose, or on that one.
class Listener {
 public:
  explicit Listener(std::uint16_t port = 0) : socket_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    const int yes = 1;
    ::setsockopt(socket_, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    sockaddr_in address = loopback(port);
    socklen_t size = sizeof address;
    if (::bind(socket_, reinterpret_cast<sockaddr*>(&address), size) != 0 || ::listen(socket_, 8) != 0 ||
        ::getsockname(socket_, reinterpret_cast<sockaddr*>(&address), &size) != 0)
      ADD_FAILURE() << "no port to be had";
    port_ = ntohs(address.sin_port);
  }
  ~Listener() { ::close(socket_); }
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;

  [[nodiscard]] std::uint16_t port() const { return port_; }
  /// The next who connects, or -1 where nobody did for a moment.
  [[nodiscard]] int next() const {
    pollfd wanted{socket_, POLLIN, 0};
    return ::poll(&wanted, 1, 50) > 0 ? ::accept4(socket_, nullptr, nullptr, SOCK_CLOEXEC) : -1;
  }

 private:
  int socket_;
  std::uint16_t port_ = 0;
};

inline std::uint16_t free_port() { return Listener().port(); }

/// Says to everybody who connects what it was given, and never listens to the end.
class BadBroker {
 public:
  explicit BadBroker(std::string says) : says_(std::move(says)) {
    thread_ = std::thread([this] {
      std::vector<int> guests;
      while (!stop_) {
        const int guest = listener_.next();
        if (guest < 0) continue;
        guests.push_back(guest);
        char wish = 0;
        (void)!::recv(guest, &wish, 1, 0);  // whoever connects speaks first
        (void)!::send(guest, says_.data(), says_.size(), MSG_NOSIGNAL);
        ++guests_;
      }
      for (const int guest : guests) ::close(guest);
    });
  }
  ~BadBroker() {
    stop_ = true;
    thread_.join();
  }
  BadBroker(const BadBroker&) = delete;
  BadBroker& operator=(const BadBroker&) = delete;

  [[nodiscard]] std::uint16_t port() const { return listener_.port(); }
  [[nodiscard]] int guests() const { return guests_; }

 private:
  Listener listener_;
  std::string says_;
  std::atomic<bool> stop_ = false;
  std::atomic<int> guests_ = 0;
  std::thread thread_;
};

/// Mosquitto's broker.
class RealBroker {
 public:
  /// `more`: lines of its configuration.
  explicit RealBroker(std::string more = "allow_anonymous true\n", std::uint16_t port = free_port())
      : more_(std::move(more)), port_(port) {
    start();
  }
  ~RealBroker() { stop(); }
  RealBroker(const RealBroker&) = delete;
  RealBroker& operator=(const RealBroker&) = delete;

  void start() {
    const passwd* const user = ::getpwuid(::getuid());
    std::ofstream(folder_ / "broker.conf")
        << "listener " << port_ << " 127.0.0.1\nuser " << (user ? user->pw_name : "nobody") << '\n'
        << more_;
    id_ = ::fork();
    if (id_ == 0) {
      ::prctl(PR_SET_PDEATHSIG, SIGKILL);  // a test that crashes leaves no broker
      const int log = ::open((folder_ / "log").c_str(), O_WRONLY | O_CREAT | O_APPEND, 0644);
      ::dup2(log, STDOUT_FILENO);
      ::dup2(log, STDERR_FILENO);
      ::execl(MQTT_BROKER, MQTT_BROKER, "-c", (folder_ / "broker.conf").c_str(), nullptr);
      ::_exit(127);
    }
    const auto end = std::chrono::steady_clock::now() + kPatience;
    while (!is_open() && std::chrono::steady_clock::now() < end) {
      if (::waitpid(id_, nullptr, WNOHANG) == id_) {
        ADD_FAILURE() << "the broker ended: " << std::ifstream(folder_ / "log").rdbuf();
        id_ = -1;
        return;
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
  }
  void stop() {
    if (id_ <= 0) return;
    ::kill(id_, SIGKILL);  // without a word to anybody
    ::waitpid(std::exchange(id_, -1), nullptr, 0);
  }

  [[nodiscard]] std::uint16_t port() const { return port_; }
  [[nodiscard]] std::string url(const std::string& user = "") const {
    return "mqtt://" + (user.empty() ? "" : user + '@') + "127.0.0.1:" + std::to_string(port_);
  }
  /// Whether its log comes to hold that; of use with `log_type all`.
  [[nodiscard]] bool await_log(const std::string& words) const {
    const auto end = std::chrono::steady_clock::now() + kPatience;
    for (;;) {
      if (log().find(words) != std::string::npos) return true;
      if (std::chrono::steady_clock::now() > end) return false;
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
  }
  [[nodiscard]] std::string log() const {
    std::ostringstream read;
    read << std::ifstream(folder_ / "log").rdbuf();
    return read.str();
  }
  /// For configuration that names files.
  [[nodiscard]] std::string path(const std::string& name) const { return folder_ / name; }

 private:
  [[nodiscard]] bool is_open() const {
    const int socket = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const sockaddr_in address = loopback(port_);
    const bool open = ::connect(socket, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
    ::close(socket);
    return open;
  }

  test::ScratchDirectory folder_;
  std::string more_;
  std::uint16_t port_;
  pid_t id_ = -1;
};

struct Heard {
  std::string topic, payload;
  bool retained = false;
  bool given = false;  // to who waited for it
};

/// Hears everything that a broker is told, from now on; first what it has retained.
class Listening {
 public:
  explicit Listening(std::uint16_t port) : client_(mosquitto_new(nullptr, true, this)) {
    mosquitto_connect_callback_set(
        client_, [](mosquitto* client, void*, int) { mosquitto_subscribe(client, nullptr, "#", 1); });
    mosquitto_subscribe_callback_set(client_, [](mosquitto*, void* self, int, int, const int*) {
      auto& here = *static_cast<Listening*>(self);
      const std::lock_guard lock(here.mutex_);
      here.subscribed_ = true;
      here.changed_.notify_all();
    });
    mosquitto_message_callback_set(client_, [](mosquitto*, void* self, const mosquitto_message* message) {
      auto& here = *static_cast<Listening*>(self);
      const std::lock_guard lock(here.mutex_);
      here.heard_.push_back({message->topic,
                             {static_cast<const char*>(message->payload), std::size_t(message->payloadlen)},
                             message->retain});
      here.changed_.notify_all();
    });
    EXPECT_EQ(mosquitto_connect(client_, "127.0.0.1", port, 60), MOSQ_ERR_SUCCESS);
    mosquitto_loop_start(client_);
    std::unique_lock lock(mutex_);
    EXPECT_TRUE(changed_.wait_for(lock, kPatience, [this] { return subscribed_; }));
  }
  ~Listening() {
    mosquitto_disconnect(client_);
    mosquitto_loop_stop(client_, true);
    mosquitto_destroy(client_);
  }
  Listening(const Listening&) = delete;
  Listening& operator=(const Listening&) = delete;

  /// The first that is like that, and has not been given before; nothing where it does not come.
  std::optional<Heard> await(const std::function<bool(const Heard&)>& is_wanted) {
    std::optional<Heard> found;
    std::unique_lock lock(mutex_);
    changed_.wait_for(lock, kPatience, [&] {
      for (Heard& each : heard_)
        if (!each.given && is_wanted(each)) {
          each.given = true;
          found = each;
          return true;
        }
      return false;
    });
    if (!found) ADD_FAILURE() << "what is waited for did not come; " << heard_.size() << " messages did";
    return found;
  }
  /// All that came, by now.
  [[nodiscard]] std::vector<Heard> all() {
    const std::lock_guard lock(mutex_);
    return heard_;
  }

 private:
  std::mutex mutex_;
  std::condition_variable changed_;
  bool subscribed_ = false;
  std::vector<Heard> heard_;
  mosquitto* client_;
};

}  // namespace hangtrue::broker
