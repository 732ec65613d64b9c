// A true copy of a book, whether or not somebody writes in it.
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>

#include "firmware-host/book/store.hpp"

namespace hangtrue::book {
namespace {

/// A file of a name of its own beside `path`, until it gets that name; what is left of an attempt goes with it.
class Making {
 public:
  explicit Making(const std::string& path) : name_(path + ".XXXXXX") {
    const int descriptor = ::mkstemp(name_.data());
    if (descriptor < 0) {
      error_ = errno;
      name_.clear();
      return;
    }
    const mode_t mask = ::umask(0);  // mkstemp makes a file for its owner alone
    ::umask(mask);
    static_cast<void>(::fchmod(descriptor, 0666 & ~mask));  // some file systems know no modes
    ::close(descriptor);
  }
  ~Making() {
    if (name_.empty()) return;
    for (const char* beside : {"", "-wal", "-shm", "-journal"}) ::unlink((name_ + beside).c_str());
  }
  Making(const Making&) = delete;
  Making& operator=(const Making&) = delete;

  /// On disk under that name, where nothing lies yet; or errno.
  [[nodiscard]] int keep_as(const std::string& path) {
    if (const int error = sync(name_, O_RDONLY)) return error;
    if (::renameat2(AT_FDCWD, name_.c_str(), AT_FDCWD, path.c_str(), RENAME_NOREPLACE) != 0) {
      // Where the file system cannot refuse by itself, a look has to do.
      if (errno != EINVAL) return errno;
      if (::access(path.c_str(), F_OK) == 0) return EEXIST;
      if (::rename(name_.c_str(), path.c_str()) != 0) return errno;
    }
    const std::string directory = std::filesystem::path(path).parent_path().string();
    return sync(directory.empty() ? "." : directory, O_RDONLY | O_DIRECTORY);
  }
  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] int error() const { return error_; }

 private:
  static int sync(const std::string& path, int how) {
    const int descriptor = ::open(path.c_str(), how | O_CLOEXEC);
    if (descriptor < 0) return errno;
    const int error =
        ::fsync(descriptor) == 0 || errno == EINVAL ? 0 : errno;  // some directories cannot be synced
    ::close(descriptor);
    return error;
  }
  std::string name_;
  int error_ = 0;
};

}  // namespace

Result<Audit, Fault> Book::copy_to(const std::string& path) const {
  const auto cannot = [&path](int error) {
    const Trouble trouble = error == ENOSPC                       ? Trouble::full
                            : error == EACCES || error == EROFS   ? Trouble::no_permission
                            : error == ENOENT || error == ENOTDIR ? Trouble::absent
                                                                  : Trouble::cannot_write;
    return Fault{trouble, "no copy can be made at " + path + ": " + std::strerror(error)};
  };
  for (const char* beside : {"", "-wal", "-shm", "-journal"})
    if (::access((path + beside).c_str(), F_OK) == 0)
      return Fault{Trouble::not_a_file,
                   path + beside + " lies there already; name another file for the copy"};
  Making making(path);
  if (making.error() != 0) return cannot(making.error());
  std::string message;
  if (const int code = store_->database().copy_to(making.name(), message); code != SQLITE_OK)
    return could_not_write(code, path, message);
  // What may lack its log stays a file that says so; any other copy is complete by itself.
  if (!store_->log_may_be_missing()) {
    Database copy;
    int code = copy.open(making.name(), Database::Access::write);
    if (code == SQLITE_OK && copy.text("PRAGMA journal_mode = DELETE") != "delete") code = SQLITE_IOERR;
    message = copy.message();
    const int closed = copy.close();
    if (code != SQLITE_OK || closed != SQLITE_OK)
      return could_not_write(code == SQLITE_OK ? closed : code, path, message);
  }
  Audit audit;
  {
    const auto copy = open_to_read(making.name());
    if (!copy.ok()) return copy.fault();
    auto audited = copy.value().audit();
    if (!audited.ok()) return audited.fault();
    audit = std::move(audited).value();
  }
  audit.log_may_be_missing = store_->log_may_be_missing();
  if (!audit.whole()) return audit;
  if (const int error = making.keep_as(path)) return cannot(error);
  return audit;
}

}  // namespace hangtrue::book
