#include "firmware-host/broker/address.hpp"

#include <algorithm>
#include <charconv>
#include <optional>

#include "firmware-host/broker/limits.hpp"

namespace hangtrue::broker {
namespace {

constexpr std::string_view kWanted =
    "expected mqtt://HOST, mqtts://HOST, or with a user and a port, such as "
    "mqtt://logger@broker.example:1883";

std::string wrong(std::string_view what) { return std::string(what) + "; " + std::string(kWanted); }

bool is_of_host(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '-' ||
         c == '_';
}
bool is_of_version_6(char c) {
  return (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F') || (c >= '0' && c <= '9') || c == ':' || c == '.';
}

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/// "%40" is "@".
std::optional<std::string> decoded(std::string_view text) {
  std::string all;
  for (std::size_t i = 0; i < text.size(); ++i) {
    char c = text[i];
    if (c == '%') {
      const int high = i + 1 < text.size() ? hex_digit(text[i + 1]) : -1;
      const int low = i + 2 < text.size() ? hex_digit(text[i + 2]) : -1;
      if (high < 0 || low < 0) return std::nullopt;
      c = static_cast<char>(16 * high + low);
      i += 2;
    }
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) return std::nullopt;
    all += c;
  }
  return all;
}

}  // namespace

std::string Address::text() const {
  const bool is_version_6 = host.find(':') != std::string::npos;
  return (tls ? "mqtts://" : "mqtt://") + (is_version_6 ? '[' + host + ']' : host) + ':' +
         std::to_string(port);
}

bool Address::is_loopback() const { return host == "localhost" || host == "::1" || host.starts_with("127."); }

Result<Address, std::string> parse_address(std::string_view text) {
  Address address;
  if (text.starts_with("mqtts://"))
    address.tls = true;
  else if (!text.starts_with("mqtt://"))
    return wrong("it does not begin with mqtt:// or mqtts://");
  std::string_view rest = text.substr(text.find("//") + 2);
  if (const std::size_t at = rest.rfind('@'); at != std::string_view::npos) {
    const std::string_view user = rest.substr(0, at);
    if (user.find(':') != std::string_view::npos)
      return std::string(
          "a password does not belong on a command line, which others on this machine can read: give it by "
          "--broker-password-file or in HANGTRUE_BROKER_PASSWORD; a \":\" within the user's name is written "
          "%3A");
    const auto name = decoded(user);
    if (!name || name->empty()) return wrong("there is no user before the \"@\"");
    address.user = *name;
    rest.remove_prefix(at + 1);
  }
  std::string_view port;
  if (rest.starts_with('[')) {
    const std::size_t end = std::min(rest.find(']'), rest.size() - 1);
    const std::string_view host = rest.substr(1, end - 1);
    if (rest[end] != ']' || host.find(':') == std::string_view::npos ||
        !std::all_of(host.begin(), host.end(), is_of_version_6))
      return wrong("what stands in brackets is no address of version 6");
    address.host = host;
    port = rest.substr(end + 1);
  } else {
    const std::size_t end = std::min(rest.find(':'), rest.size());
    address.host = rest.substr(0, end);
    port = rest.substr(end);
    if (address.host.empty()) return wrong("there is no host");
    if (!std::all_of(address.host.begin(), address.host.end(), is_of_host))
      return wrong('"' + address.host + "\" is no host");
  }
  address.port = address.tls ? kPortOfTls : kPort;
  if (port.empty()) return address;
  const auto [stopped, error] = std::from_chars(port.data() + 1, port.data() + port.size(), address.port);
  if (port.front() != ':' || error != std::errc() || stopped != port.data() + port.size() ||
      address.port == 0)
    return wrong('"' + std::string(port) + "\" is no port from 1 to 65535");
  return address;
}

}  // namespace hangtrue::broker
