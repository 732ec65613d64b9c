// Copies: of the file alone, as people and syncing programs make them, and true ones.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/appender.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::HasSubstr;

/// The file as it lies there, without what lies beside it.
std::string copy_of_file_alone(const Scratch& scratch) {
  const std::string copy = scratch / "alone.levelbook";
  for (const char* beside : {"-wal", "-shm"}) std::filesystem::remove(copy + beside);
  std::filesystem::copy_file(scratch.book(), copy, std::filesystem::copy_options::overwrite_existing);
  return copy;
}
Audit audit_of(const std::string& path) {
  const auto book = Book::open_to_read(path);
  EXPECT_TRUE(book.ok()) << book.fault().says;
  return book.ok() ? book.value().audit().value() : Audit{};
}

TEST(CopyOfTheFileAlone, HoldsAllUpToWhereASurveyBeginsEndsAndIsSealed) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 0);
  EXPECT_EQ(audit_of(copy_of_file_alone(scratch)).entries, 3) << "a survey has begun";
  ASSERT_TRUE(book.value().append(Entry{reading(1), survey}).ok());
  ASSERT_TRUE(book.value().append(Entry{SurveyClosed{}, survey}).ok());
  EXPECT_EQ(audit_of(copy_of_file_alone(scratch)).entries, 5);
  ASSERT_TRUE(book.value().seal().ok());
  EXPECT_EQ(audit_of(copy_of_file_alone(scratch)).entries, 6);
}

TEST(CopyOfTheFileAlone, LacksAtMostSixtyFourEntriesAndSaysThatItsLogMayBeMissing) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 0);
  for (Number number = 4; number <= 300; ++number) {
    ASSERT_TRUE(book.value().append(Entry{reading(1), survey}).ok());
    if (number % 10 != 0) continue;
    const Audit audit = audit_of(copy_of_file_alone(scratch));
    EXPECT_TRUE(audit.whole()) << ::testing::PrintToString(audit.findings);
    EXPECT_LE(audit.entries, number);
    EXPECT_GE(audit.entries, number - 64);
    EXPECT_TRUE(audit.log_may_be_missing);
    EXPECT_FALSE(audit_of(scratch.book()).log_may_be_missing) << "beside the book lies its log";
    EXPECT_EQ(audit_of(scratch.book()).entries, number);
  }
  book.value().fold();
  EXPECT_EQ(audit_of(copy_of_file_alone(scratch)).entries, 300);
}

TEST(CopyOfTheFileAlone, OfABookThatWasClosedIsCompleteAndSaysNothing) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 5);
  }
  for (int i = 0; i < 2; ++i) {  // a reader leaves nothing behind by which the next one would judge
    const Audit audit = audit_of(copy_of_file_alone(scratch));
    EXPECT_EQ(audit.entries, 8);
    EXPECT_FALSE(audit.log_may_be_missing);
    EXPECT_FALSE(audit_of(scratch.book()).log_may_be_missing);
  }
}

TEST(CopyOfTheFileAlone, OfAKilledWriterSaysThatItsLogMayBeMissingHoweverOftenItIsRead) {
  Scratch scratch;
  {
    Appender appender(scratch.book(), 7);
    ASSERT_TRUE(appender.wait_for(20));
    ASSERT_TRUE(appender.kill());
  }
  const std::string copy = copy_of_file_alone(scratch);
  for (int i = 0; i < 3; ++i) EXPECT_TRUE(audit_of(copy).log_may_be_missing);
  EXPECT_FALSE(audit_of(scratch.book()).log_may_be_missing);
  { ASSERT_TRUE(Book::open(scratch.book()).ok()); }
  EXPECT_FALSE(audit_of(copy_of_file_alone(scratch)).log_may_be_missing)
      << "opened and closed it is complete again";
}

TEST(CopyOfTheFileAlone, WithNothingInItIsNotWhole) {
  Scratch scratch;
  const auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Audit audit = audit_of(copy_of_file_alone(scratch));
  ASSERT_EQ(audit.findings.size(), 1u);
  EXPECT_THAT(audit.findings[0], HasSubstr("no log lies beside it"));
}

TEST(TrueCopy, IsTheWholeBookInOneFileAtAnyMomentWhileAnotherProcessWrites) {
  Scratch scratch;
  Appender appender(scratch.book(), 1);
  ASSERT_TRUE(appender.wait_for(5));
  for (int i = 0; i < 30; ++i) {
    ASSERT_TRUE(appender.wait_for(7));
    const Number acknowledged = appender.acknowledged().back().number;
    const std::string to = scratch / ("copy-" + std::to_string(i) + ".levelbook");
    const auto book = Book::open_to_read(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    const auto copied = book.value().copy_to(to);
    ASSERT_TRUE(copied.ok()) << copied.fault().says;
    EXPECT_TRUE(copied.value().whole()) << ::testing::PrintToString(copied.value().findings);
    EXPECT_GE(copied.value().entries, acknowledged);
    for (const char* beside : {"-wal", "-shm", "-journal"})
      EXPECT_FALSE(std::filesystem::exists(to + beside));
    const Audit audit = audit_of(to);
    EXPECT_TRUE(audit.whole());
    EXPECT_FALSE(audit.log_may_be_missing);
    EXPECT_EQ(audit.entries, copied.value().entries);
    const auto all = rows_of(scratch.book());
    EXPECT_THAT(all.value_or(""), ::testing::StartsWith(rows_of(to).value_or("none")));
  }
  EXPECT_TRUE(appender.kill());
}

TEST(TrueCopy, IsABookThatCanBeGoneOnWith) {
  Scratch scratch;
  const std::string to = scratch / "copy.levelbook";
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  fill_with_every_kind(book.value());
  ASSERT_TRUE(book.value().copy_to(to).ok()) << "by the writer itself, too";
  auto copy = Book::open(to);
  ASSERT_TRUE(copy.ok()) << copy.fault().says;
  EXPECT_EQ(copy.value().append(Entry{Note{"goes on"}, std::nullopt}).value(), kEveryKind + 1);
  EXPECT_EQ(audit_of(scratch.book()).entries, kEveryKind);
}

TEST(TrueCopy, IsMadeWhereNothingLiesOnly) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 1);
  }
  const auto book = Book::open_to_read(scratch.book());
  for (const char* beside : {"", "-wal", "-journal"}) {
    const std::string to = scratch / (std::string("taken") + (*beside != '\0' ? beside : "-itself"));
    write_bytes(to + beside, "something of mine");
    const auto refused = book.value().copy_to(to);
    ASSERT_FALSE(refused.ok());
    EXPECT_THAT(refused.fault().says, HasSubstr("lies there already"));
    EXPECT_EQ(bytes_of(to + beside), "something of mine");
  }
  const auto nowhere = book.value().copy_to(scratch / "nowhere/copy");
  ASSERT_FALSE(nowhere.ok());
  EXPECT_EQ(nowhere.fault().trouble, Trouble::absent);
  EXPECT_FALSE(book.value().copy_to(scratch.book()).ok());
}

TEST(TrueCopy, OfABookThatIsNotWholeIsNotMade) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 5);
  }
  sql(scratch.book(), "DROP TRIGGER no_change; UPDATE entry SET body = replace(body, '0.001', '0.002')");
  const auto copied = Book::open_to_read(scratch.book()).value().copy_to(scratch / "copy");
  ASSERT_TRUE(copied.ok()) << copied.fault().says;
  EXPECT_FALSE(copied.value().whole());
  EXPECT_FALSE(std::filesystem::exists(scratch / "copy"));
}

TEST(TrueCopy, OfWhatMayLackItsLogDoesNotHideThat) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  fill(book.value(), 5);
  const auto copied = Book::open_to_read(copy_of_file_alone(scratch)).value().copy_to(scratch / "copy");
  ASSERT_TRUE(copied.ok()) << copied.fault().says;
  EXPECT_TRUE(copied.value().log_may_be_missing);
  for (int i = 0; i < 2; ++i) EXPECT_TRUE(audit_of(scratch / "copy").log_may_be_missing);
}

}  // namespace
}  // namespace hangtrue::book
