// A book that is taken away, replaced or cut under its writer, and one that two would write in.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <functional>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/appender.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;

// ---- taken away ---------------------------------------------------------------------------------------------------

struct Theft {
  const char* name;
  std::function<void(const Scratch&)> happens;
  bool rescued_whole;  // the whole book is in the rescue file; else what this daemon wrote is, as text
};
void PrintTo(const Theft& theft, std::ostream* out) { *out << theft.name; }

void replace_by(const Scratch& scratch, const std::string& what) {
  std::filesystem::rename(what, scratch.book());
}
void cut(const std::string& path, std::uintmax_t to) { std::filesystem::resize_file(path, to); }
/// As `cp` writes: into the file that is there.
void overwrite(const std::string& path, const std::string& bytes) {
  const int file = ::open(path.c_str(), O_WRONLY | O_TRUNC | O_CLOEXEC);
  EXPECT_EQ(::write(file, bytes.data(), bytes.size()), static_cast<ssize_t>(bytes.size()));
  ::close(file);
}

class TakenAway : public ::testing::TestWithParam<Theft> {
 protected:
  TakenAway() {
    auto opened = Book::open(scratch_.book());
    EXPECT_TRUE(opened.ok());
    {
      Book earlier = std::move(opened).value();
      survey_ = fill(earlier, 5);  // entries 1 ... 8
    }
    std::filesystem::copy_file(scratch_.book(), scratch_ / "earlier");
    book_ = std::make_unique<Book>(Book::open(scratch_.book()).value());
    for (int i = 0; i < 5; ++i) EXPECT_TRUE(append().ok());  // ... 13
    book_->fold();
    for (int i = 0; i < 5; ++i) EXPECT_TRUE(append().ok());  // ... 18, in the log only
  }
  Result<Number, Fault> append() { return book_->append(Entry{reading(0.002), survey_}); }
  [[nodiscard]] std::vector<std::string> rescues() const {
    std::vector<std::string> names;
    for (const auto& file : std::filesystem::directory_iterator(scratch_.directory()))
      if (file.path().filename().string().find("rescue") != std::string::npos)
        names.push_back(file.path().string());
    return names;
  }
  Scratch scratch_;
  std::unique_ptr<Book> book_;
  Number survey_ = 0;
};

TEST_P(TakenAway, NothingIsAcknowledgedAndWhatIsHeldGoesToARescueFile) {
  GetParam().happens(scratch_);
  const auto refused = append();
  ASSERT_FALSE(refused.ok()) << "acknowledged into nothing";
  EXPECT_EQ(refused.fault().trouble, Trouble::taken_away) << refused.fault().says;
  EXPECT_THAT(refused.fault().says, AllOf(HasSubstr(scratch_.book()), HasSubstr("To go on:")));
  for (int i = 0; i < 3; ++i) EXPECT_FALSE(append().ok());
  EXPECT_FALSE(book_->seal().ok());
  EXPECT_FALSE(book_->check_place().ok());
  const auto files = rescues();
  ASSERT_EQ(files.size(), 1u) << "one, however often something is refused";
  EXPECT_THAT(refused.fault().says, HasSubstr(files[0]));
  if (GetParam().rescued_whole) {
    const auto rescued = Book::open_to_read(files[0]);
    ASSERT_TRUE(rescued.ok()) << rescued.fault().says;
    const auto audit = rescued.value().audit().value();
    EXPECT_TRUE(audit.whole()) << ::testing::PrintToString(audit.findings);
    EXPECT_EQ(audit.entries, 19) << "all that was acknowledged, and what was refused as it happened";
    EXPECT_FALSE(audit.log_may_be_missing);
    auto gone_on = Book::open(files[0]);
    ASSERT_TRUE(gone_on.ok()) << gone_on.fault().says;
    EXPECT_EQ(gone_on.value().append(Entry{reading(1), survey_}).value(), 20);
  } else {
    const std::string text = bytes_of(files[0]);
    EXPECT_EQ(std::count(text.begin(), text.end(), '\n'), 11) << "the readings of this session";
    EXPECT_THAT(text, HasSubstr("{\"number\":9,"));
    EXPECT_THAT(text, HasSubstr("{\"number\":19,"));
  }
}

// What lies at the path then is somebody else's: closing does not touch it.
TEST_P(TakenAway, ClosingLeavesWhatLiesThereAlone) {
  GetParam().happens(scratch_);
  EXPECT_FALSE(append().ok());
  const auto look = [&] {
    std::string all;
    for (const char* beside : {"", "-wal"})
      all += std::filesystem::exists(scratch_.book() + beside) ? bytes_of(scratch_.book() + beside) : "none";
    return all;
  };
  const std::string before = look();
  book_.reset();
  EXPECT_EQ(look(), before);
}

INSTANTIATE_TEST_SUITE_P(
    Book, TakenAway,
    ::testing::Values(
        Theft{"deleted", [](const Scratch& s) { std::filesystem::remove(s.book()); }, true},
        Theft{"all_files_deleted",
              [](const Scratch& s) {
                for (const char* beside : {"", "-wal", "-shm", "-lock"})
                  std::filesystem::remove(s.book() + beside);
              },
              true},
        Theft{"renamed", [](const Scratch& s) { std::filesystem::rename(s.book(), s / "elsewhere"); }, true},
        Theft{"replaced_by_an_earlier_copy", [](const Scratch& s) { replace_by(s, s / "earlier"); }, true},
        Theft{"replaced_by_its_like",
              [](const Scratch& s) {
                std::filesystem::copy_file(s.book(), s / "like");
                replace_by(s, s / "like");
              },
              true},
        Theft{"its_log_deleted", [](const Scratch& s) { std::filesystem::remove(s.book() + "-wal"); }, true},
        Theft{"its_log_replaced",
              [](const Scratch& s) {
                std::filesystem::copy_file(s.book() + "-wal", s / "log");
                std::filesystem::rename(s / "log", s.book() + "-wal");
              },
              true},
        Theft{"its_log_cut_to_nothing", [](const Scratch& s) { cut(s.book() + "-wal", 0); }, true},
        Theft{"its_log_cut_in_the_middle",
              [](const Scratch& s) {
                cut(s.book() + "-wal", std::filesystem::file_size(s.book() + "-wal") / 2);
              },
              true},
        Theft{"its_log_cut_and_filled_with_zeros",
              [](const Scratch& s) {
                const auto size = std::filesystem::file_size(s.book() + "-wal");
                cut(s.book() + "-wal", 0);
                cut(s.book() + "-wal", size);
              },
              true},
        Theft{"its_log_overwritten_in_the_middle",
              [](const Scratch& s) {
                std::string bytes = bytes_of(s.book() + "-wal");
                bytes[5000] = static_cast<char>(bytes[5000] ^ 1);
                overwrite(s.book() + "-wal", bytes);
              },
              true},
        Theft{"overwritten_by_an_earlier_copy",
              [](const Scratch& s) { overwrite(s.book(), bytes_of(s / "earlier")); }, true},
        Theft{"emptied", [](const Scratch& s) { cut(s.book(), 0); }, false},
        Theft{"overwritten_by_noise", [](const Scratch& s) { overwrite(s.book(), std::string(90'000, 'z')); },
              false}),
    [](const auto& instance) { return std::string(instance.param.name); });

TEST(TakenAwayBook, ThatComesBackIsGoneOnWith) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);
  std::filesystem::rename(scratch.book(), scratch / "elsewhere");
  EXPECT_FALSE(book.value().append(Entry{reading(1), survey}).ok());
  std::filesystem::rename(scratch / "elsewhere", scratch.book());
  EXPECT_EQ(book.value().append(Entry{reading(2), survey}).value(), 5);
  EXPECT_TRUE(book.value().audit().value().whole());
}

TEST(TakenAwayBook, ThatWasOnlyTouchedIsGoneOnWith) {
  Scratch scratch;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);
  std::filesystem::last_write_time(scratch.book(),
                                   std::filesystem::file_time_type::clock::now() - std::chrono::hours(1));
  EXPECT_TRUE(book.value().append(Entry{reading(1), survey}).ok());
}

TEST(TakenAwayBook, WhoseDirectoryIsGoneSaysThatNothingCouldBeKept) {
  Scratch scratch;
  std::filesystem::create_directory(scratch / "site");
  auto book = Book::open(scratch / "site/B.levelbook");
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);
  std::filesystem::remove_all(scratch / "site");
  const auto refused = book.value().append(Entry{reading(1), survey});
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.fault().trouble, Trouble::taken_away);
  EXPECT_THAT(refused.fault().says, HasSubstr("could not be kept"));
}

// The log of a book that is gone would be taken for that of a new one of its name.
TEST(TakenAwayBook, WhoseLogStillLiesThereIsNotMadeAnew) {
  Scratch scratch;
  {
    Appender appender(scratch.book(), 1);
    ASSERT_TRUE(appender.wait_for(5));
    ASSERT_TRUE(appender.kill());
  }
  std::filesystem::remove(scratch.book());
  const auto book = Book::open(scratch.book());
  ASSERT_FALSE(book.ok());
  EXPECT_THAT(book.fault().says, HasSubstr("put the book back"));
  EXPECT_FALSE(std::filesystem::exists(scratch.book()));
}

// ---- two writers --------------------------------------------------------------------------------------------------

class TwoWriters : public ::testing::Test {
 protected:
  TwoWriters() : first_(scratch_.book(), 1) { EXPECT_TRUE(first_.wait_for(5)); }
  void expect_refused(const std::string& path) {
    const auto second = Book::open(path);
    ASSERT_FALSE(second.ok()) << "two write in one book";
    EXPECT_EQ(second.fault().trouble, Trouble::in_use) << second.fault().says;
    EXPECT_TRUE(first_.wait_for(5)) << "the first goes on undisturbed";
  }
  Scratch scratch_;
  Appender first_;
};

TEST_F(TwoWriters, ByASymbolicLinkAreRefused) {
  std::filesystem::create_symlink(scratch_.book(), scratch_ / "link.levelbook");
  expect_refused(scratch_ / "link.levelbook");
  std::filesystem::create_directory_symlink(scratch_.directory(), scratch_ / "here");
  expect_refused(scratch_ / "here/B.levelbook");
}

TEST_F(TwoWriters, ByAHardLinkAreRefused) {
  std::filesystem::create_hard_link(scratch_.book(), scratch_ / "other.levelbook");
  expect_refused(scratch_ / "other.levelbook");
}

TEST_F(TwoWriters, AfterTheLockFileIsRemovedAreRefused) {
  for (int i = 0; i < 3; ++i) {
    std::filesystem::remove(scratch_.book() + "-lock");
    expect_refused(scratch_.book());
  }
}

TEST_F(TwoWriters, AreNoneOnceTheFirstIsKilled) {
  std::filesystem::create_symlink(scratch_.book(), scratch_ / "link.levelbook");
  ASSERT_TRUE(first_.kill());
  auto book = Book::open(scratch_ / "link.levelbook");
  ASSERT_TRUE(book.ok()) << book.fault().says;
  EXPECT_GT(book.value().append(Entry{Note{"mine"}, std::nullopt}).value(),
            first_.acknowledged().back().number);
}

// Its log goes by the name: opened by the other one, what the first one was killed with would not be seen.
TEST(ABookWithTwoNames, IsNotWritten) {
  Scratch scratch;
  {
    Appender appender(scratch.book(), 1);
    ASSERT_TRUE(appender.wait_for(5));
    ASSERT_TRUE(appender.kill());
  }
  std::filesystem::create_hard_link(scratch.book(), scratch / "other.levelbook");
  const auto refused = Book::open(scratch / "other.levelbook");
  ASSERT_FALSE(refused.ok());
  EXPECT_THAT(refused.fault().says, HasSubstr("2 names"));
  EXPECT_TRUE(Book::open_to_read(scratch / "other.levelbook").value().audit().value().log_may_be_missing);
  std::filesystem::remove(scratch / "other.levelbook");
  EXPECT_TRUE(Book::open(scratch.book()).ok());
}

TEST(Book, IsAFileAndNothingInMemory) {
  for (const char* name : {":memory:", ""}) {
    const auto book = Book::open(name);
    ASSERT_FALSE(book.ok());
    EXPECT_EQ(book.fault().trouble, Trouble::not_a_file);
    EXPECT_FALSE(Book::open_to_read(name).ok());
  }
  EXPECT_FALSE(std::filesystem::exists(":memory:"));
}

}  // namespace
}  // namespace hangtrue::book
