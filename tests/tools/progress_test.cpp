// What shows that a program works at something: on a terminal, and gone once it is done.
#include "tools/hangtrue/progress.hpp"

#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <poll.h>

#include <array>
#include <cstdlib>
#include <string>
#include <thread>

#include "tests/firmware-host/serial/pseudo_terminal.hpp"

namespace hangtrue::tools {
namespace {

using ::testing::EndsWith;
using ::testing::StartsWith;

constexpr std::chrono::milliseconds kAtOnce{0};
constexpr std::chrono::hours kNever{1};

/// Long enough for who would write at once, on a machine that is not busy; a busy one sees less, and is not wrong.
void leave_it_time() { std::this_thread::sleep_for(std::chrono::milliseconds(100)); }

/// What the terminal was told until it was told `end`.
std::string told(const test::PseudoTerminal& terminal, const std::string& end) {
  std::string all;
  while (!all.ends_with(end)) {
    pollfd wanted{terminal.master(), POLLIN, 0};
    if (::poll(&wanted, 1, 30'000) <= 0) break;
    std::array<char, 256> chunk;
    const ssize_t size = ::read(terminal.master(), chunk.data(), chunk.size());
    if (size <= 0) break;
    all.append(chunk.data(), std::size_t(size));
  }
  return all;
}

TEST(Progress, IsShownOnATerminalAndWipedAtTheEnd) {
  ::setenv("TERM", "xterm", 1);
  const test::PseudoTerminal terminal;
  const int slave = ::open(terminal.slave().c_str(), O_RDWR | O_NOCTTY);
  {
    const Progress progress("checking the book", slave, kAtOnce);
    EXPECT_EQ(told(terminal, " s"), "\rchecking the book ... 0 s");
  }
  EXPECT_THAT(told(terminal, "\x1b[K"), EndsWith("\r\x1b[K"));
  { const Progress progress("over before anybody wonders", slave, kNever); }
  ::setenv("TERM", "dumb", 1);  // cannot wipe a line
  {
    const Progress progress("said to nobody", slave, kAtOnce);
    leave_it_time();
  }
  ASSERT_EQ(::write(slave, "END", 3), 3);
  EXPECT_EQ(told(terminal, "END"), "END");
  ::close(slave);
}

TEST(Progress, IsNotWrittenIntoAPipe) {
  ::setenv("TERM", "xterm", 1);
  std::array<int, 2> pipe{};
  ASSERT_EQ(::pipe(pipe.data()), 0);
  {
    const Progress progress("checking the book", pipe[1], kAtOnce);
    leave_it_time();
  }
  ::close(pipe[1]);
  char byte = 0;
  EXPECT_EQ(::read(pipe[0], &byte, 1), 0);
  ::close(pipe[0]);
}

}  // namespace
}  // namespace hangtrue::tools
