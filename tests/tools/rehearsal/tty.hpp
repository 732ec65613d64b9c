// tty.hpp: the daemon's end of a line, for tests.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <string>
#include <string_view>

namespace hangtrue::rehearsal {

/// A reader of a tty, as a daemon would be one: opened by its link.
class Tty {
 public:
  explicit Tty(const std::filesystem::path& link) : descriptor_(::open(link.c_str(), O_RDWR | O_NOCTTY)) {}
  ~Tty() { ::close(descriptor_); }
  Tty(const Tty&) = delete;
  Tty& operator=(const Tty&) = delete;
  [[nodiscard]] bool open() const { return descriptor_ >= 0; }
  /// The next bytes; empty at the end of the line (hang-up), or when none come for ten seconds.
  [[nodiscard]] std::string read() const {
    pollfd wanted{descriptor_, POLLIN, 0};
    if (::poll(&wanted, 1, 10'000) <= 0) return {};
    char bytes[4096];
    const ssize_t size = ::read(descriptor_, bytes, sizeof bytes);
    return {bytes, static_cast<std::size_t>(std::max<ssize_t>(size, 0))};
  }
  void write(std::string_view bytes) const {
    ASSERT_EQ(::write(descriptor_, bytes.data(), bytes.size()), ssize_t(bytes.size()));
  }
  /// Forgets what has come.
  void flush() const { (void)::tcflush(descriptor_, TCIFLUSH); }
  [[nodiscard]] int unread() const {
    int bytes = 0;
    return ::ioctl(descriptor_, FIONREAD, &bytes) == 0 ? bytes : -1;
  }

 private:
  int descriptor_;
};

}  // namespace hangtrue::rehearsal
