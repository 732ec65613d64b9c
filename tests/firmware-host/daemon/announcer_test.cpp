// A reader that does not read never holds up who speaks.
#include "firmware-host/daemon/announcer.hpp"

#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <unistd.h>

#include <array>
#include <optional>
#include <thread>

namespace hangtrue::daemon {
namespace {

using ::testing::HasSubstr;
using ::testing::StartsWith;

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
    for (int i = 0; i < 1000; ++i) announcer.say("here", std::to_string(i));
  }
  std::string expected;
  for (int i = 0; i < 1000; ++i) expected += "here " + std::to_string(i) + '\n';
  EXPECT_EQ(read(expected.size()), expected);
}

TEST_F(Piped, NobodyReadingHoldsUpNobodyAndWhatWasLeftOutIsCounted) {
  std::optional<Announcer> announcer(std::in_place, ends_[1], Announcer::Form::plain);
  const std::string text(1000, 'x');
  for (int i = 0; i < 2000; ++i) announcer->say("here", text);  // twice what may wait; returns all the same
  std::string seen = read(1'200'000 - 300'000);
  for (int i = 0; i < 100 && seen.find("left out") == std::string::npos; ++i) {
    announcer->say("here", "again");
    seen += read(1);
  }
  EXPECT_THAT(seen, HasSubstr("trouble over: "));
  EXPECT_THAT(seen, HasSubstr(" lines were left out, since nobody read them"));
}

TEST_F(Piped, TheEndDoesNotWaitForeverForAReaderThatDoesNotRead) {
  const Announcer announcer(ends_[1], Announcer::Form::plain);
  announcer.say("result", std::string(300'000, 'x'));  // a pipe holds 65,536
}

TEST_F(Piped, AReaderThatHasGoneIsDoneWithout) {
  ::signal(SIGPIPE, SIG_IGN);
  ::close(ends_[0]);
  const Announcer announcer(ends_[1], Announcer::Form::json);
  for (int i = 0; i < 100; ++i) announcer.say("here", "still");
}

}  // namespace
}  // namespace hangtrue::daemon
