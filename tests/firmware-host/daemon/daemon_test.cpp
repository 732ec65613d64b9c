// The shipped daemon, spoken with as a person would, with an instrument on a pseudo-terminal.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <future>
#include <random>
#include <regex>
#include <thread>
#include <utility>

#include <nlohmann/json.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/job/history.hpp"
#include "tests/firmware-host/daemon/bench.hpp"
#include "tests/firmware-host/daemon/responder.hpp"
#include "tests/trials.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::AllOf;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

constexpr double kDegree = 3.14159265358979323846 / 180;

std::vector<book::BookedReading> readings(const Bench& bench, std::size_t survey = 0) {
  const auto book = book::Book::open_to_read(bench.book());
  if (!book.ok()) {
    ADD_FAILURE() << book.fault().says;
    return {};
  }
  EXPECT_TRUE(book.value().audit().value().whole());
  const auto surveys = book.value().surveys();
  EXPECT_GT(surveys.value().size(), survey);
  return book.value().readings(surveys.value().at(survey).number).value();
}

book::SurveyRecord survey(const Bench& bench, std::size_t index = 0) {
  return book::Book::open_to_read(bench.book()).value().surveys().value().at(index);
}

TEST(Daemon, TakesReadingsIntoTheBookGivesTheCardAndClosesTheSurvey) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  EXPECT_EQ(daemon->said().back(), "ready 1 instruments, 7 stations, stage hung, survey 1");
  instrument.pitch(-0.2, 0.0001);  // sign -1: the run climbs
  EXPECT_THAT(daemon->ask("station 500 mm"),
              StartsWith("here station 500 mm, face 1, edge left, set-up 1, stage hung"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings at 500 mm, face 1, edge left"));
  EXPECT_NE(daemon->await({"live"}), "");
  instrument.pitch(0.2, 0.0001);
  EXPECT_THAT(daemon->ask("FACE 2"), StartsWith("here station 500 mm, face 2"));
  EXPECT_THAT(daemon->ask("edge right"), HasSubstr("edge right"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings"));
  EXPECT_THAT(daemon->ask("take fixed"), StartsWith("taken 1 readings at their stations"));
  const std::string result = daemon->ask("done");
  EXPECT_THAT(result, StartsWith("result {"));
  EXPECT_EQ(daemon->end(), 0);
  EXPECT_EQ(daemon->said().back(), "done survey 1, 3 readings, book " + bench.book());
  EXPECT_THAT(daemon->said(), Contains(StartsWith("| ")));
  EXPECT_THAT(daemon->said(), Contains(StartsWith("settled level slope ")));
  const auto json = nlohmann::json::parse(result.substr(std::string("result ").size()));
  EXPECT_EQ(json.at("stage"), "hung");
  EXPECT_EQ(json.at("fit").at("degrees_of_freedom"), 3);
  EXPECT_TRUE(json.at("shims").contains("hold_point"));

  const auto booked = readings(bench);
  ASSERT_EQ(booked.size(), 3u);
  const sheet::ReadingEntry& first = booked[0].reading;
  EXPECT_EQ(first.instrument, "level");
  EXPECT_EQ(first.channel, Channel::slope);
  EXPECT_DOUBLE_EQ(first.at_m, 0.5);
  EXPECT_EQ(first.face, 1);
  EXPECT_EQ(first.edge, survey::Edge::left) << "as the kit sheet has it, until someone says otherwise";
  EXPECT_NEAR(first.value, std::tan(0.2 * kDegree), std::tan(0.0002 * kDegree));
  EXPECT_DOUBLE_EQ(first.sigma, 2e-5);
  EXPECT_DOUBLE_EQ(first.base_m, 0.25);
  EXPECT_EQ(booked[0].taken.temperature_C, 19.5);
  EXPECT_GE(booked[0].taken.samples, 3);
  EXPECT_EQ(booked[1].reading.face, -1);
  EXPECT_EQ(booked[1].reading.edge, survey::Edge::right);
  EXPECT_NEAR(booked[1].reading.value, -std::tan(0.2 * kDegree), std::tan(0.0002 * kDegree));
  EXPECT_EQ(booked[2].reading.channel, Channel::roll);
  EXPECT_DOUBLE_EQ(booked[2].reading.at_m, 2.5);
  EXPECT_EQ(booked[2].reading.face, 1);
  EXPECT_EQ(booked[2].reading.edge, survey::Edge::right);
  EXPECT_TRUE(survey(bench).closed);

  const auto book = book::Book::open_to_read(bench.book());
  const auto cards = book.value().entries(survey(bench).number, {"card"});
  ASSERT_EQ(cards.value().size(), 1u);
  EXPECT_EQ(nlohmann::json::parse(std::get<book::Card>(cards.value()[0].entry.content).json),
            json.at("shims"));
  const auto raw = book.value().entries(survey(bench).number, {"samples"});
  EXPECT_FALSE(raw.value().empty());
  EXPECT_EQ(std::get<book::RunText>(book.value().entry(survey(bench).begun.run).value().content).text,
            kRunText);
}

TEST(Daemon, KeepsInTheBookWhatPeopleFindByHandAndRefusesWhatCannotBe) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->ask("start at the Wall bracket"),
              StartsWith("refused start at: \"the Wall bracket\" is no"));
  EXPECT_EQ(daemon->ask("start at WALL bracket"), "told the places begin at wall bracket");
  EXPECT_THAT(daemon->ask("post bears"), StartsWith("refused bears: post holds both ways"));
  EXPECT_THAT(daemon->ask("prop hangs free"), StartsWith("refused hangs free: \"prop\" is no support"));
  daemon->send("done\n");
  daemon->await({"done"});
  EXPECT_EQ(daemon->end(), 0);
  const auto book = book::Book::open_to_read(bench.book());
  ASSERT_TRUE(book.ok());
  EXPECT_TRUE(book.value().audit().value().whole());
  const auto entries = book.value().entries(book.value().surveys().value().front().number).value();
  EXPECT_EQ(job::found_by_hand(entries).starts_at, "wall bracket");
  EXPECT_TRUE(job::found_by_hand(entries).bearing.empty());
}

TEST(Daemon, TakesNothingBeforeItWasToldWhereTheInstrumentStands) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: say first where"));
  EXPECT_THAT(daemon->ask("face 1"), StartsWith("here station not said yet"));
  EXPECT_THAT(daemon->ask("card"), StartsWith("refused card: nothing has been read"));
}

TEST(Daemon, TakesNothingWhereAStationWasSaidThatIsNotOnTheList) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  daemon->ask("station 2");
  EXPECT_THAT(daemon->ask("station 777 mm"), StartsWith("refused station: no station at 777 mm"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: say first where"));
  EXPECT_TRUE(readings(bench).empty());
  daemon->ask("station 2");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
}

TEST(Daemon, SaysWhyAChannelDoesNotSettleAndTakesItOnceItDoes) {
  Bench bench;
  Instrument instrument(bench.port());
  instrument.pitch(0.1, 0.05);
  const auto daemon = bench.ready({"--patience", "0.5"});
  daemon->ask("station 1");
  const std::string refused = daemon->ask("take");
  EXPECT_THAT(refused, StartsWith("refused take: level slope still moving, spread "));
  EXPECT_THAT(refused, HasSubstr("may be 0.20 mm/m"));
  EXPECT_TRUE(readings(bench).empty());
  instrument.pitch(0.1, 0.0001);
  std::string answer;
  for (int tries = 0; tries < 20 && answer.rfind("taken 1", 0) != 0; ++tries) answer = daemon->ask("take");
  EXPECT_THAT(answer, StartsWith("taken 1 readings"));
}

TEST(Daemon, SaysWhenALineIsLostAndGoesOnWhenItIsBack) {
  Bench bench;
  auto instrument = std::make_unique<Instrument>(bench.port());
  const auto daemon = bench.ready();
  daemon->ask("station 2");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
  instrument.reset();
  EXPECT_THAT(daemon->await({"lost"}), HasSubstr("level: " + bench.port() + " hung up"));
  EXPECT_THAT(daemon->ask("take"),
              StartsWith("refused take: no walking instrument speaks: level (" + bench.port()));
  instrument = std::make_unique<Instrument>(bench.port());
  EXPECT_EQ(daemon->await({"back"}), "back level");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings at 500 mm"));
  EXPECT_THAT(daemon->status(), HasSubstr("level: well, speaks"));
  EXPECT_THAT(daemon->ask("done"), StartsWith("result "));
  EXPECT_EQ(daemon->end(), 0);
  EXPECT_EQ(readings(bench).size(), 2u);
}

TEST(Daemon, WaitsForAPortThatIsNotThereYet) {
  Bench bench;
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->await({"lost"}), HasSubstr("there is no " + bench.port()));
  Instrument instrument(bench.port());
  EXPECT_EQ(daemon->await({"back"}), "back level");
  daemon->ask("station 1");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
}

TEST(Daemon, CountsEveryByteItCannotUseUnderItsReason) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  const std::string bad = "$IIXDR,A,9.9,D,PITCH*00\r\n";  // the right checksum is another
  const std::string unknown = sentence("IIXDR,A,1.0,D,KEEL");
  for (int i = 0; i < 3; ++i) instrument.say_once(bad);
  instrument.say_once("noise" + unknown);
  std::string status;
  for (int tries = 0; tries < 500 && status.find("KEEL") == std::string::npos; ++tries) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
    status = daemon->status();
  }
  EXPECT_THAT(status, HasSubstr(std::to_string(3 * bad.size()) + " refused: "));
  EXPECT_THAT(status, HasSubstr("5 dropped: noise"));
  EXPECT_THAT(status, HasSubstr("1 values of KEEL"));
  std::smatch in;
  ASSERT_TRUE(std::regex_search(status, in, std::regex("(\\d+) bytes in, (\\d+) used, (\\d+) pending")));
  EXPECT_EQ(std::stoul(in[1]), std::stoul(in[2]) + std::stoul(in[3]) + 5 + 3 * bad.size());
}

TEST(Daemon, AnswersEveryCommandThatIsNoneAndGoesOn) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->ask("shims please"), StartsWith("refused shims: no such command"));
  EXPECT_THAT(daemon->ask("station 1200"),
              StartsWith("refused station: number 1200, but the run has stations 1 to 7"));
  EXPECT_THAT(daemon->ask("station 0"), StartsWith("refused station: "));
  EXPECT_THAT(daemon->ask("station 3100 mm"), StartsWith("refused station: 3100 mm is off the run"));
  EXPECT_THAT(daemon->ask("station 1234 mm"), HasSubstr("the nearest is at 1000 mm"));
  EXPECT_THAT(daemon->ask("stage upside down"), HasSubstr("the stages are \"hung\", \"in use\""));
  EXPECT_THAT(daemon->ask("undo"), StartsWith("refused undo: nothing has been taken"));
  EXPECT_THAT(daemon->ask(std::string("\xff\x00\x1b[2J", 6)), StartsWith("refused "));
  EXPECT_THAT(daemon->ask(std::string(100'000, 'x')), StartsWith("refused line: longer than 200"));
  EXPECT_THAT(daemon->ask("\n  \n\nstation 7"), StartsWith("here station 3000 mm"));
  daemon->send("help\n");
  EXPECT_THAT(daemon->await({"help"}), HasSubstr("station 1200 mm"));
}

TEST(Daemon, SetsTheLastTakeAsideOnUndo) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  daemon->ask("station 1");
  daemon->ask("take");
  daemon->ask("station 2");
  daemon->ask("take");
  EXPECT_THAT(daemon->ask("undo"), StartsWith("undone 1 readings set aside"));
  const auto result = daemon->ask("done");
  EXPECT_EQ(daemon->end(), 0);
  EXPECT_EQ(daemon->said().back(), "done survey 1, 1 readings, book " + bench.book());
  const auto booked = readings(bench);
  ASSERT_EQ(booked.size(), 2u);
  EXPECT_TRUE(booked[0].kept);
  EXPECT_FALSE(booked[1].kept);
  EXPECT_EQ(booked[1].reason, "undone by hand");
}

TEST(Daemon, MendsATakeOfBothFacesInOneAct) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  for (const char* command : {"station 1", "take", "face 2", "take", "station 3", "take", "face 1"})
    daemon->ask(command);
  EXPECT_THAT(daemon->ask("take"),
              StartsWith("taken 1"));  // both faces at 1000 mm, but they stood at 1500 mm
  const auto mend = [&](const std::string& command) {
    daemon->send(command + '\n');
    return daemon->await({"corrected", "refused"});
  };
  EXPECT_THAT(mend("correct take last face 2"), HasSubstr("both faces are in it"));
  EXPECT_THAT(mend("correct take last set-up B"), HasSubstr("only a distance has a set-up"));
  EXPECT_THAT(mend("correct take last station 4"), HasSubstr("the instruments stand there now: 1500 mm"));
  EXPECT_THAT(daemon->ask("edge left"), HasSubstr("station 1500 mm"));
  auto booked = readings(bench);
  ASSERT_EQ(booked.size(), 4u);
  EXPECT_DOUBLE_EQ(booked[1].reading.at_m, 0);
  EXPECT_DOUBLE_EQ(booked[2].reading.at_m, 1.5);
  EXPECT_DOUBLE_EQ(booked[3].reading.at_m, 1.5);

  const std::string first = std::to_string(booked[0].number);
  EXPECT_THAT(mend("set aside take " + first + " the shelf was bumped"), HasSubstr("one take of 2 readings"));
  EXPECT_THAT(mend("set aside take " + first + " again"),
              HasSubstr("set aside already: the shelf was bumped"));
  EXPECT_THAT(daemon->ask("undo"), StartsWith("undone 2 readings"));
  for (const book::BookedReading& each : readings(bench)) EXPECT_FALSE(each.kept);
  EXPECT_THAT(daemon->ask("undo"), StartsWith("refused undo: nothing has been taken"));
  EXPECT_THAT(mend("put back take " + first + " it was not"), StartsWith("corrected"));
  booked = readings(bench);
  EXPECT_TRUE(booked[0].kept && booked[1].kept);
  EXPECT_FALSE(booked[2].kept || booked[3].kept);
  daemon->ask("done");
  EXPECT_EQ(daemon->end(), 0);
}

TEST(Daemon, GoesOnToTheNextPlaceOfThePlan) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  const std::string first = daemon->ask("go on");
  ASSERT_THAT(first, StartsWith("here station "));
  daemon->ask("take");
  EXPECT_EQ(daemon->ask("go on"), first) << "the other face is not read yet";
  // So often as the plan wants that place read.
  std::string taken;
  for (int turn = 2; turn < 20 && taken.find("; go on: ") == std::string::npos; ++turn) {
    daemon->ask(turn % 2 == 0 ? "face 2" : "face 1");
    taken = daemon->ask("take");
  }
  EXPECT_THAT(taken, HasSubstr("; go on: "));
  daemon->ask("face 1");
  EXPECT_NE(daemon->ask("go on"), first);
  daemon->signal(SIGTERM);
  EXPECT_EQ(daemon->end(), 0);
}

TEST(Daemon, KeepsTheSurveyOpenOnASignalAndGoesOnWithIt) {
  Bench bench;
  Instrument instrument(bench.port());
  for (const int number : {SIGTERM, SIGINT}) {
    const auto daemon = bench.ready();
    daemon->ask("set-up by the door");
    daemon->ask("station 3");
    EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
    daemon->signal(number);
    EXPECT_EQ(daemon->end(), 0);
    EXPECT_THAT(daemon->said().back(), StartsWith("stopped survey 1 stays open"));
    EXPECT_FALSE(survey(bench).closed);
  }
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->said().back(), HasSubstr("survey 1, gone on with: 2 readings"));
  EXPECT_THAT(daemon->ask("station 1"), HasSubstr("set-up by the door"));
  EXPECT_THAT(daemon->ask("undo"), StartsWith("undone 1 readings"));
  EXPECT_THAT(daemon->ask("done"), StartsWith("result "));
  EXPECT_EQ(daemon->end(), 0);
  EXPECT_EQ(readings(bench).size(), 2u);
  EXPECT_TRUE(survey(bench).closed);
}

TEST(Daemon, LosesNoReadingItHasAcknowledgedThoughItIsKilledTwoHundredTimes) {
  Bench bench;
  bench.write("kit.toml", std::regex_replace(kit_text(bench.port()), std::regex("100 ms"), "20 ms"));
  Instrument instrument(bench.port());
  ::signal(SIGPIPE, SIG_IGN);
  std::mt19937 random(200);
  std::size_t acknowledged = 0;
  for (int kill = 0; kill < trials(200); ++kill) {
    const auto daemon = bench.ready();
    const std::size_t before = readings(bench).size();  // the audit is in it
    ASSERT_GE(before, acknowledged) << "after kill " << kill;
    ASSERT_THAT(daemon->said(),
                Contains(HasSubstr(before == 0 ? "survey 1"
                                               : "gone on with: " + std::to_string(before) + " readings")));
    acknowledged = before;
    daemon->ask("station 3");
    // Every second time once something is acknowledged, however busy the machine.
    std::promise<void> first;
    std::thread killer([&, acknowledges = first.get_future(), after_the_first = kill % 2 == 0,
                        wait = std::chrono::microseconds(random() % 150'000)] {
      if (after_the_first) acknowledges.wait_for(std::chrono::seconds(30));
      std::this_thread::sleep_for(wait);
      daemon->signal(SIGKILL);
    });
    bool none = true;
    for (std::string answer = daemon->ask_if_it_lives("take"); !answer.empty();
         answer = daemon->ask_if_it_lives("take")) {
      if (!answer.starts_with("taken 1")) continue;
      ++acknowledged;
      if (std::exchange(none, false)) first.set_value();
    }
    killer.join();
    EXPECT_EQ(daemon->end(), 128 + SIGKILL);
  }
  EXPECT_GE(readings(bench).size(), acknowledged);
  if (kSharesTell) {
    EXPECT_GE(acknowledged, 100u) << "there was something to lose";
  }
}

TEST(Daemon, KeepsRunningWhenNobodyCommandsItAnyMore) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  daemon->send("station 2");  // without an end: still a command
  daemon->close_input();
  EXPECT_NE(daemon->await({"settled"}), "");
  EXPECT_THAT(daemon->said(), Contains(StartsWith("here station 500 mm")));
  EXPECT_THAT(daemon->said(), Contains(HasSubstr("it goes on keeping raw samples")));
  daemon->signal(SIGTERM);
  EXPECT_EQ(daemon->end(), 0);
}

// What the lines hold from before a station was said is no sample of it, however long the daemon could not read them.
TEST(Daemon, TakesNoSampleFromBeforeTheStationWasSaid) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.daemon({"--json-lines"});
  // Both within the spread that counts as settled.
  constexpr double kHere_deg = 0.1, kThere_deg = 0.105;
  const auto slope = [&] {
    for (;;) {
      const auto line = daemon->next_line();
      if (!line) return 0.0;
      const auto json = nlohmann::json::parse(*line);
      if (json.at("event") != "taken" && json.at("event") != "refused") continue;
      EXPECT_EQ(json.at("event"), "taken") << *line;
      return json.contains("readings") ? json.at("readings").at(0).at("value").get<double>() : 0.0;
    }
  };
  for (int trial = 0; trial < 10; ++trial) {
    instrument.pitch(kHere_deg);
    daemon->send("station 2\ntake\n");
    EXPECT_NEAR(slope(), -std::tan(kHere_deg * kDegree), 0.0005 * kDegree);
    daemon->signal(SIGSTOP);
    std::this_thread::sleep_for(std::chrono::milliseconds(150));  // samples of the former place gather
    instrument.pitch(kThere_deg);
    daemon->send("station 3\ntake\n");
    daemon->signal(SIGCONT);
    EXPECT_NEAR(slope(), -std::tan(kThere_deg * kDegree), 0.0005 * kDegree) << trial;
  }
}

TEST(Daemon, TakesNothingWhereAnotherPlaceWasTypedBehindItWhileItWasHeldUp) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  EXPECT_NE(daemon->ask("station 1"), "");
  daemon->signal(SIGSTOP);
  daemon->send("station 2\ntake\nstation 3\ntake\n");
  std::this_thread::sleep_for(std::chrono::milliseconds(1'500));  // held up, at least for so long
  daemon->signal(SIGCONT);
  EXPECT_THAT(daemon->await({"taken", "refused"}), HasSubstr("nobody knows where the instruments stood"));
  EXPECT_THAT(daemon->await({"taken", "refused"}), StartsWith("taken 1 readings at 1000 mm"));
}

TEST(Daemon, GoesOnThoughNobodyReadsItsLog) {
  Bench bench;
  ASSERT_EQ(::mkfifo(bench.path("log").c_str(), 0600), 0);
  const int held = ::open(bench.path("log").c_str(), O_RDWR | O_NONBLOCK | O_CLOEXEC);
  const std::string full(4096, '.');
  while (::write(held, full.data(), full.size()) > 0) {
  }
  while (::write(held, ".", 1) > 0) {
  }
  const auto daemon = bench.ready();  // without its instrument, which is worth a line of the log
  EXPECT_NE(daemon->await({"lost", "state"}), "");
  EXPECT_THAT(daemon->ask("station 2"), StartsWith("here station 500 mm"));
  daemon->send("done\n");
  EXPECT_EQ(daemon->end(), 0);
  ::close(held);
}

TEST(Daemon, BeginsTheNextStageWithWhatTheFormerOneTaught) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.daemon({"--json-lines"});
  const auto zero_prior = [&](const std::string& line) {
    const auto json = nlohmann::json::parse(line);
    for (const auto& parameter : json.at("fit").at("parameters"))
      if (parameter.at("name") == "level slope: zero") return parameter.at("prior_sigma").get<double>();
    ADD_FAILURE() << "no zero error in " << line;
    return 0.0;
  };
  daemon->send("station 3\ntake\nface 2\ntake\ncard\nstage In Use\ntake\ncard\n");
  std::vector<double> priors;
  while (priors.size() < 2) {
    const auto line = daemon->next_line();
    ASSERT_TRUE(line);
    if (line->find("\"event\":\"result\"") != std::string::npos) priors.push_back(zero_prior(*line));
  }
  ASSERT_EQ(priors.size(), 2u);
  EXPECT_DOUBLE_EQ(priors[0], 3e-4) << "as the kit sheet has it";
  EXPECT_LT(priors[1], 0.5 * priors[0]) << "both faces were read at the first stage";
}

TEST(Daemon, CarriesOnFromTheBookAsItDoesFromMemory) {
  Bench bench;
  Instrument instrument(bench.port());
  {
    const auto daemon = bench.ready();
    daemon->ask("station 3");
    daemon->ask("take");
    daemon->ask("face 2");
    daemon->ask("take");
    EXPECT_THAT(daemon->ask("done"), StartsWith("result "));
    EXPECT_EQ(daemon->end(), 0);
  }
  const auto daemon = bench.ready({"--stage", "in use"});
  EXPECT_THAT(daemon->said().back(), HasSubstr("stage in use, survey 2"));
  daemon->ask("station 3");
  daemon->ask("take");
  const std::string result = daemon->ask("card");
  ASSERT_THAT(result, StartsWith("result "));
  bool found = false;
  const auto json = nlohmann::json::parse(result.substr(7));
  for (const auto& parameter : json.at("fit").at("parameters")) {
    if (parameter.at("name") != "level slope: zero") continue;
    found = true;
    EXPECT_LT(parameter.at("prior_sigma").get<double>(), 1.5e-4);
  }
  EXPECT_TRUE(found);
}

TEST(Daemon, GivesOneObjectALineForPrograms) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.daemon({"--json-lines"});
  daemon->send("station 3\ntake\nnonsense\ndone\n");
  EXPECT_EQ(daemon->end(), 0);
  std::vector<std::string> events;
  for (const std::string& line : daemon->said()) {
    const auto json = nlohmann::json::parse(line, nullptr, false);
    ASSERT_TRUE(json.is_object()) << line;
    events.push_back(json.at("event"));
    if (events.back() != "taken") continue;
    const auto& reading = json.at("readings").at(0);
    EXPECT_EQ(reading.at("channel"), "slope");
    EXPECT_DOUBLE_EQ(reading.at("at_m"), 1.0);
    EXPECT_EQ(reading.at("entry"), readings(bench).at(0).number);
  }
  for (const char* event : {"ready", "here", "taken", "live", "refused", "result", "done"})
    EXPECT_THAT(events, Contains(event));
}

TEST(Daemon, TakesTheStationFromAnInstrumentThatTellsIt) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  instrument.say_once(sentence("IIXDR,G,5,,POS"));
  EXPECT_EQ(daemon->await({"station"}), "station level 2000 mm");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings at 2000 mm"));
}

TEST(Daemon, SaysWhereAPersonAndAnInstrumentTellOfTwoStations) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  instrument.say_once(sentence("IIXDR,G,5,,POS"));
  daemon->await({"station"});
  daemon->ask("station 3");
  EXPECT_EQ(daemon->await({"warning"}),
            "warning level tells 2000 mm, but 1000 mm was said by hand, and counts now: see which is right.");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings at 1000 mm"));
  instrument.say_once(sentence("IIXDR,G,2,,POS"));
  EXPECT_EQ(daemon->await({"warning"}),
            "warning level tells 500 mm, which counts now, but 1000 mm was said by hand before: see which is "
            "right.");
  daemon->ask("station 2");
  daemon->ask("done");
  EXPECT_EQ(std::count_if(daemon->said().begin(), daemon->said().end(),
                          [](const std::string& line) { return line.starts_with("warning level tells"); }),
            2);
}

TEST(Daemon, ReadsOnlyDistancesAtAStableMark) {
  Bench bench;
  bench.write(
      "run.toml",
      kRunText +
          "[[mark]]\nname = \"door frame\"\nat = \"-450 mm\"\n[[mark]]\nname = \"column\"\nat = \"1 m\"\n");
  bench.write("kit.toml", kit_text(bench.port()) + R"([[instrument.channel]]
transducer = "FAR"
gives = "distance"
sigma = "0.3 mm"
settle = { window = "100 ms", spread = "1 mm" }
station = "walking"
edge = "left"
)");
  int turn = 0;
  Responder device(bench.port(), [&](std::string_view) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
    return sentence(++turn % 2 == 0 ? "IIXDR,A,0.1000,D,PITCH,A,0.1,D,POST,D,1.2500,M,FAR"
                                    : "IIXDR,A,0.1001,D,PITCH,A,0.1001,D,POST,D,1.2501,M,FAR");
  });
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->ask("station lintel"),
              AllOf(StartsWith("refused station: \"lintel\" is no length"), HasSubstr("door frame, column")));
  daemon->ask("face 2");
  EXPECT_THAT(daemon->ask("station Door Frame"), StartsWith("here mark door frame, set-up 1, stage hung"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings at mark door frame, set-up 1"));
  daemon->ask("station 3");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 2 readings at 1000 mm, face 2"));
  const auto taken = readings(bench);
  ASSERT_EQ(taken.size(), 3u);
  EXPECT_EQ(taken[0].reading.mark, "door frame");
  EXPECT_EQ(taken[0].reading.at_m, -0.45);
  EXPECT_EQ(taken[0].reading.face, 1);
  EXPECT_EQ(taken[0].reading.edge, survey::Edge::middle);
  EXPECT_EQ(taken[1].reading.mark, "");
  const auto correct = [&](const book::BookedReading& reading, const std::string& to) {
    daemon->send("correct " + std::to_string(reading.number) + ' ' + to + '\n');
    return daemon->await({"corrected", "refused"});
  };
  EXPECT_EQ(taken[1].reading.channel, Channel::slope);
  EXPECT_THAT(correct(taken[1], "station column"), HasSubstr("only a distance is read at a mark"));
  EXPECT_THAT(correct(taken[2], "station column"), HasSubstr(" mm at mark column, set-up 1"));
  EXPECT_THAT(correct(taken[0], "edge left"), HasSubstr("a mark has no edge"));
  EXPECT_THAT(correct(taken[0], "station 1"), HasSubstr("at 0 mm, set-up 1, edge middle"));
  EXPECT_EQ(readings(bench)[2].reading.mark, "column");
  EXPECT_EQ(readings(bench)[0].reading.mark, "");
}

TEST(Daemon, TakesNothingAtAMarkWithoutADistance) {
  Bench bench;
  bench.write("run.toml", kRunText + "[[mark]]\nname = \"column\"\nat = \"1 m\"\n");
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->ask("station column"), StartsWith("here mark column"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: only a distance is read at a mark"));
  EXPECT_THAT(daemon->ask("station 3 kg"), HasSubstr("or a mark of the run sheet: column"));
}

TEST(Daemon, SaysOnceThatTheBookCannotGrowAndGoesOnWhenItCanAgain) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  daemon->ask("station 3");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
  daemon->limit_files(100);  // no write of the book's gets through
  EXPECT_THAT(daemon->await({"trouble"}), HasSubstr("cannot be written"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: " + bench.book()));
  EXPECT_THAT(daemon->ask("station 4"), StartsWith("here station 1500 mm"));
  EXPECT_NE(daemon->await({"settled"}), "") << "live values go on";
  daemon->limit_files(RLIM_INFINITY);
  EXPECT_THAT(daemon->await({"trouble"}), StartsWith("trouble over: "));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1 readings at 1500 mm"));
  EXPECT_THAT(daemon->status(), HasSubstr("raw samples are not in the book"));
  EXPECT_THAT(daemon->ask("done"), StartsWith("result "));
  EXPECT_EQ(daemon->end(), 0);
  EXPECT_EQ(readings(bench).size(), 2u);
}

TEST(Daemon, SaysThatItsBookWasTakenAwayAcknowledgesNothingAndKeepsWhatItHolds) {
  for (const bool replaced : {false, true}) {
    Bench bench;
    Instrument instrument(bench.port());
    const auto daemon = bench.ready();
    daemon->ask("station 3");
    EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
    const std::string rescue = bench.path("B-rescue.levelbook");
    if (replaced) {  // as a syncing program does it
      std::filesystem::copy_file(bench.book(), bench.path("older"));
      std::filesystem::rename(bench.path("older"), bench.book());
    } else {
      std::filesystem::remove(bench.book());
    }
    EXPECT_THAT(daemon->await({"trouble"}), AllOf(HasSubstr("nothing is acknowledged"), HasSubstr(rescue)));
    EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: " + bench.book()));
    daemon->send("done\n");  // shows the card first
    EXPECT_THAT(daemon->await({"refused", "stopped"}),
                AllOf(StartsWith("refused done: "), HasSubstr("To go on:")));
    daemon->send("seal\n");
    EXPECT_THAT(daemon->await({"refused", "sealed"}), StartsWith("refused seal: "));
    daemon->signal(SIGTERM);
    EXPECT_EQ(daemon->end(), 0);
    const auto book = book::Book::open_to_read(rescue);
    ASSERT_TRUE(book.ok()) << book.fault().says;
    EXPECT_TRUE(book.value().audit().value().whole());
    EXPECT_EQ(book.value().surveys().value().at(0).readings, 1) << "what was acknowledged";
    Child again({bench.path("run.toml"), bench.path("kit.toml"), "--page", "off", "--book", rescue},
                bench.path("log"));
    EXPECT_THAT(again.await({"ready"}), HasSubstr("gone on with: 1 readings"));
  }
}

TEST(Daemon, LosesNoReadingToWhoCopiesTheFileOfItsBookAlone) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  daemon->ask("station 3");
  for (int taken = 1; taken <= 3; ++taken) {
    EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
    const std::string copy = bench.path("copy-" + std::to_string(taken));
    std::filesystem::copy_file(bench.book(), copy);
    const auto book = book::Book::open_to_read(copy);
    ASSERT_TRUE(book.ok()) << book.fault().says;
    const auto audit = book.value().audit().value();
    EXPECT_TRUE(audit.whole());
    EXPECT_TRUE(audit.log_may_be_missing);
    EXPECT_EQ(book.value().surveys().value().at(0).readings, taken);
  }
}

TEST(Daemon, SaysThatTheLastEntryOfItsBookIsInTheFuture) {
  Bench bench;
  for (const bool later : {true, false}) {
    const auto daemon = later ? bench.ready({"--clock-ahead", "400 days"}) : bench.ready();
    EXPECT_EQ(std::count_if(daemon->said().begin(), daemon->said().end(),
                            [](const std::string& line) {
                              return line.find("one of them is wrong") != std::string::npos;
                            }),
              later ? 0 : 1);
    daemon->signal(SIGTERM);
    EXPECT_EQ(daemon->end(), 0);
  }
}

// What keeps it from starting.

std::string changed(const std::string& text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return at == std::string::npos ? text : text.substr(0, at) + to + text.substr(at + from.size());
}

TEST(Daemon, NamesEverythingThatIsWrongWithItsSheetsAtOnce) {
  Bench bench;
  bench.write("run.toml", changed(changed(kRunText, "300 mm", "300"), "60 kg", "60"));
  EXPECT_EQ(bench.daemon()->end(), 2);
  EXPECT_THAT(bench.read("log"), HasSubstr("run.toml:3: "));
  EXPECT_THAT(bench.read("log"), HasSubstr("run.toml:22: "));
  bench.write("run.toml", kRunText);
  bench.write("kit.toml", changed(changed(kit_text("/dev/null"), "250 mm", "250"), "0.02 mm/m", "0.02 kg"));
  EXPECT_EQ(bench.daemon()->end(), 2);
  EXPECT_THAT(bench.read("log"), HasSubstr("kit.toml:9: "));
  EXPECT_THAT(bench.read("log"), HasSubstr("kit.toml:11: "));
}

TEST(Daemon, RefusesARunThatNothingHoldsAndAnInstrumentItDoesNotUnderstand) {
  Bench bench;
  bench.write("run.toml",
              changed(kRunText, R"(supports = ["wall bracket", "post"])", R"(supports = ["post"])"));
  EXPECT_EQ(bench.daemon()->end(), 2);
  EXPECT_THAT(bench.read("log"), HasSubstr("hung"));
  bench.write("run.toml", kRunText);
  bench.write("kit.toml", R"toml([[instrument]]
name = "level"
port = "/dev/null"
speaks = "line"
[[instrument.channel]]
transducer = "slope (*)"
unit = "mm/m"
gives = "slope"
sigma = "0.02 mm/m"
)toml");
  EXPECT_EQ(bench.daemon()->end(), 2);
  EXPECT_THAT(bench.read("log"), HasSubstr("instrument[1].channel[1].transducer: found "));
}

TEST(Daemon, EndsWithTwoOnWrongUseAndWithZeroOnHelp) {
  Bench bench;
  EXPECT_EQ(bench.daemon({"--stage", "upside down"})->end(), 2);
  EXPECT_THAT(bench.read("log"), HasSubstr("\"hung\", \"in use\""));
  EXPECT_EQ(bench.daemon({"--no-such-thing"})->end(), 2);
  EXPECT_EQ(bench.daemon({"--patience", "-1"})->end(), 2);
  EXPECT_EQ(Child({bench.path("run.toml")}, bench.path("log")).end(), 2);
  EXPECT_EQ(Child({"nothing.toml", "neither.toml", "--book", bench.book()}, bench.path("log")).end(), 2);
  EXPECT_THAT(bench.read("log"), HasSubstr("nothing.toml"));
  EXPECT_THAT(bench.read("log"), HasSubstr("neither.toml"));
  EXPECT_EQ(Child({"--help"}, bench.path("log")).end(), 0);
  EXPECT_FALSE(std::filesystem::exists(bench.book())) << "nothing was begun";
}

TEST(Daemon, EndsWithThreeWhenItHasNoBookToWriteIn) {
  Bench bench;
  const auto first = bench.ready();
  EXPECT_EQ(bench.daemon()->end(), 3);
  EXPECT_THAT(bench.read("log"), HasSubstr("another daemon writes in it"));
  EXPECT_EQ(
      Child({bench.path("run.toml"), bench.path("kit.toml"), "--book", bench.path("")}, bench.path("log"))
          .end(),
      3);
  EXPECT_THAT(bench.read("log"), HasSubstr("is a directory"));
  EXPECT_EQ(Child({bench.path("run.toml"), bench.path("kit.toml"), "--book", bench.path("run.toml")},
                  bench.path("log"))
                .end(),
            3);
  EXPECT_THAT(bench.read("log"), HasSubstr("is no level book"));
  EXPECT_EQ(bench.read("run.toml"), kRunText);
}

TEST(Daemon, WillNotGoOnWithABookThatWasChangedAndLeavesItAsItIs) {
  Bench bench;
  {
    const auto daemon = bench.ready();
    daemon->signal(SIGTERM);
    EXPECT_EQ(daemon->end(), 0);
  }
  std::string bytes = bench.read("B.levelbook");
  const std::size_t at = bytes.find("Bench shelf");
  ASSERT_NE(at, std::string::npos);
  bytes[at] = 'W';
  bench.write("B.levelbook", bytes);
  EXPECT_EQ(bench.daemon()->end(), 3);
  EXPECT_THAT(bench.read("log"), HasSubstr("entry 1 (run, "));
  EXPECT_EQ(bench.read("B.levelbook"), bytes);
}

TEST(Daemon, WantsAnotherNameForASurveyThatIsClosed) {
  Bench bench;
  {
    const auto daemon = bench.ready({"--survey", "as found"});
    EXPECT_THAT(daemon->said().back(), HasSubstr("survey as found"));
    EXPECT_THAT(daemon->ask("done"), StartsWith("done survey as found, 0 readings"));
    EXPECT_EQ(daemon->end(), 0);
  }
  EXPECT_EQ(bench.daemon({"--survey", "as found"})->end(), 3);
  EXPECT_THAT(bench.read("log"), HasSubstr("survey \"as found\""));
  EXPECT_THAT(bench.ready()->said().back(), HasSubstr("survey 2"));
}

std::string say(Child& daemon, const std::string& command) {
  daemon.send(command + '\n');
  return daemon.await({"made", "refused", "here", "undone", "taken"});
}

TEST(Daemon, TicksMovesOfTheCardAndReadsAgainInASurveyOfItsOwn) {
  Bench bench;
  Instrument instrument(bench.port());
  auto daemon = bench.ready();
  EXPECT_THAT(say(*daemon, "made 1"), HasSubstr("no card is on the job"));
  EXPECT_THAT(say(*daemon, "begin moves"), HasSubstr("nothing has been read"));
  const nlohmann::json shims = surveyed(*daemon, instrument);
  ASSERT_EQ(shims.at("moves").size(), 1u) << shims.dump();
  EXPECT_THAT(say(*daemon, "made 2"), HasSubstr("has 1 move"));
  EXPECT_THAT(say(*daemon, "not made 1"), HasSubstr("is not ticked"));
  EXPECT_THAT(say(*daemon, "made 1"), StartsWith("made 1: post, rise "));
  EXPECT_THAT(say(*daemon, "made 1"), HasSubstr("ticked as made already"));
  for (const char* command : {"take", "take fixed", "undo", "card"})
    EXPECT_THAT(say(*daemon, command), HasSubstr("read again begins a new survey")) << command;
  EXPECT_THAT(say(*daemon, "not made 1"), HasSubstr("not made after all"));
  EXPECT_THAT(say(*daemon, "undo"), StartsWith("undone"));
  EXPECT_THAT(say(*daemon, "made 1"), HasSubstr("no card is on the job"))
      << "its readings are not these any more";
  EXPECT_THAT(daemon->ask("card"), StartsWith("result"));
  EXPECT_THAT(say(*daemon, "made 1"), StartsWith("made 1"));

  EXPECT_THAT(say(*daemon, "not made 1"), HasSubstr("not made after all"));

  // Begun: the card stays as it is until its moves are made, or given up.
  EXPECT_THAT(daemon->ask("begin moves"), StartsWith("result"));
  EXPECT_THAT(say(*daemon, "take"), HasSubstr("must not change meanwhile"));
  EXPECT_THAT(say(*daemon, "begin moves"), HasSubstr("must not change meanwhile"));
  EXPECT_THAT(say(*daemon, "give up"), StartsWith("here"));
  EXPECT_THAT(say(*daemon, "give up"), StartsWith("refused give up: no check"));
  EXPECT_THAT(say(*daemon, "take"), StartsWith("taken"));
  EXPECT_THAT(daemon->ask("begin moves"), StartsWith("result"));
  EXPECT_THAT(say(*daemon, "made 1"), StartsWith("made 1"));

  // Killed, and started anew: the moves are still made.
  daemon->signal(SIGKILL);
  daemon->end();
  daemon = bench.ready();
  EXPECT_THAT(say(*daemon, "take"), HasSubstr("read again begins a new survey"));
  EXPECT_THAT(say(*daemon, "read again"), HasSubstr("stage hung, survey 2"));
  EXPECT_THAT(say(*daemon, "station 1"), StartsWith("here"));
  EXPECT_THAT(say(*daemon, "take"), StartsWith("taken"));
  daemon->signal(SIGTERM);
  EXPECT_EQ(daemon->end(), 0);
  EXPECT_TRUE(survey(bench, 0).closed);
  EXPECT_EQ(survey(bench, 0).moves, 1);
  EXPECT_EQ(survey(bench, 1).readings, 1);
}

TEST(Daemon, NoMoveIsMadeByACardWhoseReadingsContradictEachOther) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  for (const double degrees : {0.05, 0.6, 0.05, 0.6, 0.05, 0.6}) {
    instrument.pitch(degrees);
    EXPECT_THAT(daemon->ask("station 4"), StartsWith("here"));
    EXPECT_THAT(daemon->ask("take"), StartsWith("taken"));
  }
  const std::string result = daemon->ask("card");
  ASSERT_THAT(result, HasSubstr("\"hold_point\":\"read again\""));
  ASSERT_THAT(result, HasSubstr("\"order\":1"));
  EXPECT_THAT(say(*daemon, "begin moves"), HasSubstr("do not hold together"));
  EXPECT_THAT(say(*daemon, "made 1"), HasSubstr("do not hold together"));
}

TEST(Daemon, WhatIsSetAsideIsNotSetAsideAgain) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  EXPECT_THAT(daemon->ask("station 1"), StartsWith("here"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken"));
  daemon->send("readings\n");
  const std::string first = daemon->await({"reading"});
  const std::string entry = first.substr(8, first.find(':') - 8);
  EXPECT_THAT(say(*daemon, "put back " + entry + " why not"), HasSubstr("is not set aside"));
  daemon->send("set aside " + entry + " bumped\n");
  EXPECT_THAT(daemon->await({"corrected", "refused"}), StartsWith("corrected"));
  EXPECT_THAT(say(*daemon, "set aside " + entry + " again"), HasSubstr("set aside already: bumped"));
}

TEST(Daemon, StartedAnewItSaysWhichFaceAndEdgeItTakesFromTheBook) {
  Bench bench;
  Instrument instrument(bench.port());
  auto daemon = bench.ready();
  EXPECT_THAT(daemon->ask("station 2"), StartsWith("here"));
  EXPECT_THAT(daemon->ask("face 2"), StartsWith("here"));
  EXPECT_THAT(daemon->ask("edge right"), StartsWith("here"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken"));
  daemon->signal(SIGKILL);
  daemon->end();
  daemon = bench.ready();
  EXPECT_THAT(say(*daemon, "take"), HasSubstr("say first where")) << "a station has to be said";
  EXPECT_THAT(daemon->ask("station 3"), StartsWith("here station 1000 mm, face 2, edge right"));
}

}  // namespace
}  // namespace hangtrue::daemon
