#include "tools/rehearsal/walk.hpp"

#include <gmock/gmock.h>

#include <map>

#include "firmware-host/sheet/units.hpp"
#include "tests/tools/rehearsal/sheets.hpp"

namespace hangtrue::rehearsal {
namespace {

using survey::Edge;
using ::testing::ElementsAre;

/// Without the one that stays.
sheet::KitSheet walking_kit(const sheet::RunSheet& run) {
  sheet::KitSheet kit = kit_sheet(run);
  kit.instruments.pop_back();
  return kit;
}

TEST(Walk, GoesToEveryStationOnceWithBothFaces) {
  const sheet::RunSheet run = run_sheet();
  const auto steps = walk(run, walking_kit(run), {});
  ASSERT_EQ(steps.size(), 20u);
  for (std::size_t i = 0; i < 14; ++i) {
    EXPECT_EQ(steps[i].stand.at_m, run.stations_m[i / 2]);
    EXPECT_EQ(steps[i].stand.face, i % 2 == 0 ? 1 : -1);
    EXPECT_EQ(steps[i].commands.back(), "take");
  }
  EXPECT_THAT(steps[0].commands, ElementsAre("set-up 1", "edge middle", "face 1", "station 0 m", "take"));
  EXPECT_THAT(steps[1].commands, ElementsAre("face 2", "take"));
  EXPECT_THAT(steps[2].commands, ElementsAre("face 1", "station 0.5 m", "take"));
}

TEST(Walk, ClosesAtTheFirstTheMiddleAndTheLastStation) {
  const sheet::RunSheet run = run_sheet();
  const auto steps = walk(run, walking_kit(run), {.both_faces = true, .set_ups = 2});
  std::vector<double> at_m;
  for (std::size_t i = steps.size() - 6; i < steps.size(); ++i) {
    at_m.push_back(steps[i].stand.at_m);
    EXPECT_EQ(steps[i].stand.face, i % 2 == 0 ? 1 : -1);
    EXPECT_EQ(steps[i].stand.set_up, 1);
    EXPECT_EQ(steps[i].commands.back(), "take");
  }
  EXPECT_THAT(at_m, ElementsAre(0.0, 0.0, 1.5, 1.5, 3.0, 3.0));
  EXPECT_THAT(steps[steps.size() - 6].commands, ElementsAre("face 1", "station 0 m", "take"));
  EXPECT_EQ(walk(run, walking_kit(run), {.set_ups = 2, .closes = false}).size(), steps.size() - 6);

  sheet::RunSheet two = run;
  two.stations_m = {0, 3};
  EXPECT_EQ(walk(two, walking_kit(two), {.both_faces = false}).size(), 4u) << "each place once";
}

TEST(Walk, ASecondSetUpBeginsWhereTheFirstEnded) {
  const sheet::RunSheet run = run_sheet();
  const auto steps = walk(run, walking_kit(run), {.both_faces = false, .set_ups = 2, .closes = false});
  std::map<int, std::vector<double>> places;
  for (const Step& step : steps) places[step.stand.set_up].push_back(step.stand.at_m);
  EXPECT_THAT(places[0], ElementsAre(0.0, 0.5, 1.0, 1.5));
  EXPECT_THAT(places[1], ElementsAre(1.5, 2.0, 2.5, 3.0));
  EXPECT_THAT(steps[4].commands, ElementsAre("set-up 2", "take"));
}

TEST(Walk, ReadsTheEdgesThatAreAskedFor) {
  const sheet::RunSheet run = run_sheet();
  const auto steps = walk(run, walking_kit(run), {.both_faces = false, .edges = {Edge::left, Edge::right}});
  ASSERT_EQ(steps.size(), 17u) << "the walk closes at one edge";
  EXPECT_THAT(steps[0].commands, ElementsAre("set-up 1", "edge left", "face 1", "station 0 m", "take"));
  EXPECT_THAT(steps[1].commands, ElementsAre("edge right", "take"));
}

TEST(Walk, ReadsWhatStaysBeforeAndAfter) {
  const sheet::RunSheet run = run_sheet();
  const auto steps = walk(run, kit_sheet(run), {.set_ups = 2});
  ASSERT_EQ(steps.size(), 24u);
  EXPECT_THAT(steps[0].commands, ElementsAre("set-up 1", "take fixed"));
  EXPECT_THAT(steps[1].commands, ElementsAre("edge middle", "face 1", "station 0 m", "take"));
  EXPECT_EQ(steps[0].stand, steps[1].stand);
  EXPECT_THAT(steps[23].commands, ElementsAre("take fixed"));
  EXPECT_EQ(steps[23].stand, steps[22].stand);
  for (std::size_t i = 1; i < 23; ++i) EXPECT_EQ(steps[i].commands.back(), "take");
}

TEST(Walk, ReadsEveryMarkAtTheBeginningAndAtTheEndOfEachSetUp) {
  sheet::RunSheet run = run_sheet();
  run.marks = {{"door frame", -0.4}, {"column", 1.5}};
  const auto steps = walk(run, walking_kit(run), {.both_faces = true, .set_ups = 2});
  std::vector<std::string> order;  // "1 door frame", "1 run", ...
  for (const Step& step : steps) {
    const int mark = step.stand.mark;
    std::string now =
        std::to_string(step.stand.set_up + 1) + ' ' + (mark < 0 ? "run" : run.marks[std::size_t(mark)].name);
    if (mark >= 0) {
      EXPECT_EQ(step.stand.at_m, run.marks[std::size_t(mark)].at_m);
      EXPECT_EQ(step.commands.back(), "take");
      EXPECT_EQ(step.commands[step.commands.size() - 2], "station " + run.marks[std::size_t(mark)].name);
    }
    if (order.empty() || order.back() != now) order.push_back(std::move(now));
  }
  EXPECT_THAT(order, ElementsAre("1 door frame", "1 column", "1 run", "1 door frame", "1 column",
                                 "2 door frame", "2 column", "2 run", "2 door frame", "2 column"));
  EXPECT_THAT(steps[0].commands, ElementsAre("set-up 1", "station door frame", "take"));
  EXPECT_THAT(steps[2].commands, ElementsAre("edge middle", "face 1", "station 0 m", "take"));
  EXPECT_THAT(steps[3].commands, ElementsAre("face 2", "take"));
}

TEST(Walk, GoesPastMarksWithoutALaser) {
  sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = walking_kit(run);
  kit.instruments.pop_back();
  const auto without = walk(run, kit, {});
  run.marks = {{"column", 1.5}};
  EXPECT_EQ(walk(run, kit, {}).size(), without.size());
}

TEST(Walk, WithoutAnInclinometerThereIsOneFaceAndWithoutALaserOneSetUp) {
  const sheet::RunSheet run = run_sheet();
  sheet::KitSheet laser = kit_sheet(run), inclinometer = laser;
  laser.instruments = {laser.instruments[1]};
  inclinometer.instruments = {inclinometer.instruments[0]};
  EXPECT_EQ(walk(run, laser, {.set_ups = 2, .closes = false}).size(), 8u);
  EXPECT_EQ(walk(run, inclinometer, {.set_ups = 2, .closes = false}).size(), 14u);
}

TEST(ScaleChecks, AreOneForEachInstrumentThatTheKitSheetDoesNotVouchFor) {
  const sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = kit_sheet(run);
  // The one at the post has no base: nothing is due there.
  const auto checks = scale_checks(kit);
  ASSERT_EQ(checks.size(), 2u);
  EXPECT_EQ(checks[0].command, "check scale 0.003 m across 0.12 m with walking inclinometer");
  EXPECT_EQ(checks[0].instrument, 0u);
  EXPECT_FALSE(checks[0].setting.by_places);
  EXPECT_EQ(checks[0].setting.length_m, 0.003);
  EXPECT_EQ(checks[1].command, "check scale places 0.5 m apart with laser meter");
  EXPECT_TRUE(checks[1].setting.by_places);
  kit.instruments[0].channels[0].scale_checked = "2026-09-20";
  EXPECT_EQ(scale_checks(kit).size(), 2u) << "roll is still unchecked";
  kit.instruments[0].channels[1].scale_checked = "2026-09-20";
  ASSERT_EQ(scale_checks(kit).size(), 1u);
  EXPECT_EQ(scale_checks(kit)[0].instrument, 1u);
}

TEST(Walk, StationsInCommandsReadBackExactly) {
  const std::string every = "every = \"500 mm\"";
  std::string text = kRunText;
  text.replace(text.find(every), every.size(), "every = \"1 1/3 in\"");
  const sheet::RunSheet run = run_sheet(text);
  for (const Step& step : walk(run, walking_kit(run), {.both_faces = false})) {
    const std::string& command = step.commands[step.commands.size() - 2];
    ASSERT_TRUE(command.starts_with("station "));
    const auto read = sheet::parse_quantity(command.substr(8), sheet::Kind::length);
    ASSERT_TRUE(read.ok()) << command;
    EXPECT_EQ(read.value(), step.stand.at_m);
  }
}

}  // namespace
}  // namespace hangtrue::rehearsal
