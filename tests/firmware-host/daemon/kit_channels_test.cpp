#include "firmware-host/daemon/kit_channels.hpp"

#include <gmock/gmock.h>

#include "core/quantity/units.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::Pair;
using ::testing::SizeIs;

sheet::KitChannel channel(const char* transducer, Channel gives, const char* unit = "") {
  sheet::KitChannel made;
  made.transducer = transducer;
  made.gives = gives;
  made.unit = unit;
  made.key = "instrument[1].channel[1].transducer";
  made.line = 12;
  return made;
}

sheet::KitInstrument inclinometer() {
  sheet::KitInstrument made;
  made.name = "walking inclinometer";
  made.channels = {channel("PITCH", Channel::slope), channel("ROLL", Channel::roll)};
  made.channels[1].sign = -1;
  return made;
}

const auto kIgnore = [](const wire::Sample&) {};

TEST(SpecOf, IsTheChannelOfTheKitSheet) {
  sheet::KitInstrument made = inclinometer();
  made.talker = "YX";
  made.channels[0].unit = "in/ft";
  made.channels[0].modbus = sheet::Register{true, 40, sheet::RegisterType::uint32, false, 0.01};
  const wire::ChannelSpec spec = spec_of(made, 0, 3);
  EXPECT_EQ(spec.instrument, 3u);
  EXPECT_EQ(spec.channel, 0u);
  EXPECT_EQ(spec.gives, Channel::slope);
  EXPECT_EQ(spec.sign, 1);
  EXPECT_EQ(spec.unit, wire::Unit::in_per_ft);
  EXPECT_EQ(spec.name, "PITCH");
  EXPECT_EQ(spec.talker, "YX");
  EXPECT_TRUE(spec.place.holding);
  EXPECT_EQ(spec.place.number, 40);
  EXPECT_EQ(spec.place.type, wire::RegisterType::uint32);
  EXPECT_FALSE(spec.place.high_word_first);
  EXPECT_EQ(spec.place.scale, 0.01);
  EXPECT_EQ(spec_of(made, 1, 3).sign, -1);
}

// A unit that a kit sheet may name, and the wire does not know, would give no value at all.
TEST(SpecOf, KnowsEveryUnitThatAKitSheetMayName) {
  const auto expect_known = [](Channel gives, std::initializer_list<const char*> units) {
    sheet::KitInstrument made;
    for (const char* const unit : units) {
      made.channels = {channel("", gives, unit)};
      const auto by_sheet = sheet::convert(2, unit, sheet::kind_of(gives));
      ASSERT_TRUE(by_sheet.ok()) << unit;
      const wire::ChannelSpec spec = spec_of(made, 0, 0);
      EXPECT_EQ(wire::to_si(spec, 2, spec.unit, 1), by_sheet.value()) << unit;
    }
  };
  expect_known(Channel::slope, {"mm/m", "in/ft", "rad", "deg", " deg "});
  expect_known(Channel::roll, {"mm/m", "in/ft", "rad", "deg"});
  expect_known(Channel::distance, {"mm", "cm", "m", "in", "ft"});
  expect_known(Channel::temperature, {"C", "F"});
}

TEST(KitQuads, CountsWhatNoChannelClaimsByItsName) {
  const sheet::KitInstrument made = inclinometer();
  KitQuads quads(made, 15);
  quads.read("YX",
             std::vector<wire::XdrQuad>{{'A', 1, "HEEL"}, {'A', 1, "HEEL"}, {'D', 1, "PITCH"}, {'A', 1, ""}},
             kIgnore);
  EXPECT_THAT(quads.unknown(), ElementsAre(Pair(" (A)", 1u), Pair("HEEL (A)", 2u), Pair("PITCH (D)", 1u)));
}

TEST(KitQuads, NamesTheTalkerWhereOnlyItDiffers) {
  sheet::KitInstrument made = inclinometer();
  made.talker = "YX";
  KitQuads quads(made, 15);
  quads.read("II", std::vector<wire::XdrQuad>{{'A', 1, "PITCH"}}, kIgnore);
  EXPECT_THAT(quads.unknown(), ElementsAre(Pair("PITCH (A) from II", 1u)));
}

TEST(KitQuads, KeepsTheListOfUnknownNamesShort) {
  const sheet::KitInstrument made = inclinometer();
  KitQuads quads(made, 15);
  for (int i = 0; i < 1000; ++i) {
    const std::string name = "N" + std::to_string(i);
    quads.read("YX", std::vector<wire::XdrQuad>{{'A', 1, name}}, kIgnore);
  }
  EXPECT_EQ(quads.unknown().size(), 65u);
  EXPECT_EQ(quads.unknown().at("others"), 936u);
}

TEST(KitQuads, SaysWhyAChannelGivesNothing) {
  const sheet::KitInstrument one = inclinometer(), other = inclinometer();
  const sheet::KitInstrument* const all[] = {&one, &other};
  KitQuads quads(all, 15);
  quads.read("YX", std::vector<wire::XdrQuad>{{'A', 1, "PITCH"}}, kIgnore);
  EXPECT_EQ(quads.mixed(1), "");
  quads.read("HC", std::vector<wire::XdrQuad>{{'A', 1, "PITCH"}}, kIgnore);
  EXPECT_EQ(
      quads.mixed(1),
      "two talkers, YX and HC, send \"PITCH\", and nobody knows which is meant; name the one by talker in "
      "the kit sheet");
  quads.forget();
  EXPECT_EQ(quads.mixed(1), "");
  quads.read("YX", std::vector<wire::XdrQuad>{{'A', 1, "ROLL"}, {'A', 2, "ROLL"}}, kIgnore);
  EXPECT_EQ(
      quads.mixed(0),
      "\"ROLL\" stands twice in one sentence, and nobody knows which is meant; give the device's values "
      "names of their own");
}

// What is moved works in the storage that came with it.
TEST(KitRegisters, CanBeMoved) {
  sheet::KitInstrument made;
  made.address = 9;
  made.channels = {channel("input 5", Channel::distance, "mm"),
                   channel("input 6", Channel::temperature, "C")};
  made.channels[0].modbus = sheet::Register{false, 5};
  std::vector<KitRegisters> all;
  for (int i = 0; i < 20; ++i) all.emplace_back(made, 15);
  std::vector<double> values;
  all[0].map().read(0, std::vector<std::uint16_t>{1500},
                    [&values](const wire::Sample& sample) { values.push_back(sample.value); });
  EXPECT_THAT(all[0].map().requests(), ElementsAre(wire::ReadRequest{9, 4, 5, 1}));
  EXPECT_THAT(values, ElementsAre(1.5));
}

TEST(ComplaintsOfSpeech, NamesTheLineAndWhatWouldBeRight) {
  sheet::KitInstrument laser;
  laser.speaks = sheet::Speaks::line;
  laser.channels = {channel("D {number} {number}", Channel::distance),
                    channel("T {number}", Channel::temperature, "C")};
  const auto complaints = complaints_of_speech(laser, "kit.toml");
  ASSERT_THAT(complaints, SizeIs(1));
  EXPECT_EQ(
      complaints[0].text(),
      "kit.toml:12: instrument[1].channel[1].transducer: found {number} 2 times, expected a pattern with one "
      "{number}, such as \"DIST {number} {unit}\"");
  KitLines lines(laser, 15);  // the other channel speaks all the same
  EXPECT_TRUE(lines.map().read("T 20", [](const wire::Sample& sample) { EXPECT_EQ(sample.channel, 1u); }));

  sheet::KitInstrument gauge;
  gauge.speaks = sheet::Speaks::modbus;
  gauge.channels = {channel("input 65535", Channel::distance, "mm")};
  gauge.channels[0].modbus = sheet::Register{false, 65535, sheet::RegisterType::int32};
  ASSERT_THAT(complaints_of_speech(gauge, "kit.toml"), SizeIs(1));
  EXPECT_EQ(complaints_of_speech(gauge, "kit.toml")[0].expected, "a register from 0 to 65534");
  gauge.channels[0].modbus->type = sheet::RegisterType::int16;
  EXPECT_THAT(complaints_of_speech(gauge, "kit.toml"), IsEmpty());
}

// A fault's text that has the pattern in it gives nothing, unless the kit sheet says that the pattern is a part of the line.
TEST(KitLines, TakeAPatternForTheWholeLineUnlessTheKitSheetSaysOtherwise) {
  sheet::KitInstrument laser;
  laser.speaks = sheet::Speaks::line;
  laser.channels = {channel("it is {number} mm", Channel::distance, "mm")};
  for (const bool within : {false, true}) {
    laser.channels[0].within = within;
    KitLines lines(laser, 15);
    int values = 0;
    for (const char* line : {"it is 900.0 mm error 17", "error it is 900.0 mm"})
      EXPECT_EQ(lines.map().read(line, [&](const wire::Sample&) { ++values; }), within) << line;
    EXPECT_EQ(values, within ? 2 : 0);
  }
}

struct FaultCase {
  std::string pattern, found;
};
class PatternFault : public ::testing::TestWithParam<FaultCase> {};
TEST_P(PatternFault, HasWords) {
  sheet::KitInstrument laser;
  laser.speaks = sheet::Speaks::line;
  laser.channels = {channel("", Channel::distance)};
  laser.channels[0].transducer = GetParam().pattern;
  const auto complaints = complaints_of_speech(laser, "kit.toml");
  ASSERT_THAT(complaints, SizeIs(1));
  EXPECT_EQ(complaints[0].found, GetParam().found);
}
INSTANTIATE_TEST_SUITE_P(
    Texts, PatternFault,
    ::testing::Values(FaultCase{"DIST", "no {number}"}, FaultCase{"{number} {number}", "{number} 2 times"},
                      FaultCase{"{number} {unit} {unit}", "{unit} 2 times"},
                      FaultCase{"{Number}", "a brace that is part of neither {number}, {number,} nor {unit}"},
                      FaultCase{"{number}\n", "a character that no line brings"},
                      FaultCase{"{number}" + std::string(93, 'x'),
                                "a pattern of 101 characters, where 100 are the most"}));

}  // namespace
}  // namespace hangtrue::daemon
