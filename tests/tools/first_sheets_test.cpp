// hangtrue new, check and explain: what a new user begins with is read without a complaint, solved at once, and doubted nowhere.
#include "tools/hangtrue/first_sheets.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <nlohmann/json.hpp>

#include "firmware-host/job/sheet_doubts.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/say/sheet_doubts.hpp"
#include "firmware-host/sheet/keys.hpp"
#include "tests/tools/command.hpp"

namespace hangtrue::tools {
namespace {

using Json = nlohmann::json;
using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

// Read, solved and doubted in nothing.
void expect_good(const FirstRun& wanted) {
  const FirstRun first = filled_in(wanted);
  ASSERT_THAT(complaints_of(first), IsEmpty()) << sheet::text(complaints_of(first));
  const std::string text = first_run_sheet(first);
  const auto read = sheet::parse_run_sheet(text, "run.toml");
  ASSERT_TRUE(read.sheet) << sheet::text(read.complaints) << text;
  job::SolvedRun solved(*read.sheet);
  ASSERT_FALSE(solved.trouble()) << text;
  EXPECT_EQ(say::doubts_view(*read.sheet, job::sheet_doubts(*read.sheet, solved, sheet::SheetLines(text))),
            "");
}

TEST(FirstRun, IsReadSolvedAndDoubtedNowhereWhateverWasAnswered) {
  for (const char* show : {"metric", "imperial"})
    for (const char* carries : {"steel", "timber"})
      for (const std::string& left : sheet::parts(kHolders))
        for (const std::string& right : sheet::parts(kHolders)) {
          if ((left == "rod" || left == "post") && (right == "rod" || right == "post")) continue;
          SCOPED_TRACE(std::string(show) + ' ' + carries + ", " + left + " to " + right);
          FirstRun first;
          first.show = show, first.carries = carries, first.left = left, first.right = right;
          expect_good(first);
        }
  for (const char* length : {"800 mm", "2.4 m", "14' 7 1/2\"", "9000 mm"}) {
    SCOPED_TRACE(length);
    FirstRun first;
    first.length = length;
    expect_good(first);
  }
}

TEST(FirstRun, SaysWhatIsInventedAndWhatWasAnswered) {
  FirstRun first;
  first.title = "The \"long\" shelf", first.length = "4200 mm";
  const std::string text = first_run_sheet(filled_in(first));
  const auto read = sheet::parse_run_sheet(text, "run.toml");
  ASSERT_TRUE(read.sheet) << sheet::text(read.complaints);
  EXPECT_EQ(read.sheet->title, "The \"long\" shelf");
  EXPECT_THAT(
      text,
      AllOf(HasSubstr("\nlength = \"4200 mm\"\n"), Not(HasSubstr("# INVENTED. Length of the run")),
            HasSubstr("# INVENTED. What it holds against up and down"), HasSubstr("# rating = \"6 kN\"")));
  for (const sheet::Key& key : sheet::keys())  // every key of the sections that it has, with its sentence
    if (key.sheet == sheet::SheetSort::run && key.section == "support" &&
        key.name.find('.') == std::string_view::npos) {
      EXPECT_THAT(text, HasSubstr(std::string(key.says))) << key.path();
    }
}

TEST(FirstRun, RefusesWhatCannotBeMeant) {
  const auto keys_of = [](const FirstRun& first) {
    std::vector<std::string> keys;
    for (const sheet::Complaint& each : complaints_of(first)) keys.push_back(each.key);
    return keys;
  };
  FirstRun first = filled_in({});
  EXPECT_THAT(keys_of(first), IsEmpty());
  first.length = "4200", first.show = "metrical", first.left = "brakcet", first.mass = "-3 kg";
  EXPECT_THAT(keys_of(first), testing::UnorderedElementsAre("--length", "--show", "--left", "--mass"));
  EXPECT_THAT(sheet::text(complaints_of(first)), HasSubstr("did you mean \"bracket\"?"));
  FirstRun free_to_roll = filled_in({});
  free_to_roll.left = "post", free_to_roll.right = "rod";
  EXPECT_THAT(sheet::text(complaints_of(free_to_roll)), HasSubstr("free to roll"));
}

TEST(FirstKit, IsReadWhateverWasAnswered) {
  const auto run = sheet::parse_run_sheet(first_run_sheet(filled_in({})), "run.toml").sheet;
  ASSERT_TRUE(run);
  for (const std::string& speaks : sheet::parts(kSpeech))
    for (const std::string& laser : sheet::parts(kLasers)) {
      FirstKit first;
      first.speaks = speaks, first.laser = laser;
      ASSERT_THAT(complaints_of(first), IsEmpty());
      const auto read = sheet::parse_kit_sheet(first_kit_sheet(first), "kit.toml", *run);
      ASSERT_TRUE(read.sheet) << speaks << ' ' << laser << '\n'
                              << sheet::text(read.complaints) << first_kit_sheet(first);
      EXPECT_EQ(read.sheet->instruments.size(), laser == "none" ? 1u : 2u);
      // Nobody has checked it: that is for its owner to say.
      for (const auto& instrument : read.sheet->instruments)
        for (const auto& channel : instrument.channels) EXPECT_FALSE(channel.scale_checked);
    }
}

class FirstHour : public ::testing::Test {
 protected:
  book::Scratch scratch_;
  std::string run_ = scratch_ / "run.toml", kit_ = scratch_ / "kit.toml";
};

TEST_F(FirstHour, FromNothingToAPredictionAndAPlan) {
  const Ended run = command("new run --length '11 ft 4 in' --show imperial -o '" + run_ + "'");
  ASSERT_EQ(run.code, 0) << run.errors;
  const Ended kit = command("new kit --speaks modbus -o '" + kit_ + "'");
  ASSERT_EQ(kit.code, 0) << kit.errors;
  const Ended check = command("check '" + run_ + "' '" + kit_ + "'");
  EXPECT_EQ(check.code, 0) << check.output;
  EXPECT_THAT(check.output, HasSubstr("Nothing is wrong, and nothing doubtful"));
  const Ended predict = command("predict '" + run_ + "'");
  EXPECT_THAT(predict.code, testing::AnyOf(0, 1)) << predict.errors;
  EXPECT_THAT(predict.output, HasSubstr("in use"));
  const Ended stations = command("stations '" + run_ + "' '" + kit_ + "'");
  EXPECT_THAT(stations.code, testing::AnyOf(0, 1)) << stations.errors;
}

TEST_F(FirstHour, NothingIsWrittenOverWithoutForce) {
  book::write_bytes(run_, "mine");
  const Ended refused = command("new run -o '" + run_ + "'");
  EXPECT_EQ(refused.code, 2);
  EXPECT_THAT(refused.errors, HasSubstr("exists already"));
  EXPECT_EQ(book::bytes_of(run_), "mine");
  EXPECT_EQ(command("new run --force -o '" + run_ + "'").code, 0);
  EXPECT_THAT(book::bytes_of(run_), HasSubstr("[[support]]"));
}

TEST_F(FirstHour, CheckSaysWhatIsWrongAndWhatIsDoubtful) {
  book::write_bytes(run_, "length = 4200\n");
  const Ended wrong = command("check '" + run_ + "' --json");
  EXPECT_EQ(wrong.code, 2);
  const Json first = Json::parse(wrong.output.substr(0, wrong.output.find('\n')));
  EXPECT_EQ(first.at("what"), "complaint");
  EXPECT_EQ(first.at("file"), run_);
  std::vector<std::string> keys;
  std::istringstream lines(wrong.output);
  for (std::string line; std::getline(lines, line);) keys.push_back(Json::parse(line).at("key"));
  EXPECT_THAT(keys, AllOf(Contains("length"), Contains("member"), Contains("support")));

  ASSERT_EQ(command("new run -o '" + kit_ + "'").code, 0);
  std::string text = book::bytes_of(kit_);
  const std::size_t at = text.find("E = \"210 GPa\"");
  ASSERT_NE(at, std::string::npos);
  text.replace(at, 13, "E = \"310 GPa\"");
  book::write_bytes(run_, text);
  const Ended doubtful = command("check '" + run_ + "'");
  EXPECT_EQ(doubtful.code, 0);
  EXPECT_THAT(doubtful.output, HasSubstr("material.steel.E"));
  const Json doubt = Json::parse(command("check '" + run_ + "' --json").output);
  EXPECT_EQ(doubt.at("what"), "doubt");
  EXPECT_EQ(doubt.at("key"), "material.steel.E");
  EXPECT_GT(doubt.at("line").get<int>(), 0);
}

TEST(Explain, SaysWhatAKeyMeansAndWhatWasMeant) {
  const Ended one = command("explain support.rise");
  EXPECT_EQ(one.code, 0);
  EXPECT_THAT(one.output, AllOf(HasSubstr("support.rise  (run sheet, [[support]])"),
                                HasSubstr("\"rigid\", \"free\" or a stiffness"),
                                HasSubstr("rise = \"12 kN/mm\""), Not(HasSubstr("support.adjust.rise"))));
  EXPECT_THAT(command("explain rise").output,
              AllOf(HasSubstr("support.rise"), HasSubstr("support.adjust.rise")));
  EXPECT_THAT(command("explain").output, AllOf(HasSubstr("[[instrument.channel]]"), HasSubstr("pulled_home"),
                                               HasSubstr("a stiffness: N/m")));
  const Ended wrong = command("explain pulled_hme");
  EXPECT_EQ(wrong.code, 2);
  EXPECT_THAT(wrong.errors, HasSubstr("did you mean \"pulled_home\"?"));
  const Json json = Json::parse(command("explain tolerance.level --json").output);
  EXPECT_EQ(json.at("keys").at(0).at("needed"), "always");
}

}  // namespace
}  // namespace hangtrue::tools
