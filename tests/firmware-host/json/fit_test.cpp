// `fit --json` and `predict --json`: the members that other programs rely on.
#include "firmware-host/json/fit.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <memory>

#include <nlohmann/json.hpp>

#include "firmware-host/json/predict.hpp"
#include "tests/firmware-host/fixtures/shelf.hpp"
#include "tests/firmware-host/job/kit.hpp"

namespace hangtrue::json {
namespace {

using fixtures::repeated_readings;
using fixtures::shelf;
using fixtures::tilted_readings;
using ::testing::IsEmpty;

nlohmann::json json_of(const std::vector<sheet::ReadingEntry>& entries) {
  job::SurveyFit survey(shelf(), &job::kit(), 0);
  for (const sheet::ReadingEntry& entry : entries) survey.add(entry);
  EXPECT_TRUE(survey.fit());
  return nlohmann::json::parse(fit_json(shelf(), survey.report()).dump());
}

TEST(FitJson, NumbersRowsFromOneAndNamesParametersAsOthersRelyOn) {
  const nlohmann::json json = json_of(tilted_readings(shelf(), 0.002));
  ASSERT_EQ(json.at("set_aside").size(), 1u) << json.at("set_aside");
  EXPECT_EQ(json.at("set_aside")[0].at("row"), 9);
  EXPECT_EQ(json.at("degrees_of_freedom"), 59);
  EXPECT_EQ(json.at("stage"), "hung");
  EXPECT_EQ(json.at("status"), "settled");
  EXPECT_EQ(json.at("height_m").size(), shelf().stations_m.size());
  bool zero = false;
  for (const auto& parameter : json.at("parameters"))
    if (parameter.at("name") == "level slope: zero") {
      zero = true;
      EXPECT_NEAR(parameter.at("value").get<double>(), 0.0002, 4 * parameter.at("sigma").get<double>());
    }
  EXPECT_TRUE(zero);
}

TEST(FitJson, HasRepeatsWithTheWarnings) {
  EXPECT_THAT(json_of(repeated_readings(job::kSlopeSigma, 3, 1)).at("repeats"), IsEmpty());
  const nlohmann::json json = json_of(repeated_readings(job::kSlopeSigma, 3));
  const nlohmann::json& one = json.at("repeats").at(0);
  EXPECT_EQ(one.at("channel"), "level slope");
  EXPECT_EQ(one.at("groups"), 16);
  EXPECT_EQ(one.at("degrees_of_freedom"), 32);
  EXPECT_EQ(one.at("verdict"), "as stated");
  for (const char* name : {"pooled_sigma", "stated_sigma", "p_value"})
    EXPECT_TRUE(one.at(name).is_number()) << name;
  EXPECT_TRUE(json.at("warnings").is_array());
}

TEST(PredictJson, HasEveryStageWithItsSupports) {
  job::SolvedRun solved(shelf());
  const job::FinishedLevel level = job::finished_level(shelf(), solved.solver());
  const auto json = prediction_json(shelf(), solved.solver(), level, nullptr, {});
  EXPECT_EQ(json.at("run"), shelf().title);
  EXPECT_EQ(json.at("level_error_m"), level.level_error_m);
  EXPECT_THAT(json.at("sheet_doubts"), IsEmpty());
  EXPECT_EQ(json.at("stages")[1].at("level_error_m"), level.level_error_m);
  EXPECT_EQ(json.at("stages")[1].at("within_tolerance"), *level.within);
  EXPECT_FALSE(json.at("stages")[0].contains("level_error_m"));
  ASSERT_EQ(json.at("stages").size(), shelf().stages.size());
  for (const auto& stage : json.at("stages")) {
    EXPECT_EQ(stage.at("supports").size(), shelf().supports.size());
    EXPECT_EQ(stage.at("at_m").size(), stage.at("height_m").size());
  }
}

}  // namespace
}  // namespace hangtrue::json
