// Doubts that a person settles by a word: at which end the places of a walk begin.
#include "firmware-host/job/doubts.hpp"

#include <gtest/gtest.h>

#include "firmware-host/say/doubts.hpp"
#include "tests/firmware-host/fixtures/shelf.hpp"

namespace hangtrue::job {
namespace {

std::optional<ReadFromOtherEnd> start_doubt(const std::vector<sheet::ReadingEntry>& readings,
                                            const std::optional<std::string>& told) {
  SurveyFit survey(fixtures::shelf(), nullptr, 0);
  for (const sheet::ReadingEntry& entry : readings) survey.add(entry);
  if (told) survey.take_start(*told);
  EXPECT_TRUE(survey.fit());
  const auto doubts = find_doubts(survey, 1e-3);
  EXPECT_TRUE(doubts);
  for (const Doubt& doubt : doubts.value())
    if (const auto* const found = std::get_if<ReadFromOtherEnd>(&doubt)) return *found;
  return std::nullopt;
}

// One reading in the middle is the same from either end.
std::vector<sheet::ReadingEntry> from_the_middle() {
  std::vector<sheet::ReadingEntry> readings = fixtures::tilted_readings(fixtures::shelf());
  readings.resize(1);
  readings.front().at_m = fixtures::shelf().length_m / 2;
  readings.front().value = 0;
  return readings;
}

TEST(StartOfAWalk, ThatNobodyToldIsAskedForWhereTheReadingsLeaveItOpen) {
  const auto asked = start_doubt(from_the_middle(), "");
  ASSERT_TRUE(asked);
  EXPECT_EQ(asked->why, StartDoubt::nobody_said);
  EXPECT_EQ(asked->support, "wall bracket");
  EXPECT_FALSE(against_moves(*asked)) << "moves can be made again";
  EXPECT_NE(say::next_words(fixtures::shelf(), *asked).find("\"start at wall bracket\""), std::string::npos);
}

TEST(StartOfAWalk, ToldIsTakenAtItsWordOrIsADoubtWhereItIsTheRunsEnd) {
  EXPECT_FALSE(start_doubt(from_the_middle(), "wall bracket"));
  const auto far = start_doubt(from_the_middle(), "east rod");
  ASSERT_TRUE(far);
  EXPECT_EQ(far->why, StartDoubt::told);
  EXPECT_TRUE(against_moves(*far));
}

TEST(StartOfAWalk, IsNotAskedForOfPlacesInAReadingsFile) {
  EXPECT_FALSE(start_doubt(from_the_middle(), std::nullopt));
}

}  // namespace
}  // namespace hangtrue::job
