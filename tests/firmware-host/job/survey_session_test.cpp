// What daemon and command give to others: names, rows, answers.
#include "firmware-host/job/survey_session.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include <nlohmann/json.hpp>

#include "firmware-host/say/views.hpp"
#include "firmware-host/say/words.hpp"
#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::job {
namespace {

const sheet::RunSheet& run() {
  static const sheet::RunSheet sheet = *sheet::parse_run_sheet(sheet::kExample, "shelf.toml").sheet;
  return sheet;
}

// Readings of the run as the sheet has it, tilted by 1 mm/m; both faces, little noise; fixed seed.
std::vector<sheet::ReadingEntry> readings(double slope_error = 0) {
  std::vector<sheet::ReadingEntry> entries;
  const SolvedRun solved(run());
  std::mt19937 random(11);
  std::normal_distribution<double> noise(0, 2e-5);
  for (const double x : run().stations_m)
    for (const int face : {1, -1}) {
      const auto here = solved.solver().at(0, x);
      sheet::ReadingEntry entry;
      entry.instrument = "level";
      entry.at_m = x;
      entry.face = face;
      entry.sigma = 2e-5;
      entry.channel = Channel::slope;
      entry.value = face * (here.slope_rad + 0.001) + 0.0002 + noise(random);
      entries.push_back(entry);
      entry.channel = Channel::roll;
      entry.value = face * here.roll_rad - 0.0001 + noise(random);
      entries.push_back(entry);
    }
  entries[8].value += slope_error;
  return entries;
}

TEST(SurveySession, NamesItsParametersAsOthersRelyOn) {
  SurveySession session(run(), nullptr, 0);
  for (auto& entry : readings()) session.add(entry);
  ASSERT_FALSE(session.fit());
  std::vector<std::string> names;
  for (const NamedEstimate& named : session.report().parameters) names.push_back(named.name);
  for (const char* name : {"wall bracket: rise", "wall bracket: pitch", "wall bracket: roll",
                           "east rod: rise", "bending stiffness", "torsion stiffness", "load carcasses",
                           "load spine", "load books", "bow 2", "level slope: zero"})
    EXPECT_NE(std::find(names.begin(), names.end(), name), names.end()) << name;
  EXPECT_EQ(std::find(names.begin(), names.end(), "east rod: pitch"), names.end());  // free: no unknown
}

TEST(SurveySession, FindsTheZeroErrorAndTheShapeAndSetsTheStrayRowAside) {
  SurveySession session(run(), nullptr, 0);
  for (auto& entry : readings(0.002)) session.add(entry);
  ASSERT_FALSE(session.fit());
  const nlohmann::json json = nlohmann::json::parse(fit_json(run(), session.report()).dump());
  ASSERT_EQ(json.at("set_aside").size(), 1u) << json.at("set_aside");
  EXPECT_EQ(json.at("set_aside")[0].at("row"), 9);  // from 1
  EXPECT_EQ(json.at("degrees_of_freedom"), 59);
  for (const auto& parameter : json.at("parameters"))
    if (parameter.at("name") == "level slope: zero") {
      EXPECT_NEAR(parameter.at("value").get<double>(), 0.0002, 4 * parameter.at("sigma").get<double>());
    }
  // Heights less their mean: the sheet's shape, tilted.
  const SolvedRun solved(run());
  double mean = 0, truth_mean = 0;
  const std::size_t count = run().stations_m.size();
  for (std::size_t i = 0; i < count; ++i) {
    mean += json.at("height_m")[i].get<double>() / double(count);
    truth_mean +=
        (solved.solver().height(0, run().stations_m[i]) + 0.001 * run().stations_m[i]) / double(count);
  }
  for (std::size_t i = 0; i < count; ++i) {
    const double truth =
        solved.solver().height(0, run().stations_m[i]) + 0.001 * run().stations_m[i] - truth_mean;
    EXPECT_NEAR(json.at("height_m")[i].get<double>() - mean, truth,
                5 * json.at("height_less_mean_sigma_m")[i].get<double>());
  }
}

// A mistaken face, a bump, a wrong unit: far beyond anything the noise can do, and it must not drag the fit along.
TEST(SurveySession, SetsAGrossBlunderAsideAndNoGoodReadingWithIt) {
  for (const std::size_t row : {0u, 9u, 22u, 41u, 59u})
    for (const double off : {0.0045, -0.04, 0.4}) {
      SurveySession session(run(), nullptr, 0);
      auto entries = readings();
      entries[row].value += off;
      for (auto& entry : entries) session.add(entry);
      ASSERT_FALSE(session.fit());
      EXPECT_EQ(session.report().status, fit::Status::settled) << row << ' ' << off;
      for (std::size_t i = 0; i < entries.size(); ++i)
        EXPECT_EQ(session.report().judgements[i].verdict == fit::Verdict::beyond_gate, i == row)
            << i << ' ' << row << ' ' << off;
    }
}

TEST(SurveySession, WithoutReadingsNeverSaysReady) {
  SurveySession session(run(), nullptr, 0);
  ASSERT_FALSE(session.fit());
  EXPECT_EQ(session.report().status, fit::Status::prior_only);
  ASSERT_FALSE(session.make_card());
  EXPECT_EQ(session.card().hold_point.answer, adjust::HoldPoint::read_again);
  EXPECT_TRUE(session.card().moves.empty());
  EXPECT_NE(card_view(run(), session.report(), session.card()).find("No move can be advised"),
            std::string::npos);
}

// A rod that would carry nothing once the run is in use: a couple there turns the end up.
TEST(SurveySession, NeverCallsARunReadyWhoseSupportGoesFreeInALaterStage) {
  std::string text = sheet::kExample;
  const std::string books = "at = \"2 m\"\nweight = \"400 N\"";
  text.replace(text.find(books), books.size(), "at = \"4200 mm\"\ncouple = \"3 kN m\"");
  text.replace(text.find("level = \"1.5 mm\""), 16, "level = \"900 mm\"");
  const auto sheet = sheet::parse_run_sheet(text, "lifted.toml");
  ASSERT_TRUE(sheet.sheet) << sheet::text(sheet.complaints);
  SurveySession session(*sheet.sheet, nullptr, 0);
  for (auto& entry : readings()) session.add(entry);
  ASSERT_FALSE(session.fit());
  ASSERT_FALSE(session.make_card());
  EXPECT_NE(session.card().hold_point.answer, adjust::HoldPoint::ready_to_bolt);
  ASSERT_FALSE(session.card().troubles.empty());
  EXPECT_EQ(session.card().troubles[0].support, "east rod");
  EXPECT_EQ(session.card().troubles[0].stage, "in use");
}

TEST(SurveySession, TheCardHoldsWhatOthersRelyOnAndEveryLineFits80Columns) {
  SurveySession session(run(), nullptr, 0);
  for (auto& entry : readings()) session.add(entry);
  ASSERT_FALSE(session.fit());
  ASSERT_FALSE(session.make_card());
  const nlohmann::json json = nlohmann::json::parse(shims_json(run(), session.card()).dump());
  for (const char* name : {"hold_point", "reason", "level_error_before_m", "level_error_after_m",
                           "level_error_after_sigma_m", "chance_within_tolerance", "moves", "finished"})
    EXPECT_TRUE(json.contains(name)) << name;
  // The finished arrays are the level error after the moves.
  double high = -1, low = 1;
  for (const char* edge : {"left_m", "right_m"})
    for (const auto& z : json.at("finished").at(edge)) {
      high = std::max(high, z.get<double>());
      low = std::min(low, z.get<double>());
    }
  EXPECT_NEAR(high - low, json.at("level_error_after_m").get<double>(), 1e-12);
  EXPECT_LE(json.at("level_error_after_m").get<double>(), json.at("level_error_before_m").get<double>());

  for (const std::string& text :
       {prediction_view(run(), SolvedRun(run()).solver()), fit_view(run(), session.report()),
        card_view(run(), session.report(), session.card())}) {
    std::size_t start = 0;
    while (start < text.size()) {
      const std::size_t end = std::min(text.find('\n', start), text.size());
      EXPECT_LE(end - start, kColumns) << text.substr(start, end - start);
      start = end + 1;
    }
  }
}

TEST(SurveySession, WhatLastsNarrowsTheNextStage) {
  SurveySession first(run(), nullptr, 0);
  for (auto& entry : readings()) first.add(entry);
  ASSERT_FALSE(first.fit());
  const auto lasting = first.lasting(0);
  SurveySession second(run(), nullptr, 1, lasting.get());
  ASSERT_FALSE(second.fit());
  const auto sigma = [](const SurveySession& session, const std::string& name) {
    for (const NamedEstimate& named : session.report().parameters)
      if (named.name == name) return named.estimate.sigma;
    return std::nan("");
  };
  EXPECT_NEAR(sigma(second, "level slope: zero"), sigma(first, "level slope: zero"), 1e-9);
  EXPECT_NEAR(sigma(second, "bow 1"), sigma(first, "bow 1"), 1e-6);
}

}  // namespace
}  // namespace hangtrue::job
