// Nothing that was acknowledged is lost: kill -9 at any instant, a disk that fails at any operation, and one that is full.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <unistd.h>

#include <csignal>
#include <random>

#include "firmware-host/book/book.hpp"
#include "tests/firmware-host/book/appender.hpp"
#include "tests/firmware-host/book/faulty_vfs.hpp"
#include "tests/firmware-host/book/scratch.hpp"
#include "tests/trials.hpp"

namespace hangtrue::book {
namespace {

using ::testing::HasSubstr;

TEST(Book, LosesNothingAcknowledgedWhenItsWriterIsKilledAtAnyOf200Instants) {
  Scratch scratch;
  std::mt19937 random(20260914);
  const auto between = [&random](int least, int most) {
    return std::uniform_int_distribution(least, most)(random);
  };
  std::vector<double> values;  // of the entries, as far as they were acknowledged
  Number entries = 0, unacknowledged = 0;
  int before_the_first = 0;
  for (int round = 0; round < trials(200) || (kSharesTell && before_the_first <= 5); ++round) {
    Appender appender(scratch.book(), round);
    // The kill comes while the book is opened or made, or after some entries, or after so many that the write-ahead log
    // is being copied into the file.
    const int wanted = round % 5 == 0 ? 0 : round % 20 == 1 ? between(300, 400) : between(1, 20);
    ASSERT_TRUE(appender.wait_for(wanted)) << "the writer ended by itself";
    ::usleep(static_cast<useconds_t>(between(0, wanted == 0 ? 8000 : 1500)));
    ASSERT_TRUE(appender.kill()) << "the writer ended by itself";
    before_the_first += appender.acknowledged().empty() ? 1 : 0;

    if (!std::filesystem::exists(scratch.book())) {
      ASSERT_EQ(entries, 0);
      ASSERT_TRUE(appender.acknowledged().empty());
      continue;
    }
    // Opened to read only, so that the next writer has to recover.
    const auto book = Book::open_to_read(scratch.book());
    ASSERT_TRUE(book.ok()) << book.fault().says;
    const auto audit = book.value().audit();
    ASSERT_TRUE(audit.ok());
    ASSERT_TRUE(audit.value().whole()) << ::testing::PrintToString(audit.value().findings);
    for (const Appender::Acknowledged& one : appender.acknowledged()) {
      ASSERT_EQ(one.number, ++entries) << "numbers without gaps";
      const auto entry = book.value().entry(one.number);
      ASSERT_TRUE(entry.ok()) << entry.fault().says;
      ASSERT_EQ(std::get<Taken>(entry.value().content).reading.value, one.value);
    }
    ASSERT_GE(audit.value().entries, entries);
    ASSERT_LE(audit.value().entries, entries + 1) << "at most the one that was under way";
    unacknowledged += audit.value().entries - entries;
    entries = audit.value().entries;
  }
  if (!kSharesTell) return;
  EXPECT_GT(entries, 2000);
  std::printf("200 kills: %lld entries, %lld of them on disk but not yet acknowledged; %d before the first\n",
              static_cast<long long>(entries), static_cast<long long>(unacknowledged), before_the_first);
}

// A disk that fails.

struct DiskFault {
  const char* name;
  FaultyVfs::Fault fault;
  Trouble trouble;
  const char* says;
};
class DiskFails : public ::testing::TestWithParam<DiskFault> {};
INSTANTIATE_TEST_SUITE_P(Operations, DiskFails,
                         ::testing::Values(DiskFault{"no_space",
                                                     {SQLITE_FULL, FaultyVfs::After::works_again, true},
                                                     Trouble::full,
                                                     "no space left"},
                                           DiskFault{
                                               "input_output_error",
                                               {SQLITE_IOERR_WRITE, FaultyVfs::After::works_again, false},
                                               Trouble::cannot_write,
                                               "cannot be written now"},
                                           DiskFault{"no_space_from_then_on",
                                                     {SQLITE_FULL, FaultyVfs::After::all_fails, true},
                                                     Trouble::full,
                                                     "no space left"},
                                           DiskFault{"dead_from_then_on",
                                                     {SQLITE_IOERR_WRITE, FaultyVfs::After::all_fails, false},
                                                     Trouble::cannot_write,
                                                     "cannot be written now"}),
                         [](const auto& instance) { return std::string(instance.param.name); });

/// What would be found had the machine stopped here: the files as they lie there, without what is shared in memory.
Audit found_after_a_stop(const Scratch& scratch) {
  const std::string copy = scratch / "stopped.levelbook";
  std::filesystem::remove(copy + "-shm");
  std::filesystem::copy_file(scratch.book(), copy, std::filesystem::copy_options::overwrite_existing);
  std::filesystem::copy_file(scratch.book() + "-wal", copy + "-wal",
                             std::filesystem::copy_options::overwrite_existing);
  auto book = Book::open(copy);
  EXPECT_TRUE(book.ok()) << book.fault().says;
  return book.ok() ? book.value().audit().value() : Audit{};
}

TEST(Book, WaitsForTheDiskBeforeItAcknowledges) {
  Scratch scratch;
  FaultyVfs disk;
  auto book = Book::open(scratch.book());
  ASSERT_TRUE(book.ok());
  const Number survey = fill(book.value(), 1);
  const std::vector<Entry> pair{{reading(1), survey}, {reading(2), survey}};
  for (int i = 0; i < 50; ++i) {
    const int before = FaultyVfs::syncs();
    ASSERT_TRUE(book.value().append(Entry{reading(i), survey}).ok());
    EXPECT_GT(FaultyVfs::syncs(), before) << "a single entry";
    const int between = FaultyVfs::syncs();
    ASSERT_TRUE(book.value().append(pair).ok());
    EXPECT_GT(FaultyVfs::syncs(), between) << "several";
  }
}

// The Nth operation fails, for every N until an append needs fewer. Each time none of its entries is in the book, and the
// next append works as soon as the disk does.
TEST_P(DiskFails, AtAnyOperationLeavesTheBookWholeAndGoesOnOnceMended) {
  for (const std::size_t together : {std::size_t{1}, std::size_t{2}}) {
    Scratch scratch;
    FaultyVfs disk;
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok());
    const Number survey = fill(book.value(), 3);
    Number entries = 6;
    int nth = 1, as_said = 0;
    for (;; ++nth) {
      ASSERT_LT(nth, 1000);
      const std::vector<Entry> pair{{Note{std::string(6000, 'n')}, survey}, {reading(nth), survey}};
      disk.fail_at(nth, GetParam().fault);
      const auto appended = book.value().append(std::span(pair).first(together));
      disk.mend();
      if (!disk.failed()) {
        EXPECT_TRUE(appended.ok());
        break;
      }
      ASSERT_FALSE(appended.ok()) << "acknowledged although operation " << nth << " failed";
      if (appended.fault().trouble == GetParam().trouble) {
        EXPECT_THAT(appended.fault().says, HasSubstr(GetParam().says));
        ++as_said;
      } else {
        EXPECT_EQ(appended.fault().trouble, Trouble::cannot_write) << appended.fault().says;
      }
      const Audit stopped = found_after_a_stop(scratch);
      EXPECT_TRUE(stopped.whole()) << ::testing::PrintToString(stopped.findings);
      EXPECT_TRUE(stopped.entries == entries || stopped.entries == entries + static_cast<Number>(together))
          << "all or none";
      const auto audit = book.value().audit();
      ASSERT_TRUE(audit.ok());
      EXPECT_TRUE(audit.value().whole()) << ::testing::PrintToString(audit.value().findings);
      EXPECT_EQ(audit.value().entries, entries);
      const auto again = book.value().append(Entry{reading(nth), survey});
      ASSERT_TRUE(again.ok()) << again.fault().says;
      EXPECT_EQ(again.value(), ++entries);
      EXPECT_EQ(found_after_a_stop(scratch).entries, entries) << "acknowledged is on disk";
    }
    EXPECT_GT(nth, 5) << "several writes and a sync make an entry; fewer were tried than that";
    EXPECT_GT(as_said, 0);
    EXPECT_TRUE(book.value().audit().value().whole());
  }
}

TEST_P(DiskFails, WhileTheBookIsBeingMadeLeavesNoHalfBook) {
  int nth = 1;
  for (;; ++nth) {
    ASSERT_LT(nth, 1000);
    Scratch scratch;
    FaultyVfs disk;
    disk.fail_at(nth, GetParam().fault);
    const bool opened = Book::open(scratch.book()).ok();
    disk.mend();
    if (!disk.failed()) {
      EXPECT_TRUE(opened);
      break;
    }
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << "after operation " << nth << " failed: " << book.fault().says;
    EXPECT_TRUE(book.value().append(Entry{Note{"works"}, std::nullopt}).ok());
    EXPECT_TRUE(book.value().audit().value().whole());
  }
  EXPECT_GT(nth, 5);
}

// Closing a book copies the write-ahead log into the file.
TEST_P(DiskFails, WhileTheBookIsClosedLosesNothing) {
  int nth = 1;
  for (;; ++nth) {
    ASSERT_LT(nth, 1000);
    Scratch scratch;
    FaultyVfs disk;
    {
      auto book = Book::open(scratch.book());
      ASSERT_TRUE(book.ok());
      fill(book.value(), 30);
      disk.fail_at(nth, GetParam().fault);
    }
    disk.mend();
    auto book = Book::open(scratch.book());
    ASSERT_TRUE(book.ok()) << "after operation " << nth << " failed: " << book.fault().says;
    const Audit audit = book.value().audit().value();
    EXPECT_TRUE(audit.whole()) << ::testing::PrintToString(audit.findings);
    EXPECT_EQ(audit.entries, 33);
    EXPECT_EQ(book.value().append(Entry{Note{"works"}, std::nullopt}).value(), 34);
    if (!disk.failed()) break;
  }
  EXPECT_GT(nth, 5);
}

// A disk that is full.

/// Gives this process a small disk of its own at `directory`; the word for how it was done.
std::string small_disk(const std::string& directory, std::size_t bytes) {
  const std::string size = "size=" + std::to_string(bytes);
  const uid_t user = ::getuid();
  const gid_t group = ::getgid();
  bool apart = ::unshare(CLONE_NEWNS) == 0;
  if (!apart && ::unshare(CLONE_NEWUSER | CLONE_NEWNS) == 0) {
    write_bytes("/proc/self/setgroups", "deny");
    write_bytes("/proc/self/uid_map", "0 " + std::to_string(user) + " 1");
    write_bytes("/proc/self/gid_map", "0 " + std::to_string(group) + " 1");
    apart = true;
  }
  if (apart && ::mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) == 0 &&
      ::mount("tmpfs", directory.c_str(), "tmpfs", 0, size.c_str()) == 0)
    return "tmpfs";
  std::signal(SIGXFSZ, SIG_IGN);
  const rlimit limit{bytes / 4, bytes};
  return ::setrlimit(RLIMIT_FSIZE, &limit) == 0 ? "file size limit" : "";
}
/// Makes room, whichever way it was taken.
void give_space_back(const std::string& filler) {
  ::unlink(filler.c_str());
  rlimit limit{};
  ::getrlimit(RLIMIT_FSIZE, &limit);
  limit.rlim_cur = limit.rlim_max;
  ::setrlimit(RLIMIT_FSIZE, &limit);
}

/// What went wrong, for the parent to say; empty: nothing. `disk`: how the disk was made small.
std::string fill_up_and_go_on(const Scratch& scratch, unsigned seed, std::string& disk) {
  disk = small_disk(scratch.directory(), 512 * 1024);
  if (disk.empty()) return "no disk can be made small here";
  std::mt19937 random(seed);
  const auto between = [&random](int least, int most) {
    return std::uniform_int_distribution(least, most)(random);
  };
  const std::string filler = scratch / "filler";
  write_bytes(filler, std::string(100'000, 'f'));  // fits under the file size limit as well
  auto opened = Book::open(scratch.book());
  if (!opened.ok()) return "open: " + opened.fault().says;
  Book book = std::move(opened).value();
  const Number survey = fill(book, 1);
  Number acknowledged = 4;
  std::optional<Fault> fault;
  while (!fault) {
    const auto number =
        book.append(Entry{Note{std::string(static_cast<std::size_t>(between(10, 9000)), 'n')}, survey});
    if (!number.ok()) {
      fault = number.fault();
    } else if (number.value() != ++acknowledged) {
      return "numbers with gaps";
    }
    if (acknowledged > 10'000) return "never full";
  }
  if (disk == "tmpfs" && fault->trouble != Trouble::full) return "said otherwise: " + fault->says;
  if (disk == "tmpfs" && fault->says.find("no space left") == std::string::npos)
    return "said otherwise: " + fault->says;
  // Still full: refused again, and what is there can be read, by this one and by another.
  if (book.append(Entry{Note{std::string(200'000, 'n')}, survey}).ok()) return "wrote more than fits";
  if (book.readings(survey).value().size() != 1) return "readings are not there while it is full";
  const auto whole = [&](const Book& one, const char* when) -> std::string {
    const auto audit = one.audit();
    if (!audit.ok()) return std::string(when) + ": " + audit.fault().says;
    if (!audit.value().whole()) return std::string(when) + ": " + audit.value().findings.front();
    if (audit.value().entries != acknowledged)
      return std::string(when) + ": " + std::to_string(audit.value().entries) + " entries, acknowledged " +
             std::to_string(acknowledged);
    return "";
  };
  if (auto amiss = whole(book, "full"); !amiss.empty()) return amiss;
  {
    const auto reader = Book::open_to_read(scratch.book());
    if (!reader.ok()) return "reading while it is full: " + reader.fault().says;
    if (auto amiss = whole(reader.value(), "read while full"); !amiss.empty()) return amiss;
  }
  if (seed % 2 == 1) {  // the daemon is stopped and started meanwhile
    { const Book ended = std::move(book); }
    auto again = Book::open(scratch.book());
    if (!again.ok()) {
      if (again.fault().says.find(scratch.book()) == std::string::npos)
        return "open while full: " + again.fault().says;
      give_space_back(filler);
      again = Book::open(scratch.book());
    }
    if (!again.ok()) return "open once there is space: " + again.fault().says;
    book = std::move(again).value();
  }
  give_space_back(filler);
  for (int i = 0; i < 5; ++i) {
    const auto number = book.append(Entry{reading(0.001), survey});
    if (!number.ok()) return "once there is space: " + number.fault().says;
    if (number.value() != ++acknowledged) return "once there is space: numbers with gaps";
  }
  return whole(book, "in the end");
}

TEST(Book, SaysThatTheDiskIsFullLosesNothingAcknowledgedAndGoesOnOnceThereIsSpace) {
  for (unsigned seed = 1; seed <= 10; ++seed) {
    Scratch scratch;
    int ends[2];
    ASSERT_EQ(::pipe(ends), 0);
    const pid_t child = ::fork();
    if (child == 0) {
      ::close(ends[0]);
      std::string disk;
      const std::string amiss = fill_up_and_go_on(scratch, seed, disk);
      const std::string text = disk + '\n' + amiss;
      const bool written = ::write(ends[1], text.data(), text.size()) == static_cast<ssize_t>(text.size());
      ::_exit(written ? 0 : 1);
    }
    ::close(ends[1]);
    std::string text(4096, '\0');
    const ssize_t length = ::read(ends[0], text.data(), text.size());
    text.resize(static_cast<std::size_t>(std::max<ssize_t>(length, 0)));
    ::close(ends[0]);
    int status = 0;
    ::waitpid(child, &status, 0);
    ASSERT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << "it crashed; seed " << seed;
    const std::size_t line = text.find('\n');
    EXPECT_EQ(text.substr(line + 1), "") << "seed " << seed;
    if (seed == 1) std::printf("disk made small by: %s\n", text.substr(0, line).c_str());
  }
}

}  // namespace
}  // namespace hangtrue::book
