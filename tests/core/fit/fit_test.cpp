// The fit of a small staged run (survey_bench.hpp). Expected values are truths that made the readings,
// independent computations (a batch solution by Eigen, brute force), or identities; each test says which.
#include "core/fit/fit.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "core/fit/distribution.hpp"
#include "tests/core/fit/survey_bench.hpp"
#include "tests/no_heap.hpp"

namespace hangtrue::fit {
namespace {

using test::Bench;
using enum test::Instrument;
using enum test::Support;
using enum test::Load;
using test::Edge;
using test::ParameterKind;

constexpr double kInf = std::numeric_limits<double>::infinity();
constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

// Priors whose unknowns enter the shape linearly: no stiffness, no spring.
Priors<double> linear_priors() {
  Priors<double> priors = test::shelf_priors<double>();
  priors.bending.sigma = priors.torsion.sigma = 0;
  for (auto& spring : priors.log_spring) spring = {};
  return priors;
}

std::vector<double> estimates(const Fit<double>& fit) {
  std::vector<double> out;
  for (int j = 0; j < fit.unknowns(); ++j) out.push_back(fit.estimate(j).value);
  return out;
}

// What is not called for is left out; the order is that of the header.
TEST(BuildUnknowns, ListsWhatTheRunHasAndThePriorsLeaveOpen) {
  Bench<double> bench;
  const UnknownList<double>& list = bench.list;
  const auto is = [&](int j, ParameterKind kind, int index) {
    return list.unknown[j].kind == UnknownKind::shape && list.unknown[j].shape.kind == kind &&
           list.unknown[j].shape.index == index;
  };
  ASSERT_EQ(list.count, 19);
  EXPECT_TRUE(is(0, ParameterKind::offset_rise, wall_bracket));
  EXPECT_TRUE(is(1, ParameterKind::offset_pitch, wall_bracket));
  EXPECT_TRUE(is(2, ParameterKind::offset_roll, wall_bracket));
  EXPECT_TRUE(is(3, ParameterKind::offset_rise, east_rod));  // its pitch and roll are free
  EXPECT_TRUE(is(4, ParameterKind::bending, 0));
  EXPECT_TRUE(is(5, ParameterKind::torsion, 0));
  EXPECT_TRUE(is(6, ParameterKind::spring_rise, wall_bracket));
  EXPECT_TRUE(is(7, ParameterKind::spring_pitch, wall_bracket));  // its roll is rigid: no spring
  EXPECT_TRUE(is(8, ParameterKind::spring_rise, east_rod));
  EXPECT_TRUE(is(9, ParameterKind::load, spine));
  EXPECT_TRUE(is(11, ParameterKind::load, books));  // to come
  EXPECT_TRUE(is(13, ParameterKind::bow, 1));
  EXPECT_EQ(list.unknown[14].kind, UnknownKind::datum_height);
  EXPECT_EQ(list.unknown[15].kind, UnknownKind::datum_tilt);
  EXPECT_EQ(list.unknown[18].kind, UnknownKind::zero);
  EXPECT_EQ(list.unknown[18].index, laser);
}

TEST(BuildUnknowns, TakesSupportsThatEngageLaterByTheirOwnPriors) {
  auto builder = test::shelf<double>();
  builder.stages[0].supports = 1u << wall_bracket;
  const auto run = builder.run();
  Priors<double> priors;
  priors.offset[east_rod].rise = {1, 1};
  UnknownList<double> list;
  ASSERT_TRUE(build_unknowns(run, test::hung, test::in_use, priors, list));
  EXPECT_EQ(list.count, 0);
  EXPECT_EQ(state_of_means(run, test::hung, priors).offset[east_rod].rise, 0);
  priors.later_offset[east_rod].rise = {0.002, 0.001};
  ASSERT_TRUE(build_unknowns(run, test::hung, test::in_use, priors, list));
  ASSERT_EQ(list.count, 1);
  EXPECT_EQ(list.prior[0].mean, 0.002);
  EXPECT_EQ(state_of_means(run, test::hung, priors).offset[east_rod].rise, 0.002);
  ASSERT_TRUE(build_unknowns(run, test::hung, test::hung, priors, list));
  EXPECT_EQ(list.count, 0);
}

TEST(BuildUnknowns, SaysWhenThereAreTooMany) {
  beam::test::RunBuilder<double> builder = beam::test::RunBuilder<double>::uniform(4, 1e4);
  Priors<double> priors;
  const Prior<double> open{0, 1};
  for (int i = 0; i < kMaxSupports; ++i) {
    builder.add({i * 0.3, beam::test::spring(1e5), beam::test::spring(1e5), beam::test::spring(1e5)});
    priors.offset[i] = priors.log_spring[i] = {open, open, open};
  }
  for (int i = 0; i < kMaxLoads; ++i) builder.add_point(0.05 * i, 10);
  for (auto& load : priors.load) load = {1, 1};
  for (auto& zero : priors.zero) zero = open;
  builder.add_full_stage();
  UnknownList<double> list;
  EXPECT_FALSE(build_unknowns(builder.run(), 0, 0, priors, list));
  EXPECT_EQ(list.count, kMaxUnknowns);
}

TEST(Fit, FindsTheTruthThatMadeTheReadings) {
  Bench<double> bench;
  std::vector<double> truth = bench.means();
  truth[static_cast<std::size_t>(bench.index(ParameterKind::offset_rise, east_rod))] = 0.004;
  truth[static_cast<std::size_t>(bench.index(ParameterKind::offset_pitch, wall_bracket))] = -0.001;
  for (auto& reading : bench.readings) reading.sigma *= 1e-3;  // so that the priors hardly pull
  bench.read(truth, nullptr);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  std::vector<StationShape<double>> shape(bench.stations_m.size());
  ASSERT_TRUE(bench.fit->describe(shape).ok());
  bench.stand(truth);
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const auto section = (*bench.solver)->at(test::hung, bench.stations_m[i]);
    EXPECT_NEAR(shape[i].slope_rad, section.slope_rad, 3e-7);  // ten sigmas of a reading
    EXPECT_NEAR(shape[i].roll_rad, section.roll_rad, 5e-7);
    EXPECT_NEAR(shape[i].height_m - shape[0].height_m,
                section.height_m - (*bench.solver)->height(test::hung, 0), 2e-6);
  }
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::holds);
}

// reading.hpp: a distance has no face, and a readings file may give it one.
TEST(Fit, TakesADistanceForTheSameWhateverFaceIsSaid) {
  Bench<double> bench;
  std::vector<survey::Reading<double>> twice;
  for (const auto& reading : bench.readings) {
    twice.push_back(reading);
    if (reading.channel != Channel::distance) continue;
    twice.push_back(reading);
    twice.back().face = -1;
  }
  ASSERT_GT(twice.size(), bench.readings.size());
  bench.readings = twice;
  bench.read(bench.means(), nullptr);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::holds);
  EXPECT_LT(bench.fit->self_test().chi_squared, 1e-6) << "the readings are those that the sheet predicts";
}

// Independent: prior rows and readings stacked, Householder QR. Limit: 1e-9 relative, rounding of double.
TEST(Fit, AgreesWithABatchSolutionAndWithReadingsAddedOneByOne) {
  std::mt19937 random(31);
  Bench<double> bench(linear_priors());
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  ASSERT_EQ(bench.fit->self_test().beyond_gate, 0);

  const int p = bench.list.count;
  const auto n = static_cast<Eigen::Index>(bench.readings.size());
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(n + p, p);
  Eigen::VectorXd values = Eigen::VectorXd::Zero(n + p);
  const auto nothing = bench.means();
  std::vector<double> at_mean;
  bench.stand(nothing);
  const auto predictions = [&](const std::vector<double>& truth) {
    const auto kit = bench.stand(truth);
    const survey::Scene<double> scene{&bench.solver->solver(), test::hung, bench.run.length_m,
                                      test::kWidth_m};
    Eigen::VectorXd out(n);
    for (Eigen::Index i = 0; i < n; ++i)
      out[i] = survey::predicted(scene, bench.readings[static_cast<std::size_t>(i)], kit);
    return out;
  };
  const Eigen::VectorXd base = predictions(nothing);
  for (int j = 0; j < p; ++j) {  // linear: a difference over one prior sigma is the derivative
    auto moved = nothing;
    const double sigma = bench.list.prior[j].sigma;
    moved[static_cast<std::size_t>(j)] += sigma;
    rows.block(0, j, n, 1) = predictions(moved) - base;
    rows(n + j, j) = 1;
  }
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& reading = bench.readings[static_cast<std::size_t>(i)];
    rows.row(i) /= reading.sigma;
    values[i] = (reading.value - base[i]) / reading.sigma;
  }
  const Eigen::VectorXd scaled = rows.householderQr().solve(values);
  for (int j = 0; j < p; ++j) {
    const Estimate<double> estimate = bench.fit->estimate(j);
    EXPECT_NEAR((estimate.value - estimate.prior_value) / estimate.prior_sigma, scaled[j],
                1e-9 * scaled.norm())
        << j;
  }
  EXPECT_NEAR(bench.fit->self_test().chi_squared, (values - rows * scaled).squaredNorm(), 1e-8);

  const auto at_once = estimates(*bench.fit);
  bench.begin();
  for (const auto& reading : bench.readings) {
    const auto added = bench.fit->add(reading);
    ASSERT_TRUE(added.ok());
    ASSERT_EQ(added.value().verdict, Verdict::kept);
  }
  EXPECT_EQ(bench.fit->status(), Status::live);
  const auto one_by_one = estimates(*bench.fit);
  for (int j = 0; j < p; ++j)
    EXPECT_NEAR(one_by_one[static_cast<std::size_t>(j)], at_once[static_cast<std::size_t>(j)],
                1e-9 * bench.list.prior[j].sigma * scaled.norm());
}

TEST(Fit, DoesNotDependOnTheOrderOfReadings) {
  std::mt19937 random(32);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const auto forward = estimates(*bench.fit);
  const double chi_squared = bench.fit->self_test().chi_squared;
  std::shuffle(bench.readings.begin(), bench.readings.end(), random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const auto shuffled = estimates(*bench.fit);
  for (int j = 0; j < bench.list.count; ++j)
    EXPECT_NEAR(forward[static_cast<std::size_t>(j)], shuffled[static_cast<std::size_t>(j)],
                1e-8 * bench.list.prior[j].sigma);
  EXPECT_NEAR(bench.fit->self_test().chi_squared, chi_squared, 1e-8 * chi_squared);
}

// A stiffness far from its prior, readings good enough to say so: one linear step from the prior would miss.
TEST(Fit, ReLinearisesUntilAStiffnessSettles) {
  Priors<double> priors = test::shelf_priors<double>();
  priors.bending.sigma = 0.5;
  for (const int load : {spine, carcasses}) priors.load[load].sigma = 1e-4;
  priors.bow[0].sigma = priors.bow[1].sigma = 0;
  for (auto& spring : priors.log_spring) spring = {};
  Bench<double> bench(priors);
  auto truth = bench.means();
  const int bending = bench.index(ParameterKind::bending);
  truth[static_cast<std::size_t>(bending)] = 0.4;
  for (auto& reading : bench.readings) reading.sigma *= 0.01;
  bench.read(truth, nullptr);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  EXPECT_NEAR(bench.fit->estimate(bending).value, 0.4, 1e-3);
  EXPECT_LT(bench.fit->estimate(bending).sigma, 1e-3);
}

TEST(Fit, WithoutReadingsIsThePriorAndSaysSo) {
  Bench<double> bench;
  bench.readings.clear();
  ASSERT_EQ(bench.run_fit(), Status::prior_only);
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::nothing_to_test);
  EXPECT_EQ(bench.fit->self_test().degrees_of_freedom, 0);
  for (int j = 0; j < bench.list.count; ++j) {
    const Estimate<double> estimate = bench.fit->estimate(j);
    EXPECT_EQ(estimate.value, bench.list.prior[j].mean);
    EXPECT_DOUBLE_EQ(estimate.sigma, bench.list.prior[j].sigma);
    EXPECT_EQ(estimate.learned, 0);
  }
  std::vector<StationShape<double>> shape(bench.stations_m.size());
  ASSERT_TRUE(bench.fit->describe(shape).ok());
  for (const auto& each : shape) EXPECT_GT(each.height_less_mean_sigma_m, 0);
}

TEST(Fit, SaysHowMuchTheReadingsTaught) {
  std::mt19937 random(33);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const auto rise = bench.fit->estimate(bench.index(ParameterKind::offset_roll, wall_bracket));
  EXPECT_NEAR(rise.learned, 1 - rise.sigma * rise.sigma / (rise.prior_sigma * rise.prior_sigma), 1e-12);
  EXPECT_GT(rise.learned, 0.9);
  // No reading before they are on can say anything about the books.
  EXPECT_NEAR(bench.fit->estimate(bench.index(ParameterKind::load, books)).learned, 0, 1e-9);
}

TEST(Fit, CountsThePriorsTermsInChiSquared) {
  std::mt19937 random(34);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  double sum = 0;
  for (std::size_t i = 0; i < bench.readings.size(); ++i)
    if (bench.judgements[i].verdict == Verdict::kept)
      sum += std::pow(bench.judgements[i].residual / bench.readings[i].sigma, 2);
  for (int j = 0; j < bench.list.count; ++j) {
    const auto estimate = bench.fit->estimate(j);
    sum += std::pow((estimate.value - bench.list.prior[j].mean) / bench.list.prior[j].sigma, 2);
  }
  const auto test = bench.fit->self_test();
  EXPECT_NEAR(test.chi_squared, sum, 1e-6 * sum);
  EXPECT_EQ(test.degrees_of_freedom, static_cast<int>(bench.readings.size()) - test.beyond_gate);
  EXPECT_EQ(test.p_value, chi_squared_tail(test.chi_squared, test.degrees_of_freedom));
}

// Gates --------------------------------------------------------------------------------------------------------

TEST(FitGate, SetsAnOutlierAsideAndPutsItBackWhenItFits) {
  std::mt19937 random(41);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  const double good = bench.readings[17].value;
  bench.readings[17].value += 20 * bench.readings[17].sigma;
  ASSERT_EQ(bench.run_fit(), Status::settled);
  for (std::size_t i = 0; i < bench.readings.size(); ++i)
    EXPECT_EQ(bench.judgements[i].verdict, i == 17 ? Verdict::beyond_gate : Verdict::kept) << i;
  EXPECT_GT(bench.judgements[17].normalised, 10);
  EXPECT_NEAR(bench.judgements[17].residual, 20 * bench.readings[17].sigma, 5 * bench.readings[17].sigma);
  EXPECT_EQ(bench.fit->self_test().beyond_gate, 1);
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::holds);

  bench.readings[17].value = good;
  ASSERT_EQ(bench.run_fit(), Status::settled);
  EXPECT_EQ(bench.judgements[17].verdict, Verdict::kept);
}

TEST(FitGate, SetsSeveralOutliersAsideAndNoGoodReadingWithThem) {
  std::mt19937 random(42);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  for (const std::size_t wrong : {3u, 8u, 20u})
    bench.readings[wrong].value += 60 * bench.readings[wrong].sigma;
  ASSERT_EQ(bench.run_fit(), Status::settled);
  for (std::size_t i = 0; i < bench.readings.size(); ++i)
    EXPECT_EQ(bench.judgements[i].verdict == Verdict::beyond_gate, i == 3 || i == 8 || i == 20) << i;
}

TEST(FitGate, TheNormalisedResidualLeavesTheReadingItselfOut) {
  // The same reading, kept and set aside by hand, in a linear problem: one number.
  std::mt19937 random(43);
  Bench<double> bench(linear_priors());
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const double kept = bench.judgements[5].normalised;
  std::vector<std::uint8_t> by_hand(bench.readings.size(), 0);
  by_hand[5] = 1;
  ASSERT_EQ(bench.run_fit(by_hand), Status::settled);
  EXPECT_EQ(bench.judgements[5].verdict, Verdict::by_hand);
  EXPECT_EQ(bench.fit->self_test().by_hand, 1);
  EXPECT_NEAR(bench.judgements[5].normalised, kept, 1e-9);
}

TEST(FitGate, KeepsAllWhenTooManyWouldGoAndFailsTheSelfTest) {
  std::mt19937 random(44);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  for (std::size_t i = 0; i < bench.readings.size(); i += 2)
    bench.readings[i].value += (i % 4 == 0 ? 40 : -40) * bench.readings[i].sigma;
  bench.run_fit();
  EXPECT_EQ(bench.fit->self_test().beyond_gate, 0);
  EXPECT_EQ(bench.fit->self_test().outcome, TestOutcome::fails);
}

TEST(FitGate, LiveReadingsAreJudgedAsTheyCome) {
  std::mt19937 random(45);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  bench.begin();
  for (std::size_t i = 0; i + 1 < bench.readings.size(); ++i)
    ASSERT_TRUE(bench.fit->add(bench.readings[i]).ok());
  auto wrong = bench.readings.back();
  wrong.value += 30 * wrong.sigma;
  const auto before = estimates(*bench.fit);
  const auto judged = bench.fit->add(wrong);
  ASSERT_TRUE(judged.ok());
  EXPECT_EQ(judged.value().verdict, Verdict::beyond_gate);
  EXPECT_GT(judged.value().normalised, 10);
  EXPECT_EQ(estimates(*bench.fit), before);
}

// Shape --------------------------------------------------------------------------------------------------------

TEST(FitShape, PartsAddUpToTheHeight) {
  std::mt19937 random(51);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  std::vector<StationShape<double>> shape(bench.stations_m.size());
  ASSERT_TRUE(bench.fit->describe(shape).ok());
  for (const auto& each : shape)
    EXPECT_NEAR(each.height_m, each.tilt_and_height_m + each.bent_by_supports_m + each.sag_m + each.bow_m,
                1e-15);
  // The straight line is straight, and the sag is what the loads do to a run whose supports and make are
  // perfect.
  const auto tilt = [&](std::size_t a, std::size_t b) {
    return (shape[b].tilt_and_height_m - shape[a].tilt_and_height_m) / (shape[b].at_m - shape[a].at_m);
  };
  EXPECT_NEAR(tilt(0, 1), tilt(3, 7), 1e-12);
  beam::State<double> perfect = bench.fit->state();
  for (auto& offset : perfect.offset) offset = {};
  for (double& bow : perfect.bow_m) bow = 0;
  bench.solver->solve(perfect);
  for (const auto& each : shape)
    EXPECT_NEAR(each.sag_m, (*bench.solver)->height(test::hung, each.at_m), 1e-13);
}

TEST(FitShape, TellsTheSagToCome) {
  Bench<double> bench;
  bench.read(bench.means(), nullptr);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  std::vector<StationShape<double>> shape(bench.stations_m.size());
  ASSERT_TRUE(bench.fit->describe(shape).ok());
  bench.stand(bench.means());
  for (const auto& each : shape) {
    const double to_come =
        (*bench.solver)->height(test::in_use, each.at_m) - (*bench.solver)->height(test::hung, each.at_m);
    EXPECT_NEAR(each.sag_to_come_m, to_come, 1e-9);
  }
  EXPECT_LT(shape[4].sag_to_come_m, -1e-4);
}

TEST(FitShape, HeightLessMeanDoesNotKnowTheCommonHeight) {
  Priors<double> priors = test::shelf_priors<double>();
  priors.datum_height[0].sigma = 1;  // nobody knows how high the laser stands,
  priors.offset[wall_bracket].rise.sigma = priors.offset[east_rod].rise.sigma = 1;  // nor the supports
  std::mt19937 random(52);
  Bench<double> bench(priors);
  bench.read(bench.means(), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  std::vector<StationShape<double>> shape(bench.stations_m.size());
  ASSERT_TRUE(bench.fit->describe(shape).ok());
  for (const auto& each : shape) {
    EXPECT_GT(each.height_sigma_m, 0.1);
    EXPECT_LT(each.height_less_mean_sigma_m, 5e-4);
  }
}

TEST(FitShape, TheFactorOfTheCheckPointsIsTheirCovariance) {
  std::mt19937 random(53);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const auto points = static_cast<Eigen::Index>(2 * bench.stations_m.size());
  const int p = bench.list.count;
  std::vector<double> height(static_cast<std::size_t>(points)), factor(static_cast<std::size_t>(points * p));
  ASSERT_TRUE(bench.fit->finished(height, factor).ok());
  using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
  const Eigen::Map<const RowMajor> s(factor.data(), points, p);

  RowMajor covariance(p, p), rows(points, p);
  for (int a = 0; a < p; ++a)
    for (int b = 0; b < p; ++b) covariance(a, b) = bench.fit->covariance(a, b);
  const auto heights = [&](const std::vector<double>& values) {
    bench.stand(values);
    Eigen::VectorXd out(points);
    for (Eigen::Index i = 0; i < points; ++i)
      out[i] = (*bench.solver)
                   ->height(test::in_use, bench.stations_m[static_cast<std::size_t>(i / 2)],
                            (i % 2 == 0 ? 1 : -1) * test::kWidth_m / 2);
    return out;
  };
  const auto at = estimates(*bench.fit);
  const Eigen::VectorXd here = heights(at);
  for (Eigen::Index i = 0; i < points; ++i) EXPECT_NEAR(height[static_cast<std::size_t>(i)], here[i], 1e-15);
  for (int j = 0; j < p; ++j) {
    auto more = at, less = at;
    const double step = 0.01 * bench.list.prior[j].sigma;
    more[static_cast<std::size_t>(j)] += step;
    less[static_cast<std::size_t>(j)] -= step;
    rows.col(j) = (heights(more) - heights(less)) / (2 * step);
  }
  const RowMajor wanted = rows * covariance * rows.transpose();
  EXPECT_LT((s * s.transpose() - wanted).cwiseAbs().maxCoeff(), 1e-5 * wanted.cwiseAbs().maxCoeff());
}

TEST(FitShape, TheFactorRowOfAnUnknownIsItsCovariance) {
  std::mt19937 random(54);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const int p = bench.list.count;
  Eigen::VectorXd a(p), b(p);
  for (int j = 0; j < p; ++j) {
    bench.fit->factor_row(j, {a.data(), static_cast<std::size_t>(p)});
    bench.fit->factor_row((j + 1) % p, {b.data(), static_cast<std::size_t>(p)});
    EXPECT_NEAR(a.norm() / bench.fit->estimate(j).sigma, 1, 1e-12);
    EXPECT_NEAR(a.dot(b), bench.fit->covariance(j, (j + 1) % p), 1e-12 * a.norm() * b.norm());
  }
}

// A move of a support's zero, made now, stands in the finished heights as if the run were solved with it;
// without any move nothing changes, and the fit is as before afterwards.
TEST(FitShape, FinishedAfterMovesIsTheMovedRun) {
  std::mt19937 random(55);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const std::size_t points = 2 * bench.stations_m.size();
  std::vector<double> before(points), after(points), again(points);
  std::vector<double> factor(points * static_cast<std::size_t>(bench.list.count)),
      factor_after(factor.size());
  ASSERT_TRUE(bench.fit->finished(before, factor).ok());
  std::vector<beam::Motions<double>> moves(2);
  ASSERT_TRUE(bench.fit->finished_after(moves, after, factor_after).ok());
  for (std::size_t i = 0; i < points; ++i) EXPECT_NEAR(after[i], before[i], 1e-15);
  moves[east_rod].rise = 0.003;
  ASSERT_TRUE(bench.fit->finished_after(moves, after, factor_after).ok());
  ASSERT_TRUE(bench.fit->finished(again, factor).ok());
  EXPECT_EQ(again, before);
  beam::State<double> moved = bench.fit->state();
  moved.move[east_rod].rise = 0.003;
  moved.move_stage = test::hung;
  bench.solver->solve(moved);
  for (std::size_t i = 0; i < points; ++i)
    EXPECT_NEAR(
        after[i],
        (*bench.solver)
            ->height(test::in_use, bench.stations_m[i / 2], (i % 2 == 0 ? 1 : -1) * test::kWidth_m / 2),
        1e-14);
  EXPECT_GT(after[points - 2] - before[points - 2], 0.001);
}

// Next best reading ----------------------------------------------------------------------------------------------

TEST(FitNextReading, EqualsTryingEveryReadingOut) {
  std::mt19937 random(61);
  Bench<double> bench(test::shelf_priors<double>(), test::hung, 6);
  bench.readings.resize(7);  // a survey hardly begun
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  const std::vector<survey::Reading<double>> instruments{
      {Channel::slope, Edge::middle, 1, -1, inclinometer, 0, 0.25, 0, 3e-5},
      {Channel::slope, Edge::middle, -1, -1, inclinometer, 0, 0.25, 0, 3e-5},
      {Channel::roll, Edge::middle, 1, -1, second_inclinometer, 0, 0, 0, 5e-5},
      {Channel::distance, Edge::left, 1, 0, laser, 0, 0, 0, 2e-4},
      {Channel::distance, Edge::right, 1, 0, laser, 0, 0, 0, 2e-4}};
  const auto found = bench.fit->next_reading(instruments);
  ASSERT_TRUE(found.ok());

  const auto spread = [&](Fit<double>& fit) {
    const auto points = static_cast<Eigen::Index>(2 * bench.stations_m.size());
    std::vector<double> height(static_cast<std::size_t>(points)),
        factor(static_cast<std::size_t>(points * fit.unknowns()));
    EXPECT_TRUE(fit.finished(height, factor).ok());
    Eigen::MatrixXd s = Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
        factor.data(), points, fit.unknowns());
    s.rowwise() -= s.colwise().mean().eval();
    return std::sqrt(s.squaredNorm() / static_cast<double>(points));
  };
  EXPECT_NEAR(found.value().sigma_now_m, spread(*bench.fit), 1e-12);
  double best = kInf;
  int best_station = -1, best_instrument = -1;
  auto tried = std::make_unique<Fit<double>>();
  for (int i = 0; i < 6; ++i) {
    for (int k = 0; k < static_cast<int>(instruments.size()); ++k) {
      *tried = *bench.fit;
      auto reading = instruments[static_cast<std::size_t>(k)];
      reading.at_m = bench.stations_m[static_cast<std::size_t>(i)];
      const auto kit = bench.stand(estimates(*bench.fit));
      reading.value = survey::predicted(
          {&bench.solver->solver(), test::hung, bench.run.length_m, test::kWidth_m}, reading, kit);
      ASSERT_TRUE(tried->add(reading).ok());
      const double after = spread(*tried);
      if (after < best - 1e-15) {
        best = after;
        best_station = i;
        best_instrument = k;
      }
    }
  }
  EXPECT_EQ(found.value().reading.station, best_station);
  EXPECT_EQ(found.value().reading.instrument, best_instrument);
  EXPECT_NEAR(found.value().sigma_after_m, best, 1e-9 * best);
  EXPECT_LT(best, 0.99 * found.value().sigma_now_m);
}

TEST(FitNextReading, NamesNoneWhereThereIsNoInstrument) {
  Bench<double> bench;
  bench.read(bench.means(), nullptr);
  bench.run_fit();
  const auto found = bench.fit->next_reading({});
  ASSERT_TRUE(found.ok());
  EXPECT_EQ(found.value().reading.instrument, -1);
  EXPECT_EQ(found.value().sigma_after_m, found.value().sigma_now_m);
}

// Carrying -------------------------------------------------------------------------------------------------------

// Two surveys, one after the other with what lasts carried on, against both in one least-squares problem
// (Eigen). Set-up 1 stands in the second survey only.
TEST(FitCarry, TwoStagesInTurnEqualOneJointFit) {
  std::mt19937 random(71);
  Priors<double> both = linear_priors();
  both.datum_height[1] = {1.1, 5e-3};
  both.datum_tilt[1] = {0, 1e-4};
  Priors<double> first_priors = both, second_priors = both;
  first_priors.datum_height[1] = first_priors.datum_tilt[1] = {1.1, 0};
  first_priors.datum_tilt[1].mean = 0;
  second_priors.datum_height[0].sigma = second_priors.datum_tilt[0].sigma = 0;

  Bench<double> joint(both, test::in_use);
  const auto truth = joint.draw(random);
  Bench<double> first(first_priors, test::hung), second(second_priors, test::in_use);
  for (auto& reading : second.readings)
    if (reading.channel == Channel::distance) reading.set_up = 1;
  const auto part = [&](const Bench<double>& of) {
    std::vector<double> values;
    for (int j = 0; j < of.list.count; ++j)
      values.push_back(truth[static_cast<std::size_t>(joint.index(of.list.unknown[j]))]);
    return values;
  };
  first.read(part(first), &random);
  second.read(part(second), &random);

  ASSERT_EQ(first.run_fit(), Status::settled);
  auto carried = std::make_unique<Carried<double>>();
  first.fit->carry(0, *carried);
  EXPECT_EQ(carried->count, first.list.count - 2);  // all but the datum's height and tilt
  second.problem.carried = carried.get();
  ASSERT_EQ(second.run_fit(), Status::settled);
  ASSERT_EQ(first.fit->self_test().beyond_gate + second.fit->self_test().beyond_gate, 0);

  const int p = joint.list.count;
  std::vector<Eigen::VectorXd> rows;
  std::vector<double> values;
  const auto stack = [&](Bench<double>& of, int stage) {
    const auto predictions = [&](const std::vector<double>& at) {
      const auto kit = joint.stand(at);
      std::vector<double> out;
      for (const auto& reading : of.readings)
        out.push_back(survey::predicted({&joint.solver->solver(), stage, joint.run.length_m, test::kWidth_m},
                                        reading, kit));
      return out;
    };
    const auto base = predictions(joint.means());
    const std::size_t from = rows.size();
    for (std::size_t i = 0; i < of.readings.size(); ++i) {
      rows.push_back(Eigen::VectorXd::Zero(p));
      values.push_back((of.readings[i].value - base[i]) / of.readings[i].sigma);
    }
    for (int j = 0; j < p; ++j) {
      auto moved = joint.means();
      moved[static_cast<std::size_t>(j)] += joint.list.prior[j].sigma;
      const auto there = predictions(moved);
      for (std::size_t i = 0; i < of.readings.size(); ++i)
        rows[from + i][j] = (there[i] - base[i]) / of.readings[i].sigma;
    }
  };
  stack(first, test::hung);
  stack(second, test::in_use);
  const auto n = static_cast<Eigen::Index>(rows.size());
  Eigen::MatrixXd all = Eigen::MatrixXd::Zero(n + p, p);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(n + p);
  for (Eigen::Index i = 0; i < n; ++i) {
    all.row(i) = rows[static_cast<std::size_t>(i)];
    right[i] = values[static_cast<std::size_t>(i)];
  }
  all.bottomRows(p).setIdentity();
  const Eigen::VectorXd scaled = all.householderQr().solve(right);
  const Eigen::MatrixXd covariance = (all.transpose() * all).inverse();
  for (int j = 0; j < second.list.count; ++j) {
    const int in_joint = joint.index(second.list.unknown[j]);
    const double sigma = joint.list.prior[in_joint].sigma;
    const auto estimate = second.fit->estimate(j);
    EXPECT_NEAR((estimate.value - joint.list.prior[in_joint].mean) / sigma, scaled[in_joint],
                1e-8 * scaled.norm())
        << j;
    EXPECT_NEAR(estimate.sigma / sigma, std::sqrt(covariance(in_joint, in_joint)), 1e-8) << j;
  }
}

TEST(FitCarry, DropsTheOffsetsOfSupportsThatWereMoved) {
  std::mt19937 random(72);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  auto carried = std::make_unique<Carried<double>>();
  bench.fit->carry(1u << wall_bracket, *carried);
  EXPECT_EQ(carried->count, bench.list.count - 2 - 3);
  for (int k = 0; k < carried->count; ++k) {
    EXPECT_FALSE(carried->unknown[k].kind == UnknownKind::shape &&
                 carried->unknown[k].shape == (beam::Parameter{ParameterKind::offset_pitch, wall_bracket}));
  }
  // In the next survey the moved support's offsets have the sheet's prior again, the other's what was
  // learned.
  const double learned = bench.fit->estimate(bench.index(ParameterKind::bow, 0)).sigma;
  Bench<double> next(test::shelf_priors<double>(), test::in_use);
  next.readings.clear();
  next.problem.carried = carried.get();
  ASSERT_EQ(next.run_fit(), Status::prior_only);
  EXPECT_NEAR(next.fit->estimate(next.index(ParameterKind::offset_pitch, wall_bracket)).sigma, 2e-3, 1e-12);
  EXPECT_NEAR(next.fit->estimate(next.index(ParameterKind::bow, 0)).sigma, learned, 1e-12);
}

// Faults ---------------------------------------------------------------------------------------------------------

FitFault fault_of(Bench<double>& bench) {
  bench.begin();
  bench.judgements.assign(bench.readings.size(), {});
  const auto status = bench.fit->run(bench.readings, {}, bench.judgements);
  EXPECT_FALSE(status.ok());
  return status.ok() ? FitFault{} : status.fault();
}

TEST(FitFaults, NameTheReading) {
  Bench<double> bench;
  bench.read(bench.means(), nullptr);
  const auto good = bench.readings[6];
  const auto expect = [&](auto spoil, FitFaultCode code) {
    bench.readings[6] = good;
    spoil(bench.readings[6]);
    const FitFault fault = fault_of(bench);
    EXPECT_EQ(fault.code, code);
    EXPECT_EQ(fault.index, 6);
    EXPECT_FALSE(bench.fit->add(bench.readings[6]).ok());
  };
  expect([](auto& r) { r.value = kNaN; }, FitFaultCode::reading_not_finite);
  expect([](auto& r) { r.at_m = kInf; }, FitFaultCode::reading_not_finite);
  expect([](auto& r) { r.sigma = kNaN; }, FitFaultCode::reading_not_finite);
  expect([](auto& r) { r.sigma = 0; }, FitFaultCode::sigma_not_positive);
  expect([](auto& r) { r.sigma = -1; }, FitFaultCode::sigma_not_positive);
  expect([](auto& r) { r.at_m = -0.01; }, FitFaultCode::reading_off_run);
  expect([](auto& r) { r.at_m = 4.21; }, FitFaultCode::reading_off_run);
  expect([](auto& r) { r.base_m = -0.1; }, FitFaultCode::reading_off_run);
  expect([](auto& r) { r.set_up = kMaxSetUps; }, FitFaultCode::no_such_instrument);
  expect([](auto& r) { r.zero = kMaxChannels; }, FitFaultCode::no_such_instrument);
  expect([](auto& r) { r.face = 0; }, FitFaultCode::face_not_usable);
}

TEST(FitFaults, NameWhatIsWrongWithTheProblem) {
  const auto begin = [](auto spoil) {
    Bench<double> bench;
    spoil(bench);
    bench.storage.assign(100000, 0);
    const auto begun = bench.fit->begin(bench.problem, bench.storage);
    EXPECT_FALSE(begun.ok());
    EXPECT_EQ(bench.fit->status(), Status::not_run);
    return begun.ok() ? FitFault{} : begun.fault();
  };
  EXPECT_EQ(begin([](auto& b) { b.problem.stage = 2; }).code, FitFaultCode::stage_not_there);
  EXPECT_EQ(begin([](auto& b) { b.problem.stage = -1; }).code, FitFaultCode::stage_not_there);
  EXPECT_EQ(begin([](auto& b) {
              b.problem.stage = 1;
              b.problem.finished_stage = 0;
            }).code,
            FitFaultCode::stage_not_there);
  EXPECT_EQ(begin([](auto& b) { b.problem.width_m = kNaN; }).code, FitFaultCode::width_not_usable);
  EXPECT_EQ(begin([](auto& b) { b.stations_m[3] = 5; }).index, 3);
  EXPECT_EQ(begin([](auto& b) { b.list.count = 0; }).code, FitFaultCode::no_unknowns);
  EXPECT_EQ(begin([](auto& b) { b.list.prior[4].sigma = 0; }).code, FitFaultCode::prior_not_usable);
  EXPECT_EQ(begin([](auto& b) { b.list.prior[4].mean = kInf; }).index, 4);
  EXPECT_EQ(begin([](auto& b) { std::swap(b.list.unknown[0], b.list.unknown[18]); }).code,
            FitFaultCode::unknowns_out_of_order);
  const FitFault falls = begin([](auto& b) { b.list.prior[4].mean = -1; });  // a negative stiffness
  EXPECT_EQ(falls.code, FitFaultCode::run_not_solvable);
  EXPECT_EQ(falls.stage_fault.code, beam::StageFaultCode::state_not_usable);
}

TEST(FitFaults, SayWhenStorageDoesNotSuffice) {
  Bench<double> bench;
  bench.read(bench.means(), nullptr);
  bench.storage.assign(10, 0);
  EXPECT_EQ(bench.fit->begin(bench.problem, bench.storage).fault().code, FitFaultCode::storage_too_small);
  EXPECT_EQ(bench.fit->add(bench.readings[0]).fault().code, FitFaultCode::not_begun);
  EXPECT_EQ(bench.fit->run(bench.readings, {}, bench.judgements).fault().code, FitFaultCode::not_begun);
  bench.begin();
  bench.readings.push_back(bench.readings.back());
  bench.judgements.resize(bench.readings.size());
  EXPECT_EQ(bench.fit->run(bench.readings, {}, bench.judgements).fault().code,
            FitFaultCode::storage_too_small);
}

TEST(Fit, DoesNotTouchTheHeap) {
  std::mt19937 random(81);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  bench.begin();
  bench.judgements.resize(bench.readings.size());
  std::vector<StationShape<double>> shape(bench.stations_m.size());
  std::vector<double> height(2 * shape.size()),
      factor(height.size() * static_cast<std::size_t>(bench.list.count));
  std::vector<Cause<double>> causes(kMaxCauses);
  auto carried = std::make_unique<Carried<double>>();
  const std::size_t before = ::hangtrue::test::heap_allocations();
  bool fine = true;
  for (const auto& reading : bench.readings) fine = fine && bench.fit->add(reading).ok();
  fine = fine && bench.fit->run(bench.readings, {}, bench.judgements).ok() &&
         bench.fit->describe(shape).ok() && bench.fit->finished(height, factor).ok() &&
         bench.fit->next_reading(bench.readings).ok();
  const int found = bench.fit->causes(bench.readings, bench.judgements, causes);
  bench.fit->carry(0, *carried);
  const std::size_t after = ::hangtrue::test::heap_allocations();
  EXPECT_EQ(after, before);
  EXPECT_TRUE(fine);
  EXPECT_GT(found, 0);
}

// The node's precision, on the whole fit. Heights to a hundredth of a millimetre.
TEST(Fit, InSinglePrecisionFindsTheSameShape) {
  std::mt19937 random(82);
  Bench<double> bench;
  bench.read(bench.draw(random), &random);
  ASSERT_EQ(bench.run_fit(), Status::settled);
  Bench<float> single;
  for (std::size_t i = 0; i < bench.readings.size(); ++i)
    single.readings[i].value = static_cast<float>(bench.readings[i].value);
  ASSERT_EQ(single.run_fit(), Status::settled);
  std::vector<StationShape<double>> wanted(bench.stations_m.size());
  std::vector<StationShape<float>> got(wanted.size());
  ASSERT_TRUE(bench.fit->describe(wanted).ok());
  ASSERT_TRUE(single.fit->describe(got).ok());
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    EXPECT_NEAR(got[i].height_m, wanted[i].height_m, 1e-5);
    EXPECT_NEAR(got[i].height_less_mean_sigma_m / wanted[i].height_less_mean_sigma_m, 1, 1e-2);
  }
}

}  // namespace
}  // namespace hangtrue::fit
