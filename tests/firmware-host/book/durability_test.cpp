// Nothing that was acknowledged is lost: kill -9 at any instant, and a disk that fails at any write.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <random>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/scratch.hpp"

namespace hangtrue::book {
namespace {

using ::testing::HasSubstr;

/// Appends readings until it is killed, and writes the number of each to the pipe once append() has returned it.
[[noreturn]] void write_until_killed(const std::string& path, int acknowledge) {
  auto book = Book::open(path);
  if (!book.ok()) ::_exit(1);
  for (int i = 0;; ++i) {
    const auto number = book.value().append(Entry{reading(0.001 * i), std::nullopt});
    if (!number.ok()) ::_exit(2);
    const Number acknowledged = number.value();
    if (::write(acknowledge, &acknowledged, sizeof acknowledged) != sizeof acknowledged) ::_exit(3);
  }
}

TEST(Book, LosesNothingAcknowledgedWhenItsWriterIsKilledAtAnyInstant) {
  Scratch scratch;
  std::mt19937 random(20260914);
  Number last_acknowledged = 0;
  for (int round = 0; round < 10; ++round) {
    int ends[2];
    ASSERT_EQ(::pipe(ends), 0);
    const pid_t child = ::fork();
    if (child == 0) {
      ::close(ends[0]);
      write_until_killed(scratch.book(), ends[1]);
    }
    ::close(ends[1]);
    // Some entries in, and then somewhere within the next ones.
    Number acknowledged = 0;
    for (int entries = std::uniform_int_distribution(1, 40)(random); entries > 0; --entries)
      ASSERT_EQ(::read(ends[0], &acknowledged, sizeof acknowledged),
                static_cast<ssize_t>(sizeof acknowledged));
    ::usleep(std::uniform_int_distribution<useconds_t>(0, 2000)(random));
    ASSERT_EQ(::kill(child, SIGKILL), 0);
    int status = 0;
    ::waitpid(child, &status, 0);
    ASSERT_TRUE(WIFSIGNALED(status)) << "the writer ended by itself, code " << WEXITSTATUS(status);
    while (::read(ends[0], &acknowledged, sizeof acknowledged) == static_cast<ssize_t>(sizeof acknowledged)) {
    }
    ::close(ends[0]);
    EXPECT_GT(acknowledged, last_acknowledged);
    last_acknowledged = acknowledged;

    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    const auto audit = book.value().audit();
    ASSERT_TRUE(audit.ok());
    EXPECT_TRUE(audit.value().whole()) << ::testing::PrintToString(audit.value().findings);
    EXPECT_GE(audit.value().entries, acknowledged);
    EXPECT_LE(audit.value().entries, acknowledged + 1) << "at most the one that was under way";
    EXPECT_TRUE(book.value().entry(acknowledged).ok());
  }
}

/// SQLite's writes on this process's files, failing from the Nth on until mended.
class FailingDisk {
 public:
  FailingDisk() {
    vfs_ = sqlite3_vfs_find(nullptr);
    for (const char* call : {"pwrite", "pwrite64"})
      if (const sqlite3_syscall_ptr real = vfs_->xGetSystemCall(vfs_, call)) {
        real_ = real;
        vfs_->xSetSystemCall(vfs_, call, reinterpret_cast<sqlite3_syscall_ptr>(&FailingDisk::write));
      }
    mend();
  }
  ~FailingDisk() { vfs_->xSetSystemCall(vfs_, nullptr, nullptr); }
  FailingDisk(const FailingDisk&) = delete;
  FailingDisk& operator=(const FailingDisk&) = delete;

  void fail_at(int write, int error) {
    writes_left_ = write;
    error_ = error;
    failed_ = false;
  }
  void mend() { writes_left_ = -1; }
  [[nodiscard]] bool failed() const { return failed_; }

 private:
  static ssize_t write(int descriptor, const void* bytes, size_t count, off_t offset) {
    if (writes_left_ > 0) --writes_left_;
    if (writes_left_ == 0) {
      failed_ = true;
      errno = error_;
      return -1;
    }
    return reinterpret_cast<ssize_t (*)(int, const void*, size_t, off_t)>(real_)(descriptor, bytes, count,
                                                                                 offset);
  }

  sqlite3_vfs* vfs_;
  static inline sqlite3_syscall_ptr real_ = nullptr;
  static inline int writes_left_ = -1, error_ = 0;
  static inline bool failed_ = false;
};

struct DiskFault {
  const char* name;
  int error;
  Trouble trouble;
  const char* says;
};
class DiskFails : public ::testing::TestWithParam<DiskFault> {};
INSTANTIATE_TEST_SUITE_P(Writes, DiskFails,
                         ::testing::Values(DiskFault{"no_space", ENOSPC, Trouble::full, "no space left"},
                                           DiskFault{"input_output_error", EIO, Trouble::cannot_write,
                                                     "cannot be written now"}),
                         [](const auto& instance) { return std::string(instance.param.name); });

// Fails the Nth write for every N until an append passes below it: each time nothing of the entries is there, and
// the next append works as soon as the disk does.
TEST_P(DiskFails, AtAnyWriteLeavesTheBookWholeAndGoesOnOnceMended) {
  Scratch scratch;
  FailingDisk disk;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 3);
  Number entries = 6;
  int nth = 1;
  for (;; ++nth) {
    ASSERT_LT(nth, 1000);
    const std::vector<Entry> pair{{reading(nth), survey}, {Note{std::string(6000, 'n')}, survey}};
    disk.fail_at(nth, GetParam().error);
    const auto appended = book.value().append(pair);
    disk.mend();
    if (!disk.failed()) {
      EXPECT_TRUE(appended.ok());
      break;
    }
    ASSERT_FALSE(appended.ok()) << "acknowledged although write " << nth << " failed";
    EXPECT_EQ(appended.fault().trouble, GetParam().trouble) << appended.fault().says;
    EXPECT_THAT(appended.fault().says, HasSubstr(GetParam().says));
    const auto audit = book.value().audit();
    ASSERT_TRUE(audit.ok());
    EXPECT_TRUE(audit.value().whole()) << ::testing::PrintToString(audit.value().findings);
    EXPECT_EQ(audit.value().entries, entries);
    const auto again = book.value().append(Entry{reading(nth), survey});
    ASSERT_TRUE(again.ok()) << again.fault().says;
    EXPECT_EQ(again.value(), ++entries);
  }
  EXPECT_GT(nth, 3) << "several writes make an entry; fewer were tried than that";
  EXPECT_TRUE(book.value().audit().value().whole());
}

TEST_P(DiskFails, WhileTheBookIsBeingMadeLeavesNoHalfBook) {
  FailingDisk disk;
  int nth = 1;
  for (;; ++nth) {
    ASSERT_LT(nth, 1000);
    Scratch scratch;
    disk.fail_at(nth, GetParam().error);
    const bool opened = Book::open(scratch.book()).ok();
    disk.mend();
    if (!disk.failed()) {
      EXPECT_TRUE(opened);
      break;
    }
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << "after write " << nth << " failed: " << book.fault().says;
    EXPECT_TRUE(book.value().append(Entry{Note{"works"}, std::nullopt}).ok());
    EXPECT_TRUE(book.value().audit().value().whole());
  }
  EXPECT_GT(nth, 1);
}

}  // namespace
}  // namespace hangtrue::book
