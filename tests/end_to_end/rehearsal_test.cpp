// The whole job with the shipped programs: simulated instruments on pseudo-terminals, hangtrued, the card, the book; beside
// the invented truth.
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/scale_check.hpp"

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
  std::string quick_run(const std::string& name = "reading-room-bridge-shelf") const {
    std::string text = read(kData + "/runs/" + name + ".toml");
    replace(text, "{ every = \"300 mm\" }", "{ every = \"700 mm\" }");
    replace(text, "{ every = \"17 in\" }", "{ every = \"34 in\" }");
    return write("run.toml", text);
  }
  std::string quick_kit(const std::string& name = "reading-room") const {
    std::string text = read(kData + "/kits/" + name + ".toml");
    replace(text, "window = \"2 s\"", "window = \"0.4 s\"");
    replace(text, "window = \"1 s\"", "window = \"0.4 s\"");
    replace(text, "every = \"100 ms\"", "every = \"20 ms\"");
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
  // Limits: for the heights less their mean ten times their usual sigma of 0.01 mm; for the level error four times the sigma that
  // the card states, and 0.1 mm.
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

/// One of each way of speaking; one of them loses its plug in the middle of the walk, and the daemon must say so.
struct MixedJob {
  std::string run, kit, pulled;
  int seed;
};

class EndToEndWithAMixedKit : public EndToEnd, public ::testing::WithParamInterface<MixedJob> {};

TEST_P(EndToEndWithAMixedKit, FindsTheRunAsItTrulyHangsAndKeepsAWholeBookThoughAPlugWasPulled) {
  const MixedJob& job = GetParam();
  const std::string path = (directory_ / "job.levelbook").string();
  const Ended rehearsed = run(kCommand + " rehearse " + quick_run(job.run) + ' ' + quick_kit(job.kit) +
                              " --stage 'second bolted' --seed " + std::to_string(job.seed) +
                              " --rate 100 --json --pull '" + job.pulled + "' --book " + path);
  ASSERT_EQ(rehearsed.code, 0) << rehearsed.output;
  const Json json = Json::parse(rehearsed.output.substr(rehearsed.output.find('{')));

  // Limits: five sigma, as the fit and the card state them. The level error is the highest less the lowest place; 0.02 mm more is for
  // the case that another place is the highest or lowest. Instruments that agree give a chi-squared of mean n and variance 2 n.
  const Json &fit = json.at("fit"), &shims = json.at("shims"), &truth = json.at("truth");
  EXPECT_LE(fit.at("set_aside").size(), 1u) << fit.at("set_aside").dump();
  const double freedom = fit.at("degrees_of_freedom").get<double>();
  EXPECT_LT(fit.at("chi_squared").get<double>(), freedom + 5 * std::sqrt(2 * freedom));
  const auto sigmas = fit.at("height_less_mean_sigma_m").get<std::vector<double>>();
  EXPECT_LT(truth.at("largest_height_difference_m").get<double>(),
            5 * *std::max_element(sigmas.begin(), sigmas.end()));
  for (const std::string when : {"before", "after"})
    EXPECT_NEAR(shims.at("level_error_" + when + "_m").get<double>(),
                truth.at("level_error_" + when + "_m").get<double>(),
                5 * shims.at("level_error_" + when + "_sigma_m").get<double>() + 0.02e-3)
        << when;

  auto opened = hangtrue::book::Book::open_to_read(path);
  ASSERT_TRUE(opened.ok()) << opened.fault().says;
  const hangtrue::book::Book book = std::move(opened).value();
  const auto audit = book.audit();
  ASSERT_TRUE(audit.ok()) << audit.fault().says;
  EXPECT_TRUE(audit.value().whole()) << audit.value().findings.front();
  const auto surveys = book.surveys();
  ASSERT_TRUE(surveys.ok()) << surveys.fault().says;
  ASSERT_EQ(surveys.value().size(), 1u);
  EXPECT_TRUE(surveys.value()[0].closed);

  // Every place by every instrument: those that walk at all stations on both faces, the one that stays before and after.
  const auto readings = book.readings(surveys.value()[0].number);
  ASSERT_TRUE(readings.ok()) << readings.fault().says;
  std::map<std::string, int> count;
  std::map<std::string, std::set<double>> places;
  for (const hangtrue::book::BookedReading& booked : readings.value()) {
    EXPECT_TRUE(booked.kept) << booked.reason;
    ++count[booked.reading.instrument];
    places[booked.reading.instrument].insert(booked.reading.at_m);
  }
  const std::size_t stations = fit.at("at_m").size();
  EXPECT_EQ(places["walking inclinometer"].size(), stations);
  EXPECT_EQ(places["laser distance meter"].size(), stations);
  EXPECT_EQ(places["middle inclinometer"].size(), 1u);
  EXPECT_GE(count["walking inclinometer"], int(4 * stations));  // slope and roll, two faces
  EXPECT_GE(count["laser distance meter"], int(2 * stations));
  EXPECT_EQ(count["middle inclinometer"], 4);
}

INSTANTIATE_TEST_SUITE_P(
    MetricAndImperial, EndToEndWithAMixedKit,
    ::testing::Values(MixedJob{"reading-room-bridge-shelf", "reading-room-mixed", "laser distance meter", 7},
                      MixedJob{"bottle-canopy", "bottle-canopy-mixed", "middle inclinometer", 4},
                      MixedJob{"bottle-canopy", "bottle-canopy-mixed", "walking inclinometer", 19}),
    [](const auto& parameter) {
      std::string name = parameter.param.kit + " without " + parameter.param.pulled;
      std::replace_if(
          name.begin(), name.end(), [](char c) { return c == ' ' || c == '-'; }, '_');
      return name;
    });

/// Scale checks in the book as "instrument channel", and the channels of survey 1 for whose scale nothing vouches.
struct Scales {
  std::set<std::string> sound, failed, lacking;
};
Scales scales_of(const std::string& path, const std::string& run_path) {
  namespace book = hangtrue::book;
  namespace job = hangtrue::job;
  const book::Book opened = std::move(book::Book::open_to_read(path)).value();
  Scales scales;
  const auto checks = opened.checks().value();
  for (const book::NumberedEntry& each : checks)
    if (const auto* const scale = std::get_if<book::ScaleCheck>(&each.entry.content))
      (scale->sound ? scales.sound : scales.failed).insert(scale->instrument + ' ' + scale->channel);
  const book::SurveyRecord survey = opened.surveys().value().at(0);
  const auto sheet = hangtrue::sheet::read_run_sheet(run_path).sheet.value();
  const auto kit =
      hangtrue::sheet::parse_kit_sheet(
          std::get<book::KitText>(opened.entry(survey.begun.kit).value().content).text, "kit.toml", sheet)
          .sheet.value();
  std::vector<hangtrue::sheet::ReadingEntry> readings;
  const std::vector<book::BookedReading> booked = opened.readings(survey.number).value();
  for (const book::BookedReading& each : booked) readings.push_back(each.reading);
  const job::Checks counted =
      job::checks_for_survey(kit, checks, survey.number, opened.entries(survey.number).value());
  for (const job::ChannelId& each : job::channels_without_scale_check(&kit, counted, readings))
    scales.lacking.insert(job::name_of(each));
  return scales;
}

TEST_F(EndToEnd, ARehearsalChecksTheScalesThatTheKitSheetDoesNotVouchFor) {
  const std::string sheet = quick_run();
  const auto rehearse = [&](const std::string& kit, const std::string& book) {
    return run(kCommand + " rehearse " + sheet + ' ' + kit +
               " --stage 'second bolted' --seed 7 --rate 100 --json --book " + (directory_ / book).string());
  };
  const Ended vouched = rehearse(quick_kit("reading-room-mixed"), "vouched.levelbook");
  ASSERT_EQ(vouched.code, 0) << vouched.output;
  const Scales by_hand = scales_of((directory_ / "vouched.levelbook").string(), sheet);
  EXPECT_TRUE(by_hand.sound.empty() && by_hand.failed.empty()) << "the demo kit says that they were checked";
  EXPECT_EQ(by_hand.lacking, std::set<std::string>{});

  std::string text = read(quick_kit("reading-room-mixed"));
  replace(text, "scale_checked = 2026-09-20\n", "");
  const Ended guided = rehearse(write("kit.toml", text), "guided.levelbook");
  ASSERT_EQ(guided.code, 0) << guided.output;
  const Scales scales = scales_of((directory_ / "guided.levelbook").string(), sheet);
  EXPECT_EQ(scales.sound, (std::set<std::string>{"laser distance meter distance", "middle inclinometer roll",
                                                 "middle inclinometer slope", "walking inclinometer roll",
                                                 "walking inclinometer slope"}));
  EXPECT_EQ(scales.lacking, std::set<std::string>{});
}

TEST_F(EndToEnd, PullingAnInstrumentThatTheKitHasNotNamesThoseItHas) {
  const Ended ended =
      run(kCommand + " rehearse " + quick_run() + ' ' + quick_kit("reading-room-mixed") + " --pull 'laser'");
  EXPECT_EQ(ended.code, 2);
  EXPECT_NE(ended.output.find("\"laser distance meter\""), std::string::npos) << ended.output;
}

TEST_F(EndToEnd, ASealedRecordAndAYearLaterARecheckThatNamesTheSupportThatSank) {
  const std::string book = (directory_ / "job.levelbook").string();
  std::string text = read(quick_run());
  if (text.find("[[mark]]") == std::string::npos) text += "[[mark]]\nname = \"column\"\nat = \"-400 mm\"\n";
  const std::string sheet = write("run.toml", text);
  const Ended rehearsed = run(kCommand + " rehearse " + sheet + ' ' + quick_kit() +
                              " --stage 'second bolted' --seed 7 --rate 100 --json --book " + book +
                              " --go-on --later '365 days' --sinks 'east rod=0.8 mm'");
  ASSERT_EQ(rehearsed.code, 0) << rehearsed.output;
  EXPECT_EQ(std::count(rehearsed.output.begin(), rehearsed.output.end(), '\n'), 3) << "a result a survey";

  const auto opened = hangtrue::book::Book::open_to_read(book);
  ASSERT_TRUE(opened.ok());
  const auto surveys = opened.value().surveys().value();
  ASSERT_EQ(surveys.size(), 3u);
  EXPECT_GT(surveys[0].moves, 0);
  for (const auto& survey : surveys) EXPECT_TRUE(survey.closed);
  EXPECT_LT(surveys[1].time.substr(0, 4), surveys[2].time.substr(0, 4)) << "a year lies between";
  const auto notes = opened.value().entries(surveys[2].number, {"note"}).value();
  ASSERT_EQ(notes.size(), 1u);
  EXPECT_NE(std::get<hangtrue::book::Note>(notes[0].entry.content).text.find("365 days ahead"),
            std::string::npos);
  const auto audit = opened.value().audit().value();
  EXPECT_TRUE(audit.whole());
  ASSERT_EQ(audit.seals.size(), 2u);
  EXPECT_EQ(audit.seals.back().number, audit.entries) << "sealed when all was done";
  for (const auto& survey : surveys) {
    const auto readings = opened.value().readings(survey.number).value();
    EXPECT_GE(std::count_if(readings.begin(), readings.end(),
                            [](const auto& each) { return !each.reading.mark.empty(); }),
              2);
  }

  const Ended recheck = run(kCommand + " recheck " + sheet + " --book " + book + " --from 2 --to 3 --json");
  ASSERT_LE(recheck.code, 1) << recheck.output;
  EXPECT_NE(recheck.output.find("east rod: rise"), std::string::npos) << recheck.output;
}

TEST_F(EndToEnd, ARehearsalOfLaterSaysWhatIsWrongWithIt) {
  for (const auto& [more, says] : {std::pair{"--later '2 months'", "365 days"},
                                   {"--later '1 year' --sinks 'rod=1 mm'", "\"east rod\""},
                                   {"--later '1 year' --sinks 'east rod'", "SUPPORT=0.8 mm"},
                                   {"--later '1 year' --sinks 'east rod=1 kg'", "0.8 mm"},
                                   {"--sinks 'east rod=1 mm'", "--later"}}) {
    const Ended ended = run(kCommand + " rehearse " + quick_run() + ' ' + quick_kit() + ' ' + more);
    EXPECT_EQ(ended.code, 2) << more;
    EXPECT_NE(ended.output.find(says), std::string::npos) << ended.output;
  }
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
