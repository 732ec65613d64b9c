// url.hpp: what of URLs the page's server reads, by Boost.URL (RFC 3986). Pure.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace hangtrue::page {

/// Of "%41". Nothing: an escape in it is broken.
[[nodiscard]] std::optional<std::string> unescaped(std::string_view text);

/// Of a form as browsers send it, "code=4831+7702&...": the first field of that name, + read as a space. Empty: there is none,
/// or the form is broken.
[[nodiscard]] std::string form_field(std::string_view form, std::string_view name);

/// "127.0.0.1:8765", "[::1]:8765", "shelf.local".
struct Host {
  bool is_address = false, is_loopback = false;
  std::string name;                 // as it was written, without brackets; not unescaped
  std::optional<std::string> port;  // as it was written
};
/// Nothing: it is no host, or more than that.
[[nodiscard]] std::optional<Host> parse_host(std::string_view text);

}  // namespace hangtrue::page
