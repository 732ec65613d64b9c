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
  EXPECT_EQ(parsed<GoToStation>("station 4").mark, "");
}

TEST(ParseCommand, TakesWhatIsNoPlaceForTheNameOfAMark) {
  EXPECT_EQ(parsed<GoToStation>("station Door  frame").mark, "Door frame");
  for (const char* none : {"1200.5", "3 kg", "nan mm", "99999999999999999999", "2nd column"}) {
    const auto where = parsed<GoToStation>(std::string("station ") + none);
    EXPECT_EQ(where.mark, none) << "for the daemon to refuse where there is no such mark";
    EXPECT_FALSE(where.at_m || where.number);
  }
  EXPECT_EQ(std::get<GoToStation>(parsed<Correct>("correct 17 station column").to).mark, "column");
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
  static_cast<void>(parsed<TakeKept>("take kept"));
  EXPECT_EQ(parsed<PlaceSetUp>("set-up 2").stands_at_m, std::nullopt);
  EXPECT_EQ(parsed<PlaceSetUp>("set-up by the door at 4500 mm").name, "by the door");
  EXPECT_DOUBLE_EQ(*parsed<PlaceSetUp>("set-up by the door at -0.5 m").stands_at_m, -0.5);
  EXPECT_EQ(parsed<PlaceSetUp>("set-up at the door").name, "at the door");
  EXPECT_EQ(parsed<SayWhatBears>("Lift one  bears").support, "Lift one");
  EXPECT_TRUE(parsed<SayWhatBears>("lift one bears").bears);
  EXPECT_FALSE(parsed<SayWhatBears>("lift one Hangs Free").bears);
  EXPECT_EQ(parsed<SetAsideEntry>("set aside 17 the lift bears").reason, "the lift bears");
  EXPECT_EQ(parsed<SayStart>("Start at wall  bracket").support, "wall bracket");
  EXPECT_EQ(parsed<NameSurvey>("Read by  A. Muster").name, "A. Muster");
  EXPECT_EQ(parsed<NameSurvey>("read by A. Muster").what, NameSurvey::What::read_by);
  EXPECT_EQ(parsed<NameSurvey>("checked by B. Muster").what, NameSurvey::What::checked_by);
  EXPECT_EQ(parsed<NameSurvey>("called the one that bears").name, "the one that bears");
  EXPECT_THAT(parsed<Refusal>("read by").reason, HasSubstr("read by A. Muster"));
  EXPECT_THAT(parsed<Refusal>("called " + std::string(61, 'a')).reason, HasSubstr("at most 60 bytes"));
  EXPECT_THAT(parsed<Refusal>("start wall bracket").reason, HasSubstr("start at wall bracket"));
  parsed<Undo>("undo");
  parsed<ShowReadings>("readings");
  EXPECT_EQ(parsed<Correct>("correct 17 station 1500 mm").what.entry, 17);
  EXPECT_FALSE(parsed<Correct>("correct 17 station 1500 mm").what.whole_take);
  EXPECT_EQ(parsed<Correct>("Correct Take 17 station 4").what.entry, 17);
  EXPECT_TRUE(parsed<Correct>("correct take 17 station 4").what.whole_take);
  EXPECT_EQ(parsed<Correct>("correct take last face 2").what.entry, 0);
  EXPECT_TRUE(parsed<SetAsideEntry>("set aside take last the shelf was bumped").what.whole_take);
  EXPECT_EQ(parsed<SetAsideEntry>("set aside take last the shelf was bumped").reason, "the shelf was bumped");
  EXPECT_EQ(parsed<PutBackEntry>("put back take 8 it was not").what.entry, 8);
  (void)parsed<GoOn>("Go  on");
  EXPECT_DOUBLE_EQ(*std::get<GoToStation>(parsed<Correct>("correct 17 station 1500 mm").to).at_m, 1.5);
  EXPECT_EQ(std::get<TurnFace>(parsed<Correct>("Correct 3 face 2").to).face, -1);
  EXPECT_EQ(std::get<ChooseEdge>(parsed<Correct>("correct 3 edge left").to).edge, survey::Edge::left);
  EXPECT_EQ(std::get<PlaceSetUp>(parsed<Correct>("correct 3 set-up B").to).name, "B");
  EXPECT_EQ(parsed<SetAsideEntry>("set aside 17 the shelf was bumped").what.entry, 17);
  EXPECT_EQ(parsed<SetAsideEntry>("Set Aside 17 the shelf was bumped").reason, "the shelf was bumped");
  EXPECT_EQ(parsed<PutBackEntry>("put back 17 it was not").reason, "it was not");
  EXPECT_EQ(parsed<CheckZero>("check zero").instrument, "");
  EXPECT_EQ(parsed<CheckZero>("check zero walking inclinometer").instrument, "walking inclinometer");
  EXPECT_DOUBLE_EQ(parsed<CheckDatum>("check datum 300 mm to 3900 mm").far_m, 3.9);
  EXPECT_DOUBLE_EQ(parsed<CheckDatum>("check datum 1 ft to 12 ft with the laser").near_m, 0.3048);
  EXPECT_EQ(parsed<CheckDatum>("check datum 1 ft to 12 ft with the laser").instrument, "the laser");
  const auto piece = parsed<CheckScale>("check scale 5 mm across 120 mm with the level across the hall");
  EXPECT_FALSE(piece.by_places);
  EXPECT_DOUBLE_EQ(piece.length_m, 0.005);
  EXPECT_DOUBLE_EQ(*piece.feet_across_m, 0.12);
  EXPECT_EQ(piece.instrument, "the level across the hall");
  EXPECT_EQ(parsed<CheckScale>("Check Scale 1/4 in").feet_across_m, std::nullopt);
  EXPECT_DOUBLE_EQ(parsed<CheckScale>("check scale 1/4 in").length_m, 0.00635);
  const auto places = parsed<CheckScale>("check scale places 20 in apart with laser");
  EXPECT_TRUE(places.by_places);
  EXPECT_DOUBLE_EQ(places.length_m, 0.508);
  EXPECT_EQ(places.instrument, "laser");
  EXPECT_DOUBLE_EQ(parsed<CheckScale>("check scale places 500 mm").length_m, 0.5);
  EXPECT_EQ(parsed<MarkMove>("made 2").order, 2);
  EXPECT_TRUE(parsed<MarkMove>("Made  2").made);
  EXPECT_EQ(parsed<MarkMove>("not made 3").order, 3);
  EXPECT_FALSE(parsed<MarkMove>("Not Made 3").made);
  (void)parsed<BeginMoves>("Begin  moves");
  EXPECT_EQ(parsed<PlaceSetUp>("set-up 2 at -300 mm").stands_at_m, -0.3);
  parsed<ReadAgain>("read again");
  parsed<ReadAgain>("Read  AGAIN");
  parsed<Next>("next");
  parsed<GiveUp>("give up");
  parsed<SealBook>("seal");
  parsed<ShowStatus>("Status");
  parsed<ShowCard>("card");
  EXPECT_FALSE(parsed<FinishSurvey>("DONE").sealed);
  EXPECT_TRUE(parsed<FinishSurvey>("Done  and SEAL").sealed);
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
        Refused{"station", "station", "no place named"}, Refused{"face", "face", "face 1, or face 2"},
        Refused{"face 3", "face", "face 1, or face 2"},
        Refused{"edge top", "edge", "edge left, edge middle or edge right"},
        Refused{"set-up", "set-up", "its name is missing"}, Refused{"stage", "stage", "its name is missing"},
        Refused{"take it", "take", "nothing goes behind take but fixed or kept"},
        Refused{"done now", "done", "nothing goes behind done"},
        Refused{"correct", "correct", "which entry and what was wrong"},
        Refused{"correct 17", "correct", "which entry and what was wrong"},
        Refused{"correct station 1500 mm", "correct", "which entry"},
        Refused{"correct 0 face 1", "correct", "which entry"},
        Refused{"correct 17 face 3", "correct", "face 1, or face 2"},
        Refused{"correct 17 value 3", "correct", "which entry and what was wrong"},
        Refused{"correct take station 1500 mm", "correct", "which entry"},
        Refused{"set aside take 17", "set aside", "take 17 and why"},
        Refused{"set aside 17", "set aside", "which entry and why"},
        Refused{"set aside", "set aside", "which entry and why"},
        Refused{"put back x y", "put back", "which entry and why"},
        Refused{"made", "made", "which move of the card, such as made 2"},
        Refused{"made it", "made", "which move"}, Refused{"made 0", "made", "which move"},
        Refused{"made -1", "made", "which move"}, Refused{"made 2 already", "made", "which move"},
        Refused{"made 4294967297", "made", "which move"},
        Refused{"not made", "not made", "such as not made 2"},
        Refused{"set-up 2 at 4500", "set-up", "a length with its unit"},
        Refused{"set-up 2 at the window", "set-up", "\"the window\" is no place"},
        Refused{"not madeup 2", "not made", "which move"}, Refused{"not 2", "not", "no such command"},
        Refused{"read", "read", "made, not made, watch, read again"},
        Refused{"read again now", "read", "no such command"},
        Refused{"check", "check", "check zero, or check datum"},
        Refused{"check datum 300 to 900", "check", "two stations"},
        Refused{"check scale", "check", "how thick the piece is"},
        Refused{"check scale 5", "check", "such as check scale 5 mm across 120 mm"},
        Refused{"check scale 5 mm across 120", "check", "how far apart the feet are"},
        Refused{"check scale places 500 apart", "check", "check scale places 500 mm apart"},
        Refused{"next one", "next", "nothing goes behind next"},
        Refused{"give in", "give", "no such command"},
        Refused{"cadr", "cadr", "no such command; station, go on, face"}, Refused{"\x1b[A", "?[a", "no text"},
        Refused{"quit", "quit", "done closes the survey and ends"},
        Refused{"exit", "exit", "Ctrl-C ends too"}, Refused{"Stop", "stop", "leaves the survey open"},
        Refused{"pair two", "pair", "nothing goes behind pair"},
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
       {"station",    "face",        "edge",        "set-up",   "take",    "take kept", "undo",
        "stage",      "status",      "card",        "readings", "correct", "set aside", "put back",
        "check zero", "check datum", "check scale", "next",     "give up", "keep",      "made 2",
        "not made 2", "read again",  "seal",        "done",     "pair"})
    EXPECT_THAT(all, HasSubstr(command));
}

}  // namespace
}  // namespace hangtrue::daemon
