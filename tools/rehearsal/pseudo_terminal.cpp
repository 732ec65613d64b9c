#include "tools/rehearsal/pseudo_terminal.hpp"

#include <fcntl.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <system_error>
#include <utility>

namespace hangtrue::rehearsal {

namespace {

[[noreturn]] void fail(const char* what) { throw std::system_error(errno, std::generic_category(), what); }

}  // namespace

PseudoTerminal::PseudoTerminal(std::filesystem::path link) : link_(std::move(link)) {
  ours_ = ::posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (ours_ < 0) fail("opening a pseudo-terminal");
  try {
    std::array<char, 128> name{};
    if (::grantpt(ours_) != 0 || ::unlockpt(ours_) != 0 ||
        ::ptsname_r(ours_, name.data(), name.size()) != 0) {
      fail("preparing a pseudo-terminal");
    }
    theirs_ = ::open(name.data(), O_RDWR | O_NOCTTY | O_CLOEXEC);
    termios settings{};
    if (theirs_ < 0 || ::tcgetattr(theirs_, &settings) != 0) fail("opening the far end of a pseudo-terminal");
    ::cfmakeraw(&settings);
    if (::tcsetattr(theirs_, TCSANOW, &settings) != 0) fail("making a pseudo-terminal raw");

    std::filesystem::path fresh = link_;
    fresh += ".new";
    std::filesystem::remove(fresh);
    std::filesystem::create_symlink(name.data(), fresh);
    std::filesystem::rename(fresh, link_);
  } catch (...) {
    if (theirs_ >= 0) ::close(theirs_);
    ::close(ours_);
    throw;
  }
}

PseudoTerminal::~PseudoTerminal() {
  std::error_code ignored;  // the link may have been taken away with its directory
  std::filesystem::remove(link_, ignored);
  ::close(theirs_);
  ::close(ours_);
}

void PseudoTerminal::write(std::string_view bytes) {
  int unread = 0;
  if (::ioctl(theirs_, FIONREAD, &unread) == 0 && unread > kUnread) {
    ::tcflush(theirs_, TCIFLUSH);
    bytes_lost_ += static_cast<std::uint64_t>(unread);
  }
  const ssize_t written = ::write(ours_, bytes.data(), bytes.size());
  bytes_lost_ += bytes.size() - static_cast<std::size_t>(written > 0 ? written : 0);
}

std::string PseudoTerminal::read() {
  std::array<char, 4096> chunk;
  const ssize_t size = ::read(ours_, chunk.data(), chunk.size());
  return {chunk.data(), static_cast<std::size_t>(size > 0 ? size : 0)};
}

}  // namespace hangtrue::rehearsal
