// The drawing of what is predicted: what lies where in it, at 80 columns, in both systems of units. All invented.
#include "firmware-host/say/predict.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <sstream>
#include <string>
#include <vector>

#include "firmware-host/say/table.hpp"

namespace hangtrue::say {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;

// A bar of 4 m on two supports with a weight in the middle, which sinks there by W L^3 / 48 EI: 8 mm of 120 N.
std::vector<std::string> drawn(const std::string& show, const std::string& across, std::string& whole) {
  const auto read = sheet::parse_run_sheet(
      "title = \"bar\"\nshow = \"" + show +
          "\"\nlength = \"4 m\"\nwidth = \"400 mm\"\nstations = { every = \"500 mm\" }\n[tolerance]\nlevel = "
          "\"4.8 mm\"\nstage = \"loaded\"\n[[member]]\nname = \"bar\"\nfrom = \"0 m\"\nto = \"4 m\"\nsection "
          "= { shape = \"given\", "
          "EI = \"20 kN m2\", GJ = \"2 kN m2\", GA = \"1e12 N\", weight_per_length = \"0.001 N/m\" "
          "}\n[[load]]\nname = "
          "\"weight\"\nat = \"2 m\"\nweight = \"120 N\"\nacross = \"" +
          across +
          "\"\n[[support]]\nname = \"near\"\nat = \"0 m\"\nrise = \"rigid\"\npitch = \"free\"\nroll = "
          "\"rigid\"\n[[support]]\nname = \"far\"\nat = \"4 m\"\nrise = \"rigid\"\npitch = \"free\"\nroll = "
          "\"rigid\"\n[[stage]]\nname = \"bare\"\nsupports = [\"near\", \"far\"]\nloads = "
          "[\"bar\"]\n[[stage]]\nname = "
          "\"loaded\"\nsupports = [\"near\", \"far\"]\nloads = [\"bar\", \"weight\"]\n",
      "bar.toml");
  EXPECT_TRUE(read.sheet) << sheet::text(read.complaints);
  job::SolvedRun solved(*read.sheet);
  const job::FinishedLevel level = job::finished_level(*read.sheet, solved.solver());
  whole = prediction_view(*read.sheet, solved.solver(), level, nullptr);
  std::vector<std::string> rows;
  std::istringstream lines(whole);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(line.size(), kColumns) << line;
    if (line.size() > 15 && line[15] == '|') rows.push_back(line);
  }
  return rows;
}

TEST(Prediction, IsDrawnWithItsHighestAndLowestPointAndTheTolerance) {
  std::string whole, again;
  const std::vector<std::string> rows = drawn("metric", "0 mm", whole);
  ASSERT_EQ(rows.size(), 11u);
  EXPECT_THAT(rows[0], HasSubstr(" 0.000 mm |^"));
  EXPECT_THAT(rows[10], HasSubstr("-8.000 mm |"));
  EXPECT_EQ(rows[10].find('v'), 16u + 31u) << "in the middle of 62 columns";
  // 4.8 mm about the middle, -4 mm: 2 and 8 rows down of ten, each 0.8 mm.
  EXPECT_THAT(rows[2], HasSubstr("-1.600 mm |- - ##- - - - "));
  EXPECT_THAT(rows[8], HasSubstr("-6.400 mm |- - - - - "));
  EXPECT_THAT(rows[4], HasSubstr("              |  "));
  EXPECT_THAT(whole, HasSubstr("+A------"));
  EXPECT_THAT(whole, AllOf(HasSubstr("^ highest point."), HasSubstr("v lowest point.")));
  EXPECT_THAT(whole, HasSubstr("- - the tolerance of 4.800 mm, about the middle of these two."));
  EXPECT_THAT(whole, Not(HasSubstr("its right edge"))) << "it does not twist";
  EXPECT_EQ(drawn("metric", "0 mm", again), rows);
  EXPECT_EQ(whole, again);
}

// 120 N at 150 mm beside the middle turn it there by T L / 4 GJ: 9 mrad, 1.8 mm at either edge.
TEST(Prediction, DrawsBothEdgesWhereItTwists) {
  std::string whole;
  const std::vector<std::string> rows = drawn("metric", "150 mm", whole);
  ASSERT_EQ(rows.size(), 11u);
  EXPECT_THAT(rows[10], HasSubstr("-9.800 mm |"));
  EXPECT_THAT(rows[10], HasSubstr("v"));
  EXPECT_THAT(whole, AllOf(HasSubstr("( its left edge."), HasSubstr(") its right edge.")));
  int left = 0, right = 0;
  for (const std::string& row : rows) {
    left += int(std::count(row.begin(), row.end(), '('));
    right += int(std::count(row.begin(), row.end(), ')'));
  }
  EXPECT_GT(left, 20);
  EXPECT_GT(right, 20);
}

TEST(Prediction, IsDrawnInInchesToo) {
  std::string whole;
  const std::vector<std::string> rows = drawn("imperial", "0 mm", whole);
  ASSERT_EQ(rows.size(), 11u);
  EXPECT_THAT(rows[10], HasSubstr("-0.315 in |"));  // 8 mm
  EXPECT_THAT(rows[2], HasSubstr("-0.063 in |- - "));
  EXPECT_THAT(whole, HasSubstr("the tolerance of 0.189 in"));
}

}  // namespace
}  // namespace hangtrue::say
