// Words of the card in German: whole, with a comma before the decimals; and in English where a run has no other language.
#include <gtest/gtest.h>

#include <string>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/doubts.hpp"
#include "firmware-host/say/language.hpp"
#include "tests/firmware-host/fixtures/misleading_names.hpp"

namespace hangtrue::say {
namespace {

using fixtures::misleading_readings;
using fixtures::misleading_shelf;

constexpr sheet::Show kGerman{sheet::Show::Units::metric, sheet::Language::german};

TEST(German, HasACommaBeforeTheDecimalsAndTheSameUnits) {
  EXPECT_EQ(sheet::show_fine(0.0012, kGerman), "1,200 mm");
  EXPECT_EQ(sheet::show_slope(-0.0012, kGerman), "-1,20 mm/m");
  EXPECT_EQ(sheet::show_force(1250, kGerman), "1,25 kN");
  EXPECT_EQ(sheet::show_length(0.0015875, {sheet::Show::Units::imperial, sheet::Language::german}),
            "1/16 in");
  EXPECT_EQ(percent(0.954, kGerman), "95,4 %");
  EXPECT_EQ(percent(1, kGerman), "über 99,9 %");
  EXPECT_EQ(turns_words(-1.25, kGerman), "1 1/4 Umdrehungen hinab");
}

TEST(German, AnUnknownSentenceIsSaidInEnglishWhole) {
  EXPECT_EQ(text(kGerman, "Nobody has translated {} yet.", 1.5), "Nobody has translated 1.5 yet.");
}

TEST(German, OfACardIsGermanThroughout) {
  job::SurveyFit survey(misleading_shelf(), nullptr, 0);
  for (const auto& entry : misleading_readings()) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  const job::Card card = job::make_card(survey).value();
  sheet::RunSheet run = misleading_shelf();
  const std::string english = reason_words(run, card);
  run.language = sheet::Language::german;
  EXPECT_EQ(reason_words(run, card), english) << "files and programs get what they always got";
  const sheet::RunSheet german = sheet::for_people(run);
  EXPECT_NE(reason_words(german, card), english);
  for (const job::Doubt& doubt : card.doubts) {
    EXPECT_NE(doubt_words(german, doubt), doubt_words(run, doubt));
    EXPECT_NE(next_words(german, doubt), next_words(run, doubt));
  }
  for (const job::Advice& advice : card.advice)
    EXPECT_NE(advice_words(german, advice), advice_words(run, advice));
}

TEST(German, CautionsAreWhole) {
  const auto english = caution_sentences(), german = caution_sentences(kGerman);
  ASSERT_EQ(german.size(), english.size());
  EXPECT_EQ(german[0],
            "Hubgeräte oder Stützen unter der Zeile lassen, bis jede Schraube endgültig festgezogen und von "
            "einer zweiten Person geprüft ist.");
  EXPECT_EQ(german[1], "Niemand unter einer Zeile, die an einer einzigen Halterung hängt.");
  EXPECT_EQ(german[2], "Wer eine Halterung verstellt, verlagert Last auf die anderen.");
  EXPECT_EQ(
      german[3],
      "Das gilt für die Lage allein, nicht für die Festigkeit: Dübel, Schweißnähte, Schrauben und "
      "Unterkonstruktion sind Sache derer, die dafür zugelassen sind, nach den örtlichen Vorschriften.");
  EXPECT_EQ(german[4], "Nie in einen Laser blicken.");
  EXPECT_EQ(caution_sentences(sheet::Show::metric), english);
}

TEST(German, OfMovesAsTheInstallerReadsThem) {
  EXPECT_EQ(motion_words(0.0025, 0.0012, 0, kGerman), "Höhe 2,50 mm, Längsneigung 1,20 mm/m");
  EXPECT_EQ(effect_words({"east rod", -1.2e-5, 120}, kGerman),
            "„east rod“ trägt 120 N mehr, die Zeile sinkt dort um 0,012 mm");
  EXPECT_EQ(slacken_words(sheet::AdjustBy::shims, "wall bracket", kGerman),
            "Nur die Schrauben an „wall bracket“ lösen, weit genug für die Bleche; alle anderen lassen, wie "
            "sie sind.");
  EXPECT_EQ(keep_words(false, "lift one", kGerman),
            "Hubgeräte oder Stützen bleiben unter der ganzen Zeile. Vorher an „lift one“ abstützen: bis zum "
            "nächsten Schritt ist hier eine Halterung unbelastet oder über ihrer zulässigen Last.");
  EXPECT_EQ(
      to_do_words(adjust::HoldPoint::ready_to_bolt, kGerman),
      "Die Zeile liegt waagerecht genug, um die Schrauben endgültig festzuziehen. Das gilt für die Lage "
      "allein, nicht für die Festigkeit.");
}

}  // namespace
}  // namespace hangtrue::say
