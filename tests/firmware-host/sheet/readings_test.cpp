#include "firmware-host/sheet/readings.hpp"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <filesystem>
#include <random>
#include <sstream>
#include <thread>
#include <tuple>

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

// One more column may follow, of what the air was like.
TEST(Readings, MayHaveTheirTemperature) {
  const std::string header = "time,set_up,instrument,channel,at,face,edge,value,unit,sigma,temperature\n";
  const auto with = [&](const std::string& temperature) {
    return parse_readings(header + ",,level,slope,300 mm,1,,1.5,mm/m,0.02," + temperature + "\n", "r.csv",
                          run(), nullptr);
  };
  EXPECT_DOUBLE_EQ(with("18.5 C").entries->at(0).temperature_C.value(), 18.5);
  EXPECT_NEAR(with("65.3 F").entries->at(0).temperature_C.value(), 18.5, 1e-12);
  EXPECT_FALSE(with("").entries->at(0).temperature_C);
  for (const char* wrong : {"18.5", "warm", "90 C", "-60 C", "5 mm"}) {
    const auto read = with(wrong);
    ASSERT_EQ(read.complaints.size(), 1u) << wrong;
    EXPECT_EQ(read.complaints[0].key, "row 1 column temperature");
  }
  std::ostringstream out;
  write_readings(out, *with("18.5 C").entries);
  const auto again = parse_readings(out.str(), "r.csv", run(), nullptr);
  ASSERT_TRUE(again.entries) << text(again.complaints);
  EXPECT_EQ(again.entries->at(0).temperature_C, 18.5);
  std::ostringstream plain;
  write_readings(plain, *with("").entries);
  EXPECT_EQ(plain.str().find("temperature"), std::string::npos);
  for (const auto& [more, says] :
       {std::pair{"temp", "\"temp\" as column 11"}, {"temperature,remark", "\"remark\" as column 12"}}) {
    const auto other = parse_readings(
        "time,set_up,instrument,channel,at,face,edge,value,unit,sigma," + std::string(more) + "\n", "r.csv",
        run(), nullptr);
    ASSERT_EQ(other.complaints.size(), 1u) << more;
    EXPECT_EQ(other.complaints[0].found, says);
  }
  const auto twice =
      parse_readings(header + ",,level,slope,300 mm,1,,1.5,mm/m,0.02\n", "r.csv", run(), nullptr);
  ASSERT_EQ(twice.complaints.size(), 1u);
  EXPECT_EQ(twice.complaints[0].expected, "11, as in the header");
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

const RunSheet& run_with_marks() {
  static const RunSheet sheet = *parse_run_sheet(kExample + R"(
[[mark]]
name = "door frame, left"
at = "-450 mm"
[[mark]]
name = "column"
at = "4.6 m"
)",
                                                 "shelf.toml")
                                     .sheet;
  return sheet;
}

TEST(Readings, OfAMarkHaveItsNameForAPlace) {
  const std::string rows =
      ",A,laser,distance,column,,,1250,mm,0.3\n"
      ",A,laser,distance,600 mm,1,,1260,mm,0.3\n"
      ",A,laser,distance,\"door frame, left\",,,1255,mm,0.3\n";
  const auto read = parse_readings(kHeader + rows, "r.csv", run_with_marks(), nullptr);
  ASSERT_TRUE(read.entries) << text(read.complaints);
  EXPECT_EQ((*read.entries)[0].mark, "column");
  EXPECT_EQ((*read.entries)[0].at_m, 4.6);
  EXPECT_EQ((*read.entries)[1].mark, "");
  const Survey survey = make_survey(*read.entries, nullptr, run_with_marks().marks);
  EXPECT_EQ(survey.readings[0].mark, 1);
  EXPECT_EQ(survey.readings[1].mark, -1);
  EXPECT_EQ(survey.readings[2].mark, 0);
  std::ostringstream out;
  write_readings(out, *read.entries);
  const auto again = parse_readings(out.str(), "again.csv", run_with_marks(), nullptr);
  ASSERT_TRUE(again.entries) << text(again.complaints) << out.str();
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_EQ((*again.entries)[i].mark, (*read.entries)[i].mark);
    EXPECT_EQ((*again.entries)[i].at_m, (*read.entries)[i].at_m);
    EXPECT_EQ((*again.entries)[i].value, (*read.entries)[i].value);
  }
}

TEST(Readings, OfAMarkAreDistancesWithoutFaceAndEdge) {
  for (const auto& [row, column, found] :
       {std::tuple{",A,laser,slope,column,,,1,mm/m,0.02", "channel", "slope"},
        {",A,laser,distance,column,1,,1250,mm,0.3", "face", "1"},
        {",A,laser,distance,column,,middle,1250,mm,0.3", "edge", "middle"},
        {",A,laser,distance,colum,,,1250,mm,0.3", "at", "column"},
        {",,laser,distance,column,,,1250,mm,0.3", "set_up", "nothing"}}) {
    const auto read = parse_readings(kHeader + row + '\n', "r.csv", run_with_marks(), nullptr);
    ASSERT_EQ(read.complaints.size(), 1u) << row << '\n' << text(read.complaints);
    EXPECT_NE(read.complaints[0].key.find(column), std::string::npos) << text(read.complaints);
    EXPECT_NE(read.complaints[0].text().find(found), std::string::npos) << text(read.complaints);
  }
}

// A pipe (FIFO, POSIX): with nobody at its other end it is named, with somebody it is read like a file.
TEST(Readings, FromAPipeAreReadOnceSomebodyWritesAndRefusedWhereNobodyDoes) {
  const std::string pipe =
      (std::filesystem::temp_directory_path() / ("hangtrue-pipe-" + std::to_string(::getpid()))).string();
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  const auto silent = read_readings(pipe, run(), nullptr);
  ASSERT_EQ(silent.complaints.size(), 1u);
  EXPECT_NE(silent.complaints[0].text().find("nobody writes"), std::string::npos) << text(silent.complaints);
  std::thread writer([&] {
    const int file = ::open(pipe.c_str(), O_WRONLY | O_CLOEXEC);
    for (const std::string& word : {kHeader, std::string(",,level,slope,300 mm,1,,1.5,mm/m,0.02\n")})
      EXPECT_EQ(::write(file, word.data(), word.size()), static_cast<ssize_t>(word.size()));
    ::close(file);
  });
  const auto read = read_readings(pipe, run(), nullptr);
  writer.join();
  std::filesystem::remove(pipe);
  ASSERT_TRUE(read.entries) << text(read.complaints);
  EXPECT_EQ(read.entries->size(), 1u);
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
