// raw_samples.hpp: raw samples of the instruments on their way into the level book.
#pragma once

#include <cstdint>
#include <vector>

#include "firmware-host/daemon/instruments.hpp"
#include "firmware-host/daemon/survey_log.hpp"

namespace hangtrue::daemon {

class RawSamples {
 public:
  RawSamples(Instruments& instruments, SurveyLog& log) : instruments_(instruments), log_(log) {}

  /// What has come since the last time. It also tells whether a book that was full can be written again.
  void write() {
    const auto offset = log_.now().time_since_epoch() - std::chrono::microseconds(now_us());
    std::vector<book::Content> contents;
    std::uint64_t samples = 0;
    for (book::Samples& raw : instruments_.take_raw(offset)) {
      samples += raw.values.size();
      contents.push_back(std::move(raw));
    }
    if (contents.empty())
      log_.look_after_book();
    else if (!log_.append(contents).ok())
      not_written_ += samples;
  }
  /// Samples that the book could not take.
  [[nodiscard]] std::uint64_t not_written() const { return not_written_; }

 private:
  Instruments& instruments_;
  SurveyLog& log_;
  std::uint64_t not_written_ = 0;
};

}  // namespace hangtrue::daemon
