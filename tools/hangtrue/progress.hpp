// progress.hpp: that something is being worked at, on a terminal, where it takes longer than a person waits without wondering.
//
// On standard error, only where that is a terminal that can wipe a line; from kWonder on, with the seconds so far; wiped at the end.
// Nothing else may be written to the terminal meanwhile.
// Threads   one of its own, which writes.
#pragma once

#include <unistd.h>

#include <chrono>
#include <condition_variable>
#include <mutex>
#include <string>
#include <thread>

namespace hangtrue::tools {

/// No source: what takes less is over before it is read.
inline constexpr std::chrono::milliseconds kWonder{2000};

class Progress {
 public:
  /// `what`: "checking the book".
  explicit Progress(std::string what, int descriptor = STDERR_FILENO,
                    std::chrono::milliseconds after = kWonder);
  ~Progress();
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;

 private:
  void show(const std::string& what, std::chrono::milliseconds after);

  int descriptor_;
  std::mutex mutex_;  // of over_
  std::condition_variable changed_;
  bool over_ = false;
  std::thread shows_;  // none where there is no terminal
};

}  // namespace hangtrue::tools
