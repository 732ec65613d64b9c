// A survey's fit: which unknowns it has, what it finds, what it sets aside, and what it carries to the next survey.
#include "firmware-host/job/survey_fit.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/firmware-host/fixtures/shelf.hpp"

namespace hangtrue::job {
namespace {

using fixtures::shelf;
using fixtures::tilted_readings;

TEST(SurveyFit, NamesItsParametersAsOthersRelyOn) {
  SurveyFit survey(shelf(), nullptr, 0);
  for (auto& entry : tilted_readings(shelf())) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  std::vector<std::string> names;
  for (const UnknownEstimate& each : survey.report().parameters) names.push_back(name_of(each.id));
  for (const char* name : {"wall bracket: rise", "wall bracket: pitch", "wall bracket: roll",
                           "east rod: rise", "bending stiffness", "torsion stiffness", "load carcasses",
                           "load spine", "load books", "bow 2", "level slope: zero"})
    EXPECT_NE(std::find(names.begin(), names.end(), name), names.end()) << name;
  EXPECT_EQ(std::find(names.begin(), names.end(), "east rod: pitch"), names.end());  // free: no unknown
}

TEST(SurveyFit, FindsTheZeroErrorAndTheShapeAndSetsTheStrayRowAside) {
  SurveyFit survey(shelf(), nullptr, 0);
  for (auto& entry : tilted_readings(shelf(), 0.002)) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  const FitReport& report = survey.report();
  for (std::size_t i = 0; i < report.judgements.size(); ++i)
    EXPECT_EQ(report.judgements[i].verdict != fit::Verdict::kept, i == 8) << i;
  EXPECT_EQ(report.self_test.degrees_of_freedom, 59);
  const UnknownId zero{.of = UnknownOf::zero, .name = "level", .channel = Channel::slope};
  for (const UnknownEstimate& each : report.parameters)
    if (each.id == zero) {
      EXPECT_NEAR(each.estimate.value, 0.0002, 4 * each.estimate.sigma);
    }
  // Heights less their mean: the sheet's shape, tilted.
  const SolvedRun solved(shelf());
  double mean = 0, truth_mean = 0;
  const std::size_t count = shelf().stations_m.size();
  for (std::size_t i = 0; i < count; ++i) {
    mean += report.stations[i].height_m / double(count);
    truth_mean +=
        (solved.solver().height(0, shelf().stations_m[i]) + 0.001 * shelf().stations_m[i]) / double(count);
  }
  for (std::size_t i = 0; i < count; ++i) {
    const double truth =
        solved.solver().height(0, shelf().stations_m[i]) + 0.001 * shelf().stations_m[i] - truth_mean;
    EXPECT_NEAR(report.stations[i].height_m - mean, truth, 5 * report.stations[i].height_less_mean_sigma_m);
  }
}

// A mistaken face, a bump, a wrong unit: far beyond anything the noise can do, and it must not drag the fit along.
TEST(SurveyFit, SetsAGrossBlunderAsideAndNoGoodReadingWithIt) {
  for (const std::size_t row : {0u, 9u, 22u, 41u, 59u})
    for (const double off : {0.0045, -0.04, 0.4}) {
      SurveyFit survey(shelf(), nullptr, 0);
      auto entries = tilted_readings(shelf());
      entries[row].value += off;
      for (auto& entry : entries) survey.add(entry);
      ASSERT_TRUE(survey.fit());
      EXPECT_EQ(survey.report().status, fit::Status::settled) << row << ' ' << off;
      for (std::size_t i = 0; i < entries.size(); ++i)
        EXPECT_EQ(survey.report().judgements[i].verdict == fit::Verdict::beyond_gate, i == row)
            << i << ' ' << row << ' ' << off;
    }
}

TEST(SurveyFit, WhatIsCarriedNarrowsTheNextStage) {
  SurveyFit first(shelf(), nullptr, 0);
  for (auto& entry : tilted_readings(shelf())) first.add(entry);
  ASSERT_TRUE(first.fit());
  const auto carried = first.carry(0);
  SurveyFit second(shelf(), nullptr, 1, carried.get());
  ASSERT_TRUE(second.fit());
  const auto sigma = [](const SurveyFit& survey, const std::string& name) {
    for (const UnknownEstimate& each : survey.report().parameters)
      if (name_of(each.id) == name) return each.estimate.sigma;
    return std::nan("");
  };
  EXPECT_NEAR(sigma(second, "level slope: zero"), sigma(first, "level slope: zero"), 1e-9);
  EXPECT_NEAR(sigma(second, "bow 1"), sigma(first, "bow 1"), 1e-6);
}

TEST(CarriedState, ForgetsWhatItIsToldAndNothingElse) {
  SurveyFit first(shelf(), nullptr, 0);
  for (auto& entry : tilted_readings(shelf())) first.add(entry);
  ASSERT_TRUE(first.fit());
  const auto prior_sigma = [&](const CarriedState& carried, UnknownOf of, const std::string& name) {
    SurveyFit second(shelf(), nullptr, 0, &carried);
    for (auto& entry : tilted_readings(shelf())) second.add(entry);
    EXPECT_TRUE(second.fit());
    for (const UnknownEstimate& each : second.report().parameters)
      if (each.id.of == of && each.id.name == name) return each.estimate.prior_sigma;
    ADD_FAILURE() << name;
    return 0.0;
  };
  const auto all = first.carry(0);
  const double pitch = prior_sigma(*all, UnknownOf::support_pitch, "wall bracket"),
               zero = prior_sigma(*all, UnknownOf::zero, "level"),
               books = prior_sigma(*all, UnknownOf::load, "carcasses");
  CarriedState moved = *all;
  moved.forget_offsets();
  EXPECT_GT(prior_sigma(moved, UnknownOf::support_pitch, "wall bracket"), 2 * pitch);
  EXPECT_NEAR(prior_sigma(moved, UnknownOf::zero, "level"), zero, 1e-9 * zero);
  CarriedState later = *all;
  later.forget_zeros();
  EXPECT_GT(prior_sigma(later, UnknownOf::zero, "level"), 2 * zero);
  // Taking the others out of the triangle anew rounds.
  EXPECT_NEAR(prior_sigma(later, UnknownOf::support_pitch, "wall bracket"), pitch, 1e-9 * pitch);
  EXPECT_NEAR(prior_sigma(later, UnknownOf::load, "carcasses"), books, 1e-9 * books);
}

}  // namespace
}  // namespace hangtrue::job
