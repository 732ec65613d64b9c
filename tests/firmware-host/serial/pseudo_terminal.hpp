// pseudo_terminal.hpp: the far end of a serial line, for tests: what a device would do.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>
#include <filesystem>
#include <string>
#include <string_view>
#include <utility>

namespace hangtrue::test {

/// A directory of its own for one test, gone afterwards.
class ScratchDirectory {
 public:
  ScratchDirectory() {
    std::string pattern = (std::filesystem::temp_directory_path() / "hangtrue-test-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) ADD_FAILURE() << "cannot make " << pattern;
    path_ = pattern;
  }
  ~ScratchDirectory() {
    std::error_code ignored;  // a leftover in the temporary directory fails no test
    std::filesystem::remove_all(path_, ignored);
  }
  ScratchDirectory(const ScratchDirectory&) = delete;
  ScratchDirectory& operator=(const ScratchDirectory&) = delete;
  [[nodiscard]] std::string operator/(std::string_view name) const { return (path_ / name).string(); }

 private:
  std::filesystem::path path_;
};

/// One pseudo-terminal pair. The slave is reached by its name; the master is the device's hand.
class PseudoTerminal {
 public:
  PseudoTerminal() : master_(::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC)) {
    if (master_ < 0 || ::grantpt(master_) != 0 || ::unlockpt(master_) != 0)
      ADD_FAILURE() << "no pseudo-terminal to be had";
    // Raw from the start: bytes written before the reader has set its own mode are not echoed back.
    termios settings{};
    ::tcgetattr(master_, &settings);
    ::cfmakeraw(&settings);
    ::tcsetattr(master_, TCSANOW, &settings);
  }
  ~PseudoTerminal() { hang_up(); }
  PseudoTerminal(const PseudoTerminal&) = delete;
  PseudoTerminal& operator=(const PseudoTerminal&) = delete;

  [[nodiscard]] std::string slave() const { return ::ptsname(master_); }

  /// Points the link at this terminal in one step, as a device manager does.
  void take_link(const std::string& link) const {
    const std::string made = link + ".new";
    std::filesystem::remove(made);
    std::filesystem::create_symlink(slave(), made);
    std::filesystem::rename(made, link);
  }

  void write(std::string_view bytes) const {
    while (!bytes.empty()) {
      const ssize_t written = ::write(master_, bytes.data(), bytes.size());
      if (written < 0) {
        ADD_FAILURE() << "write to the pseudo-terminal failed, errno " << errno;
        return;
      }
      bytes.remove_prefix(static_cast<std::size_t>(written));
    }
  }

  /// The device's hand itself, to be read and waited for. Reading fails while nobody has the slave open.
  [[nodiscard]] int master() const { return master_; }
  /// What has been sent to the device so far; empty when nothing has.
  [[nodiscard]] std::string read() const {
    std::string bytes(64 * 1024, '\0');
    pollfd ready{.fd = master_, .events = POLLIN, .revents = 0};
    if (::poll(&ready, 1, 0) <= 0 || (ready.revents & POLLIN) == 0) return {};
    const ssize_t length = ::read(master_, bytes.data(), bytes.size());
    bytes.resize(length > 0 ? static_cast<std::size_t>(length) : 0);
    return bytes;
  }

  /// Closing discards what the reader has not read yet: wait for it first where that matters.
  void hang_up() {
    if (master_ >= 0) ::close(master_);
    master_ = -1;
  }

 private:
  int master_;
};

}  // namespace hangtrue::test
