// What moved, on published surveys: data/reference/two_epochs.json says what was seen where; and the two epochs of the GUM's
// example H.3 (data/reference/bayes_wls.json).
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "core/change/change.hpp"
#include "core/fit/distribution.hpp"
#include "core/fit/information_filter.hpp"
#include "tests/core/reference.hpp"

namespace hangtrue::change {
namespace {

using Json = nlohmann::json;

double number(const Json& text) { return std::stod(text.get<std::string>()); }

constexpr double kWide = 10;          // of a change, mm or as the example has it
constexpr double kUnknown = 1e5;      // of what is not a change: as good as nothing known
constexpr double kSameDigits = 1e-6;  // relative: what wide priors leave

// Values that are rows of as many unknowns in both epochs; in the second each unknown may have changed.
class TwoEpochs {
 public:
  explicit TwoEpochs(int unknowns) : unknowns_(unknowns) {
    filter_->start(2 * unknowns);
    for (int k = 0; k < unknowns; ++k) filter_->know(k, 0, kUnknown);
    for (int k = unknowns; k < 2 * unknowns; ++k) filter_->know(k, 0, 1);
  }
  void add(int epoch, std::vector<double> row, double value, double sigma) {
    row.resize(std::size_t(2 * unknowns_));
    for (int k = 0; k < unknowns_ && epoch == 2; ++k)
      row[std::size_t(unknowns_ + k)] = row[std::size_t(k)] * kWide;
    filter_->add(row, value, sigma);
  }
  [[nodiscard]] std::unique_ptr<Changes> changes() const {
    std::vector<int> kept;
    for (int k = unknowns_; k < 2 * unknowns_; ++k) kept.push_back(k);
    const auto alone = std::make_unique<fit::InformationFilter<double, 16>>();
    filter_->marginal(kept, *alone);
    std::vector<double> triangle, right;
    for (int i = 0; i < unknowns_; ++i) {
      triangle.insert(triangle.end(), alone->triangle_row(i).begin(), alone->triangle_row(i).end());
      right.push_back(alone->right_side(i));
    }
    auto result = std::make_unique<Changes>();
    EXPECT_TRUE(
        result->begin(unknowns_, std::vector<double>(std::size_t(unknowns_), kWide), triangle, right));
    return result;
  }

 private:
  int unknowns_;
  std::unique_ptr<fit::InformationFilter<double, 16>> filter_ =
      std::make_unique<fit::InformationFilter<double, 16>>();
};

// Heights against an origin near the points, in mm, so that the wide prior of heights is wide.
std::unique_ptr<Changes> levelled(const Json& network) {
  const std::vector<std::string> points = network.at("points");
  TwoEpochs epochs(int(points.size()));
  for (const Json& line : network.at("lines")) {
    const auto at = [&](const char* end) {
      return std::find(points.begin(), points.end(), line.at(end).get<std::string>()) - points.begin();
    };
    std::vector<double> row(points.size());
    row[std::size_t(at("from"))] = -1;
    row[std::size_t(at("to"))] = 1;
    const double sigma =
        number(network.at("sigma_mm_per_root_km")) * std::sqrt(number(line.at("length_m")) / 1000);
    epochs.add(1, row, 1000 * number(line.at("first_m")), sigma);
    epochs.add(2, row, 1000 * number(line.at("second_m")), sigma);
  }
  return epochs.changes();
}

TEST(PublishedLevelling, TheGlobalTestFailsWithAsManyDegreesOfFreedomAsThereAreHeightDifferences) {
  const Json network = Json::parse(test::open_reference("two_epochs.json")).at("levelling_network");
  const Json& wanted = network.at("recomputed");
  const GlobalTest all = levelled(network)->global();
  EXPECT_EQ(all.degrees_of_freedom, wanted.at("degrees_of_freedom").get<int>());
  EXPECT_NEAR(all.statistic / number(wanted.at("statistic")), 1, kSameDigits);
  EXPECT_NEAR(std::log(all.p_value) / std::log(number(wanted.at("p_value"))), 1, kSameDigits);
}

TEST(PublishedLevelling, EveryPointAsTheOnlyOneThatMovedIsAsRecomputed) {
  const Json network = Json::parse(test::open_reference("two_epochs.json")).at("levelling_network");
  const auto changes = levelled(network);
  EXPECT_EQ(changes->looked_at(), 4);
  int j = 0;
  for (const std::string point : network.at("points")) {
    const Json& wanted = network.at("recomputed").at("single").at(point);
    const Single alone = changes->single(j);
    ASSERT_TRUE(alone.seen) << point;
    EXPECT_NEAR(alone.value / number(wanted.at("value_mm")), 1, kSameDigits) << point;
    EXPECT_NEAR(alone.sigma / number(wanted.at("sigma_mm")), 1, kSameDigits) << point;
    EXPECT_NEAR(std::log(alone.p_value) / std::log(number(wanted.at("p_value"))), 1, kSameDigits) << point;
    const int only[] = {j};
    const GlobalTest left = changes->rest(only);
    EXPECT_EQ(left.degrees_of_freedom, 2);
    EXPECT_NEAR(left.statistic, number(wanted.at("left")), 130 * kSameDigits) << point;
    ++j;
  }
}

TEST(PublishedLevelling, ThePointThatIsKnownToHaveSunkIsNamedAndNoOther) {
  const Json network = Json::parse(test::open_reference("two_epochs.json")).at("levelling_network");
  const std::vector<std::string> points = network.at("points");
  const auto changes = levelled(network);
  // Every point as likely to have moved, by the same: invented, as wide as the test's own.
  const std::vector<Belief> beliefs(points.size(), Belief{10, 0, 0});
  const Weighed one = changes->heaviest(1, beliefs, 1).at(0);
  EXPECT_EQ(Json::array({points[std::size_t(one.set[0])]}), network.at("published").at("moved"));
  EXPECT_GT(one.ln_weight, 3);                                                 // twenty to one against none
  EXPECT_GT(one.ln_weight, changes->heaviest(2, beliefs, 1).at(0).ln_weight);  // and no other with it
  const Single moved = changes->single(one.set[0]);
  EXPECT_NEAR(moved.value, number(network.at("published").at("known_displacement_mm")), 2 * moved.sigma);
  // The others are stable.
  const GlobalTest rest = changes->rest(one.set);
  EXPECT_EQ(rest.degrees_of_freedom, 2);
  EXPECT_GT(rest.p_value, 0.05);
}

TEST(PublishedLevelling, TheFirstEpochAgainstItselfShowsNothing) {
  Json network = Json::parse(test::open_reference("two_epochs.json")).at("levelling_network");
  for (Json& line : network.at("lines")) line["second_m"] = line.at("first_m");
  const auto changes = levelled(network);
  EXPECT_NEAR(changes->global().statistic, 0, 1e-6);
  const std::vector<Belief> beliefs(std::size_t(changes->count()), Belief{10, 0, 0});
  EXPECT_LT(changes->heaviest(1, beliefs, 1).at(0).ln_weight, 0);
}

// Offset and slope of the thermometer's correction in the first six and the last five rows of the GUM's H.3.
TEST(PublishedLine, TwoEpochsOfTheGuidesExampleDifferAsRecomputed) {
  const Json wanted = Json::parse(test::open_reference("bayes_wls.json")).at("epoch_difference");
  const double sigma = number(wanted.at("u_b"));
  TwoEpochs epochs(2);
  int row = 0;
  for (const test::CsvRow& each : test::read_reference_csv("gum_h3.csv")) {
    const double t = std::stod(each.at("t_k")), b = std::stod(each.at("b_k"));
    epochs.add(++row <= 6 ? 1 : 2, {1, t - 20}, b, sigma);
  }
  ASSERT_EQ(row, 11);
  const auto changes = epochs.changes();
  const GlobalTest all = changes->global();
  EXPECT_EQ(all.degrees_of_freedom, 2);
  EXPECT_NEAR(all.statistic / number(wanted.at("chi2_stat")), 1, kSameDigits);
  EXPECT_NEAR(all.p_value / number(wanted.at("p_value")), 1, 10 * kSameDigits);
  EXPECT_GT(all.statistic, number(wanted.at("chi2_0.95(2)")));
  // Each beside the other is the difference of the two lines.
  for (int j = 0; j < 2; ++j) {
    const int other[] = {1 - j};
    const Single beside = changes->single(j, other);
    const auto at = std::size_t(j);
    EXPECT_NEAR(beside.value / number(wanted.at("diff").at(at)), 1, kSameDigits);
    EXPECT_NEAR(beside.sigma / std::sqrt(number(wanted.at("cov_diff").at(at).at(at))), 1, kSameDigits);
  }
}

TEST(PublishedPower, NoncentralTailsAreThoseOfTheTables) {
  const Json rows = Json::parse(test::open_reference("two_epochs.json")).at("noncentrality").at("rows");
  for (const Json& row : rows) {
    const int freedom = row.at("degrees_of_freedom").get<int>();
    const double limit = fit::chi_squared_quantile(1 - number(row.at("significance")), freedom);
    EXPECT_NEAR(limit, number(row.at("limit")), 1e-7) << row;
    EXPECT_NEAR(noncentral_chi_squared_tail(limit, freedom, number(row.at("noncentrality"))),
                number(row.at("power")), 1e-8)
        << row;
  }
}

// One change alone, with one degree of freedom: both tests are the normal one, and its smallest detectable size is that at
// Baarda's non-centrality.
TEST(PublishedPower, ASingleChangesSmallestDetectableSizeIsBaardas) {
  const Json rows = Json::parse(test::open_reference("two_epochs.json")).at("noncentrality").at("rows");
  for (const std::size_t at : {std::size_t(0), std::size_t(4)}) {
    TwoEpochs epochs(1);
    epochs.add(1, {1}, 0, 0.3);
    epochs.add(2, {1}, 0, 0.4);
    const double sigmas = std::sqrt(number(rows.at(at).at("noncentrality")));
    EXPECT_NEAR(epochs.changes()->smallest_detectable(0, 1 - number(rows.at(at).at("significance")), 0.8),
                0.5 * sigmas, 1e-4 * sigmas);
  }
}

}  // namespace
}  // namespace hangtrue::change
