#include "tools/rehearsal/rehearsal.hpp"

#include <fcntl.h>
#include <gmock/gmock.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <chrono>

#include "firmware-host/wire/channels.hpp"
#include "tests/tools/rehearsal/sheets.hpp"

namespace hangtrue::rehearsal {
namespace {

using ::testing::HasSubstr;

constexpr FaultRates kNoFaults{.torn = 0, .wrong_checksum = 0, .outlier = 0};

/// A reader of a tty, as a daemon would be one: opened by its link.
class Tty {
 public:
  explicit Tty(const std::filesystem::path& link) : descriptor_(::open(link.c_str(), O_RDONLY | O_NOCTTY)) {}
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
  [[nodiscard]] int unread() const {
    int bytes = 0;
    return ::ioctl(descriptor_, FIONREAD, &bytes) == 0 ? bytes : -1;
  }

 private:
  int descriptor_;
};

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
  wire::ChannelMap channels(kit.instruments[0], run.stations_m.size());
  std::size_t samples = 0;
  const auto count = [&](std::span<const wire::XdrQuad> quads) {
    channels.read(quads, [&samples](const wire::Sample&) { ++samples; });
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
  wire::ChannelMap channels(kit.instruments[0], run.stations_m.size());
  std::optional<double> station;
  while (!station) {
    const std::string bytes = tty.read();
    ASSERT_FALSE(bytes.empty());
    reader.push(bytes, [&](std::span<const wire::XdrQuad> quads) {
      channels.read(quads, [&](const wire::Sample& sample) {
        if (sample.gives == sheet::Gives::station) station = sample.value;
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
