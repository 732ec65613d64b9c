// What instruments must read while a nut turns or a load comes on, and how often "stop" is said.
//
// What is true is worked out beside it: by the solver at states that the target was never told of, or drawn from what the fit
// leaves open. Fixed seeds.
#include "firmware-host/job/live_target.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "tests/firmware-host/fixtures/shelf.hpp"
#include "tests/trials.hpp"

namespace hangtrue::job {
namespace {

constexpr double kSigma = 3e-5;  // rad, of a reading now and of the one before
constexpr int kBracket = 0, kRod = 1;

class WatchedShelf {
 public:
  explicit WatchedShelf(const sheet::RunSheet& sheet = fixtures::shelf())
      : run(sheet), survey(run, nullptr, 0) {
    for (const sheet::ReadingEntry& entry : fixtures::tilted_readings(run)) survey.add(entry);
    EXPECT_TRUE(survey.fit());
  }

  /// Slopes at the near third, face 1, and near the rod, face 2; and a roll in the middle.
  [[nodiscard]] std::vector<WatchedChannel> watched() const {
    std::vector<WatchedChannel> all;
    const auto add = [&](Channel channel, double at_m, int face) {
      WatchedChannel each{{"level " + std::to_string(all.size()), channel}, {}};
      each.place.channel = channel;
      each.place.at_m = at_m;
      each.place.face = std::int8_t(face);
      each.place.value = 1e-3 * double(all.size() + 1);
      each.place.sigma = kSigma;
      all.push_back(each);
    };
    add(Channel::slope, 0.9, 1);
    add(Channel::slope, 3.6, -1);
    add(Channel::roll, 2.1, 1);
    return all;
  }

  [[nodiscard]] LiveTarget rod_up(double rise_m, std::vector<WatchedChannel> channels) {
    return target_of_move(survey, {{}, kRod, {rise_m, 0, 0}}, std::move(channels)).value();
  }

  /// How much each channel reads more where the rod rose by so much and the bracket's zero turned by so much.
  [[nodiscard]] std::vector<double> truly(const std::vector<WatchedChannel>& channels, double rise_m,
                                          double pitch_rad, double roll_rad = 0) {
    const SolvedRun before(run);
    SolvedRun after(run);
    beam::State<double> state = state_of_sheet(run);
    state.move_stage = 0;
    state.move[kRod].rise = rise_m;
    state.move[kBracket].pitch = pitch_rad;
    state.move[kBracket].roll = roll_rad;
    EXPECT_TRUE(after.solver().solve(state));
    std::vector<double> change;
    for (const WatchedChannel& each : channels) {
      const auto at = [&](const SolvedRun& solved) {
        const beam::Section<double> here = solved.solver().at(0, each.place.at_m);
        return each.place.face * (each.place.channel == Channel::roll ? here.roll_rad : here.slope_rad);
      };
      change.push_back(at(after) - at(before));
    }
    return change;
  }

  const sheet::RunSheet& run;
  SurveyFit survey;
};

std::vector<ReadsNow> reads(const std::vector<WatchedChannel>& channels, const std::vector<double>& change) {
  std::vector<ReadsNow> now;
  for (std::size_t i = 0; i < channels.size(); ++i)
    now.push_back({channels[i].place.value + change[i], kSigma});
  return now;
}

TEST(LiveTarget, SaysHowFarAMoveHasComeAndWhatMustBeReadAtItsEnd) {
  WatchedShelf shelf;
  const auto channels = shelf.watched();
  const LiveTarget target = shelf.rod_up(4e-3, channels);
  const std::vector<double> all = shelf.truly(channels, 4e-3, 0);
  for (const double share : {0.0, 0.25, 0.6, 1.0}) {
    const TargetNow now = target.look(reads(channels, shelf.truly(channels, share * 4e-3, 0)));
    EXPECT_NEAR(now.share, share, 0.03) << "the fit is of readings with noise";
    EXPECT_EQ(now.verdict, share == 1 ? TargetVerdict::done : TargetVerdict::on_the_way) << share;
    for (std::size_t i = 0; i < channels.size(); ++i) {
      EXPECT_NEAR(now.channels[i].must_read, channels[i].place.value + all[i], now.channels[i].band);
      EXPECT_GT(now.channels[i].band, 2 * kSigma);
    }
    EXPECT_TRUE(now.looks_like.empty());
  }
  EXPECT_EQ(target.look(reads(channels, shelf.truly(channels, 5e-3, 0))).verdict, TargetVerdict::too_far);
  EXPECT_EQ(target.look(reads(channels, shelf.truly(channels, -2e-3, 0))).verdict, TargetVerdict::wrong_way);
}

TEST(LiveTarget, StopsWhereTheBracketGivesAndNamesIt) {
  WatchedShelf shelf;
  const auto channels = shelf.watched();
  const LiveTarget target = shelf.rod_up(4e-3, channels);
  // The rod turns on, the bracket's zero turns with it from the middle on.
  bool stopped = false;
  for (double share = 0; share <= 1; share += 0.02) {
    const double pitch_rad = share < 0.5 ? 0 : -2e-2 * (share - 0.5);
    const TargetNow now = target.look(reads(channels, shelf.truly(channels, share * 4e-3, pitch_rad)));
    if (share < 0.5) {
      ASSERT_NE(now.verdict, TargetVerdict::stop) << share;
    }
    if (now.verdict != TargetVerdict::stop) continue;
    stopped = true;
    ASSERT_FALSE(now.looks_like.empty());
    EXPECT_EQ(now.looks_like.front().what.name, "wall bracket");
    EXPECT_LT(pitch_rad, 0);
  }
  EXPECT_TRUE(stopped);
}

TEST(LiveTarget, OneChannelAloneCannotTellAMoveThatGoesWrongFromOneThatIsNotDone) {
  WatchedShelf shelf;
  const std::vector<WatchedChannel> one{shelf.watched()[1]};
  const TargetNow now = shelf.rod_up(4e-3, one).look(reads(one, shelf.truly(one, 2e-3, -5e-4)));
  EXPECT_EQ(now.verdict, TargetVerdict::on_the_way);
  EXPECT_TRUE(now.looks_like.empty());
}

/// Draws of what the fit leaves open, of the noise before, and of the noise of each look.
class Drawn {
 public:
  explicit Drawn(unsigned seed) : random_(seed) {}
  double normal() { return normal_(random_); }
  [[nodiscard]] std::vector<double> open(std::size_t unknowns) {
    std::vector<double> z(unknowns);
    for (double& each : z) each = normal();
    return z;
  }
  bool coin() { return normal() > 0; }

 private:
  std::mt19937 random_;
  std::normal_distribution<double> normal_;
};

double true_change(const Corner& corner, std::size_t channel, const std::vector<double>& z) {
  double change = corner.change[channel];
  for (std::size_t k = 0; k < z.size(); ++k) change += corner.row[channel][k] * z[k];
  return change;
}

/// Of so many that go as predicted, over these corners one after the other: how many are stopped.
int stopped(const LiveTarget& target, int runs, unsigned seed, auto&& corners_on_the_way) {
  constexpr int kLooks = 12;  // from one corner to the next
  Drawn draw(seed);
  int stops = 0;
  for (int run = 0; run < runs; ++run) {
    const std::vector<double> z = draw.open(target.corners()[0].row[0].size());
    std::vector<double> before;
    for (std::size_t i = 0; i < target.watched().size(); ++i) before.push_back(kSigma * draw.normal());
    const std::vector<std::size_t> way = corners_on_the_way(draw);
    bool stop = false;
    for (std::size_t leg = 0; leg + 1 < way.size(); ++leg)
      for (int look = 0; look <= kLooks; ++look) {
        const double share = double(look) / kLooks;
        std::vector<ReadsNow> now;
        for (std::size_t i = 0; i < target.watched().size(); ++i) {
          const double change = (1 - share) * true_change(target.corners()[way[leg]], i, z) +
                                share * true_change(target.corners()[way[leg + 1]], i, z);
          now.push_back(
              {target.watched()[i].place.value + change - before[i] + kSigma * draw.normal(), kSigma});
        }
        stop = stop || target.look(now).verdict == TargetVerdict::stop;
      }
    stops += stop ? 1 : 0;
  }
  return stops;
}

TEST(LiveTarget, StopsAtMostOneInAThousandMovesThatGoAsPredicted) {
  WatchedShelf shelf;
  const LiveTarget target = shelf.rod_up(4e-3, shelf.watched());
  ASSERT_EQ(target.corners().size(), 2u) << "a straight path";
  const int runs = trials(2000);
  EXPECT_LE(stopped(target, runs, 41, [](Drawn&) { return std::vector<std::size_t>{0, 1}; }), runs / 1000);
}

// A stage that brings two loads more, in either order.
const sheet::RunSheet& two_loads() {
  static const sheet::RunSheet run =
      fixtures::shelf_with({{"[[load]]\nname = \"books\"",
                             "[[load]]\nname = \"vases\"\nat = \"3 m\"\nacross = \"100 mm\"\nweight = \"150 "
                             "N\"\n[[load]]\nname = \"books\""},
                            {"\"carcasses\", \"books\"]", "\"carcasses\", \"books\", \"vases\"]"}});
  return run;
}

TEST(LiveTarget, OfAStageHasACornerForEachOrderInWhichItsLoadsComeOn) {
  WatchedShelf shelf(two_loads());
  const LiveTarget target = target_of_next_stage(shelf.survey, shelf.watched()).value();
  ASSERT_EQ(target.corners().size(), 5u);
  const SolvedRun solved(two_loads());
  for (std::size_t i = 0; i < 3; ++i) {
    const WatchedChannel& each = target.watched()[i];
    const auto at = [&](int stage) {
      const beam::Section<double> here = solved.solver().at(stage, each.place.at_m);
      return each.place.face * (each.place.channel == Channel::roll ? here.roll_rad : here.slope_rad);
    };
    // The fit found stiffness and loads anew, within their sigmas.
    EXPECT_NEAR(target.corners().back().change[i], at(1) - at(0), 0.1 * std::abs(at(1) - at(0)) + 1e-7);
  }
  const int runs = trials(1000);
  EXPECT_LE(
      stopped(target, runs, 43,
              [](Drawn& draw) {
                return draw.coin() ? std::vector<std::size_t>{0, 2, 4} : std::vector<std::size_t>{0, 3, 4};
              }),
      runs / 1000);
}

TEST(LiveTarget, StopsAStageWhoseBracketGivesUnderTheLoad) {
  WatchedShelf shelf;
  const auto channels = shelf.watched();
  const LiveTarget target = target_of_next_stage(shelf.survey, channels).value();
  const std::vector<double> all = target.corners().back().change;
  // A bracket that gives in pitch does what more load does; in roll it does not.
  for (const double roll_rad : {0.0, -1e-3}) {
    std::vector<double> change = shelf.truly(channels, 0, 0, roll_rad);
    for (std::size_t i = 0; i < change.size(); ++i) change[i] += 0.5 * all[i];
    const TargetNow now = target.look(reads(channels, change));
    EXPECT_EQ(now.verdict, roll_rad == 0 ? TargetVerdict::on_the_way : TargetVerdict::stop) << roll_rad;
    if (roll_rad == 0) continue;
    ASSERT_FALSE(now.looks_like.empty());
    EXPECT_EQ(now.looks_like.front().what.of, UnknownOf::move_roll);
    EXPECT_NEAR(now.looks_like.front().size.value, roll_rad, 3 * now.looks_like.front().size.sigma);
  }
}

TEST(PlaceToWatch, IsWhereAMoveIsSeenMost) {
  WatchedShelf shelf;
  const auto kit = sheet::parse_kit_sheet(R"([[instrument]]
name = "level"
port = "/dev/null"
speaks = "line"
[[instrument.channel]]
transducer = "{number} mm/m"
unit = "mm/m"
gives = "slope"
sigma = "0.02 mm/m"
)",
                                          "kit.toml", shelf.run);
  ASSERT_TRUE(kit.sheet);
  const auto best = place_to_watch(shelf.survey, {{}, kRod, {2e-3, 0, 0}}, *kit.sheet);
  ASSERT_TRUE(best && best.value());
  EXPECT_EQ(best.value()->instrument, "level");
  for (const double at_m : shelf.run.stations_m) {
    WatchedChannel other = shelf.watched()[0];
    other.place.at_m = at_m;
    EXPECT_LE(std::abs(shelf.truly({other}, 2e-3, 0)[0]), 1.02 * std::abs(best.value()->change)) << at_m;
  }
}

}  // namespace
}  // namespace hangtrue::job
