#include "firmware-host/daemon/announcer.hpp"

#include <poll.h>
#include <unistd.h>

#include <cerrno>

namespace hangtrue::daemon {
namespace {

using Json = nlohmann::ordered_json;

std::string dump(const Json& json) {
  return json.dump(-1, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace);
}

}  // namespace

void Announcer::say(std::string_view event, std::string_view text, const Json& more) const {
  if (form_ == Form::json) {
    Json object{{"event", event}, {"text", text}};
    object.update(more.is_object() ? more : Json::object());
    return write_line(dump(object));
  }
  write_line(std::string(event) + (text.empty() ? "" : " ") + std::string(text));
}

void Announcer::give(std::string_view event, const Json& result) const {
  if (form_ == Form::json) {
    Json object{{"event", event}};
    object.update(result);
    return write_line(dump(object));
  }
  write_line(std::string(event) + ' ' + dump(result));
}

void Announcer::write_line(std::string line) const {
  line += '\n';
  std::string_view rest = line;
  while (!rest.empty()) {
    const ssize_t written = ::write(descriptor_, rest.data(), rest.size());
    if (written >= 0) {
      rest.remove_prefix(static_cast<std::size_t>(written));
    } else if (errno == EAGAIN) {  // non-blocking where somebody shares it with such a standard input
      pollfd room{descriptor_, POLLOUT, 0};
      ::poll(&room, 1, -1);
    } else if (errno != EINTR) {
      return;  // nobody listens any more; the book goes on
    }
  }
}

}  // namespace hangtrue::daemon
