#include "firmware-host/broker/connection.hpp"

#include <algorithm>
#include <cerrno>
#include <condition_variable>
#include <cstring>
#include <deque>
#include <map>
#include <mutex>
#include <optional>
#include <random>
#include <set>
#include <system_error>
#include <thread>
#include <utility>

#include <mosquitto.h>
#include <mqtt_protocol.h>

namespace hangtrue::broker {
namespace {

using Clock = std::chrono::steady_clock;

/// A broker takes two of one name for the same program, and ends the older one.
std::string draw_client_id() {
  std::random_device random;
  constexpr char kDigits[] = "0123456789abcdef";
  std::string id = "hangtrue-";
  for (int i = 0; i < 12; ++i) id += kDigits[random() & 15];
  return id;  // at most 23 bytes, which every broker takes: MQTT 3.1.1, section 3.1.3.1
}

struct Message {
  Kind kind = Kind::event;
  std::string topic, payload;
};

struct Destroy {
  void operator()(mosquitto* client) const { mosquitto_destroy(client); }
};

}  // namespace

class Connection::Worker : public std::enable_shared_from_this<Worker> {
 public:
  Worker(Options options, std::function<void(const Told&)> told)
      : options_(std::move(options)), told_(std::move(told)) {}

  [[nodiscard]] std::thread start() {
    return std::thread([self = shared_from_this()] {
      self->run();
      const std::lock_guard lock(self->mutex_);
      self->ended_ = true;
      self->changed_.notify_all();
    });
  }

  void publish(Kind kind, std::string topic, std::string payload) {
    const std::lock_guard lock(mutex_);
    if (ending_) return;
    if (kind == Kind::state) {
      if (std::find(due_.begin(), due_.end(), topic) == due_.end()) due_.push_back(topic);
      states_.insert_or_assign(std::move(topic), std::move(payload));
    } else if (kind == Kind::event) {
      events_.push_back({kind, std::move(topic), std::move(payload)});
      if (events_.size() <= kMostWaiting) return;
      events_.pop_front();
      ++left_out_;
    } else if (is_there_) {
      live_.push_back({kind, std::move(topic), std::move(payload)});
      if (live_.size() > kMostLive) live_.pop_front();
    }
  }

  /// Whether the thread has ended. A look-up of a name takes as long as it likes.
  [[nodiscard]] bool close() {
    bool ended = false;
    {
      std::unique_lock lock(mutex_);
      ending_ = true;
      last_moment_ = Clock::now() + options_.last_wait;
      changed_.notify_all();
      ended = changed_.wait_until(lock, (is_there_ ? *last_moment_ : Clock::now()) + kLookUpWait,
                                  [this] { return ended_; });
    }
    const std::lock_guard lock(telling_);
    silent_ = true;
    return ended;
  }

 private:
  // ---- what the thread does ---------------------------------------------------------------------------------------

  void run() {
    std::chrono::milliseconds wait = kFirstWait;
    while (!is_ending()) {
      const auto begun = Clock::now();
      connect_once();
      if (Clock::now() - begun > kSound) wait = kFirstWait;
      std::unique_lock lock(mutex_);
      changed_.wait_for(lock, wait, [this] { return ending_; });
      wait = std::min(2 * wait, kLongestWait);
    }
  }

  /// One connection, from its attempt to its end. Each has a client of its own: nothing of a former one is left in the library.
  void connect_once() {
    client_.reset(mosquitto_new(draw_client_id().c_str(), /*clean_session=*/true, this));
    if (!client_) return unreachable("the library has no memory");
    int error = prepare();
    errno = 0;
    if (error == MOSQ_ERR_SUCCESS)
      error = mosquitto_connect_async(client_.get(), options_.address.host.c_str(), options_.address.port,
                                      kKeepAlive_s);
    while (error == MOSQ_ERR_SUCCESS && !is_over()) {
      feed();
      errno = 0;
      error = mosquitto_loop(client_.get(), int(kTurn.count()), 1);
    }
    const int system_error = errno;
    if (error == MOSQ_ERR_SUCCESS)
      mosquitto_disconnect(client_.get());
    else
      unreachable(refusal_.empty() ? words(error, system_error) : refusal_);
    client_.reset();
    lost();
  }

  int prepare() {
    refusal_.clear();
    mosquitto* const client = client_.get();
    const Options& how = options_;
    const bool v5 = how.version == Version::v5;
    int error =
        mosquitto_int_option(client, MOSQ_OPT_PROTOCOL_VERSION, v5 ? MQTT_PROTOCOL_V5 : MQTT_PROTOCOL_V311);
    if (error == MOSQ_ERR_SUCCESS && !how.address.user.empty())
      error = mosquitto_username_pw_set(client, how.address.user.c_str(),
                                        how.password.empty() ? nullptr : how.password.c_str());
    if (error == MOSQ_ERR_SUCCESS && !how.will_topic.empty())
      error = mosquitto_will_set(client, how.will_topic.c_str(), int(how.will.size()), how.will.data(),
                                 kAtLeastOnce,
                                 /*retain=*/true);
    if (error == MOSQ_ERR_SUCCESS && how.address.tls)
      error = mosquitto_int_option(client, MOSQ_OPT_TLS_USE_OS_CERTS, 1);
    mosquitto_connect_callback_set(
        client, [](mosquitto*, void* worker, int code) { static_cast<Worker*>(worker)->answered(code); });
    mosquitto_publish_callback_set(client, [](mosquitto*, void* worker, int id) {
      Worker& self = *static_cast<Worker*>(worker);
      if (self.on_the_way_.erase(id) == 0) self.gone_at_once_ = id;  // within mosquitto_publish()
    });
    return error;
  }

  /// The broker's answer to the wish to connect.
  void answered(int code) {
    if (code != 0) {
      refusal_ =
          options_.version == Version::v5 ? mosquitto_reason_string(code) : mosquitto_connack_string(code);
      if (!refusal_.empty() && refusal_.back() == '.') refusal_.pop_back();
      refusal_ = "it refuses this program: " + refusal_;
      return;
    }
    std::size_t left_out = 0;
    {
      const std::lock_guard lock(mutex_);
      is_there_ = true;
      due_.clear();
      for (const auto& [topic, payload] : states_) due_.push_back(topic);
      left_out = std::exchange(left_out_, 0);
    }
    std::string says = name_;
    const bool was_trouble = !std::exchange(told_of_, {}).empty();
    says += was_trouble ? " is there again" : " is there";
    if (left_out > 0) says += "; " + std::to_string(left_out) + " messages were left out meanwhile";
    tell(was_trouble ? Told::What::over : Told::What::connected, says);
  }

  /// Hands over what is due, as far as the broker keeps up.
  void feed() {
    tell_of_left_out();
    while (on_the_way_.size() < kMostOnTheWay) {
      const std::optional<Message> next = take_next();
      if (!next) return;
      int id = 0;
      gone_at_once_.reset();
      const int error = mosquitto_publish(
          client_.get(), &id, next->topic.c_str(), int(next->payload.size()), next->payload.data(),
          next->kind == Kind::live ? kAtMostOnce : kAtLeastOnce, next->kind == Kind::state);
      if (error == MOSQ_ERR_SUCCESS && gone_at_once_ != id)
        on_the_way_.emplace(id, *next);
      else if (error != MOSQ_ERR_SUCCESS && is_of_the_message(error))
        trouble("does not take " + next->topic + ": " + words(error, errno));
      else if (error != MOSQ_ERR_SUCCESS)  // of the connection: its loop says what is wrong
        return put_back(*next);
    }
  }

  /// Whether it would be the same with another connection.
  static bool is_of_the_message(int error) {
    return error == MOSQ_ERR_INVAL || error == MOSQ_ERR_PAYLOAD_SIZE || error == MOSQ_ERR_MALFORMED_UTF8 ||
           error == MOSQ_ERR_OVERSIZE_PACKET || error == MOSQ_ERR_QOS_NOT_SUPPORTED ||
           error == MOSQ_ERR_RETAIN_NOT_SUPPORTED;
  }

  /// Of a broker that is there, and does not keep up.
  void tell_of_left_out() {
    std::size_t left_out = 0;
    {
      const std::lock_guard lock(mutex_);
      if (!is_there_ || left_out_ == 0) return;
      if (events_.empty()) left_out = std::exchange(left_out_, 0);
    }
    if (left_out == 0) return trouble("does not keep up; the oldest messages are left out");
    told_of_.clear();
    tell(Told::What::over,
         name_ + " keeps up again; " + std::to_string(left_out) + " messages were left out meanwhile");
  }

  std::optional<Message> take_next() {
    const std::lock_guard lock(mutex_);
    if (!is_there_) return std::nullopt;
    std::optional<Message> next;
    if (!due_.empty()) {
      next = Message{Kind::state, due_.front(), states_.at(due_.front())};
      due_.pop_front();
    } else if (std::deque<Message>& waiting = events_.empty() ? live_ : events_; !waiting.empty()) {
      next = std::move(waiting.front());
      waiting.pop_front();
    }
    return next;
  }

  void put_back(const Message& message) {
    const std::lock_guard lock(mutex_);
    if (message.kind == Kind::event) events_.push_front(message);
    if (message.kind == Kind::state && std::find(due_.begin(), due_.end(), message.topic) == due_.end())
      due_.push_front(message.topic);
  }

  /// Whether the end has come, and all has been said or need not be.
  bool is_over() {
    const std::lock_guard lock(mutex_);
    if (!ending_) return false;
    const bool all_said = due_.empty() && events_.empty() && on_the_way_.empty();
    return !is_there_ || all_said || Clock::now() > *last_moment_;
  }
  bool is_ending() {
    const std::lock_guard lock(mutex_);
    return ending_;
  }

  void lost() {
    for (auto each = on_the_way_.rbegin(); each != on_the_way_.rend(); ++each) put_back(each->second);
    on_the_way_.clear();
    const std::lock_guard lock(mutex_);
    is_there_ = false;
    live_.clear();
  }

  // ---- what is told -----------------------------------------------------------------------------------------------

  static std::string words(int error, int system_error) {
    if (error == MOSQ_ERR_EAI) return "no such name was found in the network";
    if (error == MOSQ_ERR_TLS)
      return "no TLS with it: its certificate is not one that this machine trusts, is of another name, or it "
             "speaks none";
    if (error == MOSQ_ERR_ERRNO && system_error != 0)
      return std::error_code(system_error, std::generic_category()).message();
    std::string text = mosquitto_strerror(error);
    if (!text.empty() && text.back() == '.') text.pop_back();
    return text;
  }

  void unreachable(const std::string& reason) {
    trouble("cannot be published to: " + reason + "; it is tried again until it can be");
  }
  void trouble(const std::string& what) {
    if (is_ending() || !told_of_.insert(what).second) return;
    tell(Told::What::trouble, name_ + ' ' + what + "; nothing is lost from the book by it");
  }

  void tell(Told::What what, const std::string& says) {
    const std::lock_guard lock(telling_);
    if (!silent_) told_({what, says});
  }

  static constexpr int kAtMostOnce = 0, kAtLeastOnce = 1;  // quality of service: MQTT 5.0, section 4.3

  const Options options_;
  const std::function<void(const Told&)> told_;
  const std::string name_ = "the broker " + options_.address.text();

  std::mutex mutex_;  // of what follows
  std::condition_variable changed_;
  std::map<std::string, std::string> states_;
  std::deque<std::string> due_;  // topics of states that are to be sent
  std::deque<Message> events_, live_;
  std::size_t left_out_ = 0;
  bool is_there_ = false, ending_ = false, ended_ = false;
  std::optional<Clock::time_point> last_moment_;

  std::mutex telling_;  // of silent_
  bool silent_ = false;

  // The thread's own.
  std::unique_ptr<mosquitto, Destroy> client_;
  std::map<int, Message> on_the_way_;  // by the library's number; not acknowledged yet
  std::optional<int> gone_at_once_;
  std::string refusal_;
  std::set<std::string> told_of_;  // reasons, since the broker was there last
};

Connection::Connection(Options options, std::function<void(const Told&)> told) {
  static const int begun = mosquitto_lib_init();
  (void)begun;  // without memory for it the clients have none either, which is told
  worker_ = std::make_shared<Worker>(std::move(options), std::move(told));
  thread_ = worker_->start();
}

Connection::~Connection() { close(); }

void Connection::publish(Kind kind, std::string topic, std::string payload) {
  worker_->publish(kind, std::move(topic), std::move(payload));
}

void Connection::close() {
  if (!thread_.joinable()) return;
  if (worker_->close())
    thread_.join();
  else
    thread_.detach();  // it hangs in a look-up, and touches nothing but the worker, which is its own as well
}

}  // namespace hangtrue::broker
