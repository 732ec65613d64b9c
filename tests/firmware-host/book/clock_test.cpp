// Clocks that are wrong: what they would write is refused, and what they wrote in former days is read.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "firmware-host/book/book.hpp"
#include "firmware-host/book/sha256.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::HasSubstr;

Time at(int year, unsigned month = 1, unsigned day = 1) {
  return Time(
      std::chrono::sys_days(std::chrono::year(year) / static_cast<int>(month) / static_cast<int>(day)));
}
/// "1:4,": a part of the chain's canonical form (book.hpp).
std::string part(const std::string& bytes) { return std::to_string(bytes.size()) + ':' + bytes + ','; }

TEST(Clock, OutsideOf2020To2199WritesNothing) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  for (const Time time : {at(1970), at(2019, 12, 31), at(2200), at(2280, 6, 1), at(1695)}) {
    for (const Entry& entry : {Entry{Note{"x"}, std::nullopt, time},
                               Entry{Samples{"level", "slope", time, {0}, {0.1}}, std::nullopt, kMorning}}) {
      const auto refused = book.value().append(entry);
      ASSERT_FALSE(refused.ok()) << rfc3339(time);
      EXPECT_EQ(refused.fault().trouble, Trouble::clock_is_wrong);
      EXPECT_THAT(refused.fault().says, HasSubstr("2020 to 2199"));
      EXPECT_THAT(refused.fault().says, HasSubstr("Set the clock"));
    }
    EXPECT_FALSE(book.value().seal(time).ok());
  }
  Taken taken = reading(0.1);
  taken.reading.time = "2280-06-01T08:30:00.250000Z";
  EXPECT_FALSE(book.value().append(Entry{taken, std::nullopt, kMorning}).ok());
  EXPECT_EQ(book.value().append(Entry{Note{"first"}, std::nullopt, at(2020)}).value(), 1);
  EXPECT_EQ(book.value().append(Entry{Note{"last"}, std::nullopt, at(2199, 12, 31)}).value(), 2);
  EXPECT_TRUE(book.value().audit().value().whole());
}

// As a program without that rule wrote them: 2280 as such, and 1695, what a count of nanoseconds makes of it.
TEST(Clock, OfFarAwayYearsIsReadInABookThatHasThem) {
  for (const std::string year : {"2280", "1695", "2199"}) {
    Scratch scratch;
    std::string former;
    {
      auto book = Book::open(scratch.book());
      ASSERT_TRUE(book.ok());
      fill(book.value(), 2);
      former = book.value().seal(kMorning).value().hash;  // entry 6
    }
    const std::string time = year + "-06-01T08:30:00.250000Z", body = "{\"text\":\"far away\"}";
    const std::string hash =
        sha256(part(former) + part("7") + part("") + part("") + part("note") + part(time) + part(body));
    sql(scratch.book(),
        "INSERT INTO entry VALUES (7, NULL, NULL, 'note', '" + time + "', '" + body + "', '" + hash + "')");
    {
      const auto book = Book::open_to_read(scratch.book());
      ASSERT_TRUE(book.ok());
      const auto audit = book.value().audit().value();
      EXPECT_TRUE(audit.whole()) << year << ::testing::PrintToString(audit.findings);
      EXPECT_EQ(audit.last_time, time);
      const auto entry = book.value().entry(7);
      ASSERT_TRUE(entry.ok()) << entry.fault().says;
      EXPECT_EQ(rfc3339(entry.value().time), time);
    }
    auto writer = Book::open(scratch.book());
    ASSERT_TRUE(writer.ok()) << writer.fault().says;
    EXPECT_EQ(writer.value().append(Entry{Note{"goes on"}, std::nullopt, kMorning}).value(), 8);
  }
}

}  // namespace
}  // namespace hangtrue::book
