// Words of the card in German: whole, with a comma before the decimals; and in English where a run has no other language.
#include <gtest/gtest.h>

#include <string>

#include "firmware-host/say/card.hpp"
#include "firmware-host/say/cautions.hpp"
#include "firmware-host/say/doubts.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/recheck.hpp"
#include "firmware-host/say/unknown.hpp"
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

TEST(German, NamesOfUnknownsAreInEnglishThoseOfOtherPrograms) {
  for (int of = 0; of <= int(job::UnknownOf::drift_share); ++of)
    for (const bool change : {false, true}) {
      const job::UnknownId id{job::UnknownOf(of), "east rod", Channel::slope, 2100, change};
      EXPECT_EQ(name_words(id, sheet::Show::metric), name_of(id));
      EXPECT_NE(name_words(id, kGerman), name_of(id));
    }
  EXPECT_EQ(name_words(job::UnknownId{job::UnknownOf::move_rise, "east rod"}, kGerman),
            "east rod: Höhe verschoben");
  EXPECT_EQ(
      name_words(job::UnknownId{.of = job::UnknownOf::unlisted_load, .number = 2100}, sheet::Show::imperial),
      "unlisted load at 6 ft 10 11/16 in");
}

TEST(German, OfWhatMovedAsItsOwnerReadsIt) {
  job::Cause cause;
  cause.change.id = {job::UnknownOf::move_rise, "east rod"};
  cause.change.change = {job::QuantityKind::height, -0.0008, 0.00004};
  cause.height_told = true;
  EXPECT_EQ(moved(cause, sheet::Show::metric), "east rod sank by 0.800 mm +- 0.040 mm");
  EXPECT_EQ(moved(cause, kGerman), "„east rod“ ist um 0,800 mm +- 0,040 mm gesunken");
  // Every kind of change has words of its own, and none of them stays in English.
  for (int of = 0; of <= int(job::UnknownOf::drift_share); ++of)
    for (const double size : {-0.01, 0.01}) {
      cause.change.id = {job::UnknownOf(of), "east rod", Channel::slope, 2100, false};
      cause.change.change = {kind_of(cause.change.id), size, 0.001};
      EXPECT_NE(moved(cause, kGerman), moved(cause, sheet::Show::metric)) << moved(cause, kGerman);
    }
}

TEST(German, ACardOfTheBookIsToldByItsNumbers) {
  job::StoredCard card;
  card.reason = "Finished level error 7.255 mm as things are.";
  card.before = {0.007255, 0.0001, 0.001};
  card.after = {0.001793, 0.0002, 0.97};
  card.open.emplace();
  card.open->doubts.push_back({"walk not closed", "The walk is not closed.", "Close it."});
  sheet::RunSheet run;
  EXPECT_EQ(for_people(run, card).reason, card.reason);
  run.language = sheet::Language::german;
  const job::StoredCard shown = for_people(sheet::for_people(run), card);
  EXPECT_EQ(
      shown.reason,
      "Höhenabweichung im Endzustand, so wie es war: 7,255 mm (Sigma 0,100 mm, Wahrscheinlichkeit, in der "
      "Toleranz zu liegen: 0,1 %); nach den Schritten: 1,793 mm (Sigma 0,200 mm, Wahrscheinlichkeit 97,0 "
      "%).");
  EXPECT_EQ(shown.open->doubts[0].says, "Auf dieser Karte offen: Durchgang nicht geschlossen.");
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
