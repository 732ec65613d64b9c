// Checks of the instruments, corrections and seals: the shipped daemon led by hand.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <regex>

#include <nlohmann/json.hpp>

#include "firmware-host/book/book.hpp"
#include "firmware-host/book/short_form.hpp"
#include "tests/firmware-host/daemon/bench.hpp"
#include "tests/firmware-host/daemon/responder.hpp"

namespace hangtrue::daemon {
namespace {

using ::testing::AllOf;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::StartsWith;

constexpr double kDegree = 3.14159265358979323846 / 180;

book::Book open(const Bench& bench) {
  auto book = book::Book::open_to_read(bench.book());
  EXPECT_TRUE(book.ok());
  EXPECT_TRUE(book.value().audit().value().whole());
  return std::move(book).value();
}

std::vector<book::BookedReading> readings(const Bench& bench) {
  const book::Book book = open(bench);
  return book.readings(book.surveys().value().front().number).value();
}

nlohmann::json parameter(const std::string& result, const std::string& name) {
  const auto json = nlohmann::json::parse(result.substr(std::string("result ").size()));
  for (const auto& parameter : json.at("fit").at("parameters"))
    if (parameter.at("name") == name) return parameter;
  ADD_FAILURE() << "no parameter " << name << " in " << result;
  return {};
}

class ZeroCheck : public ::testing::Test {
 protected:
  /// A place that climbs by 0.2 degrees, and an instrument that reads 0.05 degrees too much (sign -1: it counts the other
  /// way). Answers "check" and "checked" in turn.
  std::string walk_through(Child& daemon) {
    daemon.send("check zero\n");
    std::string answer = daemon.await({"check", "refused"});
    for (int step = 0; step < 20 && answer.rfind("check step ", 0) == 0; ++step) {
      const bool face_2 = step % 2 == 1;
      instrument_.pitch(-(face_2 ? -0.2 : 0.2) - 0.05);
      instructions_.push_back(answer);
      daemon.send("next\n");
      do answer = daemon.await({"check", "checked", "refused"});
      while (!answer.empty() && answer.rfind("check ", 0) == 0 && answer.rfind("check step ", 0) != 0 &&
             answer.rfind("check not in the book", 0) != 0);
    }
    return answer;
  }
  /// Its roll reads the same on both faces, 1.7 mm/m: far beyond the zero_sigma that its kit sheet has.
  static std::string keep(Child& daemon) {
    daemon.send("keep\n");
    return daemon.await({"checked", "refused"});
  }

  Bench bench_;
  Instrument instrument_{bench_.port()};
  std::vector<std::string> instructions_;
};

TEST_F(ZeroCheck, IsLedStepByStepKeptInTheBookAndUsedAsAPrior) {
  const auto daemon = bench_.ready();
  EXPECT_THAT(walk_through(*daemon), StartsWith("check not in the book: see above"));
  EXPECT_TRUE(open(bench_).checks().value().empty()) << "what is in doubt waits for a word";
  EXPECT_THAT(daemon->ask("next"), StartsWith("refused next: the check is done; keep"));
  EXPECT_THAT(daemon->ask("done"), StartsWith("refused done: a check is under way"));
  EXPECT_THAT(daemon->ask("stage in use"), StartsWith("refused stage: a check is under way"));
  EXPECT_THAT(daemon->ask("check zero"), StartsWith("refused check: a check is under way"));
  EXPECT_THAT(keep(*daemon), StartsWith("checked level"));
  EXPECT_THAT(keep(*daemon), StartsWith("refused keep: no check waits"));
  ASSERT_EQ(instructions_.size(), 6u);
  EXPECT_THAT(instructions_.front(), StartsWith("check step 1 of 6: "));
  EXPECT_THAT(instructions_.back(), StartsWith("check step 6 of 6: "));

  const auto checks = open(bench_).checks().value();
  ASSERT_FALSE(checks.empty());
  const auto* slope = std::get_if<book::ZeroCheck>(&checks.front().entry.content);
  ASSERT_NE(slope, nullptr);
  EXPECT_EQ(slope->instrument, "level");
  EXPECT_EQ(slope->channel, "slope");
  EXPECT_EQ(slope->face_1.size(), 3u);
  EXPECT_NEAR(slope->zero, 0.05 * kDegree, 1e-6);
  EXPECT_EQ(slope->temperature_C, 19.5);

  instrument_.pitch(-0.25);
  daemon->ask("station 500 mm");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
  const auto zero = parameter(daemon->ask("done"), "level slope: zero");
  EXPECT_NEAR(zero.at("prior_value").get<double>(), slope->zero, 1e-9);
  EXPECT_LT(zero.at("prior_sigma").get<double>(), 5e-5) << "the kit sheet alone has 3e-4";
}

TEST_F(ZeroCheck, StillCountsWhenTheDaemonWasStartedAnew) {
  {
    const auto daemon = bench_.ready();
    EXPECT_THAT(walk_through(*daemon), StartsWith("check not in the book"));
    EXPECT_THAT(keep(*daemon), StartsWith("checked level"));
  }
  const auto daemon = bench_.ready();
  instrument_.pitch(-0.25);
  daemon->ask("station 500 mm");
  daemon->ask("take");
  EXPECT_NEAR(parameter(daemon->ask("done"), "level slope: zero").at("prior_value").get<double>(),
              0.05 * kDegree, 1e-6);
}

TEST_F(ZeroCheck, HoldsUpATakeAndCanBeGivenUp) {
  const auto daemon = bench_.ready();
  EXPECT_THAT(daemon->ask("give up"), StartsWith("refused give up: no check"));
  EXPECT_THAT(daemon->ask("next"), StartsWith("refused next: no check"));
  daemon->send("check zero level\n");
  EXPECT_THAT(daemon->await({"check"}), StartsWith("check step 1 of 6"));
  daemon->send("station 1\n");
  daemon->await({"here"});
  EXPECT_THAT(daemon->ask("take"), StartsWith("refused take: a check is under way"));
  EXPECT_THAT(daemon->ask("give up"), StartsWith("here "));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
  EXPECT_TRUE(open(bench_).checks().value().empty());
}

TEST_F(ZeroCheck, OfAnInstrumentThatIsNotThereIsRefused) {
  const auto daemon = bench_.ready();
  EXPECT_THAT(daemon->ask("check zero laser"),
              StartsWith("refused check: there is no instrument \"laser\": level"));
  EXPECT_THAT(daemon->ask("check datum 0 mm to 3 m"), StartsWith("refused check: say which instrument"));
}

TEST(DatumCheck, FindsTheLasersOwnTiltAndCountsWhereItIsSaidToStand) {
  Bench bench;
  bench.write("kit.toml", R"([[instrument]]
name = "laser"
port = ")" + bench.port() + R"("
speaks = "line"
[[instrument.channel]]
transducer = "D {number} m"
gives = "distance"
unit = "m"
sigma = "0.1 mm"
settle = { window = "150 ms" }
)");
  Distance distance;
  Responder laser(bench.port(), [&](std::string_view) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
    return distance.line();
  });
  const auto daemon = bench.ready();
  // Before the start the plane climbs 0.2 mm/m, from beyond the end it falls as much; the run is level.
  constexpr double kTilt = 2e-4, kNear = 0.5, kFar = 2.5;
  daemon->send("check datum 500 mm to 2500 mm\n");
  std::string answer = daemon->await({"check", "refused"});
  int step = 0;
  for (; step < 40 && answer.rfind("check step ", 0) == 0; ++step) {
    const bool beyond_end = step >= 6;
    const double at = step % 2 == 0 ? kNear : kFar;
    distance.set(-1.4 - (beyond_end ? -kTilt : kTilt) * at);
    daemon->send("next\n");
    do answer = daemon->await({"check", "checked", "refused"});
    while (!answer.empty() && answer.rfind("check ", 0) == 0 && answer.rfind("check step ", 0) != 0);
  }
  EXPECT_THAT(answer, StartsWith("checked laser"));
  EXPECT_EQ(step, 12);
  const auto checks = open(bench).checks().value();
  ASSERT_EQ(checks.size(), 1u);
  const auto* datum = std::get_if<book::DatumCheck>(&checks.front().entry.content);
  ASSERT_NE(datum, nullptr);
  EXPECT_NEAR(datum->tilt_rad, kTilt, 2e-5);

  daemon->ask("set-up beyond the end at 4000 mm");
  daemon->ask("station 1000 mm");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
  const auto tilt = parameter(daemon->ask("done"), "set-up beyond the end: datum tilt");
  EXPECT_NEAR(tilt.at("prior_value").get<double>(), -datum->tilt_rad, 1e-9);
  EXPECT_LT(tilt.at("prior_sigma").get<double>(), 3e-4);
}

// An inclinometer on feet 250 mm apart, whose sign is -1 in the kit sheet; a piece of 5 mm turns it by 20 mm/m.
class ScaleCheck : public ::testing::Test {
 protected:
  ScaleCheck() {
    std::string kit = kit_text(bench_.port());
    const std::size_t post = kit.find("[[instrument.channel]]\ntransducer = \"POST\"");
    kit.erase(post, kit.find("[[instrument.channel]]", post + 1) - post);
    bench_.write("kit.toml", kit);
  }
  /// `sends`: of the true slope, what the instrument sends as degrees.
  template <class Sends>
  std::string walk_through(Child& daemon, const Sends& sends) {
    daemon.send("check scale 5 mm\n");
    std::string answer = daemon.await({"check", "refused"});
    for (int step = 0; step < 20 && answer.rfind("check step ", 0) == 0; ++step) {
      instructions_.push_back(answer);
      instrument_.pitch(sends(0.001 + (step % 2 == 1 ? 0.02 : 0.0)));
      daemon.send("next\n");
      do {
        answer = daemon.await({"check", "checked", "refused"});
        if (answer.rfind("check ", 0) == 0 && answer.rfind("check step ", 0) != 0) found_.push_back(answer);
      } while (!answer.empty() && answer.rfind("check ", 0) == 0 && answer.rfind("check step ", 0) != 0);
    }
    return answer;
  }
  static double degrees(double slope) { return std::atan(slope) / kDegree; }

  Bench bench_;
  Instrument instrument_{bench_.port()};
  std::vector<std::string> instructions_, found_;
};

TEST_F(ScaleCheck, IsLedStepByStepAndKeptInTheBook) {
  const auto daemon = bench_.ready();
  EXPECT_THAT(daemon->ask("check scale places 500 mm apart"),
              StartsWith("refused check: say which instrument"));
  EXPECT_THAT(daemon->ask("check scale 0.1 mm"), HasSubstr("too thin"));
  EXPECT_THAT(daemon->ask("check scale 5 mm with laser"),
              StartsWith("refused check: there is no instrument \"laser\""));
  EXPECT_THAT(walk_through(*daemon, [](double slope) { return -degrees(slope); }),
              StartsWith("checked level: in the book, and counts from now on"));
  ASSERT_EQ(instructions_.size(), 4u);
  EXPECT_THAT(instructions_[0], StartsWith("check step 1 of 4: Scale check of level"));
  EXPECT_THAT(instructions_[1], HasSubstr("nearer to the END of the run"));
  EXPECT_THAT(found_, Contains(HasSubstr("Scale, unit and sign are right.")));
  const auto checks = open(bench_).checks().value();
  ASSERT_EQ(checks.size(), 1u);
  const auto* scale = std::get_if<book::ScaleCheck>(&checks.front().entry.content);
  ASSERT_NE(scale, nullptr);
  EXPECT_EQ(scale->instrument, "level");
  EXPECT_EQ(scale->channel, "slope");
  EXPECT_NEAR(scale->scale, 1, 0.005);
  EXPECT_EQ(scale->with.size(), 2u);
  EXPECT_EQ(scale->feet_m, 0.25);
  EXPECT_TRUE(scale->sound);
  EXPECT_EQ(scale->temperature_C, 19.5);
}

TEST_F(ScaleCheck, ThatFindsAWrongSignOrUnitIsInTheBookTooAndSaysSo) {
  {
    const auto daemon = bench_.ready();
    EXPECT_THAT(walk_through(*daemon, degrees),
                StartsWith("checked level: in the book; what it found wrong does not count"));
    EXPECT_THAT(found_, Contains(AllOf(HasSubstr("the wrong way"), HasSubstr("write sign = 1 "))));
    EXPECT_THAT(daemon->ask("keep"), StartsWith("refused keep: no check waits"));
    found_.clear();
    // A degree for every 20 mm/m.
    EXPECT_THAT(walk_through(*daemon, [](double slope) { return -0.05 * slope / 0.001; }),
                StartsWith("checked level"));
    EXPECT_THAT(found_, Contains(HasSubstr("which no unit explains")));
  }
  const auto checks = open(bench_).checks().value();
  ASSERT_EQ(checks.size(), 2u);
  for (const auto& each : checks) EXPECT_FALSE(std::get<book::ScaleCheck>(each.entry.content).sound);
  EXPECT_LT(std::get<book::ScaleCheck>(checks[0].entry.content).scale, -0.99);
}

TEST_F(ScaleCheck, ThatCannotSettleNamesTheUnitAsACause) {
  const auto daemon = bench_.ready({"--patience", "1"});
  instrument_.pitch(-20);  // mm/m, called degrees: beyond the range of 50 mm/m
  daemon->send("check scale 5 mm\n");
  daemon->await({"check", "refused"});
  EXPECT_THAT(daemon->ask("next"), HasSubstr("its unit in the kit sheet is wrong"));
}

TEST(DaemonCorrections, AreEntriesThatTheFitGoesByAtOnce) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  instrument.pitch(-0.2);
  daemon->ask("station 500 mm");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1"));
  const auto first = readings(bench).front();
  const std::string number = std::to_string(first.number);

  daemon->send("correct " + number + " station 1500 mm\n");
  EXPECT_THAT(daemon->await({"corrected", "refused"}),
              StartsWith("corrected " + number + ": level slope 3.49 mm/m at 1500 mm, face 1, edge left"));
  EXPECT_NE(daemon->await({"live"}), "") << "fitted anew";
  daemon->send("correct " + number + " face 2\n");
  EXPECT_THAT(daemon->await({"corrected", "refused"}), HasSubstr("at 1500 mm, face 2"));
  daemon->send("set aside " + number + " somebody leaned on it\n");
  EXPECT_THAT(daemon->await({"corrected", "refused"}), HasSubstr("set aside: somebody leaned on it"));
  EXPECT_THAT(daemon->ask("card"), StartsWith("refused card: nothing has been read"));
  daemon->send("put back " + number + " nobody did\n");
  EXPECT_THAT(daemon->await({"corrected", "refused"}), HasSubstr("kept again: nobody did"));
  daemon->send("readings\n");
  EXPECT_THAT(daemon->await({"reading"}),
              StartsWith("reading " + number + ": level slope 3.49 mm/m at 1500 mm, face 2, edge left"));
  EXPECT_EQ(daemon->await({"reading"}), "reading end");

  EXPECT_THAT(daemon->ask("correct 1 face 1"),
              StartsWith("refused correct: entry 1 is no reading of this survey"));
  EXPECT_THAT(daemon->ask("correct " + number + " station 777 mm"), HasSubstr("no station at 777 mm"));
  EXPECT_THAT(daemon->ask("correct " + number + " set-up 2"), HasSubstr("only a distance has a set-up"));
  EXPECT_THAT(daemon->ask("set aside 99999 why"), StartsWith("refused set aside: entry 99999 is no reading"));

  const auto now = readings(bench).front();
  EXPECT_DOUBLE_EQ(now.reading.at_m, 1.5);
  EXPECT_EQ(now.reading.face, -1);
  EXPECT_TRUE(now.kept);
  EXPECT_DOUBLE_EQ(now.taken.reading.at_m, 0.5) << "what was first written stays";
}

TEST(DaemonCorrections, LeaveATakeWholeForUndo) {
  Bench bench;
  bench.write("kit.toml", std::regex_replace(kit_text(bench.port()), std::regex("2500 mm"), "walking"));
  Instrument instrument(bench.port());
  auto daemon = bench.ready();
  daemon->ask("station 500 mm");
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 2"));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 2"));
  const std::string number = std::to_string(readings(bench).back().number);
  daemon->send("correct " + number + " station 1500 mm\n");
  daemon->await({"corrected", "refused"});
  EXPECT_THAT(daemon->ask("undo"), StartsWith("undone 2 readings"));
  daemon.reset();
  daemon = bench.ready();
  EXPECT_THAT(daemon->ask("undo"), StartsWith("undone 2 readings")) << "after a restart as well";
  EXPECT_THAT(daemon->ask("undo"), StartsWith("refused undo: nothing has been taken"));
}

TEST(DaemonSeal, GivesACodeThatTheBookStandsUpTo) {
  Bench bench;
  Instrument instrument(bench.port());
  const auto daemon = bench.ready();
  daemon->ask("station 1");
  daemon->ask("take");
  daemon->send("seal\n");
  const std::string sealed = daemon->await({"sealed", "refused"});
  EXPECT_THAT(sealed, StartsWith("sealed entries 1 to "));
  const auto audit = open(bench).audit().value();
  ASSERT_EQ(audit.seals.size(), 1u);
  EXPECT_THAT(sealed, HasSubstr("code " + book::short_form(audit.seals.front().hash)));
  EXPECT_THAT(daemon->ask("take"), StartsWith("taken 1")) << "a sealed book goes on";
}

}  // namespace
}  // namespace hangtrue::daemon
