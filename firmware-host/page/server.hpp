// server.hpp: the page's server: HTTP and WebSocket for phones, on a thread of its own.
//
//   GET /  /page.js  /page.css  ...   the page's files, inside the binary; HEAD likewise. Compressed by gzip, whatever the client
//                                     says it takes: every browser does
//   GET /live (upgrade)               frames as in messages.hpp
//   POST /pair                        the pairing code, once a phone; a cookie in return
//   GET /record/ID.txt                a survey as text
//   GET /print/record/ID.pdf ...      documents to print and to keep (content.hpp)
//
// State    topics, each a JSON text, the latest whole. publish() replaces one; a phone is sent what is new to it whenever its
//          socket has room, so a slow phone misses what was replaced meanwhile, and holds up nobody. What waits for one phone
//          is bounded: one frame on its way, and kMostAnswers. Frames are not compressed: it would cost memory for each phone.
// Access   on a loopback address everybody on this machine. On any other a phone must be paired: it enters the code once, and
//          carries a cookie (HttpOnly, SameSite=Strict) from then on; also after the daemon was started anew (key_path).
//          Limits of attempts, and what pairing does not keep out (whoever can listen on the network): pairing.hpp.
// Browsers Host must be a numeric address or this machine's name (also NAME.local), with this port, so that no foreign name is
//          made to point here; Origin must be this page's own on an upgrade and on POST; what a browser says comes from
//          another site is refused, but for following a link to "/".
// Limits   limits.hpp: counts, sizes and times.
// Threads  publish(), answer(), pairing_code(), pair_one() and stop() from any, stop() not from a hook; the calls in Hooks come on the
//          server's own thread, none after stop().
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/result.hpp"
#include "firmware-host/page/content.hpp"
#include "firmware-host/page/limits.hpp"
#include "firmware-host/page/pairing.hpp"

namespace hangtrue::page {

using Phone = std::uint64_t;  // one WebSocket connection

/// One of the page's files, compressed by gzip.
struct Asset {
  std::string_view path, type, bytes;
};
/// Of this build; assets.cpp is made by the build. The first is "/".
[[nodiscard]] const std::vector<Asset>& assets();
/// Changes when any of them does.
[[nodiscard]] std::string_view build();

struct Options {
  std::string address = "127.0.0.1";  // numeric; 0.0.0.0: every one of IPv4; "::": of IPv6 too
  std::uint16_t port = 8765;          // 0: any that is free
  /// A file of its own for what pairing must remember; empty: phones pair anew at each start. Not used on loopback.
  std::string key_path = {};
  Patience patience = {};
  PairingWords pairing = {};
};

struct Hooks {
  /// A whole text frame, as it came. Each wants one answer(); a phone that does not wait for them is closed.
  std::function<void(Phone phone, std::string frame)> said = {};
  /// Once for each phone, also for one that said nothing.
  std::function<void(Phone phone)> gone = {};
  /// A survey as text, or empty: there is none. `reply` may be called later, from any thread.
  std::function<void(std::string survey, std::function<void(std::string text)> reply)> record = {};
  /// A document, or a sentence that says why there is none. `reply` likewise.
  std::function<void(Document document, std::function<void(std::string pdf)> reply)> print = {};
  /// A sentence for the log: a phone was paired, codes were tried.
  std::function<void(std::string sentence)> note = {};
};

class Server {
 public:
  /// Listens at once. A sentence when it cannot: the address is in use, or is none.
  [[nodiscard]] static Result<std::unique_ptr<Server>, std::string> start(const Options& options,
                                                                          Hooks hooks);
  ~Server();  // as stop()
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  /// The same text again is no news.
  void publish(std::string_view topic, std::string json);
  /// An Answer as JSON, to that phone alone; dropped when it has gone.
  void answer(Phone phone, std::string json);
  void stop();

  /// "http://127.0.0.1:8765/", for every address that it could be reached by when it started; this machine's own last.
  [[nodiscard]] const std::vector<std::string>& addresses() const;
  /// "4831 7702"; empty on loopback.
  [[nodiscard]] std::string pairing_code() const;
  /// Another one, which lets one phone in, within kOnceFor; empty on loopback.
  [[nodiscard]] std::string pair_one();
  [[nodiscard]] std::uint16_t port() const;

 private:
  class Core;
  explicit Server(std::shared_ptr<Core> core);
  std::shared_ptr<Core> core_;
};

}  // namespace hangtrue::page
