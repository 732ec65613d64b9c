// Which cause the fit names when something is not as stated. Each survey is simulated (survey_bench.hpp,
// fixed seed) with one thing wrong; that one must come out as the likeliest, with the self-test failing.
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "tests/core/fit/survey_bench.hpp"

namespace hangtrue::fit {
namespace {

using enum test::Instrument;
using enum test::Support;
using enum test::Load;
using test::Bench;
using test::ParameterKind;

std::vector<Cause<double>> causes_of(Bench<double>& bench) {
  bench.run_fit();
  std::vector<Cause<double>> causes(kMaxCauses);
  causes.resize(static_cast<std::size_t>(bench.fit->causes(bench.readings, bench.judgements, causes)));
  double sum = 0;
  for (const auto& cause : causes) sum += cause.weight;
  EXPECT_NEAR(sum, 1, 1e-12);
  EXPECT_TRUE(
      std::is_sorted(causes.begin(), causes.end(), [](auto& a, auto& b) { return a.weight > b.weight; }));
  return causes;
}

// Loads that were weighed, and stiffness known from the maker: a bracket that is turned and one that is
// softer, or a run that is softer and one that is heavier, look alike in one survey; what is known beforehand
// tells them apart.
Priors<double> weighed() {
  Priors<double> priors = test::shelf_priors<double>();
  for (auto& load : priors.load)
    if (load.sigma > 0) load.sigma = 0.02;
  priors.bending.sigma = 0.02;
  priors.torsion.sigma = 0.03;
  priors.log_spring[wall_bracket].pitch.sigma = 0.05;
  return priors;
}

// One unknown `sigmas` of its prior away from it, all else drawn.
struct Wrong {
  const char* what;
  UnknownKind kind;
  beam::Parameter shape;
  std::int16_t index;
  double sigmas;
};
class UnknownOff : public ::testing::TestWithParam<Wrong> {};

TEST_P(UnknownOff, ComesOutAsTheLikeliestCause) {
  std::mt19937 random(91);
  Bench<double> bench(weighed());
  const int wrong = bench.index(Unknown{GetParam().kind, GetParam().shape, GetParam().index});
  auto truth = bench.draw(random);
  const Prior<double> prior = bench.list.prior[wrong];
  truth[static_cast<std::size_t>(wrong)] = prior.mean + GetParam().sigmas * prior.sigma;
  bench.read(truth, &random);
  const auto causes = causes_of(bench);
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::fails);
  ASSERT_FALSE(causes.empty());
  EXPECT_EQ(causes[0].kind, CauseKind::unknown_off);
  EXPECT_EQ(causes[0].index, wrong);
  EXPECT_GT(causes[0].weight, 0.5);
  EXPECT_NEAR(causes[0].value, truth[static_cast<std::size_t>(wrong)], 4 * causes[0].sigma);
}

constexpr UnknownKind kShape = UnknownKind::shape;
INSTANTIATE_TEST_SUITE_P(
    Causes, UnknownOff,
    ::testing::Values(Wrong{"support_lower", kShape, {ParameterKind::offset_rise, east_rod}, 0, -12},
                      Wrong{"support_turned", kShape, {ParameterKind::offset_pitch, wall_bracket}, 0, 12},
                      Wrong{"support_rolled", kShape, {ParameterKind::offset_roll, wall_bracket}, 0, 10},
                      Wrong{"softer", kShape, {ParameterKind::bending, 0}, 0, -9},
                      Wrong{"heavier", kShape, {ParameterKind::load, carcasses}, 0, 15},
                      Wrong{"bowed", kShape, {ParameterKind::bow, 1}, 0, 15},
                      Wrong{"datum_tilted", UnknownKind::datum_tilt, {}, 0, 20},
                      Wrong{"zero_drifted", UnknownKind::zero, {}, inclinometer, 15}),
    [](const auto& each) { return each.param.what; });

TEST(Causes, NameAnInstrumentThatScattersMoreThanStated) {
  std::mt19937 random(92);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  std::normal_distribution<double> noise;
  for (auto& reading : bench.readings)
    if (reading.zero == inclinometer) reading.value += 8 * reading.sigma * noise(random);
  const auto causes = causes_of(bench);
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::fails);
  EXPECT_EQ(causes[0].kind, CauseKind::rough_channel);
  EXPECT_EQ(causes[0].index, inclinometer);
  EXPECT_EQ(causes[0].value, 10);  // of 3, 10, 30
  EXPECT_GT(causes[0].weight, 0.9);
}

TEST(Causes, NameStraysWhereOneReadingIsWrong) {
  std::mt19937 random(93);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  bench.readings[12].value += 25 * bench.readings[12].sigma;
  const auto causes = causes_of(bench);
  EXPECT_EQ(causes[0].kind, CauseKind::stray_readings);
  EXPECT_GT(causes[0].weight, 0.9);
}

TEST(Causes, NameNothingInParticularWhenAllIsAsStated) {
  std::mt19937 random(94);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  const auto causes = causes_of(bench);
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::holds);
  EXPECT_EQ(causes[0].kind, CauseKind::none_of_these);
}

// The weight of a cause is Gaussian evidence: for one scale it must equal the difference of log-evidence
// between two fits that differ in that prior alone. Linear problem; here the three scales are averaged as
// causes() does.
TEST(Causes, WeighByTheEvidenceOfARefit) {
  Priors<double> priors = test::shelf_priors<double>();
  priors.bending.sigma = priors.torsion.sigma = 0;
  for (auto& spring : priors.log_spring) spring = {};
  std::mt19937 random(95);
  Bench<double> bench(priors);
  auto truth = bench.draw(random);
  const int wrong = bench.index(ParameterKind::offset_pitch, wall_bracket);
  truth[static_cast<std::size_t>(wrong)] = 5 * bench.list.prior[wrong].sigma;
  bench.read(truth, &random);
  const auto causes = causes_of(bench);
  ASSERT_EQ(bench.fit->self_test().beyond_gate, 0);
  const auto weight = [&](CauseKind kind, int index) {
    return std::find_if(causes.begin(), causes.end(),
                        [&](const auto& each) { return each.kind == kind && each.index == index; })
        ->weight;
  };
  // ln evidence, up to what both share: -chi^2 / 2 - sum of ln prior sigma + ln det(posterior covariance) /
  // 2.
  const auto evidence = [](Bench<double>& of) {
    of.run_fit();
    const int n = of.list.count;
    Eigen::MatrixXd covariance(n, n);  // in prior sigmas
    for (int a = 0; a < n; ++a)
      for (int b = 0; b < n; ++b)
        covariance(a, b) = of.fit->covariance(a, b) / of.list.prior[a].sigma / of.list.prior[b].sigma;
    return -of.fit->self_test().chi_squared / 2 + std::log(covariance.determinant()) / 2;
  };
  const double none = weight(CauseKind::none_of_these, -1);
  const double turned = weight(CauseKind::unknown_off, wrong);
  const double as_stated = evidence(bench);
  double mean = 0;
  for (const double scale : {3.0, 10.0, 30.0}) {
    Priors<double> relaxed = priors;
    relaxed.offset[wall_bracket].pitch.sigma *= scale;
    Bench<double> again(relaxed);
    again.readings = bench.readings;
    mean += std::exp(evidence(again) - as_stated) / 3;
  }
  // Beforehand none_of_these is as likely as all the others together.
  EXPECT_NEAR(turned / none / mean * static_cast<double>(causes.size() - 1), 1, 1e-6);
}

TEST(Causes, AreNotGivenBeforeARun) {
  Bench<double> bench;
  bench.read(bench.means(), nullptr);
  bench.begin();
  std::vector<Cause<double>> causes(kMaxCauses);
  EXPECT_EQ(bench.fit->causes(bench.readings, bench.judgements, causes), 0);
}

}  // namespace
}  // namespace hangtrue::fit
