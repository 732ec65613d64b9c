#include "firmware-host/daemon/announcer.hpp"

#include <algorithm>

namespace hangtrue::daemon {
namespace {

using Json = nlohmann::ordered_json;

std::string dump(const Json& json) {
  return json.dump(-1, ' ', /*ensure_ascii=*/false, Json::error_handler_t::replace);
}

}  // namespace

Announcer::Announcer(int descriptor, Form form)
    : form_(form), writer_(descriptor, [this](std::size_t lines) {
        return line(Event::trouble,
                    "over: " + std::to_string(lines) + " lines were left out, since nobody read them", {});
      }) {}

void Announcer::say(Event event, std::string_view text, const Json& more) const {
  writer_.write(line(event, text, more));
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
  if (form_ == Form::plain)
    return writer_.write(std::string(word(answer.event)) + ' ' + dump(answer.more) + '\n');
  Json object{{"event", word(answer.event)}};
  object.update(answer.more);
  writer_.write(dump(object) + '\n');
}

std::string Announcer::line(Event event, std::string_view text, const Json& more) const {
  if (form_ == Form::plain)
    return std::string(word(event)) + (text.empty() ? "" : " ") + std::string(text) + '\n';
  Json object{{"event", word(event)}, {"text", text}};
  object.update(more.is_object() ? more : Json::object());
  return dump(object) + '\n';
}

}  // namespace hangtrue::daemon
