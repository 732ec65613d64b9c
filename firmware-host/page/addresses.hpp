// addresses.hpp: this machine's addresses and names, as a phone on its network uses them.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include <boost/asio/ip/address.hpp>
#include <boost/system/error_code.hpp>

namespace hangtrue::page {

/// "127.0.0.1:8765", "[::1]:8765"
[[nodiscard]] std::string with_port(const boost::asio::ip::address& address, std::uint16_t port);
/// "http://127.0.0.1:8765/" for each by which it can be reached when it listens there; this machine's own last.
[[nodiscard]] std::vector<std::string> urls_of(const boost::asio::ip::address& listening, std::uint16_t port);
/// As the machine has them: its name, the first part, and that in the local domain.
[[nodiscard]] std::vector<std::string> own_names();
/// Why it cannot listen there, and what would do.
[[nodiscard]] std::string cannot_listen(const boost::asio::ip::address& address, std::uint16_t port,
                                        const boost::system::error_code& error);

}  // namespace hangtrue::page
