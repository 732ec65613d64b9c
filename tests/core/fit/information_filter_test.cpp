// Least squares by the information filter against published certified values.
//
// Sources   NIST Statistical Reference Datasets, linear regression: Norris, Pontius, NoInt1, Longley, Filip,
//           Wampler1, Wampler4 (data/reference/nist_certified.json, which says where each was seen). JCGM
//           100:2008 (GUM), annex H.3 (data/reference/gum_examples.json). data/reference/bayes_wls.json: our
//           own cases on the H.3 data, 40-digit arithmetic; York (1966) weights on Pearson's (1901) data.
// Scaling   each column of a model is divided by its largest entry before it enters and the answer is scaled
//           back, as Fit does with its priors.
// Digits    -log10(relative error); 15 where exact.
#include "core/fit/information_filter.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <nlohmann/json.hpp>
#include <random>

#include "tests/core/reference.hpp"
#include "tests/no_heap.hpp"

namespace hangtrue::fit {
namespace {

using Json = nlohmann::json;
using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
using Vector = Eigen::VectorXd;
using Filter = InformationFilter<double, 24>;

Json reference_json(const std::string& name) { return Json::parse(test::open_reference(name)); }

double number(const Json& value) {
  return value.is_string() ? std::stod(value.get<std::string>()) : value.get<double>();
}

Vector numbers(const Json& values) {
  Vector out(static_cast<Eigen::Index>(values.size()));
  for (std::size_t i = 0; i < values.size(); ++i) out[static_cast<Eigen::Index>(i)] = number(values[i]);
  return out;
}

double digits(double got, double wanted) {
  const double error = wanted == 0 ? std::abs(got) : std::abs(got / wanted - 1);
  return error == 0 ? 15 : std::min(15.0, -std::log10(error));
}

std::span<const double> span(const Vector& v) { return {v.data(), static_cast<std::size_t>(v.size())}; }
std::span<double> span(Vector& v) { return {v.data(), static_cast<std::size_t>(v.size())}; }

struct Model {
  Matrix rows;
  Vector values;
};

Model read_polynomial(const std::string& file, int lowest_power, int highest_power) {
  const auto lines = test::read_reference_csv(file);
  Model model{Matrix(lines.size(), highest_power - lowest_power + 1), Vector(lines.size())};
  for (Eigen::Index i = 0; i < model.values.size(); ++i) {
    const auto& line = lines[static_cast<std::size_t>(i)];
    model.values[i] = std::stod(line.at("y"));
    for (int k = lowest_power; k <= highest_power; ++k)
      model.rows(i, k - lowest_power) = std::pow(std::stod(line.at("x")), k);
  }
  return model;
}

struct Answer {
  Vector estimate;
  Matrix covariance;  // of unit sigma
  double sum_of_squares = 0;
  [[nodiscard]] Vector sd(Eigen::Index readings) const {
    const double variance = sum_of_squares / static_cast<double>(readings - estimate.size());
    return (variance * covariance.diagonal()).cwiseSqrt();
  }
};

Answer solve(const Filter& filter) {
  const int n = filter.unknowns();
  Answer answer{Vector(n), Matrix(n, n), filter.sum_of_squares()};
  EXPECT_TRUE(filter.answer(span(answer.estimate)));
  Matrix factor(n, n);
  for (int j = 0; j < n; ++j) {
    Vector unit = Vector::Unit(n, j);
    filter.whiten(span(unit), span(unit));
    factor.row(j) = unit;
  }
  answer.covariance = factor * factor.transpose();
  return answer;
}

Answer least_squares(const Model& model, const Vector& sigma) {
  const Vector scale = model.rows.cwiseAbs().colwise().maxCoeff();
  Filter filter;
  filter.start(static_cast<int>(model.rows.cols()));
  for (Eigen::Index i = 0; i < model.rows.rows(); ++i) {
    const Vector row = model.rows.row(i).transpose().cwiseQuotient(scale);
    filter.add(span(row), model.values[i], sigma[i]);
  }
  Answer answer = solve(filter);
  answer.estimate = answer.estimate.cwiseQuotient(scale);
  const Vector inverse = scale.cwiseInverse();
  answer.covariance = inverse.asDiagonal() * answer.covariance * inverse.asDiagonal();
  return answer;
}

Answer least_squares(const Model& model) { return least_squares(model, Vector::Ones(model.values.size())); }

void expect_certified(const std::string& set, const Model& model, double digits_wanted) {
  const Json certified = reference_json("nist_certified.json").at("sets").at(set).at("certified");
  const Answer answer = least_squares(model);
  const Vector estimate = numbers(certified.at("estimate"));
  ASSERT_EQ(answer.estimate.size(), estimate.size());
  for (Eigen::Index j = 0; j < estimate.size(); ++j)
    EXPECT_GE(digits(answer.estimate[j], estimate[j]), digits_wanted) << set << " estimate " << j;
  if (certified.at("residual_ss").is_null() || number(certified.at("residual_ss")) == 0) return;
  const Vector sd = numbers(certified.at("sd"));
  const Vector got = answer.sd(model.values.size());
  for (Eigen::Index j = 0; j < sd.size(); ++j)
    EXPECT_GE(digits(got[j], sd[j]), digits_wanted) << set << " sd " << j;
  EXPECT_GE(digits(answer.sum_of_squares, number(certified.at("residual_ss"))), digits_wanted) << set;
}

TEST(InformationFilter, ReachesTheCertifiedValuesOfNorris) {
  expect_certified("Norris", read_polynomial("norris.csv", 0, 1), 11);
}

TEST(InformationFilter, ReachesTheCertifiedValuesOfPontius) {
  expect_certified("Pontius", read_polynomial("pontius.csv", 0, 2), 10);
}

TEST(InformationFilter, ReachesTheCertifiedValuesOfNoInt1) {
  expect_certified("NoInt1", read_polynomial("noint1.csv", 1, 1), 13);
}

TEST(InformationFilter, ReachesTheCertifiedValuesOfWampler1) {
  const Model model = read_polynomial("wampler1.csv", 0, 5);
  expect_certified("Wampler1", model, 9);
  EXPECT_LT(least_squares(model).sum_of_squares, 1e-12);  // certified 0, values up to 4e6
}

TEST(InformationFilter, ReachesTheCertifiedValuesOfWampler4) {
  // Noise of 1e5 on coefficients of 1: the condition number takes some digits of any method in double.
  expect_certified("Wampler4", read_polynomial("wampler4.csv", 0, 5), 7);
}

TEST(InformationFilter, ReachesTheCertifiedValuesOfLongley) {
  const auto lines = test::read_reference_csv("longley.csv");
  Model model{Matrix(lines.size(), 7), Vector(lines.size())};
  for (Eigen::Index i = 0; i < model.values.size(); ++i) {
    const auto& line = lines[static_cast<std::size_t>(i)];
    model.values[i] = std::stod(line.at("y"));
    model.rows(i, 0) = 1;
    for (int k = 1; k <= 6; ++k) model.rows(i, k) = std::stod(line.at("x" + std::to_string(k)));
  }
  expect_certified("Longley", model, 9);
}

// Filip's powers up to x^10 have, scaled by columns, a condition number near 1e10 (1e15 unscaled): what is
// left of double's sixteen digits is stated. In Chebyshev polynomials over the range of x the same set keeps
// 9 and more in what does not depend on the basis: the sum of squares and the fitted curve.
TEST(InformationFilter, ReachesSixDigitsOfFilipInPowers) {
  expect_certified("Filip", read_polynomial("filip.csv", 0, 10), 6);
}

TEST(InformationFilter, ReachesNineDigitsOfFilipInChebyshevPolynomials) {
  const Model powers = read_polynomial("filip.csv", 0, 10);
  const double low = powers.rows.col(1).minCoeff();
  const double high = powers.rows.col(1).maxCoeff();
  Model model = powers;
  for (Eigen::Index i = 0; i < model.rows.rows(); ++i)
    for (int k = 0; k <= 10; ++k)
      model.rows(i, k) =
          std::cos(k * std::acos(std::clamp((2 * powers.rows(i, 1) - low - high) / (high - low), -1.0, 1.0)));
  const Answer answer = least_squares(model);
  const Json set = reference_json("nist_certified.json").at("sets").at("Filip");
  EXPECT_GE(digits(answer.sum_of_squares, number(set.at("certified").at("residual_ss"))), 9);
  // The curve at x = -5, from the certified coefficients in extended precision.
  long double curve = 0;
  for (int k = 10; k >= 0; --k)
    curve =
        curve * -5 +
        std::stold(
            set.at("recomputed_50_digits").at("estimate").at(static_cast<std::size_t>(k)).get<std::string>());
  double got = 0;
  for (int k = 0; k <= 10; ++k)
    got += answer.estimate[k] * std::cos(k * std::acos((-10 - low - high) / (high - low)));
  EXPECT_GE(digits(got, static_cast<double>(curve)), 9);
}

Model gum_h3() {
  const auto lines = test::read_reference_csv("gum_h3.csv");
  Model model{Matrix(lines.size(), 2), Vector(lines.size())};
  for (Eigen::Index i = 0; i < model.values.size(); ++i) {
    const auto& line = lines[static_cast<std::size_t>(i)];
    model.rows.row(i) << 1, std::stod(line.at("t_k")) - 20;
    model.values[i] = std::stod(line.at("b_k"));
  }
  return model;
}

TEST(InformationFilter, CalibratesTheThermometerOfGumH3) {
  const Json published = reference_json("gum_examples.json").at("H3").at("published");
  const Json recomputed = reference_json("gum_examples.json").at("H3").at("recomputed");
  const Answer answer = least_squares(gum_h3());
  const Vector sd = answer.sd(11);
  // As printed: half a unit of the last figure.
  EXPECT_NEAR(answer.estimate[0], number(published.at("y1")), 0.5e-4);
  EXPECT_NEAR(answer.estimate[1], number(published.at("y2")), 0.5e-5);
  EXPECT_NEAR(sd[0], number(published.at("s_y1")), 0.5e-4);
  EXPECT_NEAR(sd[1], number(published.at("s_y2")), 0.5e-5);
  // Recomputed to more figures: ten.
  EXPECT_GE(digits(answer.estimate[0], number(recomputed.at("y1"))), 10);
  EXPECT_GE(digits(answer.estimate[1], number(recomputed.at("y2"))), 10);
  EXPECT_GE(digits(sd[0], number(recomputed.at("s_y1"))), 9);
  EXPECT_GE(digits(sd[1], number(recomputed.at("s_y2"))), 9);
  EXPECT_GE(digits(answer.sum_of_squares, number(recomputed.at("rss"))), 9);
  const double correlation =
      answer.covariance(0, 1) / std::sqrt(answer.covariance(0, 0) * answer.covariance(1, 1));
  EXPECT_GE(digits(correlation, number(recomputed.at("r"))), 9);
}

void expect_case(const Json& wanted, const Answer& answer) {
  const Vector mean = numbers(wanted.at("mean"));
  const Vector sd = numbers(wanted.at("sd"));
  for (Eigen::Index j = 0; j < mean.size(); ++j) {
    EXPECT_GE(digits(answer.estimate[j], mean[j]), 11) << j;
    EXPECT_GE(digits(std::sqrt(answer.covariance(j, j)), sd[j]), 10) << j;
    for (Eigen::Index k = 0; k < mean.size(); ++k)
      EXPECT_GE(digits(answer.covariance(j, k),
                       number(wanted.at("cov")[static_cast<std::size_t>(j)][static_cast<std::size_t>(k)])),
                10)
          << j << ", " << k;
  }
  if (!wanted.contains("chi2")) return;
  EXPECT_GE(digits(answer.sum_of_squares, number(wanted.at("chi2"))), 11);
}

TEST(InformationFilter, WeighsReadingsByTheirSigma) {
  const Json cases = reference_json("bayes_wls.json");
  const Json& known = cases.at("wls_known_u");
  const Answer answer = least_squares(gum_h3(), Vector::Constant(11, number(known.at("u_b"))));
  expect_case(known, answer);
  expect_case(cases.at("wls_unequal_u"),
              least_squares(gum_h3(), numbers(cases.at("wls_unequal_u").at("u_b"))));

  const Vector at_30 = (Vector(2) << 1, 10).finished();
  EXPECT_GE(digits(at_30.dot(answer.estimate), number(known.at("b30"))), 11);
  EXPECT_GE(digits(std::sqrt(at_30.dot(answer.covariance * at_30)), number(known.at("u_b30"))), 10);
}

TEST(InformationFilter, StartsFromAGaussianPrior) {
  const Json wanted = reference_json("bayes_wls.json").at("gaussian_prior");
  const Vector mean = numbers(wanted.at("prior_mean"));
  const Vector sd = numbers(wanted.at("prior_sd"));
  Filter filter;
  filter.start(span(mean), span(sd));
  const Model model = gum_h3();
  for (Eigen::Index i = 0; i < 11; ++i) {
    const Vector row = model.rows.row(i);
    filter.add(span(row), model.values[i], number(wanted.at("u_b")));
  }
  expect_case(wanted, solve(filter));
}

TEST(InformationFilter, TellsTwoEpochsApart) {
  const Json wanted = reference_json("bayes_wls.json").at("epoch_difference");
  const Model model = gum_h3();
  const double sigma = number(wanted.at("u_b"));
  const Answer first =
      least_squares({model.rows.topRows(6), model.values.head(6)}, Vector::Constant(6, sigma));
  const Answer second =
      least_squares({model.rows.bottomRows(5), model.values.tail(5)}, Vector::Constant(5, sigma));
  const Vector difference = second.estimate - first.estimate;
  const Matrix covariance = first.covariance + second.covariance;
  const Vector printed = numbers(wanted.at("diff"));
  EXPECT_GE(digits(difference[0], printed[0]), 10);
  EXPECT_GE(digits(difference[1], printed[1]), 10);
  EXPECT_GE(digits(difference.dot(covariance.ldlt().solve(difference)), number(wanted.at("chi2_stat"))), 10);
}

// York's (1966) fit with errors in both coordinates, re-weighted until it stays: slope b, weights
// wx wy / (wx + b^2 wy), and the row is taken at the adjusted x (the least-squares point on the line).
TEST(InformationFilter, ReachesYorksLineThroughPearsonsData) {
  const Json york = reference_json("bayes_wls.json").at("york_pearson");
  const Vector x = numbers(york.at("x")), y = numbers(york.at("y"));
  const Vector wx = numbers(york.at("wx")), wy = numbers(york.at("wy"));
  Vector line = (Vector(2) << 5, -0.5).finished();  // intercept, slope
  double squares = 0;
  for (int turn = 0; turn < 60; ++turn) {
    Filter filter;
    filter.start(2);
    for (Eigen::Index i = 0; i < x.size(); ++i) {
      const double b = line[1];
      const double weight = wx[i] * wy[i] / (wx[i] + b * b * wy[i]);
      const double off = y[i] - line[0] - b * x[i];
      const double adjusted = x[i] + off * b * wy[i] / (wx[i] + b * b * wy[i]);
      const Vector row = (Vector(2) << 1, adjusted).finished();
      filter.add(span(row), off + line[0] + b * adjusted, 1 / std::sqrt(weight));
    }
    ASSERT_TRUE(filter.answer(span(line)));
    squares = filter.sum_of_squares();
  }
  EXPECT_GE(digits(line[1], number(york.at("slope"))), 11);
  EXPECT_GE(digits(line[0], number(york.at("intercept"))), 11);
  EXPECT_GE(digits(squares, number(york.at("S"))), 11);
}

// Properties ---------------------------------------------------------------------------------------------------

struct Survey {
  Model model;
  Vector sigma, mean, prior_sigma;
};

Survey random_survey(int unknowns, int readings, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  const auto any = [&] { return normal(random); };
  Survey survey{{Matrix::NullaryExpr(readings, unknowns, any), Vector::NullaryExpr(readings, any)},
                Vector::NullaryExpr(readings, [&] { return 0.01 + 0.1 * std::abs(any()); }),
                Vector::NullaryExpr(unknowns, any),
                Vector::NullaryExpr(unknowns, [&] { return 0.1 + std::abs(any()); })};
  return survey;
}

Filter filtered(const Survey& survey) {
  Filter filter;
  filter.start(span(survey.mean), span(survey.prior_sigma));
  for (Eigen::Index i = 0; i < survey.model.rows.rows(); ++i) {
    const Vector row = survey.model.rows.row(i);
    filter.add(span(row), survey.model.values[i], survey.sigma[i]);
  }
  return filter;
}

Answer batch(const Survey& survey) {
  const Eigen::Index n = survey.mean.size(), m = survey.sigma.size();
  Matrix rows(n + m, n);
  rows << Matrix(survey.prior_sigma.cwiseInverse().asDiagonal()),
      survey.sigma.cwiseInverse().asDiagonal() * survey.model.rows;
  Vector values(n + m);
  values << survey.mean.cwiseQuotient(survey.prior_sigma), survey.model.values.cwiseQuotient(survey.sigma);
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(rows);
  Answer answer;
  answer.estimate = qr.solve(values);
  answer.covariance = (rows.transpose() * rows).inverse();
  answer.sum_of_squares = (values - rows * answer.estimate).squaredNorm();
  return answer;
}

// Limit: sequential and batch agree to 1e-9 relative, rounding of double.
TEST(InformationFilter, AgreesWithABatchOrthogonalSolution) {
  for (const auto& [unknowns, readings] : {std::pair{1, 1}, {2, 0}, {5, 3}, {7, 40}, {24, 10}, {24, 300}}) {
    const Survey survey = random_survey(unknowns, readings, 11u);
    const Answer sequential = solve(filtered(survey));
    const Answer at_once = batch(survey);
    EXPECT_LT((sequential.estimate - at_once.estimate).norm(), 1e-11 * at_once.estimate.norm());
    EXPECT_LT((sequential.covariance - at_once.covariance).norm(), 1e-10 * at_once.covariance.norm());
    EXPECT_NEAR(sequential.sum_of_squares, at_once.sum_of_squares, 1e-11 * (1 + at_once.sum_of_squares));
  }
}

TEST(InformationFilter, DoesNotDependOnTheOrderOfReadings) {
  Survey survey = random_survey(9, 60, 12u);
  const Answer forward = solve(filtered(survey));
  survey.model.rows = survey.model.rows.colwise().reverse().eval();
  survey.model.values = survey.model.values.reverse().eval();
  survey.sigma = survey.sigma.reverse().eval();
  const Answer backward = solve(filtered(survey));
  EXPECT_LT((forward.estimate - backward.estimate).norm(), 1e-12 * forward.estimate.norm());
  EXPECT_NEAR(forward.sum_of_squares, backward.sum_of_squares, 1e-12 * forward.sum_of_squares);
}

TEST(InformationFilter, SaysWhenReadingsDoNotDetermineAnUnknown) {
  Filter filter;
  filter.start(2);
  Vector answer = Vector::Constant(2, 7);
  const Vector row = (Vector(2) << 1, 1).finished();
  filter.add(span(row), 3, 1);
  EXPECT_FALSE(filter.answer(span(answer)));
  EXPECT_EQ(answer, Vector::Zero(2));
  const Vector other = (Vector(2) << 0, 1).finished();
  filter.add(span(other), 1, 1);
  ASSERT_TRUE(filter.answer(span(answer)));
  EXPECT_DOUBLE_EQ(answer[0], 2);
  EXPECT_DOUBLE_EQ(answer[1], 1);
}

TEST(InformationFilter, GivesTheLogDeterminantOfItsTriangle) {
  const Survey survey = random_survey(6, 20, 13u);
  EXPECT_NEAR(-2 * filtered(survey).log_determinant(), std::log(batch(survey).covariance.determinant()),
              1e-10);
}

TEST(InformationFilter, KeepsASubsetOfUnknownsWithTheirCovariance) {
  const Filter filter = filtered(random_survey(8, 30, 14u));
  const Answer whole = solve(filter);
  const int kept[] = {6, 0, 3};
  Filter smaller;
  filter.marginal(kept, smaller);
  const Answer part = solve(smaller);
  ASSERT_EQ(part.estimate.size(), 3);
  EXPECT_EQ(part.sum_of_squares, 0);
  for (int a = 0; a < 3; ++a) {
    EXPECT_NEAR(part.estimate[a], whole.estimate[kept[a]], 1e-12);
    for (int b = 0; b < 3; ++b) EXPECT_NEAR(part.covariance(a, b), whole.covariance(kept[a], kept[b]), 1e-13);
  }
}

TEST(InformationFilter, DoesNotTouchTheHeap) {
  Filter filter, smaller;
  std::array<double, 24> row{}, answer{};
  row.fill(0.5);
  const std::array<int, 2> kept{3, 5};
  const std::size_t before = test::heap_allocations();
  filter.start(24);
  for (int i = 0; i < 24; ++i) filter.know(i, 0, 1);
  for (int i = 0; i < 100; ++i) {
    row[static_cast<std::size_t>(i % 24)] += 0.25;
    filter.add(row, 1.5, 0.1);
    (void)filter.answer(answer);
  }
  (void)filter.variance(row);
  filter.marginal(kept, smaller);
  EXPECT_EQ(test::heap_allocations(), before);
}

// Limit for float: 1e-4 of double, with unknowns scaled by their priors.
TEST(InformationFilter, InSinglePrecisionStaysWithinOneInTenThousand) {
  for (const unsigned seed : {21u, 22u, 23u}) {
    Survey survey = random_survey(24, 200, seed);
    survey.mean.setZero();
    survey.prior_sigma.setOnes();
    const Answer wanted = solve(filtered(survey));
    InformationFilter<float, 24> filter;
    filter.start(24);
    for (int i = 0; i < 24; ++i) filter.know(i, 0, 1);
    for (Eigen::Index i = 0; i < 200; ++i) {
      const Eigen::VectorXf row = survey.model.rows.row(i).cast<float>();
      filter.add({row.data(), 24}, static_cast<float>(survey.model.values[i]),
                 static_cast<float>(survey.sigma[i]));
    }
    Eigen::VectorXf got(24);
    ASSERT_TRUE(filter.answer({got.data(), 24}));
    EXPECT_LT((got.cast<double>() - wanted.estimate).norm(), 1e-4 * wanted.estimate.norm());
  }
}

}  // namespace
}  // namespace hangtrue::fit
