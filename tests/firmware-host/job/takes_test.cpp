// Which readings are one take.
#include "firmware-host/job/takes.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace hangtrue::job {
namespace {

using ::testing::ElementsAre;

book::BookedReading slope(book::Number number, double at_m, int face) {
  book::BookedReading booked;
  booked.number = number;
  booked.reading.instrument = "level";
  booked.reading.channel = Channel::slope;
  booked.reading.at_m = at_m;
  booked.reading.face = face;
  return booked;
}

book::BookedReading distance(book::Number number, double at_m, const std::string& set_up) {
  book::BookedReading booked = slope(number, at_m, 1);
  booked.reading.instrument = "laser";
  booked.reading.channel = Channel::distance;
  booked.reading.set_up = set_up;
  return booked;
}

TEST(TakesOf, AllChannelsOnBothFacesAtOnePlaceAreOneTake) {
  const std::vector<book::BookedReading> booked{slope(3, 0.7, 1),  distance(4, 0.7, "1"),
                                                slope(6, 0.7, -1), distance(7, 0.7, "1"),
                                                slope(9, 1.4, -1), slope(11, 1.4, 1)};
  EXPECT_THAT(takes_of(booked), ElementsAre(ElementsAre(0, 1, 2, 3), ElementsAre(4, 5)));
  EXPECT_TRUE(takes_of({}).empty());
}

TEST(TakesOf, AFaceThatIsReadAgainBeginsAnother) {
  EXPECT_THAT(takes_of(std::vector{slope(3, 0.7, 1), slope(5, 0.7, -1), slope(7, 0.7, -1)}),
              ElementsAre(ElementsAre(0, 1), ElementsAre(2)));
  EXPECT_THAT(takes_of(std::vector{slope(3, 0.7, 1), slope(5, 0.7, 1)}),
              ElementsAre(ElementsAre(0), ElementsAre(1)));
}

TEST(TakesOf, AnotherPlaceEdgeOrSetUpBeginsAnother) {
  EXPECT_EQ(takes_of(std::vector{slope(3, 0.7, 1), slope(5, 1.4, -1)}).size(), 2u);
  std::vector edges{slope(3, 0.7, 1), slope(5, 0.7, -1)};
  edges[1].reading.edge = survey::Edge::left;
  EXPECT_EQ(takes_of(edges).size(), 2u);
  EXPECT_EQ(
      takes_of(std::vector{slope(3, 0.7, 1), distance(4, 0.7, "1"), slope(6, 0.7, -1), distance(7, 0.7, "2")})
          .size(),
      2u);
  EXPECT_EQ(takes_of(std::vector{distance(3, 0.7, "1"), distance(5, 0.7, "1")}).size(), 2u)
      << "a distance has no face that would tell a second reading from a second take";
}

}  // namespace
}  // namespace hangtrue::job
