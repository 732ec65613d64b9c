#include "firmware-host/daemon/announcer.hpp"

#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <optional>
#include <utility>

namespace hangtrue::daemon {
namespace {

using Json = nlohmann::ordered_json;
using Clock = std::chrono::steady_clock;

std::string dump(const Json& json) {
  return json.dump(-1, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace);
}

}  // namespace

Announcer::Announcer(int descriptor, Form form)
    : descriptor_(descriptor), form_(form), writer_([this] { write_on(); }) {}

Announcer::~Announcer() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  changed_.notify_one();
  writer_.join();
}

void Announcer::say(Event event, std::string_view text, const Json& more) const {
  queue(line(event, text, more));
}

void Announcer::say_lines(std::string_view text) const {
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    say(Event::text, text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
}

void Announcer::say(const Answer& answer) const {
  if (answer.event != Event::result) return say(answer.event, answer.text, answer.more);
  if (form_ == Form::plain) return queue(std::string(word(answer.event)) + ' ' + dump(answer.more) + '\n');
  Json object{{"event", word(answer.event)}};
  object.update(answer.more);
  queue(dump(object) + '\n');
}

std::string Announcer::line(Event event, std::string_view text, const Json& more) const {
  if (form_ == Form::plain)
    return std::string(word(event)) + (text.empty() ? "" : " ") + std::string(text) + '\n';
  Json object{{"event", word(event)}, {"text", text}};
  object.update(more.is_object() ? more : Json::object());
  return dump(object) + '\n';
}

void Announcer::queue(std::string line) const {
  {
    const std::lock_guard lock(mutex_);
    if (waiting_.size() + line.size() > kMostUnread_bytes) {
      ++left_out_;
      return;
    }
    if (left_out_ > 0)
      waiting_ += this->line(Event::trouble,
                             "over: " + std::to_string(std::exchange(left_out_, 0)) +
                                 " lines were left out, since nobody read them",
                             {});
    waiting_ += line;
  }
  changed_.notify_one();
}

void Announcer::write_on() const {
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

std::string_view Announcer::write_some(std::string_view bytes) const {
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
