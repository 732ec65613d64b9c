// A card as JSON and strictly back: nothing that is missing is completed.
#include "firmware-host/json/shims.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include <nlohmann/json.hpp>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/fixtures/shelf.hpp"

namespace hangtrue::json {
namespace {

using fixtures::shelf;
using ::testing::HasSubstr;
using ::testing::StartsWith;
using Json = nlohmann::ordered_json;

// Of the tilted shelf: with moves, pieces, effects, reactions and advice. One move is given a later stage.
const Json& card() {
  static const Json json = [] {
    job::SurveyFit survey(shelf(), nullptr, 0);
    for (const auto& entry : fixtures::tilted_readings(shelf())) survey.add(entry);
    EXPECT_TRUE(survey.fit());
    Json made = shims_json(shelf(), survey.report(), job::make_card(survey).value());
    made["moves"].back()["when_stage"] = "in use";
    if (made["advice"].empty()) made["advice"].push_back("Invented advice.");
    return made;
  }();
  return json;
}

TEST(ShimsJson, HoldsWhatOthersRelyOn) {
  for (const char* name :
       {"hold_point", "reason", "advice", "level_error_before_m", "level_error_before_sigma_m",
        "chance_within_tolerance_before", "level_error_after_m", "level_error_after_sigma_m",
        "chance_within_tolerance", "proved_best", "fit_holds", "moves", "reactions", "finished"})
    EXPECT_TRUE(card().contains(name)) << name;
  // The finished arrays are the level error after the moves.
  double high = -1, low = 1;
  for (const char* edge : {"left_m", "right_m"})
    for (const auto& z : card().at("finished").at(edge)) {
      high = std::max(high, z.get<double>());
      low = std::min(low, z.get<double>());
    }
  EXPECT_NEAR(high - low, card().at("level_error_after_m").get<double>(), 1e-12);
}

TEST(StoredCard, ComesBackAsItWasWritten) {
  const auto read = read_card(card().dump());
  ASSERT_TRUE(read) << read.fault().says;
  EXPECT_EQ(shims_json(read.value()).dump(), card().dump());
  ASSERT_FALSE(read.value().moves.empty());
  EXPECT_TRUE(read.value().fit_holds.has_value());
  EXPECT_TRUE(read.value().moves.front().limits_hold.has_value());
}

TEST(StoredCard, KeepsThatANumberWasNotFinite) {
  Json json = card();
  json["level_error_after_sigma_m"] = std::numeric_limits<double>::infinity();
  const auto read = read_card(json.dump());
  ASSERT_TRUE(read) << read.fault().says;
  EXPECT_TRUE(std::isnan(read.value().after.sigma_m));
}

// Every member that is there: gone, or of another type, it is named. "when_stage" alone may be missing.
void expect_refused(const Json& whole, Json& part, const std::string& path) {
  if (!part.is_object() && !part.is_array()) return;
  if (part.is_array()) {
    for (std::size_t i = 0; i < part.size(); ++i)
      expect_refused(whole, part[i], path + '[' + std::to_string(i) + ']');
    return;
  }
  std::vector<std::string> names;
  for (const auto& [name, value] : part.items()) names.push_back(name);
  for (const std::string& name : names) {
    const std::string member = path.empty() ? name : path + '.' + name;
    const Json was = part;
    if (name != "when_stage") {
      part.erase(name);
      const auto without = read_card(whole.dump());
      // A card without "fit_holds" is one of a former program, which then has none of what those lack.
      const std::string& named = member == "fit_holds" ? "fit_holds" : member;
      EXPECT_FALSE(without) << member;
      if (!without) {
        EXPECT_THAT(without.fault().says, StartsWith(named + ": ")) << member;
      }
      part = was;
    }
    part[name] = was[name].is_object() ? Json("x") : Json::object();
    const auto other = read_card(whole.dump());
    EXPECT_FALSE(other) << member;
    if (!other) {
      EXPECT_THAT(other.fault().says, StartsWith(member)) << member;
    }
    part = was;
    expect_refused(whole, part[name], member);
  }
}

TEST(StoredCard, IsRefusedWhereAnyMemberIsMissingOrOfAnotherType) {
  Json json = card();
  ASSERT_FALSE(json["moves"].empty());
  expect_refused(json, json, "");
}

TEST(StoredCard, SaysWhatIsWrong) {
  const auto says = [](const Json& json) { return read_card(json.dump()).fault().says; };
  Json json = card();
  json["moves"][0].erase("limits_hold");
  EXPECT_EQ(says(json), "moves[0].limits_hold: missing, expected true or false");
  json = card();
  json["hold_point"] = "go ahead";
  EXPECT_THAT(says(json), HasSubstr("hold_point: found \"go ahead\", expected one of \"shim first\""));
  json = card();
  json["moves"][0]["order"] = 2;
  EXPECT_EQ(says(json), "moves[0].order: found 2, expected 1");
  EXPECT_EQ(read_card("{").fault().says, "no JSON text");
  EXPECT_EQ(says(Json::array()), "the card: found no object, expected an object");
}

// Programs of schemas 1 and 2 wrote no "fit_holds", no "limits_hold" and no "level_error_m".
TEST(StoredCard, OfAFormerProgramLeavesOpenWhatThatDidNotSay) {
  Json json = card();
  json.erase("fit_holds");
  for (Json& move : json["moves"]) {
    move.erase("limits_hold");
    move.erase("level_error_m");
  }
  const auto read = read_card(json.dump());
  ASSERT_TRUE(read) << read.fault().says;
  EXPECT_FALSE(read.value().fit_holds);
  EXPECT_FALSE(read.value().fit_known_to_hold());
  for (const job::StoredMove& move : read.value().moves) {
    EXPECT_FALSE(move.limits_hold);
    EXPECT_FALSE(move.limits_known_to_hold());
    EXPECT_FALSE(move.level_error_m);
  }
  EXPECT_EQ(shims_json(read.value()).dump(), json.dump());
  json["moves"][0]["limits_hold"] = true;  // half of it is no form that any program wrote
  EXPECT_FALSE(read_card(json.dump()));
}

// The cards in these books are invented and hold order, support and rise alone, which no program wrote.
TEST(StoredCard, OfTheBooksOfFormerSchemasIsRefusedAndNotCompleted) {
  for (const char* name : {"schema-1", "schema-2", "schema-3"}) {
    const auto book =
        book::Book::open_to_read(std::string(HANGTRUE_DATA_DIR "/books/") + name + ".levelbook");
    ASSERT_TRUE(book) << book.fault().says;
    const auto surveys = book.value().surveys();
    ASSERT_TRUE(surveys);
    int cards = 0;
    for (const book::SurveyRecord& survey : surveys.value()) {
      const auto booked = book.value().cards(survey.number);
      ASSERT_TRUE(booked);
      for (const book::BookedCard& each : booked.value()) {
        ++cards;
        const auto read = read_card(each.card.json);
        ASSERT_FALSE(read);
        EXPECT_EQ(read.fault().says, "advice: missing, expected a list") << name;
      }
    }
    EXPECT_GT(cards, 0) << name;
  }
}

}  // namespace
}  // namespace hangtrue::json
