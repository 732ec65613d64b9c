// The level book: what goes in comes out, nothing is changed in place, and what is no book is named.
#include "firmware-host/book/book.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmath>
#include <fstream>
#include <limits>

#include <nlohmann/json.hpp>

#include "firmware-host/book/sha256.hpp"
#include "tests/firmware-host/book/faulty_vfs.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::HasSubstr;

nlohmann::json vectors() {
  return nlohmann::json::parse(std::ifstream(HANGTRUE_DATA_DIR "/reference/hash_time_vectors.json"));
}

// Source: FIPS 180-4 examples, by data/reference/hash_time_vectors.json.
TEST(Sha256, GivesThePublishedDigests) {
  int checked = 0;
  const nlohmann::json published = vectors();
  for (const auto& vector : published.at("sha256")) {
    std::string input = vector.at("input");
    if (input == "empty") input.clear();
    if (input == "one million a") input.assign(1'000'000, 'a');
    EXPECT_EQ(sha256(input), vector.at("digest").get<std::string>()) << vector.at("input");
    ++checked;
  }
  EXPECT_EQ(checked, 4);
}

// Source: RFC 3339, section 5.8, by data/reference/hash_time_vectors.json.
TEST(Rfc3339, WritesUtcWithMicroseconds) {
  const auto at = [](double unix_s) {
    return Time(std::chrono::microseconds(static_cast<std::int64_t>(std::llround(unix_s * 1e6))));
  };
  EXPECT_EQ(rfc3339(at(482196050.52)), "1985-04-12T23:20:50.520000Z");
  EXPECT_EQ(rfc3339(at(851042397)), "1996-12-20T00:39:57.000000Z");       // there: 16:39:57-08:00
  EXPECT_EQ(rfc3339(at(-1041337172.13)), "1937-01-01T11:40:27.870000Z");  // there: 12:00:27.87+00:20
}

TEST(Book, GivesBackEveryKindOfEntryAsItWasWritten) {
  Scratch scratch;
  const Samples samples{
      "walking inclinometer", "slope", kMorning, {0, 100'000, 200'001}, {1e-5, -0.1, 1.0 / 3.0}};
  const sheet::ReadingEntry corrected{.time = "",
                                      .set_up = "two \"words\"",
                                      .instrument = "laser",
                                      .channel = Channel::distance,
                                      .at_m = 0.3,
                                      .face = 1,
                                      .edge = survey::Edge::right,
                                      .value = -1.0 / 7.0,
                                      .sigma = 5e-324,
                                      .base_m = 0};
  Number survey = 0;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    survey = fill(book.value(), 2);
    const std::vector<Entry> more{{book::SetUp{"B"}, survey, kMorning},
                                  {samples, survey, kMorning},
                                  {SetAside{4, "knocked"}, survey, kMorning},
                                  {PutBack{4, "it was not"}, survey, kMorning},
                                  {Corrected{5, corrected, "wrong station"}, survey, kMorning},
                                  {Card{"{\"hold_point\":\"shim first\"}"}, survey, kMorning},
                                  {Note{"lift moved \xE2\x80\x94 by hand"}, survey, kMorning},
                                  {SurveyClosed{}, survey, kMorning}};
    const auto first = book.value().append(more);
    ASSERT_TRUE(first.ok()) << first.fault().says;
    EXPECT_EQ(first.value(), 6);
  }
  const auto book = Book::open_to_read(scratch.book());
  ASSERT_TRUE(book.ok()) << book.fault().says;
  const auto entries = book.value().entries(survey);
  ASSERT_TRUE(entries.ok()) << entries.fault().says;
  ASSERT_EQ(entries.value().size(), 10u);
  const auto at = [&](std::size_t i) -> const Content& { return entries.value()[i].entry.content; };
  EXPECT_EQ(entries.value()[0].number, 4);
  EXPECT_EQ(entries.value()[0].entry.time, kMorning);
  EXPECT_EQ(entries.value()[0].entry.survey, survey);
  EXPECT_EQ(std::get<book::SetUp>(at(2)).name, "B");
  EXPECT_EQ(std::get<Samples>(at(3)).from, samples.from);
  EXPECT_EQ(std::get<Samples>(at(3)).after_us, samples.after_us);
  EXPECT_EQ(std::get<Samples>(at(3)).values, samples.values);
  EXPECT_EQ(std::get<SetAside>(at(4)).reading, 4);
  EXPECT_EQ(std::get<SetAside>(at(4)).reason, "knocked");
  EXPECT_EQ(std::get<PutBack>(at(5)).reading, 4);
  EXPECT_EQ(std::get<Corrected>(at(6)).by.set_up, corrected.set_up);
  EXPECT_EQ(std::get<Corrected>(at(6)).by.value, corrected.value);
  EXPECT_EQ(std::get<Corrected>(at(6)).by.sigma, corrected.sigma);
  EXPECT_EQ(std::get<Corrected>(at(6)).by.channel, corrected.channel);
  EXPECT_EQ(std::get<Corrected>(at(6)).by.edge, corrected.edge);
  EXPECT_EQ(std::get<Card>(at(7)).json, "{\"hold_point\":\"shim first\"}");
  EXPECT_EQ(std::get<Note>(at(8)).text, "lift moved \xE2\x80\x94 by hand");
  const Taken& taken = std::get<Taken>(at(1));
  EXPECT_EQ(taken.reading.instrument, "walking inclinometer");
  EXPECT_EQ(taken.reading.face, -1);
  EXPECT_EQ(taken.reading.edge, survey::Edge::left);
  EXPECT_EQ(taken.reading.base_m, 0.25);
  EXPECT_EQ(taken.reading.value, 0.001);
  EXPECT_EQ(taken.samples, 20);
  EXPECT_EQ(taken.spread, 1.5e-5);
  EXPECT_EQ(taken.temperature_C, 19.25);

  const auto run = book.value().entry(1);
  ASSERT_TRUE(run.ok());
  EXPECT_EQ(std::get<RunText>(run.value().content).text, "title = \"shelf\"\n");
  EXPECT_EQ(book.value().entry(99).fault().trouble, Trouble::not_an_entry);
}

TEST(Book, KeepsWhatASurveyIsCalledAndItsPersonsAndTheLastOfEachCounts) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok()) << book.fault().says;
  const Number survey = fill(book.value(), 1);
  const std::vector<Entry> notes{{Note{"read by A. Muster", {"", "A. Muster", ""}}, survey, kMorning},
                                 {Note{"called as-built", {"as-built", "", ""}}, survey, kMorning},
                                 {Note{"the lift creaks"}, survey, kMorning},
                                 {Note{"read by B. Muster", {"", "B. Muster", ""}}, survey, kMorning}};
  ASSERT_TRUE(book.value().append(notes).ok());
  const auto entries = book.value().entries(survey, {"note"});
  ASSERT_TRUE(entries.ok()) << entries.fault().says;
  const Naming named = naming(entries.value());
  EXPECT_EQ(named.called, "as-built");
  EXPECT_EQ(named.read_by, "B. Muster");
  EXPECT_EQ(named.checked_by, "");
}

TEST(Book, GivesBackChecksClockJumpsMovesAndWhereASetUpStands) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    fill_with_every_kind(book.value());
  }
  const auto book = Book::open_to_read(scratch.book());
  ASSERT_TRUE(book.ok()) << book.fault().says;
  EXPECT_EQ(book.value().audit().value().entries, kEveryKind);
  const auto at = [&](Number number) { return book.value().entry(number).value().content; };
  EXPECT_EQ(std::get<book::SetUp>(at(6)).stands_at_m, std::nullopt);
  EXPECT_EQ(std::get<book::SetUp>(at(7)).name, "B");
  EXPECT_EQ(std::get<book::SetUp>(at(7)).stands_at_m, -0.75);
  EXPECT_EQ(std::get<ClockJump>(at(15)).seconds, -3600.5);
  const auto made = std::get<MoveMade>(at(17));
  EXPECT_EQ(made.card, 16);
  EXPECT_EQ(made.order, 2);
  EXPECT_EQ(made.support, "near \"lift\"");
  EXPECT_TRUE(made.made);
  EXPECT_FALSE(std::get<MoveMade>(at(18)).made);

  const auto checks = book.value().checks();
  ASSERT_TRUE(checks.ok()) << checks.fault().says;
  ASSERT_EQ(checks.value().size(), 4u);
  EXPECT_EQ(checks.value()[0].number, 12);
  EXPECT_EQ(checks.value()[0].entry.survey, 3);
  EXPECT_EQ(checks.value()[0].entry.time, kMorning);
  EXPECT_EQ(checks.value()[1].entry.survey, std::nullopt);
  const auto& zero = std::get<ZeroCheck>(checks.value()[0].entry.content);
  EXPECT_EQ(zero.instrument, "walking inclinometer");
  EXPECT_EQ(zero.channel, "slope");
  EXPECT_EQ(zero.face_1, (std::vector{3e-4, 3.1e-4}));
  EXPECT_EQ(zero.face_2, (std::vector{2.9e-4, 2.8e-4}));
  EXPECT_EQ(zero.zero, 2.95e-4);
  EXPECT_EQ(zero.sigma, 6e-6);
  EXPECT_EQ(zero.temperature_C, 21.5);
  EXPECT_EQ(std::get<ZeroCheck>(checks.value()[1].entry.content).temperature_C, std::nullopt);
  const auto& scale = std::get<ScaleCheck>(checks.value()[3].entry.content);
  EXPECT_EQ(scale.instrument, "walking inclinometer");
  EXPECT_EQ(scale.channel, "slope");
  EXPECT_EQ(scale.before, (std::vector{1e-3, 1.1e-3}));
  EXPECT_EQ(scale.with, (std::vector{0.021, 0.0212}));
  EXPECT_EQ(scale.length_m, 0.005);
  EXPECT_EQ(scale.feet_m, 0.25);
  EXPECT_EQ(scale.scale, 1.0025);
  EXPECT_EQ(scale.sigma, 0.005);
  EXPECT_TRUE(scale.sound);
  EXPECT_EQ(scale.lines_hash, std::string(64, 'a'));
  EXPECT_EQ(scale.temperature_C, 21.25);
  const auto& datum = std::get<DatumCheck>(checks.value()[2].entry.content);
  EXPECT_EQ(datum.instrument, "laser");
  EXPECT_EQ(datum.near_m, 0.2);
  EXPECT_EQ(datum.far_m, 4.0);
  EXPECT_EQ(datum.near_1, (std::vector{-1.2}));
  EXPECT_EQ(datum.far_1, (std::vector{-1.201}));
  EXPECT_EQ(datum.near_2, (std::vector{-1.3, -1.3001}));
  EXPECT_EQ(datum.far_2, (std::vector{-1.3012, -1.3011}));
  EXPECT_EQ(datum.tilt_rad, -2.5e-4);
  EXPECT_EQ(datum.sigma_rad, 4e-5);
  EXPECT_EQ(datum.temperature_C, 19.0);
}

TEST(Book, AppliesTheLastOfSeveralCorrectionsAndKeepsAsideWhatIsOnlyCorrected) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok()) << book.fault().says;
  const Number survey = fill(book.value(), 3);  // entries 4, 5, 6
  const auto corrected = [](Number number, double at_m, const char* why) {
    sheet::ReadingEntry by = reading(0.005).reading;
    by.at_m = at_m;
    return Corrected{number, by, why};
  };
  const auto append = [&](const Content& content) {
    const auto number = book.value().append(Entry{content, survey});
    ASSERT_TRUE(number.ok()) << number.fault().says;
  };
  const auto now = [&](std::size_t i) { return book.value().readings(survey).value()[i]; };

  append(corrected(4, 2.0, "first guess"));
  EXPECT_EQ(now(0).reading.at_m, 2.0);
  append(corrected(4, 2.1, "second look"));
  EXPECT_EQ(now(0).reading.at_m, 2.1);
  EXPECT_TRUE(now(0).kept);
  append(SetAside{4, "knocked after all"});
  EXPECT_FALSE(now(0).kept);
  EXPECT_EQ(now(0).reading.at_m, 2.1) << "setting aside corrects nothing";
  EXPECT_EQ(now(0).reason, "knocked after all");
  append(corrected(4, 2.2, "while aside"));
  EXPECT_FALSE(now(0).kept) << "a correction puts nothing back";
  EXPECT_EQ(now(0).reading.at_m, 2.2);
  append(PutBack{4, "it was not"});
  EXPECT_TRUE(now(0).kept);
  EXPECT_EQ(now(0).reading.at_m, 2.2) << "what was corrected while it lay aside counts";
  EXPECT_EQ(now(0).reason, "it was not");
  append(SetAside{4, "again"});
  append(SetAside{4, "and again"});
  append(PutBack{4, "one word puts it back"});
  EXPECT_TRUE(now(0).kept);
  EXPECT_EQ(now(0).taken.reading.at_m, 1.2) << "as first written";
  EXPECT_EQ(now(0).taken.reading.value, 0.0);

  EXPECT_EQ(now(1).reading.at_m, 1.2) << "no other reading is touched";
  append(SetAside{6, "knocked"});
  const auto surveys = book.value().surveys();
  ASSERT_TRUE(surveys.ok()) << surveys.fault().says;
  EXPECT_EQ(surveys.value()[0].readings, 3);
  EXPECT_EQ(surveys.value()[0].kept, 2) << "the list and the readings agree";
  EXPECT_TRUE(book.value().audit().value().whole());
}

TEST(Book, TakesCorrectionsOfReadingsOfTheirOwnSurveyOnly) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);  // the reading is entry 4
  const Number other = book.value().append(Entry{SurveyBegun{"2", "hung", 1, 2}, std::nullopt}).value();
  const Number aside = book.value().append(Entry{SetAside{4, "knocked"}, survey}).value();
  for (const Entry& amiss :
       {Entry{PutBack{aside, "the entry that set it aside"}, survey}, Entry{SetAside{1, "a sheet"}, survey},
        Entry{Corrected{survey, {}, "the survey"}, survey}, Entry{PutBack{4, "elsewhere"}, other},
        Entry{PutBack{4, "nowhere"}, std::nullopt}, Entry{Note{"in a sheet"}, 1}}) {
    const auto number = book.value().append(amiss);
    ASSERT_FALSE(number.ok()) << kind(amiss.content) << " was taken";
    EXPECT_EQ(number.fault().trouble, Trouble::not_an_entry);
  }
  // What is appended together may point at what comes before it.
  const Number next = aside + 1;
  const std::vector<Entry> together{{SurveyBegun{"3", "hung", 1, 2}, std::nullopt},
                                    {reading(0), next},
                                    {SetAside{next + 1, "at once"}, next}};
  const auto first = book.value().append(together);
  ASSERT_TRUE(first.ok()) << first.fault().says;
  EXPECT_EQ(first.value(), next);
  EXPECT_FALSE(book.value().readings(next).value().at(0).kept);
}

/// A card with moves 1 and 2, at "post" and at "lift".
const Card kTwoMoves{R"({"moves":[{"order":1,"support":"post"},{"order":2,"support":"lift"}]})"};

TEST(Book, KeepsOfEachMoveWhatWasSaidLast) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);
  const auto append = [&](const Content& content) { return book.value().append({content, survey}).value(); };
  const auto made = [&](std::size_t card) { return book.value().cards(survey).value().at(card).made; };
  const auto count = [&] { return book.value().surveys().value().at(0).moves; };
  const Number first = append(kTwoMoves);
  EXPECT_EQ(count(), 0);
  append(MoveMade{first, 2, "lift", true});
  append(MoveMade{first, 1, "post", true});
  append(MoveMade{first, 2, "lift", true});  // said twice: made once
  EXPECT_EQ(made(0), (std::vector{1, 2}));
  EXPECT_EQ(count(), 2);
  append(MoveMade{first, 2, "lift", false});
  EXPECT_EQ(made(0), (std::vector{1}));
  EXPECT_EQ(count(), 1);
  const Number second = append(kTwoMoves);
  append(MoveMade{second, 1, "post", true});
  append(MoveMade{second, 2, "lift", false});  // it was not made anyway
  EXPECT_EQ(made(0), (std::vector{1})) << "each card has its own";
  EXPECT_EQ(made(1), (std::vector{1}));
  EXPECT_EQ(count(), 2);
  const auto cards = book.value().cards(survey).value();
  EXPECT_EQ(cards[1].number, second);
  EXPECT_EQ(cards[1].card.json, kTwoMoves.json);
  ASSERT_EQ(cards[1].moves.size(), 2u);
  EXPECT_EQ(cards[1].moves[1].order, 2);
  EXPECT_EQ(cards[1].moves[1].support, "lift");
  EXPECT_EQ(book.value().surveys().value().at(0).kept, 1) << "no move touches a reading";
  EXPECT_TRUE(book.value().audit().value().whole());
}

TEST(Book, TakesMovesOfACardOfTheirOwnSurveyOnly) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);  // the reading is entry 4
  const Number card = book.value().append({kTwoMoves, survey}).value();
  const Number odd = book.value().append({Card{"[1, 2"}, survey}).value();
  const Number other = book.value().append({SurveyBegun{"2", "hung", 1, 2}, std::nullopt}).value();
  struct Case {
    Entry entry;
    const char* says;
  };
  for (const auto& [entry, says] :
       {Case{{MoveMade{card, 3, "post"}, survey}, "has no move 3 at \"post\""},
        Case{{MoveMade{card, 0, "post"}, survey}, "has no move 0"},
        Case{{MoveMade{card, 1, "lift"}, survey}, "has no move 1 at \"lift\""},
        Case{{MoveMade{odd, 1, "post"}, survey}, "has no move 1"},
        Case{{MoveMade{4, 1, "post"}, survey}, "is no card of survey 3"},
        Case{{MoveMade{card, 1, "post"}, other}, "is no card of survey 7"},
        Case{{MoveMade{card, 1, "post"}, std::nullopt}, "is no card outside of surveys"},
        Case{{MoveMade{99, 1, "post"}, survey}, "entry 99"},
        Case{{SetAside{card, "no reading"}, survey}, "is no reading"}}) {
    const auto number = book.value().append(entry);
    ASSERT_FALSE(number.ok()) << says;
    EXPECT_EQ(number.fault().trouble, Trouble::not_an_entry);
    EXPECT_THAT(number.fault().says, HasSubstr(says));
  }
  // A card and its first move together.
  const std::vector<Entry> together{{kTwoMoves, other}, {MoveMade{other + 1, 2, "lift"}, other}};
  ASSERT_TRUE(book.value().append(together).ok());
  EXPECT_EQ(book.value().cards(other).value().at(0).made, (std::vector{2}));
  EXPECT_TRUE(book.value().cards(survey).value().at(1).moves.empty());
}

TEST(Book, ListsTheLastSurveysAndSealsAsItListsThemAll) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  fill(book.value(), 2);
  ASSERT_TRUE(book.value().append(Entry{SetAside{4, "knocked"}, 3}).ok());
  for (const char* id : {"2", "3", "4"}) {
    const Number survey = book.value().append({SurveyBegun{id, "hung", 1, 2}, std::nullopt}).value();
    const std::vector<Entry> more{{reading(0), survey},
                                  {reading(0), survey},
                                  {SetAside{survey + 1, "knocked"}, survey},
                                  {kTwoMoves, survey},
                                  {MoveMade{survey + 4, 1, "post"}, survey},
                                  {SurveyClosed{}, survey}};
    ASSERT_TRUE(book.value().append(more).ok());
    ASSERT_TRUE(book.value().seal().ok());
  }
  const auto shown = [](const std::vector<SurveyRecord>& surveys) {
    std::string text;
    for (const SurveyRecord& it : surveys)
      text += it.begun.id + (it.closed ? " closed " : " open ") + std::to_string(it.kept) + '/' +
              std::to_string(it.readings) + ' ' + std::to_string(it.moves) + ' ' + std::to_string(it.last) +
              '\n';
    return text;
  };
  const std::vector<SurveyRecord> all = book.value().surveys().value();
  EXPECT_EQ(shown(all), "1 open 1/2 0 6\n2 closed 1/2 1 13\n3 closed 1/2 1 21\n4 closed 1/2 1 29\n");
  for (const int last : {0, 1, 2, 4, 50})
    EXPECT_EQ(shown(book.value().surveys(last).value()),
              shown({all.end() - std::min<std::ptrdiff_t>(last, 4), all.end()}))
        << last;
  EXPECT_EQ(book.value().seals().value().size(), 3u);
  const auto seals = book.value().seals(2).value();
  ASSERT_EQ(seals.size(), 2u);
  EXPECT_EQ(seals[0].number, 22);
  EXPECT_EQ(seals[1].number, 30);
}

// What the page shows after every take must not grow with the book: counted in pages that are read from the file.
TEST(Book, ListsTheLastOfTenThousandSurveysWithoutReadingThroughTheBook) {
  constexpr int kSurveys = 10'000;
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 0);  // entries 1, 2, 3
    Number next = 4;
    for (int batch = 0; batch < 10; ++batch) {
      std::vector<Entry> entries;
      for (int i = 0; i < kSurveys / 10; ++i, next += 6) {
        entries.push_back({SurveyBegun{std::to_string(next), "hung", 1, 2}, std::nullopt});
        for (const Content& content :
             {Content(reading(0.001)), Content(SetAside{next + 1, "knocked"}), Content(kTwoMoves),
              Content(MoveMade{next + 3, 2, "lift"}), Content(SurveyClosed{})})
          entries.push_back({content, next});
      }
      ASSERT_TRUE(book.value().append(entries).ok());
      ASSERT_TRUE(book.value().seal().ok());
      ++next;
    }
  }
  FaultyVfs vfs;
  const auto reads = [&](const auto& ask) {
    const auto book = Book::open_to_read(scratch.book());  // anew, since what was read once is kept in memory
    const int before = FaultyVfs::reads();
    ask(book.value());
    return FaultyVfs::reads() - before;
  };
  std::vector<SurveyRecord> all, last;
  const int to_list_all = reads([&](const Book& book) { all = book.surveys().value(); });
  const int to_list_last = reads([&](const Book& book) {
    last = book.surveys(50).value();
    EXPECT_EQ(book.seals(50).value().size(), 10u);
  });
  ASSERT_EQ(all.size(), kSurveys + 1u);
  ASSERT_EQ(last.size(), 50u);
  EXPECT_EQ(last.front().number, all[all.size() - 50].number);
  EXPECT_EQ(last.back().last, all.back().last);
  EXPECT_EQ(last.back().moves, 1);
  EXPECT_EQ(last.back().kept, 0);
  RecordProperty("pages_read_for_all", to_list_all);
  RecordProperty("pages_read_for_the_last_50", to_list_last);
  EXPECT_LT(to_list_last, 150);
  EXPECT_LT(4 * to_list_last, to_list_all);
  const int to_find = reads([&](const Book& book) {
    EXPECT_EQ(book.survey(all[kSurveys / 2].begun.id).value().value().number, all[kSurveys / 2].number);
  });
  EXPECT_LT(to_find, 30);
}

TEST(Book, KeepsTheMarkOfAReading) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);
  Taken of_mark = reading(1.25);
  of_mark.reading.channel = Channel::distance;
  of_mark.reading.mark = "door frame, \"left\"";
  Corrected to_column{5, of_mark.reading, "the other mark"};
  to_column.by.mark = "column";
  const std::vector<Entry> more{
      {of_mark, survey, kMorning}, {of_mark, survey, kMorning}, {to_column, survey, kMorning}};
  ASSERT_TRUE(book.value().append(more).ok());
  const auto readings = book.value().readings(survey).value();
  ASSERT_EQ(readings.size(), 3u);
  EXPECT_EQ(readings[0].reading.mark, "");
  EXPECT_EQ(readings[1].taken.reading.mark, "door frame, \"left\"");
  EXPECT_EQ(readings[1].reading.mark, "column");
  EXPECT_EQ(readings[2].reading.mark, "door frame, \"left\"");
}

TEST(Book, FindsASurveyByItsIdAndThoseOfARun) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  fill(book.value(), 1);
  const Number other =
      book.value().append(Entry{RunText{"other.toml", "title = \"other\"\n"}, std::nullopt}).value();
  const std::vector<std::string> ids{
      "as-built", "as", "as-built ", "a \"quote\"", "a", "x\",\"stage\":\"y", "\"run\":1,", "\xC3\xA4", ""};
  for (const std::string& id : ids)
    ASSERT_TRUE(book.value().append(Entry{SurveyBegun{id, "hung", other, 2}, std::nullopt}).ok());
  for (const std::string& id : ids) {
    const auto found = book.value().survey(id);
    ASSERT_TRUE(found.ok() && found.value()) << id;
    EXPECT_EQ(found.value()->begun.id, id);
  }
  EXPECT_FALSE(book.value().survey("as-buil").value());
  EXPECT_EQ(book.value().survey_count().value(), 10);
  EXPECT_EQ(book.value().surveys({}, other).value().size(), 9u);
  ASSERT_EQ(book.value().surveys({}, 1).value().size(), 1u);
  EXPECT_EQ(book.value().surveys({}, 1).value()[0].readings, 1);
  EXPECT_EQ(book.value().surveys(2, other).value().size(), 2u);
  EXPECT_EQ(book.value().surveys(2, other).value()[1].begun.id, "");
}

TEST(Book, ListsSurveysWithoutLookingIntoTheirReadings) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 2);
  }
  sql(scratch.book(), "DROP TRIGGER no_change; UPDATE entry SET body = 'unreadable' WHERE kind = 'reading'");
  const auto surveys = Book::open_to_read(scratch.book()).value().surveys();
  ASSERT_TRUE(surveys.ok()) << surveys.fault().says;
  EXPECT_EQ(surveys.value().at(0).readings, 2);
  EXPECT_EQ(surveys.value().at(0).last, 5);
}

TEST(Book, AppliesCorrectionsToReadingsAndKeepsWhatWasFirstWritten) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok()) << book.fault().says;
  const Number survey = fill(book.value(), 3);  // entries 4, 5, 6
  sheet::ReadingEntry by = reading(0).reading;
  by.at_m = 2.4;
  ASSERT_TRUE(book.value().append(Entry{SetAside{4, "knocked"}, survey}).ok());
  ASSERT_TRUE(book.value().append(Entry{SetAside{5, "knocked"}, survey}).ok());
  ASSERT_TRUE(book.value().append(Entry{PutBack{5, "looked again"}, survey}).ok());
  ASSERT_TRUE(book.value().append(Entry{Corrected{6, by, "wrong station"}, survey}).ok());
  const auto readings = book.value().readings(survey);
  ASSERT_TRUE(readings.ok());
  ASSERT_EQ(readings.value().size(), 3u);
  EXPECT_FALSE(readings.value()[0].kept);
  EXPECT_EQ(readings.value()[0].reason, "knocked");
  EXPECT_TRUE(readings.value()[1].kept);
  EXPECT_EQ(readings.value()[1].reason, "looked again");
  EXPECT_TRUE(readings.value()[2].kept);
  EXPECT_EQ(readings.value()[2].reading.at_m, 2.4);
  EXPECT_EQ(readings.value()[2].taken.reading.at_m, 1.2);
}

TEST(Book, ListsSurveysAndFindsASheetThatItHolds) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok()) << book.fault().says;
  const Number first = fill(book.value(), 2);
  ASSERT_TRUE(book.value().append(Entry{SurveyClosed{}, first}).ok());
  const auto second = book.value().append(Entry{SurveyBegun{"as-built", "in use", 1, 2}, std::nullopt});
  ASSERT_TRUE(second.ok());
  const auto surveys = book.value().surveys();
  ASSERT_TRUE(surveys.ok());
  ASSERT_EQ(surveys.value().size(), 2u);
  EXPECT_EQ(surveys.value()[0].begun.id, "1");
  EXPECT_EQ(surveys.value()[0].time, "2026-09-14T08:30:00.250000Z");
  EXPECT_TRUE(surveys.value()[0].closed);
  EXPECT_EQ(surveys.value()[0].readings, 2);
  EXPECT_EQ(surveys.value()[1].number, second.value());
  EXPECT_EQ(surveys.value()[1].begun.stage, "in use");
  EXPECT_FALSE(surveys.value()[1].closed);
  EXPECT_EQ(surveys.value()[0].last, 6) << "the closing";
  EXPECT_EQ(surveys.value()[1].last, second.value()) << "nothing yet but its beginning";
  EXPECT_EQ(surveys.value()[0].kept, 2);
  EXPECT_EQ(surveys.value()[1].kept, 0);
  EXPECT_EQ(book.value().find(RunText{"another name", "title = \"shelf\"\n"}).value(), 1);
  EXPECT_EQ(book.value().find(KitText{"", "[[instrument]]\n"}).value(), 2);
  EXPECT_EQ(book.value().find(RunText{"shelf.toml", "title = \"Shelf\"\n"}).value(), std::nullopt);
}

TEST(Book, GoesOnWhereItEndedAfterItWasClosed) {
  Scratch scratch;
  for (Number day = 0; day < 3; ++day) {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    EXPECT_EQ(book.value().append(Entry{Note{"a day"}, std::nullopt}).value(), day + 1);
  }
  const auto book = Book::open_to_read(scratch.book());
  ASSERT_TRUE(book.ok());
  EXPECT_TRUE(book.value().audit().value().whole());
  EXPECT_EQ(book.value().audit().value().entries, 3);
}

TEST(Book, TakesNothingThatPointsNowhereOrIsNoNumber) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);  // entries 1 ... 4
  const std::vector<Entry> amiss{
      {reading(std::numeric_limits<double>::quiet_NaN()), survey},
      {reading(std::numeric_limits<double>::infinity()), survey},
      {Samples{"a", "slope", kMorning, {0, 1}, {0.0, -std::numeric_limits<double>::infinity()}}, survey},
      {SetAside{5, "itself"}, survey},
      {SetAside{0, "nothing"}, survey},
      {reading(0), 5},
      {reading(0), -1}};
  for (const Entry& entry : amiss) {
    const auto number = book.value().append(entry);
    ASSERT_FALSE(number.ok());
    EXPECT_EQ(number.fault().trouble, Trouble::not_an_entry) << number.fault().says;
  }
  const std::vector<Entry> half{{Note{"good"}, survey}, amiss[0]};
  EXPECT_FALSE(book.value().append(half).ok());
  EXPECT_FALSE(book.value().append(std::span<const Entry>()).ok());
  EXPECT_EQ(book.value().append(Entry{Note{"next"}, survey}).value(), 5) << "nothing was written before";
}

TEST(Book, ReplacesBytesThatAreNoText) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  ASSERT_TRUE(book.value().append(Entry{Note{"\xFF\xFE caf\xC3"}, std::nullopt}).ok());
  const auto entry = book.value().entry(1);
  ASSERT_TRUE(entry.ok());
  EXPECT_EQ(std::get<Note>(entry.value().content).text, "\xEF\xBF\xBD\xEF\xBF\xBD caf\xEF\xBF\xBD");
  EXPECT_TRUE(book.value().audit().value().whole());
}

TEST(Book, RefusesASecondWriterAndLetsReadersIn) {
  Scratch scratch;
  auto writer = Book::open(scratch.book());
  ASSERT_TRUE(writer.ok());
  const Number survey = fill(writer.value(), 3);

  const auto second = Book::open(scratch.book());
  ASSERT_FALSE(second.ok());
  EXPECT_EQ(second.fault().trouble, Trouble::in_use);
  EXPECT_THAT(second.fault().says, HasSubstr("another daemon writes in it"));

  auto reader = Book::open_to_read(scratch.book());
  ASSERT_TRUE(reader.ok()) << reader.fault().says;
  EXPECT_EQ(reader.value().readings(survey).value().size(), 3u);
  ASSERT_TRUE(writer.value().append(Entry{reading(1), survey}).ok());
  EXPECT_EQ(reader.value().readings(survey).value().size(), 4u)
      << "a reader sees what was acknowledged meanwhile";
  const auto refused = reader.value().append(Entry{Note{"me too"}, std::nullopt});
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.fault().trouble, Trouble::no_permission);
}

TEST(Book, IsFreeAgainOnceItsWriterIsGoneAndLeavesOneFileBehind) {
  Scratch scratch;
  {
    auto first = Book::open(scratch.book());
    ASSERT_TRUE(first.ok());
    fill(first.value(), 1);
  }
  int files = 0;
  for ([[maybe_unused]] const auto& file : std::filesystem::directory_iterator(scratch.directory())) ++files;
  EXPECT_EQ(files, 1);
  EXPECT_TRUE(Book::open(scratch.book()).ok());
}

TEST(Book, RefusesChangeAndRemovalOfEntries) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 2);
  }
  for (const char* attempt :
       {"UPDATE entry SET body = '{}' WHERE number = 4", "DELETE FROM entry WHERE number = 5",
        "REPLACE INTO entry SELECT * FROM entry WHERE number = 1"}) {
    sqlite3* connection = nullptr;
    ASSERT_EQ(sqlite3_open(scratch.book().c_str(), &connection), SQLITE_OK);
    sqlite3_exec(connection, "PRAGMA recursive_triggers = ON", nullptr, nullptr, nullptr);
    EXPECT_EQ(sqlite3_exec(connection, attempt, nullptr, nullptr, nullptr), SQLITE_CONSTRAINT) << attempt;
    EXPECT_THAT(sqlite3_errmsg(connection), HasSubstr("append only"));
    sqlite3_close(connection);
  }
  EXPECT_TRUE(Book::open_to_read(scratch.book()).value().audit().value().whole());
}

// What is no level book, or none that can be used.

void write_file(const std::string& path, std::string_view bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

struct NoBook {
  const char* name;
  void (*make)(const Scratch&);
  Trouble to_write, to_read;
  const char* says;
};
class WhatIsNoBook : public ::testing::TestWithParam<NoBook> {};

INSTANTIATE_TEST_SUITE_P(
    Files, WhatIsNoBook,
    ::testing::Values(
        NoBook{"empty_file", [](const Scratch& scratch) { write_file(scratch.book(), ""); }, Trouble::foreign,
               Trouble::foreign, "is empty"},
        NoBook{"text", [](const Scratch& scratch) { write_file(scratch.book(), "time,set_up,instrument\n"); },
               Trouble::foreign, Trouble::foreign, "is no level book"},
        NoBook{"noise",
               [](const Scratch& scratch) { write_file(scratch.book(), std::string(10'000, '\x5a')); },
               Trouble::foreign, Trouble::foreign, "is no level book"},
        NoBook{"directory", [](const Scratch& scratch) { std::filesystem::create_directory(scratch.book()); },
               Trouble::not_a_file, Trouble::not_a_file, "is a directory"},
        NoBook{"device",
               [](const Scratch& scratch) { std::filesystem::create_symlink("/dev/null", scratch.book()); },
               Trouble::not_a_file, Trouble::not_a_file, "no regular file"},
        NoBook{"another_programs_database",
               [](const Scratch& scratch) {
                 sql(scratch.book(), "CREATE TABLE entry (a); INSERT INTO entry VALUES (1)");
               },
               Trouble::foreign, Trouble::foreign, "a database, but no level book"},
        NoBook{"later_version",
               [](const Scratch& scratch) {
                 ASSERT_TRUE(Book::open(scratch.book()).ok());
                 sql(scratch.book(), "PRAGMA user_version = " + std::to_string(kSchema + 1));
               },
               Trouble::newer, Trouble::newer, "written by a later version (book format 6"},
        NoBook{"without_its_table",
               [](const Scratch& scratch) {
                 sql(scratch.book(),
                     "CREATE TABLE other (a); PRAGMA user_version = 1; PRAGMA application_id = " +
                         std::to_string(kApplication));
               },
               Trouble::damaged, Trouble::damaged, "no entries table"},
        NoBook{"truncated",
               [](const Scratch& scratch) {
                 {
                   auto book = Book::open(scratch.book());
                   ASSERT_TRUE(book.ok());
                   fill(book.value(), 200);
                 }
                 std::filesystem::resize_file(scratch.book(), std::filesystem::file_size(scratch.book()) / 2);
               },
               Trouble::damaged, Trouble::damaged, "is damaged"},
        NoBook{"cut_within_its_header",
               [](const Scratch& scratch) {
                 { ASSERT_TRUE(Book::open(scratch.book()).ok()); }
                 std::filesystem::resize_file(scratch.book(), 50);
               },
               Trouble::foreign, Trouble::foreign, "no level book"}),
    [](const auto& instance) { return std::string(instance.param.name); });

TEST_P(WhatIsNoBook, IsNamedAndLeftAlone) {
  Scratch scratch;
  GetParam().make(scratch);
  const bool is_file = std::filesystem::is_regular_file(scratch.book());
  const auto size = is_file ? std::filesystem::file_size(scratch.book()) : 0;
  const auto written = Book::open(scratch.book());
  ASSERT_FALSE(written.ok());
  EXPECT_EQ(written.fault().trouble, GetParam().to_write) << written.fault().says;
  EXPECT_THAT(written.fault().says, HasSubstr(GetParam().says));
  EXPECT_THAT(written.fault().says, HasSubstr(scratch.book()));
  const auto read = Book::open_to_read(scratch.book());
  ASSERT_FALSE(read.ok());
  EXPECT_EQ(read.fault().trouble, GetParam().to_read) << read.fault().says;
  EXPECT_EQ(is_file ? std::filesystem::file_size(scratch.book()) : 0, size);
}

TEST(Book, NamesADirectoryThatIsNotThere) {
  Scratch scratch;
  const auto made = Book::open(scratch / "nowhere/B.levelbook");
  ASSERT_FALSE(made.ok());
  EXPECT_EQ(made.fault().trouble, Trouble::absent);
  EXPECT_THAT(made.fault().says, HasSubstr("nowhere/B.levelbook"));
  EXPECT_EQ(Book::open_to_read(scratch.book()).fault().trouble, Trouble::absent);
}

/// What a user without special rights sees; the exit code of a child that has given them up.
template <class Check>
int as_ordinary_user(Check check) {
  const pid_t child = ::fork();
  if (child == 0) {
    if (::getuid() == 0 && (::setgid(65534) != 0 || ::setuid(65534) != 0)) ::_exit(99);
    ::_exit(check());
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 98;
}

TEST(Book, NamesAFileThatMayNotBeWrittenAndCanStillReadIt) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 2);
  }
  using std::filesystem::perms;
  std::filesystem::permissions(scratch.book(), perms::owner_read | perms::group_read | perms::others_read);
  std::filesystem::permissions(
      scratch.directory(), perms::owner_read | perms::owner_exec | perms::others_read | perms::others_exec);
  EXPECT_EQ(as_ordinary_user([&] {
              const auto book = Book::open(scratch.book());
              if (book.ok()) return 1;
              if (book.fault().trouble != Trouble::no_permission) return 2;
              if (book.fault().says.find("is read only") == std::string::npos) return 3;
              const auto read = Book::open_to_read(scratch.book());
              if (!read.ok()) return 4;
              return read.value().audit().value().whole() ? 0 : 5;
            }),
            0);
  EXPECT_EQ(as_ordinary_user([&] {
              const auto made = Book::open(scratch / "new.levelbook");
              return !made.ok() && made.fault().trouble == Trouble::no_permission ? 0 : 1;
            }),
            0);
  std::filesystem::permissions(scratch.directory(), perms::owner_all);
}

}  // namespace
}  // namespace hangtrue::book
