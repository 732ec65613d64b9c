// Books of a former schema are read as they are. They become books of the latest schema whole or not at all, and no entry
// is touched.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <ostream>
#include <random>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/faulty_vfs.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::HasSubstr;

/// A book written by the library of that schema, and what is in it; data/books/README.md has these figures.
struct Old {
  int schema;
  Number entries, seal;
  const char *seal_hash, *seal_short;
  int readings, checks, moves;
  std::size_t aside;  // the place of that reading in survey 1
  void (*has)(const Book& book, Number survey);
  [[nodiscard]] std::string path() const {
    return HANGTRUE_DATA_DIR "/books/schema-" + std::to_string(schema) + ".levelbook";
  }
  friend void PrintTo(const Old& old, std::ostream* out) { *out << "schema " << old.schema; }
};

Content first(const Book& book, Number survey, std::string_view kind) {
  return book.entries(survey, {kind}).value().at(0).entry.content;
}

const Old kOld[] = {
    {1, 48, 43, "534fc49e55ece5a5cafdb697bfe6c63757e79ed98555f96d5d9966fd58af1293", "KNH4-JHSV-5TS2-LSX5", 30,
     0, 0, 4,
     [](const Book& book, Number of) {
       const auto set_up = std::get<SetUp>(first(book, of, "set-up"));
       EXPECT_EQ(set_up.name, "A");
       EXPECT_EQ(set_up.stands_at_m, std::nullopt);
       EXPECT_EQ(book.readings(of).value()[6].reading.value, 0.00085 + 0.00021);
     }},
    {2, 43, 38, "1efc45225febd98c378e663eb9bdad93f6d631e00e526afc3d7eadf2ee611852", "D36E-KIS7-5PMY-YN4O", 20,
     3, 0, 3,
     [](const Book& book, Number of) {
       const auto zero = std::get<ZeroCheck>(first(book, of, "zero check"));
       EXPECT_EQ(zero.face_1, (std::vector{4.1e-4, 4.3e-4, 4.2e-4}));
       EXPECT_EQ(zero.temperature_C, 19.25);
       EXPECT_EQ(std::get<DatumCheck>(first(book, of, "datum check")).near_2, (std::vector{-1.31, -1.3101}));
       EXPECT_EQ(std::get<ClockJump>(first(book, of, "clock jump")).seconds, -3600.5);
       EXPECT_EQ(std::get<SetUp>(book.entries(of, {"set-up"}).value().at(1).entry.content).stands_at_m, 5.25);
       const sheet::ReadingEntry corrected = book.readings(of).value()[6].reading;
       EXPECT_EQ(corrected.at_m, 1.7271999999999998);
       EXPECT_EQ(corrected.edge, survey::Edge::left);
       const auto cards = book.cards(of).value();
       ASSERT_EQ(cards.size(), 1u);
       ASSERT_EQ(cards[0].moves.size(), 2u);
       EXPECT_EQ(cards[0].moves[1].support, "near lift");
     }},
    {3, 46, 41, "2dd60156a1499701bcf1f0959e6d2b0b040eba4eb816f38e0ca6ff518e45a1bf", "FXLA-CVVB-JGLQ-DPHR", 20,
     3, 1, 3,
     [](const Book& book, Number of) {
       const auto cards = book.cards(of).value();
       ASSERT_EQ(cards.size(), 1u);
       EXPECT_EQ(cards[0].made, std::vector{1});  // move 2 was made, and then was not after all
       EXPECT_EQ(std::get<DatumCheck>(first(book, of, "datum check")).near_2, (std::vector{-1.31, -1.3101}));
       EXPECT_EQ(book.readings(of).value()[0].reading.mark, "");
     }},
    {4, 47, 41, "bee59a7c0942e1c05a910831bd466e24ee2ff3e5c1186d4ce8fbdcd719dad80e", "X3SZ-U7AJ-ILQ4-AWUR", 20,
     3, 1, 3,
     [](const Book& book, Number) {
       const Number as_built = book.surveys().value()[1].number;
       EXPECT_EQ(book.readings(as_built).value().at(2).reading.mark, "lintel");
       EXPECT_EQ(book.readings(as_built).value().at(2).reading.value, 1.2345);
     }},
};

class BookOfFormerSchema : public ::testing::TestWithParam<Old> {
 protected:
  static std::string copy_of_old(const Scratch& scratch) {
    std::filesystem::copy_file(GetParam().path(), scratch.book(),
                               std::filesystem::copy_options::overwrite_existing);
    return scratch.book();
  }
  static void expect_old_content(const Book& book);
};
INSTANTIATE_TEST_SUITE_P(Schema, BookOfFormerSchema, ::testing::ValuesIn(kOld),
                         [](const auto& old) { return std::to_string(old.param.schema); });

void BookOfFormerSchema::expect_old_content(const Book& book) {
  const Old& old = GetParam();
  const auto surveys = book.surveys();
  ASSERT_TRUE(surveys.ok()) << surveys.fault().says;
  ASSERT_EQ(surveys.value().size(), 2u);
  const SurveyRecord& survey = surveys.value()[0];
  EXPECT_EQ(survey.begun.id, "1");
  EXPECT_TRUE(survey.closed);
  EXPECT_EQ(survey.readings, old.readings);
  EXPECT_EQ(survey.kept, old.readings - 1);
  EXPECT_EQ(survey.moves, old.moves);
  EXPECT_EQ(surveys.value()[1].begun.id, "as-built");
  EXPECT_FALSE(surveys.value()[1].closed);
  EXPECT_EQ(book.survey("as-built").value().value().number, surveys.value()[1].number);
  EXPECT_FALSE(book.survey("as").value());
  const auto readings = book.readings(survey.number);
  ASSERT_TRUE(readings.ok()) << readings.fault().says;
  ASSERT_EQ(readings.value().size(), static_cast<std::size_t>(old.readings));
  EXPECT_EQ(readings.value()[0].reason, "looked again, it was not");
  EXPECT_TRUE(readings.value()[0].kept);
  EXPECT_FALSE(readings.value()[old.aside].kept);
  old.has(book, survey.number);
  const NotedSeal noted[] = {{old.seal, old.seal_short}};
  const auto audit = book.audit(noted);
  ASSERT_TRUE(audit.ok());
  EXPECT_TRUE(audit.value().whole()) << ::testing::PrintToString(audit.value().findings);
  EXPECT_GE(audit.value().entries, old.entries);
  ASSERT_FALSE(audit.value().seals.empty());
  EXPECT_EQ(audit.value().seals[0].hash, old.seal_hash);
}

TEST_P(BookOfFormerSchema, IsReadAsItIsAndLeftAlone) {
  Scratch scratch;
  const std::string before = bytes_of(copy_of_old(scratch));
  {
    const auto book = Book::open_to_read(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    expect_old_content(book.value());
    EXPECT_EQ(book.value().audit().value().schema, GetParam().schema);
    EXPECT_EQ(book.value().checks().value().size(), static_cast<std::size_t>(GetParam().checks));
    EXPECT_EQ(book.value().seals().value().size(), 1u);
  }
  EXPECT_EQ(bytes_of(scratch.book()), before);
}

TEST_P(BookOfFormerSchema, BecomesOneOfTheLatestWhenItIsOpenedToWriteWithItsChainUntouched) {
  Scratch scratch;
  const auto rows = rows_of(copy_of_old(scratch));
  ASSERT_TRUE(rows);
  { ASSERT_TRUE(Book::open(scratch.book()).ok()); }
  EXPECT_EQ(rows_of(scratch.book()), rows);
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok()) << book.fault().says;
  expect_old_content(book.value());
  EXPECT_EQ(book.value().audit().value().schema, kSchema);
  const auto check = book.value().append(Entry{
      ZeroCheck{"walking inclinometer", "slope", {1e-4}, {3e-4}, 2e-4, 2e-5, std::nullopt}, std::nullopt});
  ASSERT_TRUE(check.ok()) << check.fault().says;
  EXPECT_EQ(check.value(), GetParam().entries + 1);
  EXPECT_EQ(book.value().checks().value().size(), static_cast<std::size_t>(GetParam().checks) + 1);
  const Number survey = book.value().surveys().value()[1].number, card = GetParam().entries + 2;
  const std::vector<Entry> more{{Card{R"({"moves":[{"order":1,"support":"near lift"}]})"}, survey},
                                {MoveMade{card, 1, "near lift"}, survey}};
  ASSERT_TRUE(book.value().append(more).ok());
  EXPECT_EQ(book.value().surveys().value()[1].moves, 1);
  expect_old_content(book.value());
}

TEST_P(BookOfFormerSchema, IsReadByOthersWhileItIsUpgradedAndAfter) {
  Scratch scratch;
  const auto reader = Book::open_to_read(copy_of_old(scratch));
  ASSERT_TRUE(reader.ok());
  expect_old_content(reader.value());
  auto writer = Book::open(scratch.book());
  ASSERT_TRUE(writer.ok()) << writer.fault().says;
  expect_old_content(reader.value());
}

// A reader that opened the book before the upgrade has noted its schema; the rules in the file are the new ones by now.
TEST_P(BookOfFormerSchema, IsAuditedByTheRulesThatItHasAtThatMoment) {
  Scratch scratch;
  const auto reader = Book::open_to_read(copy_of_old(scratch));
  ASSERT_TRUE(reader.ok());
  EXPECT_EQ(reader.value().audit().value().schema, GetParam().schema);
  { ASSERT_TRUE(Book::open(scratch.book()).ok()); }
  EXPECT_EQ(reader.value().audit().value().schema, kSchema);
  EXPECT_TRUE(reader.value().audit().value().whole());
}

TEST_P(BookOfFormerSchema, ThatIsDamagedIsNotUpgraded) {
  Scratch scratch;
  sql(copy_of_old(scratch),
      "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, 'purpose', 'porpoise')");
  const auto book = Book::open(scratch.book());
  ASSERT_FALSE(book.ok());
  EXPECT_EQ(book.fault().trouble, Trouble::damaged);
  EXPECT_EQ(Book::open_to_read(scratch.book()).value().audit().value().schema, GetParam().schema);
}

// Every operation fails in turn, once or from then on. What lies on the disk then is a whole book of one schema or the
// other, and opening it again completes the upgrade.
TEST_P(BookOfFormerSchema, IsOfOneSchemaOrTheOtherWhereverItsUpgradeEnds) {
  const auto rows = rows_of(GetParam().path());
  for (const FaultyVfs::After after : {FaultyVfs::After::works_again, FaultyVfs::After::all_fails}) {
    int nth = 1, still_old = 0, already_new = 0;
    for (;; ++nth) {
      ASSERT_LT(nth, 1000);
      Scratch scratch;
      copy_of_old(scratch);
      bool opened = false, failed = false;
      {
        FaultyVfs vfs;
        vfs.fail_at(nth, {SQLITE_IOERR_WRITE, after, true});
        const auto book = Book::open(scratch.book());
        opened = book.ok();
        failed = vfs.failed();
        if (!opened) {
          EXPECT_THAT(book.fault().says, HasSubstr(scratch.book()));
        }
      }
      {
        const auto left = Book::open_to_read(scratch.book());
        ASSERT_TRUE(left.ok()) << "after operation " << nth << ": " << left.fault().says;
        expect_old_content(left.value());
        ++(left.value().audit().value().schema == GetParam().schema ? still_old : already_new);
      }
      auto book = Book::open(scratch.book());
      ASSERT_TRUE(book.ok()) << "after operation " << nth << ": " << book.fault().says;
      EXPECT_EQ(book.value().audit().value().schema, kSchema);
      EXPECT_EQ(rows_of(scratch.book()), rows);
      if (!failed) {
        EXPECT_TRUE(opened);
        break;
      }
    }
    EXPECT_GT(still_old, 3) << "some operations come before the commit";
    EXPECT_GT(already_new, 0);
  }
}

TEST_P(BookOfFormerSchema, SurvivesBeingKilledWhileItIsUpgraded) {
  std::mt19937 random(20260914);
  for (int round = 0; round < 40; ++round) {
    Scratch scratch;
    copy_of_old(scratch);
    const pid_t child = ::fork();
    if (child == 0) {
      static_cast<void>(Book::open(scratch.book()));
      ::_exit(0);
    }
    ::usleep(std::uniform_int_distribution<useconds_t>(0, 4000)(random));
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    {
      const auto left = Book::open_to_read(scratch.book());
      ASSERT_TRUE(left.ok()) << left.fault().says;
      expect_old_content(left.value());
    }
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    expect_old_content(book.value());
  }
}

}  // namespace
}  // namespace hangtrue::book
