// Whatever happens to the file: it is named, or what the book says is provably the same. Never a crash.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <random>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/scratch.hpp"
#include "tests/trials.hpp"

namespace hangtrue::book {
namespace {

/// A closed book with every kind of entry, and what it says.
class Damaged : public ::testing::Test {
 protected:
  Damaged() {
    {
      auto book = Book::open(scratch_.book());
      EXPECT_TRUE(book.ok()) << book.fault().says;
      fill_with_every_kind(book.value());
    }
    bytes_ = bytes_of(scratch_.book());
    rows_ = rows_of(scratch_.book()).value_or("");
    EXPECT_FALSE(rows_.empty());
    answers_ = answers(Book::open_to_read(scratch_.book()).value());
    EXPECT_FALSE(answers_.empty());
  }

  /// What is found by way of the indexes.
  static std::vector<Number> answers(const Book& book) {
    std::vector<Number> numbers;
    const auto surveys = book.surveys();
    const auto entries = book.entries(3), checks = book.checks();
    const auto seals = book.seals();
    if (!surveys.ok() || !entries.ok() || !checks.ok() || !seals.ok()) return numbers;
    for (const SurveyRecord& it : surveys.value())
      numbers.insert(numbers.end(), {it.number, it.readings, it.kept, it.moves, it.closed ? 1 : 0, it.last});
    for (const NumberedEntry& it : entries.value()) numbers.push_back(it.number);
    for (const NumberedEntry& it : checks.value()) numbers.push_back(it.number);
    for (const SealRecord& it : seals.value()) numbers.push_back(it.number);
    return numbers;
  }

  /// Asks the changed file everything that a program may ask; only that it ends matters here.
  static void ask_everything(const Book& book) {
    static_cast<void>(book.surveys());
    static_cast<void>(book.seals());
    static_cast<void>(book.checks());
    static_cast<void>(book.readings(3));
    static_cast<void>(book.cards(3));
    static_cast<void>(book.find(RunText{"", "title = \"shelf\"\n"}));
    for (Number number = 1; number <= kEveryKind; ++number) static_cast<void>(book.entry(number));
  }

  Scratch scratch_;
  std::string bytes_, rows_;
  std::vector<Number> answers_;
};

/// Every byte of the file's head and of the pages' heads, and of the rest every third; under the sanitizers, where only our own code
/// is looked at, every fortieth.
bool is_flipped(std::size_t at) {
  constexpr std::size_t kFileHead = 100, kPage = 4096, kPageHead = 40, kOneOf = kSharesTell ? 3 : 40;
  return at < kFileHead || at % kPage < kPageHead || at % kOneOf == 0;
}

/// In four parts, so that none takes long on a busy machine: each takes every fourth byte, from its number on.
class DamagedInPart : public Damaged, public ::testing::WithParamInterface<std::size_t> {};
INSTANTIATE_TEST_SUITE_P(Part, DamagedInPart, ::testing::Values(0, 1, 2, 3));

TEST_P(DamagedInPart, ByAnyOneFlippedByteOfTheFileIsNamedOrSaysTheSame) {
  const std::string changed = scratch_ / "changed.levelbook";
  write_bytes(changed, bytes_);
  const int file = ::open(changed.c_str(), O_WRONLY | O_CLOEXEC);
  ASSERT_GE(file, 0);
  std::mt19937 random(20260914);
  int named_at_opening = 0, named_by_audit = 0, same = 0;
  for (std::size_t at = GetParam(); at < bytes_.size(); at += 4) {
    if (!is_flipped(at)) continue;
    const char flipped = static_cast<char>(bytes_[at] ^ (1 << std::uniform_int_distribution(0, 7)(random)));
    ASSERT_EQ(::pwrite(file, &flipped, 1, static_cast<off_t>(at)), 1);
    {
      const auto book = Book::open_to_read(changed);
      if (!book.ok()) {
        ++named_at_opening;
        EXPECT_THAT(book.fault().says, ::testing::HasSubstr(changed));
      } else {
        const auto audit = book.value().audit();
        if (!audit.ok() || !audit.value().whole()) {
          ++named_by_audit;
        } else {
          ++same;
          EXPECT_EQ(rows_of(changed), rows_) << "byte " << at << ": changed, and nobody said so";
          EXPECT_EQ(answers(book.value()), answers_)
              << "byte " << at << ": an index changed, and nobody said so";
        }
        ask_everything(book.value());
      }
    }
    ASSERT_EQ(::pwrite(file, &bytes_[at], 1, static_cast<off_t>(at)), 1);
  }
  ::close(file);
  EXPECT_EQ(bytes_of(changed), bytes_);
  std::printf("%d bytes flipped: %d named at opening, %d by audit, %d change nothing that the book says\n",
              named_at_opening + named_by_audit + same, named_at_opening, named_by_audit, same);
  EXPECT_GT(named_at_opening, kSharesTell ? 12 : 3);
  EXPECT_GT(named_by_audit, kSharesTell ? 400 : 20) << "the entries and the indexes alone are more";
}

// A writer changes the file as soon as it opens it (write-ahead log, upgrade). It must name what it cannot work with.
TEST_F(Damaged, ByAFlippedByteOfItsHeaderIsNamedByAWriterOrGoneOnWith) {
  const std::string changed = scratch_ / "changed.levelbook";
  std::mt19937 random(20260915);
  int refused = 0;
  for (std::size_t at = 0; at < 100; ++at) {
    std::string bytes = bytes_;
    bytes[at] = static_cast<char>(bytes[at] ^ (1 << std::uniform_int_distribution(0, 7)(random)));
    for (const char* beside : {"-wal", "-shm", "-lock"}) std::filesystem::remove(changed + beside);
    write_bytes(changed, bytes);
    auto book = Book::open(changed);
    if (!book.ok()) {
      EXPECT_THAT(book.fault().says, ::testing::HasSubstr(changed));
      ++refused;
      continue;
    }
    const auto appended = book.value().append(Entry{Note{"goes on"}, std::nullopt});
    const auto audit = book.value().audit();
    if (!appended.ok() || !audit.ok() || !audit.value().whole()) continue;
    const std::string now = rows_of(changed).value_or("");
    EXPECT_EQ(now.substr(0, rows_.size()), rows_) << "byte " << at;
    EXPECT_EQ(appended.value(), kEveryKind + 1);
  }
  EXPECT_GT(refused, 20);
}

TEST_F(Damaged, ByBeingCutOffAnywhereIsNamed) {
  const std::string changed = scratch_ / "changed.levelbook";
  for (std::size_t length = 0; length < bytes_.size(); length += length < 200 || length % 4096 < 8 ? 1 : 61) {
    write_bytes(changed, std::string_view(bytes_).substr(0, length));
    for (const char* beside : {"-wal", "-shm", "-lock"}) std::filesystem::remove(changed + beside);
    {
      const auto book = Book::open_to_read(changed);
      if (book.ok()) {
        const auto audit = book.value().audit();
        EXPECT_TRUE(!audit.ok() || !audit.value().whole()) << "cut to " << length << " of " << bytes_.size();
        ask_everything(book.value());
      } else {
        EXPECT_THAT(book.fault().says, ::testing::HasSubstr(changed));
      }
    }
    const auto writer = Book::open(changed);
    if (!writer.ok()) {
      EXPECT_THAT(writer.fault().says, ::testing::HasSubstr(changed));
    }
  }
}

TEST_F(Damaged, InAnyFieldOfAnyEntryIsFoundAtThatEntry) {
  struct Field {
    const char *name, *value;
  };
  const std::vector<Field> fields{{"survey", "ifnull(survey + 1, 3)"},
                                  {"refers_to", "ifnull(refers_to + 1, 4)"},
                                  {"kind", "CASE kind WHEN 'note' THEN 'card' ELSE 'note' END"},
                                  {"time", "replace(time, '2026', '2027')"},
                                  {"body", "replace(body, '}', ' }')"},
                                  {"hash", "replace(hash, substr(hash, 1, 1), 'x')"}};
  for (Number number = 1; number <= kEveryKind; ++number)
    for (const Field& field : fields) {
      const std::string changed = scratch_ / "changed.levelbook";
      for (const char* beside : {"-wal", "-shm"}) std::filesystem::remove(changed + beside);
      write_bytes(changed, bytes_);
      sql(changed,
          "DROP TRIGGER no_change; UPDATE entry SET " + std::string(field.name) + " = " + field.value +
              " WHERE number = " + std::to_string(number) +
              "; CREATE TRIGGER no_change BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is "
              "append only'); END");
      ASSERT_NE(rows_of(changed), rows_) << field.name << " of " << number << " was not changed";
      const auto book = Book::open_to_read(changed);
      ASSERT_TRUE(book.ok());
      const auto audit = book.value().audit();
      ASSERT_TRUE(audit.ok());
      EXPECT_EQ(audit.value().first_bad, number) << field.name;
      EXPECT_EQ(audit.value().entries, number - 1) << "so many still hold";
      EXPECT_FALSE(audit.value().first_bad_time.empty());
    }
}

// Numbers and times far beyond those of any book: their entry is said to be unreadable, whoever put them there.
TEST_F(Damaged, ByNumbersAndTimesOutOfAllRangeIsUnreadableThere) {
  const std::vector<std::pair<Number, std::string>> changes{
      {4, "time = replace(time, '2026', '0026')"},
      {4, "time = replace(time, '2026', '9026')"},
      {4, "time = replace(time, '09-14', '02-30')"},
      {4, "body = replace(body, '\"samples\":20', '\"samples\":1e300')"},
      {4, "body = replace(body, '\"samples\":20', '\"samples\":20000000000')"},
      {4, "body = replace(body, '\"face\":-1', '\"face\":-1.5')"},
      {8, "body = replace(body, '\"from_us\":', '\"from_us\":999')"},
      {8, "body = replace(body, '[0,100000]', '[0,1e30]')"},
      {17, "body = replace(body, '\"order\":2', '\"order\":4294967298')"},
      {17, "body = replace(body, '\"made\":true', '\"made\":1')"},
      {18, "body = replace(body, '\"support\":\"post\"', '\"support\":null')"},
      {19, "body = replace(body, '\"sound\":true', '\"sound\":1')"},
      {19, "body = replace(body, '\"lines_hash\":', '\"lines_hush\":')"},
      {kEveryKind, "body = replace(body, '\"entries\":21', '\"entries\":\"21\"')"}};
  for (const auto& [number, change] : changes) {
    const std::string changed = scratch_ / "changed.levelbook";
    for (const char* beside : {"-wal", "-shm"}) std::filesystem::remove(changed + beside);
    write_bytes(changed, bytes_);
    sql(changed,
        "DROP TRIGGER no_change; UPDATE entry SET " + change + " WHERE number = " + std::to_string(number));
    ASSERT_NE(rows_of(changed), rows_) << change;
    const auto book = Book::open_to_read(changed);
    ASSERT_TRUE(book.ok());
    const auto entry = book.value().entry(number);
    ASSERT_FALSE(entry.ok()) << change;
    EXPECT_EQ(entry.fault().trouble, Trouble::not_an_entry);
    EXPECT_TRUE(book.value().entry(number - 1).ok());
    EXPECT_EQ(book.value().audit().value().first_bad, number) << change;
  }
}

TEST_F(Damaged, ByATableOrATriggerOfSomebodyElseIsNamed) {
  for (const char* added :
       {"CREATE TRIGGER echo AFTER INSERT ON entry BEGIN SELECT 1; END", "CREATE TABLE other (a)",
        "CREATE VIEW entries AS SELECT * FROM entry",
        // Triggers have names of their own, so that one can bear the name of a table or an index.
        "CREATE TRIGGER entry BEFORE INSERT ON entry WHEN NEW.kind = 'reading' BEGIN SELECT RAISE(IGNORE); "
        "END",
        "CREATE TRIGGER move_made BEFORE INSERT ON entry BEGIN SELECT RAISE(IGNORE); END",
        "CREATE TRIGGER survey_by_id AFTER INSERT ON entry BEGIN SELECT 1; END",
        "CREATE VIEW no_change AS SELECT 1", "CREATE TABLE no_removal (a)"}) {
    const std::string changed = scratch_ / "changed.levelbook";
    for (const char* beside : {"-wal", "-shm"}) std::filesystem::remove(changed + beside);
    write_bytes(changed, bytes_);
    sql(changed, added);
    {
      const auto audit = Book::open_to_read(changed).value().audit();
      ASSERT_TRUE(audit.ok());
      ASSERT_EQ(audit.value().findings.size(), 1u) << added;
      EXPECT_THAT(audit.value().findings[0], ::testing::HasSubstr("none of its own"));
    }
    const auto writer = Book::open(changed);
    ASSERT_FALSE(writer.ok()) << added << ": readings would be swallowed";
    EXPECT_EQ(writer.fault().trouble, Trouble::damaged);
    EXPECT_THAT(writer.fault().says, ::testing::HasSubstr("none of its own"));
  }
}

TEST_F(Damaged, ByAChangedRuleOfItsOwnIsNamed) {
  for (const auto& [change, named] : std::vector<std::pair<const char*, const char*>>{
           {"DROP TRIGGER no_change; CREATE TRIGGER no_change BEFORE UPDATE ON entry BEGIN SELECT 1; END",
            "no_change"},
           {"DROP INDEX move_made", "move_made"},
           {"DROP INDEX move_made; CREATE TRIGGER move_made BEFORE INSERT ON entry BEGIN SELECT "
            "RAISE(IGNORE); END",
            "move_made"},
           {"DROP TRIGGER no_removal; CREATE TABLE other (a); CREATE TRIGGER no_removal BEFORE DELETE ON "
            "other "
            "BEGIN SELECT RAISE(ABORT, 'a level book is append only'); END",
            "no_removal"}}) {
    const std::string changed = scratch_ / "changed.levelbook";
    for (const char* beside : {"-wal", "-shm"}) std::filesystem::remove(changed + beside);
    write_bytes(changed, bytes_);
    sql(changed, change);
    {
      const auto audit = Book::open_to_read(changed).value().audit().value();
      EXPECT_THAT(audit.findings, ::testing::Contains(::testing::HasSubstr(named))) << change;
    }
    EXPECT_FALSE(Book::open(changed).ok()) << change;
  }
}

// A rule that comes to the file while it is written: what it swallows is not acknowledged.
TEST_F(Damaged, ByARuleThatSwallowsEntriesWhileItIsWrittenAcknowledgesNothing) {
  auto book = Book::open(scratch_.book());
  ASSERT_TRUE(book.ok());
  sql(scratch_.book(),
      "CREATE TRIGGER entry BEFORE INSERT ON entry WHEN NEW.kind = 'note' BEGIN SELECT RAISE(IGNORE); END");
  const std::vector<Entry> pair{{Note{"one"}, std::nullopt}, {Note{"two"}, std::nullopt}};
  EXPECT_FALSE(book.value().append(pair[0]).ok());
  EXPECT_FALSE(book.value().append(pair).ok());
  EXPECT_EQ(book.value().audit().value().entries, kEveryKind);
}

}  // namespace
}  // namespace hangtrue::book
