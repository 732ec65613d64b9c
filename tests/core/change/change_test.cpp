#include "core/change/change.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <limits>
#include <memory>
#include <random>
#include <vector>

#include "core/change/drift_course.hpp"
#include "core/change/trend.hpp"
#include "core/fit/distribution.hpp"
#include "core/fit/information_filter.hpp"
#include "tests/trials.hpp"

namespace hangtrue::change {
namespace {

using testing::DoubleNear;

/// Invented: a straight line of unknown height and tilt (well known beforehand or not), read at nine places in both surveys;
/// four things may change. Changes 0 and 3 do the same to the readings, but for the sign.
struct Pair {
  static constexpr int kPlaces = 9, kOthers = 2, kChanges = 4;
  double sigma = 0.1;
  Eigen::MatrixXd before{kPlaces, kOthers}, effect{kPlaces, kChanges};
  std::vector<double> wide = {10, 10, 10, 10};

  Pair() {
    for (int i = 0; i < kPlaces; ++i) {
      const double x = i / double(kPlaces - 1);
      before.row(i) << 1, x;
      effect.row(i) << x * x, (i > 4 ? x - 0.5 : 0), std::sin(7 * x), -x * x;
    }
  }

  /// The two surveys' readings into one filter, the others first.
  std::unique_ptr<Changes> changes(const Eigen::VectorXd& truth, std::mt19937_64& random,
                                   Eigen::VectorXd* readings = nullptr) const {
    std::normal_distribution<double> normal;
    auto filter = std::make_unique<fit::InformationFilter<double, 16>>();
    filter->start(kOthers + kChanges);
    for (int k = 0; k < kOthers; ++k) filter->know(k, 0, 5);
    for (int k = 0; k < kChanges; ++k) filter->know(kOthers + k, 0, 1);
    const Eigen::Vector2d line(5 * normal(random), 5 * normal(random));
    if (readings != nullptr) readings->resize(2 * kPlaces);
    for (int survey = 0; survey < 2; ++survey)
      for (int i = 0; i < kPlaces; ++i) {
        std::vector<double> row(kOthers + kChanges);
        for (int k = 0; k < kOthers; ++k) row[std::size_t(k)] = before(i, k);
        double value = before.row(i).dot(line) + sigma * normal(random);
        for (int k = 0; k < kChanges && survey == 1; ++k) {
          row[std::size_t(kOthers + k)] = effect(i, k) * wide[std::size_t(k)];
          value += effect(i, k) * truth(k);
        }
        filter->add(row, value, sigma);
        if (readings != nullptr) (*readings)(survey * kPlaces + i) = value;
      }
    auto alone = std::make_unique<fit::InformationFilter<double, 16>>();
    const int kept[] = {2, 3, 4, 5};
    filter->marginal(kept, *alone);
    std::vector<double> triangle, right;
    for (int i = 0; i < kChanges; ++i) {
      triangle.insert(triangle.end(), alone->triangle_row(i).begin(), alone->triangle_row(i).end());
      right.push_back(alone->right_side(i));
    }
    auto result = std::make_unique<Changes>();
    EXPECT_TRUE(result->begin(kChanges, wide, triangle, right));
    return result;
  }

  /// The same from the definition, by dense algebra: G and g of the header.
  void by_definition(const Eigen::VectorXd& readings, Eigen::MatrixXd& G, Eigen::VectorXd& g) const {
    const int n = 2 * kPlaces;
    Eigen::MatrixXd A(n, kOthers), D = Eigen::MatrixXd::Zero(n, kChanges);
    A << before, before;
    D.bottomRows(kPlaces) = effect;
    const Eigen::MatrixXd S = sigma * sigma * Eigen::MatrixXd::Identity(n, n) + 25 * A * A.transpose();
    const Eigen::LDLT<Eigen::MatrixXd> solve(S);
    G = D.transpose() * solve.solve(D);
    g = D.transpose() * solve.solve(readings);
  }
};

TEST(Changes, AreWhatTheDefinitionGives) {
  const Pair pair;
  std::mt19937_64 random(1);
  Eigen::VectorXd readings, g;
  Eigen::MatrixXd G;
  const auto changes = pair.changes(Eigen::Vector4d(0.2, 0, 0.1, 0), random, &readings);
  pair.by_definition(readings, G, g);
  EXPECT_EQ(changes->looked_at(), 4);
  for (int j = 0; j < Pair::kChanges; ++j) {
    const Single alone = changes->single(j);
    ASSERT_TRUE(alone.seen);
    EXPECT_NEAR(alone.value, g(j) / G(j, j), 1e-9);
    EXPECT_NEAR(alone.sigma, 1 / std::sqrt(G(j, j)), 1e-9);
  }
  // Two beside each other, and the whole.
  const int two[] = {0, 2};
  Eigen::Matrix2d Gs;
  Gs << G(0, 0), G(0, 2), G(2, 0), G(2, 2);
  const Eigen::Vector2d gs(g(0), g(2)), both = Gs.ldlt().solve(gs);
  const Single beside = changes->single(2, std::span(two).first(1));
  EXPECT_NEAR(beside.value, both(1), 1e-9);
  EXPECT_NEAR(beside.sigma, std::sqrt(Gs.inverse()(1, 1)), 1e-9);
  EXPECT_NEAR(changes->explains(two), gs.dot(both), 1e-8);
  const GlobalTest all = changes->global();
  const Eigen::MatrixXd three = G.topLeftCorner(3, 3);  // the fourth is the first's twin
  EXPECT_EQ(all.degrees_of_freedom, 3);
  EXPECT_NEAR(all.statistic, g.head(3).dot(three.ldlt().solve(g.head(3))), 1e-6);
  EXPECT_NEAR(changes->rest(two).statistic, all.statistic - gs.dot(both), 1e-6);
  EXPECT_EQ(changes->rest(two).degrees_of_freedom, 1);
}

TEST(Changes, ThatDoTheSameCannotBeToldApart) {
  const Pair pair;
  std::mt19937_64 random(2);
  const auto changes = pair.changes(Eigen::Vector4d(0.9, 0, 0, 0), random);
  EXPECT_NEAR(changes->likeness(0, 3), -1, 1e-9);
  const int first[] = {0};
  EXPECT_FALSE(changes->single(3, first).seen);
  EXPECT_NEAR(changes->single(3).value, -changes->single(0).value, 1e-9);
}

TEST(Changes, OfWhichNoneHappenedAreUniform) {
  const Pair pair;
  std::mt19937_64 random(3);
  int alarms = 0;
  double below_half = 0;
  constexpr int kPairs = trials(4000);
  for (int i = 0; i < kPairs; ++i) {
    const auto changes = pair.changes(Eigen::Vector4d::Zero(), random);
    const double p = changes->global().p_value;
    alarms += p < 0.05;
    below_half += p < 0.5;
  }
  if (!kSharesTell) return;
  // Four standard deviations of a share of 4000.
  EXPECT_NEAR(alarms / double(kPairs), 0.05, 0.014);
  EXPECT_NEAR(below_half / kPairs, 0.5, 0.032);
}

TEST(Changes, TwoAtOnceAreTheHeaviestTwo) {
  const Pair pair;
  std::mt19937_64 random(4);
  // The twin of the first is no likely thing.
  const Belief likely{3, 0, 0}, unlikely{3, -5, -5};
  const std::vector<Belief> beliefs{likely, likely, likely, unlikely};
  int right = 0;
  for (int i = 0; i < 200; ++i) {
    const auto changes = pair.changes(Eigen::Vector4d(3, -4.5, 0, 0), random);
    const Weighed one = changes->heaviest(1, beliefs, 1).at(0), two = changes->heaviest(2, beliefs, 1).at(0),
                  three = changes->heaviest(3, beliefs, 1).at(0);
    right += two.set == std::vector{0, 1} && two.ln_weight > one.ln_weight && two.ln_weight > three.ln_weight;
  }
  EXPECT_GE(right, 185);  // by chance a third joins in one of twenty
}

TEST(Changes, OfTheSmallestDetectableSizeAreFoundAsOftenAsStated) {
  const Pair pair;
  std::mt19937_64 random(5);
  const double size = pair.changes(Eigen::Vector4d::Zero(), random)->smallest_detectable(2, 0.95, 0.8);
  int alarms = 0, named = 0;
  constexpr int kPairs = trials(1500);
  for (int i = 0; i < kPairs; ++i) {
    const auto changes = pair.changes(Eigen::Vector4d(0, 0, size, 0), random);
    alarms += changes->global().p_value < 0.05;
    named += corrected(changes->single(2).p_value, changes->looked_at()) < 0.05;
  }
  if (!kSharesTell) return;
  EXPECT_GE(alarms / double(kPairs), 0.76);
  EXPECT_GE(named / double(kPairs), 0.76);
  EXPECT_LE(std::min(alarms, named) / double(kPairs), 0.84);  // the greater of the two sizes, not more
}

/// Changes known by what they do to independent observations of sigma 1: a column of `effect` each, of changes that were
/// called wide at 1. The observations are given, so that every significance below is exact.
std::unique_ptr<Changes> observed(const Eigen::MatrixXd& effect, const Eigen::VectorXd& observations) {
  const auto n = effect.cols();
  const Eigen::MatrixXd with_prior = effect.transpose() * effect + Eigen::MatrixXd::Identity(n, n);
  const Eigen::LLT<Eigen::MatrixXd> root(with_prior);
  const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> triangle = root.matrixU();
  const Eigen::VectorXd right = root.matrixL().solve(effect.transpose() * observations);
  const std::vector<double> wide(std::size_t(n), 1.0);
  auto changes = std::make_unique<Changes>();
  EXPECT_TRUE(
      changes->begin(int(n), wide, {triangle.data(), std::size_t(n * n)}, {right.data(), std::size_t(n)}));
  return changes;
}
/// Each seen by an observation of its own, with a sigma of 0.1: the observations are their sizes in sigmas.
std::unique_ptr<Changes> apart(const std::vector<double>& sigmas) {
  const auto n = Eigen::Index(sigmas.size());
  return observed(10 * Eigen::MatrixXd::Identity(n, n), Eigen::Map<const Eigen::VectorXd>(sigmas.data(), n));
}

// Of one change of s sigmas, the information 100 and the belief's sigma t: the readings are normal with a variance of 1 where
// nothing changed and of 1 + 100 t^2 where it did. ln of the ratio of the two densities, by hand.
TEST(Changes, WeighWhatTheTwoDensitiesGive) {
  const double s = 3.7, t = 0.5, odds = std::log(0.2);
  const Belief belief[] = {{t, odds, 2 * odds}};
  const int only[] = {0};
  const double spread = 1 + 100 * t * t;
  const double ratio = s * s / 2 * (1 - 1 / spread) - std::log(spread) / 2;
  EXPECT_NEAR(apart({s})->ln_weight(only, belief), ratio + odds, 1e-9);
  EXPECT_NEAR(apart({-s})->ln_weight(only, belief), ratio + 2 * odds, 1e-9);
  EXPECT_EQ(apart({s})->ln_weight({}, belief), 0);
}

TEST(Changes, BelowTheirLeastSizeCannotBe) {
  const Belief belief[] = {{.sigma = 1, .least = -0.5}};
  const int only[] = {0};
  EXPECT_TRUE(std::isfinite(apart({-4.9})->ln_weight(only, belief)));
  EXPECT_FALSE(std::isfinite(apart({-5.2})->ln_weight(only, belief)));
}

TEST(Changes, ThatCannotBeSoAreNoneOfTheHeaviest) {
  constexpr double kNever = -std::numeric_limits<double>::infinity();
  const std::vector<Belief> beliefs{{1, 0, kNever}, {1, -1, -1}};
  EXPECT_EQ(apart({9, 9})->heaviest(1, beliefs, 2).size(), 2u);
  EXPECT_EQ(apart({9, 9})->heaviest(1, beliefs, 2)[0].set, std::vector{0});
  const auto left = apart({-9, 9})->heaviest(1, beliefs, 2);
  ASSERT_EQ(left.size(), 1u);
  EXPECT_EQ(left[0].set, std::vector{1});
}

TEST(Changes, AreLookedUpBySizeAndWithThoseThatAreHeld) {
  const std::vector<double> five{9, 8, 7, 6, 5};
  const std::vector<Belief> beliefs(5, Belief{1, 0, 0});
  const auto changes = apart(five);
  const auto three = changes->heaviest(3, beliefs, 2);
  ASSERT_EQ(three.size(), 2u);
  EXPECT_EQ(three[0].set, (std::vector{0, 1, 2}));
  EXPECT_EQ(three[1].set, (std::vector{0, 1, 3}));
  const int held[] = {3, 4};
  EXPECT_EQ(changes->heaviest(3, beliefs, 1, held)[0].set, (std::vector{0, 3, 4}));
  EXPECT_TRUE(changes->heaviest(6, beliefs, 1).empty());
}

// Two changes do nearly the same: the first explains 100, the second 100 cos^2, which is less by 3. What each would have to be
// then decides.
TEST(Changes, OfTwoThatExplainAsWellTheLikelierWeighsMore) {
  const double less = 3.0, cosine = std::sqrt(1 - less / 100);
  Eigen::MatrixXd effect(2, 2);
  effect << 10, 10 * cosine, 0, 10 * std::sqrt(1 - cosine * cosine);
  const auto changes = observed(effect, Eigen::Vector2d(10, 0));
  const auto heaviest = [&](Belief first, Belief second) {
    return changes->heaviest(1, std::vector{first, second}, 1).at(0).set.at(0);
  };
  EXPECT_EQ(heaviest({1, 0, 0}, {1, 0, 0}), 0);
  EXPECT_EQ(heaviest({1, -1.4, 0}, {1, 0, 0}), 0);
  EXPECT_EQ(heaviest({1, -1.6, 0}, {1, 0, 0}), 1);  // odds of e^-1.5 are three of chi-squared
  EXPECT_EQ(heaviest({0.2, 0, 0}, {1, 0, 0}), 1);   // it would have to be five of its sigmas
}

TEST(Changes, AreSeenWhereTheyAreKnownBetterThanWhatWasCalledWide) {
  Eigen::MatrixXd effect(1, 1);
  const Eigen::VectorXd one = Eigen::VectorXd::Constant(1, 5.0);
  effect << 1.01;
  EXPECT_TRUE(observed(effect, one)->single(0).seen);
  EXPECT_EQ(observed(effect, one)->looked_at(), 1);
  EXPECT_EQ(observed(effect, one)->global().degrees_of_freedom, 1);
  effect << 0.99;
  EXPECT_FALSE(observed(effect, one)->single(0).seen);
  EXPECT_EQ(observed(effect, one)->looked_at(), 0);
  EXPECT_EQ(observed(effect, one)->global().degrees_of_freedom, 0);
}

TEST(Changes, RefuseWhatIsNoInformation) {
  Changes changes;
  const double one[] = {1}, none[] = {std::nan("")}, zero[] = {0};
  EXPECT_FALSE(changes.begin(0, {}, {}, {}));
  EXPECT_FALSE(changes.begin(1, one, none, one));
  EXPECT_FALSE(changes.begin(1, zero, one, one));
  EXPECT_FALSE(changes.begin(2, one, one, one));
  // Nothing but the prior: nothing is seen, and nothing alarms.
  ASSERT_TRUE(changes.begin(1, one, one, zero));
  EXPECT_EQ(changes.global().degrees_of_freedom, 0);
  EXPECT_EQ(changes.global().p_value, 1);
  EXPECT_FALSE(changes.single(0).seen);
  EXPECT_TRUE(std::isinf(changes.smallest_detectable(0, 0.95, 0.8)));
}

TEST(Corrected, IsSidaks) {
  EXPECT_DOUBLE_EQ(corrected(0.05, 1), 0.05);
  EXPECT_NEAR(corrected(0.01, 10), 1 - std::pow(0.99, 10), 1e-15);
  EXPECT_NEAR(corrected(1e-18, 20), 2e-17, 1e-22);
}

// By hand: with two degrees of freedom and noncentrality 0 the tail is exp(-x / 2); the mean of a non-central one is
// df + lambda, which a sum over its tail must give.
TEST(NoncentralChiSquared, HasTheMeanItMust) {
  EXPECT_NEAR(noncentral_chi_squared_tail(3, 2, 0), std::exp(-1.5), 1e-13);
  double mean = 0;
  for (int i = 0; i < 4000; ++i) mean += 0.05 * noncentral_chi_squared_tail(0.05 * (i + 0.5), 3, 7.5);
  EXPECT_NEAR(mean, 10.5, 1e-3);
  // Baarda's 17.1 for one degree of freedom at 0.1 % and power 80 % (Baarda 1968, nomograms; from memory).
  EXPECT_NEAR(noncentral_chi_squared_tail(10.8276, 1, 17.075), 0.80, 1e-3);
}

// Tables of the standard normal and of chi-squared, M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, Tables
// 26.5 and 26.8 (from memory).
TEST(Distributions, AreThoseOfTheTables) {
  EXPECT_NEAR(normal_quantile(0.975), 1.959964, 5e-7);
  EXPECT_NEAR(normal_quantile(0.8), 0.841621, 5e-7);
  EXPECT_NEAR(normal_two_sided(1.959964), 0.05, 1e-7);
  EXPECT_NEAR(normal_two_sided(-1.959964), 0.05, 1e-7);
  EXPECT_NEAR(chi_squared_tail(9.48773, 4), 0.05, 1e-6);
  EXPECT_NEAR(chi_squared_quantile(0.95, 4), 9.48773, 5e-6);
  EXPECT_NEAR(chi_squared_quantile(0.95, 100), 124.342, 5e-4);
  // Against the series and fractions that the fit has of its own.
  for (const int freedom : {1, 2, 7, 30, 128})
    for (const double value : {0.1, 3.0, 40.0, 300.0})
      EXPECT_NEAR(chi_squared_tail(value, freedom) / fit::chi_squared_tail(value, freedom), 1, 1e-11);
}

TEST(Line, HasTheCovarianceOfTheGuide) {
  // JCGM 100:2008, H.3: a line by eleven points of the same sigma. What it prints, -0.1712, 0.0029, 0.00218, 0.00067, is of
  // sigma 0.0035; here the points are those of the table.
  const std::vector<double> t = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                 24.513, 25.002, 25.503, 26.010, 26.511};
  const std::vector<double> b = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                 -0.156, -0.157, -0.159, -0.161, -0.160};
  std::vector<double> days;
  for (const double each : t) days.push_back(each - 20);
  const auto line = fit_line(days, b, std::vector<double>(11, 0.0035));
  ASSERT_TRUE(line);
  EXPECT_NEAR(line->at_start, -0.1712, 5e-5);
  EXPECT_NEAR(line->at_start_sigma, 0.0029, 5e-5);
  EXPECT_NEAR(line->rate, 0.00218, 5e-6);
  EXPECT_NEAR(line->rate_sigma, 0.00067, 5e-6);
  EXPECT_NEAR(line->covariance / (line->at_start_sigma * line->rate_sigma), -0.930, 5e-4);
  EXPECT_EQ(line->degrees_of_freedom, 9);
  EXPECT_NEAR(std::sqrt(line->misfit / 9) * 0.0035, 0.0035, 5e-5);
}

TEST(Line, NeedsTwoTimes) {
  const double same[] = {3, 3}, values[] = {1, 2}, sigmas[] = {1, 1}, none[] = {1, 0};
  EXPECT_FALSE(fit_line(same, values, sigmas));
  EXPECT_FALSE(fit_line(values, values, none));
  EXPECT_FALSE(fit_line({}, {}, {}));
}

TEST(Crossing, HoldsTheTruthAsOftenAsStated) {
  std::mt19937_64 random(6);
  std::normal_distribution<double> normal;
  const std::vector<double> days = {0, 180, 365, 540};
  const std::vector<double> sigmas(4, 0.1);
  int held = 0;
  constexpr int kTimes = trials(3000);
  for (int i = 0; i < kTimes; ++i) {
    std::vector<double> values;
    for (const double t : days) values.push_back(0.5 + 0.002 * t + 0.1 * normal(random));
    const Crossing found = crossing(*fit_line(days, values, sigmas), 3.0, 540, 0.95);  // truth: 1250 days
    held += found.from_days && *found.from_days <= 1250 && (!found.to_days || *found.to_days >= 1250);
  }
  if (kSharesTell) {
    EXPECT_NEAR(held / double(kTimes), 0.95, 0.016);
  }
}

TEST(Crossing, IsNoneWhereTheLineMovesAwayAndOpenWhereItHardlyMoves) {
  const double days[] = {0, 100, 200}, sigmas[] = {0.01, 0.01, 0.01};
  const double falls[] = {1, 0.9, 0.8}, still[] = {1, 1.001, 0.999};
  const Crossing away = crossing(*fit_line(days, falls, sigmas), 2, 200, 0.95);
  EXPECT_FALSE(away.from_days || away.to_days || away.best_days);
  const Crossing open = crossing(*fit_line(days, still, sigmas), 2, 200, 0.95);
  EXPECT_TRUE(open.from_days);
  EXPECT_FALSE(open.to_days);
  EXPECT_GT(*open.from_days, 1000);
}

TEST(CreepShare, FollowsTheClassesOfLoadDuration) {
  EXPECT_EQ(creep_share(-1), 0);
  EXPECT_EQ(creep_share(0), 0);
  EXPECT_NEAR(creep_share(182.6), 0.42, 0.15);
  EXPECT_NEAR(creep_share(3652.5), 0.83, 0.15);
  EXPECT_EQ(creep_share(kCreepEnds_days), 1);
  EXPECT_EQ(creep_share(1e9), 1);
}

}  // namespace
}  // namespace hangtrue::change
