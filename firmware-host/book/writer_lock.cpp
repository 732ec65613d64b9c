#include "firmware-host/book/writer_lock.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <utility>

namespace hangtrue::book {
namespace {

/// Whether the locked file is still the one at the path. The former holder removes it as it leaves, and a lock on a removed file
/// locks nobody out.
bool still_at(const std::string& path, int descriptor) {
  struct stat held {
  }, there{};
  return ::fstat(descriptor, &held) == 0 && ::stat(path.c_str(), &there) == 0 &&
         held.st_ino == there.st_ino && held.st_dev == there.st_dev;
}

}  // namespace

std::optional<WriterLock> WriterLock::take(const std::string& book_path, Refusal& refusal, int& error) {
  const std::string path = book_path + "-lock";
  for (;;) {
    const int descriptor = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (descriptor < 0) {
      error = errno;
      refusal = Refusal::cannot_make;
      return std::nullopt;
    }
    if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
      error = errno;
      refusal = error == EWOULDBLOCK ? Refusal::held : Refusal::cannot_make;
      ::close(descriptor);
      return std::nullopt;
    }
    if (still_at(path, descriptor)) return WriterLock(descriptor, path);
    ::close(descriptor);
  }
}

WriterLock::WriterLock(int descriptor, std::string path) : descriptor_(descriptor), path_(std::move(path)) {}

WriterLock::WriterLock(WriterLock&& other) noexcept
    : descriptor_(std::exchange(other.descriptor_, -1)), path_(std::move(other.path_)) {}

WriterLock& WriterLock::operator=(WriterLock&& other) noexcept {
  std::swap(descriptor_, other.descriptor_);
  std::swap(path_, other.path_);
  return *this;
}

WriterLock::~WriterLock() {
  if (descriptor_ < 0) return;
  ::unlink(path_.c_str());
  ::close(descriptor_);
}

}  // namespace hangtrue::book
