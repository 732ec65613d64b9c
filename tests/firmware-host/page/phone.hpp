// phone.hpp: a phone's browser as bare sockets, by hand so that it can also do what no browser does: replies of HTTP/1.1 by
// RFC 9112, frames of WebSocket by RFC 6455. Waits are generous; whoever waits longer says so with a failure.
#pragma once

#include <arpa/inet.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace hangtrue::page::test {

inline constexpr int kPatient_ms = 60'000;

/// A TCP connection to a port of this machine.
class Wire {
 public:
  /// `from`: an address of this machine, 127.0.0.1 to 127.255.255.254.
  explicit Wire(std::uint16_t port, int receive_buffer = 0, std::uint32_t from = INADDR_LOOPBACK)
      : descriptor_(::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    EXPECT_GE(descriptor_, 0);
    if (receive_buffer > 0) set(SOL_SOCKET, SO_RCVBUF, receive_buffer);
    set(IPPROTO_TCP, TCP_NODELAY, 1);
    sockaddr_in here{};
    here.sin_family = AF_INET;
    here.sin_addr.s_addr = htonl(from);
    if (from != INADDR_LOOPBACK) {
      EXPECT_EQ(::bind(descriptor_, reinterpret_cast<const sockaddr*>(&here), sizeof here), 0);
    }
    sockaddr_in there{};
    there.sin_family = AF_INET;
    there.sin_port = htons(port);
    there.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    connected_ = ::connect(descriptor_, reinterpret_cast<const sockaddr*>(&there), sizeof there) == 0;
  }
  ~Wire() {
    if (descriptor_ >= 0) ::close(descriptor_);
  }
  Wire(Wire&& other) noexcept
      : descriptor_(std::exchange(other.descriptor_, -1)),
        connected_(other.connected_),
        ended_(other.ended_),
        waiting_(std::move(other.waiting_)) {}
  Wire& operator=(Wire&&) = delete;

  [[nodiscard]] bool connected() const { return connected_; }
  /// False: the other end takes no more.
  bool send(std::string_view bytes) {
    while (!bytes.empty()) {
      const ssize_t size = ::send(descriptor_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
      if (size <= 0) return false;
      bytes.remove_prefix(static_cast<std::size_t>(size));
    }
    return true;
  }
  void end_sending() { ::shutdown(descriptor_, SHUT_WR); }
  /// As when a phone's battery is taken out, seen from nearer by: a reset.
  void reset() {
    const linger at_once{1, 0};
    ::setsockopt(descriptor_, SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
    ::close(std::exchange(descriptor_, -1));
  }
  /// That many bytes; fewer when the other end closed before.
  std::string read(std::size_t size) {
    while (waiting_.size() < size && more()) {
    }
    std::string bytes = waiting_.substr(0, size);
    waiting_.erase(0, bytes.size());
    return bytes;
  }
  /// Up to and with these; everything when the other end closed before.
  std::string read_to(std::string_view mark) {
    std::size_t at = 0;
    while ((at = waiting_.find(mark)) == std::string::npos)
      if (!more()) return std::exchange(waiting_, {});
    std::string bytes = waiting_.substr(0, at + mark.size());
    waiting_.erase(0, bytes.size());
    return bytes;
  }
  std::string read_all() {
    while (more()) {
    }
    return std::exchange(waiting_, {});
  }
  /// Whether something can be read, or the end, now or within that time.
  bool has_news(int within_ms) {
    if (!waiting_.empty() || ended_) return true;
    pollfd one{descriptor_, POLLIN, 0};
    return ::poll(&one, 1, within_ms) > 0;
  }

 private:
  void set(int level, int name, int value) { ::setsockopt(descriptor_, level, name, &value, sizeof value); }
  bool more() {
    if (ended_) return false;
    pollfd one{descriptor_, POLLIN, 0};
    if (::poll(&one, 1, kPatient_ms) == 0) ADD_FAILURE() << "nothing came within " << kPatient_ms << " ms";
    std::array<char, 16384> chunk;
    const ssize_t size = ::recv(descriptor_, chunk.data(), chunk.size(), MSG_DONTWAIT);
    if (size > 0) waiting_.append(chunk.data(), static_cast<std::size_t>(size));
    ended_ = size <= 0;
    return !ended_;
  }
  int descriptor_;
  bool connected_ = false, ended_ = false;
  std::string waiting_;
};

struct Answered {
  int status = 0;  // 0: none came
  std::multimap<std::string, std::string> fields;
  std::string body;
  [[nodiscard]] std::string field(const std::string& name) const {
    const auto found = fields.find(name);
    return found == fields.end() ? std::string() : found->second;
  }
};

inline Answered read_reply(Wire& wire, bool head = false) {
  Answered reply;
  const std::string first = wire.read_to("\r\n");
  if (!first.starts_with("HTTP/1.1 ") || first.size() < 14) return reply;
  reply.status = std::stoi(first.substr(9, 3));
  while (true) {
    const std::string line = wire.read_to("\r\n");
    if (line.size() <= 2) break;
    const auto colon = line.find(": ");
    reply.fields.emplace(line.substr(0, colon), line.substr(colon + 2, line.size() - colon - 4));
  }
  const std::string length = reply.field("Content-Length");
  if (!head && !length.empty()) reply.body = wire.read(std::stoul(length));
  return reply;
}

/// "GET /live" and whatever fields; Host and the rest as a browser would, where they are not given.
struct Asking {
  std::string line;
  std::map<std::string, std::string> fields = {};  // an empty value: not sent
  std::string body = {};
  [[nodiscard]] std::string text(std::uint16_t port) const {
    std::map<std::string, std::string> all = fields;
    all.emplace("Host", "127.0.0.1:" + std::to_string(port));
    if (!line.starts_with("GET") && !line.starts_with("HEAD"))
      all.emplace("Origin", "http://127.0.0.1:" + std::to_string(port));
    if (!body.empty()) all.emplace("Content-Length", std::to_string(body.size()));
    std::string text = line + " HTTP/1.1\r\n";
    for (const auto& [name, value] : all)
      if (!value.empty()) text += name + ": " + value + "\r\n";
    return text + "\r\n" + body;
  }
};

inline Asking upgrade(std::uint16_t port, std::map<std::string, std::string> fields = {}) {
  fields.emplace("Origin", "http://127.0.0.1:" + std::to_string(port));
  fields.emplace("Connection", "Upgrade");
  fields.emplace("Upgrade", "websocket");
  fields.emplace("Sec-WebSocket-Version", "13");
  fields.emplace("Sec-WebSocket-Key", "dGhlIHNhbXBsZSBub25jZQ==");  // RFC 6455, section 1.3
  return {"GET /live", std::move(fields)};
}

enum Opcode : unsigned { kMore = 0, kText = 1, kBinary = 2, kClose = 8, kPing = 9, kPong = 10 };

/// As a client sends it: masked, unless that is to be wrong.
inline std::string frame(unsigned opcode, std::string_view payload, bool last = true, bool masked = true) {
  std::string bytes{static_cast<char>(opcode | (last ? 0x80u : 0u))};
  const char mask_bit = static_cast<char>(masked ? 0x80 : 0);
  if (payload.size() < 126) {
    bytes += static_cast<char>(mask_bit | static_cast<char>(payload.size()));
  } else if (payload.size() < 65536) {
    bytes += static_cast<char>(mask_bit | 126);
    for (int shift = 8; shift >= 0; shift -= 8) bytes += static_cast<char>(payload.size() >> shift & 0xff);
  } else {
    bytes += static_cast<char>(mask_bit | 127);
    for (int shift = 56; shift >= 0; shift -= 8) bytes += static_cast<char>(payload.size() >> shift & 0xff);
  }
  constexpr std::string_view kMask = "\x37\xfa\x21\x3d";
  if (!masked) return bytes.append(payload);
  bytes += kMask;
  for (std::size_t i = 0; i < payload.size(); ++i) bytes += static_cast<char>(payload[i] ^ kMask[i % 4]);
  return bytes;
}

/// A page that is open on a phone.
class OpenPage {
 public:
  explicit OpenPage(std::uint16_t port, std::map<std::string, std::string> fields = {},
                    int receive_buffer = 0)
      : wire_(port, receive_buffer) {
    wire_.send(upgrade(port, std::move(fields)).text(port));
    reply_ = read_reply(wire_);
  }
  [[nodiscard]] const Answered& reply() const { return reply_; }
  [[nodiscard]] bool open() const { return reply_.status == 101; }
  Wire& wire() { return wire_; }
  bool say(std::string_view text) { return wire_.send(frame(kText, text)); }
  bool send(const std::string& bytes) { return wire_.send(bytes); }

  /// The next whole text. Pings are answered meanwhile. Empty: the other end closed; see closed().
  std::string hear() {
    std::string text;
    while (true) {
      const Frame came = next();
      switch (came.opcode) {
        case kMore:
        case kText:
          text += came.payload;
          if (came.last) return text;
          break;
        case kPing:
          ++pings;
          if (pongs) send(frame(kPong, came.payload));
          break;
        case kPong:
          pong = came.payload;
          break;
        case kClose:
          if (came.payload.size() >= 2)
            closed_ = static_cast<unsigned char>(came.payload[0]) << 8 |
                      static_cast<unsigned char>(came.payload[1]);
          send(frame(kClose, came.payload));
          wire_.end_sending();
          return {};
        default:
          return {};
      }
    }
  }
  /// Hears until a text has this in it; what came last.
  std::string hear_of(std::string_view part) {
    std::string text;
    do text = hear();
    while (!text.empty() && text.find(part) == std::string::npos);
    return text;
  }
  [[nodiscard]] int closed() const { return closed_; }  // the code; 0: none came
  void hear_pong(std::string_view payload) {
    while (pong != payload) {
      const Frame came = next();
      if (came.opcode == kPong) pong = came.payload;
      if (came.opcode != kEnd) continue;
      ADD_FAILURE() << "closed without a pong";
      return;
    }
  }

  bool pongs = true;
  int pings = 0;
  std::string pong;

 private:
  static constexpr unsigned kEnd = 99;
  struct Frame {
    unsigned opcode = kEnd;
    bool last = true;
    std::string payload = {};
  };
  Frame next() {
    const std::string head = wire_.read(2);
    if (head.size() < 2) return {};
    const auto byte = [](char one) { return static_cast<unsigned char>(one); };
    Frame frame{byte(head[0]) & 15u, (byte(head[0]) & 0x80) != 0};
    EXPECT_EQ(byte(head[0]) & 0x70, 0) << "no extension was agreed";
    EXPECT_EQ(byte(head[1]) & 0x80, 0) << "a server does not mask";
    std::uint64_t length = byte(head[1]) & 0x7f;
    if (length >= 126) {
      const std::string more = wire_.read(length == 126 ? 2 : 8);
      length = 0;
      for (const char one : more) length = length << 8 | byte(one);
    }
    frame.payload = wire_.read(length);
    return frame;
  }
  Wire wire_;
  Answered reply_;
  int closed_ = 0;
};

}  // namespace hangtrue::page::test
