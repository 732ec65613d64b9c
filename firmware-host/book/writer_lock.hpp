// writer_lock.hpp: one writer at a time, by an advisory lock (flock) on a file "-lock" beside the book.
//
// The lock is gone with the process, however that ends. It is on a file of its own: SQLite's locks on the book belong to the
// process, which loses them when it closes any other descriptor of that file. It keeps two writers apart while one of them makes
// the book. What is written is locked besides, by SQLite's own descriptor (place.cpp): this file can be removed, and a book can
// have several names.
#pragma once

#include <optional>
#include <string>

namespace hangtrue::book {

class WriterLock {
 public:
  enum class Refusal { held, cannot_make };

  /// Takes the lock; or returns nothing, with errno in `error`.
  [[nodiscard]] static std::optional<WriterLock> take(const std::string& book_path, Refusal& refusal,
                                                      int& error);

  WriterLock(WriterLock&& other) noexcept;
  WriterLock& operator=(WriterLock&& other) noexcept;
  ~WriterLock();

 private:
  WriterLock(int descriptor, std::string path);
  int descriptor_;
  std::string path_;
};

}  // namespace hangtrue::book
