#include "firmware-host/daemon/clock_watch.hpp"

#include <gtest/gtest.h>

namespace hangtrue::daemon {
namespace {

using namespace std::chrono_literals;
using Wall = std::chrono::system_clock::time_point;
using Monotonic = std::chrono::steady_clock::time_point;

TEST(ClockWatch, SeesAStepOfTheWallClockOnceAndWithItsSign) {
  ClockWatch watch;
  EXPECT_EQ(watch.look(Wall(1000s), Monotonic(50s)), std::nullopt) << "the first look knows no former one";
  EXPECT_EQ(watch.look(Wall(1000s + 250ms), Monotonic(50s + 250ms)), std::nullopt);
  EXPECT_EQ(watch.look(Wall(4600s + 500ms), Monotonic(50s + 500ms)), 3600.0);
  EXPECT_EQ(watch.look(Wall(4600s + 750ms), Monotonic(50s + 750ms)), std::nullopt);
  EXPECT_EQ(watch.look(Wall(4591s), Monotonic(51s)), -10.0);
}

TEST(ClockWatch, TakesNeitherDriftNorAPauseForAJump) {
  ClockWatch watch;
  EXPECT_EQ(watch.look(Wall(0s), Monotonic(0s)), std::nullopt);
  EXPECT_EQ(watch.look(Wall(3600s), Monotonic(3600s)), std::nullopt) << "a long pause moves both";
  EXPECT_EQ(watch.look(Wall(7200s + 1800ms), Monotonic(7200s)), std::nullopt) << "500 ppm over an hour";
  EXPECT_EQ(watch.look(Wall(7202s + 1800ms), Monotonic(7200s)), 2.0);
}

}  // namespace
}  // namespace hangtrue::daemon
