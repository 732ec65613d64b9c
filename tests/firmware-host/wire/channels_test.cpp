#include "firmware-host/wire/channels.hpp"

#include <gmock/gmock.h>

#include "core/quantity/units.hpp"

namespace hangtrue::wire {
namespace {

using sheet::Gives;
using ::testing::ElementsAre;
using ::testing::Pair;

sheet::KitChannel channel(const char* transducer, Gives gives, int sign = 1) {
  sheet::KitChannel made;
  made.transducer = transducer;
  made.gives = gives;
  made.sign = sign;
  return made;
}

sheet::KitInstrument instrument() {
  sheet::KitInstrument made;
  made.name = "walking inclinometer";
  made.channels = {channel("PITCH", Gives::slope), channel("ROLL", Gives::roll, -1),
                   channel("LDM", Gives::distance, -1), channel("PITCH", Gives::temperature),
                   channel("POS", Gives::station)};
  return made;
}

std::vector<Sample> read(ChannelMap& map, const std::vector<XdrQuad>& quads) {
  std::vector<Sample> samples;
  map.read(quads, [&samples](const Sample& sample) { samples.push_back(sample); });
  return samples;
}

TEST(ChannelMap, TurnsDegreesIntoTheClimbAMetreAlong) {
  ChannelMap map(instrument(), 15);
  // Source: definition; 1 mm/m is atan(0.001) = 0.0572957604 degrees (data: exact arithmetic, tan).
  const auto samples = read(map, {{'A', 0.0572957604145, "PITCH"}});
  ASSERT_EQ(samples.size(), 1u);
  EXPECT_EQ(samples[0].channel, 0u);
  EXPECT_EQ(samples[0].gives, Gives::slope);
  EXPECT_NEAR(samples[0].value, 0.001, 1e-14);
  EXPECT_NEAR(read(map, {{'A', 45.0, "PITCH"}})[0].value, 1.0, 1e-15);
}

TEST(ChannelMap, TurnsRollIntoRadiansAndAppliesTheSign) {
  ChannelMap map(instrument(), 15);
  EXPECT_NEAR(read(map, {{'A', 90.0, "ROLL"}})[0].value, -kPi / 2, 1e-15);
  EXPECT_EQ(read(map, {{'D', 2.3456, "LDM"}})[0].value, -2.3456);
}

TEST(ChannelMap, LeavesTemperatureInCelsiusAndTellsItFromAnAngleOfTheSameName) {
  ChannelMap map(instrument(), 15);
  const auto samples = read(map, {{'C', 21.5, "PITCH"}});
  ASSERT_EQ(samples.size(), 1u);
  EXPECT_EQ(samples[0].channel, 3u);
  EXPECT_EQ(samples[0].value, 21.5);
}

TEST(ChannelMap, CountsStationsFromOneAndGivesTheIndex) {
  ChannelMap map(instrument(), 15);
  EXPECT_EQ(read(map, {{'G', 1, "POS"}})[0].value, 0.0);
  EXPECT_EQ(read(map, {{'G', 15, "POS"}})[0].value, 14.0);
  EXPECT_EQ(map.not_usable(), 0u);
  EXPECT_TRUE(read(map, {{'G', 0, "POS"}, {'G', 16, "POS"}, {'G', 1.5, "POS"}, {'G', -1, "POS"}}).empty());
  EXPECT_EQ(map.not_usable(), 4u);
}

TEST(ChannelMap, RefusesAnAngleThatIsNoSlope) {
  ChannelMap map(instrument(), 15);
  EXPECT_TRUE(read(map, {{'A', 90.0, "PITCH"}, {'A', -90.0, "PITCH"}, {'A', 179.9, "PITCH"}}).empty());
  EXPECT_EQ(map.not_usable(), 3u);
}

TEST(ChannelMap, CountsWhatNoChannelClaimsByItsName) {
  ChannelMap map(instrument(), 15);
  EXPECT_TRUE(read(map, {{'A', 1, "HEEL"}, {'A', 1, "HEEL"}, {'D', 1, "PITCH"}, {'A', 1, ""}}).empty());
  EXPECT_THAT(map.unknown(), ElementsAre(Pair(" (A)", 1u), Pair("HEEL (A)", 2u), Pair("PITCH (D)", 1u)));
}

TEST(ChannelMap, KeepsTheListOfUnknownNamesShort) {
  ChannelMap map(instrument(), 15);
  for (int i = 0; i < 1000; ++i) {
    const std::string name = "N" + std::to_string(i);
    (void)read(map, {{'A', 1, name}});
  }
  EXPECT_EQ(map.unknown().size(), 65u);
  EXPECT_EQ(map.unknown().at("others"), 936u);
}

}  // namespace
}  // namespace hangtrue::wire
