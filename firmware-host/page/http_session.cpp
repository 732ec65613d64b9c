#include <array>
#include <optional>
#include <utility>

#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/error.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/serializer.hpp>
#include <boost/beast/http/span_body.hpp>
#include <boost/beast/http/write.hpp>
#include <boost/beast/websocket/rfc6455.hpp>

#include "firmware-host/page/content.hpp"
#include "firmware-host/page/limits.hpp"
#include "firmware-host/page/phone_session.hpp"

namespace hangtrue::page {
namespace {

namespace beast = boost::beast;
namespace http = beast::http;
namespace net = boost::asio;
using boost::system::error_code;
using tcp = net::ip::tcp;
using Parser = http::request_parser<http::string_body>;
using Body = http::span_body<const char>;

Request request_of(const BeastRequest& message) {
  Request request;
  request.method = message.method() == http::verb::get    ? Request::Method::get
                   : message.method() == http::verb::head ? Request::Method::head
                   : message.method() == http::verb::post ? Request::Method::post
                                                          : Request::Method::other;
  request.target = message.target();
  request.body = message.body();
  for (const auto& field : message) request.fields.emplace_back(field.name_string(), field.value());
  request.is_upgrade = beast::websocket::is_upgrade(message);
  return request;
}

/// Of what could not be read; nothing where whoever asked has gone.
std::optional<Reply> complaint(const error_code& error) {
  if (error == http::error::header_limit || error == http::error::buffer_overflow)
    return say(431,
               "The request's header is too long; " + std::to_string(kLongestHeader) + " bytes would do.");
  if (error == http::error::body_limit)
    return say(413, "The request's body is too long; " + std::to_string(kLongestBody) + " bytes would do.");
  if (error == http::error::end_of_stream || error == http::error::partial_message ||
      error.category() != http::make_error_code(http::error::end_of_stream).category())
    return std::nullopt;
  return say(400, "This is not a request of HTTP/1.1 (" + error.message() + "); open the page in a browser.");
}

class HttpConnection final : public Connection, public std::enable_shared_from_this<HttpConnection> {
 public:
  HttpConnection(Shared& shared, tcp::socket socket)
      : shared_(shared), stream_(std::move(socket)), deadline_(shared.context), replied_(shared.context) {
    error_code gone;  // already: then the first read says so
    from_ = stream_.socket().remote_endpoint(gone).address().to_string();
  }

  net::awaitable<void> run() override {
    while (!shared_.parting) {
      Parser parser;
      parser.eager(true);
      parser.header_limit(kLongestHeader);
      parser.body_limit(kLongestBody);
      std::optional<Reply> reply = co_await read(parser);
      if (!reply && !parser.is_done()) break;
      const bool whole = !reply;
      const Request request = request_of(parser.get());
      if (whole) reply = shared_.access.refuse(request, shared_.address);
      const std::string_view said = request.field("Host");
      const std::string host(whole && shared_.access.is_own(said) ? said : std::string_view());
      if (!reply && request.path() == "/live") {
        reply = refuse_upgrade(request, buffer_.size() > 0, shared_.phones.size());
        if (!reply) {
          co_await be_phone(parser.release());
          break;
        }
      }
      if (!reply) reply = co_await answer(request);
      const bool last = !whole || !parser.get().keep_alive() || shared_.parting;
      const bool head = whole && request.method == Request::Method::head;
      if (!co_await write(*reply, host, head, last)) break;
      if (!last) continue;
      co_await see_off();
      break;
    }
    cut();
  }

  void part() override {
    if (phone_) return phone_->part();
    cut();
  }

  void cut() override {
    stream_.close();
    deadline_.cancel();
    replied_.cancel();
    if (phone_) phone_->cut();
  }

 private:
  /// One request; or what is wrong with it; or neither: nobody asks any more.
  net::awaitable<std::optional<Reply>> read(Parser& parser) {
    become(State::asking);
    error_code error;
    if (buffer_.size() == 0) {
      stream_.expires_after(shared_.options.patience.idle);
      const std::size_t size = co_await stream_.async_read_some(
          buffer_.prepare(kChunk), net::redirect_error(net::use_awaitable, error));
      if (error) co_return std::nullopt;
      buffer_.commit(size);
    }
    stream_.expires_never();
    allow_for_request();
    // The parser's own limit is for what it has not yet understood: of a header in many short lines it would read any number.
    for (std::size_t all = 0; !parser.is_done() && !error;) {
      const bool in_header = !parser.is_header_done();
      all += co_await http::async_read_some(stream_, buffer_, parser,
                                            net::redirect_error(net::use_awaitable, error));
      if (in_header && all > kLongestHeader + (parser.is_header_done() ? kLongestBody : 0))
        error = http::error::header_limit;
    }
    reading_ = false;
    deadline_.cancel();
    if (late_)
      co_return say(408, "The request was not whole within " +
                             std::to_string(shared_.options.patience.request.count()) + " ms; ask again.");
    co_return error ? complaint(error) : std::nullopt;
  }

  /// Not by the stream's own limit: that closes it, and who is late is still told so.
  void allow_for_request() {
    reading_ = true;
    late_ = false;
    deadline_.expires_after(shared_.options.patience.request);
    deadline_.async_wait([weak = weak_from_this()](const error_code& cancelled) {
      const auto self = weak.lock();
      if (cancelled || !self || !self->reading_) return;
      self->late_ = true;
      self->stream_.cancel();
    });
  }

  net::awaitable<bool> write(const Reply& reply, std::string_view host, bool head, bool last) {
    become(State::answered);
    http::response<Body> response(http::int_to_status(static_cast<unsigned>(reply.status)), 11);
    for (const auto& [name, value] : header_of(reply, host, shared_.access.on_loopback()))
      response.insert(name, value);
    response.set(http::field::connection, last ? "close" : "keep-alive");
    if (!head) response.body() = {reply.body().data(), reply.body().size()};
    http::response_serializer<Body> serializer(response);
    while (!serializer.is_done()) {
      stream_.expires_after(shared_.options.patience.writing);
      error_code error;
      co_await http::async_write_some(stream_, serializer, net::redirect_error(net::use_awaitable, error));
      if (error) co_return false;
    }
    co_return true;
  }

  /// What still comes is read for a moment: closing before would reset the connection, and the reply might be lost with it.
  net::awaitable<void> see_off() {
    error_code error;
    stream_.socket().shutdown(tcp::socket::shutdown_send, error);
    become(State::asking);
    stream_.expires_after(kMostLeftFor);
    std::array<char, kChunk> dropped;
    for (std::size_t all = 0; all < kMostLeft;) {
      all += co_await stream_.async_read_some(net::buffer(dropped),
                                              net::redirect_error(net::use_awaitable, error));
      if (error) break;
    }
  }

  net::awaitable<Reply> answer(const Request& request) {
    const std::string_view path = request.path();
    if (path == "/pair") {
      if (request.method != Request::Method::post) co_return only("POST");
      co_return shared_.access.pair(request, from_);
    }
    if (path.starts_with("/record/")) {
      if (!request.reads()) co_return only("GET, HEAD");
      const std::string survey = survey_of(path);
      if (!survey.empty()) co_return co_await record(survey);
    }
    if (path.starts_with("/print/")) {
      if (!request.reads()) co_return only("GET, HEAD");
      const std::optional<Document> wanted = document_of(path);
      if (wanted) co_return co_await document(*wanted);
    }
    co_return file_reply(request);
  }

  net::awaitable<Reply> record(const std::string& survey) {
    const auto ask = [&](std::function<void(std::string)> reply) {
      if (!shared_.hooks.record) return reply("");
      shared_.hooks.record(survey, std::move(reply));
    };
    const auto text = co_await told(ask);
    if (!text) co_return late("The survey");
    if (text->empty()) co_return say(404, "There is no survey " + in_quotes(survey) + " in this book.");
    Reply reply{200, *text};
    reply.more = {{"Content-Disposition", "inline; filename=\"survey.txt\""}};
    co_return reply;
  }

  net::awaitable<Reply> document(const Document& wanted) {
    const auto ask = [&](std::function<void(std::string)> reply) {
      if (!shared_.hooks.print) return reply("No documents are made here.");
      shared_.hooks.print(wanted, std::move(reply));
    };
    const auto pdf = co_await told(ask);
    if (!pdf) co_return late("The document");
    if (!pdf->starts_with("%PDF")) co_return say(503, *pdf);
    Reply reply{200, *pdf, "application/pdf"};
    reply.more = {{"Content-Disposition", "attachment; filename=\"" + file_name(wanted) + '"'}};
    co_return reply;
  }

  Reply late(const std::string& what) const {
    return say(503, what + " was not ready within " +
                        std::to_string(shared_.options.patience.record.count()) + " ms; ask again.");
  }

  /// What `ask` gets replied, from whatever thread; nothing: not in time.
  template <class Ask>
  net::awaitable<std::optional<std::string>> told(Ask ask) {
    const std::uint64_t turn = ++turn_;
    text_.reset();
    ask([server = shared_.weak_from_this(), connection = weak_from_this(), turn](std::string text) {
      const auto shared = server.lock();
      if (!shared) return;
      net::post(shared->context, [connection, turn, text = std::move(text)]() mutable {
        const auto self = connection.lock();
        if (!self || self->turn_ != turn) return;
        self->text_ = std::move(text);
        self->replied_.cancel();
      });
    });
    become(State::answered);
    replied_.expires_after(shared_.options.patience.record);
    error_code ended;  // by a reply, or by time
    co_await replied_.async_wait(net::redirect_error(net::use_awaitable, ended));
    ++turn_;
    co_return std::move(text_);
  }

  net::awaitable<void> be_phone(BeastRequest upgrade) {
    become(State::phone);
    const Phone phone = ++shared_.last_phone;
    phone_ = make_phone(shared_, phone, stream_.release_socket(), std::move(upgrade));
    struct Listed {
      Shared& shared;
      Phone phone;
      ~Listed() { shared.phones.erase(phone); }
    };
    const Listed listed{shared_, phone};
    shared_.phones.emplace(phone, phone_);
    co_await phone_->run();
  }

  Shared& shared_;
  beast::tcp_stream stream_;
  net::steady_timer deadline_, replied_;
  // What the parser has not yet understood, of this request or beyond it.
  beast::flat_buffer buffer_{kLongestHeader};
  std::string from_;
  bool reading_ = false, late_ = false;
  std::uint64_t turn_ = 0;
  std::optional<std::string> text_;
  std::shared_ptr<PhoneSession> phone_;
};

}  // namespace

std::shared_ptr<Connection> make_connection(Shared& shared, tcp::socket socket) {
  return std::make_shared<HttpConnection>(shared, std::move(socket));
}

}  // namespace hangtrue::page
