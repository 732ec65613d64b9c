// What the page is told, against what the fit and the card say.
#include "firmware-host/daemon/page_topics.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include <nlohmann/json.hpp>

#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/json/described.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/words.hpp"
#include "tests/firmware-host/fixtures/misleading_names.hpp"
#include "tests/firmware-host/sheet/example.hpp"

namespace hangtrue::daemon {
namespace {

const sheet::RunSheet& run() {
  static const sheet::RunSheet sheet = *sheet::parse_run_sheet(sheet::kExample, "shelf.toml").sheet;
  return sheet;
}

// Slopes of the run as the sheet has it, tilted by 4 mm/m, on both faces, and three distances; fixed seed. A zero error of
// 0.2 mm/m, which face 2 shows with the other sign.
std::vector<book::BookedReading> booked() {
  std::vector<book::BookedReading> all;
  const job::SolvedRun solved(run());
  std::mt19937 random(3);
  std::normal_distribution<double> noise(0, 2e-5);
  const auto add = [&](sheet::ReadingEntry entry) {
    book::BookedReading reading;
    reading.number = 10 + 2 * book::Number(all.size());  // each a take of its own
    reading.reading = reading.taken.reading = std::move(entry);
    all.push_back(std::move(reading));
  };
  for (const double x : run().stations_m)
    for (const int face : {1, -1}) {
      sheet::ReadingEntry entry;
      entry.instrument = "level";
      entry.at_m = x;
      entry.face = face;
      entry.sigma = 2e-5;
      entry.value = face * (solved.solver().at(0, x).slope_rad + 0.004) + 0.0002 + noise(random);
      add(entry);
    }
  for (const std::size_t station : {0u, 7u, 14u}) {
    sheet::ReadingEntry entry;
    entry.instrument = "laser";
    entry.set_up = "1";
    entry.channel = Channel::distance;
    entry.at_m = run().stations_m.at(station);
    entry.sigma = 5e-4;
    entry.value = 0.8 + solved.solver().at(0, entry.at_m).height_m + 0.004 * entry.at_m;
    add(entry);
  }
  return all;
}

struct Surveyed {
  explicit Surveyed(std::vector<book::BookedReading> readings)
      : all(std::move(readings)), session(run(), nullptr, 0), sheet_alone(run(), nullptr, 0) {
    for (const book::BookedReading& each : all)
      if (each.kept) {
        session.add(each.reading);
        kept.push_back({each.number, &each.reading});
      }
    EXPECT_TRUE(session.fit());
    card = job::make_card(session).value();
    EXPECT_TRUE(sheet_alone.fit());
  }
  std::vector<book::BookedReading> all;
  std::vector<KeptReading> kept;
  job::SurveyFit session, sheet_alone;
  job::Card card;
};

TEST(PageTopics, TheShapeIsTheFitsLessItsMean) {
  const Surveyed of(booked());
  const page::Run topic =
      run_topic(run(), of.sheet_alone.report(), of.session.report(), of.card, of.kept, {"old check"});
  ASSERT_EQ(topic.stations.size(), run().stations_m.size());
  double sum = 0, predicted = 0, before = 0, after = 0, highest = -1, lowest = 1;
  for (const page::ShapeAt& at : topic.stations) {
    sum += at.height_m;
    predicted += at.predicted_m;
    before += at.left_before_m + at.right_before_m;
    after += at.left_after_m + at.right_after_m;
    highest = std::max({highest, at.left_before_m, at.right_before_m});
    lowest = std::min({lowest, at.left_before_m, at.right_before_m});
  }
  EXPECT_NEAR(sum, 0, 1e-9);
  EXPECT_NEAR(predicted, 0, 1e-9);
  EXPECT_NEAR(before, 0, 1e-9);
  EXPECT_NEAR(after, 0, 1e-9);
  EXPECT_NEAR(highest - lowest, of.card.before.level_error_m, 1e-9);
  EXPECT_NEAR(topic.stations.back().height_m - topic.stations.front().height_m -
                  (topic.stations.back().predicted_m - topic.stations.front().predicted_m),
              0.004 * run().stations_m.back(), 1e-3);
  EXPECT_TRUE(topic.measured);
  EXPECT_TRUE(topic.holds) << topic.test;
  EXPECT_EQ(topic.warnings.back(), "old check");
}

TEST(PageTopics, AReadingLiesBesideTheFitWhicheverFaceItWasReadOn) {
  const Surveyed of(booked());
  const page::Run topic =
      run_topic(run(), of.sheet_alone.report(), of.session.report(), of.card, of.kept, {});
  ASSERT_EQ(topic.marks.size(), of.kept.size());
  int slopes = 0;
  for (std::size_t k = 0; k < topic.marks.size(); ++k) {
    const page::Mark& mark = topic.marks[k];
    EXPECT_EQ(mark.entry, of.kept[k].entry);
    const page::ShapeAt& at = topic.stations[std::size_t(*station_number(run(), mark.at_m)) - 1];
    if (mark.channel == "distance") {
      EXPECT_NEAR(mark.height_m, at.height_m, 4 * 5e-4);
      continue;
    }
    ++slopes;
    EXPECT_EQ(mark.height_m, at.height_m);
    // The zero error of 0.2 mm/m is ten sigma: with the sign of a face wrong, marks would lie far off.
    EXPECT_NEAR(mark.slope,
                of.session.report().stations[std::size_t(*station_number(run(), mark.at_m)) - 1].slope_rad,
                1e-4);
  }
  EXPECT_EQ(slopes, 2 * int(run().stations_m.size()));
}

TEST(PageTopics, TakesAreOfBothFacesAndTheLastIsSaidOfTheOneReadLast) {
  std::vector<book::BookedReading> readings = booked();
  readings.resize(3);  // both faces at the first place, one at the second
  page::Readings topic = readings_topic(run(), readings, nullptr);
  EXPECT_EQ(topic.readings[0].take, 1);
  EXPECT_EQ(topic.readings[1].take, 1);
  EXPECT_EQ(topic.readings[2].take, 2);
  EXPECT_EQ(topic.last_place, topic.readings[2].at + ", face 1");
  EXPECT_EQ(topic.last,
            topic.last_place + ": " + topic.readings[2].instrument + " slope " + topic.readings[2].value);
  // The last that counts: the others were undone.
  readings[2].kept = false;
  topic = readings_topic(run(), readings, nullptr);
  EXPECT_EQ(topic.last_place, topic.readings[1].at + ", face 2");
  for (book::BookedReading& each : readings) each.kept = false;
  EXPECT_EQ(readings_topic(run(), readings, nullptr).last, "");
}

TEST(PageTopics, ALineIsNamedByTheLastPartOfItsPath) {
  const std::string port = "/dev/serial/by-id/level";
  EXPECT_EQ(with_line_name("there is no " + port + "; plug " + port + " in", port),
            "there is no level; plug level in");
  EXPECT_EQ(with_line_name("nothing is amiss", port), "nothing is amiss");
  EXPECT_EQ(with_line_name("nothing is amiss", ""), "nothing is amiss");
}

TEST(PageTopics, WhatWasReadLastHasFaceSignAndInstrumentThoughALaserWasReadToo) {
  std::vector<book::BookedReading> readings = booked();
  readings.resize(2);
  readings[1].number = readings[0].number + 1;
  readings[0].reading.value = 0.00125;
  readings[1].reading.instrument = "laser";
  readings[1].reading.channel = Channel::distance;
  readings[1].reading.value = 2.45745;
  page::Readings topic = readings_topic(run(), readings, nullptr);
  EXPECT_EQ(topic.last, topic.readings[0].at + ", face 1: " + topic.readings[0].instrument +
                            " slope +1.25 mm/m; laser 2457.450 mm");
  sheet::RunSheet in_inches = run();
  in_inches.show = sheet::Show::imperial;
  topic = readings_topic(in_inches, readings, nullptr);
  EXPECT_EQ(topic.readings[1].value, "96 3/4 in");
}

TEST(PageTopics, AResidualBelongsToItsReadingWhenOthersAreSetAside) {
  std::vector<book::BookedReading> readings = booked();
  readings[0].kept = readings[5].kept = false;
  const Surveyed of(readings);
  const page::Readings topic = readings_topic(run(), of.all, &of.session.report());
  std::size_t k = 0;
  for (const page::BookedReading& shown : topic.readings) {
    EXPECT_EQ(shown.residual.empty(), !shown.kept);
    if (!shown.kept) continue;
    EXPECT_EQ(shown.residual.find("mm/m") != std::string::npos, shown.channel != "distance");
    const double residual = of.session.report().judgements[k++].residual;
    EXPECT_NEAR(std::stod(shown.residual), 1000 * residual, 0.0051) << shown.entry;
  }
}

TEST(PageTopics, TheCardsMovesNameThePiecesOfTheStock) {
  const Surveyed of(booked());
  const job::StoredCard shims = json::stored_card(run(), of.session.report(), of.card);
  const std::vector<int> made{1};
  const page::Card card = card_topic(run(), shims, 77, made);
  EXPECT_EQ(card.entry, 77);
  EXPECT_EQ(card.hold_point, adjust::short_name(shims.hold_point));
  EXPECT_FALSE(card.says.empty());
  ASSERT_EQ(card.moves.size(), shims.moves.size());
  ASSERT_FALSE(card.moves.empty());
  EXPECT_TRUE(card.moves.front().made);
  bool turned = false, stacked = false;
  for (std::size_t i = 0; i < card.moves.size(); ++i) {
    const page::Move& move = card.moves[i];
    EXPECT_EQ(move.order, int(i) + 1);
    const job::StoredMove& stored = shims.moves[i];
    EXPECT_EQ(move.support, stored.support);
    EXPECT_EQ(move.rise_m, stored.rise_m);
    EXPECT_EQ(move.pitch_rad, stored.pitch_rad);
    EXPECT_EQ(move.roll_rad, stored.roll_rad);
    if (move.by == page::AdjustBy::rod) {
      turned = true;
      // A rod that is turned up lifts the run.
      EXPECT_EQ(move.turns, stored.turns);
      EXPECT_EQ(move.turns > 0, move.rise_m > 0);
      EXPECT_EQ(move.turns_words.ends_with(" up"), move.turns > 0) << move.turns_words;
      EXPECT_NE(move.turns_words.find("turn"), std::string::npos);
    }
    ASSERT_EQ(move.pieces.size(), stored.pieces.size());
    for (std::size_t k = 0; k < move.pieces.size(); ++k) {
      const page::Piece& piece = move.pieces[k];
      EXPECT_EQ(piece.thickness_m, stored.pieces[k].thickness_m);
      EXPECT_EQ(json::name_of(piece.where), say::word(stored.pieces[k].where));
      EXPECT_EQ(piece.name, piece.thickness_m == 5e-4   ? "0.5 mm"
                            : piece.thickness_m == 1e-3 ? "1 mm"
                                                        : "3 mm");
      stacked = true;
    }
    EXPECT_NE(move.keep.find("props stay"), std::string::npos);
  }
  EXPECT_TRUE(turned || stacked);
  EXPECT_EQ(card.before.error_m, shims.before.level_error_m);
  EXPECT_EQ(card.after.sigma_m, shims.after.sigma_m);
}

// A card in the book may be of an older program, or cut off: no move is shown by it.
TEST(PageTopics, ACardThatIsNotWholeGivesASentenceAndNoMoves) {
  const page::Card card = unusable_card(77, "moves[0].limits_hold: missing, expected true or false");
  EXPECT_EQ(card.entry, 77);
  EXPECT_EQ(card.hold_point, "");
  EXPECT_TRUE(card.moves.empty());
  EXPECT_FALSE(card.trusted);
  EXPECT_NE(card.reason.find("moves[0].limits_hold: missing"), std::string::npos) << card.reason;
  EXPECT_NE(card.reason.find("Make no move by it; read again makes a new card."), std::string::npos);
}

// A card in the book that does not say whether limits hold is one that asks for a prop.
TEST(PageTopics, AMoveOfAFormerCardIsNotTakenToKeepItsLimits) {
  const Surveyed of(booked());
  job::StoredCard former = json::stored_card(run(), of.session.report(), of.card);
  former.fit_holds.reset();
  for (job::StoredMove& move : former.moves) move.limits_hold.reset();
  const page::Card card = card_topic(run(), former, 77, {});
  EXPECT_FALSE(card.trusted);
  for (const page::Move& move : card.moves)
    EXPECT_NE(move.keep.find("Prop it"), std::string::npos) << move.keep;
}

// No unit is guessed from a name.
TEST(PageTopics, UnitsAreThoseOfTheQuantityWhateverItsName) {
  job::SurveyFit survey(fixtures::misleading_shelf(), nullptr, 0);
  for (const auto& entry : fixtures::misleading_readings()) survey.add(entry);
  ASSERT_TRUE(survey.fit());
  const job::Card card = job::make_card(survey).value();
  const page::Run topic =
      run_topic(fixtures::misleading_shelf(), survey.report(), survey.report(), card, {}, {});
  const auto unit = [](const std::string& shown) { return shown.substr(shown.find(' ') + 1); };
  for (const auto& [name, wanted] : fixtures::units_of_misleading_names()) {
    const auto found = std::find_if(topic.learned.begin(), topic.learned.end(),
                                    [&name = name](const auto& each) { return each.name == name; });
    ASSERT_NE(found, topic.learned.end()) << name;
    EXPECT_EQ(unit(found->value), wanted) << name;
    EXPECT_EQ(unit(found->sigma), wanted) << name;
  }
}

TEST(PageTopics, APromiseIsKeptWithinTwoSigmasOfTheDifference) {
  const Surveyed of(booked());
  const job::Card& found = of.card;
  job::StoredCard promised = json::stored_card(run(), of.session.report(), found);
  promised.moves.clear();  // all made, none for later
  promised.after.level_error_m = found.before.level_error_m;
  promised.after.sigma_m = 3e-4;
  EXPECT_TRUE(compared(run(), "1", promised, found)->agrees);
  const double sigma = std::hypot(3e-4, found.before.drawn_sigma_m);
  promised.after.level_error_m = found.before.level_error_m - 1.9 * sigma;
  EXPECT_TRUE(compared(run(), "1", promised, found)->agrees);
  promised.after.level_error_m = found.before.level_error_m - 2.1 * sigma;
  EXPECT_FALSE(compared(run(), "1", promised, found)->agrees);
  promised.after.level_error_m = std::nan("");
  EXPECT_FALSE(compared(run(), "1", promised, found));
}

TEST(PageTopics, ALiveValueIsNumberAndUnitApart) {
  const sheet::KitSheet kit = *sheet::parse_kit_sheet(R"([[instrument]]
name = "laser"
port = "/dev/null"
speaks = "line"
[[instrument.channel]]
transducer = "{number} m"
unit = "m"
gives = "distance"
sigma = "0.5 mm"
)",
                                                      "kit.toml", run())
                                   .sheet;
  InstrumentLine line(kit.instruments[0]);
  const auto never = [](auto&&...) {};
  page::LiveInstrument live =
      live_instrument(line, {job::Speaks{}, true}, 1000, 1, nullptr, sheet::Show::imperial);
  ASSERT_EQ(live.channels.size(), 1u);
  EXPECT_FALSE(live.channels[0].value);
  EXPECT_EQ(live.channels[0].number, "");
  EXPECT_EQ(live.channels[0].verdict, "never seen");
  line.sample({0, Channel::distance, 1.2345}, 2000, true, {}, never, never);
  live = live_instrument(line, {job::Speaks{}, true}, 3000, 1, nullptr, sheet::Show::imperial);
  EXPECT_EQ(live.channels[0].unit, "in");
  EXPECT_EQ(live.channels[0].number, "48 39/64");  // 1.2345 m = 48.602 in
  live = live_instrument(line, {job::Speaks{}, true}, 3000, 1, nullptr, sheet::Show::metric);
  EXPECT_EQ(live.channels[0].number + ' ' + live.channels[0].unit, "1234.50 mm");
  // An instrument that does not speak shows no value that could be taken for one of now.
  live = live_instrument(line, {job::LineTrouble{"lost", "hung up"}, false}, 3000, 1, nullptr,
                         sheet::Show::metric);
  EXPECT_FALSE(live.channels[0].value);
}

TEST(PageTopics, ALiveSlopeSaysWhichWayItLeansAsItIsShown) {
  const sheet::KitSheet kit = *sheet::parse_kit_sheet(R"([[instrument]]
name = "level"
port = "/dev/null"
speaks = "line"
[[instrument.channel]]
transducer = "{number} mm/m"
unit = "mm/m"
gives = "slope"
base = "250 mm"
sigma = "0.02 mm/m"
)",
                                                      "kit.toml", run())
                                   .sheet;
  const auto never = [](auto&&...) {};
  struct Case {
    double slope_rad;
    std::string number, turned;
    int leans;
  };
  // The kit's zero error is 0.3 mm/m: below two of that nobody knows which end is high.
  for (const Case& each :
       {Case{0.00082, "+0.82", "-0.82", 1}, Case{-0.00082, "-0.82", "+0.82", -1},
        Case{0.00042, "+0.42", "-0.42", 0}, Case{1e-7, "0.00", "0.00", 0}, Case{-1e-7, "0.00", "0.00", 0}}) {
    InstrumentLine line(kit.instruments[0]);
    line.sample({0, Channel::slope, each.slope_rad}, 2000, true, {}, never, never);
    const auto shown = [&](int face, const job::FitReport* fitted) {
      return live_instrument(line, {job::Speaks{}, true}, 3000, face, fitted, sheet::Show::metric)
          .channels.at(0);
    };
    EXPECT_EQ(shown(1, nullptr).number, each.number);
    EXPECT_EQ(shown(-1, nullptr).number, each.turned) << "as the run slopes, not as the instrument says";
    EXPECT_EQ(shown(1, nullptr).leans, each.leans) << each.slope_rad;
    EXPECT_EQ(shown(-1, nullptr).leans, -each.leans);
    EXPECT_FALSE(shown(1, nullptr).corrected);
    EXPECT_EQ(shown(1, nullptr).sigma, "0.30 mm/m");
  }
}

TEST(PageTopics, ALiveSlopeIsCorrectedByTheZeroErrorThatTheFitFound) {
  const sheet::KitSheet kit = *sheet::parse_kit_sheet(R"([[instrument]]
name = "level"
port = "/dev/null"
speaks = "line"
[[instrument.channel]]
transducer = "{number} mm/m"
unit = "mm/m"
gives = "slope"
sigma = "0.02 mm/m"
)",
                                                      "kit.toml", run())
                                   .sheet;
  // booked() has a zero error of 0.2 mm/m, read on both faces.
  job::SurveyFit survey(run(), &kit, 0);
  for (const book::BookedReading& each : booked()) survey.add(each.reading);
  ASSERT_TRUE(survey.fit());
  const auto never = [](auto&&...) {};
  for (const int face : {1, -1}) {
    InstrumentLine line(kit.instruments[0]);
    line.sample({0, Channel::slope, face * 0.001 + 0.0002}, 2000, true, {}, never, never);
    const page::LiveChannel shown =
        live_instrument(line, {job::Speaks{}, true}, 3000, face, &survey.report(), sheet::Show::metric)
            .channels.at(0);
    EXPECT_TRUE(shown.corrected);
    EXPECT_NEAR(shown.value.value_or(0), 0.001, 1.5e-5) << face;
    EXPECT_EQ(shown.leans, 1);
    EXPECT_EQ(shown.reads, face == 1 ? "1.20 mm/m" : "-0.80 mm/m");
  }
}

TEST(PageTopics, TheJobHasStationsSupportsAndCautions) {
  const page::Job job = job_topic(run(), "b1");
  EXPECT_EQ(job.build, "b1");
  EXPECT_EQ(job.stations.size(), run().stations_m.size());
  EXPECT_EQ(job.stations[1].number, 2);
  EXPECT_EQ(job.supports.size(), run().supports.size());
  EXPECT_EQ(job.supports[1].holds, page::Holds::pull);
  EXPECT_EQ(job.supports[1].adjust, page::AdjustBy::rod);
  ASSERT_GE(job.cautions.size(), 5u);
  for (const std::string& caution : job.cautions) EXPECT_EQ(caution.back(), '.') << caution;
  EXPECT_EQ(station_number(run(), run().stations_m[3]), 4);
  EXPECT_FALSE(station_number(run(), run().stations_m[3] + 0.01));
}

TEST(PageTopics, AMarkIsNoStationOfTheRun) {
  sheet::RunSheet marked = run();
  marked.marks = {{"column", run().stations_m[4]}};
  const page::Job job = job_topic(marked, "");
  ASSERT_EQ(job.marks.size(), 1u);
  EXPECT_EQ(job.marks[0].name, "column");
  EXPECT_EQ(job.marks[0].at, "1200 mm");
  std::vector<book::BookedReading> readings = booked();
  readings.back().reading.mark = "column";
  readings.back().reading.at_m = run().stations_m[4];
  const page::BookedReading shown = readings_topic(marked, readings, nullptr).readings.back();
  EXPECT_EQ(shown.mark, "column");
  EXPECT_EQ(shown.at, "mark column");
  EXPECT_EQ(shown.station, std::nullopt) << "though one is there too";
  EXPECT_EQ(readings_topic(marked, readings, nullptr).last_place, "mark column, set-up 1");
  const Surveyed of(booked());
  std::vector<KeptReading> kept = of.kept;
  kept.back().reading = &readings.back().reading;
  EXPECT_EQ(run_topic(marked, of.sheet_alone.report(), of.session.report(), of.card, kept, {}).marks.size(),
            kept.size() - 1)
      << "what was read of it says nothing of the shape there";
}

TEST(PageTopics, ARecheckSaysWhatMovedInTheSheetsUnits) {
  job::Recheck recheck;
  recheck.from = "2";
  recheck.to = "3";
  recheck.answer = job::RecheckAnswer::moved;
  recheck.heights_compared = true;
  recheck.marks = {"column"};
  job::ChangeSeen rod;
  rod.id = {.of = job::UnknownOf::move_rise, .name = "east rod", .change = true};
  rod.can_be_seen = true;
  rod.change = {job::QuantityKind::height, -8e-4, 3e-5};
  rod.p_corrected = 0.25;
  rod.smallest_detectable = 1e-4;
  job::ChangeSeen unseen;
  unseen.id = {.of = job::UnknownOf::torsion, .change = true};
  recheck.seen = {rod, unseen};
  const job::UnknownId bracket{.of = job::UnknownOf::move_rise, .name = "wall bracket", .change = true};
  recheck.causes = {{rod, {bracket, {.of = job::UnknownOf::bow, .number = 1, .change = true}}, true}};
  recheck.drift.cause = job::DriftCause::wood_based_parts;
  recheck.drift.verdict = job::DriftVerdict::as_expected;
  recheck.stations = {{1.2, 1e-3, 2e-4, -8e-4, 5e-5, 0, 0}};
  recheck.level.to_m = 0.0021;
  const page::Recheck topic = recheck_topic(run(), recheck);
  EXPECT_EQ(topic.answer, "moved");
  EXPECT_EQ(topic.drift_verdict, "as expected");
  ASSERT_EQ(topic.causes.size(), 1u);
  EXPECT_EQ(topic.causes[0].words, "east rod sank by 0.800 mm +- 0.030 mm");
  EXPECT_EQ(topic.causes[0].or_else, "wall bracket: rise, bow 1");
  ASSERT_EQ(topic.seen.size(), 2u);
  EXPECT_EQ(topic.seen[0].name, "east rod: rise");
  EXPECT_EQ(topic.seen[0].value, "-0.800 mm");
  EXPECT_EQ(topic.seen[0].chance, "25.0 %");
  EXPECT_EQ(topic.seen[1].value, "");
  ASSERT_EQ(topic.stations.size(), 1u);
  EXPECT_EQ(topic.stations[0].at, "1200 mm");
  EXPECT_EQ(topic.stations[0].change, "-0.800 mm");
  EXPECT_EQ(topic.stations[0].sigma, "0.050 mm");
  EXPECT_EQ(topic.level_to, "2.100 mm");
  recheck.drift.verdict = job::DriftVerdict::none_expected;
  EXPECT_EQ(recheck_topic(run(), recheck).drift_verdict, "");
}

}  // namespace
}  // namespace hangtrue::daemon
