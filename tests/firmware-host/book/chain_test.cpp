// The chain: whatever is changed afterwards, audit() says where.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <iterator>

#include "firmware-host/book/book.hpp"
#include "firmware-host/book/sha256.hpp"
#include "firmware-host/book/short_form.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;

constexpr const char* kUnlock = "DROP TRIGGER no_change; DROP TRIGGER no_removal;";
constexpr const char* kLock =
    "CREATE TRIGGER no_change BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
    "only'); END;"
    "CREATE TRIGGER no_removal BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
    "only'); END;";

/// Changes the book behind its back and puts the file's own rules back in place.
Audit audit_after(const std::string& tampering, int readings = 4) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    EXPECT_TRUE(book.ok());
    const Number survey = fill(book.value(), readings);  // readings are entries 4 ... 7
    EXPECT_TRUE(book.value().append(Entry{SetAside{5, "knocked"}, survey, kMorning}).ok());
    EXPECT_TRUE(book.value().append(Entry{Note{"the end"}, survey, kMorning}).ok());
  }
  sql(scratch.book(), kUnlock + tampering + ";" + kLock);
  const auto book = Book::open_to_read(scratch.book());
  EXPECT_TRUE(book.ok());
  const auto audit = book.value().audit();
  EXPECT_TRUE(audit.ok());
  return audit.value();
}

TEST(Audit, FindsAnUntouchedBookWhole) {
  const Audit audit = audit_after("");
  EXPECT_TRUE(audit.whole()) << ::testing::PrintToString(audit.findings);
  EXPECT_EQ(audit.entries, 9);
  EXPECT_EQ(audit.first_bad, std::nullopt);
}

// The canonical form of the header, worked out by hand for the first entry of a book.
TEST(Chain, IsTheHashOfTheCanonicalFormInTheHeader) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    ASSERT_TRUE(book.value().append(Entry{Note{"hello"}, std::nullopt, kMorning}).ok());
    const auto seal = book.value().seal();
    ASSERT_TRUE(seal.ok());
    const std::string first =
        sha256("64:" + std::string(64, '0') +
               ",1:1,0:,0:,4:note,27:2026-09-14T08:30:00.250000Z,16:{\"text\":\"hello\"},");
    const std::string body = "{\"entries\":1,\"hash\":\"" + first + "\"}";
    EXPECT_EQ(seal.value().hash, sha256("64:" + first + ",1:2,0:,0:,4:seal,27:" + seal.value().time + "," +
                                        std::to_string(body.size()) + ":" + body + ","));
  }
}

struct Column {
  const char* name;
  const char* change;
};
class TamperedColumn : public ::testing::TestWithParam<Column> {};

INSTANTIATE_TEST_SUITE_P(
    Chained, TamperedColumn,
    ::testing::Values(
        Column{"survey", "UPDATE entry SET survey = 2 WHERE number = 8"},
        Column{"survey_taken_away", "UPDATE entry SET survey = NULL WHERE number = 8"},
        Column{"refers_to", "UPDATE entry SET refers_to = 6 WHERE number = 8"},
        Column{"kind", "UPDATE entry SET kind = 'put back' WHERE number = 8"},
        Column{"time", "UPDATE entry SET time = replace(time, '08:30', '08:31') WHERE number = 8"},
        Column{"body", "UPDATE entry SET body = replace(body, 'k', 'K') WHERE number = 8"},
        Column{"hash", "UPDATE entry SET hash = replace(hash, substr(hash, 9, 1), 'x') WHERE number = 8"},
        Column{"taken_out", "DELETE FROM entry WHERE number = 8"},
        Column{"taken_out_and_closed_up",
               "DELETE FROM entry WHERE number = 8; UPDATE entry SET number = 8 WHERE number = 9"},
        Column{"put_between",
               "UPDATE entry SET number = 10 WHERE number = 9; UPDATE entry SET number = 9 WHERE number = 8; "
               "INSERT INTO entry SELECT 8, survey, refers_to, kind, time, body, hash FROM entry WHERE "
               "number = 7"},
        Column{
            "swapped",
            "UPDATE entry SET number = 100 WHERE number = 8; UPDATE entry SET number = 8 WHERE number = 9; "
            "UPDATE entry SET number = 9 WHERE number = 100"}),
    [](const auto& instance) { return std::string(instance.param.name); });

TEST_P(TamperedColumn, IsFoundAtItsEntry) {
  const Audit audit = audit_after(GetParam().change);
  EXPECT_FALSE(audit.whole());
  EXPECT_EQ(audit.first_bad, 8);
  ASSERT_FALSE(audit.findings.empty());
  EXPECT_THAT(audit.findings.front(), HasSubstr("entry 8"));
}

TEST(Audit, FindsEveryFlippedBitOfAnEntryInTheFileItself) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    const Number survey = fill(book.value(), 1);
    ASSERT_TRUE(book.value().append(Entry{Note{"the quick brown fox"}, survey, kMorning}).ok());  // entry 5
    ASSERT_TRUE(book.value().append(Entry{Note{"the end"}, survey, kMorning}).ok());
  }
  std::ifstream file(scratch.book(), std::ios::binary);
  const std::string whole{std::istreambuf_iterator<char>(file), {}};
  // The record as it lies there: kind, time, body, hash, one after the other.
  const std::size_t from = whole.find("note2026-09-14T08:30:00.250000Z{\"text\":\"the quick");
  ASSERT_NE(from, std::string::npos);
  const std::size_t to =
      from + std::string("note2026-09-14T08:30:00.250000Z{\"text\":\"the quick brown fox\"}").size() + 64;
  for (std::size_t at = from; at < to; ++at) {
    for (int bit = 0; bit < 8; ++bit) {
      std::string changed = whole;
      changed[at] = static_cast<char>(changed[at] ^ (1 << bit));
      std::ofstream(scratch / "changed.levelbook", std::ios::binary) << changed;
      const auto book = Book::open_to_read(scratch / "changed.levelbook");
      ASSERT_TRUE(book.ok());
      const auto audit = book.value().audit();
      ASSERT_TRUE(audit.ok());
      EXPECT_EQ(audit.value().first_bad, 5) << "byte " << at - from << " bit " << bit;
    }
  }
}

TEST(Audit, FindsARuleOfTheFileThatWasTakenAway) {
  Scratch scratch;
  { ASSERT_TRUE(Book::open(scratch.book()).ok()); }
  sql(scratch.book(), "DROP TRIGGER no_removal");
  const auto audit = Book::open_to_read(scratch.book()).value().audit();
  ASSERT_TRUE(audit.ok());
  EXPECT_THAT(audit.value().findings, Contains(HasSubstr("no_removal")));
}

TEST(Audit, ListsSealsWhoseHashesStandForEverythingBefore) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 2);
  const auto first = book.value().seal();
  ASSERT_TRUE(first.ok());
  ASSERT_TRUE(book.value().append(Entry{reading(1), survey}).ok());
  const auto second = book.value().seal();
  ASSERT_TRUE(second.ok());
  const auto audit = book.value().audit();
  ASSERT_TRUE(audit.ok());
  EXPECT_TRUE(audit.value().whole());
  ASSERT_EQ(audit.value().seals.size(), 2u);
  EXPECT_EQ(audit.value().seals[0].number, 6);
  EXPECT_EQ(audit.value().seals[0].hash, first.value().hash);
  EXPECT_EQ(audit.value().seals[1].hash, second.value().hash);
}

TEST(Audit, NamesTheFirstBadEntryWithItsKindAndTime) {
  const Audit audit = audit_after("UPDATE entry SET body = replace(body, 'k', 'K') WHERE number = 8");
  EXPECT_EQ(audit.first_bad, 8);
  EXPECT_EQ(audit.first_bad_kind, "set aside");
  EXPECT_EQ(audit.first_bad_time, "2026-09-14T08:30:00.250000Z");
  EXPECT_EQ(audit.entries, 7) << "those before it hold";
  EXPECT_THAT(audit.findings.front(), HasSubstr("entry 8 (set aside, 2026-09-14T08:30:00.250000Z)"));

  const Audit hostile = audit_after("UPDATE entry SET kind = '\x1b]0;title\x07' WHERE number = 8");
  EXPECT_EQ(hostile.first_bad_kind, "?]0;title?") << "what is shown on a terminal is plain text";

  const Audit missing = audit_after("DELETE FROM entry WHERE number = 8");
  EXPECT_EQ(missing.first_bad, 8);
  EXPECT_EQ(missing.first_bad_kind, "");
}

// What the chain itself cannot show, a seal that was noted elsewhere does.

class NotedSeals : public ::testing::Test {
 protected:
  NotedSeals() {
    auto book = Book::open(scratch_.book());
    EXPECT_TRUE(book.ok());
    fill(book.value(), 2);  // entries 1 ... 5
    const SealRecord seal = book.value().seal().value();
    noted_ = {seal.number, short_form(seal.hash)};
    EXPECT_EQ(noted_.number, 6);
    EXPECT_TRUE(book.value().append(Entry{Note{"after it"}, std::nullopt}).ok());
  }
  [[nodiscard]] Audit audit(const std::vector<NotedSeal>& noted) const {
    return Book::open_to_read(scratch_.book()).value().audit(noted).value();
  }
  Scratch scratch_;
  NotedSeal noted_;
};

TEST_F(NotedSeals, MatchTheBookThatWasSealed) {
  const Audit audit = this->audit({noted_, noted_});
  EXPECT_TRUE(audit.whole()) << ::testing::PrintToString(audit.findings);
  EXPECT_EQ(audit.noted, (std::vector{NotedAnswer::matches, NotedAnswer::matches}));
}

TEST_F(NotedSeals, ShowABookWhoseEndWasCutOffAlthoughItsChainIsWhole) {
  sql(scratch_.book(), std::string(kUnlock) + "DELETE FROM entry WHERE number >= 6;" + kLock);
  EXPECT_TRUE(audit({}).whole()) << "the chain alone cannot show it";
  const Audit audit = this->audit({noted_});
  EXPECT_FALSE(audit.whole());
  EXPECT_EQ(audit.noted, std::vector{NotedAnswer::cut_off});
  ASSERT_FALSE(audit.findings.empty());
  EXPECT_THAT(audit.findings.front(), HasSubstr("its end was cut off"));
}

TEST_F(NotedSeals, ShowABookThatWasWrittenAnewAlthoughItsChainIsWhole) {
  std::filesystem::remove(scratch_.book());
  {
    auto book = Book::open(scratch_.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 1);
    ASSERT_TRUE(book.value().append(Entry{reading(0.5), 3, kMorning}).ok());  // another value
    EXPECT_EQ(book.value().seal().value().number, 6);
  }
  EXPECT_TRUE(audit({}).whole()) << "the chain alone cannot show it";
  const Audit audit = this->audit({noted_});
  EXPECT_FALSE(audit.whole());
  EXPECT_EQ(audit.noted, std::vector{NotedAnswer::differs});
  ASSERT_FALSE(audit.findings.empty());
  EXPECT_THAT(audit.findings.front(), HasSubstr(noted_.short_form));
}

TEST_F(NotedSeals, AreNoneWhereAnEntryOfAnotherKindStands) {
  const Audit audit = this->audit({{7, noted_.short_form}});
  EXPECT_FALSE(audit.whole());
  EXPECT_EQ(audit.noted, std::vector{NotedAnswer::no_seal});
}

TEST_F(NotedSeals, CannotBeComparedWhereTheChainBreaksBefore) {
  sql(scratch_.book(), std::string(kUnlock) + "UPDATE entry SET body = '{}' WHERE number = 3;" + kLock);
  const Audit audit = this->audit({noted_});
  EXPECT_EQ(audit.noted, std::vector{NotedAnswer::no_seal});
  EXPECT_EQ(audit.first_bad, 3);
}

TEST(Book, WillNotGoOnWritingAfterALastEntryThatWasChanged) {
  Scratch scratch;
  {
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    fill(book.value(), 2);
  }
  sql(scratch.book(), std::string(kUnlock) +
                          "UPDATE entry SET body = replace(body, '0.001', '0.002') WHERE number = 5;" +
                          kLock);
  const auto book = Book::open(scratch.book());
  ASSERT_FALSE(book.ok());
  EXPECT_EQ(book.fault().trouble, Trouble::damaged);
  EXPECT_THAT(book.fault().says, HasSubstr("last entry, 5,"));
}

}  // namespace
}  // namespace hangtrue::book
