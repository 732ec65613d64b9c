// address.hpp: where a broker is: mqtt://[USER@]HOST[:PORT], or mqtts:// for one that speaks TLS.
//
// A password is no part of it: command lines can be read by everybody on a machine. Source of the form: RFC 3986; there is no
// registered scheme of these names, they are common practice.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "core/quantity/result.hpp"

namespace hangtrue::broker {

struct Address {
  bool tls = false;
  std::string user;  // empty: none
  std::string host;  // a name, or an address in numbers; version 6 without its brackets
  std::uint16_t port = 0;

  /// "mqtt://broker.example:1883"; without the user.
  [[nodiscard]] std::string text() const;
  /// On this machine: nobody listens on the way.
  [[nodiscard]] bool is_loopback() const;
};

/// Or what is wrong with it and what would be right, to stand behind the option's name.
[[nodiscard]] Result<Address, std::string> parse_address(std::string_view text);

}  // namespace hangtrue::broker
