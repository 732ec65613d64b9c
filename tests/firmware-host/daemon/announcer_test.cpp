// A reader that does not read never holds up who speaks.
#include "firmware-host/daemon/announcer.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <unistd.h>

#include <array>
#include <thread>

namespace hangtrue::daemon {
namespace {

class Piped : public ::testing::Test {
 protected:
  Piped() { EXPECT_EQ(::pipe2(ends_.data(), O_CLOEXEC), 0); }
  ~Piped() override {
    ::close(ends_[0]);
    ::close(ends_[1]);
  }
  /// Until that many bytes have come, or nothing more can.
  std::string read(std::size_t least) {
    std::string all;
    std::array<char, 4096> chunk;
    while (all.size() < least) {
      const ssize_t size = ::read(ends_[0], chunk.data(), chunk.size());
      if (size <= 0) break;
      all.append(chunk.data(), static_cast<std::size_t>(size));
    }
    return all;
  }
  std::array<int, 2> ends_{};
};

TEST_F(Piped, LinesComeInTheirOrderAndTheLastOnesBeforeTheEnd) {
  {
    const Announcer announcer(ends_[1], Announcer::Form::plain);
    for (int i = 0; i < 1000; ++i) announcer.say(Event::here, std::to_string(i));
  }
  std::string expected;
  for (int i = 0; i < 1000; ++i) expected += "here " + std::to_string(i) + '\n';
  EXPECT_EQ(read(expected.size()), expected);
}

TEST_F(Piped, NobodyReadingHoldsUpNobodyAndWhatWasLeftOutIsCounted) {
  Announcer announcer(ends_[1], Announcer::Form::plain);
  // Of four times what may wait: once in the writer's hand, once in the queue, and the rest is left out.
  const std::string text(1000, 'x');
  for (std::size_t said = 0; said < 4 * kMostUnread_bytes; said += text.size())
    announcer.say(Event::here, text);
  bool found = false;
  std::string last;  // the words may lie across two chunks
  for (int chunk = 0; chunk < 1000 && !found; ++chunk) {
    const std::string seen = read(1);
    found = (last + seen).find(" lines were left out, since nobody read them") != std::string::npos;
    last = seen;
    announcer.say(Event::here, "again");
  }
  EXPECT_TRUE(found);
}

TEST_F(Piped, TheEndDoesNotWaitForeverForAReaderThatDoesNotRead) {
  const Announcer announcer(ends_[1], Announcer::Form::plain);
  announcer.say(Event::text, std::string(300'000, 'x'));  // a pipe holds 65,536
}

TEST_F(Piped, AReaderThatHasGoneIsDoneWithout) {
  ::signal(SIGPIPE, SIG_IGN);
  ::close(ends_[0]);
  const Announcer announcer(ends_[1], Announcer::Form::json);
  for (int i = 0; i < 100; ++i) announcer.say(Event::here, "still");
}

}  // namespace
}  // namespace hangtrue::daemon
