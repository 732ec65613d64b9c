// printing.hpp: documents of the book as PDF, drawn by the program that draws (hangtrue-report) from the book alone.
//
// Program   looked for beside this one, in libexec once installed, or beside the command in a build. Without it, it is said so.
// Threads   print() from any; a document is made on a thread of its own, one at a time, and `reply` is called there. The destructor
//           ends what is being made. The child gets none of this program's open files.
#pragma once

#include <atomic>
#include <functional>
#include <mutex>
#include <string>
#include <thread>

#include <sys/types.h>

#include "firmware-host/page/content.hpp"

namespace hangtrue::daemon {

class Printing {
 public:
  explicit Printing(std::string book_path) : book_path_(std::move(book_path)) {}
  ~Printing();
  Printing(const Printing&) = delete;
  Printing& operator=(const Printing&) = delete;

  /// `reply`: the bytes of a PDF, or a sentence that says why there is none.
  void print(const page::Document& document, std::function<void(std::string)> reply);

 private:
  [[nodiscard]] std::string made(const page::Document& document);
  [[nodiscard]] std::string drawn(const std::string& program, const page::Document& document,
                                  const std::string& folder);

  std::string book_path_;
  std::mutex mutex_;  // of child_, ending_ and maker_
  pid_t child_ = 0;
  bool ending_ = false;
  std::thread maker_;
  std::atomic<bool> busy_ = false;
};

}  // namespace hangtrue::daemon
