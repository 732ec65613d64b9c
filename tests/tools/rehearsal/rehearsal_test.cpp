#include "tools/rehearsal/rehearsal.hpp"

#include <fcntl.h>
#include <gmock/gmock.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <modbus.h>

#include <chrono>
#include <cmath>

#include "core/quantity/units.hpp"
#include "tests/tools/rehearsal/listener.hpp"
#include "tests/tools/rehearsal/sheets.hpp"
#include "tests/tools/rehearsal/tty.hpp"

namespace hangtrue::rehearsal {
namespace {

using ::testing::HasSubstr;

class RehearsalOfTheTestShelf : public ::testing::Test {
 protected:
  Directory directory;
  sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = kit_sheet(run, kKitText, directory.write("kit.toml", kKitText).string());
};

TEST_F(RehearsalOfTheTestShelf, DeliversEverySentenceThroughThePseudoTerminal) {
  Rehearsal rehearsal(run, kit, {.samples_per_s = 50, .faults = kNoFaults});
  const Tty tty(rehearsal.ports()[0]);
  ASSERT_TRUE(tty.open());
  rehearsal.start();
  wire::XdrReader reader;
  daemon::KitQuads channels(kit.instruments[0], run.stations_m.size());
  std::size_t samples = 0;
  const auto count = [&](std::span<const wire::XdrQuad> quads) {
    channels.read({}, quads, [&samples](const wire::Sample&) { ++samples; });
  };
  while (samples < 200) {
    const std::string bytes = tty.read();
    ASSERT_FALSE(bytes.empty());
    reader.push(bytes, count);
  }
  EXPECT_EQ(reader.bytes_lost(), 0u);
  EXPECT_TRUE(channels.unknown().empty());
}

TEST_F(RehearsalOfTheTestShelf, TellsTheStationWhereTheWalkingInstrumentWasPut) {
  Rehearsal rehearsal(run, kit, {.samples_per_s = 100, .faults = kNoFaults});
  rehearsal.place({.at_m = 1.5});
  const Tty tty(rehearsal.ports()[0]);
  rehearsal.start();
  wire::XdrReader reader;
  daemon::KitQuads channels(kit.instruments[0], run.stations_m.size());
  std::optional<double> station;
  while (!station) {
    const std::string bytes = tty.read();
    ASSERT_FALSE(bytes.empty());
    reader.push(bytes, [&](std::span<const wire::XdrQuad> quads) {
      channels.read({}, quads, [&](const wire::Sample& sample) {
        if (sample.gives == Channel::station) station = sample.value;
      });
    });
  }
  EXPECT_EQ(station, 3.0);  // index from 0
}

TEST_F(RehearsalOfTheTestShelf, WritesTheKitSheetAgainWithTheTerminalsAsPorts) {
  const Rehearsal rehearsal(run, kit, {});
  const auto read = sheet::read_kit_sheet(rehearsal.kit_path().string(), run);
  ASSERT_TRUE(read.sheet) << sheet::text(read.complaints);
  ASSERT_EQ(read.sheet->instruments.size(), 3u);
  for (std::size_t i = 0; i < 3; ++i) {
    const sheet::KitInstrument& made = read.sheet->instruments[i];
    EXPECT_EQ(made.port, rehearsal.ports()[i].string());
    EXPECT_EQ(made.name, kit.instruments[i].name);
    ASSERT_EQ(made.channels.size(), kit.instruments[i].channels.size());
    for (std::size_t k = 0; k < made.channels.size(); ++k) {
      EXPECT_EQ(made.channels[k].transducer, kit.instruments[i].channels[k].transducer);
      EXPECT_EQ(made.channels[k].sigma, kit.instruments[i].channels[k].sigma);
      EXPECT_EQ(made.channels[k].settle_window_s, kit.instruments[i].channels[k].settle_window_s);
    }
  }
  ASSERT_TRUE(read.sheet->instruments[0].calibration.has_value());
  EXPECT_EQ(read.sheet->instruments[0].calibration->due, "2027-09-14");
}

TEST_F(RehearsalOfTheTestShelf, AnUnpluggedLineEndsAndComesBackUnderTheSameName) {
  Rehearsal rehearsal(run, kit, {.samples_per_s = 100, .faults = kNoFaults});
  rehearsal.start();
  {
    const Tty tty(rehearsal.ports()[1]);
    ASSERT_FALSE(tty.read().empty());
    rehearsal.unplug(1);
    while (!tty.read().empty()) {
    }
  }
  EXPECT_FALSE(Tty(rehearsal.ports()[1]).open());
  EXPECT_FALSE(Tty(rehearsal.ports()[0]).read().empty());  // the others go on
  rehearsal.plug_in(1);
  EXPECT_FALSE(Tty(rehearsal.ports()[1]).read().empty());
}

TEST_F(RehearsalOfTheTestShelf, PutsTwoTalkersOnOneTerminalThatGoesAndComesAsOne) {
  std::string text = kKitText;
  text.replace(text.find("/dev/post"), 9, "/dev/walking");
  for (const auto& [what, by] : {std::pair{"\"walking inclinometer\"", "talker = \"WA\""},
                                 {"\"post inclinometer\"", "talker = \"WB\""}})
    text.insert(text.find(what) + std::string(what).size(), std::string("\n") + by);
  text.replace(text.find("\"P2\""), 4, "\"PITCH\"");
  kit = kit_sheet(run, text, directory.write("kit.toml", text).string());
  Rehearsal rehearsal(run, kit, {.samples_per_s = 50, .faults = kNoFaults});
  ASSERT_EQ(rehearsal.ports()[0], rehearsal.ports()[2]);
  EXPECT_NE(rehearsal.ports()[0], rehearsal.ports()[1]);
  const auto again = sheet::read_kit_sheet(rehearsal.kit_path().string(), run);
  ASSERT_TRUE(again.sheet) << sheet::text(again.complaints);
  EXPECT_EQ(again.sheet->instruments[0].port, again.sheet->instruments[2].port);

  rehearsal.start();
  {
    const Tty tty(rehearsal.ports()[0]);
    Listener walking(kit.instruments[0], run.stations_m.size()),
        post(kit.instruments[2], run.stations_m.size());
    std::size_t of_walking = 0, of_post = 0;
    while (of_walking < 40 || of_post < 10) {
      const std::string bytes = tty.read();
      ASSERT_FALSE(bytes.empty());
      of_walking += walking.take(bytes).size();
      for (const wire::Sample& sample : post.take(bytes)) {
        ++of_post;
        EXPECT_NEAR(sample.value, rehearsal.truth().reading(2, 0, {}),
                    6 * kit.instruments[2].channels[0].sigma);
      }
    }
    rehearsal.unplug(2);
    while (!tty.read().empty()) {
    }
  }
  EXPECT_FALSE(Tty(rehearsal.ports()[0]).open());
  rehearsal.plug_in(0);
  EXPECT_FALSE(Tty(rehearsal.ports()[0]).read().empty());
}

TEST_F(RehearsalOfTheTestShelf, SendsNoMoreThanTheSpeedCarries) {
  sheet::KitSheet slow = kit;
  for (sheet::KitInstrument& instrument : slow.instruments) instrument.baud = 2400;
  Rehearsal rehearsal(run, slow, {.samples_per_s = 1000, .faults = kNoFaults});
  const Tty tty(rehearsal.ports()[0]);
  const auto began = std::chrono::steady_clock::now();
  rehearsal.start();
  std::size_t bytes = 0;
  while (bytes < 400) {
    const std::string more = tty.read();
    ASSERT_FALSE(more.empty());
    bytes += more.size();
  }
  // 240 characters a second; the first sample goes at once. A busy machine only makes it slower.
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
  EXPECT_GT(took.count() * 240, 400 - 2 * 82);
}

class AnsweringRehearsal : public RehearsalOfTheTestShelf {
 protected:
  AnsweringRehearsal() {
    const std::string text = kKitText + kOtherSpeechText;
    kit = kit_sheet(run, text, directory.write("kit.toml", text).string());
  }
};

TEST_F(AnsweringRehearsal, AnswersAskingWhileOthersStream) {
  Rehearsal rehearsal(run, kit, {.samples_per_s = 50, .faults = kNoFaults});
  rehearsal.place({.at_m = 2.0, .set_up = 1});
  rehearsal.start();
  const Tty tty(rehearsal.ports()[kAskedLine]), streaming(rehearsal.ports()[0]);
  Listener laser(kit.instruments[kAskedLine], run.stations_m.size());
  std::size_t answers = 0;
  for (int asked = 0; asked < 101; ++asked) {
    tty.write(kit.instruments[kAskedLine].ask);
    std::string answer;
    while (!answer.ends_with('\n')) {
      const std::string bytes = tty.read();
      ASSERT_FALSE(bytes.empty());
      answer += bytes;
    }
    answers +=
        laser.take(answer).size();  // the first line of all is not used: its beginning might have been missed
  }
  EXPECT_EQ(answers, 100u);
  EXPECT_EQ(laser.bytes_lost(), 0u);
  EXPECT_FALSE(streaming.read().empty());
}

/// libmodbus as the client: another's idea of the standard.
class IndependentClient {
 public:
  IndependentClient(const std::filesystem::path& link, int unit)
      : context_(::modbus_new_rtu(link.c_str(), 115200, 'N', 8, 1)) {
    connected_ = context_ != nullptr && ::modbus_set_slave(context_, unit) == 0 &&
                 ::modbus_set_response_timeout(context_, 0, 300'000) == 0 && ::modbus_connect(context_) == 0;
  }
  ~IndependentClient() {
    ::modbus_close(context_);
    ::modbus_free(context_);
  }
  IndependentClient(const IndependentClient&) = delete;
  IndependentClient& operator=(const IndependentClient&) = delete;

  [[nodiscard]] bool connected() const { return connected_; }
  [[nodiscard]] std::vector<std::uint16_t> input(int first, int count) const {
    std::vector<std::uint16_t> registers(std::size_t(count), 0);
    if (::modbus_read_input_registers(context_, first, count, registers.data()) != count) registers.clear();
    return registers;
  }
  [[nodiscard]] std::vector<std::uint16_t> holding(int first, int count) const {
    std::vector<std::uint16_t> registers(std::size_t(count), 0);
    if (::modbus_read_registers(context_, first, count, registers.data()) != count) registers.clear();
    return registers;
  }
  [[nodiscard]] int write_one() const { return ::modbus_write_register(context_, 40, 1); }
  void talk_to(int unit) const { ::modbus_set_slave(context_, unit); }

 private:
  modbus_t* context_;
  bool connected_ = false;
};

TEST_F(AnsweringRehearsal, GivesAnIndependentModbusClientTheTruth) {
  Rehearsal rehearsal(run, kit, {.samples_per_s = 100, .handling_s = 0, .faults = kNoFaults});
  const Stand stand{.at_m = 1.5, .set_up = 0};
  rehearsal.place(stand);
  rehearsal.start();
  ASSERT_EQ(rehearsal.ports()[kModbus], rehearsal.ports()[kOtherModbus]);
  const IndependentClient client(rehearsal.ports()[kModbus], 17);
  ASSERT_TRUE(client.connected());
  const Truth& truth = rehearsal.truth();
  for (int i = 0; i < 50; ++i) {
    client.talk_to(17);
    const auto inclinometer = client.input(40, 2);
    ASSERT_EQ(inclinometer.size(), 2u) << ::modbus_strerror(errno);
    // Six sigma: the placing's error and the noise.
    EXPECT_NEAR(-std::tan(std::int16_t(inclinometer[0]) * 0.001 * kPi / 180),
                truth.reading(kModbus, 0, stand), 6 * 0.03e-3);
    EXPECT_NEAR((std::int16_t(inclinometer[1]) * 0.1 - 32) / 1.8, truth.reading(kModbus, 1, stand), 0.03);

    client.talk_to(18);
    const auto laser = client.holding(100, 6);
    ASSERT_EQ(laser.size(), 6u) << ::modbus_strerror(errno);
    EXPECT_NEAR(::modbus_get_float_cdab(laser.data()), truth.reading(kOtherModbus, 0, stand), 6 * 0.1e-3);
    EXPECT_NEAR(std::int32_t(MODBUS_GET_INT32_FROM_INT16(laser.data(), 2)) * -1e-6,
                truth.reading(kOtherModbus, 1, stand), 6 * 0.02e-3);
    EXPECT_EQ(laser[4], 4);  // station 4, low word first
    EXPECT_EQ(laser[5], 0);
  }
}

TEST_F(AnsweringRehearsal, RefusesAnIndependentModbusClientByTheStandardsNumbers) {
  Rehearsal rehearsal(run, kit, {.faults = kNoFaults});
  rehearsal.start();
  const IndependentClient client(rehearsal.ports()[kModbus], 17);
  ASSERT_TRUE(client.connected());
  EXPECT_TRUE(client.input(41, 2).empty());
  EXPECT_EQ(errno, EMBXILADD);
  EXPECT_TRUE(client.holding(40, 1).empty());
  EXPECT_EQ(errno, EMBXILADD);
  EXPECT_EQ(client.write_one(), -1);
  EXPECT_EQ(errno, EMBXILFUN);
  client.talk_to(19);  // nobody
  EXPECT_TRUE(client.input(40, 1).empty());
  EXPECT_EQ(errno, ETIMEDOUT);
  client.talk_to(17);
  EXPECT_EQ(client.input(40, 1).size(), 1u);
}

TEST_F(AnsweringRehearsal, AModbusLineThatWasPulledAnswersAgainOnceItIsBack) {
  Rehearsal rehearsal(run, kit, {.faults = kNoFaults});
  rehearsal.start();
  {
    const IndependentClient client(rehearsal.ports()[kModbus], 18);
    ASSERT_EQ(client.holding(100, 2).size(), 2u);
    rehearsal.unplug(kModbus);  // its neighbour goes with it
    EXPECT_TRUE(client.holding(100, 2).empty());
  }
  EXPECT_FALSE(IndependentClient(rehearsal.ports()[kModbus], 18).connected());
  rehearsal.plug_in(kModbus);
  EXPECT_EQ(IndependentClient(rehearsal.ports()[kModbus], 18).holding(100, 2).size(), 2u);
}

TEST_F(RehearsalOfTheTestShelf, LeavesNothingBehind) {
  std::filesystem::path made;
  {
    Rehearsal rehearsal(run, kit, {});
    rehearsal.start();
    made = rehearsal.directory();
    EXPECT_TRUE(std::filesystem::is_directory(made));
  }
  EXPECT_FALSE(std::filesystem::exists(made));
}

TEST_F(RehearsalOfTheTestShelf, RefusesAKitFileThatChangedSinceItWasRead) {
  (void)directory.write("kit.toml", "title = \"another\"\n");
  EXPECT_THROW(Rehearsal(run, kit, {}), std::invalid_argument);
}

TEST(PseudoTerminal, LosesWhatNobodyReadsAndSaysHowMuch) {
  const Directory directory;
  PseudoTerminal terminal(directory.path() / "line");
  const Tty tty(directory.path() / "line");
  const std::string sentence(100, 'x');
  std::uint64_t written = 0;
  for (int i = 0; i < 300; ++i) {
    terminal.write(sentence);
    written += sentence.size();
    const auto accounted = [&] { return terminal.bytes_lost() + static_cast<std::uint64_t>(tty.unread()); };
    // The kernel hands it over in its own time.
    for (int tries = 0; accounted() != written && tries < 10'000; ++tries) ::usleep(1000);
    ASSERT_EQ(accounted(), written);
    ASSERT_LE(tty.unread(), PseudoTerminal::kUnread + 100);
  }
  EXPECT_GT(terminal.bytes_lost(), 25'000u);
}

TEST(PseudoTerminal, HearsWhatTheOtherEndWrites) {
  const Directory directory;
  PseudoTerminal terminal(directory.path() / "line");
  EXPECT_EQ(terminal.read(), "");
  std::string all;
  for (int byte = 0; byte < 256; ++byte) all += static_cast<char>(byte);
  const Tty tty(directory.path() / "line");
  tty.write(all);
  std::string got;
  pollfd wanted{terminal.descriptor(), POLLIN, 0};
  while (got.size() < all.size() && ::poll(&wanted, 1, 10'000) > 0) got += terminal.read();
  EXPECT_EQ(got, all);
  EXPECT_EQ(tty.unread(), 0);  // no echo
}

TEST(PseudoTerminal, PassesBytesUnchanged) {
  const Directory directory;
  PseudoTerminal terminal(directory.path() / "line");
  const Tty tty(directory.path() / "line");
  std::string all;
  for (int byte = 0; byte < 256; ++byte) all += static_cast<char>(byte);
  terminal.write(all);
  std::string got;
  while (got.size() < all.size()) {
    const std::string bytes = tty.read();
    ASSERT_FALSE(bytes.empty());
    got += bytes;
  }
  EXPECT_EQ(got, all);
}

}  // namespace
}  // namespace hangtrue::rehearsal
