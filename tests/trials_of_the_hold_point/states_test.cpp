// The states of the trials: what is drawn is what is said, and readings are what the instruments would give.
#include "tests/trials_of_the_hold_point/states.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "core/survey/observation.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "tests/trials.hpp"

namespace hangtrue::hold_trials {
namespace {

const std::vector<Ground>& grounds() {
  static const std::vector<Ground> all = [] {
    std::vector<Ground> made;
    made.reserve(trial_sheets().size());
    for (const TrialSheet& each : trial_sheets()) made.emplace_back(each);
    return made;
  }();
  return all;
}

// Each reading less what the core's own model of the instruments gives for the truth, in sigmas.
std::vector<double> residuals(const Ground& ground, const State& state) {
  job::SolvedRun mechanics(ground.run);
  EXPECT_TRUE(mechanics.solver().solve(state.truth.state));
  const survey::Scene<double> scene{&mechanics.solver(), state.stage, ground.run.length_m,
                                    ground.run.width_m};
  std::vector<double> result;
  for (const sheet::ReadingEntry& entry : state.readings) {
    survey::Reading<double> reading;
    reading.channel = entry.channel;
    reading.edge = entry.edge;
    reading.face = std::int8_t(entry.face);
    reading.at_m = entry.at_m;
    reading.base_m = entry.base_m;
    reading.zero = 0;
    survey::KitState<double> kit;
    for (const TrueZero& zero : state.zeros)
      if (zero.instrument == entry.instrument && zero.channel == entry.channel) kit.zero[0] = zero.zero;
    for (const TrueDatum& datum : state.datums)
      if (datum.set_up == entry.set_up) {
        reading.set_up = 0;
        kit.datum_height_m[0] = datum.height_m;
        kit.datum_tilt_rad[0] = datum.tilt_rad;
      }
    result.push_back((entry.value - survey::predicted(scene, reading, kit)) / entry.sigma);
  }
  return result;
}

double mean_square(const std::vector<double>& of) {
  double sum = 0;
  for (const double each : of) sum += each * each;
  return sum / double(of.size());
}

int beyond(const std::vector<double>& of, double sigmas) {
  int count = 0;
  for (const double each : of) count += std::abs(each) > sigmas ? 1 : 0;
  return count;
}

bool several(const State& state) {
  for (const StageShape& shape : state.shapes)
    if (shape.equilibria > 1) return true;
  return false;
}

TEST(StatesOfTheTrials, SameSeedDrawsTheSameState) {
  for (const Kind kind : {Kind::level, Kind::slip_late, Kind::strays_together}) {
    const auto one = draw(grounds()[1], kind, 5), same = draw(grounds()[1], kind, 5),
               other = draw(grounds()[1], kind, 6);
    ASSERT_TRUE(one && same && other);
    EXPECT_EQ(one->readings.back().value, same->readings.back().value);
    EXPECT_NE(one->readings.back().value, other->readings.back().value);
  }
}

TEST(StatesOfTheTrials, EveryKindIsDrawnOnSomeSheet) {
  for (int k = 0; k < kKinds; ++k) {
    int drawn = 0;
    for (const Ground& ground : grounds()) drawn += draw(ground, Kind(k), 3) ? 1 : 0;
    EXPECT_GE(drawn, 4) << name(Kind(k));
  }
}

TEST(StatesOfTheTrials, RightReadingsAreTheTruthAndItsNoise) {
  double sum = 0;
  int states = 0;
  std::uint64_t seed = 11;  // another for each, or their noise is alike
  for (const Ground& ground : grounds())
    for (const Kind kind : {Kind::level, Kind::unlevel, Kind::unlevel_early, Kind::not_closed}) {
      const auto state = draw(ground, kind, seed++);
      ASSERT_TRUE(state) << ground.sheet.name;
      if (several(*state)) continue;
      const auto off = residuals(ground, *state);
      EXPECT_EQ(beyond(off, 5), 0) << ground.sheet.name << ", " << name(kind);
      sum += mean_square(off);
      ++states;
    }
  ASSERT_GT(states, 30);
  EXPECT_NEAR(sum / states, 1, 0.06);  // some 3,000 readings: sigma of their mean square 0.03
}

TEST(StatesOfTheTrials, LevelRunsAreLevelAndHangOnAllTheirSupports) {
  for (const Ground& ground : grounds()) {
    const auto state = draw(ground, Kind::level, 2);
    ASSERT_TRUE(state) << ground.sheet.name;
    EXPECT_LT(level_error(ground.dense, state->shapes.back(), ground.run.stations_m, ground.run.width_m),
              0.6 * ground.run.tolerance.level_m);
    for (int s = state->stage; s <= ground.finished; ++s)
      EXPECT_EQ(state->shapes[std::size_t(s)].bearing, ground.view.stages[std::size_t(s)].supports);
  }
}

TEST(StatesOfTheTrials, SlipShowsInAllReadingsBeforeItAndInNoneAfterIt) {
  const Ground& ground = grounds()[0];
  int seen = 0;
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    const auto state = draw(ground, Kind::slip_late, seed);
    ASSERT_TRUE(state);
    if (several(*state)) continue;
    const auto off = residuals(ground, *state);
    const std::size_t half = off.size() / 3;
    const std::vector<double> first(off.begin(), off.begin() + std::ptrdiff_t(half)),
        closing(off.end() - 12, off.end());
    seen += beyond(first, 5) > 0 ? 1 : 0;
    EXPECT_EQ(beyond(closing, 5), 0) << seed;
  }
  EXPECT_GE(seen, 6);  // the smallest hide in the noise
}

TEST(StatesOfTheTrials, EachMistakeSpoilsTheReadingsThatItIsAbout) {
  const Ground& ground = grounds()[1];  // with a laser
  const auto spoilt = [&](Kind kind, std::uint64_t seed) {
    const auto state = draw(ground, kind, seed);
    EXPECT_TRUE(state) << name(kind);
    return beyond(residuals(ground, *state), 5);
  };
  int knocked = 0;
  for (std::uint64_t seed = 1; seed <= 8; ++seed) {
    EXPECT_LE(spoilt(Kind::one_stray, seed), 1);
    EXPECT_LE(spoilt(Kind::stop_misplaced, seed),
              4 + 4 + 8 + 4);  // both walks of the inclinometer, two set-ups
    EXPECT_LE(spoilt(Kind::face_of_one, seed), 1);
    knocked += spoilt(Kind::datum_knocked, seed) > 0 ? 1 : 0;
    EXPECT_GT(spoilt(Kind::takes_degrees, seed), 10);
    EXPECT_GT(spoilt(Kind::from_other_end, seed), 10);
  }
  EXPECT_GE(knocked, 5);
}

}  // namespace
}  // namespace hangtrue::hold_trials
