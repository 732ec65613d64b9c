// writer_lock.hpp: one writer at a time, by an advisory lock (flock) on a file "-lock" beside the book.
//
// Gone with the process, however it ends. A file of its own, since SQLite's locks on the book belong to the process
// and would be lost with any other descriptor of that file that it closes.
#pragma once

#include <optional>
#include <string>

namespace hangtrue::book {

class WriterLock {
 public:
  enum class Refusal { held, cannot_make };

  /// Takes the lock, or leaves the refusal (and errno in `error`) and returns nothing.
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
