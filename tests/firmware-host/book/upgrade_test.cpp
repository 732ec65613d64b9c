// Books of a former schema: read as they are, made books of the latest whole or not at all, with no entry touched.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <random>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/faulty_vfs.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::HasSubstr;

// Written by the library of schema 1; see data/books/README.md, which has these figures.
const std::string kOld = HANGTRUE_DATA_DIR "/books/schema-1.levelbook";
constexpr Number kOldEntries = 48, kOldSeal = 43;
constexpr const char* kOldSealHash = "534fc49e55ece5a5cafdb697bfe6c63757e79ed98555f96d5d9966fd58af1293";
constexpr const char* kOldSealShort = "KNH4-JHSV-5TS2-LSX5";

std::string copy_of_old(const Scratch& scratch) {
  std::filesystem::copy_file(kOld, scratch.book(), std::filesystem::copy_options::overwrite_existing);
  return scratch.book();
}

void expect_old_content(const Book& book) {
  const auto surveys = book.surveys();
  ASSERT_TRUE(surveys.ok()) << surveys.fault().says;
  ASSERT_EQ(surveys.value().size(), 2u);
  EXPECT_EQ(surveys.value()[0].begun.id, "1");
  EXPECT_TRUE(surveys.value()[0].closed);
  EXPECT_EQ(surveys.value()[0].readings, 30);
  EXPECT_EQ(surveys.value()[0].kept, 29);
  EXPECT_EQ(surveys.value()[1].begun.id, "as-built");
  EXPECT_FALSE(surveys.value()[1].closed);
  const auto readings = book.readings(surveys.value()[0].number);
  ASSERT_TRUE(readings.ok()) << readings.fault().says;
  ASSERT_EQ(readings.value().size(), 30u);
  EXPECT_EQ(readings.value()[0].reason, "looked again, it was not");
  EXPECT_FALSE(readings.value()[4].kept);
  EXPECT_EQ(readings.value()[6].reading.value, 0.00085 + 0.00021);
  const auto all = book.entries(surveys.value()[0].number);
  ASSERT_TRUE(all.ok()) << all.fault().says;
  EXPECT_EQ(std::get<SetUp>(all.value()[1].entry.content).name, "A");
  EXPECT_EQ(std::get<SetUp>(all.value()[1].entry.content).stands_at_m, std::nullopt);
  const NotedSeal noted[] = {{kOldSeal, kOldSealShort}};
  const auto audit = book.audit(noted);
  ASSERT_TRUE(audit.ok());
  EXPECT_TRUE(audit.value().whole()) << ::testing::PrintToString(audit.value().findings);
  EXPECT_GE(audit.value().entries, kOldEntries);
  ASSERT_FALSE(audit.value().seals.empty());
  EXPECT_EQ(audit.value().seals[0].hash, kOldSealHash);
}

TEST(BookOfSchema1, IsReadAsItIsAndLeftAlone) {
  Scratch scratch;
  const std::string before = bytes_of(copy_of_old(scratch));
  {
    const auto book = Book::open_to_read(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    expect_old_content(book.value());
    EXPECT_EQ(book.value().audit().value().schema, 1);
    EXPECT_TRUE(book.value().checks().value().empty());
    EXPECT_EQ(book.value().seals().value().size(), 1u);
  }
  EXPECT_EQ(bytes_of(scratch.book()), before);
}

TEST(BookOfSchema1, BecomesOneOfTheLatestWhenItIsOpenedToWriteWithItsChainUntouched) {
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
  EXPECT_EQ(check.value(), kOldEntries + 1);
  EXPECT_EQ(book.value().checks().value().size(), 1u);
  expect_old_content(book.value());
}

TEST(BookOfSchema1, IsReadByOthersWhileItIsUpgradedAndAfter) {
  Scratch scratch;
  const auto reader = Book::open_to_read(copy_of_old(scratch));
  ASSERT_TRUE(reader.ok());
  expect_old_content(reader.value());
  auto writer = Book::open(scratch.book());
  ASSERT_TRUE(writer.ok()) << writer.fault().says;
  expect_old_content(reader.value());
}

// A reader that opened the book before the upgrade has noted its schema; the rules in the file are the new ones by now.
TEST(BookOfSchema1, IsAuditedByTheRulesThatItHasAtThatMoment) {
  Scratch scratch;
  const auto reader = Book::open_to_read(copy_of_old(scratch));
  ASSERT_TRUE(reader.ok());
  EXPECT_EQ(reader.value().audit().value().schema, 1);
  { ASSERT_TRUE(Book::open(scratch.book()).ok()); }
  EXPECT_EQ(reader.value().audit().value().schema, kSchema);
  EXPECT_TRUE(reader.value().audit().value().whole());
}

TEST(BookOfSchema1, ThatIsDamagedIsNotUpgraded) {
  Scratch scratch;
  sql(copy_of_old(scratch),
      "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, 'purpose', 'porpoise')");
  const auto book = Book::open(scratch.book());
  ASSERT_FALSE(book.ok());
  EXPECT_EQ(book.fault().trouble, Trouble::damaged);
  EXPECT_EQ(Book::open_to_read(scratch.book()).value().audit().value().schema, 1);
}

// Fails every operation in turn, for a moment or for good: what lies on the disk then is a whole book of either schema, and
// opening it again ends the upgrade.
TEST(BookOfSchema1, IsOfOneSchemaOrTheOtherWhereverItsUpgradeEnds) {
  const auto rows = rows_of(kOld);
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
        ++(left.value().audit().value().schema == 1 ? still_old : already_new);
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

TEST(BookOfSchema1, SurvivesBeingKilledWhileItIsUpgraded) {
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
