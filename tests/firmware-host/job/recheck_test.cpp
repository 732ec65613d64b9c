// Rechecks of runs whose truth is known: what was done to them between two surveys, and what is said of it. All invented.
#include "firmware-host/job/recheck.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <random>
#include <regex>

#include <nlohmann/json.hpp>

#include "core/beam/creep.hpp"
#include "core/change/drift_course.hpp"
#include "core/survey/observation.hpp"
#include "firmware-host/job/rehearsed_clock.hpp"
#include "firmware-host/json/recheck.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/recheck.hpp"
#include "tests/firmware-host/fixtures/kit_text.hpp"
#include "tests/trials.hpp"

namespace hangtrue::job {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using namespace std::chrono_literals;

constexpr std::string_view kShelf = R"(
title = "Shelf"
length = "4200 mm"
width = "380 mm"
stations = { every = "300 mm" }
[tolerance]
level = "2 mm"
stage = "in use"
[prior]
bending = 0.04
torsion = 0.10
bow = "1 mm"
datum_tilt = "0.2 mm/m"
[material.beam]
@MATERIAL@
[[member]]
name = "spine"
from = "0 mm"
to = "4200 mm"
material = "beam"
section = { shape = "solid rectangle", depth = "200 mm", width = "90 mm" }
[[load]]
name = "carcasses"
from = "0 mm"
to = "4200 mm"
mass = "80 kg"
across = "20 mm"
sigma = 0.05
[[load]]
name = "books"
from = "300 mm"
to = "3900 mm"
mass = "120 kg"
sigma = 0.10
permanent = 0.6
[[support]]
name = "wall bracket"
at = "0 mm"
rise = "12 kN/mm"
pitch = "600 kN m/rad"
roll = "300 kN m/rad"
prior = { spring = 0.15 }
[[support]]
name = "east rod"
at = "3900 mm"
rise = "9 kN/mm"
pitch = "free"
roll = "free"
holds = "pull"
prior = { spring = 0.15 }
[[stage]]
name = "hung"
supports = ["wall bracket", "east rod"]
loads = ["spine", "carcasses"]
[[stage]]
name = "in use"
supports = ["wall bracket", "east rod"]
loads = ["spine", "carcasses", "books"]
)";
constexpr std::string_view kSteel = R"(E = "210 GPa"
G = "81 GPa"
density = "7850 kg/m3")";
// E and density: EN 14080, GL24h (from memory).
constexpr std::string_view kWood = R"(E = "11.5 GPa"
G = "0.65 GPa"
density = "420 kg/m3"
creep = { material = "glued laminated timber", service_class = 1 })";
constexpr std::string_view kMark = "[[mark]]\nname = \"lintel\"\nat = \"-400 mm\"\n";
const std::string kKit =
    fixtures::kit_text({.calibration = "{ date = 2026-01-14, due = 2029-01-14, certificate = \"A 1\" }",
                        .zero_keeps = "",
                        .distance_sigma = "0.3 mm"});

std::string shelf(std::string_view material, bool mark = false) {
  std::string text(kShelf);
  text.replace(text.find("@MATERIAL@"), 10, material);
  return mark ? text + std::string(kMark) : text;
}

/// A run that hangs, and a level book that fills.
class Site {
 public:
  /// `true_sheet`: what really hangs there, where the sheet does not say all of it.
  explicit Site(unsigned seed, const std::string& sheet = shelf(kSteel), const std::string& true_sheet = "")
      : text(sheet),
        run(*sheet::parse_run_sheet(sheet, "shelf.toml").sheet),
        truth(*sheet::parse_run_sheet(true_sheet.empty() ? sheet : true_sheet, "true.toml").sheet),
        solved_(truth),
        random_(seed) {
    kit = *sheet::parse_kit_sheet(kKit, "kit.toml", run).sheet;
    directory_ = std::filesystem::temp_directory_path() / ("hangtrue-recheck-" + std::to_string(::getpid()));
    std::filesystem::create_directories(directory_);
    path = (directory_ / "site.levelbook").string();
    std::filesystem::remove(path);
    book.emplace(book::Book::open(path).value());
    run_entry = book->append(book::Entry{book::RunText{"shelf.toml", sheet}}).value();
    kit_entry = book->append(book::Entry{book::KitText{"kit.toml", std::string(kKit)}}).value();
    // As the sheets say that it may be; where supports stand within what an installer leaves.
    for (std::size_t i = 0; i < run.supports.size(); ++i) {
      state.offset[i] = {1e-3 * normal(), 1e-3 * normal(), 1e-3 * normal()};
      for (int m = 0; m < 3; ++m) state.log_spring[i][m] = run.supports[i].log_spring_sigma[m] * normal();
    }
    state.bending_factor = 1 + run.priors.bending_sigma * normal();
    state.torsion_factor = 1 + run.priors.torsion_sigma * normal();
    for (std::size_t l = 0; l < truth.loads.size(); ++l)
      state.load_factor[l] = 1 + truth.loads[l].sigma * normal();
    for (int b = 0; b < run.priors.bows; ++b)
      state.bow_m[b] = run.priors.bow_sigma_m / ((b + 1) * (b + 1)) * normal();
    state.move_stage = run.stage("in use");
  }
  ~Site() {
    book.reset();
    std::filesystem::remove_all(directory_);
  }

  double normal() { return normal_(random_); }
  void sink(const char* support, double by_m) { state.move[run.support(support)].rise -= by_m; }
  void turn(const char* support, double by_rad) { state.move[run.support(support)].pitch += by_rad; }

  /// Slope and roll at every station on both faces, distances from one set-up, the mark before and after.
  void survey(const std::string& id, const std::string& stage = "in use", std::vector<double> places = {},
              int faces = 2) {
    if (places.empty()) places = run.stations_m;
    kit_state.zero[0] = kit.instruments[0].channels[0].zero_sigma * (normal() + zero_shift);
    kit_state.zero[1] = kit.instruments[0].channels[1].zero_sigma * normal();
    kit_state.datum_height_m[0] = -1.4 + 0.1 * normal();
    kit_state.datum_tilt_rad[0] = run.priors.datum_tilt_sigma * normal() + datum_shift;
    ASSERT_TRUE(solved_.solver().solve(state));
    const int at_stage = run.stage(stage);
    std::vector<book::Entry> entries{{book::SurveyBegun{id, stage, run_entry, kit_entry}, std::nullopt, now}};
    const book::Number begun = last_ + 1 + 2;  // behind the two sheets
    const auto take = [&](Channel channel, double at, int face, const std::string& mark) {
      survey::Reading<double> reading;
      reading.channel = channel;
      reading.face = std::int8_t(never_turned ? 1 : face);
      reading.at_m = at;
      reading.base_m = channel == Channel::slope ? 0.25 : 0;
      reading.zero = channel == Channel::distance ? std::int16_t(-1) : std::int16_t(channel);
      reading.set_up = channel == Channel::distance ? std::int16_t(0) : std::int16_t(-1);
      reading.mark = std::int16_t(mark.empty() ? -1 : run.mark(mark));
      book::Taken taken;
      sheet::ReadingEntry& entry = taken.reading;
      entry.time = book::rfc3339(now);
      entry.channel = channel;
      entry.instrument = channel == Channel::distance ? "laser" : "level";
      entry.set_up = channel == Channel::distance ? "A" : "";
      entry.at_m = at;
      entry.mark = mark;
      entry.face = face;
      entry.base_m = reading.base_m;
      entry.sigma = channel == Channel::distance ? 3e-4 : 2e-5;
      const survey::Scene<double> scene{&solved_.solver(), at_stage, run.length_m, run.width_m};
      const double reads = channel == Channel::slope      ? slope_reads
                           : channel == Channel::distance ? distance_reads
                                                          : 1;
      entry.value = reads * survey::predicted(scene, reading, kit_state) + drift(reading) +
                    scatters * entry.sigma * normal();
      taken.samples = 10;
      taken.temperature_C = air_C;
      entries.push_back({taken, begun, now});
    };
    const auto mark = [&] {
      for (const sheet::Mark& each : run.marks) take(Channel::distance, each.at_m, 1, each.name);
    };
    mark();
    for (const double at : places) {
      for (const int face : {1, -1}) {
        if (face == -1 && faces == 1) continue;
        take(Channel::slope, at, face, "");
        take(Channel::roll, at, face, "");
      }
      take(Channel::distance, at, 1, "");
    }
    mark();
    entries.push_back({book::SurveyClosed{}, begun, now});
    const auto appended = book->append(entries);
    ASSERT_TRUE(appended.ok()) << appended.fault().says;
    last_ += book::Number(entries.size());
  }

  void appended(int entries) { last_ += entries; }
  History history(std::size_t survey) const {
    return std::move(fit_history(*book, run, book->surveys().value()[survey]).value());
  }
  Result<Recheck, Fault> compare(const std::string& from = "1", const std::string& to = "2") const {
    return job::recheck(*book, run, from, to);
  }
  std::string refused(const std::string& from, const std::string& to) const {
    const auto made = compare(from, to);
    return made.ok() ? "" : say::complaint(run, made.fault()).text();
  }
  Recheck moved(const std::string& from = "1", const std::string& to = "2") const {
    auto made = compare(from, to);
    EXPECT_EQ(refused(from, to), "");
    return made.ok() ? std::move(made).value() : Recheck{};
  }

  std::string text;
  sheet::RunSheet run, truth;
  sheet::KitSheet kit;
  std::string path;
  std::optional<book::Book> book;
  book::Number run_entry = 0, kit_entry = 0;
  beam::State<double> state;
  survey::KitState<double> kit_state{.mark_height_m = {0.35}};
  bool never_turned = false;                   // whatever its faces say
  std::optional<double> air_C;                 // read with every reading
  double scatters = 1;                         // times its sigma
  double slope_reads = 1, distance_reads = 1;  // times what is there
  double zero_shift = 0, datum_shift = 0;      // of the survey to come
  std::function<double(const survey::Reading<double>&)> drift = [](const auto&) { return 0.0; };
  book::Time now = std::chrono::sys_days(std::chrono::year(2027) / 3 / 1);

 private:
  SolvedRun solved_;
  std::filesystem::path directory_;
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;
  book::Number last_ = 0;
};

std::vector<std::string> names(const Recheck& recheck) {
  std::vector<std::string> result;
  for (const Cause& cause : recheck.causes) result.push_back(say::change_name(cause.change.id));
  return result;
}

std::string unfolded(const std::string& text) { return std::regex_replace(text, std::regex("\n *"), " "); }

const fit::Estimate<double>& estimate(const FittedSurvey& survey, const std::string& name) {
  for (const UnknownEstimate& each : survey.session->report().parameters)
    if (name_of(each.id) == name) return each.estimate;
  throw std::runtime_error("no parameter " + name);
}

TEST(History, BareAndDressedTogetherTellBowFromSag) {
  Site site(61);
  site.survey("bare", "hung");
  site.now += 24h;
  site.survey("dressed", "in use");
  const History history = site.history(1);
  ASSERT_EQ(history.surveys.size(), 2u);
  ASSERT_TRUE(history.last().session) << say::not_taught(site.run, *history.last().not_taught);
  SurveyFit alone(site.run, &site.kit, site.run.stage("in use"));
  for (const book::BookedReading& each : history.last().booked.readings) alone.add(each.reading);
  ASSERT_TRUE(alone.fit());
  double bow_alone = 0, books_alone = 0;
  for (const UnknownEstimate& each : alone.report().parameters) {
    if (each.id.of == UnknownOf::bow && each.id.number == 1) bow_alone = each.estimate.sigma;
    if (each.id == UnknownId{UnknownOf::load, "books"}) books_alone = each.estimate.sigma;
  }
  EXPECT_LT(estimate(history.last(), "bow 1").sigma, 0.85 * bow_alone);
  EXPECT_LT(estimate(history.last(), "load books").sigma, 0.85 * books_alone);
  EXPECT_NEAR(estimate(history.last(), "bow 1").value, site.state.bow_m[0],
              4 * estimate(history.last(), "bow 1").sigma);
  EXPECT_NEAR(estimate(history.last(), "load books").value, site.state.load_factor[site.run.load("books")],
              4 * estimate(history.last(), "load books").sigma);
  const std::string view = say::history_view(site.run, history);
  EXPECT_THAT(view, HasSubstr("dressed, in use"));
  EXPECT_THAT(view, HasSubstr("load books"));
  EXPECT_THAT(say::history_view(site.run, site.history(0)), IsEmpty());
}

TEST(History, WhereSupportsStandLastsUntilAMoveIsMadeOrTimeHasPassed) {
  Site site(62);
  site.survey("1");
  site.survey("2");
  const double wide = estimate(site.history(0).last(), "wall bracket: rise").prior_sigma;
  EXPECT_LT(estimate(site.history(1).last(), "east rod: rise").prior_sigma,
            estimate(site.history(0).last(), "east rod: rise").prior_sigma * 0.9);
  const book::Number begun = site.book->surveys().value()[1].number;
  const auto card = site.book->append(
      book::Entry{book::Card{R"({"moves": [{"order": 1, "support": "east rod"}]})"}, begun});
  ASSERT_TRUE(site.book->append(book::Entry{book::MoveMade{card.value(), 1, "east rod", true}, begun}).ok());
  site.appended(2);
  site.survey("3");
  EXPECT_DOUBLE_EQ(estimate(site.history(2).last(), "wall bracket: rise").prior_sigma, wide);
  EXPECT_LT(estimate(site.history(2).last(), "bow 1").prior_sigma, 0.9e-3);  // the bow lasts
  EXPECT_LT(estimate(site.history(2).last(), "level slope: zero").prior_sigma, 1e-4);
  site.now += 24h * 30;
  site.survey("4");
  EXPECT_DOUBLE_EQ(estimate(site.history(3).last(), "level slope: zero").prior_sigma, 3e-4);
}

// A clock that was set back between two surveys says nothing of the time that passed.
TEST(History, WhereSupportsStandIsForgottenWhereTheClockWasSetBack) {
  Site site(64);
  site.survey("1");
  const double wide = estimate(site.history(0).last(), "east rod: rise").prior_sigma;
  site.now -= 24h * 400;
  site.survey("2");
  EXPECT_DOUBLE_EQ(estimate(site.history(1).last(), "east rod: rise").prior_sigma, wide);
  EXPECT_DOUBLE_EQ(estimate(site.history(1).last(), "level slope: zero").prior_sigma, 3e-4);
}

TEST(Recheck, OfALaterSurveyWithAnEarlierTimeAsksForTheDays) {
  Site site(65);
  site.survey("1");
  site.now -= 24h * 400;  // somebody set the clock back
  site.survey("2");
  EXPECT_THAT(site.refused("1", "2"),
              AllOf(HasSubstr("2026-01-25"), HasSubstr("2027-03-01"), HasSubstr("--days")));
  const auto compared = recheck(*site.book, site.run, "1", "2", 365.0);
  ASSERT_TRUE(compared.ok());
  EXPECT_NE(compared.value().answer, RecheckAnswer::cannot_tell);
  EXPECT_DOUBLE_EQ(compared.value().drift.days, 365);
  EXPECT_EQ(compared.value().to_time - compared.value().from_time, 24h * 365);
  EXPECT_NE(compared.value().drift.cause, DriftCause::no_time_passed);
}

TEST(History, ASurveyThatDoesNotHoldTeachesNothing) {
  Site site(63);
  site.survey("1");
  site.zero_shift = 60;  // far from what the kit sheet says
  site.survey("2");
  site.zero_shift = 0;
  site.now += 24h * 30;
  site.survey("3");
  const History history = site.history(2);
  EXPECT_THAT(say::not_taught(site.run, history.surveys[1].not_taught.value()),
              HasSubstr("survey 2: its fit does not hold"));
  EXPECT_EQ(history.carried[1], nullptr);
  EXPECT_FALSE(history.last().not_taught);
  EXPECT_LT(estimate(history.last(), "bow 1").prior_sigma, 0.9e-3);  // of the first
}

/// Creep of the truth since the loads came on, `times` as much as expected.
void let_creep(Site& site, double times, double days);

TEST(History, AWoodenRunThatCreepsAsExpectedGoesOnToTeach) {
  for (const unsigned seed : {71u, 72u, 73u}) {
    Site site(seed, shelf(kWood, true));
    double days = 0;
    for (const char* const id : {"1", "2", "3"}) {
      if (days > 0) let_creep(site, 1, days);
      site.survey(id);
      site.now += 24h * 250;
      days += 250;
    }
    const History history = site.history(2);
    for (const FittedSurvey& each : history.surveys)
      EXPECT_FALSE(each.not_taught) << say::not_taught(site.run, *each.not_taught);
    // What is shown of the third has its creep in it: the middle has sunk against the ends.
    const auto sunk = [](const FittedSurvey& survey) {
      const auto& stations = survey.session->report().stations;
      return stations[stations.size() / 2].height_m -
             (stations.front().height_m + stations.back().height_m) / 2;
    };
    EXPECT_LT(sunk(history.last()), sunk(history.surveys[0]) - 2e-4);
    const Recheck later = site.moved("2", "3");
    EXPECT_NE(later.answer, RecheckAnswer::cannot_tell) << say::reason(site.run, later);
    const Recheck all = site.moved("1", "3");
    ASSERT_EQ(all.trends.size(), 1u);
    EXPECT_TRUE(all.trends[0].goes());
    EXPECT_GT(all.trends[0].value[2], all.trends[0].value[0]);
  }
}

TEST(Recheck, NothingMovedAlarmsAsOftenAsStated) {
  // HANGTRUE_PAIRS=2000 in the environment gives a closer figure.
  const char* const asked = std::getenv("HANGTRUE_PAIRS");
  const int pairs = asked != nullptr ? std::atoi(asked) : trials(300);
  int alarms = 0, told = 0;
  for (int i = 0; i < pairs; ++i) {
    Site site(1000 + unsigned(i));
    site.survey("1");
    site.now += 24h * 365;
    site.survey("2");
    const Recheck recheck = site.moved();
    if (recheck.answer == RecheckAnswer::cannot_tell) continue;
    ++told;
    alarms += recheck.answer != RecheckAnswer::nothing_moved;
  }
  RecordProperty("alarms", alarms);
  std::printf("%d alarms in %d of %d pairs\n", alarms, told, pairs);
  EXPECT_GE(told, pairs * 95 / 100);
  if (!kSharesTell) return;
  // Four standard deviations of a share of so many.
  EXPECT_NEAR(alarms / double(told), 0.05, 4 * std::sqrt(0.05 * 0.95 / told));
}

const std::string kThreeMarks =
    std::string(kMark) +
    "[[mark]]\nname = \"door head\"\nat = \"900 mm\"\n[[mark]]\nname = \"pillar\"\nat = \"4500 mm\"\n";

TEST(Recheck, NamesTheMarksThatMovedAndComparesHeightsByTheOthers) {
  Site site(131, shelf(kSteel) + kThreeMarks);
  site.survey("1");
  site.now += 24h * 365;
  site.kit_state.mark_height_m[0] += 0.004;
  site.kit_state.mark_height_m[2] -= 0.003;
  site.survey("2");
  const Recheck two = site.moved();
  EXPECT_THAT(names(two), testing::UnorderedElementsAre("mark lintel: height", "mark pillar: height"));
  EXPECT_TRUE(two.heights_compared);
  EXPECT_THAT(two.marks, testing::ElementsAre("door head"));
  EXPECT_LT(two.common_sigma_m, 0.001);
  EXPECT_NEAR(two.common_m, 0, 3 * two.common_sigma_m);
  const std::string told = say::reason(site.run, two);
  EXPECT_THAT(told, AllOf(HasSubstr("ark lintel stands higher"), HasSubstr("ark pillar stands lower")));

  site.now += 24h * 365;
  site.kit_state.mark_height_m[1] -= 0.003;
  site.sink("east rod", 0.001);
  site.survey("3");
  const Recheck both = site.moved("2", "3");
  EXPECT_THAT(names(both), testing::UnorderedElementsAre("east rod: rise", "mark door head: height"));
  EXPECT_TRUE(both.heights_compared);
}

// Of a single mark nobody can say that it stood: where it is all that moved, nothing ties the heights.
TEST(Recheck, HeightsAreNotComparedByAMarkThatMoved) {
  Site site(132, shelf(kSteel, true));
  site.survey("1");
  site.now += 24h * 365;
  site.kit_state.mark_height_m[0] += 0.006;
  site.survey("2");
  const Recheck recheck = site.moved();
  EXPECT_THAT(names(recheck), testing::ElementsAre("mark lintel: height"));
  EXPECT_FALSE(recheck.heights_compared);
  EXPECT_THAT(recheck.marks, IsEmpty());
  EXPECT_THAT(say::reason(site.run, recheck), Not(HasSubstr("the run as a whole")));
}

TEST(Recheck, NamesTheSupportThatSank) {
  int found = 0;
  double off = 0;
  constexpr int kTimes = trials(40);
  for (unsigned i = 0; i < kTimes; ++i) {
    Site site(100 + i, shelf(kSteel, true));
    site.survey("1");
    site.now += 24h * 365;
    site.sink("east rod", 0.0005);
    site.survey("2");
    const Recheck recheck = site.moved();
    if (recheck.answer != RecheckAnswer::moved || recheck.causes.empty()) continue;
    const Cause& cause = recheck.causes.front();
    const bool rod =
        cause.change.id == UnknownId{.of = UnknownOf::move_rise, .name = "east rod", .change = true};
    found += rod;
    if (rod) off += (cause.change.change.value + 0.0005) / cause.change.change.sigma;
    EXPECT_TRUE(recheck.heights_compared);
  }
  std::printf("a sink of 0.5 mm named in %d of %d\n", found, kTimes);
  if (!kSharesTell) return;
  EXPECT_GE(found, 34);  // now and then the mark's own noise makes it the bracket that rose
  EXPECT_NEAR(off / found, 0, 0.7);
}

// Warmer by 15 K a rod of 6 m is 1.08 mm longer (EN 1993-1-1, 3.2.6: 12e-6 a kelvin; from memory): no support moved.
TEST(Recheck, WhatTheWarmthOfARodExplainsIsTakenOffFirst) {
  const std::string plain = shelf(kSteel, true);
  const std::string rod = std::regex_replace(plain, std::regex("holds = \"pull\"\n"),
                                             "holds = \"pull\"\nhangs = \"6 m\"\nexpansion = \"12e-6 /K\"\n");
  const auto warmer = [](const std::string& text, double sinks_m, bool read = true) {
    Site site(41, text);
    if (read) site.air_C = 12;
    site.survey("1");
    site.now += 24h * 365;
    site.sink("east rod", 6 * 12e-6 * 15 + sinks_m);
    if (read) site.air_C = 27;
    site.survey("2");
    return site.moved();
  };
  EXPECT_EQ(names(warmer(plain, 0)), std::vector<std::string>{"east rod: rise"});
  const Recheck warm = warmer(rod, 0);
  EXPECT_EQ(warm.answer, RecheckAnswer::nothing_moved);
  const auto told = say::remarks(warm, sheet::Show::metric);
  EXPECT_THAT(told, testing::Contains(AllOf(HasSubstr("12 C then and is 27 C now"),
                                            HasSubstr("east rod: 1.080 mm +- 0.2"), HasSubstr(" lower"))));
  // What is left beside the warmth is told, no surer than the warmth is known.
  const Recheck sank = warmer(rod, 0.003);
  ASSERT_EQ(names(sank), std::vector<std::string>{"east rod: rise"});
  EXPECT_NEAR(sank.causes[0].change.change.value, -0.003, 0.0007);
  EXPECT_GT(sank.causes[0].change.change.sigma, 0.0002);
  // Nobody read a temperature: nothing is taken off, and it says so. 10 K of 6 m are more than a quarter of 2 mm.
  const Recheck unread = warmer(rod, 0, false);
  EXPECT_EQ(names(unread), std::vector<std::string>{"east rod: rise"});
  EXPECT_THAT(say::remarks(unread, sheet::Show::metric),
              testing::Contains(AllOf(HasSubstr("No temperature was read at both times"),
                                      HasSubstr("move east rod by 0.720 mm"))));
}

// Its level is well within 6 mm, but what sank in the middle of it lies under a straight-edge.
TEST(Recheck, AsksForTheStraightEdgeAsWell) {
  const std::string with_edge = std::regex_replace(shelf(kWood, true), std::regex("level = \"2 mm\""),
                                                   "level = \"40 mm\"\nper = \"0.3 mm over 2.4 m\"");
  Site site(43, with_edge);
  site.survey("1");
  site.now += 24h;
  site.survey("2");
  const Recheck recheck = site.moved();
  EXPECT_LT(recheck.level.to_m, 0.04);
  ASSERT_TRUE(recheck.level.straight);
  EXPECT_FALSE(recheck.level.straight->within);
  EXPECT_GT(recheck.level.straight->sigma_m, 0);
  EXPECT_EQ(recheck.level.verdict, ToleranceVerdict::past);
  EXPECT_THAT(say::in_short(site.run, recheck),
              AllOf(HasSubstr("it is level enough. Under a straight-edge of 2400 mm"),
                    HasSubstr("no longer straight enough")));
  EXPECT_THAT(say::remarks(recheck, sheet::Show::metric),
              testing::Contains(HasSubstr("more than the 0.300 mm that the sheet allows")));
  const auto json = json::recheck_json(site.run, recheck);
  EXPECT_EQ(json.at("straightness").at("within"), false);
  EXPECT_EQ(json.at("straightness").at("departure_sigma_m"), recheck.level.straight->sigma_m);
  EXPECT_EQ(json.at("past_tolerance"), true);
}

TEST(Recheck, WithoutAMarkSaysWhichTwoCannotBeToldApart) {
  Site site(7);
  site.survey("1");
  site.now += 24h * 400;
  site.sink("east rod", 0.0012);
  site.survey("2");
  const Recheck recheck = site.moved();
  ASSERT_EQ(names(recheck), std::vector<std::string>{"east rod: rise"}) << say::reason(site.run, recheck);
  EXPECT_FALSE(recheck.heights_compared);
  EXPECT_THAT(say::change_names(recheck.causes[0].or_else), testing::Contains("wall bracket: rise"));
  EXPECT_THAT(say::reason(site.run, recheck), HasSubstr("East rod sank by 1."));
  EXPECT_THAT(say::reason(site.run, recheck), HasSubstr("against the other supports"));
  std::vector<std::string> apart;
  for (const auto& pair : recheck.cannot_be_told_apart) apart.push_back(say::twins(pair));
  EXPECT_THAT(apart, testing::Contains("wall bracket: rise and east rod: rise"));
}

TEST(Recheck, NamesTheBracketThatTurned) {
  Site site(8, shelf(kSteel, true));
  site.survey("1");
  site.now += 24h * 400;
  site.turn("wall bracket", -0.004);
  site.survey("2");
  const Recheck recheck = site.moved();
  ASSERT_EQ(names(recheck), std::vector<std::string>{"wall bracket: pitch"})
      << say::reason(site.run, recheck);
  EXPECT_NEAR(recheck.causes[0].change.change.value, -0.004, 4 * recheck.causes[0].change.change.sigma);
  EXPECT_THAT(say::reason(site.run, recheck), HasSubstr("far side down"));
}

TEST(Recheck, FindsTwoCausesAtOnce) {
  Site site(9, shelf(kSteel, true));
  site.survey("1");
  site.now += 24h * 400;
  site.sink("east rod", 0.002);
  site.state.move[0].roll = 0.0015;
  site.survey("2");
  const Recheck recheck = site.moved();
  EXPECT_THAT(names(recheck), testing::UnorderedElementsAre("east rod: rise", "wall bracket: roll"))
      << say::reason(site.run, recheck);
}

TEST(Recheck, ALargeTurnIsNoSurerThanTheSpringsAre) {
  int far = 0;
  for (unsigned seed = 90; seed < 98; ++seed) {
    Site site(seed, shelf(kSteel, true));
    site.survey("1");
    site.now += 24h * 365;
    site.turn("wall bracket", -0.010);
    site.survey("2");
    const Recheck recheck = site.moved();
    ASSERT_FALSE(recheck.causes.empty()) << say::reason(site.run, recheck);
    EXPECT_EQ(names(recheck)[0], "wall bracket: pitch") << say::reason(site.run, recheck);
    far +=
        std::abs(recheck.causes[0].change.change.value + 0.010) > 3 * recheck.causes[0].change.change.sigma;
  }
  EXPECT_LE(far, 1);
}

TEST(Recheck, AnInstrumentsNewZeroOrATiltedDatumIsNoMovement) {
  int quiet = 0;
  for (unsigned seed : {21u, 22u, 23u, 24u, 25u, 26u}) {
    Site site(seed, shelf(kSteel, true));
    site.survey("1");
    site.now += 24h * 400;
    (seed % 2 == 0 ? site.zero_shift : site.datum_shift) = seed % 2 == 0 ? 2.0 : 3e-4;
    site.survey("2");
    quiet += site.moved().answer == RecheckAnswer::nothing_moved;
  }
  EXPECT_GE(quiet, 5);  // one of six by chance
}

void let_creep(Site& site, double times, double days) {
  static std::vector<beam::Piece<double>> pieces;
  static std::vector<double> storage, share;
  const beam::Run<double> view = site.run.run();
  pieces.resize(beam::CreepForecast<double>::pieces_needed(view));
  storage.resize(beam::CreepForecast<double>::storage_needed(view));
  share.clear();
  for (const sheet::LoadEntry& load : site.run.loads) share.push_back(load.permanent_share);
  auto forecast = std::make_shared<beam::CreepForecast<double>>(
      std::move(beam::CreepForecast<double>::create(view, pieces, storage)).value());
  SolvedRun as_built(site.run);
  ASSERT_TRUE(as_built.solver().solve(site.state));
  ASSERT_TRUE(forecast->solve(site.run.stage("in use"), site.state, share, as_built.solver()));
  const double part = times * change::creep_share(days);
  site.drift = [forecast, part, length = site.run.length_m](const survey::Reading<double>& reading) {
    if (reading.mark >= 0) return 0.0;
    if (reading.channel == Channel::distance) return part * forecast->height(reading.at_m).value;
    if (reading.channel == Channel::roll) return part * reading.face * forecast->roll(reading.at_m).value;
    const double first = std::clamp(reading.at_m - 0.125, 0.0, length - 0.25);
    return part * reading.face * (forecast->height(first + 0.25).value - forecast->height(first).value) /
           0.25;
  };
}

TEST(Recheck, CreepAsPredictedIsSaidToBeSo) {
  for (const auto& [times, verdict] :
       {std::pair{1.0, DriftVerdict::as_expected}, {3.0, DriftVerdict::more}}) {
    Site site(31, shelf(kWood, true));
    site.survey("1");
    site.now += 24h * 365;
    let_creep(site, times, 365);
    site.survey("2");
    const Recheck recheck = site.moved();
    EXPECT_EQ(recheck.drift.verdict, verdict) << say::drift(recheck.drift, site.run.show);
    EXPECT_LT(recheck.drift.sag_m, -2e-4);
    EXPECT_THAT(say::drift_reasons(recheck.drift), Not(IsEmpty()));
    if (times == 1.0) {
      EXPECT_EQ(recheck.answer, RecheckAnswer::nothing_moved) << say::reason(site.run, recheck);
    }
  }
}

TEST(Recheck, AWoodenRunThatDidNotCreepIsSaidToBeLess) {
  Site site(32, shelf(kWood, true));
  site.survey("1");
  site.now += 24h * 365;
  site.survey("2");
  const ExpectedDrift drift = site.moved().drift;
  EXPECT_EQ(drift.verdict, DriftVerdict::less) << say::drift(drift, site.run.show);
}

TEST(Recheck, AtAStageWithOtherKnownLoads) {
  int quiet = 0, named = 0;
  for (const unsigned seed : {51u, 52u, 53u, 54u, 55u, 56u}) {
    Site site(seed, shelf(kSteel, true));
    site.survey("1", "hung");
    site.now += 24h * 365;
    site.survey("2", "in use");
    quiet += site.moved().answer == RecheckAnswer::nothing_moved;
    site.sink("east rod", 0.002);
    site.survey("3", "in use");
    named += names(site.moved("1", "3")) == std::vector<std::string>{"east rod: rise"};
  }
  EXPECT_GE(quiet, 5);  // one of six by chance
  EXPECT_GE(named, 5);
}

TEST(Recheck, FollowsATrendToItsLimit) {
  Site site(34, shelf(kSteel, true));
  for (int year = 0; year < 4; ++year) {
    site.survey(std::to_string(year + 1));
    site.now += 24h * 365;
    site.sink("east rod", 0.0008);
  }
  const Recheck recheck = site.moved("1", "4");
  ASSERT_EQ(recheck.trends.size(), 2u);
  const Trend& rod = recheck.trends[0];
  EXPECT_EQ(rod.surveys.size(), 4u);
  EXPECT_NEAR(rod.per_year, -0.0008, 4 * rod.per_year_sigma);
  EXPECT_LT(rod.p_value, 0.001);
  const Trend& level = recheck.trends[1];
  EXPECT_TRUE(level.limit);
  EXPECT_THAT(say::trend(level, site.run.show),
              testing::AnyOf(HasSubstr("reaches"), HasSubstr("past"), HasSubstr("reached")));
  // Never a date without a band.
  EXPECT_TRUE(!level.reached_to_days || level.reached_from_days);
}

TEST(Recheck, OfReadingsThatContradictSaysWhatTheyMayBe) {
  Site site(99, shelf(kSteel, true));
  site.survey("1");
  site.now += 24h * 365;
  site.never_turned = true;
  site.zero_shift = 3;
  site.survey("2");
  const Recheck recheck = site.moved();
  ASSERT_EQ(recheck.answer, RecheckAnswer::cannot_tell) << say::reason(site.run, recheck);
  const auto* const why = std::get_if<ReadingsContradict>(&recheck.why_not);
  ASSERT_NE(why, nullptr);
  ASSERT_FALSE(why->likely.empty());
  EXPECT_EQ(why->likely[0].kind, MisreadKind::never_turned) << say::reason(site.run, recheck);
  EXPECT_THAT(say::reason(site.run, recheck), HasSubstr("correct the faces"));
}

// The mistake that is likeliest of readings that contradict each other.
Misread likeliest(const Site& site) {
  const Recheck recheck = site.moved();
  const auto* const why = std::get_if<ReadingsContradict>(&recheck.why_not);
  return why == nullptr || why->likely.empty() ? Misread{} : why->likely[0];
}

TEST(Recheck, TellsAScaleThatIsWrongFromOtherMistakes) {
  for (const double times : {3.0, 25.4}) {  // what is less a bow can explain
    Site site(101, shelf(kSteel, true));
    site.survey("1");
    site.now += 24h * 365;
    site.slope_reads = times;
    site.survey("2");
    const Misread found = likeliest(site);
    EXPECT_EQ(found.kind, MisreadKind::scale) << say::reason(site.run, site.moved());
    EXPECT_EQ(found.channel, (ChannelId{"level", Channel::slope}));
    EXPECT_NEAR(found.factor, times, times / 3);  // what moved may take up part of it
    EXPECT_GT(found.weight, 0.5);
    EXPECT_THAT(say::reason(site.run, site.moved()), HasSubstr("times what is there"));
  }
}

TEST(Recheck, TellsALasersSignThatIsWrong) {
  Site site(102, shelf(kSteel, true));
  site.survey("1");
  site.now += 24h * 365;
  site.distance_reads = -1;
  site.survey("2");
  const Misread found = likeliest(site);
  EXPECT_EQ(found.kind, MisreadKind::scale) << say::reason(site.run, site.moved());
  EXPECT_EQ(found.channel, (ChannelId{"laser", Channel::distance}));
  EXPECT_NEAR(found.factor, -1, 0.05);
  EXPECT_THAT(say::reason(site.run, site.moved()), HasSubstr("counts the other way"));
}

TEST(Recheck, ASigmaThatWasTooHopefulIsCuredByAnotherKitSheet) {
  int quiet = 0;
  for (const unsigned seed : {103u, 104u, 105u}) {
    Site site(seed, shelf(kSteel, true));
    site.survey("1");
    site.now += 24h * 365;
    site.scatters = 2;
    site.survey("2");
    const Misread found = likeliest(site);
    EXPECT_TRUE(found.kind == MisreadKind::all_rough || found.kind == MisreadKind::rough)
        << say::reason(site.run, site.moved());
    EXPECT_NEAR(found.factor, 2, 0.5);
    std::string text = kKit;
    for (std::size_t at = 0; (at = text.find("\nsigma = \"0.02", at)) != std::string::npos; ++at)
      text.replace(at, 14, "\nsigma = \"0.04");
    text.replace(text.find("0.3 mm\"\n"), 6, "0.6 mm");
    const sheet::KitSheet kit = *sheet::parse_kit_sheet(text, "rough.toml", site.run).sheet;
    const auto cured = recheck(*site.book, site.run, "1", "2", {}, &kit);
    ASSERT_TRUE(cured.ok());
    EXPECT_NE(cured.value().answer, RecheckAnswer::cannot_tell) << say::reason(site.run, cured.value());
    quiet += cured.value().answer == RecheckAnswer::nothing_moved;
    const std::vector<std::string> remarks = say::remarks(cured.value(), site.run.show);
    EXPECT_THAT(remarks,
                testing::Contains(AllOf(HasSubstr("rough.toml"),
                                        HasSubstr("level slope: sigma 0.040 mm/m instead of 0.020 mm/m"),
                                        HasSubstr("laser distance: sigma 0.600 mm instead of 0.300 mm"))));
  }
  EXPECT_GE(quiet, 2);  // one of twenty by chance
}

TEST(Recheck, ByAnotherKitSheetAWrongSignIsRightAgain) {
  Site site(106, shelf(kSteel, true));
  site.survey("1");
  site.distance_reads = -1;
  site.now += 24h * 365;
  site.survey("2");
  // The later survey's mistake alone: both go by the sheet that is given, so that the earlier one's then contradict.
  const std::string text = kKit + "sign = -1\n";
  const sheet::KitSheet turned = *sheet::parse_kit_sheet(text, "turned.toml", site.run).sheet;
  const auto both = recheck(*site.book, site.run, "1", "2", {}, &turned);
  ASSERT_TRUE(both.ok());
  EXPECT_TRUE(std::holds_alternative<NotTaught>(both.value().why_not));
  const std::string without = kKit.substr(0, kKit.rfind("[[instrument]]"));
  const sheet::KitSheet less = *sheet::parse_kit_sheet(without, "less.toml", site.run).sheet;
  const auto refused = recheck(*site.book, site.run, "1", "2", {}, &less);
  ASSERT_FALSE(refused.ok());
  EXPECT_THAT(say::complaint(site.run, refused.fault()).text(),
              AllOf(HasSubstr("less.toml"), HasSubstr("no laser distance")));
}

TEST(Recheck, FollowsATrendOverManySurveysFromTheFirstToTheLast) {
  Site site(108, shelf(kSteel, true));
  constexpr int kYears = int(kMostSurveys) + 4;
  for (int year = 1; year <= kYears; ++year) {
    site.survey(std::to_string(year));
    site.now += 24h * 365;
    site.sink("east rod", 0.0002);
  }
  const Recheck recheck = site.moved("1", std::to_string(kYears));
  ASSERT_FALSE(recheck.trends.empty()) << say::reason(site.run, recheck);
  for (const Trend& each : recheck.trends) {
    EXPECT_EQ(each.surveys.size(), kMostSurveys);
    EXPECT_EQ(each.surveys.front(), "1");
    EXPECT_EQ(each.surveys.back(), std::to_string(kYears));
    EXPECT_LT(std::stoi(each.surveys[kMostSurveys / 2]), kYears * 2 / 3);  // spread, not the last of them
  }
  EXPECT_NEAR(recheck.trends[0].per_year, -0.0002, 1e-5);  // springs give way to a twentieth of it
}

TEST(History, OfManySurveysBeginsWithTheFirst) {
  Site site(109);
  constexpr int kVisits = int(kMostSurveys) + 3;
  for (int visit = 1; visit <= kVisits; ++visit)
    site.survey(std::to_string(visit), "in use", {0, 1.2, 2.4, 3.9}, 1);
  const History history = site.history(std::size_t(kVisits) - 1);
  EXPECT_EQ(history.surveys.size(), kMostSurveys + 1);
  EXPECT_EQ(history.surveys.front().booked.record.begun.id, "1");
  EXPECT_EQ(history.surveys[1].booked.record.begun.id, std::to_string(kVisits - int(kMostSurveys) + 1));
}

TEST(Recheck, FollowsATrendAcrossStagesWithTheSameSupports) {
  Site site(110, shelf(kSteel, true));
  site.state.move_stage = site.run.stage("hung");
  site.survey("1", "hung");
  for (int year = 1; year <= 3; ++year) {
    site.now += 24h * 365;
    site.sink("east rod", 0.0008);
    site.survey(std::to_string(year + 1), year == 2 ? "hung" : "in use");
  }
  const Recheck recheck = site.moved("1", "4");
  ASSERT_FALSE(recheck.trends.empty()) << say::reason(site.run, recheck);
  const Trend& rod = recheck.trends[0];
  EXPECT_EQ(rod.surveys.size(), 4u);
  EXPECT_NEAR(rod.per_year, -0.0008, 4 * rod.per_year_sigma);
  EXPECT_TRUE(rod.goes_evenly()) << rod.misfit_p;
}

TEST(Recheck, ANewToleranceCountsAndIsSaid) {
  Site site(111, shelf(kSteel, true));
  site.survey("1");
  site.now += 24h * 365;
  site.survey("2");
  std::string text = site.text;
  text.replace(text.find("level = \"2 mm\""), 14, "level = \"50 mm\"");
  const sheet::RunSheet generous = *sheet::parse_run_sheet(text, "generous.toml").sheet;
  const auto compared = recheck(*site.book, generous, "1", "2");
  ASSERT_TRUE(compared.ok());
  EXPECT_EQ(compared.value().level.verdict, ToleranceVerdict::within);
  EXPECT_DOUBLE_EQ(compared.value().tolerance.level_m, 0.05);
  EXPECT_THAT(say::remarks(compared.value(), site.run.show),
              testing::Contains(AllOf(HasSubstr("the one given: 50.00 mm"), HasSubstr("in use"),
                                      HasSubstr("has 2.00 mm"))));
  EXPECT_THAT(say::in_short(site.run, compared.value()), HasSubstr("level enough"));
  text.replace(text.find("50 mm"), 5, "0.05 mm");
  const sheet::RunSheet strict = *sheet::parse_run_sheet(text, "strict.toml").sheet;
  const auto past = recheck(*site.book, strict, "1", "2");
  ASSERT_TRUE(past.ok());
  EXPECT_THAT(say::verdict(past.value()), HasSubstr("past its tolerance"));
  EXPECT_THAT(say::recheck_view(site.run, past.value()),
              AllOf(HasSubstr("PAST ITS TOLERANCE"), HasSubstr("keep people")));
  EXPECT_GT(past.value().level.from_sigma_m, 0);
}

TEST(Recheck, ARehearsalsClockIsSaidBesideItsDates) {
  Site site(112);
  site.survey("1");
  site.now += 24h * 365;
  site.survey("2");
  const book::Number later = site.book->surveys().value()[1].number;
  ASSERT_TRUE(site.book->append(book::Entry{book::Note{rehearsed_clock_note("365 days")}, later}).ok());
  const Recheck recheck = site.moved();
  EXPECT_EQ(recheck.from_clock, "");
  EXPECT_EQ(recheck.to_clock, "365 days");
  EXPECT_THAT(unfolded(say::recheck_view(site.run, recheck)), HasSubstr("clock 365 days"));
  EXPECT_FALSE(rehearsed_clock("A note of somebody."));
}

TEST(Recheck, MovesOfACardThatWasReadyToBoltNeedNoMark) {
  for (const auto& [answer, says] : {std::pair{"ready to bolt", false}, {"shim first", true}}) {
    Site site(113);
    site.survey("1");
    const book::Number begun = site.book->surveys().value()[0].number;
    const std::string json =
        std::string(R"({"hold_point": ")") + answer + R"(", "moves": [{"order": 1, "support": "east rod"}]})";
    ASSERT_TRUE(site.book->append(book::Entry{book::Card{json}, begun}).ok());
    site.appended(1);
    site.now += 24h * 365;
    site.survey("2");
    const std::vector<std::string> remarks = say::remarks(site.moved(), site.run.show);
    EXPECT_EQ(
        std::any_of(remarks.begin(), remarks.end(),
                    [](const std::string& each) { return each.find("nobody marked") != std::string::npos; }),
        says)
        << answer;
  }
}

TEST(Recheck, SupportsThatAreNotEngagedAreNotDrawnAsIfTheyWere) {
  Site site(114);
  site.survey("1");
  site.now += 24h * 365;
  site.survey("2");
  Recheck recheck = site.moved();
  EXPECT_THAT(unfolded(say::recheck_view(site.run, recheck)), HasSubstr("B east rod."));
  recheck.hang_free = {"east rod"};
  EXPECT_THAT(unfolded(say::recheck_view(site.run, recheck)), HasSubstr("b east rod (not engaged)."));
}

TEST(Recheck, SaysWhatWasNotReadAndWhatCouldHide) {
  Site site(100);
  site.survey("1");
  site.now += 24h * 365;
  site.survey("2", "in use", {0, 0.3, 0.6, 0.9, 1.2});
  const Recheck recheck = site.moved();
  EXPECT_EQ(recheck.level.verdict, ToleranceVerdict::cannot_tell)
      << recheck.level.to_m << " +- " << recheck.level.to_sigma_m << ' ' << recheck.level.chance_within;
  EXPECT_EQ(recheck.unseen.places_not_read, int(site.run.stations_m.size()) - 5);
  EXPECT_TRUE(recheck.unseen.no_mark);
  const std::string view = say::recheck_view(site.run, recheck);
  EXPECT_THAT(view, HasSubstr("read nothing between 1200 mm"));
  EXPECT_THAT(say::reason(site.run, recheck), HasSubstr("could have stayed unseen"));
}

TEST(Recheck, RefusesWhatCannotBeCompared) {
  Site site(41);
  site.survey("1");
  site.survey("2");
  EXPECT_THAT(site.refused("1", "1"), HasSubstr("the survey of --from itself"));
  EXPECT_THAT(site.refused("2", "1"), HasSubstr("--from 1 --to 2"));
  EXPECT_THAT(site.refused("1", "9"), HasSubstr("a survey of the book: 1, 2"));
  site.survey("3", "in use", {0.3, 0.6});
  EXPECT_THAT(site.refused("1", "3"), HasSubstr("at 2 places: 300 mm, 600 mm"));
  // Another run, and a sheet given that is another.
  std::string other = site.text;
  other.replace(other.find("3900 mm\"\nrise"), 7, "3700 mm");
  const sheet::RunSheet changed = *sheet::parse_run_sheet(other, "other.toml").sheet;
  const auto refused = job::recheck(*site.book, changed, "1", "2");
  ASSERT_FALSE(refused.ok());
  const std::string text = say::complaint(changed, refused.fault()).text();
  EXPECT_THAT(text, HasSubstr("east rod"));
  EXPECT_THAT(text, HasSubstr("other.toml"));
}

TEST(Recheck, RefusesMovesThatWereMadeInBetween) {
  Site site(42);
  site.survey("1");
  const book::Number begun = site.book->surveys().value()[0].number;
  const std::string json = R"({"moves": [{"order": 1, "support": "east rod"}]})";
  const auto card = site.book->append(book::Entry{book::Card{json}, begun});
  ASSERT_TRUE(card.ok()) << card.fault().says;
  ASSERT_TRUE(site.book->append(book::Entry{book::MoveMade{card.value(), 1, "east rod", true}, begun}).ok());
  site.appended(2);
  site.survey("2");
  site.survey("3");
  EXPECT_THAT(site.refused("1", "3"), HasSubstr("moves made after its readings, by its card: east rod"));
  EXPECT_TRUE(site.compare("2", "3").ok());
}

TEST(Recheck, JsonAndWordsSayTheSame) {
  Site site(43, shelf(kSteel, true));
  site.survey("1");
  site.now += 24h * 365;
  site.sink("east rod", 0.001);
  site.survey("2");
  const Recheck recheck = site.moved();
  const nlohmann::json sent = nlohmann::json::parse(json::recheck_json(site.run, recheck).dump());
  EXPECT_EQ(sent.at("answer"), "moved");
  EXPECT_EQ(sent.at("causes")[0].at("name"), "east rod: rise");
  EXPECT_EQ(sent.at("marks"), std::vector<std::string>{"lintel"});
  EXPECT_EQ(sent.at("stations").size(), site.run.stations_m.size());
  // The rod's end sank by what was named.
  const auto& last = sent.at("stations").back();
  EXPECT_NEAR(last.at("change_m").get<double>(), -0.001, 3 * last.at("change_sigma_m").get<double>());
  EXPECT_LT(last.at("change_sigma_m").get<double>(), 6e-4);
  const std::string view = say::recheck_view(site.run, recheck);
  EXPECT_THAT(view, HasSubstr("What moved?  MOVED"));
  EXPECT_THAT(view, HasSubstr("lintel"));
  for (std::size_t begin = 0; begin < view.size();) {
    const std::size_t end = view.find('\n', begin);
    EXPECT_LE(end - begin, 80u) << view.substr(begin, end - begin);
    begin = end + 1;
  }
}

}  // namespace
}  // namespace hangtrue::job
