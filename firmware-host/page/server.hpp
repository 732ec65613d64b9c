// server.hpp: the page's server: HTTP and WebSocket for phones, on a thread of its own.
//
//   GET /  /page.js  /page.css  ...   the page's files, inside the binary
//   GET /live (upgrade)               frames as in messages.hpp
//   POST /pair                        the pairing code, once a phone; a cookie in return
//   GET /record/ID.txt                a survey as text
//
// State    topics, each a JSON text, the latest whole. publish() replaces one; a phone is sent what is new to it whenever its
//          socket has room, so a slow phone misses what was replaced meanwhile, and holds up nobody. What waits for one phone
//          is bounded by the sizes of the topics and kMostAnswers.
// Access   on a loopback address everybody on this machine. On any other a phone must be paired: it enters the code once, and
//          carries a cookie (HttpOnly, SameSite=Strict) from then on; also after the daemon was started anew (key_path).
//          Wrong codes are limited: kMostWrong, then a wait that doubles. Host and Origin are checked throughout.
// Limits   kMostConnections (the one that waits longest without having asked goes first), kLongestHeader, kLongestBody,
//          kLongestFrame, kPatience for each request.
// Threads  publish(), answer() and stop() from any; the calls in Hooks come on the server's own thread.
#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/result.hpp"

namespace hangtrue::page {

inline constexpr std::size_t kMostConnections = 256, kMostPhones = 64, kMostAnswers = 16;
inline constexpr std::size_t kLongestHeader = 8192, kLongestBody = 1024, kLongestFrame = 4096;
inline constexpr std::chrono::seconds kPatience{5};  // for a whole request; between two of them 15 s
inline constexpr int kMostWrong = 5;                 // pairing codes, before the first wait

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
  std::string address = "127.0.0.1";  // numeric; 0.0.0.0: every one
  std::uint16_t port = 8765;          // 0: any that is free
  std::string key_path;  // a file of its own for what pairing must remember; not used on loopback
};

struct Hooks {
  /// A whole text frame, as it came.
  std::function<void(Phone phone, std::string frame)> said = {};
  std::function<void(Phone phone)> gone = {};
  /// A survey as text, or empty: there is none. `reply` may be called later, from any thread.
  std::function<void(std::string survey, std::function<void(std::string text)> reply)> record = {};
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

  void publish(std::string_view topic, std::string json);
  /// An Answer as JSON, to that phone alone; dropped when it has gone.
  void answer(Phone phone, std::string json);
  void stop();

  /// "http://127.0.0.1:8765/", for every address it can be reached by.
  [[nodiscard]] const std::vector<std::string>& addresses() const;
  /// "4831 7702"; empty on loopback.
  [[nodiscard]] std::string pairing_code() const;
  [[nodiscard]] std::uint16_t port() const;

 private:
  class Work;
  explicit Server(std::unique_ptr<Work> work);
  std::unique_ptr<Work> work_;
};

}  // namespace hangtrue::page
