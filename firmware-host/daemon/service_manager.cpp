#include "firmware-host/daemon/service_manager.hpp"

#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>

namespace hangtrue::daemon {
namespace {

std::string taken_from_environment(const char* name) {
  const char* const value = std::getenv(name);
  std::string text = value == nullptr ? "" : value;
  ::unsetenv(name);
  return text;
}

template <class Number>
std::optional<Number> number(std::string_view text) {
  Number value{};
  const char* const end = text.data() + text.size();
  const auto [stopped, error] = std::from_chars(text.data(), end, value);
  return error == std::errc() && stopped == end && !text.empty() ? std::optional(value) : std::nullopt;
}

}  // namespace

ServiceManager::ServiceManager() : address_(taken_from_environment("NOTIFY_SOCKET")) {
  const std::string pid = taken_from_environment("WATCHDOG_PID");
  const auto waits_us = number<std::int64_t>(taken_from_environment("WATCHDOG_USEC"));
  if (address_.empty() || address_.size() >= sizeof(sockaddr_un::sun_path) ||
      (address_[0] != '/' && address_[0] != '@'))
    return;
  if (address_[0] == '@') address_[0] = '\0';
  socket_ = ::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
  if (waits_us && *waits_us > 1 && (pid.empty() || number<std::int64_t>(pid) == ::getpid()))
    watchdog_every_ = std::chrono::microseconds(*waits_us / 2);
}

ServiceManager::~ServiceManager() {
  if (socket_ >= 0) ::close(socket_);
}

void ServiceManager::notify(std::string_view state) const {
  if (socket_ < 0) return;
  sockaddr_un to{};
  to.sun_family = AF_UNIX;
  std::memcpy(to.sun_path, address_.data(), address_.size());
  const auto size = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + address_.size());
  (void)::sendto(socket_, state.data(), state.size(), MSG_NOSIGNAL, reinterpret_cast<const sockaddr*>(&to),
                 size);
}

bool is_journal(int descriptor) {
  const char* const stream = std::getenv("JOURNAL_STREAM");
  struct stat file {};
  if (stream == nullptr || ::fstat(descriptor, &file) != 0) return false;
  return stream == std::to_string(file.st_dev) + ':' + std::to_string(file.st_ino);
}

std::string for_journal(int level, std::string_view lines) {
  const std::string before = '<' + std::to_string(std::clamp(level, 0, 7)) + '>';
  std::string out;
  while (!lines.empty()) {
    const std::size_t end = std::min(lines.find('\n'), lines.size() - 1) + 1;
    out += before;
    out += lines.substr(0, end);
    lines.remove_prefix(end);
  }
  return out;
}

}  // namespace hangtrue::daemon
