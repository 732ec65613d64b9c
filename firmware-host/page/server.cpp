#include "firmware-host/page/server.hpp"

#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/tcp.h>
#include <pthread.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <deque>
#include <exception>
#include <map>
#include <mutex>
#include <optional>
#include <set>
#include <thread>
#include <utility>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ip/v6_only.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/buffers_suffix.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/error.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/websocket/stream.hpp>

#include "firmware-host/page/pairing.hpp"

namespace hangtrue::page {
namespace {

namespace beast = boost::beast;
namespace http = beast::http;
namespace net = boost::asio;
namespace websocket = beast::websocket;
using boost::system::error_code;
using tcp = net::ip::tcp;
using Clock = std::chrono::steady_clock;
using Parser = http::request_parser<http::string_body>;
using Request = Parser::value_type;

constexpr std::size_t kChunk = 4096;        // read at once
constexpr std::size_t kPiece = 32 * 1024;   // of a frame, written at once
constexpr int kUnsent = 16 * 1024;          // of frames, in the kernel: what lies there grows old
constexpr std::size_t kMostLeft = 1 << 20;  // read and dropped after a refusal, so that the refusal arrives
constexpr std::chrono::seconds kMostLeftFor{1};
constexpr std::chrono::milliseconds kPause{100};  // where nothing more can be accepted
constexpr std::size_t kLongestSurvey = 80;

// ---- replies --------------------------------------------------------------------------------------------------------

struct Reply {
  http::status status{};
  std::string text = {};
  std::string_view type = "text/plain; charset=utf-8";
  std::vector<std::pair<std::string_view, std::string>> more = {};  // header fields
  std::string policy = {};                                          // empty: that of the page
  std::string_view file = {};  // in the place of text; outlives the reply
};

Reply say(http::status status, std::string sentence) { return {status, std::move(sentence) + '\n'}; }

Reply see_page() {
  Reply reply{http::status::see_other};
  reply.more = {{"Location", "/"}};
  return reply;
}

/// `host`: as checked. Said as such because older browsers' 'self' leaves out ws:.
std::string page_policy(std::string_view host) {
  std::string live;
  if (!host.empty() && host.front() != '[') live = " ws://" + std::string(host);
  return "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
         "manifest-src 'self'; connect-src 'self'" +
         live + "; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";
}

std::string header_of(const Reply& reply, std::string_view host, bool on_loopback, bool last) {
  const std::size_t length = reply.file.empty() ? reply.text.size() : reply.file.size();
  std::string text = "HTTP/1.1 " + std::to_string(static_cast<unsigned>(reply.status)) + ' ' +
                     std::string(http::obsolete_reason(reply.status)) + "\r\n";
  const auto field = [&text](std::string_view name, std::string_view value) {
    text.append(name).append(": ").append(value).append("\r\n");
  };
  if (reply.status != http::status::not_modified) {
    field("Content-Length", std::to_string(length));
    field("Content-Type", reply.type);
  }
  for (const auto& [name, value] : reply.more) field(name, value);
  // What depends on who asks is not kept anywhere; the page's own files say otherwise themselves.
  const bool kept = std::any_of(reply.more.begin(), reply.more.end(),
                                [](const auto& one) { return one.first == "Cache-Control"; });
  if (!kept) field("Cache-Control", "no-store");
  field("Content-Security-Policy", reply.policy.empty() ? page_policy(host) : reply.policy);
  // "no-referrer" would make a browser post the pairing page's form with Origin: null.
  field("Referrer-Policy", reply.policy.empty() ? "no-referrer" : "same-origin");
  field("X-Content-Type-Options", "nosniff");
  // Elsewhere, over plain HTTP, browsers pass it over, with a complaint.
  if (on_loopback) field("Cross-Origin-Opener-Policy", "same-origin");
  field("Cross-Origin-Resource-Policy", "same-origin");
  field("Connection", last ? "close" : "keep-alive");
  return text + "\r\n";
}

Reply complaint(const error_code& error) {
  if (error == http::error::header_limit)
    return say(http::status::request_header_fields_too_large,
               "The request's header is too long; " + std::to_string(kLongestHeader) + " bytes would do.");
  if (error == http::error::body_limit)
    return say(http::status::payload_too_large,
               "The request's body is too long; " + std::to_string(kLongestBody) + " bytes would do.");
  return say(http::status::bad_request,
             "This is not a request of HTTP/1.1 (" + error.message() + "); open the page in a browser.");
}

Reply only(std::string_view methods) {
  Reply reply = say(http::status::method_not_allowed, "Here only " + std::string(methods) + " will do.");
  reply.more = {{"Allow", std::string(methods)}};
  return reply;
}

Reply page_with_code(http::status status, std::string_view complaint) {
  PairingPage page = pairing_page(complaint);
  return {status, std::move(page.html), "text/html; charset=utf-8", {}, std::move(page.policy)};
}

// ---- what a request says --------------------------------------------------------------------------------------------

bool reads(const Request& request) {
  return request.method() == http::verb::get || request.method() == http::verb::head;
}

std::string_view path_of(const Request& request) {
  const std::string_view target = request.target();
  return target.substr(0, target.find('?'));
}

/// For a sentence: short, and nothing but printable ASCII.
std::string quoted(std::string_view text) {
  std::string safe = "\"";
  for (const char one : text.substr(0, 60)) safe += one >= ' ' && one <= '~' ? one : '?';
  return safe + '"';
}

/// Of %41; `plus` as well: a form's + for a space. Nothing: it is broken.
std::optional<std::string> decoded(std::string_view text, bool plus) {
  constexpr std::string_view kHex = "0123456789abcdef";
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '%') {
      plain += plus && text[i] == '+' ? ' ' : text[i];
      continue;
    }
    if (i + 2 >= text.size()) return std::nullopt;
    const auto digit = [&](char one) { return kHex.find(static_cast<char>(one >= 'A' ? one | 0x20 : one)); };
    const auto high = digit(text[i + 1]), low = digit(text[i + 2]);
    if (high == kHex.npos || low == kHex.npos) return std::nullopt;
    plain += static_cast<char>(high << 4 | low);
    i += 2;
  }
  return plain;
}

/// "code=4831+7702": what was typed. Empty: there is none.
std::string code_of(std::string_view form) {
  while (!form.empty()) {
    const std::string_view field = form.substr(0, form.find('&'));
    form.remove_prefix(std::min(form.size(), field.size() + 1));
    if (field.starts_with("code=")) return decoded(field.substr(5), true).value_or("");
  }
  return {};
}

/// "/record/NAME.txt": the name, or empty: it cannot be one.
std::string survey_of(std::string_view path) {
  constexpr std::string_view kBefore = "/record/", kAfter = ".txt";
  if (!path.starts_with(kBefore) || !path.ends_with(kAfter) || path.size() < kBefore.size() + kAfter.size())
    return {};
  path.remove_prefix(kBefore.size());
  path.remove_suffix(kAfter.size());
  const std::string name = decoded(path, false).value_or("");
  const bool shown = std::none_of(name.begin(), name.end(), [](char one) {
    return static_cast<unsigned char>(one) < 0x20 || one == 0x7f || one == '/';
  });
  return shown && name.size() <= kLongestSurvey ? name : std::string();
}

// ---- addresses ------------------------------------------------------------------------------------------------------

std::string with_port(const net::ip::address& address, std::uint16_t port) {
  const std::string text = address.to_string();
  return (address.is_v6() ? '[' + text + ']' : text) + ':' + std::to_string(port);
}

/// Of this machine, by which it can be reached with that kind of listening address; its own last.
std::vector<net::ip::address> own_addresses(bool with_v6) {
  std::vector<net::ip::address> found;
  ifaddrs* list = nullptr;
  if (::getifaddrs(&list) != 0) return {net::ip::address_v4::loopback()};
  for (const ifaddrs* one = list; one != nullptr; one = one->ifa_next) {
    if (one->ifa_addr == nullptr || (one->ifa_flags & IFF_UP) == 0) continue;
    tcp::endpoint endpoint;
    if (one->ifa_addr->sa_family == AF_INET) {
      std::memcpy(endpoint.data(), one->ifa_addr, sizeof(sockaddr_in));
    } else if (one->ifa_addr->sa_family == AF_INET6 && with_v6) {
      endpoint = tcp::endpoint(tcp::v6(), 0);
      std::memcpy(endpoint.data(), one->ifa_addr, sizeof(sockaddr_in6));
      if (endpoint.address().to_v6().is_link_local()) continue;  // no browser takes one
    } else {
      continue;
    }
    found.push_back(endpoint.address());
  }
  ::freeifaddrs(list);
  std::stable_partition(found.begin(), found.end(), [](const auto& one) { return !one.is_loopback(); });
  return found;
}

/// Lower case: this machine's name, its first part, and that in the local domain.
std::vector<std::string> own_names() {
  std::array<char, 256> buffer{};
  if (::gethostname(buffer.data(), buffer.size() - 1) != 0) return {};
  const std::string name(buffer.data()), first = name.substr(0, name.find('.'));
  if (first.empty()) return {};
  return {name, first, first + ".local"};
}

}  // namespace

// ---- the server's inside --------------------------------------------------------------------------------------------

class Server::Core : public std::enable_shared_from_this<Core> {
 public:
  Core(const Options& options, Hooks hooks);

  /// A sentence when it cannot.
  [[nodiscard]] std::optional<std::string> listen();
  void run();
  void stop();
  void publish(std::string_view topic, std::string json);
  void answer(Phone phone, std::string json);
  [[nodiscard]] const std::vector<std::string>& addresses() const { return addresses_; }
  [[nodiscard]] std::string pairing_code() const;
  [[nodiscard]] std::uint16_t port() const { return port_; }

 private:
  class Connection;
  class Subscriber;
  struct Topic {
    std::string name, json;
    std::uint64_t version = 0;
  };

  net::awaitable<void> accept();
  void admit(tcp::socket socket);
  /// Closes the connection that can best be done without.
  void make_room();
  void left(const std::shared_ptr<Connection>& connection, std::exception_ptr failure);
  void part();
  void note(const std::string& sentence) const;

  [[nodiscard]] bool is_own(std::string_view host) const;
  [[nodiscard]] bool is_paired(const Request& request) const;
  /// Why this request is not looked at any further.
  [[nodiscard]] std::optional<Reply> refuse(const Request& request);
  [[nodiscard]] Reply pair(const Request& request, const std::string& from);
  [[nodiscard]] std::optional<Reply> refuse_phone(const Request& request, bool more_came) const;

  void wake();  // with the mutex held
  void deliver();
  /// A frame of the topics whose versions differ from those, and of an answer where there is one; empty: there is neither.
  [[nodiscard]] std::string news(std::vector<std::uint64_t>& seen, const std::string& answer) const;

  const Options options_;
  const Hooks hooks_;
  std::vector<std::string> addresses_, names_;
  std::uint16_t port_ = 0;
  bool open_to_all_ = true;  // on loopback
  Key key_{};
  std::string cookie_, key_trouble_;

  mutable std::mutex mutex_;  // of what follows
  std::vector<Topic> topics_;
  std::vector<std::pair<Phone, std::string>> answers_;
  bool woken_ = false, stopped_ = false;
  std::optional<PairingCode> code_;

  // On the server's thread alone.
  std::set<std::shared_ptr<Connection>> connections_;
  std::map<Phone, std::shared_ptr<Subscriber>> subscribers_;
  Phone last_phone_ = 0;
  bool parting_ = false;
  net::io_context context_{1};
  tcp::acceptor acceptor_{context_};
  net::steady_timer pause_{context_}, parting_for_{context_};

  std::once_flag stop_once_;
  std::thread thread_;
};

// ---- one phone's WebSocket ------------------------------------------------------------------------------------------

class Server::Core::Subscriber : public std::enable_shared_from_this<Subscriber> {
 public:
  Subscriber(Core& core, Phone phone, tcp::socket socket)
      : core_(core), phone_(phone), stream_(std::move(socket)), patience_(core.context_) {}

  net::awaitable<void> run(Request request) {
    websocket::stream_base::timeout timeout{};
    timeout.handshake_timeout = core_.options_.patience.request;
    timeout.idle_timeout = core_.options_.patience.silence;
    timeout.keep_alive_pings = true;
    stream_.set_option(timeout);
    stream_.read_message_max(kLongestFrame);
    stream_.auto_fragment(false);
    error_code error;  // of a phone that has gone: nothing to say about it
    stream_.next_layer().set_option(
        net::detail::socket_option::integer<IPPROTO_TCP, TCP_NOTSENT_LOWAT>(kUnsent), error);
    co_await stream_.async_accept(request, net::redirect_error(net::use_awaitable, error));
    if (error) co_return;
    open_ = true;
    if (core_.parting_) part();
    send_next();
    beast::flat_buffer heard;
    while (true) {
      co_await stream_.async_read(heard, net::redirect_error(net::use_awaitable, error));
      if (error) break;
      const auto refused =
          take(std::string_view(static_cast<const char*>(heard.cdata().data()), heard.size()));
      heard.consume(heard.size());
      if (closing_ || !refused) continue;
      closing_ = true;
      // Never beside a read: one that finds something wrong then waits for this, and this for that.
      co_await stream_.async_close(*refused, net::redirect_error(net::use_awaitable, error));
      break;
    }
    cut();
    open_ = false;
    if (core_.hooks_.gone) core_.hooks_.gone(phone_);
  }

  void send_next() {
    if (!open_ || closing_ || writing_) return;
    answering_ = !answers_.empty();
    // An answer goes with what its command changed: who asks again at once has seen that.
    frame_ = core_.news(seen_, answering_ ? answers_.front() : std::string());
    if (answering_) answers_.pop_front();
    if (frame_.empty()) return;
    writing_ = true;
    written_ = 0;
    write_piece();
  }

  void queue(std::string answer) { answers_.push_back(std::move(answer)); }
  /// Beside a read, as it must be here; where the two wait for each other the end of parting cuts them off.
  void part() {
    if (!open_ || std::exchange(closing_, true)) return;
    stream_.async_close({websocket::close_code::going_away, "the daemon ends"},
                        [self = shared_from_this()](const error_code&) {});
  }
  void cut() {
    error_code ignored;
    stream_.next_layer().close(ignored);
    patience_.cancel();
  }

 private:
  /// Why nothing more is taken from this phone.
  std::optional<websocket::close_reason> take(std::string_view frame) {
    if (closing_) return std::nullopt;
    if (!stream_.got_text())
      return websocket::close_reason(websocket::close_code::unknown_data, "frames are text");
    if (in_hand_ == kMostAnswers)
      return websocket::close_reason(websocket::close_code::policy_error,
                                     "wait for the answers to what was asked");
    ++in_hand_;
    if (core_.hooks_.said) core_.hooks_.said(phone_, std::string(frame));
    return std::nullopt;
  }

  /// In pieces, so that a long frame on a slow network is not taken for one that is stuck.
  void write_piece() {
    patience_.expires_after(core_.options_.patience.writing);
    patience_.async_wait([self = shared_from_this()](const error_code& cancelled) {
      if (!cancelled && self->writing_ && self->patience_.expiry() <= Clock::now()) self->cut();
    });
    const std::size_t length = std::min(kPiece, frame_.size() - written_);
    const bool last = written_ + length == frame_.size();
    stream_.async_write_some(last, net::buffer(frame_.data() + written_, length),
                             [self = shared_from_this(), last](const error_code& error, std::size_t size) {
                               self->wrote(error, size, last);
                             });
  }

  void wrote(const error_code& error, std::size_t size, bool last) {
    if (closing_) return;  // which ends it all
    if (error) return cut();
    written_ += size;
    if (!last) return write_piece();
    patience_.cancel();
    writing_ = false;
    frame_ = {};
    if (answering_ && in_hand_ > 0) --in_hand_;
    send_next();
  }

  Core& core_;
  const Phone phone_;
  websocket::stream<tcp::socket, /*deflateSupported=*/false> stream_;
  net::steady_timer patience_;
  std::vector<std::uint64_t> seen_;  // the versions of the topics, as sent
  std::deque<std::string> answers_;
  std::string frame_;  // on its way
  std::size_t written_ = 0, in_hand_ = 0;
  bool open_ = false, closing_ = false, writing_ = false, answering_ = false;
};

// ---- one connection -------------------------------------------------------------------------------------------------

class Server::Core::Connection : public std::enable_shared_from_this<Connection> {
 public:
  enum class State { asking, answered, phone };

  Connection(Core& core, tcp::socket socket)
      : core_(core), socket_(std::move(socket)), deadline_(core.context_), replied_(core.context_) {
    error_code gone;  // already: then the first read says so
    from_ = socket_.remote_endpoint(gone).address().to_string();
  }

  net::awaitable<void> run() {
    while (!core_.parting_) {
      Parser parser;
      parser.eager(true);
      parser.header_limit(kLongestHeader);
      parser.body_limit(kLongestBody);
      std::optional<Reply> reply = co_await read(parser);
      if (!reply && !parser.is_done()) break;
      const bool whole = !reply;
      const Request& request = parser.get();
      if (!reply) reply = core_.refuse(request);
      const std::string_view said = request[http::field::host];
      const std::string_view host = whole && core_.is_own(said) ? said : std::string_view();
      if (!reply && path_of(request) == "/live") {
        reply = core_.refuse_phone(request, buffer_.size() > 0);
        if (!reply) {
          co_await be_phone(parser.release());
          break;
        }
      }
      if (!reply) reply = co_await answer(request);
      const bool last = !whole || !request.keep_alive() || core_.parting_;
      const bool head = whole && request.method() == http::verb::head;
      if (!co_await write(*reply, header_of(*reply, host, core_.open_to_all_, last), head)) break;
      if (!last) continue;
      co_await see_off();
      break;
    }
    cut();
  }

  void part() {
    if (subscriber_) return subscriber_->part();
    cut();
  }
  void cut() {
    error_code ignored;
    socket_.close(ignored);
    deadline_.cancel();
    replied_.cancel();
    if (subscriber_) subscriber_->cut();
  }
  [[nodiscard]] State state() const { return state_; }
  [[nodiscard]] Clock::time_point since() const { return since_; }

 private:
  /// From now on; afterwards what waits for the socket ends.
  void allow(std::chrono::milliseconds time) {
    late_ = false;
    deadline_.expires_after(time);
    deadline_.async_wait([weak = weak_from_this()](const error_code& cancelled) {
      const auto self = weak.lock();
      if (cancelled || !self || self->deadline_.expiry() > Clock::now()) return;
      self->late_ = true;
      error_code ignored;
      self->socket_.cancel(ignored);
    });
  }

  void become(State state) {
    state_ = state;
    since_ = Clock::now();
  }

  net::awaitable<bool> read_more() {
    error_code error;
    const std::size_t size = co_await socket_.async_read_some(buffer_.prepare(kChunk),
                                                              net::redirect_error(net::use_awaitable, error));
    buffer_.commit(size);
    co_return !error && !late_;
  }

  /// One request; or what is wrong with it; or neither: nobody asks any more.
  net::awaitable<std::optional<Reply>> read(Parser& parser) {
    become(State::asking);
    allow(core_.options_.patience.idle);
    if (buffer_.size() == 0 && !co_await read_more()) co_return std::nullopt;
    allow(core_.options_.patience.request);
    while (true) {
      if (buffer_.size() > 0) {
        error_code error;
        buffer_.consume(parser.put(buffer_.data(), error));
        if (error && error != http::error::need_more) co_return complaint(error);
        if (parser.is_done()) co_return std::nullopt;
      }
      if (co_await read_more()) continue;
      if (!late_) co_return std::nullopt;
      co_return say(http::status::request_timeout,
                    "The request was not whole within " +
                        std::to_string(core_.options_.patience.request.count()) + " ms; ask again.");
    }
  }

  net::awaitable<bool> write(const Reply& reply, const std::string& header, bool head) {
    become(State::answered);
    const std::string_view body = head ? std::string_view() : !reply.file.empty() ? reply.file : reply.text;
    beast::buffers_suffix<std::array<net::const_buffer, 2>> rest(
        std::array<net::const_buffer, 2>{net::buffer(header), net::buffer(body)});
    while (net::buffer_size(rest) > 0) {
      allow(core_.options_.patience.writing);
      error_code error;
      const std::size_t size =
          co_await socket_.async_write_some(rest, net::redirect_error(net::use_awaitable, error));
      if (error || late_) co_return false;
      rest.consume(size);
    }
    co_return true;
  }

  /// What still comes is read for a moment: closing before would reset the connection, and the reply might be lost with it.
  net::awaitable<void> see_off() {
    error_code ignored;
    socket_.shutdown(tcp::socket::shutdown_send, ignored);
    become(State::asking);
    allow(kMostLeftFor);
    for (std::size_t dropped = 0; dropped < kMostLeft && co_await read_more();) {
      dropped += buffer_.size();
      buffer_.consume(buffer_.size());
    }
  }

  net::awaitable<Reply> answer(const Request& request) {
    const std::string_view path = path_of(request);
    if (path == "/pair") {
      if (request.method() != http::verb::post) co_return only("POST");
      co_return core_.pair(request, from_);
    }
    if (path.starts_with("/record/")) {
      if (!reads(request)) co_return only("GET, HEAD");
      const std::string survey = survey_of(path);
      if (!survey.empty()) co_return co_await record(survey);
    }
    for (const Asset& asset : assets()) {
      if (asset.path != path) continue;
      if (!reads(request)) co_return only("GET, HEAD");
      const std::string tag = '"' + std::string(build()) + '"';
      Reply reply{http::status::ok, {}, asset.type, {{"ETag", tag}, {"Cache-Control", "no-cache"}}};
      const std::string_view has = request[http::field::if_none_match];
      if (has == "*" || has.find(tag) != has.npos) {
        reply.status = http::status::not_modified;
        co_return reply;
      }
      // Whether or not it is in Accept-Encoding: every browser takes it, and there is no other form.
      reply.more.emplace_back("Content-Encoding", "gzip");
      reply.file = asset.bytes;
      co_return reply;
    }
    co_return say(http::status::not_found, "There is no " + quoted(path) + " here; the page is at /.");
  }

  net::awaitable<Reply> record(const std::string& survey) {
    const std::uint64_t turn = ++turn_;
    text_.reset();
    if (core_.hooks_.record) {
      core_.hooks_.record(
          survey, [server = core_.weak_from_this(), connection = weak_from_this(), turn](std::string text) {
            if (const auto core = server.lock())
              net::post(core->context_, [connection, turn, text = std::move(text)]() mutable {
                const auto self = connection.lock();
                if (!self || self->turn_ != turn) return;
                self->text_ = std::move(text);
                self->replied_.cancel();
              });
          });
    } else {
      text_.emplace();
    }
    if (!text_) {
      become(State::answered);
      deadline_.cancel();
      replied_.expires_after(core_.options_.patience.record);
      error_code ended;  // by a reply, or by time
      co_await replied_.async_wait(net::redirect_error(net::use_awaitable, ended));
      ++turn_;
    }
    if (!text_)
      co_return say(http::status::service_unavailable,
                    "The survey was not ready within " +
                        std::to_string(core_.options_.patience.record.count()) + " ms; ask again.");
    if (text_->empty())
      co_return say(http::status::not_found, "There is no survey " + quoted(survey) + " in this book.");
    Reply reply{http::status::ok, std::move(*text_)};
    reply.more = {{"Content-Disposition", "inline; filename=\"survey.txt\""}};
    co_return reply;
  }

  net::awaitable<void> be_phone(Request request) {
    become(State::phone);
    deadline_.cancel();
    const Phone phone = ++core_.last_phone_;
    subscriber_ = std::make_shared<Subscriber>(core_, phone, std::move(socket_));
    struct Listed {
      Core& core;
      Phone phone;
      ~Listed() { core.subscribers_.erase(phone); }
    };
    const Listed listed{core_, phone};
    core_.subscribers_.emplace(phone, subscriber_);
    co_await subscriber_->run(std::move(request));
  }

  Core& core_;
  tcp::socket socket_;
  net::steady_timer deadline_, replied_;
  beast::flat_buffer buffer_;  // at most kLongestHeader and kChunk: the parser takes what it understands
  std::string from_;
  State state_ = State::asking;
  Clock::time_point since_ = Clock::now();
  bool late_ = false;
  std::uint64_t turn_ = 0;
  std::optional<std::string> text_;
  std::shared_ptr<Subscriber> subscriber_;
};

// ---- beginning and end ----------------------------------------------------------------------------------------------

Server::Core::Core(const Options& options, Hooks hooks) : options_(options), hooks_(std::move(hooks)) {}

std::optional<std::string> Server::Core::listen() {
  std::string name = options_.address;
  if (name.size() > 2 && name.front() == '[' && name.back() == ']') name = name.substr(1, name.size() - 2);
  error_code error;
  const net::ip::address address = net::ip::make_address(name, error);
  if (error)
    return quoted(options_.address) +
           " is no numeric address; give 127.0.0.1 for this machine alone, 0.0.0.0 for every address of it, "
           "or one of its own";
  const tcp::endpoint endpoint(address, options_.port);
  const std::string where = with_port(address, options_.port);
  error_code ignored;  // listening without these is still listening
  acceptor_.open(endpoint.protocol(), error);
  if (!error) acceptor_.set_option(net::socket_base::reuse_address(true), ignored);
  if (!error && address.is_v6()) acceptor_.set_option(net::ip::v6_only(false), ignored);
  if (!error) acceptor_.bind(endpoint, error);
  if (!error) acceptor_.listen(net::socket_base::max_listen_connections, error);
  if (error == net::error::address_in_use)
    return where +
           " is in use by another program; end that program, or give another port (0: any that is free)";
  if (error == error_code(EADDRNOTAVAIL, boost::system::system_category())) {
    std::string own;
    for (const net::ip::address& one : own_addresses(true))
      own += (own.empty() ? "" : ", ") + one.to_string();
    return "this machine has no address " + address.to_string() + ", but " + own;
  }
  if (error == net::error::access_denied)
    return "this user may not listen at " + where + "; give a port from 1024 on";
  if (error) return "cannot listen at " + where + " (" + error.message() + "); give another address or port";

  port_ = acceptor_.local_endpoint(ignored).port();
  if (address.is_unspecified())
    for (const net::ip::address& one : own_addresses(address.is_v6()))
      addresses_.push_back("http://" + with_port(one, port_) + '/');
  else
    addresses_.push_back("http://" + with_port(address, port_) + '/');
  open_to_all_ = address.is_loopback();
  if (open_to_all_) return std::nullopt;
  names_ = own_names();
  if (options_.key_path.empty()) {
    key_ = draw_key();
  } else {
    KeptKey kept = keep_key(options_.key_path);
    key_ = kept.key;
    key_trouble_ = std::move(kept.trouble);
  }
  cookie_ = cookie_name(key_);
  code_.emplace();
  return std::nullopt;
}

void Server::Core::run() {
  net::co_spawn(context_, accept(), net::detached);
  if (!key_trouble_.empty()) net::post(context_, [this] { note(key_trouble_); });
  // Signals are for the thread that waits for them.
  sigset_t all, before;
  ::sigfillset(&all);
  ::pthread_sigmask(SIG_SETMASK, &all, &before);
  thread_ = std::thread([this] {
    while (true) {
      try {
        context_.run();
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
    net::post(context_, [this] { part(); });
    thread_.join();
    // Before the context: what is left holds sockets and timers of it.
    connections_.clear();
    subscribers_.clear();
  });
}

/// The thread ends by itself once nothing waits any more.
void Server::Core::part() {
  parting_ = true;
  error_code ignored;
  acceptor_.close(ignored);
  pause_.cancel();
  for (const auto& connection : connections_) connection->part();
  if (connections_.empty()) return;
  parting_for_.expires_after(options_.patience.parting);
  parting_for_.async_wait([this](const error_code& all_gone) {
    if (all_gone) return;
    for (const auto& connection : connections_) connection->cut();
    parting_for_.expires_after(kPause);
    parting_for_.async_wait([this](const error_code& none_left) {
      if (!none_left) context_.stop();
    });
  });
}

void Server::Core::note(const std::string& sentence) const {
  if (hooks_.note) hooks_.note(sentence);
}

// ---- connections ----------------------------------------------------------------------------------------------------

net::awaitable<void> Server::Core::accept() {
  bool said = false;
  while (!parting_) {
    error_code error;
    tcp::socket socket = co_await acceptor_.async_accept(net::redirect_error(net::use_awaitable, error));
    if (parting_) co_return;
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
  error_code ignored;  // slower without, but no fault
  socket.set_option(tcp::no_delay(true), ignored);
  if (connections_.size() >= kMostConnections) make_room();
  const auto connection = std::make_shared<Connection>(*this, std::move(socket));
  connections_.insert(connection);
  net::co_spawn(
      context_, [connection] { return connection->run(); },
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
  if (parting_ && connections_.empty()) parting_for_.cancel();
  if (!failure) return;
  try {
    std::rethrow_exception(failure);
  } catch (const std::exception& what) {
    // Not worth more than that connection: the daemon keeps a record.
    note(std::string("a connection of the page failed: ") + what.what());
  }
}

// ---- who may --------------------------------------------------------------------------------------------------------

bool Server::Core::is_own(std::string_view host) const {
  std::string_view name = host, port;
  const auto end = host.starts_with('[') ? host.find(']') : host.find(':');
  const bool bracketed = host.starts_with('[');
  if (bracketed) {
    if (end == host.npos) return false;
    name = host.substr(1, end - 1);
    port = host.substr(end + 1);
  } else if (end != host.npos) {
    name = host.substr(0, end);
    port = host.substr(end);
  }
  if (port != ':' + std::to_string(port_) && !(port.empty() && port_ == 80)) return false;
  error_code error;
  const net::ip::address address = net::ip::make_address(std::string(name), error);
  if (!error && address.is_v6() != bracketed) return false;
  if (!error) return !open_to_all_ || address.is_loopback();
  if (bracketed) return false;
  return beast::iequals(name, "localhost") || std::any_of(names_.begin(), names_.end(), [&](const auto& own) {
           return beast::iequals(own, name);
         });
}

bool Server::Core::is_paired(const Request& request) const {
  if (open_to_all_) return true;
  const auto now = std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
  const auto [first, last] = request.equal_range(http::field::cookie);
  for (auto field = first; field != last; ++field) {
    std::string_view rest = field->value();
    while (!rest.empty()) {
      std::string_view one = rest.substr(0, rest.find(';'));
      rest.remove_prefix(std::min(rest.size(), one.size() + 1));
      while (one.starts_with(' ')) one.remove_prefix(1);
      if (!one.starts_with(cookie_) || one.substr(cookie_.size(), 1) != "=") continue;
      if (token_holds(key_, one.substr(cookie_.size() + 1), now)) return true;
    }
  }
  return false;
}

std::optional<Reply> Server::Core::refuse(const Request& request) {
  const std::string_view host = request[http::field::host], path = path_of(request);
  if (request.count(http::field::host) != 1)
    return say(http::status::bad_request, "A request needs one Host, which this has not.");
  if (!is_own(host)) {
    Reply reply = say(http::status::misdirected_request,
                      "This is not " + quoted(host) + "; open " + addresses_.front() + " instead.");
    return reply;
  }
  if (!path.starts_with('/'))
    return say(http::status::bad_request, "The path begins with /, which " + quoted(path) + " does not.");

  const bool upgrade = request.count(http::field::upgrade) > 0;
  const bool acts = upgrade || !reads(request);
  const std::string_view site = request["Sec-Fetch-Site"];
  const bool follows_link = !acts && path == "/" && request["Sec-Fetch-Mode"] == "navigate";
  if (!site.empty() && site != "same-origin" && site != "none" && !follows_link)
    return say(http::status::forbidden, "Another site asked for this; open the page itself.");
  if (acts && (request.count(http::field::origin) != 1 ||
               request[http::field::origin] != "http://" + std::string(host)))
    return say(http::status::forbidden, "This came from " + quoted(request[http::field::origin]) +
                                            "; only the page itself, http://" + std::string(host) +
                                            ", may ask for it.");

  if (is_paired(request)) return std::nullopt;
  if (path == "/pair" && request.method() == http::verb::post && !upgrade) return std::nullopt;
  if (acts)
    return say(http::status::forbidden, "This phone is not paired; open the page and type the code first.");
  if (path == "/") return page_with_code(http::status::ok, "");
  Reply reply =
      say(http::status::unauthorized, "This phone is not paired; open the page and type the code first.");
  reply.more = {{"WWW-Authenticate", "Pairing realm=\"hangtrue\""}};
  return reply;
}

Reply Server::Core::pair(const Request& request, const std::string& from) {
  if (is_paired(request)) return see_page();
  const std::string typed = code_of(request.body());
  PairingCode::Outcome outcome;
  std::string code;
  {
    const std::scoped_lock lock(mutex_);
    outcome = code_->attempt(typed, Clock::now());
    code = code_->shown();
  }
  switch (outcome.verdict) {
    case PairingCode::Verdict::right: {
      note("a phone at " + from + " was paired");
      const auto now = std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now());
      Reply reply = see_page();
      reply.more.emplace_back("Set-Cookie", cookie_ + '=' + make_token(key_, now) + "; Max-Age=" +
                                                std::to_string(std::chrono::seconds(kPairedFor).count()) +
                                                "; Path=/; HttpOnly; SameSite=Strict");
      return reply;
    }
    case PairingCode::Verdict::no_code:
      return page_with_code(http::status::bad_request, sentence(outcome));
    case PairingCode::Verdict::too_soon:
    case PairingCode::Verdict::wrong:
      break;
  }
  if (outcome.verdict == PairingCode::Verdict::wrong)
    note("a wrong pairing code came from " + from +
         (outcome.wait.count() > 0
              ? "; the next is looked at in " + std::to_string(outcome.wait.count()) + " s"
              : ""));
  if (outcome.changed) {
    note("too many wrong pairing codes; from now on it is " + code);
    if (hooks_.code_changed) hooks_.code_changed(code);
  }
  Reply reply =
      page_with_code(outcome.verdict == PairingCode::Verdict::wrong ? http::status::forbidden
                                                                    : http::status::too_many_requests,
                     sentence(outcome));
  if (outcome.wait.count() > 0) reply.more = {{"Retry-After", std::to_string(outcome.wait.count())}};
  return reply;
}

std::optional<Reply> Server::Core::refuse_phone(const Request& request, bool more_came) const {
  if (request.method() != http::verb::get) return only("GET");
  if (!websocket::is_upgrade(request)) {
    Reply reply =
        say(http::status::upgrade_required, "This is for the page itself, by WebSocket; open / instead.");
    reply.more = {{"Upgrade", "websocket"}};
    return reply;
  }
  if (request[http::field::sec_websocket_version] != "13") {
    Reply reply = say(http::status::upgrade_required,
                      "WebSocket of version " + quoted(request[http::field::sec_websocket_version]) +
                          " is not spoken here, but 13.");
    reply.more = {{"Upgrade", "websocket"}, {"Sec-WebSocket-Version", "13"}};
    return reply;
  }
  constexpr std::size_t kKey = 24;  // 16 bytes in base64
  if (request.count(http::field::sec_websocket_key) != 1 ||
      request[http::field::sec_websocket_key].size() != kKey)
    return say(http::status::bad_request, "An upgrade needs one Sec-WebSocket-Key of 24 characters.");
  if (more_came)
    return say(http::status::bad_request, "Frames may come once the upgrade was answered, not before.");
  if (subscribers_.size() >= kMostPhones)
    return say(http::status::service_unavailable,
               std::to_string(kMostPhones) + " phones have the page open already; close it on one of them.");
  return std::nullopt;
}

// ---- topics ---------------------------------------------------------------------------------------------------------

void Server::Core::publish(std::string_view topic, std::string json) {
  const std::scoped_lock lock(mutex_);
  auto found =
      std::find_if(topics_.begin(), topics_.end(), [&](const Topic& one) { return one.name == topic; });
  if (found == topics_.end()) found = topics_.insert(found, Topic{std::string(topic), {}, 0});
  if (found->version > 0 && found->json == json) return;
  found->json = std::move(json);
  ++found->version;
  wake();
}

void Server::Core::answer(Phone phone, std::string json) {
  const std::scoped_lock lock(mutex_);
  if (stopped_) return;
  answers_.emplace_back(phone, std::move(json));
  wake();
}

void Server::Core::wake() {
  if (!stopped_ && !std::exchange(woken_, true)) net::post(context_, [this] { deliver(); });
}

void Server::Core::deliver() {
  std::vector<std::pair<Phone, std::string>> answers;
  {
    const std::scoped_lock lock(mutex_);
    woken_ = false;
    answers.swap(answers_);
  }
  for (auto& [phone, json] : answers)
    if (const auto found = subscribers_.find(phone); found != subscribers_.end())
      found->second->queue(std::move(json));
  for (const auto& [phone, subscriber] : subscribers_) subscriber->send_next();
}

std::string Server::Core::news(std::vector<std::uint64_t>& seen, const std::string& answer) const {
  const std::scoped_lock lock(mutex_);
  seen.resize(topics_.size());
  std::string frame;
  const auto add = [&frame](const std::string& name, const std::string& json) {
    frame += (frame.empty() ? "{\"" : ",\"") + name + "\":" + json;
  };
  for (std::size_t i = 0; i < topics_.size(); ++i) {
    const Topic& topic = topics_[i];
    if (topic.version == seen[i]) continue;
    seen[i] = topic.version;
    add(topic.name, topic.json);
  }
  if (!answer.empty()) add("answer", answer);
  return frame.empty() ? frame : frame + '}';
}

std::string Server::Core::pairing_code() const {
  const std::scoped_lock lock(mutex_);
  return code_ ? code_->shown() : std::string();
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
std::string Server::pairing_code() const { return core_->pairing_code(); }
std::uint16_t Server::port() const { return core_->port(); }

}  // namespace hangtrue::page
