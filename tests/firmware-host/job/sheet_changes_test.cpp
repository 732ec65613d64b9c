// What differs between two run sheets, and whether it stands in the way of a comparison.
#include "firmware-host/job/sheet_changes.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <random>

#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/say/sheet_changes.hpp"
#include "tests/firmware-host/sheet/example.hpp"
#include "tests/trials.hpp"

namespace hangtrue::job {

namespace {

// A change as a person reads it.
struct Worded {
  std::string words;
  bool matters = false;
};
std::ostream& operator<<(std::ostream& out, const Worded& change) {
  return out << change.words << (change.matters ? " [matters]" : " [does not matter]");
}

using testing::ElementsAre;
using testing::IsEmpty;

const std::string kOtherEntries = R"(
[[mark]]
name = "lintel"
at = "-200 mm"
[prior]
bow = "1 mm"
)";

sheet::RunSheet parsed(const std::string& text) {
  auto read = sheet::parse_run_sheet(text, "shelf.toml");
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  return read.sheet ? *read.sheet : sheet::RunSheet{};
}

std::string whole() { return sheet::kExample + kOtherEntries; }

// The whole sheet with one text put in the place of another, which must be there.
std::string with(const std::string& old_text, const std::string& new_text, std::string text = whole()) {
  const auto at = text.find(old_text);
  EXPECT_NE(at, std::string::npos) << old_text;
  if (at != std::string::npos) text.replace(at, old_text.size(), new_text);
  return text;
}

std::vector<Worded> changes(const std::string& later, const std::string& earlier = whole()) {
  const sheet::RunSheet run = parsed(later);
  std::vector<Worded> all;
  for (const SheetChange& each : sheet_changes(parsed(earlier), run))
    all.push_back({say::words(each, run.show), each.matters});
  return all;
}

auto matters(const std::string& words) {
  return testing::AllOf(testing::Field(&Worded::words, words), testing::Field(&Worded::matters, true));
}
auto does_not_matter(const std::string& words) {
  return testing::AllOf(testing::Field(&Worded::words, words), testing::Field(&Worded::matters, false));
}

TEST(SheetChanges, NoneInTheSameSheetHoweverItIsWritten) {
  EXPECT_THAT(changes(whole()), IsEmpty());
  std::string other = with("length = \"4200 mm\"", "length = \"4.2 m\"");
  other = with("at = \"3900 mm\"", "at = \"390 cm\"", other);
  other = with("rise  = \"12 kN/mm\"", "rise = \"12e6 N/m\"", other);
  other = with("at = \"2 m\"\nweight = \"400 N\"", "at = \"2000 mm\"\nmass = \"40.7886485 kg\"", other);
  other = with("every = \"300 mm\"", "every = \"0.3 m\"", other);
  EXPECT_THAT(changes(other), IsEmpty());
  // Shown with all digits where fewer would look alike.
  EXPECT_THAT(changes(with("40.7886485 kg", "40.78865 kg", other)),
              ElementsAre(matters("load \"books\": weight was 400 N, is 400.000014522 N")));
}

struct Case {
  std::string name, old_text, new_text, words;
  bool matters;
};
class EachChange : public testing::TestWithParam<Case> {};

TEST_P(EachChange, IsNamedAloneAndJudged) {
  const Case& one = GetParam();
  EXPECT_THAT(changes(with(one.old_text, one.new_text)),
              ElementsAre(one.matters ? matters(one.words) : does_not_matter(one.words)));
}

INSTANTIATE_TEST_SUITE_P(
    All, EachChange,
    testing::Values(
        Case{"title", "Reading-room", "Writing-room",
             "title was \"Reading-room bridge shelf\", is \"Writing-room bridge shelf\"", false},
        Case{"width", "width  = \"380 mm\"", "width = \"400 mm\"", "width was 380 mm, is 400 mm", true},
        Case{"stations", "every = \"300 mm\"", "every = \"600 mm\"", "number of stations was 15, is 8",
             false},
        Case{"places_of_stations", "{ every = \"300 mm\" }",
             "[\"0 mm\", \"1 m\", \"1200 mm\", \"1500 mm\", \"1600 mm\", \"1700 mm\", \"1800 mm\", \"2 m\", "
             "\"2100 mm\", \"2400 mm\", \"2500 mm\", \"3 m\", \"3200 mm\", \"4 m\", \"4200 mm\"]",
             "stations stand at other places", false},
        Case{"level", "level = \"1.5 mm\"", "level = \"2 mm\"", "tolerance: level was 1.50 mm, is 2.00 mm",
             false},
        Case{"finished", "stage = \"in use\"", "stage = \"hung\"",
             "tolerance: finished stage was \"in use\", is \"hung\"", false},
        Case{"confidence", "confidence = 0.95", "confidence = 0.9", "tolerance: confidence was 0.95, is 0.9",
             false},
        Case{"span_ratio", "span_ratio = 360", "span_ratio = 480",
             "tolerance: the limit of span over sag has changed", false},
        Case{"rise_spring", "rise  = \"12 kN/mm\"", "rise = \"13.5 kN/mm\"",
             "support \"wall bracket\": rise was 12 kN/mm, is 13.5 kN/mm", true},
        Case{"a_little_softer", "rise  = \"12 kN/mm\"", "rise = \"12.00001 kN/mm\"",
             "support \"wall bracket\": rise was 12000000 N/m, is 12000010 N/m", true},
        Case{"pitch_spring", "\"18 kN m/rad\"", "\"rigid\"",
             "support \"wall bracket\": pitch was 18 kN m/rad, is rigid", true},
        Case{"roll_free", "roll  = \"rigid\"", "roll = \"20 kN m/rad\"",
             "support \"wall bracket\": roll was rigid, is 20 kN m/rad", true},
        Case{"holds", "\"both\"", "\"push\"", "support \"wall bracket\": holds was \"both\", is \"push\"",
             true},
        Case{"pulled_home", "holds = \"both\"", "pulled_home = [\"pitch\"]",
             "support \"wall bracket\": pitch is pulled home now", true},
        Case{"place_of_support", "at = \"3900 mm\"", "at = \"3950 mm\"",
             "support \"east rod\": place was 3900 mm, is 3950 mm", true},
        Case{"support_by_a_hair", "at = \"3900 mm\"", "at = \"3900.002 mm\"",
             "support \"east rod\": place was 3900.000 mm, is 3900.002 mm", true},
        Case{"adjust", "thread = \"1.75 mm\"", "thread = \"1.5 mm\"",
             "support \"east rod\": the way to adjust it has changed", false},
        Case{"rating", "holds = \"pull\"", "holds = \"pull\"\nrating = \"2 kN\"",
             "support \"east rod\": rating has changed", false},
        Case{"prior_of_support", "holds = \"pull\"", "holds = \"pull\"\nprior = { rise = \"3 mm\" }",
             "support \"east rod\": what is assumed of it beforehand (prior) has changed", false},
        Case{"heavier", "weight = \"400 N\"", "weight = \"450 N\"",
             "load \"books\": weight was 400 N (40.8 kg), is 450 N (45.9 kg)", true},
        Case{"place_of_load", "at = \"2 m\"", "at = \"2.1 m\"",
             "load \"books\": place was 2000 mm, is 2100 mm", true},
        Case{"across", "across = \"20 mm\"", "across = \"-20 mm\"",
             "load \"carcasses\": place across was 20.00 mm, is -20.00 mm", true},
        Case{"kind", "at = \"2 m\"\nweight = \"400 N\"", "at = \"2 m\"\ncouple = \"40 N m\"",
             "load \"books\": kind was weight at a point, is a couple", true},
        Case{"sigma", "sigma = 0.05", "sigma = 0.1", "load \"carcasses\": sigma was 0.05, is 0.1", false},
        Case{"lasting", "weight = \"400 N\"", "weight = \"400 N\"\npermanent = 0.5",
             "load \"books\": lasting share was 1, is 0.5", false},
        Case{"mark", "-200 mm", "-300 mm", "mark \"lintel\": place was -200 mm, is -300 mm", true},
        Case{"mark_added", "[prior]", "[[mark]]\nname = \"column\"\nat = \"5 m\"\n[prior]",
             "mark \"column\" was added", false},
        Case{"bow", "bow = \"1 mm\"", "bow = \"2 mm\"", "prior: bow was 1.00 mm, is 2.00 mm", false},
        Case{"bows", "bow = \"1 mm\"", "bow = \"1 mm\"\nbows = 2", "prior: number of bow shapes was 3, is 2",
             false},
        Case{"stock", "most = 4", "most = 5", "stock \"van\": pieces or limits of a stack have changed",
             false}),
    [](const testing::TestParamInfo<Case>& each) { return each.param.name; });

TEST(SheetChanges, AMemberIsComparedByWhatItCarriesAndWeighs) {
  EXPECT_THAT(changes(with("E = \"210 GPa\"", "E = \"200 GPa\"")),
              ElementsAre(matters("member \"spine\": bending stiffness is 0.9524 times what it was")));
  EXPECT_THAT(
      changes(with("G = \"81 GPa\"", "G = \"80 GPa\"")),
      ElementsAre(matters("members from 0 mm to 4200 mm: torsion stiffness is 0.9877 times what it was"),
                  testing::Field(&Worded::words,
                                 testing::StartsWith("members from 0 mm to 4200 mm: shear stiffness is "))));
  const std::string second = R"([[member]]
name = "rail"
from = "0 mm"
to = "2 m"
material = "steel"
section = { shape = "flat plate", width = "40 mm", thickness = "5 mm" }
[[load]]
name = "carcasses")";
  const std::string added = with("[[load]]\nname = \"carcasses\"", second);
  EXPECT_THAT(changes(added), ElementsAre(matters("member \"rail\" was added")));
  EXPECT_THAT(changes(whole(), added), ElementsAre(matters("member \"rail\" was removed")));
  EXPECT_THAT(changes(with("to = \"2 m\"", "to = \"2.2 m\"", added), added),
              ElementsAre(matters("member \"rail\": end was 2000 mm, is 2200 mm"),
                          testing::Field(&Worded::words, testing::StartsWith("load \"rail\": weight was "))));
}

TEST(SheetChanges, ALoadOrSupportMattersWhereAStageOfTheEarlierSheetListsIt) {
  const std::string vase = "[[load]]\nname = \"vase\"\nat = \"1 m\"\nmass = \"4 kg\"\n[[support]]";
  const std::string unused = with("[[support]]", vase);
  EXPECT_THAT(changes(unused), ElementsAre(does_not_matter("load \"vase\" was added")));
  EXPECT_THAT(
      changes(with("4 kg", "5 kg", unused), unused),
      ElementsAre(does_not_matter("load \"vase\": weight was 39.2 N (4.00 kg), is 49.0 N (5.00 kg)")));
  const std::string used = with("\"books\"]", "\"books\", \"vase\"]", unused);
  EXPECT_THAT(changes(used), ElementsAre(matters("load \"vase\" was added")));
  EXPECT_THAT(changes(whole(), used), ElementsAre(matters("load \"vase\" was removed")));
  EXPECT_THAT(changes(used, unused), ElementsAre(matters("stage \"in use\": lists load \"vase\"")));
  EXPECT_THAT(changes(unused, used), ElementsAre(matters("stage \"in use\": no longer lists load \"vase\"")));
}

TEST(SheetChanges, AStageAddedAtTheEndWithWhatItBringsDoesNotMatterAnyOtherDoes) {
  std::string later =
      with("[[support]]", "[[load]]\nname = \"vase\"\nat = \"1 m\"\nmass = \"4 kg\"\n[[support]]");
  const std::string stage = R"([[stage]]
name = "a year later"
supports = ["wall bracket", "east rod"]
loads = ["spine", "carcasses", "books", "vase"]
)";
  EXPECT_THAT(changes(with("[stock.van]", stage + "[stock.van]", later)),
              ElementsAre(does_not_matter("load \"vase\" was added"),
                          does_not_matter("stage \"a year later\" was added")));
  EXPECT_THAT(
      changes(with("[[stage]]\nname = \"in use\"", stage + "[[stage]]\nname = \"in use\"", later)),
      ElementsAre(matters("stage \"a year later\" was added"), does_not_matter("load \"vase\" was added")));
  EXPECT_THAT(
      changes(whole(), with("[stock.van]", stage + "[stock.van]", later)),
      ElementsAre(matters("load \"vase\" was removed"), matters("stage \"a year later\" was removed")));
}

TEST(SheetChanges, AMarkThatIsGoneMattersAndOneSupportMoreInAStageToo) {
  EXPECT_THAT(changes(with("[[mark]]\nname = \"lintel\"\nat = \"-200 mm\"\n", "")),
              ElementsAre(matters("mark \"lintel\" was removed")));
  const std::string prop = R"([[support]]
name = "prop"
at = "2 m"
rise = "rigid"
pitch = "free"
roll = "free"
holds = "push"
[[stage]])";
  const std::string unused = with("[[stage]]", prop);
  EXPECT_THAT(changes(unused), ElementsAre(does_not_matter("support \"prop\" was added")));
  EXPECT_THAT(changes(with("\"east rod\"]", "\"east rod\", \"prop\"]", unused)),
              ElementsAre(matters("support \"prop\" was added")));
}

TEST(SheetChanges, AnotherOrderOfStagesMattersOfSupportsNot) {
  const auto part = [](const std::string& from, const std::string& to) {
    const std::string text = whole();
    return text.substr(text.find(from), text.find(to) - text.find(from));
  };
  const std::string hung = part("[[stage]]\nname = \"hung\"", "[[stage]]\nname = \"in use\"");
  const std::string in_use = part("[[stage]]\nname = \"in use\"", "[stock.van]");
  EXPECT_THAT(changes(with(hung + in_use, in_use + hung)),
              ElementsAre(matters("the stages come in another order")));
  const std::string bracket = part("[[support]]", "[[support]]\nname = \"east rod\"");
  const std::string rod = part("[[support]]\nname = \"east rod\"", "[[stage]]");
  EXPECT_THAT(changes(with(bracket + rod, rod + bracket)),
              ElementsAre(does_not_matter("the supports are listed in another order")));
}

TEST(SheetChanges, AreShownInTheUnitsOfTheLaterSheet) {
  const std::string imperial = with("\"metric\"", "\"imperial\"");
  EXPECT_THAT(changes(imperial), ElementsAre(does_not_matter("show was metric, is imperial")));
  EXPECT_THAT(changes(with("at = \"3900 mm\"", "at = \"12 ft 10 in\"", imperial), imperial),
              ElementsAre(matters("support \"east rod\": place was 12 ft 9 9/16 in, is 12 ft 10 in")));
  EXPECT_THAT(changes(with("rise = \"9 kN/mm\"", "rise = \"50000 lbf/in\"", imperial), imperial),
              ElementsAre(matters("support \"east rod\": rise was 51391 lbf/in, is 50000 lbf/in")));
}

TEST(SheetChanges, WarmthIsComparedAsTheCurvatureItGives) {
  const std::string expansion = with("density = ", "expansion = \"12e-6 /K\"\ndensity = ");
  const std::string warm =
      with("[[support]]",
           "[[load]]\nname = \"lights\"\nfrom = \"0 mm\"\nto = \"4200 mm\"\nwarmer_below = "
           "\"5 C\"\n[[support]]",
           with("\"books\"]", "\"books\", \"lights\"]", expansion));
  EXPECT_THAT(changes(warm, warm), IsEmpty());
  EXPECT_THAT(changes(with("\"5 C\"", "\"6 C\"", warm), warm),
              ElementsAre(matters("load \"lights\": the curvature by warmth has changed, or where it acts")));
}

// What was read by one sheet is read by the other alike where nothing that differs matters: sheets with a number, a word or
// an entry changed at random. Fixed seed.
TEST(SheetChanges, ThatDoNotMatterLeaveEveryReadingAsItWas) {
  const std::string text = with("density = ", "expansion = \"12e-6 /K\"\ndensity = ");
  const sheet::RunSheet earlier = parsed(text);
  const SolvedRun solved_earlier(earlier);
  ASSERT_FALSE(solved_earlier.trouble());
  std::vector<std::size_t> digits, lines, entries;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (std::isdigit(static_cast<unsigned char>(text[i])) != 0) digits.push_back(i);
    if (text[i] == '\n') lines.push_back(i + 1);
    if (text.compare(i, 3, "\n[[") == 0) entries.push_back(i + 1);
  }
  lines.pop_back();
  std::mt19937 random(5);
  const auto pick = [&](const std::vector<std::size_t>& from) { return from[random() % from.size()]; };
  int same = 0, others = 0;
  for (int trial = 0; trial < trials(1500); ++trial) {
    std::string later_text = text;
    switch (trial % 4) {
      case 0:
      case 1:
        later_text[pick(digits)] = char('0' + random() % 10);
        break;
      case 2: {  // a line left out
        const std::size_t at = pick(lines);
        later_text.erase(at, text.find('\n', at) + 1 - at);
        break;
      }
      default: {  // an entry moved to the end
        const std::size_t at = pick(entries), end = text.find("\n[", at);
        if (end == std::string::npos) continue;
        later_text = text.substr(0, at) + text.substr(end + 1) + text.substr(at, end - at) + '\n';
      }
    }
    const auto later = sheet::parse_run_sheet(later_text, "later.toml").sheet;
    if (!later) continue;
    const SolvedRun solved_later(*later);
    if (solved_later.trouble()) continue;
    const std::vector<SheetChange> found = sheet_changes(earlier, *later);
    const bool any =
        std::any_of(found.begin(), found.end(), [](const SheetChange& each) { return each.matters; });
    // The other way round as well, but for what only one of the two has.
    EXPECT_EQ(sheet_changes(*later, earlier).empty(), found.empty()) << later_text;
    ++(any ? others : same);
    if (any) continue;
    for (std::size_t stage = 0; stage < earlier.stages.size(); ++stage)
      for (const double share : {0.0, 0.3, 0.7, 1.0}) {
        const double x = share * earlier.length_m;
        const auto was = solved_earlier.solver().at(int(stage), x);
        const auto is = solved_later.solver().at(later->stage(earlier.stages[stage]), x);
        ASSERT_NEAR(was.height_m, is.height_m, 1e-9) << later_text;
        ASSERT_NEAR(was.slope_rad, is.slope_rad, 1e-9) << later_text;
        ASSERT_NEAR(was.roll_rad, is.roll_rad, 1e-9) << later_text;
      }
  }
  if (!kSharesTell) return;
  EXPECT_GT(same, 200);
  EXPECT_GT(others, 200);
}

}  // namespace
}  // namespace hangtrue::job
