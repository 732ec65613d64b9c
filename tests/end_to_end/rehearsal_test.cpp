// The whole job with the shipped programs: simulated instruments on pseudo-terminals, hangtrued, the card, the book; beside
// the invented truth.
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

#include <nlohmann/json.hpp>

namespace {

using Json = nlohmann::json;

struct Ended {
  int code = -1;
  std::string output;
};

Ended run(const std::string& command) {
  Ended ended;
  FILE* const pipe = ::popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return ended;
  char chunk[4096];
  while (const std::size_t count = std::fread(chunk, 1, sizeof chunk, pipe))
    ended.output.append(chunk, count);
  const int status = ::pclose(pipe);
  ended.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
  return ended;
}

const std::string kCommand = HANGTRUE_COMMAND;
const std::string kData = HANGTRUE_DATA_DIR;

class EndToEnd : public ::testing::Test {
 protected:
  EndToEnd()
      : directory_(std::filesystem::temp_directory_path() / ("hangtrue-test-" + std::to_string(::getpid()))) {
    std::filesystem::create_directories(directory_);
  }
  ~EndToEnd() override { std::filesystem::remove_all(directory_); }

  std::string write(const std::string& name, const std::string& text) const {
    const std::string path = (directory_ / name).string();
    std::ofstream(path) << text;
    return path;
  }
  // A sheet with fewer stations, a kit that settles sooner: the same job in seconds.
  std::string quick_run() const {
    std::string text = read(kData + "/runs/reading-room-bridge-shelf.toml");
    replace(text, "{ every = \"300 mm\" }", "{ every = \"700 mm\" }");
    return write("run.toml", text);
  }
  std::string quick_kit() const {
    std::string text = read(kData + "/kits/reading-room.toml");
    replace(text, "window = \"2 s\"", "window = \"0.4 s\"");
    replace(text, "window = \"1 s\"", "window = \"0.4 s\"");
    return write("kit.toml", text);
  }
  static std::string read(const std::string& path) {
    std::ifstream file(path);
    return {std::istreambuf_iterator<char>(file), {}};
  }
  static void replace(std::string& text, const std::string& what, const std::string& by) {
    for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + by.size()))
      text.replace(at, what.size(), by);
  }

  std::filesystem::path directory_;
};

TEST_F(EndToEnd, ARehearsedRunIsFoundAsItTrulyHangsAndTheBookGivesTheSameCard) {
  const std::string book = (directory_ / "job.levelbook").string(), sheet = quick_run();
  const Ended rehearsed = run(kCommand + " rehearse " + sheet + ' ' + quick_kit() +
                              " --stage 'second bolted' --seed 7 --rate 100 --json --book " + book);
  ASSERT_EQ(rehearsed.code, 0) << rehearsed.output;
  const Json json = Json::parse(rehearsed.output.substr(rehearsed.output.find('{')));
  // Six times the usual sigma of the heights less their mean (0.01 mm), and of the level error as the card states it.
  EXPECT_LT(json.at("truth").at("largest_height_difference_m").get<double>(), 0.1e-3);
  const Json& shims = json.at("shims");
  EXPECT_NEAR(shims.at("level_error_before_m").get<double>(),
              json.at("truth").at("level_error_before_m").get<double>(),
              4 * shims.at("level_error_before_sigma_m").get<double>() + 0.1e-3);
  EXPECT_NEAR(shims.at("level_error_after_m").get<double>(),
              json.at("truth").at("level_error_after_m").get<double>(),
              4 * shims.at("level_error_after_sigma_m").get<double>() + 0.1e-3);

  const Ended again = run(kCommand + " shims " + sheet + " --json --book " + book + " --survey 1");
  ASSERT_LE(again.code, 1) << again.output;
  EXPECT_NEAR(Json::parse(again.output).at("level_error_after_m").get<double>(),
              shims.at("level_error_after_m").get<double>(), 1e-9);
}

TEST_F(EndToEnd, PredictGivesEveryFieldThatOtherProgramsRelyOn) {
  const Ended predicted = run(kCommand + " predict " + kData + "/runs/bottle-canopy.toml --json");
  ASSERT_EQ(predicted.code, 0) << predicted.output;
  const Json json = Json::parse(predicted.output);
  EXPECT_EQ(json.at("run"), "Bottle canopy over the bar");
  for (const Json& stage : json.at("stages")) {
    const std::size_t count = stage.at("at_m").size();
    for (const char* name : {"height_m", "slope_rad", "roll_rad", "moment_Nm", "shear_N", "torque_Nm"})
      EXPECT_EQ(stage.at(name).size(), count) << name;
    EXPECT_TRUE(stage.contains("lowest_m") && stage.contains("lowest_at_m") && stage.contains("name"));
    for (const Json& support : stage.at("supports"))
      for (const char* name : {"name", "engaged", "force_N", "moment_Nm", "torque_Nm"})
        EXPECT_TRUE(support.contains(name)) << name;
  }
}

TEST_F(EndToEnd, ARunThatNothingHoldsIsBadInputThatNamesStageAndMotion) {
  std::string text = read(kData + "/runs/reading-room-bridge-shelf.toml");
  replace(text, "supports = [\"wall bracket\", \"east lift\"]", "supports = [\"east rod\"]");
  const Ended tipping = run(kCommand + " predict " + write("tips.toml", text));
  EXPECT_EQ(tipping.code, 2);
  EXPECT_NE(tipping.output.find("first fixed point bolted"), std::string::npos) << tipping.output;
  EXPECT_NE(tipping.output.find("tip"), std::string::npos) << tipping.output;
}

TEST_F(EndToEnd, BadInputEndsWithTwoAndWords) {
  const std::string sheet = quick_run();
  const auto with_rows = [&](const std::string& rows) {
    return write("r.csv", "time,set_up,instrument,channel,at,face,edge,value,unit,sigma\n" + rows);
  };
  for (const std::string& arguments :
       {std::string("predict no-such.toml"), "predict " + directory_.string(),
        "predict " + write("x.toml", "length = \"4 m\nx"), "fit " + sheet,
        "fit " + sheet + " --stage hung --readings " + with_rows(""),
        "fit " + sheet + " --stage 'second bolted' --readings " + with_rows(""),
        "fit " + sheet + " --stage 'second bolted' --readings " +
            with_rows(",,a,slope,0 mm,1,,nan,mm/m,0.02\n"),
        "shims " + sheet + " --stage 'second bolted' --readings " +
            with_rows(",,a,slope,9 m,1,,1,mm/m,0.02\n"),
        "fit " + sheet + " --stage 'second bolted' --readings " + with_rows(",,a,slope,0 mm,1,,1,mm/m,\n"),
        std::string("dance")}) {
    const Ended ended = run(kCommand + ' ' + arguments);
    EXPECT_EQ(ended.code, 2) << arguments << '\n' << ended.output;
    EXPECT_GT(ended.output.size(), 10u) << arguments;
  }
  const Ended daemon =
      run(std::string(HANGTRUE_DAEMON) + " no-such.toml no-kit.toml --book " + (directory_ / "b").string());
  EXPECT_EQ(daemon.code, 2);
  EXPECT_NE(daemon.output.find("no-kit.toml"), std::string::npos) << daemon.output;
}

}  // namespace
