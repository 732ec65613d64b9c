// Where to read: that a plan keeps what it promises, is no worse than an even walk, and says what stands in the way.
#include "firmware-host/job/plan.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <random>
#include <set>
#include <sstream>

#include <nlohmann/json.hpp>

#include "core/survey/observation.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/job/survey_fit.hpp"
#include "firmware-host/json/stations.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/plan.hpp"
#include "tests/firmware-host/job/kit.hpp"
#include "tests/trials.hpp"

namespace hangtrue::job {
namespace {

using testing::AllOf;
using testing::Each;
using testing::HasSubstr;
using testing::Not;

// A run that hangs near what its sheet predicts, as a plan takes it to: 2 mm and 2 mm/m off. Invented.
sheet::RunSheet near_run(const std::string& more = "") {
  std::string text = sheet::kExample;
  const auto after = [&](const std::string& key, const std::string& line) {
    text.insert(text.find(key) + key.size(), line);
  };
  after("holds = \"both\"\n",
        "prior = { rise = \"2 mm\", pitch = \"2 mm/m\", roll = \"2 mm/m\", spring = 0.1 }\n");
  after("holds = \"pull\"\n", "prior = { rise = \"2 mm\", spring = 0.1 }\n");
  auto read = sheet::parse_run_sheet(text + more, "near.toml");
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  return *read.sheet;
}

sheet::KitSheet kit_of(const std::string& text, const sheet::RunSheet& run) {
  auto read = sheet::parse_kit_sheet(text, "kit.toml", run);
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  return *read.sheet;
}

Plan planned(const sheet::RunSheet& run, const sheet::KitSheet& kit, double wanted_m,
             PlanFor what = PlanFor::levelling, int stage = 0) {
  auto made = make_plan(run, kit, {what, stage, wanted_m, kLeastRedundancy});
  EXPECT_TRUE(made.ok()) << say::complaint(run, made.fault()).text();
  return made.ok() ? made.value() : Plan{};
}

double sigma_of(const sheet::RunSheet& run, const sheet::KitSheet& kit, int stage,
                const std::vector<sheet::ReadingEntry>& entries) {
  SurveyFit session(run, &kit, stage);
  for (const sheet::ReadingEntry& each : entries) session.add(each);
  EXPECT_TRUE(session.fit());
  return session.fitted().next_reading({}).value().sigma_now_m;
}

// Finished heights at all stations and both edges, less their mean.
std::vector<double> less_mean(const sheet::RunSheet& run, const beam::Solver<double>& solver) {
  std::vector<double> heights;
  for (const double x : run.stations_m)
    for (const double across : {run.width_m / 2, -run.width_m / 2})
      heights.push_back(solver.height(run.tolerance.stage, x, across));
  double mean = 0;
  for (const double each : heights) mean += each / double(heights.size());
  for (double& each : heights) each -= mean;
  return heights;
}

TEST(Plan, TakesFourHundredStationsAndClosesItsWalkAtFirstMiddleAndLast) {
  sheet::RunSheet run = near_run();
  run.stations_m.clear();
  for (int i = 0; i < 400; ++i) run.stations_m.push_back(run.length_m * i / 399);
  const Plan plan = planned(run, kit(), 0.0003);
  EXPECT_TRUE(plan.reached);
  std::map<std::string, std::vector<double>> walked, closed;
  for (const PlanStop& stop : plan.walk)
    if (!stop.stays) walked[stop.instrument].push_back(stop.at_m);
  for (const PlanStop& stop : plan.closing) closed[stop.instrument].push_back(stop.at_m);
  ASSERT_EQ(walked.size(), closed.size());
  for (const auto& [instrument, at_m] : closed) {
    const auto [first, last] = std::minmax_element(walked[instrument].begin(), walked[instrument].end());
    const std::set<double> distinct(walked[instrument].begin(), walked[instrument].end());
    EXPECT_EQ(at_m.size(), std::min<std::size_t>(3, distinct.size())) << instrument;
    EXPECT_EQ(at_m.front(), *first);
    EXPECT_EQ(at_m.back(), *last);
  }
}

TEST(Plan, KeepsWhatItPromisesInSimulatedSurveys) {
  const sheet::RunSheet run = near_run();
  const Plan plan = planned(run, kit(), 0.0003);
  ASSERT_TRUE(plan.reached);
  EXPECT_LE(plan.certainty_m, 0.0003);
  const std::vector<sheet::ReadingEntry> entries = planned_readings(run, kit(), plan);
  ASSERT_EQ(int(entries.size()), plan.readings);

  SurveyFit pattern(run, &kit(), plan.wish.stage);
  for (const sheet::ReadingEntry& each : entries) pattern.add(each);
  ASSERT_TRUE(pattern.fit());
  SurveyFit nothing(run, &kit(), plan.wish.stage);
  ASSERT_TRUE(nothing.fit());

  std::mt19937 random(20261126);
  std::normal_distribution<double> normal;
  SolvedRun solved(run);
  double squares = 0;
  int points = 0;
  constexpr int kTrials = trials(200);
  for (int trial = 0; trial < kTrials; ++trial) {
    beam::State<double> truth = nothing.fitted().state();
    survey::KitState<double> zeros = nothing.fitted().kit();
    for (int u = 0; u < pattern.unknowns().count; ++u) {
      const fit::Prior<double> prior = pattern.unknowns().prior[u];
      fit::assign(pattern.unknowns().unknown[u], prior.mean + prior.sigma * normal(random), truth, zeros);
    }
    ASSERT_TRUE(solved.solver().solve(truth));
    SurveyFit session(run, &kit(), plan.wish.stage);
    for (std::size_t i = 0; i < entries.size(); ++i) {
      sheet::ReadingEntry entry = entries[i];
      entry.value = survey::predicted<double>({&solved.solver(), plan.wish.stage, run.length_m, run.width_m},
                                              pattern.survey().readings[i], zeros) +
                    entry.sigma * normal(random);
      session.add(entry);
    }
    const std::vector<double> truly = less_mean(run, solved.solver());
    ASSERT_TRUE(session.fit());
    ASSERT_TRUE(solved.solver().solve(session.fitted().state()));
    const std::vector<double> fitted = less_mean(run, solved.solver());
    for (std::size_t i = 0; i < truly.size(); ++i) squares += (fitted[i] - truly[i]) * (fitted[i] - truly[i]);
    points += int(truly.size());
  }
  if (kSharesTell) {
    EXPECT_NEAR(std::sqrt(squares / points) / plan.sigma_m, 1, 0.15);
  }
}

// As many readings with the same instruments, evenly along the run, each place read `times`.
std::vector<sheet::ReadingEntry> even_walk(const sheet::RunSheet& run, const Plan& plan, int times) {
  int stands = 0, distances = 0;
  for (const PlanStop& stop : plan.walk) (stop.both_faces ? stands : distances) += stop.times;
  Plan even = plan;
  even.walk.clear();
  const auto spread = [&](int count, PlanStop stop) {
    const int places = (count + times - 1) / times;
    for (int i = 0; i < count; ++i) {
      const double share = places == 1 ? 0.5 : double(i / times) / (places - 1);
      stop.at_m = run.stations_m[std::size_t(std::lround(share * double(run.stations_m.size() - 1)))];
      even.walk.push_back(stop);
    }
  };
  PlanStop stand, distance;
  stand.instrument = "level";
  stand.channels = {Channel::slope, Channel::roll};
  stand.both_faces = true;
  distance.instrument = "laser";
  distance.channels = {Channel::distance};
  distance.set_up = "1";
  spread(stands, stand);
  spread(distances, distance);
  return planned_readings(run, kit(), even);
}

// Where a mistake must show, against a walk in which it does as well: each place is read twice. Nothing proves a plan best: 2 %.
TEST(Plan, IsNoWorseThanAnEvenWalkWithAsManyReadings) {
  for (const double wanted_m : {0.0005, 0.0003, 0.0002, 0.0001})
    for (const sheet::RunSheet& sheet : {run(), near_run()})
      for (const double redundancy : {0.0, kLeastRedundancy}) {
        const auto made = make_plan(sheet, kit(), {PlanFor::levelling, 0, wanted_m, redundancy});
        ASSERT_TRUE(made.ok());
        const std::vector<sheet::ReadingEntry> even = even_walk(sheet, made.value(), redundancy > 0 ? 2 : 1);
        EXPECT_EQ(int(even.size()), made.value().readings);
        EXPECT_LE(made.value().sigma_m, sigma_of(sheet, kit(), 0, even) * 1.02)
            << wanted_m << ' ' << redundancy;
      }
}

TEST(Plan, IsAsSureAsIsWantedWithNoMoreThanItMayRead) {
  const sheet::RunSheet run = near_run();
  for (const double wanted_m : {0.0005, 0.0003, 0.00015}) {
    const Plan plan = planned(run, kit(), wanted_m);
    EXPECT_TRUE(plan.reached);
    EXPECT_LE(plan.sigma_m, wanted_m);
    EXPECT_LE(plan.readings, kMostPlanned);
    EXPECT_LT(plan.sigma_m, plan.sigma_before_m);
    EXPECT_GE(plan.sigma_m, plan.sigma_at_best_m);
  }
  EXPECT_GT(planned(run, kit(), 0.0001).readings, planned(run, kit(), 0.0005).readings);
}

TEST(Plan, SaysWhatStandsInTheWayWhereReadingCannotReachIt) {
  std::string text = sheet::kExample;
  text.insert(text.find("weight = \"400 N\"\n") + 17, "sigma = 0.8\n");
  const sheet::RunSheet heavy = *sheet::parse_run_sheet(text, "heavy.toml").sheet;
  const Plan plan = planned(heavy, kit(), 0.0001);
  EXPECT_FALSE(plan.reached);
  EXPECT_GT(plan.sigma_at_best_m, 0.0001);
  EXPECT_LE(plan.sigma_m, 1.1 * plan.sigma_at_best_m);
  EXPECT_LT(plan.readings, kMostPlanned);
  ASSERT_FALSE(plan.leaves_open.empty());
  const UnknownId books{.of = UnknownOf::load, .name = "books"};
  EXPECT_EQ(plan.leaves_open[0].unknown, books);
  EXPECT_EQ(say::plain(books), "the weight of \"books\"");
  EXPECT_LT(plan.leaves_open[0].sigma_after_m, plan.sigma_m / 2);
  EXPECT_THAT(say::plan_view(heavy, plan),
              AllOf(HasSubstr("Not reached"), HasSubstr("What stands in the way")));
  const auto coming = std::find_if(plan.not_learned.begin(), plan.not_learned.end(),
                                   [&](const NotLearned& each) { return each.unknowns[0] == books; });
  ASSERT_NE(coming, plan.not_learned.end());
  EXPECT_EQ(coming->why, NotLearnedBecause::not_on_yet);
  EXPECT_THAT(say::not_learned(*coming), HasSubstr("not on yet"));
}

TEST(Plan, AMistakeAtAnyStopShowsInTheFit) {
  const sheet::RunSheet run = near_run();
  const Plan plan = planned(run, kit(), 0.0005);
  const std::vector<sheet::ReadingEntry> entries = planned_readings(run, kit(), plan);
  for (std::size_t wrong = 0; wrong < entries.size(); ++wrong) {
    SurveyFit session(run, &kit(), 0);
    for (std::size_t i = 0; i < entries.size(); ++i) {
      session.add(entries[i]);
      if (i != wrong) continue;
      session.drop_last();
      sheet::ReadingEntry entry = entries[i];
      entry.value += 40 * entry.sigma;
      session.add(entry);
    }
    ASSERT_TRUE(session.fit());
    const fit::SelfTest<double>& test = session.report().self_test;
    EXPECT_TRUE(test.outcome == fit::TestOutcome::fails || test.beyond_gate > 0)
        << "reading " << wrong << " of " << entries.size() << ", " << entries[wrong].instrument << " at "
        << entries[wrong].at_m << ", p " << test.p_value;
  }
}

TEST(Plan, ReadsThreePlacesAtLeast) {
  const sheet::RunSheet run = near_run();
  const sheet::KitSheet fine = kit_of(R"(
[[instrument]]
name = "level"
port = "/dev/ttyS0"
speaks = "xdr"
channel = [ { transducer = "PITCH", gives = "slope", base = "200 mm", sigma = "0.001 mm/m" },
            { transducer = "ROLL", gives = "roll", sigma = "0.001 mm/m" } ]
)",
                                      run);
  for (const PlanFor what : {PlanFor::levelling, PlanFor::recheck}) {
    const Plan plan = planned(run, fine, 0.002, what, 1);
    EXPECT_TRUE(plan.reached);
    std::set<double> places;
    for (const PlanStop& stop : plan.walk) places.insert(stop.at_m);
    EXPECT_GE(int(places.size()), kLeastPlaces);
  }
}

TEST(Plan, EndsWhereThereAreTwoStationsAlone) {
  std::string text = sheet::kExample;
  text.replace(text.find("{ every = \"300 mm\" }"), 20, "[\"0 mm\", \"4200 mm\"]");
  const sheet::RunSheet two = *sheet::parse_run_sheet(text, "two.toml").sheet;
  for (const PlanFor what : {PlanFor::levelling, PlanFor::recheck}) {
    const Plan plan = planned(two, kit(), 0.0005, what, 1);
    EXPECT_TRUE(plan.reached);
    EXPECT_LT(plan.readings, kMostPlanned);
  }
}

TEST(Plan, NamesWhatOnlyShowsTogether) {
  // Two loads over the same stretch, of which little is known, and an inclinometer that sees their sag.
  std::string text = sheet::kExample;
  text.replace(text.find("at = \"2 m\"\nweight = \"400 N\""), 27,
               "from = \"0 mm\"\nto = \"4200 mm\"\nacross = \"20 mm\"\nweight = \"4 kN\"\nsigma = 0.9");
  text.replace(text.find("sigma = 0.05"), 12, "sigma = 0.9 ");
  text.replace(text.find("mass = \"62 kg\""), 14, "mass = \"400 kg\"");
  const sheet::RunSheet two = *sheet::parse_run_sheet(text, "two.toml").sheet;
  const Plan plan = planned(two, kit(), 0.0001, PlanFor::levelling, 1);
  std::string all;
  for (const auto& group : plan.not_apart) all += say::not_apart(group) + '\n';
  EXPECT_THAT(all, AllOf(HasSubstr("weight of \"carcasses\""), HasSubstr("weight of \"books\""),
                         HasSubstr("only what they do together shows")));
}

TEST(Plan, AnInstrumentThatStaysIsReadOnceWhereItStays) {
  const sheet::KitSheet kit = kit_of(R"(
[[instrument]]
name = "stayer"
port = "/dev/ttyS0"
speaks = "xdr"
channel = [ { transducer = "PITCH", gives = "slope", base = "200 mm", sigma = "0.02 mm/m", station = "2100 mm", edge = "left" } ]
[[instrument]]
name = "walker"
port = "/dev/ttyS1"
speaks = "xdr"
channel = [ { transducer = "PITCH", gives = "slope", base = "200 mm", sigma = "0.02 mm/m" } ]
)",
                                     near_run());
  const Plan plan = planned(near_run(), kit, 0.0003);
  int stays = 0;
  for (const PlanStop& stop : plan.walk) {
    EXPECT_EQ(stop.both_faces, stop.instrument == "walker");
    if (!stop.stays) continue;
    ++stays;
    EXPECT_EQ(stop.instrument, "stayer");
    EXPECT_EQ(stop.at_m, 2.1);
    EXPECT_EQ(stop.edge, survey::Edge::left);
    EXPECT_EQ(stop.times, 1);
  }
  EXPECT_EQ(stays, 1);
}

TEST(Plan, TakesAFurtherSetUpOnlyWhereOneDoesNotSuffice) {
  const std::string laser = R"(
[[instrument]]
name = "laser"
port = "/dev/ttyS0"
speaks = "xdr"
channel = [ { transducer = "DIST", gives = "distance", sigma = "0.05 mm" } ]
)";
  // The datum's tilt, 0.3 mm/m unless the sheet says otherwise, is what a laser alone cannot know.
  const sheet::RunSheet run = near_run();
  const auto set_ups = [&](double wanted_m) {
    const Plan plan = planned(run, kit_of(laser, run), wanted_m);
    EXPECT_TRUE(plan.reached) << wanted_m << ' ' << plan.sigma_m;
    std::set<std::string> names;
    for (const PlanStop& stop : plan.walk) names.insert(stop.set_up);
    return names.size();
  };
  EXPECT_EQ(set_ups(0.0006), 1u);
  EXPECT_EQ(set_ups(0.0003), 2u);
}

TEST(Plan, IsForTheStageWhereAllCanStillBeSetOrForTheFinishedOne) {
  EXPECT_EQ(planned_stage(run(), PlanFor::levelling), 0);
  EXPECT_EQ(planned_stage(run(), PlanFor::recheck), 1);
  const auto shelf = sheet::read_run_sheet(HANGTRUE_DATA_DIR "/runs/reading-room-bridge-shelf.toml").sheet;
  ASSERT_TRUE(shelf);
  EXPECT_EQ(shelf->stages[std::size_t(planned_stage(*shelf, PlanFor::levelling))], "second bolted");
}

TEST(PlanForRecheck, FindsTheWantedRiseAndSmallerOnesWithMoreReadings) {
  const sheet::RunSheet run = near_run();
  double before_m = 1;
  int readings = 0;
  for (const double wanted_m : {0.001, 0.0005, 0.0002}) {
    const Plan plan = planned(run, kit(), wanted_m, PlanFor::recheck, 1);
    EXPECT_TRUE(plan.reached) << wanted_m;
    EXPECT_LE(plan.certainty_m, wanted_m);
    EXPECT_LE(plan.certainty_m, before_m * 1.0001);
    EXPECT_GE(plan.readings, readings);
    before_m = plan.certainty_m;
    readings = plan.readings;
    ASSERT_EQ(plan.movements.size(), 4u);  // rise, pitch and roll of the bracket, rise of the rod
    for (const SmallestMovement& each : plan.movements) {
      if (each.movement.of == UnknownOf::move_rise) {
        EXPECT_LE(each.smallest, wanted_m);
      }
    }
  }
  EXPECT_FALSE(planned(run, kit(), 0.000001, PlanFor::recheck, 1).reached);
}

TEST(PlanForRecheck, OnlyMarksShowThatTheWholeRunSank) {
  const sheet::RunSheet unmarked = near_run();
  const Plan plan = planned(unmarked, kit(), 0.0005, PlanFor::recheck, 1);
  EXPECT_FALSE(std::isfinite(plan.whole_run_m));
  EXPECT_TRUE(std::isfinite(plan.whole_run_with_two_marks_m));
  EXPECT_GT(plan.whole_run_with_two_marks_m, 2.8 * std::sqrt(2.0) * kDistanceSigma / 3);
  EXPECT_THAT(say::plan_view(unmarked, plan), HasSubstr("no stable mark"));
  EXPECT_THAT(plan.walk, Each(testing::Field(&PlanStop::mark, "")));

  const sheet::RunSheet marked = near_run("[[mark]]\nname = \"lintel\"\nat = \"-200 mm\"\n");
  const Plan with_mark = planned(marked, kit(), 0.0005, PlanFor::recheck, 1);
  int marks = 0;
  for (const PlanStop& stop : with_mark.walk) marks += stop.mark == "lintel" ? 1 : 0;
  EXPECT_EQ(marks, 1);
  EXPECT_TRUE(std::isfinite(with_mark.whole_run_m));
  // Two, one beyond each end, hold the datum's tilt as well.
  EXPECT_LT(with_mark.whole_run_with_two_marks_m, with_mark.whole_run_m);

  const sheet::KitSheet blind = kit_of(R"(
[[instrument]]
name = "level"
port = "/dev/ttyS0"
speaks = "xdr"
channel = [ { transducer = "PITCH", gives = "slope", base = "200 mm", sigma = "0.02 mm/m" } ]
)",
                                       unmarked);
  const Plan without_laser = planned(unmarked, blind, 0.0005, PlanFor::recheck, 1);
  EXPECT_FALSE(std::isfinite(without_laser.whole_run_with_two_marks_m));
  // Nothing reads roll.
  for (const SmallestMovement& each : without_laser.movements) {
    if (each.movement.of == UnknownOf::move_roll) {
      EXPECT_GT(each.smallest, 0.001);
    }
  }
}

TEST(Plan, OfAKitThatReadsNothingIsRefused) {
  const sheet::KitSheet thermometer = kit_of(R"(
[[instrument]]
name = "thermometer"
port = "/dev/ttyS0"
speaks = "xdr"
channel = [ { transducer = "TEMP", gives = "temperature" } ]
)",
                                             run());
  const auto made = make_plan(run(), thermometer, {PlanFor::levelling, 0, 0.001, kLeastRedundancy});
  ASSERT_FALSE(made.ok());
  EXPECT_THAT(say::complaint(run(), made.fault()).text(),
              AllOf(HasSubstr("kit.toml"), HasSubstr("slope, roll or distance")));
}

TEST(Plan, IsShownWithin80ColumnsAndAsNumbers) {
  for (const char* const name : {"reading-room-bridge-shelf", "bottle-canopy"})
    for (const PlanFor what : {PlanFor::levelling, PlanFor::recheck}) {
      const auto run = sheet::read_run_sheet(HANGTRUE_DATA_DIR "/runs/" + std::string(name) + ".toml").sheet;
      ASSERT_TRUE(run);
      const Plan plan = planned(*run, kit(), 0.0004, what, planned_stage(*run, what));
      std::istringstream lines(say::plan_view(*run, plan));
      for (std::string line; std::getline(lines, line);) EXPECT_LE(line.size(), 80u) << line;
      const auto sent = json::stations_json(*run, plan);
      int readings = 0;
      for (const auto& stop : sent.at("walk"))
        readings += stop.at("times").get<int>() * int(stop.at("faces").size() * stop.at("channels").size());
      EXPECT_EQ(readings, sent.at("readings").get<int>());
      EXPECT_EQ(sent.contains("movements"), what == PlanFor::recheck);
      EXPECT_NE(sent.dump().find("\"wanted_m\":0.0004"), std::string::npos);
    }
}

}  // namespace
}  // namespace hangtrue::job
