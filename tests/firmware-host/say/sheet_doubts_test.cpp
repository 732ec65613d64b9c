// What of a sheet is doubted, by key and line; and that nothing is doubted where nothing is wrong.
#include "firmware-host/say/sheet_doubts.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <iterator>

#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::say {
namespace {

using ::testing::HasSubstr;

std::string changed(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return at == std::string::npos ? text : text.replace(at, from.size(), to);
}

std::string doubts_of(const std::string& text) {
  const auto read = sheet::parse_run_sheet(text, "shelf.toml");
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  if (!read.sheet) return "no sheet";
  job::SolvedRun solved(*read.sheet);
  EXPECT_FALSE(solved.trouble());
  return doubts_view(*read.sheet, job::sheet_doubts(*read.sheet, solved, sheet::SheetLines(text)));
}

TEST(SheetDoubts, AreNoneOfTheExample) { EXPECT_EQ(doubts_of(sheet::kExample), ""); }

TEST(SheetDoubts, AreNoneOfTheDemoRuns) {
  for (const char* name :
       {"reading-room-bridge-shelf", "bottle-canopy", "gallery-display-shelf", "hall-wardrobe-bridge"}) {
    std::ifstream file(std::string(HANGTRUE_DATA_DIR) + "/runs/" + name + ".toml");
    EXPECT_EQ(doubts_of({std::istreambuf_iterator<char>(file), {}}), "") << name;
  }
}

struct Doubtful {
  const char *from, *to, *says;  // `says`: the whole beginning of the only line
};
class SheetDoubt : public ::testing::TestWithParam<Doubtful> {};

TEST_P(SheetDoubt, NamesLineAndKey) {
  const std::string doubts = doubts_of(changed(sheet::kExample, GetParam().from, GetParam().to));
  EXPECT_THAT(doubts, HasSubstr(GetParam().says));
  EXPECT_EQ(doubts.find('\n'), doubts.size() - 1) << "one alone:\n" << doubts;
}

constexpr const char* kInUse = "loads = [\"spine\", \"carcasses\", \"books\"]";
constexpr const char* kHung = "loads = [\"spine\", \"carcasses\"]";
INSTANTIATE_TEST_SUITE_P(
    Sheets, SheetDoubt,
    ::testing::Values(
        Doubtful{kHung, "loads = [\"carcasses\"]",
                 "shelf.toml:52: stage[1].loads: doubtful: \"spine\" hangs there from the first stage on, "
                 "but its own "
                 "weight is "
                 "not on in \"hung\""},
        Doubtful{kInUse, "loads = [\"carcasses\", \"books\"]",
                 "shelf.toml:56: stage[2].loads: doubtful: \"in use\" takes the own weight of \"spine\" off"},
        Doubtful{kInUse, kHung, "shelf.toml:28: load[2]: doubtful: No stage lists the load \"books\""},
        Doubtful{"[[stage]]\nname = \"hung\"",
                 "[[support]]\nname = \"prop\"\nat = \"1 m\"\nrise = \"4 kN/mm\"\npitch = \"free\"\nroll = "
                 "\"free\"\n"
                 "[[stage]]\nname = \"hung\"",
                 "shelf.toml:49: support[3]: doubtful: No stage lists the support \"prop\""},
        Doubtful{"density = \"7850 kg/m3\"", "density = \"785 kg/m3\"",
                 "shelf.toml:14: material.steel.density: doubtful: The density of \"steel\", \"785 kg/m3\", "
                 "does not "
                 "go with its "
                 "E, which is that of steel: 7600 kg/m3 to 8100 kg/m3"},
        Doubtful{"G = \"81 GPa\"", "G = \"27 GPa\"",
                 "shelf.toml:13: material.steel.G: doubtful: G of \"steel\", \"27 GPa\", does not go with "
                 "its E: E / G "
                 "is 7.8"},
        Doubtful{"rise  = \"12 kN/mm\"", "rise  = \"12000 kN/mm\"",
                 "shelf.toml:35: support[1].rise: doubtful: In rise \"wall bracket\" has \"12000 kN/mm\", "
                 "stiffer than "
                 "brackets"},
        Doubtful{"pitch = \"18 kN m/rad\"", "pitch = \"18 N m/rad\"",
                 "shelf.toml:36: support[1].pitch: doubtful: In pitch \"wall bracket\" has \"18 N m/rad\", "
                 "softer than "
                 "brackets"},
        Doubtful{"thickness = \"0.5 mm\", count = 12 }, { thickness = \"1 mm\"",
                 "thickness = \"6 mm\", count = 12 }, { thickness = \"9 mm\"",
                 "stock.van: doubtful: The finest step that \"van\" allows is 3.000 mm, more than the "
                 "tolerance of "
                 "1.500 mm"},
        Doubtful{"step = \"1/4 turn\"", "step = \"one turn\"",
                 "support[2].adjust.step: doubtful: The finest step that \"east rod\" allows is 1.750 mm"},
        Doubtful{"adjust = { by = \"rod\", thread = \"1.75 mm\", step = \"1/4 turn\", rise = [\"-10 mm\", "
                 "\"10 mm\"] }",
                 "", "support[2]: doubtful: As written the run will not be level"}));

TEST(SheetDoubts, OfAModulusThatIsAThousandTimesOffNameWhatItCouldBe) {
  const std::string doubts = doubts_of(changed(changed(sheet::kExample, "E = \"210 GPa\"", "E = \"210 MPa\""),
                                               "G = \"81 GPa\"", "G = \"81 MPa\""));
  EXPECT_THAT(
      doubts,
      HasSubstr(
          "shelf.toml:12: material.steel.E: doubtful: E of \"steel\" is \"210 MPa\", which none of these "
          "has: wood 1 GPa to 26 GPa, aluminium 64 GPa to 76 GPa, steel 190 GPa to 215 GPa"));
  EXPECT_THAT(doubts, HasSubstr("sags its length / ")) << "and what follows from it";
}

TEST(SheetDoubts, OfASectionInTheWrongUnitNameDepthAndSag) {
  const std::string doubts = doubts_of(
      changed(sheet::kExample, "depth = \"80 mm\", width = \"40 mm\", wall = \"4 mm\", corner = \"8 mm\"",
              "depth = \"8 mm\", width = \"40 mm\", wall = \"2 mm\""));
  EXPECT_THAT(
      doubts,
      HasSubstr(
          "shelf.toml:20: member[1].section: doubtful: The span 0 mm to 3900 mm is 488 times as long as "
          "\"spine\" is deep, more than 60"));
  EXPECT_THAT(doubts, HasSubstr("the bending stress in \"spine\" reaches"));
  EXPECT_THAT(doubts, HasSubstr("sags its length / "));
}

// By hand: 62 kg at 200 mm turn the bracket by 62 * 9.80665 * 0.2 / 1000 = 0.1216 rad, and the run turns a little more on its way.
TEST(SheetDoubts, OfARollBeyondSmallAnglesNameWhatHoldsTheRun) {
  const auto on_a_soft_bracket = [](const std::string& across) {
    return doubts_of(changed(changed(sheet::kExample, "across = \"20 mm\"", "across = \"" + across + "\""),
                             "roll  = \"rigid\"", "roll  = \"1 kN m/rad\""));
  };
  EXPECT_EQ(on_a_soft_bracket("70 mm"), "") << "0.043 rad at the bracket";
  const std::string doubts = on_a_soft_bracket("200 mm");
  EXPECT_THAT(doubts, HasSubstr(".supports: doubtful: In stage"));
  EXPECT_THAT(doubts, HasSubstr("the run rolls by 12"));
  EXPECT_THAT(doubts, HasSubstr("at 4200 mm, more than the 50.00 mm/m up to which"));
  EXPECT_EQ(doubts.find('\n'), doubts.size() - 1) << "one alone:\n" << doubts;
}

// The rod stands at half the length, so that the far half hangs free of it: a soft bracket lets the whole run drop.
TEST(SheetDoubts, OfASlopeBeyondSmallAnglesNameIt) {
  const std::string doubts =
      doubts_of(changed(changed(sheet::kExample, "rise = \"9 kN/mm\"", "rise = \"0.2 kN/mm\""),
                        "at = \"3900 mm\"", "at = \"200 mm\""));
  EXPECT_THAT(doubts, HasSubstr("the run drops by "));
}

TEST(SheetDoubts, OfARoughKitNameTheTolerance) {
  const auto run = *sheet::parse_run_sheet(sheet::kExample, "shelf.toml").sheet;
  const auto kit_with = [&](const std::string& sigma) {
    const auto kit = sheet::parse_kit_sheet(
        "[[instrument]]\nname = \"laser\"\nport = \"a\"\nspeaks = \"line\"\nchannel = [ { transducer = \"D "
        "{number} m\", "
        "unit = \"m\", gives = \"distance\", sigma = \"" +
            sigma + "\" } ]\n",
        "kit.toml", run);
    EXPECT_TRUE(kit.sheet);
    return doubts_view(run, job::kit_doubts(run, *kit.sheet, sheet::SheetLines(sheet::kExample)));
  };
  // Of the difference of two distances: the square root of 2 times the sigma of one. Half of 1.5 mm is 0.75 mm.
  EXPECT_EQ(kit_with("0.5 mm"), "");
  EXPECT_THAT(
      kit_with("0.6 mm"),
      HasSubstr("shelf.toml:7: tolerance.level: doubtful: This kit tells a height to 0.849 mm at best"));
}

}  // namespace
}  // namespace hangtrue::say
