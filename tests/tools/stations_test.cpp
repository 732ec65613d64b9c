// hangtrue stations: the shipped command on the demo sheets, and on what it cannot use.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <cstdio>

#include <nlohmann/json.hpp>

#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue {
namespace {

using Json = nlohmann::json;
using testing::AllOf;
using testing::HasSubstr;

const std::string kRun = HANGTRUE_DATA_DIR "/runs/reading-room-bridge-shelf.toml";
const std::string kKit = HANGTRUE_DATA_DIR "/kits/reading-room.toml";

struct Ended {
  int code = -1;
  std::string output, errors;
};

class Stations : public ::testing::Test {
 protected:
  [[nodiscard]] Ended run(const std::string& arguments) const {
    Ended ended;
    const std::string errors = scratch_ / "errors";
    FILE* const pipe =
        ::popen((HANGTRUE_COMMAND " stations " + arguments + " 2>'" + errors + "'").c_str(), "r");
    if (pipe == nullptr) return ended;
    char chunk[4096];
    while (const std::size_t count = std::fread(chunk, 1, sizeof chunk, pipe))
      ended.output.append(chunk, count);
    const int status = ::pclose(pipe);
    ended.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    ended.errors = book::bytes_of(errors);
    return ended;
  }
  // Ends with 2, says why, and gives nothing else.
  void refused(const std::string& arguments, const testing::Matcher<std::string>& says) const {
    const Ended ended = run(arguments);
    EXPECT_EQ(ended.code, 2) << arguments;
    EXPECT_EQ(ended.output, "") << arguments;
    EXPECT_THAT(ended.errors, says) << arguments;
  }
  [[nodiscard]] std::string kit(const std::string& text) const {
    const std::string path = scratch_ / "kit.toml";
    book::write_bytes(path, text);
    return path;
  }

  book::Scratch scratch_;
};

TEST_F(Stations, ReachesASixthOfTheToleranceUnlessToldOtherwise) {
  const Ended ended = run(kRun + ' ' + kKit + " --json");
  ASSERT_EQ(ended.code, 0) << ended.errors;
  const Json plan = Json::parse(ended.output);
  EXPECT_EQ(plan.at("stage"), "second bolted");
  EXPECT_NEAR(plan.at("wanted_m").get<double>(), 0.002 / 6, 1e-12);
  EXPECT_TRUE(plan.at("reached").get<bool>());
  EXPECT_LE(plan.at("sigma_m").get<double>(), 0.002 / 6);
  const Ended shown = run(kRun + ' ' + kKit);
  EXPECT_EQ(shown.code, 0);
  EXPECT_THAT(shown.output,
              AllOf(HasSubstr("Reached with"), HasSubstr("walking inclinometer"), HasSubstr("both")));
}

TEST_F(Stations, EndsWith1WhereTheKitCannotReachIt) {
  const Ended ended = run(kRun + ' ' + kKit + " --wanted '0.001 mm'");
  EXPECT_EQ(ended.code, 1) << ended.errors;
  EXPECT_THAT(ended.output, AllOf(HasSubstr("Not reached"), HasSubstr("What stands in the way")));
}

TEST_F(Stations, ForARecheckSaysWhatItWouldFind) {
  const Ended ended = run(kRun + ' ' + kKit + " --for recheck --wanted '0.5 mm' --stage dressed --json");
  ASSERT_EQ(ended.code, 0) << ended.errors;
  const Json plan = Json::parse(ended.output);
  EXPECT_EQ(plan.at("stage"), "dressed");
  bool rod = false;
  for (const Json& each : plan.at("movements"))
    if (each.at("support") == "east rod" && each.at("motion") == "rise") {
      rod = true;
      EXPECT_LE(each.at("smallest_m").get<double>(), 0.0005);
    }
  EXPECT_TRUE(rod);
}

TEST_F(Stations, RefusesWhatItCannotUseAndSaysWhatWouldBeRight) {
  refused("", HasSubstr("RUN"));
  refused(kRun, AllOf(HasSubstr("KIT"), HasSubstr("kit sheet")));
  refused("nowhere.toml " + kKit, HasSubstr("nowhere.toml"));
  refused(kRun + " nowhere.toml", HasSubstr("nowhere.toml"));
  refused(kRun + ' ' + kKit + " --stage hung",
          AllOf(HasSubstr("--stage"), HasSubstr("\"hung\""), HasSubstr("\"second bolted\"")));
  for (const char* const wanted : {"'0.2'", "'0.2 kg'", "soon", "'-1 mm'", "'0 mm'", "'nan mm'"})
    refused(kRun + ' ' + kKit + " --wanted=" + wanted,
            AllOf(HasSubstr("--wanted"), HasSubstr("such as \"0.2 mm\"")));
  refused(kRun + ' ' + kKit + " --for fun", AllOf(HasSubstr("--for"), HasSubstr("levelling or recheck")));
  refused(kRun + ' ' + kKit + " --nonsense", HasSubstr("--nonsense"));
  refused(kRun + ' ' +
              kit("[[instrument]]\nname = \"thermometer\"\nport = \"/dev/ttyS0\"\nspeaks = \"xdr\"\n"
                  "channel = [ { transducer = \"TEMP\", gives = \"temperature\" } ]\n"),
          AllOf(HasSubstr("kit.toml"), HasSubstr("slope, roll or distance")));
  refused(kRun + ' ' + kit("[[instrument]]\nname = \"mute\"\nport = \"/dev/ttyS0\"\nspeaks = \"xdr\"\n"),
          AllOf(HasSubstr("kit.toml"), HasSubstr("channel")));
  refused(kRun + ' ' + kit(""), AllOf(HasSubstr("kit.toml"), HasSubstr("empty")));
}

}  // namespace
}  // namespace hangtrue
