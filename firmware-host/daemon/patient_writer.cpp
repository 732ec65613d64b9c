#include "firmware-host/daemon/patient_writer.hpp"

#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <optional>
#include <utility>

namespace hangtrue::daemon {
namespace {

using Clock = std::chrono::steady_clock;

}  // namespace

PatientWriter::PatientWriter(int descriptor, std::function<std::string(std::size_t lines)> left_out)
    : descriptor_(descriptor), left_out_line_(std::move(left_out)), writer_([this] { write_on(); }) {}

PatientWriter::~PatientWriter() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  changed_.notify_one();
  writer_.join();
}

void PatientWriter::write(std::string_view line) {
  {
    const std::lock_guard lock(mutex_);
    if (waiting_.size() + line.size() > kMostUnread_bytes) {
      ++left_out_;
      return;
    }
    if (left_out_ > 0) waiting_ += left_out_line_(std::exchange(left_out_, 0));
    waiting_ += line;
  }
  changed_.notify_one();
}

void PatientWriter::write_on() {
  std::string batch;
  std::string_view rest;
  std::optional<Clock::time_point> end;
  for (;;) {
    {
      std::unique_lock lock(mutex_);
      if (rest.empty()) {
        changed_.wait(lock, [this] { return ending_ || !waiting_.empty(); });
        batch = std::exchange(waiting_, {});
        rest = batch;
      }
      if (ending_ && !end) end = Clock::now() + kLastWait;
      if (ending_ && rest.empty()) return;
    }
    rest = write_some(rest);
    if (end && Clock::now() > *end) return;
  }
}

std::string_view PatientWriter::write_some(std::string_view bytes) const {
  // What can be written at all takes at least this much without blocking: PIPE_BUF of pipe(7).
  constexpr std::size_t kAtOnce = 4096;
  pollfd room{descriptor_, POLLOUT, 0};
  if (::poll(&room, 1, 50) <= 0) return bytes;
  const ssize_t written = ::write(descriptor_, bytes.data(), std::min(bytes.size(), kAtOnce));
  if (written >= 0) return bytes.substr(static_cast<std::size_t>(written));
  return errno == EAGAIN || errno == EINTR ? bytes
                                           : std::string_view();  // nobody listens any more; the book goes on
}

}  // namespace hangtrue::daemon
