#include "firmware-host/wire/channels.hpp"

#include <gmock/gmock.h>
#include <modbus/modbus.h>

#include <cstring>
#include <limits>
#include <random>

#include "core/quantity/units.hpp"
#include "tests/no_heap.hpp"

namespace hangtrue::wire {
namespace {

using ::testing::ElementsAre;
using ::testing::IsEmpty;
using ::testing::Pair;

ChannelSpec channel(std::string_view name, Channel gives, int sign = 1, Unit unit = Unit::none) {
  ChannelSpec made;
  made.name = name;
  made.gives = gives;
  made.sign = sign;
  made.unit = unit;
  return made;
}

/// Channels of one instrument, numbered as they come.
template <class Stored>
std::vector<Stored> stored(const std::vector<ChannelSpec>& channels) {
  std::vector<Stored> all;
  for (ChannelSpec spec : channels) {
    spec.channel = all.size();
    all.push_back({.spec = spec});
  }
  return all;
}

class ChannelMapTest : public ::testing::Test {
 protected:
  std::vector<Sample> read(const std::vector<XdrQuad>& quads, std::string_view talker = {}) {
    std::vector<Sample> samples;
    map.read(
        talker, quads, [&samples](const Sample& sample) { samples.push_back(sample); },
        [this](const XdrQuad& quad, std::string_view from) {
          unknown.push_back(std::string(quad.name) + ' ' + quad.type + std::string(from));
        });
    return samples;
  }
  std::vector<QuadChannel> channels =
      stored<QuadChannel>({channel("PITCH", Channel::slope), channel("ROLL", Channel::roll, -1),
                           channel("LDM", Channel::distance, -1), channel("PITCH", Channel::temperature),
                           channel("POS", Channel::station)});
  ChannelMap map{channels, 15};
  std::vector<std::string> unknown;
};

TEST_F(ChannelMapTest, TurnsDegreesIntoTheClimbAMetreAlong) {
  // Source: definition; 1 mm/m is atan(0.001) = 0.0572957604 degrees (data: exact arithmetic, tan).
  const auto samples = read({{'A', 0.0572957604145, "PITCH"}});
  ASSERT_EQ(samples.size(), 1u);
  EXPECT_EQ(samples[0].channel, 0u);
  EXPECT_EQ(samples[0].gives, Channel::slope);
  EXPECT_NEAR(samples[0].value, 0.001, 1e-14);
  EXPECT_NEAR(read({{'A', 45.0, "PITCH"}})[0].value, 1.0, 1e-15);
}

TEST_F(ChannelMapTest, TurnsRollIntoRadiansAndAppliesTheSign) {
  EXPECT_NEAR(read({{'A', 90.0, "ROLL"}})[0].value, -kPi / 2, 1e-15);
  EXPECT_EQ(read({{'D', 2.3456, "LDM"}})[0].value, -2.3456);
}

TEST_F(ChannelMapTest, LeavesTemperatureInCelsiusAndTellsItFromAnAngleOfTheSameName) {
  const auto samples = read({{'C', 21.5, "PITCH"}});
  ASSERT_EQ(samples.size(), 1u);
  EXPECT_EQ(samples[0].channel, 3u);
  EXPECT_EQ(samples[0].value, 21.5);
}

TEST_F(ChannelMapTest, CountsStationsFromOneAndGivesTheIndex) {
  EXPECT_EQ(read({{'G', 1, "POS"}})[0].value, 0.0);
  EXPECT_EQ(read({{'G', 15, "POS"}})[0].value, 14.0);
  EXPECT_EQ(map.not_usable(), 0u);
  for (const double station : {0.0, 16.0, 1.5, -1.0}) EXPECT_TRUE(read({{'G', station, "POS"}}).empty());
  EXPECT_EQ(map.not_usable(), 4u);
}

TEST_F(ChannelMapTest, RefusesAnAngleThatIsNoSlope) {
  for (const double degrees : {90.0, -90.0, 179.9}) EXPECT_TRUE(read({{'A', degrees, "PITCH"}}).empty());
  EXPECT_EQ(map.not_usable(), 3u);
}

TEST_F(ChannelMapTest, TellsWhatNoChannelClaims) {
  EXPECT_THAT(read({{'A', 1, "HEEL"}, {'A', 1, "HEEL"}, {'D', 1, "PITCH"}, {'A', 1, ""}}), IsEmpty());
  EXPECT_THAT(unknown, ElementsAre("HEEL A", "HEEL A", "PITCH D", " A"));
  EXPECT_EQ(map.unknown(), 4u);
}

// --- several instruments and talkers on one line

TEST_F(ChannelMapTest, HearsOnlyTheTalkerThatIsNamed) {
  channels = stored<QuadChannel>(
      {channel("PITCH", Channel::roll), channel("PITCH", Channel::roll), channel("HEEL", Channel::roll)});
  for (std::size_t i = 0; i < 3; ++i) channels[i].spec.instrument = i;
  channels[0].spec.talker = "YX";
  channels[1].spec.talker = "HC";
  map = ChannelMap(channels, 15);
  std::vector<std::pair<std::size_t, double>> heard;
  XdrReader reader;
  const std::string line =
      "$YXXDR,A,1.5,D,PITCH*26\r\n$HCXDR,A,2.5,D,PITCH*2F\r\n"
      "$HCXDR,A,3.5,D,HEEL*6C\r\n$IIXDR,A,4.5,D,PITCH*22\r\n";
  reader.push(line, [&](std::string_view talker, std::span<const XdrQuad> quads) {
    for (const Sample& sample : read({quads.begin(), quads.end()}, talker))
      heard.emplace_back(sample.instrument, sample.value * 180 / kPi);
  });
  EXPECT_EQ(reader.bytes_lost(), 0u);
  EXPECT_THAT(heard, ElementsAre(Pair(0u, ::testing::DoubleEq(1.5)), Pair(1u, ::testing::DoubleEq(2.5)),
                                 Pair(2u, ::testing::DoubleEq(3.5))));
  EXPECT_THAT(unknown, ElementsAre("PITCH AII"));
}

TEST_F(ChannelMapTest, WithATalkerClaimsNothingOfNoTalkerInParticular) {
  for (QuadChannel& each : channels) each.spec.talker = "YX";
  EXPECT_THAT(read({{'D', 1, "LDM"}}), IsEmpty());
  EXPECT_EQ(read({{'D', 1, "LDM"}}, "YX").size(), 1u);
}

TEST_F(ChannelMapTest, GivesNothingWhereTwoTalkersSendOneChannelUntilTheStreamBeginsAnew) {
  EXPECT_EQ(read({{'D', 1, "LDM"}}, "YX").size(), 1u);
  EXPECT_EQ(map.mixed(0), nullptr);
  EXPECT_THAT(read({{'D', 2, "LDM"}}, "HC"), IsEmpty());
  EXPECT_THAT(read({{'D', 1, "LDM"}}, "YX"), IsEmpty());
  ASSERT_NE(map.mixed(0), nullptr);
  EXPECT_EQ(map.mixed(0)->spec.name, "LDM");
  EXPECT_EQ(map.mixed(0)->heard.text(), "YX");
  EXPECT_EQ(map.mixed(0)->other.text(), "HC");
  EXPECT_FALSE(map.mixed(0)->twice);
  EXPECT_EQ(map.mixed(1), nullptr);
  EXPECT_EQ(map.unknown(), 0u);
  map.forget();
  EXPECT_EQ(map.mixed(0), nullptr);
  EXPECT_EQ(read({{'D', 2, "LDM"}}, "HC").size(), 1u);
}

TEST_F(ChannelMapTest, GivesNothingWhereAQuadStandsTwiceInASentence) {
  EXPECT_THAT(read({{'D', 1, "LDM"}, {'D', 2, "LDM"}}, "YX"), IsEmpty());
  ASSERT_NE(map.mixed(0), nullptr);
  EXPECT_TRUE(map.mixed(0)->twice);
  EXPECT_EQ(read({{'A', 1, "ROLL"}}, "YX").size(), 1u);  // the other channels go on
}

// --- one conversion for all ways of speaking

struct ConversionCase {
  Channel gives;
  const char* unit;
  double raw;
  std::optional<double> si;  // for sign -1
};
class Conversion : public ::testing::TestWithParam<ConversionCase> {};
TEST_P(Conversion, GivesSi) {
  const ConversionCase& wanted = GetParam();
  const Unit unit = unit_named(wanted.unit).value_or(Unit::none);
  const auto value = to_si(channel("", wanted.gives, -1), wanted.raw, unit, 15);
  ASSERT_EQ(value.has_value(), wanted.si.has_value()) << wanted.unit;
  if (value) {
    EXPECT_DOUBLE_EQ(*value, *wanted.si) << wanted.unit;
  }
}
// Source of the inch: international yard and pound agreement (1959), 25.4 mm. The rest is by definition.
INSTANTIATE_TEST_SUITE_P(
    Units, Conversion,
    ::testing::Values(
        ConversionCase{Channel::distance, "mm", 1500, -1.5},
        ConversionCase{Channel::distance, "in", 10, -0.254}, ConversionCase{Channel::distance, "deg", 1, {}},
        ConversionCase{Channel::distance, "", 1, {}}, ConversionCase{Channel::slope, "mm/m", 2, -0.002},
        ConversionCase{Channel::slope, "deg", 45, -1.0}, ConversionCase{Channel::slope, "deg", 90, {}},
        ConversionCase{Channel::slope, "deg", -90, {}}, ConversionCase{Channel::roll, "deg", 180, -kPi},
        ConversionCase{Channel::roll, "rad", 0.5, -0.5},
        ConversionCase{Channel::temperature, "C", 21.5, 21.5},
        ConversionCase{Channel::temperature, "F", 68, 20.0}, ConversionCase{Channel::station, "", 15, 14.0},
        ConversionCase{Channel::station, "", 16, {}}, ConversionCase{Channel::station, "", 0, {}},
        ConversionCase{Channel::station, "", 1.5, {}},
        ConversionCase{Channel::distance, "m", std::numeric_limits<double>::infinity(), {}},
        ConversionCase{Channel::station, "", std::numeric_limits<double>::quiet_NaN(), {}}));

TEST(UnitNamed, KnowsHowDevicesWriteUnits) {
  for (const char* text : {"in", "IN", "inch", "Inch", "\"", " in\t"})
    EXPECT_EQ(unit_named(text), Unit::in) << text;
  for (const char* text : {"\xB0", "\xC2\xB0", "deg", "degrees"})
    EXPECT_EQ(unit_named(text), Unit::deg) << text;
  EXPECT_EQ(unit_named("\xC2\xB0"
                       "F"),
            Unit::fahrenheit);
  for (const char* text : {"", "k", "kg", "mm2", "metres", "a unit longer than any that is known"})
    EXPECT_EQ(unit_named(text), std::nullopt) << text;
}

// --- registers

/// As a device packs it, by other means than the code under test: the value's own bytes, high byte first.
template <class Value>
std::vector<std::uint16_t> packed(Value value, bool high_word_first) {
  unsigned char bytes[sizeof value];
  std::memcpy(bytes, &value, sizeof value);
  std::vector<std::uint16_t> words;
  for (std::size_t i = sizeof value; i > 0; i -= 2)
    words.push_back(
        static_cast<std::uint16_t>(bytes[i - 1] * 256 + bytes[i - 2]));  // this machine: low byte first
  if (!high_word_first) std::reverse(words.begin(), words.end());
  return words;
}

TEST(ValueOf, TwoWordsIsWhatWasPackedInEitherOrder) {
  for (const bool high_first : {true, false}) {
    for (const float value :
         {0.0f, 1.5f, -1.5f, 3.14159274f, 1e-30f, -1e30f, 1.17549435e-38f, 3.4028235e38f, 1e-45f})
      EXPECT_EQ(value_of(packed(value, high_first), RegisterType::float32, high_first), double(value))
          << value;
    for (const std::int32_t value : {0, 1, -1, 65535, 65536, -65536, 2147483647, -2147483647 - 1})
      EXPECT_EQ(value_of(packed(value, high_first), RegisterType::int32, high_first), double(value)) << value;
    for (const std::uint32_t value : {0u, 1u, 65535u, 65536u, 2147483648u, 4294967295u})
      EXPECT_EQ(value_of(packed(value, high_first), RegisterType::uint32, high_first), double(value))
          << value;
  }
  // Source: IEEE 754, single precision: 1.5 is 3FC00000 hexadecimal.
  EXPECT_EQ(value_of(std::vector<std::uint16_t>{0x3FC0, 0x0000}, RegisterType::float32, true), 1.5);
  EXPECT_EQ(value_of(std::vector<std::uint16_t>{0x0000, 0x3FC0}, RegisterType::float32, false), 1.5);
}

TEST(ValueOf, OneWordIsSignedOrNot) {
  for (const int value : {0, 1, 32767, -1, -32768})
    EXPECT_EQ(value_of(packed(static_cast<std::int16_t>(value), true), RegisterType::int16, true), value);
  for (const int value : {0, 1, 32768, 65535})
    EXPECT_EQ(value_of(packed(static_cast<std::uint16_t>(value), true), RegisterType::uint16, false), value);
}

TEST(ValueOf, FloatsAgreesWithLibmodbus) {
  std::mt19937 random(8);
  int compared = 0;
  for (int i = 0; i < 100'000; ++i) {
    const std::uint16_t words[] = {static_cast<std::uint16_t>(random()),
                                   static_cast<std::uint16_t>(random())};
    const float high_first = modbus_get_float_abcd(words), low_first = modbus_get_float_cdab(words);
    if (!std::isfinite(high_first) || !std::isfinite(low_first)) continue;
    EXPECT_EQ(value_of(words, RegisterType::float32, true), double(high_first));
    EXPECT_EQ(value_of(words, RegisterType::float32, false), double(low_first));
    ++compared;
  }
  EXPECT_GT(compared, 90'000);
}

TEST(ValueOf, FloatsThatAreNoNumberIsNothing) {
  for (const float value :
       {std::numeric_limits<float>::quiet_NaN(), std::numeric_limits<float>::infinity(),
        -std::numeric_limits<float>::infinity(), std::numeric_limits<float>::signaling_NaN()})
    EXPECT_EQ(value_of(packed(value, true), RegisterType::float32, true), std::nullopt);
}

TEST(ValueOf, TooFewRegistersIsNothing) {
  EXPECT_EQ(value_of({}, RegisterType::int16, true), std::nullopt);
  EXPECT_EQ(value_of(packed(std::uint16_t{1}, true), RegisterType::int32, true), std::nullopt);
}

ChannelSpec register_channel(bool holding, int number, RegisterType type = RegisterType::int16,
                             double scale = 1) {
  ChannelSpec made = channel("", Channel::distance, 1, Unit::mm);
  made.place = {holding, number, type, true, scale};
  return made;
}

/// A map with its storage.
struct Registers {
  explicit Registers(const std::vector<ChannelSpec>& specs, int address = 1)
      : channels(stored<RegisterChannel>(specs)), room(specs.size()), map(address, channels, room, 15) {}
  std::vector<RegisterChannel> channels;
  std::vector<ReadRequest> room;
  RegisterMap map;
};

std::vector<ReadRequest> requests_for(const std::vector<ChannelSpec>& channels) {
  const Registers registers(channels, 9);
  return {registers.map.requests().begin(), registers.map.requests().end()};
}

TEST(RegisterMap, AsksForWhatAdjoinsOrOverlapsAtOnce) {
  EXPECT_THAT(requests_for({register_channel(false, 12), register_channel(false, 10, RegisterType::float32)}),
              ElementsAre(ReadRequest{9, 4, 10, 3}));
  EXPECT_THAT(requests_for({register_channel(false, 11), register_channel(false, 10, RegisterType::int32)}),
              ElementsAre(ReadRequest{9, 4, 10, 2}));
  EXPECT_THAT(requests_for({register_channel(false, 10, RegisterType::int32), register_channel(false, 10)}),
              ElementsAre(ReadRequest{9, 4, 10, 2}));
}

TEST(RegisterMap, NeverAsksForARegisterThatNoChannelNames) {
  EXPECT_THAT(requests_for({register_channel(false, 10), register_channel(false, 12)}),
              ElementsAre(ReadRequest{9, 4, 10, 1}, ReadRequest{9, 4, 12, 1}));
}

TEST(RegisterMap, AsksForHoldingAndInputRegistersApart) {
  EXPECT_THAT(requests_for({register_channel(false, 11), register_channel(true, 10)}),
              ElementsAre(ReadRequest{9, 3, 10, 1}, ReadRequest{9, 4, 11, 1}));
}

TEST(RegisterMap, AsksForNoMoreThan125AtOnceAndTearsNoValue) {
  std::vector<ChannelSpec> channels;
  for (int i = 0; i < 126; ++i) channels.push_back(register_channel(false, i));
  EXPECT_THAT(requests_for(channels), ElementsAre(ReadRequest{9, 4, 0, 125}, ReadRequest{9, 4, 125, 1}));
  channels.resize(124);
  channels.push_back(register_channel(false, 124, RegisterType::float32));
  EXPECT_THAT(requests_for(channels), ElementsAre(ReadRequest{9, 4, 0, 124}, ReadRequest{9, 4, 124, 2}));
}

TEST(RegisterMap, DoesNotAskForAValueBeyondTheLastRegister) {
  const Registers registers(
      {register_channel(false, 65535, RegisterType::int32), register_channel(false, 65535)});
  EXPECT_THAT(registers.map.requests(), ElementsAre(ReadRequest{1, 4, 65535, 1}));
  EXPECT_EQ(registers.channels[0].request, RegisterChannel::kNotAsked);
  EXPECT_EQ(registers.channels[1].request, 0u);
}

TEST(RegisterMap, DoesNotAskForMoreThanItHasRoomFor) {
  std::vector<RegisterChannel> channels =
      stored<RegisterChannel>({register_channel(false, 1), register_channel(false, 5)});
  std::vector<ReadRequest> room(1);
  const RegisterMap map(1, channels, room, 15);
  EXPECT_THAT(map.requests(), ElementsAre(ReadRequest{1, 4, 1, 1}));
  EXPECT_EQ(channels[1].request, RegisterChannel::kNotAsked);
}

TEST(RegisterMap, GivesSamplesOfEachAnswerScaledAndSigned) {
  std::vector<ChannelSpec> made = {register_channel(false, 30, RegisterType::int32, 0.01),
                                   register_channel(false, 5, RegisterType::int16, -0.1),
                                   register_channel(false, 6, RegisterType::float32)};
  made[0].sign = -1;
  Registers registers(made);
  RegisterMap& map = registers.map;
  ASSERT_EQ(map.requests().size(), 2u);
  std::vector<std::pair<std::size_t, double>> given;
  const auto keep = [&given](const Sample& sample) { given.emplace_back(sample.channel, sample.value); };
  map.read(0, std::vector<std::uint16_t>{0xFFFE, 0x3FC0, 0x0000}, keep);
  EXPECT_THAT(given,
              ElementsAre(Pair(1u, ::testing::DoubleEq(0.0002)), Pair(2u, ::testing::DoubleEq(0.0015))));
  given.clear();
  map.read(1, packed(std::int32_t{-123456}, true), keep);
  EXPECT_THAT(given, ElementsAre(Pair(0u, ::testing::DoubleEq(1.23456))));
  EXPECT_EQ(map.not_usable(), 0u);
}

TEST(RegisterMap, CountsAFloatThatIsNoNumber) {
  Registers registers({register_channel(false, 0, RegisterType::float32)});
  registers.map.read(0, packed(std::numeric_limits<float>::quiet_NaN(), true), [](const Sample&) { FAIL(); });
  EXPECT_EQ(registers.map.not_usable(), 1u);
}

// --- lines

/// `channel.name` is the pattern, which may be a part of the line.
std::vector<LineChannel> lines(const std::vector<ChannelSpec>& channels) {
  std::vector<LineChannel> all = stored<LineChannel>(channels);
  for (LineChannel& each : all) each.pattern = LinePattern::compile(each.spec.name, Extent::within).value();
  return all;
}

TEST(LineMap, GivesEachChannelItsNumberInTheUnitOfTheLineOrOfTheChannel) {
  const auto made = lines({channel("DIST {number} {unit}", Channel::distance, -1),
                           channel("TEMP {number}", Channel::temperature, 1, Unit::fahrenheit)});
  LineMap map(made, 15);
  std::vector<std::pair<std::size_t, double>> given;
  const auto read_line = [&](std::string_view line) {
    return map.read(line,
                    [&given](const Sample& sample) { given.emplace_back(sample.channel, sample.value); });
  };
  EXPECT_TRUE(read_line("DIST 1500 mm, TEMP 68"));
  EXPECT_THAT(given, ElementsAre(Pair(0u, ::testing::DoubleEq(-1.5)), Pair(1u, ::testing::DoubleEq(20))));
  given.clear();
  for (const char* unit : {"m", "M", "m,"}) EXPECT_TRUE(read_line(std::string("DIST 1.5 ") + unit)) << unit;
  EXPECT_TRUE(read_line("DIST 1.5\""));
  EXPECT_TRUE(read_line("DIST 1.5 inch"));
  EXPECT_THAT(given,
              ElementsAre(Pair(0u, -1.5), Pair(0u, -1.5), Pair(0u, -1.5),
                          Pair(0u, ::testing::DoubleEq(-0.0381)), Pair(0u, ::testing::DoubleEq(-0.0381))));
  EXPECT_EQ(map.lines(), 6u);
}

TEST(LineMap, KnowsDegreesAsDevicesWriteThem) {
  const auto made = lines({channel("{number} {unit}", Channel::slope)});
  LineMap map(made, 15);
  int given = 0;
  for (const char* unit : {"deg", "DEG", "degrees", "\xB0", "\xC2\xB0"})
    EXPECT_TRUE(map.read(std::string("45 ") + unit, [&given](const Sample& sample) {
      EXPECT_DOUBLE_EQ(sample.value, 1);
      ++given;
    })) << unit;
  EXPECT_EQ(given, 5);
  const auto warm = lines({channel("{number} {unit}", Channel::temperature)});
  LineMap warmth(warm, 15);
  for (const char* unit : {"C", "c", "degC",
                           "\xB0"
                           "C",
                           "\xC2\xB0"
                           "C"})
    EXPECT_TRUE(warmth.read(std::string("21.5 ") + unit, [](const Sample& sample) {
      EXPECT_EQ(sample.value, 21.5);
    })) << unit;
}

TEST(LineMap, CountsLinesByWhyTheyAreOfNoUse) {
  const auto made = lines({channel("D {number} {unit}", Channel::distance),
                           channel("T {number}", Channel::temperature, 1, Unit::celsius)});
  LineMap map(made, 15);
  const auto never = [](const Sample&) { FAIL(); };
  EXPECT_EQ(map.last_of_no_use(), "");
  EXPECT_FALSE(map.read("error 17", never));
  EXPECT_EQ(map.last_of_no_use(), "error 17");
  EXPECT_FALSE(map.read("D 1,234 m", never));
  EXPECT_FALSE(map.read("D 1.2 kg", never));
  EXPECT_EQ(map.unmatched(), 1u);
  EXPECT_EQ(map.ambiguous(), 1u);
  EXPECT_EQ(map.not_usable(), 1u);
  EXPECT_EQ(map.last_of_no_use(), "D 1.2 kg");
  EXPECT_TRUE(map.read("D 1,234 m T 20", [](const Sample& sample) { EXPECT_EQ(sample.channel, 1u); }));
  EXPECT_FALSE(map.read(std::string(2 * kLongestLine, '.'), never));
  EXPECT_EQ(map.last_of_no_use(), std::string(kLongestLine, '.'));
}

// A station has no unit: whatever the line says of one, the number counts.
TEST(LineMap, TakesAStationWithoutAUnit) {
  const auto made = lines({channel("STN {number}", Channel::station)});
  LineMap map(made, 15);
  EXPECT_TRUE(map.read("STN 4", [](const Sample& sample) { EXPECT_EQ(sample.value, 3.0); }));
  EXPECT_FALSE(map.read("STN 16", [](const Sample&) { FAIL(); }));
}

// --- memory

TEST(ChannelMaps, ReadWithoutHeap) {
  if (!test::heap_is_counted()) return;
  auto quads = stored<QuadChannel>({channel("PITCH", Channel::slope), channel("LDM", Channel::distance)});
  auto registers = stored<RegisterChannel>({register_channel(false, 5), register_channel(true, 9)});
  std::vector<ReadRequest> room(2);
  std::vector<LineChannel> patterns = stored<LineChannel>({channel("", Channel::distance)});
  const std::vector<XdrQuad> sentence{{'A', 1, "PITCH"}, {'D', 1, "LDM"}, {'A', 1, "HEEL"}};
  const std::vector<std::uint16_t> answer{7};
  double sum = 0;
  const auto add = [&sum](const Sample& sample) { sum += sample.value; };
  const std::size_t before = test::heap_allocations();
  ChannelMap channel_map(quads, 15);
  channel_map.read("YX", sentence, add, [](const XdrQuad&, std::string_view) {});
  channel_map.read("HC", sentence, add, [](const XdrQuad&, std::string_view) {});
  RegisterMap register_map(1, registers, room, 15);
  register_map.read(1, answer, add);
  patterns[0].pattern = LinePattern::compile("DIST {number} {unit}").value();
  LineMap line_map(patterns, 15);
  (void)line_map.read("DIST 2 m", add);
  (void)line_map.read("nothing of use", add);
  EXPECT_EQ(test::heap_allocations(), before);
  EXPECT_NEAR(sum, std::tan(kPi / 180) + 1 + 0.007 + 2, 1e-12);
}

}  // namespace
}  // namespace hangtrue::wire
