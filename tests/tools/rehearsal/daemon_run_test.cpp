#include "tools/rehearsal/daemon_run.hpp"

#include <gmock/gmock.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tests/tools/rehearsal/sheets.hpp"

namespace hangtrue::rehearsal {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

// A stand-in for the daemon that speaks its lines and keeps what it is told.
constexpr const char* kScript = R"(#!/bin/sh
echo "arguments $*" > "$(dirname "$0")/told"
echo "port laser meter: open, all is well"
echo "ready 3 instruments, 7 stations, stage hung, survey 1"
first=yes
while read -r line; do
  echo "$line" >> "$(dirname "$0")/told"
  case "$line" in
    "take fixed") echo "taken 1 readings" ;;
    take) if [ "$first" = yes ]; then first=no; echo "refused take: PITCH is moving"
          else echo "settled walking inclinometer slope 1 rad"; echo "taken 3 readings"; fi ;;
    done) echo "| old card"; echo 'result {"stage":"hung"}'; echo "| a card"; echo "| of two lines"; echo 'result {"stage":"last"}'
          echo "done survey 1, 14 readings, book B"; exit 0 ;;
    "station 1.5 m") echo "$ANSWER_HALFWAY" ;;
    *) echo "here $line" ;;
  esac
done
exit 7
)";

class RunWithDaemon : public ::testing::Test {
 protected:
  RunWithDaemon() {
    ::setenv("ANSWER_HALFWAY", "here station 1500 mm", 1);
    options.daemon = directory.write("daemon", kScript).string();
    std::filesystem::permissions(options.daemon, std::filesystem::perms::owner_all);
    options.run_path = "run.toml";
    options.between_tries = std::chrono::milliseconds(10);
    options.book_path = "b.levelbook";
    rehearsal.start();
  }
  Directory directory;
  sheet::RunSheet run = run_sheet();
  sheet::KitSheet kit = kit_sheet(run, kKitText, directory.write("kit.toml", kKitText).string());
  Rehearsal rehearsal{run, kit, {.samples_per_s = 50}};
  std::vector<Step> steps = walk(run, kit, {});
  DaemonRun options;
};

TEST_F(RunWithDaemon, WalksAllStationsAndKeepsTheLastCard) {
  std::vector<std::string> lines;
  options.on_line = [&lines](const std::string& line) { lines.push_back(line); };
  options.more = {"--page", "0"};
  const Outcome outcome = run_with_daemon(rehearsal, "hung", steps, options);
  EXPECT_EQ(outcome.exit_code, 0);
  EXPECT_EQ(outcome.taken, 22u);  // 7 stations on 2 faces, 3 of them again; what stays, before and after
  EXPECT_THAT(outcome.refused, ElementsAre("refused take: PITCH is moving"));
  EXPECT_THAT(outcome.card, ElementsAre("a card", "of two lines"));
  EXPECT_EQ(outcome.result_json, R"({"stage":"last"})");

  std::ifstream told(directory.path() / "told");
  std::string line;
  std::getline(told, line);
  EXPECT_EQ(line, "arguments run.toml " + rehearsal.kit_path().string() +
                      " --book b.levelbook --stage hung --page 0");
  std::vector<std::string> wanted{"start at wall bracket"};
  for (const Step& step : steps) wanted.insert(wanted.end(), step.commands.begin(), step.commands.end());
  wanted.insert(std::find(wanted.begin(), wanted.end(), "take"), "take");  // again, as it was refused
  wanted.emplace_back("done");
  std::vector<std::string> got;
  while (std::getline(told, line)) got.push_back(line);
  EXPECT_EQ(got, wanted);
  EXPECT_THAT(lines, ::testing::Contains("> station 1.5 m"));
  EXPECT_EQ(rehearsal.faults().messages > 0, true);
}

// A stand-in that watches the laser's line, as the kit sheet names it.
constexpr const char* kWatchingScript = R"(#!/bin/sh
port=$(sed -n "s/^port = ['\"]\(.*laser.*\)['\"]/\1/p" "$2")
( while [ -L "$port" ]; do sleep 0.02; done; echo "lost laser meter: it was unplugged"
  while [ ! -L "$port" ]; do sleep 0.02; done; echo "port laser meter: open"; echo "back laser meter" ) &
echo "ready 3 instruments, 7 stations, stage hung, survey 1"
taken=0
while read -r line; do
  case "$line" in
    take) taken=$((taken + 1))
          if [ "$taken" = 2 ] && [ "$WAITS" = yes ]; then
            while [ -L "$port" ]; do sleep 0.02; done; while [ ! -L "$port" ]; do sleep 0.02; done
          fi
          echo "taken reading $taken" ;;
    done) echo 'result {"stage":"hung"}'; echo "done survey 1"; exit 0 ;;
    *) echo "here $line" ;;
  esac
done
)";

class RunWithAPlugPulled : public RunWithDaemon {
 protected:
  RunWithAPlugPulled() {
    (void)directory.write("daemon", kWatchingScript);
    options.pull = 1;
    options.unplugged = std::chrono::milliseconds(300);
    options.on_note = [this](const std::string& words) { notes.push_back(words); };
    options.on_step = [this](std::size_t steps_done) { done = steps_done; };
    steps = {steps.begin() + 1, steps.begin() + 4};  // of placings; the plug is pulled in the second
  }
  std::vector<std::string> notes;
  std::size_t done = 0;
};

TEST_F(RunWithAPlugPulled, TakesTheReadingAgainThatTheInstrumentMissed) {
  ::setenv("WAITS", "no", 1);
  const Outcome outcome = run_with_daemon(rehearsal, "hung", steps, options);
  EXPECT_EQ(outcome.taken, 4u);
  EXPECT_EQ(done, 3u);
  EXPECT_THAT(outcome.lost, ElementsAre("lost laser meter: it was unplugged"));
  EXPECT_THAT(outcome.back, ElementsAre("back laser meter"));
  EXPECT_THAT(notes, ElementsAre("unplugging the laser meter within a reading",
                                 "the daemon: lost laser meter: it was unplugged",
                                 "plugging the laser meter in again",
                                 "the laser meter is back, and the reading is taken again"));
}

TEST_F(RunWithAPlugPulled, TakesItOnceWhereTheDaemonWaitsForTheInstrument) {
  ::setenv("WAITS", "yes", 1);
  const Outcome outcome = run_with_daemon(rehearsal, "hung", steps, options);
  EXPECT_EQ(outcome.taken, 3u);
  EXPECT_EQ(notes.back(), "the laser meter is back");
}

TEST_F(RunWithAPlugPulled, SaysWhenTheDaemonDoesNotNoticeIt) {
  options.daemon = directory.write("blind", kScript).string();
  std::filesystem::permissions(options.daemon, std::filesystem::perms::owner_all);
  options.on_note = [this](const std::string& words) {
    if (words.starts_with("plugging")) options.patience = {};  // nothing more can come
  };
  try {
    (void)run_with_daemon(rehearsal, "hung", steps, options);
    FAIL() << "it went on";
  } catch (const std::runtime_error& error) {
    EXPECT_THAT(error.what(), HasSubstr("laser meter is back"));
  }
}

TEST_F(RunWithDaemon, StopsWhereAPlacingIsRefused) {
  ::setenv("ANSWER_HALFWAY", "refused station: not on the run", 1);
  try {
    (void)run_with_daemon(rehearsal, "hung", steps, options);
    FAIL() << "it went on";
  } catch (const std::runtime_error& error) {
    EXPECT_THAT(error.what(), HasSubstr("not on the run"));
  }
}

TEST_F(RunWithDaemon, SaysWhenTheDaemonGivesNoAnswerOrEnds) {
  ::setenv("ANSWER_HALFWAY", "live nothing yet", 1);
  options.on_line = [this](const std::string& line) {
    if (line == "> station 1.5 m") options.patience = std::chrono::seconds(1);  // its answer will not come
  };
  try {
    (void)run_with_daemon(rehearsal, "hung", steps, options);
    FAIL() << "it went on";
  } catch (const std::runtime_error& error) {
    EXPECT_THAT(error.what(), HasSubstr("anything to \"station 1.5 m\""));
  }
  options.daemon = "/bin/false";
  EXPECT_THROW((void)run_with_daemon(rehearsal, "hung", steps, options), std::runtime_error);
  options.daemon = (directory.path() / "no such program").string();
  EXPECT_THROW((void)run_with_daemon(rehearsal, "hung", steps, options), std::system_error);
}

// A stand-in that speaks JSON lines and, once it was asked for the card, says what somebody does at its page.
constexpr const char* kStayingScript = R"(#!/bin/sh
trap 'echo "{\"event\":\"stopped\",\"text\":\"survey 1\"}"; exit 0' TERM
echo "arguments $*" > "$(dirname "$0")/told"
echo '{"event":"page","text":"http://127.0.0.1:1/"}'
echo '{"event":"ready","text":"3 instruments"}'
while read -r line; do
  echo "$line" >> "$(dirname "$0")/told"
  case "$line" in
    take*) echo '{"event":"taken","text":"3 readings"}' ;;
    card) echo '{"event":"|","text":"a card"}'; echo '{"event":"result","stage":"hung"}'
          echo '{"event":"here","text":"station 2","at_m":2.5}'; echo '{"event":"made","support":"post"}' ;;
    *) echo '{"event":"here","text":"'"$line"'"}' ;;
  esac
done
)";

class RunThatStays : public RunWithDaemon {
 protected:
  RunThatStays() {
    (void)directory.write("daemon", kStayingScript);
    options.on_event = [this](const nlohmann::json& event) { events.push_back(event); };
    options.on_line = [this](const std::string& line) { lines.push_back(line); };
    options.on_stay = [this](const Outcome& so_far) { card = so_far.card; };
    options.ended = [this] { return !events.empty() && events.back().at("event") == "made"; };
  }
  std::vector<nlohmann::json> events;
  std::vector<std::string> lines, card;
};

TEST_F(RunThatStays, AsksForTheCardAndHearsWhatIsDoneUntilItEnds) {
  const Outcome outcome = run_with_daemon(rehearsal, "hung", steps, options);
  EXPECT_EQ(outcome.exit_code, 0);
  EXPECT_EQ(outcome.taken, 22u);
  EXPECT_THAT(card, ElementsAre("a card"));
  EXPECT_EQ(nlohmann::json::parse(outcome.result_json).at("stage"), "hung");
  ASSERT_GE(events.size(), 2u);  // not those of the walk
  EXPECT_EQ(events[0].at("at_m"), 2.5);
  EXPECT_EQ(events[1].at("support"), "post");
  EXPECT_EQ(lines.front(), "page http://127.0.0.1:1/");
  EXPECT_EQ(lines.back(), "stopped survey 1");
  std::ifstream told(directory.path() / "told");
  std::string first, line, last;
  std::getline(told, first);
  EXPECT_THAT(first, ::testing::EndsWith("--stage hung --json-lines"));
  while (std::getline(told, line)) last = line;
  EXPECT_EQ(last, "card");
}

TEST_F(RunThatStays, StaysFromTheStartAndUntilTheDaemonEndsByItself) {
  (void)directory.write("daemon", "#!/bin/sh\necho '{\"event\":\"ready\",\"text\":\"\"}'\nexit 4\n");
  options.ended = [] { return false; };
  const Outcome outcome = run_with_daemon(rehearsal, "hung", {}, options);
  EXPECT_EQ(outcome.exit_code, 4);
  EXPECT_TRUE(outcome.result_json.empty());
}

// A daemon that found exactly the truth: all differences are 0, and its moves act on the truth.
// A stand-in that gives a card with two moves, one of them for later.
constexpr const char* kScriptWithMoves = R"(#!/bin/sh
card='result {"shims":{"moves":[{"order":1,"support":"post","rise_m":0.002,"pitch_rad":0,"roll_rad":0},{"order":2,"support":"post","rise_m":0.5,"pitch_rad":0,"roll_rad":0,"when_stage":"in use"}]}}'
echo "ready 3 instruments, 7 stations, stage hung, survey 1"
while read -r line; do
  echo "$line" >> "$(dirname "$0")/told"
  case "$line" in
    take*) echo "taken 1 readings" ;;
    card) echo "| a card"; echo "$card" ;;
    "begin moves") if [ -n "$BEGIN_REFUSED" ]; then echo "refused begin moves: this card says read again first"; else echo "$card"; fi ;;
    "made 1") echo "made 1: post, rise 2.00 mm" ;;
    "done and seal") echo "| last card"; echo "$card"; echo "sealed entries 1 to 40 by entry 41, code X"; echo "done survey 2, 14 readings, book B"; exit 0 ;;
    *) echo "here $line" ;;
  esac
done
exit 7
)";

class RunThatGoesOn : public RunWithDaemon {
 protected:
  RunThatGoesOn() {
    ::unsetenv("BEGIN_REFUSED");
    (void)directory.write("daemon", kScriptWithMoves);
    options.go_on = options.seal = true;
  }
  std::vector<std::string> told() {
    std::ifstream file(directory.write("more", "").parent_path() / "told");
    std::vector<std::string> lines;
    for (std::string line; std::getline(file, line);) lines.push_back(line);
    return lines;
  }
};

TEST_F(RunThatGoesOn, MakesTheMovesThatAreForNowReadsAgainAndSeals) {
  std::vector<beam::Motions<double>> moves(run.supports.size());
  moves[std::size_t(run.support("post"))].rise = 0.002;
  const double wanted = rehearsal.truth().level_error_after_m(moves);
  const double datum = rehearsal.truth().datum_height_m(0);
  int cards = 0;
  options.on_card = [&](const Outcome& outcome) {
    ++cards;
    EXPECT_THAT(outcome.card, ElementsAre("a card"));
  };
  const Outcome outcome = run_with_daemon(rehearsal, "hung", steps, options);
  EXPECT_EQ(outcome.exit_code, 0);
  EXPECT_EQ(cards, 1);
  EXPECT_NEAR(rehearsal.truth().level_error_m(), wanted, 1e-15);
  EXPECT_NE(rehearsal.truth().datum_height_m(0), datum) << "the laser was set up anew";
  const auto lines = told();
  const auto at = [&](const char* line) {
    return std::find(lines.begin(), lines.end(), line) - lines.begin();
  };
  EXPECT_LT(at("card"), at("begin moves"));
  EXPECT_LT(at("begin moves"), at("made 1"));
  EXPECT_LT(at("made 1"), at("read again"));
  EXPECT_EQ(std::count(lines.begin(), lines.end(), "made 2"), 0);
  EXPECT_EQ(std::count(lines.begin(), lines.end(), "station 1.5 m"), 4)
      << "two walks, each of which closes there";
  EXPECT_EQ(lines.back(), "done and seal");
}

TEST_F(RunThatGoesOn, ReadsAgainWithoutMovesWhereTheCardIsNotToBeTrusted) {
  ::setenv("BEGIN_REFUSED", "yes", 1);
  const double before = rehearsal.truth().level_error_m();
  std::vector<std::string> notes;
  options.on_note = [&](const std::string& words) { notes.push_back(words); };
  EXPECT_EQ(run_with_daemon(rehearsal, "hung", steps, options).exit_code, 0);
  EXPECT_EQ(rehearsal.truth().level_error_m(), before);
  EXPECT_THAT(notes, ElementsAre(HasSubstr("no move is made: begin moves: this card says read again first")));
  const auto lines = told();
  EXPECT_EQ(std::count(lines.begin(), lines.end(), "read again"), 1);
}

TEST_F(RunWithDaemon, ComparesWhatWasFoundWithTheTruth) {
  const Truth& truth = rehearsal.truth();
  const Profile profile = truth.profile(run.stations_m);
  std::vector<beam::Motions<double>> moves(run.supports.size());
  moves[1].rise = 0.002;
  nlohmann::json result;
  result["fit"]["at_m"] = profile.at_m;
  result["fit"]["height_m"] = profile.height_m;
  result["shims"]["hold_point"] = "shim first";
  result["shims"]["level_error_before_m"] = 0.003;
  result["shims"]["level_error_after_m"] = 0.001;
  result["shims"]["level_error_after_sigma_m"] = 0.0002;
  result["shims"]["moves"] = {
      {{"support", "post"}, {"rise_m", 0.002}, {"pitch_rad", 0.0}, {"roll_rad", 0.0}}};
  const Comparison same = compare(run, truth, result.dump());
  EXPECT_NEAR(same.tilt_found_rad, same.tilt_truth_rad, 1e-15);
  EXPECT_NEAR(same.sag_found_m, same.sag_truth_m, 1e-15);
  EXPECT_NEAR(same.largest_difference_m, 0, 1e-15);
  EXPECT_EQ(same.level_error_truth_m, truth.level_error_m());
  EXPECT_EQ(same.level_error_found_m, 0.003);
  EXPECT_EQ(same.level_error_after_truth_m, truth.level_error_after_m(moves));
  EXPECT_EQ(same.hold_point, "shim first");

  // A common height does not count. One place that is 1 mm off differs by 1 mm less its share of the mean.
  std::vector<double> off = profile.height_m;
  for (double& height : off) height += 0.5;
  off[3] += 0.001;
  result["fit"]["height_m"] = off;
  EXPECT_NEAR(compare(run, truth, result.dump()).largest_difference_m, 0.001 * 6 / 7, 1e-12);

  const std::string table = words(same, sheet::Show::metric);
  for (std::size_t at = 0; at < table.size();) {
    const std::size_t end = table.find('\n', at);
    EXPECT_LE(end - at, 80u);
    at = end + 1;
  }
}

TEST_F(RunWithDaemon, RefusesAResultThatIsNone) {
  EXPECT_THROW((void)compare(run, rehearsal.truth(), ""), std::invalid_argument);
  EXPECT_THROW((void)compare(run, rehearsal.truth(), R"({"fit":{}})"), std::invalid_argument);
}

}  // namespace
}  // namespace hangtrue::rehearsal
