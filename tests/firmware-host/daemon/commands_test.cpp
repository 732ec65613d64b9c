// Commands: what a person may type, and what is refused with words that help.
#include "firmware-host/daemon/commands.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace hangtrue::daemon {
namespace {

using ::testing::HasSubstr;

template <class Kind>
Kind parsed(std::string_view line) {
  const auto command = parse_command(line);
  if (!command || !std::holds_alternative<Kind>(*command)) {
    ADD_FAILURE() << '"' << line << "\" was taken for something else";
    return Kind{};
  }
  return std::get<Kind>(*command);
}

TEST(ParseCommand, TakesAStationByItsPlaceInAnyUnitOrByItsNumber) {
  EXPECT_DOUBLE_EQ(*parsed<GoToStation>("station 1200 mm").at_m, 1.2);
  EXPECT_DOUBLE_EQ(*parsed<GoToStation>("STATION  1.2 m").at_m, 1.2);
  EXPECT_DOUBLE_EQ(*parsed<GoToStation>(" station 11 ft 4 in ").at_m, 136 * 0.0254);
  EXPECT_DOUBLE_EQ(*parsed<GoToStation>("station 1200mm\r").at_m, 1.2);
  EXPECT_EQ(parsed<GoToStation>("station 4").number, 4);
  EXPECT_EQ(parsed<GoToStation>("station 4").at_m, std::nullopt);
  EXPECT_EQ(parsed<GoToStation>("Station -4").number, -4) << "for the daemon to refuse";
}

TEST(ParseCommand, KnowsEveryCommandWhateverItsCaseAndSpaces) {
  EXPECT_EQ(parsed<TurnFace>("face 1").face, 1);
  EXPECT_EQ(parsed<TurnFace>("Face  2").face, -1);
  EXPECT_EQ(parsed<TurnFace>("face -1").face, -1);
  EXPECT_EQ(parsed<ChooseEdge>("edge LEFT").edge, survey::Edge::left);
  EXPECT_EQ(parsed<ChooseEdge>("edge middle").edge, survey::Edge::middle);
  EXPECT_EQ(parsed<ChooseEdge>("\tedge\tright").edge, survey::Edge::right);
  EXPECT_EQ(parsed<PlaceSetUp>("set-up By the  door").name, "By the door");
  EXPECT_EQ(parsed<PlaceSetUp>("setup 2").name, "2");
  EXPECT_EQ(parsed<BeginStage>("stage In Use").name, "In Use");
  EXPECT_FALSE(parsed<Take>("take").fixed);
  EXPECT_TRUE(parsed<Take>("take Fixed").fixed);
  parsed<Undo>("undo");
  parsed<ShowStatus>("Status");
  parsed<ShowCard>("card");
  parsed<FinishSurvey>("DONE");
  parsed<ShowHelp>("help");
  parsed<ShowHelp>("?");
}

TEST(ParseCommand, GivesNothingForALineWithoutWords) {
  for (const char* line : {"", " ", "\t \r"}) EXPECT_EQ(parse_command(line), std::nullopt);
}

struct Refused {
  const char* line;
  const char* command;
  const char* says;
};
class RefusedCommand : public ::testing::TestWithParam<Refused> {};

INSTANTIATE_TEST_SUITE_P(
    Lines, RefusedCommand,
    ::testing::Values(
        Refused{"station", "station", "no place named"},
        Refused{"station 1200.5", "station", "a length with its unit, such as station 1200 mm"},
        Refused{"station 3 kg", "station", "\"3 kg\" is no length"},
        Refused{"station nan mm", "station", "is no length"},
        Refused{"station 99999999999999999999", "station", "is no length"},
        Refused{"face", "face", "face 1, or face 2"}, Refused{"face 3", "face", "face 1, or face 2"},
        Refused{"edge top", "edge", "edge left, edge middle or edge right"},
        Refused{"set-up", "set-up", "its name is missing"}, Refused{"stage", "stage", "its name is missing"},
        Refused{"take it", "take", "nothing goes behind take but fixed"},
        Refused{"done now", "done", "nothing goes behind done"},
        Refused{"cadr", "cadr", "no such command; station, face"}, Refused{"\x1b[A", "?[a", "no text"},
        Refused{"abcdefghijklmnopqrstuvwxyz", "abcdefghijklmnopqrstuvwx", "no such command"}));

TEST_P(RefusedCommand, IsAnsweredWithWhatWouldBeRight) {
  const Refusal refusal = parsed<Refusal>(GetParam().line);
  EXPECT_EQ(refusal.command, GetParam().command);
  EXPECT_THAT(refusal.reason, HasSubstr(GetParam().says));
}

TEST(ParseCommand, HelpNamesEveryCommand) {
  std::string all;
  for (const std::string& line : help()) all += line + '\n';
  for (const char* command :
       {"station", "face", "edge", "set-up", "take", "undo", "stage", "status", "card", "done"})
    EXPECT_THAT(all, HasSubstr(command));
}

}  // namespace
}  // namespace hangtrue::daemon
