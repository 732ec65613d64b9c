#include "firmware-host/page/phone_session.hpp"

#include <netinet/tcp.h>

#include <algorithm>
#include <deque>
#include <optional>
#include <utility>

#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket/stream.hpp>

#include "firmware-host/page/limits.hpp"

namespace hangtrue::page {
namespace {

namespace beast = boost::beast;
namespace net = boost::asio;
namespace websocket = beast::websocket;
using boost::system::error_code;
using tcp = net::ip::tcp;

class WebSocketPhone final : public PhoneSession, public std::enable_shared_from_this<WebSocketPhone> {
 public:
  WebSocketPhone(Shared& shared, Phone phone, tcp::socket socket, BeastRequest upgrade)
      : shared_(shared),
        phone_(phone),
        upgrade_(std::move(upgrade)),
        stream_(std::move(socket)),
        patience_(shared.context) {}

  net::awaitable<void> run() override {
    set_up();
    error_code error;  // of a phone that has gone: nothing to say about it
    co_await stream_.async_accept(upgrade_, net::redirect_error(net::use_awaitable, error));
    if (error) co_return;
    open_ = true;
    if (shared_.parting) part();
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
    if (shared_.hooks.gone) shared_.hooks.gone(phone_);
  }

  void send_next() override {
    if (!open_ || closing_ || writing_) return;
    answering_ = !answers_.empty();
    // An answer goes with what its command changed: who asks again at once has seen that.
    frame_ = shared_.topics.news(seen_, answering_ ? answers_.front() : std::string());
    if (answering_) answers_.pop_front();
    if (frame_.empty()) return;
    writing_ = true;
    written_ = 0;
    write_piece();
  }

  void queue(std::string answer) override { answers_.push_back(std::move(answer)); }

  /// Beside a read, as it must be here; where the two wait for each other the end of parting cuts them off.
  void part() override {
    if (!open_ || std::exchange(closing_, true)) return;
    stream_.async_close({websocket::close_code::going_away, "the daemon ends"},
                        [self = shared_from_this()](const error_code&) {});
  }

  void cut() override {
    error_code ignored;
    stream_.next_layer().close(ignored);
    patience_.cancel();
  }

 private:
  void set_up() {
    websocket::stream_base::timeout timeout{};
    timeout.handshake_timeout = shared_.options.patience.request;
    timeout.idle_timeout = shared_.options.patience.silence;
    timeout.keep_alive_pings = true;
    stream_.set_option(timeout);
    stream_.read_message_max(kLongestFrame);
    stream_.auto_fragment(false);
    error_code slower;  // without, but no fault
    stream_.next_layer().set_option(
        net::detail::socket_option::integer<IPPROTO_TCP, TCP_NOTSENT_LOWAT>(kUnsent), slower);
  }

  /// Why nothing more is taken from this phone.
  std::optional<websocket::close_reason> take(std::string_view frame) {
    if (closing_) return std::nullopt;
    if (!stream_.got_text())
      return websocket::close_reason(websocket::close_code::unknown_data, "frames are text");
    if (in_hand_ == kMostAnswers)
      return websocket::close_reason(websocket::close_code::policy_error,
                                     "wait for the answers to what was asked");
    ++in_hand_;
    if (shared_.hooks.said) shared_.hooks.said(phone_, std::string(frame));
    return std::nullopt;
  }

  /// In pieces, so that a long frame on a slow network is not taken for one that is stuck. The limit is a timer of our own: the
  /// WebSocket's look at what comes in alone, and forbid those of a tcp_stream beneath.
  void write_piece() {
    patience_.expires_after(shared_.options.patience.writing);
    patience_.async_wait([self = shared_from_this()](const error_code& cancelled) {
      const bool over = self->patience_.expiry() <= std::chrono::steady_clock::now();
      if (!cancelled && self->writing_ && over) self->cut();
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

  Shared& shared_;
  const Phone phone_;
  const BeastRequest upgrade_;
  websocket::stream<tcp::socket, /*deflateSupported=*/false> stream_;
  net::steady_timer patience_;
  std::vector<std::uint64_t> seen_;  // the versions of the topics, as sent
  std::deque<std::string> answers_;
  std::string frame_;  // on its way
  std::size_t written_ = 0, in_hand_ = 0;
  bool open_ = false, closing_ = false, writing_ = false, answering_ = false;
};

}  // namespace

std::shared_ptr<PhoneSession> make_phone(Shared& shared, Phone phone, tcp::socket socket,
                                         BeastRequest upgrade) {
  return std::make_shared<WebSocketPhone>(shared, phone, std::move(socket), std::move(upgrade));
}

}  // namespace hangtrue::page
