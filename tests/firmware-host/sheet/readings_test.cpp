#include "firmware-host/sheet/readings.hpp"

#include <gtest/gtest.h>

#include <random>
#include <sstream>

#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::sheet {
namespace {

const std::string kHeader = "time,set_up,instrument,channel,at,face,edge,value,unit,sigma\n";

const RunSheet& run() {
  static const RunSheet sheet = *parse_run_sheet(kExample, "shelf.toml").sheet;
  return sheet;
}
ReadingsOrComplaints parsed(const std::string& rows) {
  return parse_readings(kHeader + rows, "r.csv", run(), nullptr);
}

TEST(Readings, OfEveryChannelComeOutInSi) {
  const auto read = parsed(
      ",,level,slope,300 mm,1,,1.5,mm/m,0.02\n"
      ",,level,roll,300 mm,-1,left,0.012,in/ft,0.0012\n"
      ",A,laser,distance,1 ft,,right,2.5,in,0.01\n");
  ASSERT_TRUE(read.entries) << text(read.complaints);
  const auto& entries = *read.entries;
  EXPECT_DOUBLE_EQ(entries[0].value, 0.0015);
  EXPECT_DOUBLE_EQ(entries[0].sigma, 0.00002);
  EXPECT_EQ(entries[1].face, -1);
  EXPECT_EQ(entries[1].edge, survey::Edge::left);
  EXPECT_NEAR(entries[1].value, 0.001, 1e-15);
  EXPECT_NEAR(entries[2].value, 0.0635, 1e-15);
  EXPECT_NEAR(entries[2].at_m, 0.3048, 1e-15);
  const Survey survey = make_survey(entries, nullptr);
  EXPECT_EQ(survey.set_ups, std::vector<std::string>{"A"});
  EXPECT_EQ(survey.readings[2].set_up, 0);
}

TEST(Readings, SayRowAndColumnOfWhatIsWrong) {
  for (const char* row :
       {",,a,slope,9 m,1,,1,mm/m,0.02", ",,a,slope,0 mm,1,,nan,mm/m,0.02", ",,a,slope,0 mm,2,,1,mm/m,0.02",
        ",,a,height,0 mm,1,,1,mm/m,0.02", ",,a,slope,0 mm,1,top,1,mm/m,0.02", ",,a,slope,0 mm,1,,1,mm,0.02",
        ",,a,slope,0 mm,1,,1,mm/m,", ",,a,slope,0 mm,1,,1,mm/m,-1", ",,a,slope,0 mm,1,,,mm/m,0.02",
        ",,a,slope,0 mm,1,,1,mm/m,1e-300", ",,a,slope,0 mm,1,,1e9,mm/m,0.02",
        "yesterday,,a,slope,0 mm,1,,1,mm/m,0.02", "2026-11-25T25:00:00Z,,a,slope,0 mm,1,,1,mm/m,0.02",
        ",,\xE9,slope,0 mm,1,,1,mm/m,0.02", ",,a,slope"}) {
    const auto read = parsed(std::string(",,a,slope,0 mm,1,,1,mm/m,0.02\n") + row + '\n');
    EXPECT_FALSE(read.entries) << row;
    ASSERT_FALSE(read.complaints.empty()) << row;
    EXPECT_EQ(read.complaints[0].line, 3) << row;
  }
}

TEST(Readings, ThatAreNoneAreNoSurvey) {
  EXPECT_FALSE(parsed("").entries);
  EXPECT_FALSE(parse_readings("", "r.csv", run(), nullptr).entries);
  EXPECT_FALSE(parse_readings("\xEF\xBB\xBF", "r.csv", run(), nullptr).entries);  // a byte order mark alone
  EXPECT_FALSE(parse_readings("a,b\n1,2\n", "r.csv", run(), nullptr).entries);
}

TEST(Readings, WrittenOutComeBackTheSame) {
  const auto read = parsed(
      ",,\"level, the \"\"old\"\" one\",slope,300 "
      "mm,-1,left,1.2345678901234,mm/m,0.02\n,A,laser,distance,600 mm,1,,1.25,m,0.0003\n");
  ASSERT_TRUE(read.entries) << text(read.complaints);
  std::ostringstream out;
  write_readings(out, *read.entries);
  const auto again = parse_readings(out.str(), "again.csv", run(), nullptr);
  ASSERT_TRUE(again.entries) << text(again.complaints) << out.str();
  for (std::size_t i = 0; i < read.entries->size(); ++i) {
    EXPECT_EQ((*again.entries)[i].value, (*read.entries)[i].value);
    EXPECT_EQ((*again.entries)[i].instrument, (*read.entries)[i].instrument);
    EXPECT_EQ((*again.entries)[i].at_m, (*read.entries)[i].at_m);
  }
}

TEST(Readings, RandomBytesAreRefusedWithWords) {
  std::mt19937 random(5);
  for (int round = 0; round < 200; ++round) {
    std::string bytes(std::size_t(random() % 400), ' ');
    for (char& byte : bytes) byte = char(random() % 256);
    const auto read = parsed(bytes);
    EXPECT_NE(read.entries.has_value(), !read.complaints.empty());
  }
}

}  // namespace
}  // namespace hangtrue::sheet
