// How far a walk by a plan has come.
#include "firmware-host/job/walk_progress.hpp"

#include <gtest/gtest.h>

#include "tests/firmware-host/job/kit.hpp"

namespace hangtrue::job {
namespace {

PlanStop stop(double at_m) {
  PlanStop stop;
  stop.at_m = at_m;
  stop.instrument = "level";
  stop.channels = {Channel::slope, Channel::roll};
  stop.both_faces = true;
  return stop;
}

Plan two_places_and_the_first_again() {
  Plan plan;
  plan.walk = {stop(0), stop(2.1)};
  plan.closing = {stop(0)};
  return plan;
}

void read(std::vector<sheet::ReadingEntry>& kept, double at_m, int face,
          survey::Edge edge = survey::Edge::middle) {
  for (const Channel channel : {Channel::slope, Channel::roll}) {
    sheet::ReadingEntry reading;
    reading.instrument = "level";
    reading.channel = channel;
    reading.at_m = at_m;
    reading.face = face;
    reading.edge = edge;
    kept.push_back(reading);
  }
}

TEST(WalkProgress, GoesFromPlaceToPlaceAndReadsTheClosingAnew) {
  const Plan plan = two_places_and_the_first_again();
  std::vector<sheet::ReadingEntry> kept;
  EXPECT_EQ(walk_progress(plan, kept).stops, 3);
  read(kept, 0, 1);
  EXPECT_EQ(walk_progress(plan, kept).read, 0) << "one face alone";
  EXPECT_EQ(walk_progress(plan, kept).next->at_m, 0);
  read(kept, 0, -1);
  EXPECT_EQ(walk_progress(plan, kept).read, 1);
  EXPECT_EQ(walk_progress(plan, kept).next->at_m, 2.1);
  for (const int face : {1, -1}) read(kept, 2.1, face);
  EXPECT_EQ(walk_progress(plan, kept).next->at_m, 0) << "to close the walk";
  for (const int face : {1, -1}) read(kept, 0, face);
  EXPECT_EQ(walk_progress(plan, kept).read, 3);
  EXPECT_FALSE(walk_progress(plan, kept).next);
}

TEST(WalkProgress, AnotherEdgeAndWhatStaysDoNotCount) {
  Plan plan = two_places_and_the_first_again();
  plan.walk[1].stays = true;
  std::vector<sheet::ReadingEntry> kept;
  for (const int face : {1, -1}) read(kept, 0, face, survey::Edge::left);
  EXPECT_EQ(walk_progress(plan, kept).stops, 2);
  EXPECT_EQ(walk_progress(plan, kept).read, 0);
}

// Invented: a single slope reading tells nothing that another would check.
TEST(EnoughRead, IsNotAtTheFirstReadings) {
  SurveyFit survey(run(), &kit(), 0);
  ASSERT_TRUE(survey.fit());
  EXPECT_FALSE(enough_read(survey.report(), make_card(survey).value())) << "nothing is read";
  std::vector<sheet::ReadingEntry> kept;
  for (const int face : {1, -1}) read(kept, 0, face);
  for (sheet::ReadingEntry& each : kept) {
    each.sigma = kSlopeSigma;
    survey.add(each);
  }
  ASSERT_TRUE(survey.fit());
  EXPECT_FALSE(enough_read(survey.report(), make_card(survey).value()));
}

}  // namespace
}  // namespace hangtrue::job
