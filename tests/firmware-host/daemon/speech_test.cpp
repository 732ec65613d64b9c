// The shipped daemon with instruments that speak otherwise than in sentences, and with lines that make no sense.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/daemon/bench.hpp"
#include "tests/firmware-host/daemon/responder.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

std::vector<book::BookedReading> readings(const Bench& bench) {
  const auto book = book::Book::open_to_read(bench.book());
  EXPECT_TRUE(book.value().audit().value().whole());
  return book.value().readings(book.value().surveys().value().front().number).value();
}

TEST(DaemonSpeech, AsksADeviceThatAnswersOnRequestAndReadsItsLines) {
  Bench bench;
  bench.write("kit.toml", R"([[instrument]]
name = "laser"
port = ")" + bench.port() + R"("
speaks = "line"
ask = "read\r\n"
every = "20 ms"
[[instrument.channel]]
transducer = "D {number} {unit}"
gives = "distance"
sigma = "0.3 mm"
settle = { window = "200 ms" }
)");
  Distance distance;
  distance.set(-1.25);
  std::atomic<int> asked = 0;
  Responder laser(bench.port(), [&](std::string_view came) {
    if (came.find("read\r\n") == std::string_view::npos) return std::string();
    ++asked;
    return distance.line();
  });
  const auto daemon = bench.ready();
  daemon->ask("station 500 mm");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings at 500 mm"));
  const std::string status = daemon->status();
  EXPECT_THAT(status, HasSubstr("laser: well, speaks"));
  EXPECT_THAT(status, HasSubstr("bytes sent, 0 not sent"));
  EXPECT_GE(asked, 3);
  const auto booked = readings(bench);
  ASSERT_EQ(booked.size(), 1u);
  EXPECT_EQ(booked[0].reading.channel, Channel::distance);
  EXPECT_NEAR(booked[0].reading.value, -1.25, 2.1e-5);
  EXPECT_EQ(booked[0].reading.set_up, "1");
}

constexpr const char* kTwoUnits = R"([[instrument]]
name = "left level"
port = "PORT"
speaks = "modbus"
address = 5
every = "20 ms"
timeout = "200 ms"
[[instrument.channel]]
transducer = "input 2"
gives = "slope"
unit = "mm/m"
scale = 0.01
sigma = "0.02 mm/m"
settle = { window = "200 ms" }
edge = "left"
[[instrument]]
name = "right level"
port = "PORT"
speaks = "modbus"
address = 6
every = "20 ms"
timeout = "200 ms"
[[instrument.channel]]
transducer = "input 2"
gives = "slope"
unit = "mm/m"
scale = 0.01
sigma = "0.02 mm/m"
settle = { window = "200 ms" }
edge = "right"
)";

std::string with_port(std::string text, const std::string& port) {
  for (std::size_t at; (at = text.find("PORT")) != std::string::npos;) text.replace(at, 4, port);
  return text;
}

TEST(DaemonSpeech, PollsUnitsThatShareALineAndNamesTheOneThatDoesNotAnswer) {
  Bench bench;
  bench.write("kit.toml", with_port(kTwoUnits, bench.port()));
  std::atomic<bool> right_answers = true;
  Responder units(bench.port(), [&](std::string_view came) {
    if (came.size() < 8) return std::string();
    if (came[0] == 5) return modbus_answer(came, 310);
    return right_answers ? modbus_answer(came, std::uint16_t(-120)) : std::string("\0", 1);
  });
  const auto daemon = bench.ready();
  daemon->ask("station 2");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 2 readings at 500 mm"));
  right_answers = false;
  EXPECT_THAT(daemon->await({"lost"}), StartsWith("lost right level: "));
  const std::string taken = daemon->ask("take");
  EXPECT_THAT(taken, StartsWith("taken 1 readings at 500 mm"));
  EXPECT_THAT(taken, HasSubstr("; not: right level ("));
  right_answers = true;
  EXPECT_EQ(daemon->await({"back"}), "back right level");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 2 readings"));
  EXPECT_THAT(daemon->status(), HasSubstr("left level (unit 5) answers: asked "));
  EXPECT_THAT(daemon->said(), Not(Contains(StartsWith("lost left level"))));

  const auto booked = readings(bench);
  ASSERT_EQ(booked.size(), 5u);
  EXPECT_DOUBLE_EQ(booked[0].reading.value, 3.10e-3);
  EXPECT_EQ(booked[0].reading.edge, survey::Edge::left);
  EXPECT_DOUBLE_EQ(booked[1].reading.value, -1.20e-3);
  EXPECT_EQ(booked[1].reading.edge, survey::Edge::right);
}

TEST(DaemonSpeech, NamesTheExceptionThatAUnitAnswersWith) {
  Bench bench;
  bench.write("kit.toml", with_port(kTwoUnits, bench.port()));
  Responder units(bench.port(), [&](std::string_view came) {
    if (came.size() < 8) return std::string();
    if (came[0] == 5) return modbus_answer(came, 310);
    std::string frame{6, static_cast<char>(0x84), 2};
    const std::uint16_t crc = wire::crc16(frame);
    return frame + static_cast<char>(crc & 0xFF) + static_cast<char>(crc >> 8);
  });
  const auto daemon = bench.ready();
  const std::string lost = daemon->await({"lost"});
  EXPECT_THAT(lost, StartsWith("lost right level: "));
  EXPECT_THAT(lost, HasSubstr("illegal data address"));
}

TEST(DaemonSpeech, KeepsTwoTalkersOnOneLineApart) {
  Bench bench;
  std::string kit;
  for (const char* talker : {"YA", "YB"})
    kit += "[[instrument]]\nname = \"level " + std::string(talker) + "\"\nport = \"" + bench.port() +
           "\"\nspeaks = \"xdr\"\ntalker = \"" + talker +
           "\"\n[[instrument.channel]]\ntransducer = \"PITCH\"\ngives = \"slope\"\nsigma = \"0.02 mm/m\"\n"
           "settle = { window = \"100 ms\", spread = \"0.2 mm/m\" }\n";
  bench.write("kit.toml", kit);
  Responder talkers(bench.port(), [](std::string_view) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
    return sentence("YAXDR,A,0.1000,D,PITCH") + sentence("YBXDR,A,-0.2000,D,PITCH") +
           sentence("YCXDR,A,9.0000,D,PITCH");
  });
  const auto daemon = bench.ready();
  daemon->ask("station 1");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 2 readings"));
  EXPECT_THAT(daemon->status(),
              HasSubstr("values of PITCH (A) from YC, which no channel on this line reads"));
  const auto booked = readings(bench);
  ASSERT_EQ(booked.size(), 2u);
  EXPECT_NEAR(booked[0].reading.value, std::tan(0.1 * 3.14159265358979 / 180), 1e-9);
  EXPECT_NEAR(booked[1].reading.value, std::tan(-0.2 * 3.14159265358979 / 180), 1e-9);
}

TEST(DaemonSpeech, TakesNoMixtureOfTwoTalkersThatNobodyKeptApart) {
  Bench bench;
  Responder talkers(bench.port(), [](std::string_view) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
    return sentence("YAXDR,A,0.1000,D,PITCH") + sentence("YBXDR,A,0.1010,D,PITCH");
  });
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->await({"lost"}), HasSubstr("two talkers, YA and YB, send \"PITCH\""));
  daemon->ask("station 1");
  EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: "));
}

TEST(DaemonSpeech, TakesNeitherOfTwoValuesOfOneNameInASentence) {
  Bench bench;
  Responder device(bench.port(), [](std::string_view) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
    return sentence("YAXDR,A,0.1000,D,PITCH,A,0.1010,D,PITCH");
  });
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->await({"lost"}), HasSubstr("\"PITCH\" stands twice in one sentence"));
}

TEST(DaemonSpeech, SaysThatADeviceSpeaksOtherwiseThanItsKitSheetAndThatItIsWellAgain) {
  Bench bench;
  std::atomic<bool> right = false;
  Responder device(bench.port(), [&](std::string_view) {
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
    if (right) return sentence("IIXDR,A,0.1000,D,PITCH,A,0.1,D,POST");
    return std::string("inclination 0.1000 deg, all is fine here and has been for a long while\r\n");
  });
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->await({"lost"}), StartsWith("lost level: "));
  EXPECT_THAT(daemon->said(), Contains(StartsWith("state level: other speech, ")));
  EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: say first where"));
  daemon->ask("station 1");
  EXPECT_THAT(daemon->ask("take"), HasSubstr("no walking instrument speaks: level ("));
  right = true;
  EXPECT_EQ(daemon->await({"back"}), "back level");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
}

TEST(DaemonSpeech, SaysThatTheSpeedIsWrongWhereBytesAreNoText) {
  Bench bench;
  std::atomic<bool> right = false;
  Responder device(bench.port(), [&, salt = 1u](std::string_view) mutable {
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
    if (right) return sentence("IIXDR,A,0.1000,D,PITCH,A,0.1,D,POST");
    std::string bytes;
    for (int i = 0; i < 40; ++i) bytes += static_cast<char>((salt = salt * 1664525u + 1013904223u) >> 24);
    return bytes;
  });
  const auto daemon = bench.ready();
  EXPECT_NE(daemon->await({"lost"}), "");
  EXPECT_THAT(daemon->said(), Contains(StartsWith("state level: wrong speed, ")));
  right = true;
  EXPECT_EQ(daemon->await({"back"}), "back level");
}

TEST(DaemonSpeech, RefusesAPatternThatIsNoneAndARegisterThatDoesNotExist) {
  Bench bench;
  bench.write("kit.toml", R"([[instrument]]
name = "laser"
port = "/dev/null"
speaks = "line"
[[instrument.channel]]
transducer = "D {nubmer}"
unit = "m"
gives = "distance"
sigma = "0.3 mm"
[[instrument]]
name = "level"
port = "/dev/zero"
speaks = "modbus"
address = 5
[[instrument.channel]]
transducer = "input 65535"
type = "float32"
unit = "mm/m"
gives = "slope"
sigma = "0.02 mm/m"
)");
  EXPECT_EQ(bench.daemon()->end(), 2);
  const std::string log = bench.read("log");
  EXPECT_THAT(log, HasSubstr("kit.toml:6: instrument[1].channel[1].transducer: found "));
  EXPECT_THAT(log, HasSubstr("{number}"));
  EXPECT_THAT(
      log, HasSubstr("kit.toml:16: instrument[2].channel[1].transducer: found \"input 65535\", of a type"));
}

}  // namespace
}  // namespace hangtrue::daemon
