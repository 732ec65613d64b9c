// request.hpp: a request and a reply of HTTP as the page's server decides by them, apart from the library that reads and writes
// them. Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace hangtrue::page {

/// Views into a message that outlives it.
struct Request {
  enum class Method { get, head, post, other };
  Method method = Method::other;
  std::string_view target, body;
  std::vector<std::pair<std::string_view, std::string_view>> fields;
  bool is_upgrade = false;  // to a WebSocket, as RFC 6455 asks for

  [[nodiscard]] bool reads() const { return method == Method::get || method == Method::head; }
  /// Without what follows a question mark.
  [[nodiscard]] std::string_view path() const { return target.substr(0, target.find('?')); }
  /// All of that name, whatever its case.
  [[nodiscard]] std::vector<std::string_view> all(std::string_view name) const;
  /// The first of that name; empty: there is none.
  [[nodiscard]] std::string_view field(std::string_view name) const;
};

struct Reply {
  int status = 200;
  std::string text = {};
  std::string_view type = "text/plain; charset=utf-8";
  std::vector<std::pair<std::string_view, std::string>> more = {};  // header fields
  std::string policy = {};                                          // empty: that of the page
  std::string_view file = {};  // in the place of text; outlives the reply

  [[nodiscard]] std::string_view body() const { return file.empty() ? std::string_view(text) : file; }
};

/// A sentence as plain text.
[[nodiscard]] Reply say(int status, std::string sentence);
/// 405. "GET, HEAD"
[[nodiscard]] Reply only(std::string_view methods);

/// Every header field of it but Connection. `host`: as it was asked for and found to be ours, or empty.
[[nodiscard]] std::vector<std::pair<std::string_view, std::string>> header_of(const Reply& reply,
                                                                              std::string_view host,
                                                                              bool on_loopback);

/// For a sentence: short, and nothing but printable ASCII.
[[nodiscard]] std::string in_quotes(std::string_view text);
/// Whatever the case of ASCII letters.
[[nodiscard]] bool same_name(std::string_view a, std::string_view b);

}  // namespace hangtrue::page
