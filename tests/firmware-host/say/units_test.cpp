// No unit is guessed from a name: values of supports, loads, set-ups and instruments whose names read like another quantity.
#include <gtest/gtest.h>

#include <sstream>
#include <string>
#include <vector>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/fit.hpp"
#include "tests/firmware-host/fixtures/misleading_names.hpp"

namespace hangtrue::say {
namespace {

using fixtures::misleading_readings;
using fixtures::misleading_shelf;

// The words of a table's row that begins with `name`.
std::vector<std::string> row(const std::string& table, const std::string& name) {
  std::istringstream lines(table);
  for (std::string line; std::getline(lines, line);)
    if (line.starts_with(name + "  ")) {
      std::istringstream words(line.substr(name.size()));
      std::vector<std::string> result;
      for (std::string word; words >> word;) result.push_back(word);
      return result;
    }
  return {};
}

TEST(Units, OfTheFitsTableAreThoseOfTheQuantityWhateverItsName) {
  job::SurveyFit survey(misleading_shelf(), nullptr, 0);
  for (const auto& entry : misleading_readings()) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  const std::string table = fit_view(misleading_shelf(), survey.report());
  const auto units = fixtures::units_of_misleading_names();
  for (const auto& [name, unit] : units) {
    const std::vector<std::string> words = row(table, name);  // value, unit, sigma, unit, learned, %
    ASSERT_EQ(words.size(), 6u) << name << '\n' << table;
    EXPECT_EQ(words[1], unit) << name;
    EXPECT_EQ(words[3], unit) << name;
  }
  // None is left out of the list above but the last bow and the later load.
  EXPECT_LE(survey.report().parameters.size(), units.size() + 2);
}

TEST(Units, OfTheCardAreThoseOfTheQuantityWhateverItsName) {
  job::SurveyFit survey(misleading_shelf(), nullptr, 0);
  for (const auto& entry : misleading_readings()) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  const job::Card card = job::make_card(survey).value();
  for (const job::CardMove& entry : card.moves) {
    const std::string motion = motion_words(entry.move.rise_m, 0.001, 0.002, sheet::Show::metric);
    EXPECT_NE(motion.find("pitch 1.00 mm/m, roll 2.00 mm/m"), std::string::npos) << motion;
  }
  EXPECT_EQ(effect_words({"load post", 1e-3, 12}, sheet::Show::metric),
            "load post carries 12.0 N more, the run there rises 1.000 mm");
  const auto advice = [](job::Advice what) { return advice_words(misleading_shelf(), what); };
  EXPECT_EQ(advice(job::MostOpen{{job::UnknownOf::support_pitch, "load post"}, 0.002, 0.001}),
            "What leaves most open is \"load post: pitch\": if it were known, the sigma of the level error "
            "would fall from 2.000 mm to 1.000 mm.");
  EXPECT_EQ(advice(job::WorthWeighing{"x: rise", 0.002, 0.001}),
            "Weighing \"x: rise\" would cut the sigma of the level error from 2.000 mm to 1.000 mm at best.");
}

}  // namespace
}  // namespace hangtrue::say
