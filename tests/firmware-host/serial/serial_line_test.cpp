// Serial lines on pseudo-terminals: opening, silence, hangup and return, and everything that is no tty.
#include "firmware-host/serial/serial_line.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <sys/wait.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include <boost/asio/io_context.hpp>

#include "tests/firmware-host/serial/pseudo_terminal.hpp"

namespace hangtrue::serial {
namespace {

using namespace std::chrono_literals;
using test::PseudoTerminal;
using test::ScratchDirectory;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

/// A line under test with everything it said.
class Heard {
 public:
  explicit Heard(const std::string& path, std::chrono::milliseconds silence_limit = 60s, unsigned baud = 9600)
      : Heard(Settings{.path = path, .baud = baud, .silence_limit = silence_limit}) {}
  explicit Heard(Settings settings) {
    settings.first_retry = 1ms;
    settings.longest_retry = 4ms;
    line_ = SerialLine::create(
        context_.get_executor(), std::move(settings), [this](std::string_view chunk) { bytes_ += chunk; },
        [this](const Event& event) {
          events_.push_back(event);
          if (event.state == State::lost) bytes_ += '|';  // so that a test sees where the stream broke
        });
    line_->start();
  }
  ~Heard() {
    line_->stop();
    context_.run();
  }

  /// Runs until it holds; the limit is for a defect only, no test depends on time.
  template <class Condition>
  void until(Condition condition) {
    const auto give_up = std::chrono::steady_clock::now() + 20s;
    while (!condition()) {
      ASSERT_LT(std::chrono::steady_clock::now(), give_up)
          << "state " << word(line_->state()) << ", bytes " << bytes_;
      context_.run_one_for(100ms);
    }
  }
  void until_state(State state) {
    until([&] { return line_->state() == state; });
  }
  void until_bytes(std::string_view bytes) {
    until([&] { return bytes_ == bytes; });
  }

  [[nodiscard]] std::vector<State> states() const {
    std::vector<State> states;
    for (const Event& event : events_) states.push_back(event.state);
    return states;
  }

  boost::asio::io_context context_;
  std::shared_ptr<SerialLine> line_;
  std::string bytes_;
  std::vector<Event> events_;
};

TEST(SerialLine, HandsOverBytesUnchangedAndSaysItIsOpen) {
  PseudoTerminal device;
  Heard heard(device.slave());
  heard.until_state(State::open);
  std::string every_byte;
  for (int byte = 0; byte < 256; ++byte) every_byte += static_cast<char>(byte);
  device.write(every_byte);
  heard.until([&] { return heard.bytes_.size() == every_byte.size(); });
  EXPECT_EQ(heard.bytes_, every_byte);
  EXPECT_THAT(heard.states(), ElementsAre(State::open));
  EXPECT_THAT(heard.events_[0].sentence, HasSubstr("9600 baud"));
}

TEST(SerialLine, SaysSilentAfterALineAndThenSilenceAndSaysWhenItSpeaksAgain) {
  PseudoTerminal device;
  Heard heard(device.slave(), 50ms);
  heard.until_state(State::open);
  device.write("one\r\n");
  heard.until_bytes("one\r\n");
  heard.until_state(State::silent);
  EXPECT_THAT(heard.events_.back().sentence, HasSubstr("50 ms"));
  device.write("two\r\n");
  heard.until_bytes("one\r\ntwo\r\n");
  ASSERT_GE(heard.events_.size(), 3u);
  EXPECT_EQ(heard.events_[2].state, State::open);
  EXPECT_TRUE(heard.events_[2].again);
}

TEST(SerialLine, ComesBackTwentyTimesThroughALinkThatIsPointedElsewhere) {
  ScratchDirectory scratch;
  const std::string link = scratch / "line";
  auto device = std::make_unique<PseudoTerminal>();
  device->take_link(link);
  Heard heard(link);
  std::string expected;
  for (int i = 0; i < 20; ++i) {
    const std::string sentence = "reading " + std::to_string(i) + "\r\n";
    heard.until_state(State::open);
    device->write(sentence);
    expected += sentence;
    heard.until_bytes(expected);
    auto next = std::make_unique<PseudoTerminal>();
    next->take_link(link);
    device->hang_up();
    heard.until([&] { return heard.bytes_ == expected + '|'; });
    expected += '|';
    device = std::move(next);
  }
  heard.until_state(State::open);
  ASSERT_EQ(heard.events_.size(), 41u);  // open, then lost and back twenty times
  EXPECT_FALSE(heard.events_[0].again);
  for (std::size_t i = 1; i < heard.events_.size(); i += 2) {
    EXPECT_EQ(heard.events_[i].state, State::lost);
    EXPECT_EQ(heard.events_[i + 1].state, State::open);
    EXPECT_TRUE(heard.events_[i + 1].again);
  }
}

TEST(SerialLine, TellsOfTheBreakBetweenHalfALineAndTheNextDevicesFirst) {
  ScratchDirectory scratch;
  const std::string link = scratch / "line";
  PseudoTerminal first, second;
  first.take_link(link);
  Heard heard(link);
  heard.until_state(State::open);
  first.write("$half a sen");
  heard.until_bytes("$half a sen");
  second.take_link(link);
  first.hang_up();
  second.write("$whole\r\n");
  heard.until_bytes("$half a sen|$whole\r\n");
}

TEST(SerialLine, LosesNoByteWhileItIsOpen) {
  PseudoTerminal device;
  Heard heard(device.slave());
  heard.until_state(State::open);
  std::string sent;
  for (int i = 0; i < 500; ++i) {  // half a megabyte in all, in pieces below the kernel's queue
    const std::string piece(1000, static_cast<char>('a' + i % 26));
    device.write(piece);
    sent += piece;
    heard.until([&] { return heard.bytes_.size() == sent.size(); });
  }
  EXPECT_EQ(heard.bytes_, sent);
}

struct NoTty {
  const char* name;
  std::string (*make)(const ScratchDirectory&);
  State state;
  const char* says;
};
class WhatIsNoLine : public ::testing::TestWithParam<NoTty> {};

INSTANTIATE_TEST_SUITE_P(
    Paths, WhatIsNoLine,
    ::testing::Values(NoTty{"regular_file",
                            [](const ScratchDirectory& scratch) {
                              std::ofstream(scratch / "file") << "text";
                              return scratch / "file";
                            },
                            State::not_a_tty, "is not a serial line"},
                      NoTty{"directory",
                            [](const ScratchDirectory& scratch) {
                              std::filesystem::create_directory(scratch / "directory");
                              return scratch / "directory";
                            },
                            State::not_a_tty, "is not a serial line"},
                      NoTty{"null_device", [](const ScratchDirectory&) { return std::string("/dev/null"); },
                            State::not_a_tty, "is not a serial line"},
                      NoTty{"no_such_path",
                            [](const ScratchDirectory& scratch) { return scratch / "nothing"; },
                            State::absent, "there is no"},
                      NoTty{"dangling_link",
                            [](const ScratchDirectory& scratch) {
                              std::filesystem::create_symlink(scratch / "gone", scratch / "link");
                              return scratch / "link";
                            },
                            State::absent, "there is no"},
                      NoTty{"file_taken_for_a_directory",
                            [](const ScratchDirectory& scratch) {
                              std::ofstream(scratch / "file") << "text";
                              return scratch / "file/tty";
                            },
                            State::absent, "nothing answers behind"},
                      NoTty{"empty_path", [](const ScratchDirectory&) { return std::string(); },
                            State::absent, "there is no"}),
    [](const auto& instance) { return std::string(instance.param.name); });

TEST_P(WhatIsNoLine, IsNamedOnceAndTriedAgain) {
  ScratchDirectory scratch;
  const std::string path = GetParam().make(scratch);
  Heard heard(path);
  heard.until_state(GetParam().state);
  EXPECT_THAT(heard.events_.at(0).sentence, HasSubstr(GetParam().says));
  EXPECT_THAT(heard.events_.at(0).sentence, HasSubstr(path));
  for (int tries = 0; tries < 20; ++tries) heard.context_.run_one_for(10ms);
  EXPECT_EQ(heard.events_.size(), 1u) << "said once, however often it is tried";
}

TEST(SerialLine, OpensAsSoonAsAnAbsentDeviceIsPluggedIn) {
  ScratchDirectory scratch;
  const std::string link = scratch / "line";
  Heard heard(link);
  heard.until_state(State::absent);
  PseudoTerminal device;
  device.take_link(link);
  heard.until_state(State::open);
  device.write("here");
  heard.until_bytes("here");
  EXPECT_FALSE(heard.events_.back().again) << "it was never open before";
}

TEST(SerialLine, IsBusyForASecondReaderUntilTheFirstIsGone) {
  PseudoTerminal device;
  auto first = std::make_unique<Heard>(device.slave());
  first->until_state(State::open);
  Heard second(device.slave());
  second.until_state(State::busy);
  EXPECT_THAT(second.events_.back().sentence, HasSubstr("held by another program"));
  first.reset();
  second.until_state(State::open);
  device.write("yours");
  second.until_bytes("yours");
}

TEST(SerialLine, NamesASpeedThatTheSystemDoesNotKnow) {
  PseudoTerminal device;
  Heard heard(device.slave(), 60s, 12345);
  heard.until_state(State::cannot_set);
  EXPECT_THAT(heard.events_.back().sentence, HasSubstr("refuses 12345 baud 8N1"));
}

TEST(SerialLine, CallsNobodyAfterItWasStopped) {
  PseudoTerminal device;
  Heard heard(device.slave());
  heard.until_state(State::open);
  heard.line_->stop();
  heard.line_->stop();  // twice is once
  device.write("too late");
  device.hang_up();
  heard.context_.run();  // ends: nothing is left waiting
  EXPECT_EQ(heard.bytes_, "");
  EXPECT_THAT(heard.states(), ElementsAre(State::open));
  EXPECT_EQ(heard.line_->state(), State::stopped);
}

TEST(SerialLine, IsOpenWithAnyParityOnAPseudoTerminalAndSaysThatItHasNone) {
  for (const Parity parity : {Parity::none, Parity::even, Parity::odd})
    for (const int stop_bits : {1, 2}) {
      PseudoTerminal device;
      Heard heard(Settings{.path = device.slave(), .baud = 19200, .parity = parity, .stop_bits = stop_bits});
      heard.until_state(State::open);
      const std::string letter = parity == Parity::none ? "N" : parity == Parity::even ? "E" : "O";
      EXPECT_THAT(heard.events_.at(0).sentence,
                  HasSubstr("19200 baud 8" + letter + std::to_string(stop_bits)));
      EXPECT_EQ(heard.events_.at(0).sentence.find("has no parity") != std::string::npos,
                parity != Parity::none);
      device.write("here");
      heard.until_bytes("here");
      termios settings{};
      ASSERT_EQ(::tcgetattr(device.master(), &settings), 0);
      EXPECT_EQ((settings.c_cflag & CSTOPB) != 0, stop_bits == 2);
      EXPECT_NE(settings.c_iflag & INPCK, 0u) << "a damaged byte must not pass for a good one";
    }
}

TEST(SerialLine, IsOpenWithParityOnTheSamePseudoTerminalAgain) {
  PseudoTerminal device;
  for (int turn = 0; turn < 3; ++turn) {  // the system takes a parity the first time and refuses it later
    Heard heard(Settings{.path = device.slave(), .parity = Parity::even});
    heard.until_state(State::open);
  }
}

TEST(SerialLine, SaysWhoMayOpenItWhenTheSystemForbidsIt) {
  PseudoTerminal device;
  ASSERT_EQ(::chmod(device.slave().c_str(), 0), 0);
  std::array<int, 2> pipe{};
  ASSERT_EQ(::pipe(pipe.data()), 0);
  const pid_t child = ::fork();
  if (child == 0) {  // root may open anything: as nobody
    if (::getuid() == 0 && ::setuid(65534) != 0) ::_exit(1);
    const Opened opened = open_tty({.path = device.slave()});
    const std::string said = std::string(word(opened.state)) + ": " + opened.sentence;
    ::_exit(::write(pipe[1], said.data(), said.size()) < 0 ? 1 : 0);
  }
  int status = -1;
  ASSERT_EQ(::waitpid(child, &status, 0), child);
  ASSERT_EQ(status, 0);
  std::string said(500, '\0');
  said.resize(static_cast<std::size_t>(::read(pipe[0], said.data(), said.size())));
  for (const int end : pipe) ::close(end);
  EXPECT_THAT(said, ::testing::StartsWith("no permission: "));
  EXPECT_THAT(said, HasSubstr(device.slave()));
  EXPECT_THAT(said, HasSubstr("dialout"));
}

std::size_t open_descriptors() {
  const std::filesystem::directory_iterator all("/proc/self/fd");
  return static_cast<std::size_t>(std::distance(begin(all), end(all)));
}

TEST(SerialLine, Survives500PullsAndReturnsWithEverySentenceThatWasReadAndNoDescriptorLeft) {
  ScratchDirectory scratch;
  const std::string link = scratch / "line";
  auto device = std::make_unique<PseudoTerminal>();
  device->take_link(link);
  Heard heard(link);
  heard.until_state(State::open);
  const std::size_t descriptors = open_descriptors();
  std::string expected;
  for (int i = 0; i < 500; ++i) {
    heard.until_state(State::open);
    const std::string sentence = "reading " + std::to_string(i) + "\r\n";
    device->write(sentence);
    heard.until_bytes(expected += sentence);  // acknowledged
    device->write("$torn");                   // read or not: the pull is in the middle of it
    device.reset();
    heard.until([&] { return heard.bytes_.back() == '|'; });
    const std::string torn = heard.bytes_.substr(expected.size());
    ASSERT_TRUE(torn == "|" ||
                (torn.back() == '|' && std::string("$torn").starts_with(torn.substr(0, torn.size() - 1))))
        << torn;
    expected = heard.bytes_;
    device = std::make_unique<PseudoTerminal>();
    device->take_link(link);
    ASSERT_EQ(heard.line_->settings().path, link);
  }
  heard.until_state(State::open);
  EXPECT_EQ(open_descriptors(), descriptors);
  EXPECT_EQ(std::count_if(heard.events_.begin(), heard.events_.end(),
                          [](const Event& event) { return event.state == State::open; }),
            501);
}

void expect_accounts_close(const WriteCounts& counts) {
  EXPECT_EQ(counts.in, counts.written + counts.dropped + counts.pending);
}

TEST(SerialLine, WritesWhatItIsGivenInOrder) {
  PseudoTerminal device;
  Heard heard(device.slave());
  heard.until_state(State::open);
  std::string given, arrived;
  for (int i = 0; i < 200; ++i) {
    const std::string command = "ask " + std::to_string(i) + "\r\n";
    given += command;
    EXPECT_TRUE(heard.line_->write(command));
  }
  heard.until([&] { return (arrived += device.read()).size() == given.size(); });
  EXPECT_EQ(arrived, given);
  heard.until([&] { return heard.line_->writes().pending == 0; });
  EXPECT_EQ(heard.line_->writes().written, given.size());
  EXPECT_EQ(heard.line_->writes().dropped, 0u);
}

TEST(SerialLine, DropsAndCountsWhatIsWrittenWhileItIsNotOpen) {
  ScratchDirectory scratch;
  const std::string link = scratch / "line";
  Heard heard(link);
  EXPECT_FALSE(heard.line_->write("early"));
  heard.until_state(State::absent);
  EXPECT_FALSE(heard.line_->write("absent"));
  PseudoTerminal device;
  device.take_link(link);
  heard.until_state(State::open);
  EXPECT_TRUE(heard.line_->write("now"));
  std::string arrived;
  heard.until([&] { return (arrived += device.read()).size() >= 3; });
  EXPECT_EQ(arrived, "now") << "nothing of before is sent late";
  heard.until([&] { return heard.line_->writes().pending == 0; });
  EXPECT_EQ(heard.line_->writes().dropped, 11u);
  heard.line_->stop();
  EXPECT_FALSE(heard.line_->write("stopped"));
  expect_accounts_close(heard.line_->writes());
}

TEST(SerialLine, NeitherBlocksNorGrowsWhileTheOtherEndDoesNotRead) {
  PseudoTerminal device;
  Heard heard(device.slave());
  heard.until_state(State::open);
  const WriteCounts& writes = heard.line_->writes();
  std::string taken;
  const auto write_all = [&] {
    for (int i = 0; i < 300; ++i) {  // far more than kernel and queue hold together
      const std::string piece(1000, static_cast<char>('a' + i % 26));
      if (heard.line_->write(piece)) taken += piece;
      ASSERT_LE(writes.pending, kLongestQueue);
      heard.context_.poll();
    }
  };
  write_all();
  EXPECT_GT(writes.pending, 0u);
  EXPECT_GT(writes.dropped, 100'000u);
  expect_accounts_close(writes);
  device.write("still read");
  heard.until_bytes("still read");
  std::string arrived;
  heard.until([&] { return (arrived += device.read()).size() >= taken.size(); });
  EXPECT_EQ(arrived, taken) << "whole pieces, in order";
  heard.until([&] { return writes.pending == 0; });
  EXPECT_EQ(writes.written, taken.size());
  write_all();
  device.hang_up();
  heard.until_state(State::lost);
  heard.until([&] { return writes.pending == 0; });
  expect_accounts_close(writes);
}

}  // namespace
}  // namespace hangtrue::serial
