// appender.hpp: the book_appender program as a child: started, listened to, killed.
#pragma once

#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <string>
#include <vector>

#include "firmware-host/book/book.hpp"

namespace hangtrue::book {

class Appender {
 public:
  struct Acknowledged {
    Number number = 0;
    double value = 0;
  };

  Appender(const std::string& book, int seed, const char* aside = nullptr) {
    int ends[2];
    if (::pipe(ends) != 0) ADD_FAILURE() << "no pipe";
    child_ = ::fork();
    if (child_ == 0) {
      ::dup2(ends[1], STDOUT_FILENO);
      ::close(ends[0]);
      ::close(ends[1]);
      ::execl(BOOK_APPENDER, BOOK_APPENDER, book.c_str(), std::to_string(seed).c_str(), aside, nullptr);
      ::_exit(127);
    }
    ::close(ends[1]);
    acknowledgements_ = ends[0];
  }
  ~Appender() {
    if (child_ > 0) static_cast<void>(kill());
    ::close(acknowledgements_);
  }
  Appender(const Appender&) = delete;
  Appender& operator=(const Appender&) = delete;

  /// Waits for so many more; false when the child ended before.
  [[nodiscard]] bool wait_for(int count) {
    for (; count > 0; --count)
      if (!next()) return false;
    return true;
  }
  /// SIGKILL, and what was acknowledged until then. False when the child had ended by itself.
  [[nodiscard]] bool kill() {
    ::kill(child_, SIGKILL);
    int status = 0;
    ::waitpid(child_, &status, 0);
    child_ = 0;
    while (next()) {
    }
    return WIFSIGNALED(status);
  }
  [[nodiscard]] const std::vector<Acknowledged>& acknowledged() const { return acknowledged_; }

 private:
  bool next() {
    Acknowledged one;
    if (::read(acknowledgements_, &one, sizeof one) != static_cast<ssize_t>(sizeof one)) return false;
    acknowledged_.push_back(one);
    return true;
  }
  pid_t child_ = 0;
  int acknowledgements_ = -1;
  std::vector<Acknowledged> acknowledged_;
};

}  // namespace hangtrue::book
