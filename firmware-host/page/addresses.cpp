#include "firmware-host/page/addresses.hpp"

#include <ifaddrs.h>
#include <net/if.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstring>

#include <boost/asio/error.hpp>
#include <boost/asio/ip/tcp.hpp>

namespace hangtrue::page {

namespace {

namespace net = boost::asio;
using tcp = net::ip::tcp;

/// Of this machine, by which it can be reached with that kind of listening address; its own last.
std::vector<net::ip::address> own_addresses(bool with_v6) {
  std::vector<net::ip::address> found;
  ifaddrs* list = nullptr;
  if (::getifaddrs(&list) != 0) return {net::ip::address_v4::loopback()};
  for (const ifaddrs* one = list; one != nullptr; one = one->ifa_next) {
    if (one->ifa_addr == nullptr || (one->ifa_flags & IFF_UP) == 0) continue;
    tcp::endpoint endpoint;
    if (one->ifa_addr->sa_family == AF_INET) {
      std::memcpy(endpoint.data(), one->ifa_addr, sizeof(sockaddr_in));
    } else if (one->ifa_addr->sa_family == AF_INET6 && with_v6) {
      endpoint = tcp::endpoint(tcp::v6(), 0);
      std::memcpy(endpoint.data(), one->ifa_addr, sizeof(sockaddr_in6));
      if (endpoint.address().to_v6().is_link_local()) continue;  // no browser takes one
    } else {
      continue;
    }
    found.push_back(endpoint.address());
  }
  ::freeifaddrs(list);
  std::stable_partition(found.begin(), found.end(), [](const auto& one) { return !one.is_loopback(); });
  return found;
}

}  // namespace

std::string with_port(const net::ip::address& address, std::uint16_t port) {
  const std::string text = address.to_string();
  return (address.is_v6() ? '[' + text + ']' : text) + ':' + std::to_string(port);
}

std::vector<std::string> urls_of(const net::ip::address& listening, std::uint16_t port) {
  std::vector<std::string> urls;
  const auto reached = listening.is_unspecified() ? own_addresses(listening.is_v6()) : std::vector{listening};
  for (const net::ip::address& one : reached) urls.push_back("http://" + with_port(one, port) + '/');
  return urls;
}

std::vector<std::string> own_names() {
  std::array<char, 256> buffer{};
  if (::gethostname(buffer.data(), buffer.size() - 1) != 0) return {};
  const std::string name(buffer.data()), first = name.substr(0, name.find('.'));
  if (first.empty()) return {};
  return {name, first, first + ".local"};
}

std::string cannot_listen(const net::ip::address& address, std::uint16_t port,
                          const boost::system::error_code& error) {
  const std::string where = with_port(address, port);
  if (error == net::error::address_in_use)
    return where +
           " is in use by another program; end that program, or give another port (0: any that is free)";
  if (error == boost::system::errc::address_not_available) {
    std::string own;
    for (const net::ip::address& one : own_addresses(true))
      own += (own.empty() ? "" : ", ") + one.to_string();
    return "this machine has no address " + address.to_string() + ", but " + own;
  }
  if (error == net::error::access_denied)
    return "this user may not listen at " + where + "; give a port from 1024 on";
  return "cannot listen at " + where + " (" + error.message() + "); give another address or port";
}

}  // namespace hangtrue::page
