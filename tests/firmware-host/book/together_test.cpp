// Several at one book: one writes, any number read.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/appender.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

TEST(Book, IsReadWholeAndGrowingWhileAnotherProcessWrites) {
  Scratch scratch;
  Appender appender(scratch.book(), 1);
  ASSERT_TRUE(appender.wait_for(50));
  const auto kept_open = Book::open_to_read(scratch.book());
  ASSERT_TRUE(kept_open.ok()) << kept_open.fault().says;
  Number before = 0;
  for (int i = 0; i < 100; ++i) {
    ASSERT_TRUE(appender.wait_for(5)) << "the writer ended by itself";
    const Number acknowledged = appender.acknowledged().back().number;
    // One that has it open all the time, and one that comes and goes.
    const auto opened = Book::open_to_read(scratch.book());
    ASSERT_TRUE(opened.ok()) << opened.fault().says;
    for (const Book* reader : {&kept_open.value(), &opened.value()}) {
      const auto audit = reader->audit();
      ASSERT_TRUE(audit.ok()) << audit.fault().says;
      ASSERT_TRUE(audit.value().whole()) << ::testing::PrintToString(audit.value().findings);
      EXPECT_GE(audit.value().entries, acknowledged) << "what was acknowledged is seen at once";
      EXPECT_GE(audit.value().entries, before);
      before = audit.value().entries;
      EXPECT_EQ(std::get<Taken>(reader->entry(acknowledged).value().content).reading.value,
                appender.acknowledged().back().value);
      ASSERT_TRUE(reader->surveys().ok());
    }
  }
  EXPECT_TRUE(appender.kill()) << "no reader stood in the writer's way";
}

// Readings, and those of them that were set aside, are counted by two queries: both must see the book at one moment.
TEST(Book, CountsReadingsAndThoseSetAsideOfOneMomentWhileAnotherProcessWrites) {
  Scratch scratch;
  Appender appender(scratch.book(), 1, "aside");
  ASSERT_TRUE(appender.wait_for(20));
  const auto reader = Book::open_to_read(scratch.book());
  ASSERT_TRUE(reader.ok()) << reader.fault().says;
  for (int i = 0; i < 300; ++i) {
    const auto surveys = reader.value().surveys();
    ASSERT_TRUE(surveys.ok()) << surveys.fault().says;
    ASSERT_EQ(surveys.value().at(0).kept, 0) << "every one was set aside in the same breath";
    ASSERT_GE(surveys.value().at(0).readings, 20);
    ASSERT_TRUE(appender.wait_for(1));
  }
  EXPECT_TRUE(appender.kill());
}

TEST(Book, RefusesASecondWriterOfAnotherProcessUntilTheFirstIsGone) {
  Scratch scratch;
  Appender appender(scratch.book(), 1);
  ASSERT_TRUE(appender.wait_for(1));
  for (int i = 0; i < 20; ++i) {
    const auto second = Book::open(scratch.book());
    ASSERT_FALSE(second.ok());
    EXPECT_EQ(second.fault().trouble, Trouble::in_use);
    ASSERT_TRUE(appender.wait_for(5)) << "the first goes on undisturbed";
  }
  ASSERT_TRUE(appender.kill());
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok()) << "a killed writer leaves the book free: " << book.fault().says;
  EXPECT_GE(book.value().append(Entry{Note{"mine"}, std::nullopt}).value(),
            appender.acknowledged().back().number + 1);
}

}  // namespace
}  // namespace hangtrue::book
