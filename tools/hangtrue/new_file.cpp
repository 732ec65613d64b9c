#include "tools/hangtrue/new_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include "firmware-host/book/book_files.hpp"
#include "tools/hangtrue/subcommand.hpp"

namespace hangtrue::tools {

void check_place(const std::string& path, const std::string& book_path, bool over) {
  struct stat there {
  }, book{};
  // Also where it is not there yet: SQLite would take it for its own.
  for (const char* beside : {"-wal", "-shm", "-lock", "-journal"})
    if (book::real_path(path) == book::real_path(book_path) + beside)
      throw Stop{kBadInput, path + " belongs to the level book itself; name another file\n"};
  if (::stat(path.c_str(), &there) != 0) return;
  if (!S_ISREG(there.st_mode)) throw Stop{kBadInput, path + " is no regular file; name another\n"};
  for (const char* beside : {"", "-wal", "-shm", "-lock"})
    if (::stat((book_path + beside).c_str(), &book) == 0 && there.st_ino == book.st_ino &&
        there.st_dev == book.st_dev)
      throw Stop{kBadInput, path + " belongs to the level book itself; name another file\n"};
  const auto other = book::Book::open_to_read(path);
  if (other.ok() || other.fault().trouble == book::Trouble::damaged ||
      other.fault().trouble == book::Trouble::newer)
    throw Stop{kBadInput, path + " is a level book, and is never written over; name another file\n"};
  if (!over)
    throw Stop{kBadInput, path + " exists already; name another file, or give --force to write over it\n"};
}

NewFile::NewFile(std::string path) : path_(std::move(path)), making_(path_ + ".XXXXXX") {
  descriptor_ = ::mkstemp(making_.data());
  if (descriptor_ < 0) {
    making_.clear();
    fail();
  }
}

NewFile::~NewFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
  if (!making_.empty()) ::unlink(making_.c_str());
}

void NewFile::write(std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(descriptor_, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) fail();
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
  const mode_t mask = ::umask(0);  // mkstemp makes a file for its owner alone
  ::umask(mask);
  if (::fchmod(descriptor_, 0666 & ~mask) != 0 && errno != EPERM) fail();  // some file systems know no modes
  if (::fsync(descriptor_) != 0) fail();
}

void NewFile::keep(bool over) {
  const unsigned flags = over ? 0 : RENAME_NOREPLACE;
  if (::renameat2(AT_FDCWD, making_.c_str(), AT_FDCWD, path_.c_str(), flags) != 0) {
    if (errno == EEXIST) throw Stop{kBadInput, path_ + " exists already; it came to be meanwhile\n"};
    // Where the file system cannot refuse by itself, the look before has to do.
    if (errno != EINVAL || ::rename(making_.c_str(), path_.c_str()) != 0) fail();
  }
  making_.clear();
}

void NewFile::fail() const {
  throw Stop{kCouldNot, path_ + " cannot be written: " + std::strerror(errno) + '\n'};
}

}  // namespace hangtrue::tools
