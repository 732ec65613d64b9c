// Kit sheets: what each way of speaking may say, what is missing or wrong, and the ones that this house gives away.
#include "firmware-host/sheet/kit_sheet.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>

#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::sheet {
namespace {

using ::testing::HasSubstr;

RunSheet run(double length_m = 4.2) {
  RunSheet run;
  run.length_m = length_m;
  return run;
}

KitSheet read(const std::string& text) {
  KitSheetOrComplaints result = parse_kit_sheet(text, "kit.toml", run());
  for (const Complaint& complaint : result.complaints) ADD_FAILURE() << complaint.text();
  return result.sheet.value_or(KitSheet{});
}

std::string complaints(const std::string& text) {
  const KitSheetOrComplaints result = parse_kit_sheet(text, "kit.toml", run());
  EXPECT_EQ(result.sheet, std::nullopt);
  return hangtrue::sheet::text(result.complaints);
}

std::string contents(const std::filesystem::path& path) {
  std::ifstream file(path);
  return {std::istreambuf_iterator<char>(file), {}};
}

constexpr const char* kModbus = R"([[instrument]]
name = "level"
port = "/dev/ttyUSB0"
baud = 19200
parity = "even"
stop_bits = 1
speaks = "modbus"
address = 17
every = "50 ms"
timeout = "250 ms"
retries = 1
[[instrument.channel]]
transducer = "holding 12"
type = "float32"
words = "low first"
scale = 0.5
unit = "mm/m"
gives = "slope"
sigma = "0.02 mm/m"
zero_keeps = "0.05 mm/m"
)";

TEST(KitSheet, ReadsAModbusUnitWithItsLineAndItsTimes) {
  const KitInstrument unit = read(kModbus).instruments.at(0);
  EXPECT_EQ(unit.speaks, Speaks::modbus);
  EXPECT_EQ(unit.parity, Parity::even);
  EXPECT_EQ(unit.stop_bits, 1);
  EXPECT_EQ(unit.address, 17);
  EXPECT_DOUBLE_EQ(unit.every_s, 0.05);
  EXPECT_DOUBLE_EQ(unit.timeout_s, 0.25);
  EXPECT_EQ(unit.retries, 1);
  const KitChannel& channel = unit.channels.at(0);
  ASSERT_TRUE(channel.modbus);
  EXPECT_TRUE(channel.modbus->holding);
  EXPECT_EQ(channel.modbus->number, 12);
  EXPECT_EQ(channel.modbus->type, RegisterType::float32);
  EXPECT_FALSE(channel.modbus->high_word_first);
  EXPECT_DOUBLE_EQ(channel.modbus->scale, 0.5);
  EXPECT_DOUBLE_EQ(channel.zero_keeps, 5e-5);
}

TEST(KitSheet, SaysWhenScaleUnitAndSignWereChecked) {
  EXPECT_EQ(read(kModbus).instruments.at(0).channels.at(0).scale_checked, std::nullopt);
  EXPECT_EQ(read(kModbus + std::string("scale_checked = 2026-09-20\n"))
                .instruments.at(0)
                .channels.at(0)
                .scale_checked,
            "2026-09-20");
}

constexpr const char* kLine = R"([[instrument]]
name = "laser"
port = "/dev/ttyUSB1"
speaks = "line"
ask = "read\r\n"
every = "200 ms"
[[instrument.channel]]
transducer = "D {number} {unit}"
gives = "distance"
sigma = "0.3 mm"
)";

TEST(KitSheet, ReadsADeviceThatIsAskedAndSaysItsUnit) {
  const KitInstrument laser = read(kLine).instruments.at(0);
  EXPECT_EQ(laser.ask, "read\r\n");
  EXPECT_DOUBLE_EQ(laser.every_s, 0.2);
  EXPECT_EQ(laser.parity, Parity::none);
  EXPECT_EQ(laser.channels.at(0).unit, "");
  EXPECT_DOUBLE_EQ(laser.channels.at(0).zero_keeps, 3e-4) << "its sigma, unless the sheet says otherwise";
}

TEST(KitSheet, TakesAPatternForTheWholeLineUnlessTheChannelSaysOtherwise) {
  EXPECT_FALSE(read(kLine).instruments.at(0).channels.at(0).within);
  EXPECT_TRUE(read(std::string(kLine) + "within = true\n").instruments.at(0).channels.at(0).within);
}

TEST(KitSheet, ReadsTalkersThatShareALine) {
  const KitSheet kit = read(R"([[instrument]]
name = "left"
port = "/dev/ttyUSB2"
speaks = "xdr"
talker = "YA"
channel = [ { transducer = "PITCH", gives = "slope", sigma = "0.02 mm/m" } ]
[[instrument]]
name = "right"
port = "/dev/ttyUSB2"
speaks = "xdr"
talker = "YB"
channel = [ { transducer = "PITCH", gives = "slope", sigma = "0.02 mm/m" } ]
)");
  EXPECT_EQ(kit.instruments.at(0).talker, "YA");
  EXPECT_EQ(kit.instruments.at(1).talker, "YB");
}

std::string changed(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return at == std::string::npos ? text : text.replace(at, from.size(), to);
}

struct Wrong {
  const char *sheet, *from, *to, *says;
};
class WrongKitSheet : public ::testing::TestWithParam<Wrong> {};

INSTANTIATE_TEST_SUITE_P(
    Keys, WrongKitSheet,
    ::testing::Values(
        Wrong{kModbus, "address = 17\n", "", "instrument[1].address: found no such key"},
        Wrong{kModbus, "gives =", "within = true\ngives =", "channel[1].within: found an unknown key"},
        Wrong{kLine, "gives =", "within = \"yes\"\ngives =", "channel[1].within: found \"yes\""},
        Wrong{kModbus, "address = 17", "address = 0", "instrument[1].address: found 0"},
        Wrong{kModbus, "address = 17", "address = 248", "instrument[1].address: found 248"},
        Wrong{kModbus, "\"even\"", "\"mark\"", "\"none\", \"even\" or \"odd\""},
        Wrong{kModbus, "stop_bits = 1", "stop_bits = 3", "stop_bits: found 3"},
        Wrong{kModbus, "\"50 ms\"", "\"5 ms\"", "a time from 10 ms to 60 s"},
        Wrong{kModbus, "\"250 ms\"", "250", "timeout: found 250"},
        Wrong{kModbus, "\"250 ms\"", "\"0.0001 ms\"", "a time from 1 ms to 60 s"},
        Wrong{kModbus, "gives = \"slope\"", "gives = \"slope\"\nsign = 2", "sign: found 2, expected 1 or -1"},
        Wrong{kModbus, "gives = \"slope\"", "gives = \"slope\"\nsign = 0", "sign: found 0, expected 1 or -1"},
        Wrong{kModbus, "gives = \"slope\"", "gives = \"slope\"\nsettle = { window = \"1e12 s\" }",
              "a time from 10 ms to 10 min"},
        Wrong{kModbus, "retries = 1", "retries = 11", "retries: found 11"},
        Wrong{kModbus, "holding 12", "coil 12", "a register, \"input N\" or \"holding N\""},
        Wrong{kModbus, "holding 12", "holding 65536", "N from 0 to 65535"},
        Wrong{kModbus, "scale = 0.5", "scale = 0", "a plain number, not 0"},
        Wrong{kModbus, "\"float32\"", "\"float64\"", "\"int16\", \"uint16\", \"int32\""},
        Wrong{kModbus, "unit = \"mm/m\"\n", "", "unit: found no such key"},
        Wrong{kModbus, "unit = \"mm/m\"", "unit = \"mm\"", "a unit of a slope"},
        Wrong{kModbus, "\"modbus\"", "\"xdr\"", "instrument[1].address: found"},
        Wrong{kModbus, "gives = \"slope\"", "gives = \"slope\"\nscale_checked = \"2026-09-20\"",
              "kit.toml:19: instrument[1].channel[1].scale_checked: found \"2026-09-20\""},
        Wrong{kModbus, "gives = \"slope\"", "gives = \"slope\"\nscale_checked = true",
              "scale_checked: found true"},
        Wrong{kModbus, "gives = \"slope\"", "gives = \"slope\"\nscale_checked = 2026-09-20T10:00:00Z",
              "the date on which scale, unit and sign were checked, without quotes"},
        Wrong{kModbus, "gives = \"slope\"", "gives = \"slope\"\nscale_checked = 2026",
              "scale_checked: found 2026"},
        Wrong{kModbus,
              "unit = \"mm/m\"\ngives = \"slope\"\nsigma = \"0.02 mm/m\"\nzero_keeps = \"0.05 mm/m\"",
              "unit = \"C\"\ngives = \"temperature\"\nscale_checked = 2026-09-20",
              "scale_checked: found an unknown key"},
        Wrong{kLine, "ask = \"read\\r\\n\"", "ask = 12", "ask: found 12"},
        Wrong{kLine, "ask = \"read\\r\\n\"", "ask = \"\"", "1 to 64 characters"},
        Wrong{kLine, "{unit}", "m", "unit: found no such key"},
        Wrong{kLine, "ask = \"read\\r\\n\"\n", "", "instrument[1].every: found"}));

TEST_P(WrongKitSheet, IsComplainedOfByKeyWithWhatWouldBeRight) {
  EXPECT_THAT(complaints(changed(GetParam().sheet, GetParam().from, GetParam().to)),
              HasSubstr(GetParam().says));
}

TEST(KitSheet, ComplainsOfUnknownKeysBesideASpeechOrAQuantityThatItDoesNotKnow) {
  std::string text = kModbus;
  for (const auto& [from, to] : {std::pair{"\"modbus\"", "\"rtu\""},
                                 {"\"slope\"", "\"tilt\""},
                                 {"retries", "retires"},
                                 {"zero_keeps", "zero_kepes"}})
    text = changed(text, from, to);
  const std::string all = complaints(text);
  for (const char* says :
       {"instrument[1].speaks: found \"rtu\"", "instrument[1].retires: found an unknown key",
        "channel[1].gives: found \"tilt\"", "channel[1].zero_kepes: found an unknown key"})
    EXPECT_THAT(all, HasSubstr(says));
  EXPECT_THAT(all, ::testing::Not(HasSubstr("address"))) << "of one of the speeches";
  EXPECT_THAT(all, ::testing::Not(HasSubstr("scale: found")));
}

TEST(KitSheet, LetsInstrumentsShareALineOnlyWithTheSameSettings) {
  const std::string second =
      changed(changed(kModbus, "\"level\"", "\"other level\""), "address = 17", "address = 18");
  EXPECT_EQ(read(kModbus + second).instruments.size(), 2u);
  EXPECT_THAT(complaints(kModbus + changed(second, "\"even\"", "\"odd\"")),
              HasSubstr("the same parity and stop_bits"));
  EXPECT_THAT(complaints(kModbus + changed(second, "19200", "9600")), HasSubstr("19200, one speed a port"));
  EXPECT_THAT(complaints(kModbus + changed(second, "18", "17")),
              HasSubstr("an address of its own on the port"));
  EXPECT_THAT(complaints(std::string(kLine) + changed(kLine, "\"laser\"", "\"other laser\"")),
              HasSubstr("a port of its own"));
}

TEST(KitSheet, WantsATalkerForEachOfTwoThatSendTheSameName) {
  const auto both = [](const std::string& first, const std::string& second) {
    std::string text;
    for (const std::string& talker : {first, second})
      text += "[[instrument]]\nname = \"level" + std::to_string(text.size()) +
              "\"\nport = \"a\"\nspeaks = \"xdr\"\n" +
              (talker.empty() ? "" : "talker = \"" + talker + "\"\n") +
              "channel = [ { transducer = \"P\", gives = \"slope\", sigma = \"1 mm/m\" } ]\n";
    return text;
  };
  EXPECT_EQ(read(both("YA", "YB")).instruments.size(), 2u);
  for (const auto& [first, second] : {std::pair{"", ""}, {"YA", ""}, {"", "YA"}, {"YA", "YA"}})
    EXPECT_THAT(complaints(both(first, second)),
                HasSubstr("a talker for each, since \"level0\" on the same port has \"P\" too"));
}

TEST(KitSheet, RefusesATalkerThatIsNone) {
  for (const char* talker : {"", "Y", "ya", "YXX", "Y1"})
    EXPECT_THAT(
        complaints("[[instrument]]\nname = \"a\"\nport = \"b\"\nspeaks = \"xdr\"\ntalker = \"" +
                   std::string(talker) +
                   "\"\nchannel = [ { transducer = \"P\", gives = \"slope\", sigma = \"1 mm/m\" } ]\n"),
        HasSubstr("talker: found"));
}

TEST(KitSheet, OfEveryDemoIsWellFormed) {
  int sheets = 0;
  for (const auto& file : std::filesystem::directory_iterator(HANGTRUE_DATA_DIR "/kits")) {
    const KitSheetOrComplaints kit = read_kit_sheet(file.path().string(), run());
    EXPECT_TRUE(kit.sheet) << hangtrue::sheet::text(kit.complaints);
    EXPECT_THAT(contents(file.path()), HasSubstr("Invented")) << file.path();
    ++sheets;
  }
  EXPECT_GE(sheets, 8);
}

// What the README shows must be right.
TEST(KitSheet, OfTheReadmeIsFiveLinesAndWellFormed) {
  const std::string readme = contents(HANGTRUE_DATA_DIR "/../README.md");
  int shown = 0;
  for (std::size_t at = 0; (at = readme.find("```toml\n", at)) != std::string::npos;) {
    at += 8;
    const std::string block = readme.substr(at, readme.find("```", at) - at);
    if (block.find("[[instrument]]") == std::string::npos) {  // of a run sheet
      const auto run_with = parse_run_sheet(kExample + block, "README.md");
      EXPECT_TRUE(run_with.sheet) << hangtrue::sheet::text(run_with.complaints);
      continue;
    }
    const KitSheet kit = read(block);
    ASSERT_EQ(kit.instruments.size(), 1u);
    const bool needs_address = kit.instruments[0].speaks == Speaks::modbus;
    EXPECT_EQ(std::count(block.begin(), block.end(), '\n'), needs_address ? 6 : 5) << block;
    ++shown;
  }
  EXPECT_GE(shown, 3) << "one for each way of speaking";
}

}  // namespace
}  // namespace hangtrue::sheet
