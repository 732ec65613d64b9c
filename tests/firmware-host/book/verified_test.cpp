// A long book that was found whole is not walked again, and whatever is done to it then is found as before.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include <functional>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/faulty_vfs.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

constexpr Number kEntries = 3000;

class LongBook : public ::testing::Test {
 protected:
  LongBook() {
    ::setenv("XDG_CACHE_HOME", (scratch_ / "caches").c_str(), 1);
    auto book = Book::open(scratch_.book());
    EXPECT_TRUE(book.ok());
    survey_ = fill(book.value(), 0);
    std::vector<Entry> entries(kEntries - 4, Entry{reading(0.001), survey_, kMorning});
    EXPECT_TRUE(book.value().append(entries).ok());
    EXPECT_TRUE(book.value().seal(kMorning).ok());
  }
  ~LongBook() override { ::unsetenv("XDG_CACHE_HOME"); }

  /// How many times SQLite read from a file to verify the book.
  struct Looked {
    Audit audit;
    int reads = 0;
  };
  [[nodiscard]] Looked verify() const {
    const FaultyVfs vfs;
    const auto book = Book::open_to_read(scratch_.book());
    Looked looked;
    if (!book.ok()) {
      looked.audit.findings.push_back(book.fault().says);
      return looked;
    }
    const int before = FaultyVfs::reads();
    auto audit = book.value().verify();
    looked.reads = FaultyVfs::reads() - before;
    if (audit.ok())
      looked.audit = std::move(audit).value();
    else
      looked.audit.findings.push_back(audit.fault().says);
    return looked;
  }
  [[nodiscard]] bool walked() const { return verify().reads > kFew; }
  void forget() const { std::filesystem::remove_all(scratch_ / "caches"); }

  static constexpr int kFew = 40;  // pages; the whole book has hundreds
  Scratch scratch_;
  Number survey_ = 0;
};

TEST_F(LongBook, IsWalkedOnceAndThenSaysTheSame) {
  forget();
  const Looked first = verify();
  EXPECT_GT(first.reads, 100);
  for (int i = 0; i < 3; ++i) {
    const Looked again = verify();
    EXPECT_LE(again.reads, kFew);
    EXPECT_TRUE(again.audit.whole());
    EXPECT_EQ(again.audit.entries, kEntries);
    EXPECT_EQ(again.audit.schema, first.audit.schema);
    EXPECT_EQ(again.audit.last_time, first.audit.last_time);
    EXPECT_EQ(again.audit.ends_at_rest, true);
    ASSERT_EQ(again.audit.seals.size(), 1u);
    EXPECT_EQ(again.audit.seals[0].hash, first.audit.seals[0].hash);
  }
}

// What its writer added to a book that was whole is known to be whole.
TEST_F(LongBook, IsNotWalkedAgainAfterItsWriterClosedIt) {
  EXPECT_FALSE(walked()) << "it was made by one";
  for (int i = 0; i < 3; ++i) {
    auto book = Book::open(scratch_.book());
    ASSERT_TRUE(book.ok());
    ASSERT_TRUE(book.value().append(Entry{reading(0.002), survey_}).ok());
  }
  EXPECT_FALSE(walked());
  EXPECT_EQ(verify().audit.entries, kEntries + 3);
}

TEST_F(LongBook, IsWalkedAgainWhereItsNoteIsGoneOrSpoiled) {
  forget();
  EXPECT_TRUE(walked());
  EXPECT_FALSE(walked());
  for (const auto& file : std::filesystem::recursive_directory_iterator(scratch_ / "caches")) {
    if (!file.is_regular_file()) continue;
    std::string note = bytes_of(file.path().string());
    for (const std::string& spoiled :
         {std::string("noise"), std::string(), note.substr(0, note.size() / 2)}) {
      write_bytes(file.path().string(), spoiled);
      EXPECT_TRUE(walked());
      EXPECT_FALSE(walked());
    }
  }
}

TEST_F(LongBook, IsWalkedWhereNoNoteCanBeKept) {
  forget();
  write_bytes(scratch_ / "caches", "no directory");
  EXPECT_TRUE(walked());
  EXPECT_TRUE(walked());
  EXPECT_TRUE(verify().audit.whole());
}

/// What is done to the book after it was noted as whole.
struct Tampering {
  const char* name;
  std::function<void(const Scratch&)> happens;
};
void PrintTo(const Tampering& tampering, std::ostream* out) { *out << tampering.name; }

constexpr const char* kUnlock = "DROP TRIGGER no_change; DROP TRIGGER no_removal;";
constexpr const char* kLock =
    "CREATE TRIGGER no_change BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
    "only'); END;"
    "CREATE TRIGGER no_removal BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
    "only'); END;";
void change(const Scratch& scratch, const std::string& text) {
  sql(scratch.book(), kUnlock + text + ";" + kLock);
}
/// Changes one byte of the file, of a reading in its middle.
void change_a_byte(const std::string& path) {
  const std::string bytes = bytes_of(path);
  const std::size_t at = bytes.find("\"value\":0.001", bytes.size() / 2);
  ASSERT_NE(at, std::string::npos);
  const int file = ::open(path.c_str(), O_WRONLY | O_CLOEXEC);
  ASSERT_EQ(::pwrite(file, "9", 1, static_cast<off_t>(at + 11)), 1);
  ::close(file);
}

class NotedBook : public LongBook, public ::testing::WithParamInterface<Tampering> {};

TEST_P(NotedBook, ThatIsTamperedWithIsNotWhole) {
  EXPECT_FALSE(walked());
  struct stat before {};
  ASSERT_EQ(::stat(scratch_.book().c_str(), &before), 0);
  GetParam().happens(scratch_);
  // Whoever tampers puts the time of writing back.
  const timespec times[2] = {before.st_atim, before.st_mtim};
  ::utimensat(AT_FDCWD, scratch_.book().c_str(), times, 0);
  EXPECT_FALSE(verify().audit.whole());
  EXPECT_FALSE(verify().audit.whole()) << "and no note of it is kept";
}

INSTANTIATE_TEST_SUITE_P(
    Book, NotedBook,
    ::testing::Values(
        Tampering{"a_byte", [](const Scratch& s) { change_a_byte(s.book()); }},
        Tampering{"a_body",
                  [](const Scratch& s) {
                    change(s, "UPDATE entry SET body = replace(body, '0.001', '0.002') WHERE number = 100");
                  }},
        Tampering{"an_entry_taken_out",
                  [](const Scratch& s) { change(s, "DELETE FROM entry WHERE number = 1500"); }},
        Tampering{"a_trigger_of_somebody_else",
                  [](const Scratch& s) {
                    sql(s.book(),
                        "CREATE TRIGGER entry BEFORE INSERT ON entry BEGIN SELECT RAISE(IGNORE); END");
                  }},
        Tampering{"an_index_of_its_own_dropped",
                  [](const Scratch& s) { sql(s.book(), "DROP INDEX move_made"); }},
        Tampering{"replaced_by_a_changed_copy_of_its_name",
                  [](const Scratch& s) {
                    std::filesystem::copy_file(s.book(), s / "copy");
                    change_a_byte(s / "copy");
                    std::filesystem::rename(s / "copy", s.book());
                  }},
        Tampering{"overwritten_by_a_changed_copy",
                  [](const Scratch& s) {
                    std::filesystem::copy_file(s.book(), s / "copy");
                    change_a_byte(s / "copy");
                    const std::string bytes = bytes_of(s / "copy");
                    const int file = ::open(s.book().c_str(), O_WRONLY | O_CLOEXEC);
                    EXPECT_EQ(::write(file, bytes.data(), bytes.size()), static_cast<ssize_t>(bytes.size()));
                    ::close(file);
                  }},
        Tampering{"cut_off",
                  [](const Scratch& s) {
                    std::filesystem::resize_file(s.book(), std::filesystem::file_size(s.book()) - 4096);
                  }}),
    [](const auto& instance) { return std::string(instance.param.name); });

// Somebody changes an earlier entry by way of the log while the writer writes, who then closes the book.
TEST_F(LongBook, ThatWasTamperedWithUnderItsWriterIsNotWhole) {
  {
    auto book = Book::open(scratch_.book());
    ASSERT_TRUE(book.ok());
    change(scratch_, "UPDATE entry SET body = replace(body, '0.001', '0.002') WHERE number = 100");
    EXPECT_FALSE(book.value().append(Entry{reading(0.002), survey_}).ok());
  }
  EXPECT_FALSE(verify().audit.whole());
}

// Were the note wrong, an entry that is read would still be found.
TEST_F(LongBook, HasEveryEntryThatIsReadCheckedAgainstItsNeighbour) {
  const auto book = Book::open_to_read(scratch_.book());
  ASSERT_TRUE(book.ok());
  ASSERT_TRUE(book.value().verify().value().whole());
  EXPECT_EQ(book.value().readings(survey_).value().size(), static_cast<std::size_t>(kEntries - 4));
  change(scratch_, "UPDATE entry SET body = replace(body, '0.001', '0.002') WHERE number = 100");
  EXPECT_TRUE(book.value().entry(99).ok());
  EXPECT_FALSE(book.value().entry(100).ok());
  const auto readings = book.value().readings(survey_);
  ASSERT_FALSE(readings.ok());
  EXPECT_THAT(readings.fault().says, ::testing::HasSubstr("entry 100 does not fit the chain"));
}

}  // namespace
}  // namespace hangtrue::book
