#include "tools/rehearsal/control.hpp"

#include <gmock/gmock.h>

#include <nlohmann/json.hpp>

#include "firmware-host/job/commissioning.hpp"
#include "firmware-host/json/check_step.hpp"
#include "tests/tools/rehearsal/listener.hpp"
#include "tests/tools/rehearsal/sheets.hpp"
#include "tests/tools/rehearsal/tty.hpp"

namespace hangtrue::rehearsal {
namespace {

using nlohmann::json;
using ::testing::StartsWith;

class RehearsalUnderControl : public ::testing::Test {
 protected:
  /// What the truth says of the walking inclinometer's slope and the laser there.
  [[nodiscard]] std::pair<double, double> truth(const Stand& stand) const {
    return {rehearsal.truth().reading(0, 0, stand), rehearsal.truth().reading(1, 0, stand)};
  }
  /// What the two really read now: the number that the simulated laser and inclinometer send, within six sigma of a sample.
  void expect_at(const Stand& stand) {
    const auto [slope, distance] = truth(stand);
    for (const auto& [index, wanted, sigma] :
         {std::tuple<std::size_t, double, double>{0, slope, 0.02e-3}, {1, distance, 0.1e-3}}) {
      Listener listener(kit.instruments[index], run.stations_m.size());
      const Tty tty(rehearsal.ports()[index]);
      tty.flush();
      std::optional<double> value;
      for (int chunks = 0; chunks < 20; ++chunks)
        for (const wire::Sample& sample : listener.take(tty.read()))
          if (sample.channel == 0) value = sample.value;
      ASSERT_TRUE(value.has_value());
      EXPECT_NEAR(*value, wanted, 6 * sigma) << kit.instruments[index].name;
    }
  }
  Directory directory;
  sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = kit_sheet(run, kKitText, directory.write("kit.toml", kKitText).string());
  Rehearsal rehearsal{run, kit, {.samples_per_s = 200, .handling_s = 0, .faults = kNoFaults}};
  Control control{rehearsal, run, kit};
};

TEST_F(RehearsalUnderControl, PlacesTheInstrumentsAndKeepsWhatAPlaceDoesNotSay) {
  EXPECT_EQ(control.obey("place 1500 mm face 2 edge left set-up 2"),
            "placed at 1500 mm, face 2, edge left, set-up 2");
  EXPECT_EQ(control.obey("place 2000 mm"), "placed at 2000 mm, face 2, edge left, set-up 2");
  EXPECT_EQ(control.obey("place face 1"), "placed at 2000 mm, face 1, edge left, set-up 2");
  rehearsal.start();
  expect_at({.at_m = 2.0, .face = 1, .edge = survey::Edge::left, .set_up = 1});
}

TEST_F(RehearsalUnderControl, HoldsTheLaserAtAMark) {
  run.marks = {{"door frame", -0.4}, {"column", 1.5}};
  Rehearsal with_marks{run, kit, {.samples_per_s = 200, .handling_s = 0, .faults = kNoFaults}};
  Control there{with_marks, run, kit};
  EXPECT_EQ(there.obey("place column set-up 2"), "placed at mark column, face 1, edge middle, set-up 2");
  EXPECT_EQ(there.obey("place 1500 mm"), "placed at 1500 mm, face 1, edge middle, set-up 2");
  EXPECT_THAT(there.obey("place lintel"), StartsWith("refused: "));
}

TEST_F(RehearsalUnderControl, RefusesWhatItCannotDoAndSaysWhy) {
  for (const char* line :
       {"", "dance", "place 12", "place 1500 mm face 3", "place 1500 mm edge top", "place 1500 mm set-up 99",
        "place face", "unplug laser", "plug in nothing", "move wall bracket 1 2", "move door 0.001 0 0",
        "move post 0 0 0x", "stage attic", "sent nobody", "unplug"})
    EXPECT_THAT(control.obey(line), StartsWith("refused: ")) << line;
  EXPECT_EQ(control.obey("place 0 mm"), "placed at 0 mm, face 1, edge middle, set-up 1");
}

TEST_F(RehearsalUnderControl, MovesTheRunSoThatItsTruthIsAnother) {
  std::vector<beam::Motions<double>> moves(run.supports.size());
  moves[1].rise = 0.002;
  const double wanted = rehearsal.truth().level_error_after_m(moves),
               before = rehearsal.truth().level_error_m();
  ASSERT_GT(std::abs(wanted - before), 1e-4);
  EXPECT_EQ(control.obey("move post 0.0015 0 0"), "moved post");
  EXPECT_EQ(control.obey("move post 0.0005 0 0"), "moved post");
  EXPECT_NEAR(rehearsal.truth().level_error_m(), wanted, 1e-15);
  const json said{{"level_error_m", rehearsal.truth().level_error_m()}};
  EXPECT_EQ(control.obey("truth"), "truth " + said.dump());
  EXPECT_EQ(control.obey("move post -0.002 0 0"), "moved post");
  EXPECT_NEAR(rehearsal.truth().level_error_m(), before, 1e-15);
}

TEST_F(RehearsalUnderControl, DoesWhatTheDaemonsEventsSay) {
  rehearsal.start();
  EXPECT_FALSE(control.follow({{"event", "here"},
                               {"at_m", 2.5},
                               {"face", -1},
                               {"edge", "as in the kit sheet"},
                               {"set_up", "by the door"},
                               {"stage", "in use"}}));
  Stand stand{.at_m = 2.5, .face = -1, .set_up = kMaxSetUps - 1};
  expect_at(stand);
  const double before = rehearsal.truth().reading(0, 0, stand);
  const json made{{"event", "made"},  {"support", "post"}, {"rise_m", 0.002},
                  {"pitch_rad", 0.0}, {"roll_rad", 0.0},   {"made", true}};
  EXPECT_TRUE(control.follow(made));
  EXPECT_GT(std::abs(rehearsal.truth().reading(0, 0, stand) - before), 1e-4);
  expect_at(stand);
  json taken_back = made;
  taken_back["made"] = false;
  EXPECT_TRUE(control.follow(taken_back));
  EXPECT_NEAR(rehearsal.truth().reading(0, 0, stand), before, 1e-15);
  EXPECT_FALSE(control.follow({{"event", "taken"}, {"text", "2 readings"}}));
  EXPECT_EQ(control.follow({{"event", "made"}, {"support", "attic"}, {"made", true}}),
            "the attic stays as it is: the run has no support \"attic\"");
}

TEST_F(RehearsalUnderControl, PutsAPieceUnderAFoot) {
  rehearsal.start();
  (void)control.obey("place 500 mm under-end 0.005 feet 0.12");
  expect_at({.at_m = 0.5, .put = {.end_m = 0.005, .feet_across_m = 0.12}});
  (void)control.obey("place under-left 0.003 feet 0.12 face 2");
  expect_at({.at_m = 0.5, .face = -1, .put = {.left_m = 0.003, .feet_across_m = 0.12}});
  (void)control.obey("place 500 mm face 1");
  expect_at({.at_m = 0.5});
  EXPECT_THAT(control.obey("place 500 mm under-end"),
              ::testing::StartsWith("refused: under-end and a length in m"));
  EXPECT_THAT(control.obey("place 500 mm feet 0"), ::testing::StartsWith("refused: feet and a length in m"));
}

// The members are those that the daemon says.
TEST_F(RehearsalUnderControl, StandsWhereTheStepsOfAGuidedCheckSay) {
  rehearsal.start();
  (void)control.obey("place 500 mm");
  job::ZeroCheckGuide zero(kit.instruments[0]);
  const auto step = [&](const auto& guide) {
    json event(hangtrue::json::check_step(guide));
    event["event"] = "check";
    (void)control.follow(event);
  };
  const std::vector<job::CheckReading> still = {{Channel::slope, 0.001, 1e-5, {}},
                                                {Channel::roll, 0.001, 1e-5, {}},
                                                {Channel::distance, 1.0, 1e-4, {}}};
  for (const int face : {1, -1, 1}) {
    step(zero);
    expect_at({.at_m = 0.5, .face = face});
    ASSERT_FALSE(zero.take(still));
  }
  ASSERT_FALSE(job::DatumCheckGuide::objection(kit.instruments[1], run, 0.5, 3.0, 2));
  job::DatumCheckGuide datum(kit.instruments[1], run, 0.5, 3.0, 2);
  for (int taken = 0; taken < datum.steps(); ++taken) {
    step(datum);
    expect_at({.at_m = taken % 2 == 0 ? 0.5 : 3.0, .set_up = taken < datum.steps() / 2 ? 0 : 1});
    ASSERT_FALSE(datum.take(still));
  }
  (void)control.follow({{"event", "checked"}});
  expect_at({.at_m = 0.5, .face = 1});
  const auto scale_step = [&](const char* with, double length_m) {
    (void)control.follow({{"event", "check"},
                          {"step", 1},
                          {"instruction", ""},
                          {"with", with},
                          {"length_m", length_m},
                          {"feet_across_m", 0.12}});
  };
  scale_step("under the end", 0.005);
  expect_at({.at_m = 0.5, .put = {.end_m = 0.005, .feet_across_m = 0.12}});
  scale_step("under the left", 0.005);
  expect_at({.at_m = 0.5, .put = {.left_m = 0.005, .feet_across_m = 0.12}});
  scale_step("nothing", 0.005);
  expect_at({.at_m = 0.5});
  scale_step("higher place", 0.5);
  expect_at({.at_m = 0.5, .put = {.higher_m = 0.5}});
  (void)control.follow({{"event", "checked"}});
  expect_at({.at_m = 0.5});
}

TEST_F(RehearsalUnderControl, CountsEveryByteThatItSends) {
  rehearsal.start();
  std::size_t got = 0;
  {
    const Tty tty(rehearsal.ports()[1]);
    while (got < 2000) got += tty.read().size();
    EXPECT_EQ(control.obey("hush"), "hushed");
    const Rehearsal::Sent sent = rehearsal.sent(1);
    while (got < sent.bytes) got += tty.read().size();
    EXPECT_EQ(got, rehearsal.sent(1).bytes);
    EXPECT_EQ(sent.bytes_lost, 0u);
    EXPECT_GT(sent.messages, 50u);
    EXPECT_EQ(control.obey("sent laser meter"), "sent laser meter: " + std::to_string(sent.messages) +
                                                    " messages, " + std::to_string(sent.bytes) +
                                                    " bytes, 0 lost");
    EXPECT_EQ(control.obey("speak"), "speaking");
    EXPECT_FALSE(tty.read().empty());
  }
  EXPECT_EQ(control.obey("unplug laser meter"), "unplugged laser meter");
  EXPECT_EQ(control.obey("plug in laser meter"), "plugged in laser meter");
}

}  // namespace
}  // namespace hangtrue::rehearsal
