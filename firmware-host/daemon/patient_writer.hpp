// patient_writer.hpp: lines to a descriptor whose reader may be slow, or not read at all. Whoever writes is never held up.
//
// Lines wait up to kMostUnread_bytes. Beyond that they are left out, and counted in a line of `left_out` once there is room. A reader
// that has gone is done without. At the end what waits is given kLastWait to go.
// Threads   one of its own, which writes; write() from any.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>

#include "firmware-host/daemon/thresholds.hpp"

namespace hangtrue::daemon {

class PatientWriter {
 public:
  /// `left_out`: the line, with its end, that says how many were.
  PatientWriter(int descriptor, std::function<std::string(std::size_t lines)> left_out);
  ~PatientWriter();
  PatientWriter(const PatientWriter&) = delete;
  PatientWriter& operator=(const PatientWriter&) = delete;

  /// With its end.
  void write(std::string_view line);

 private:
  void write_on();
  /// Some of it without blocking; what is left over.
  [[nodiscard]] std::string_view write_some(std::string_view bytes) const;

  int descriptor_;
  std::function<std::string(std::size_t)> left_out_line_;
  std::mutex mutex_;  // of all below
  std::condition_variable changed_;
  std::string waiting_;
  std::size_t left_out_ = 0;  // lines
  bool ending_ = false;
  std::thread writer_;
};

}  // namespace hangtrue::daemon
