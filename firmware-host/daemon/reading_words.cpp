#include "firmware-host/daemon/reading_words.hpp"

#include <nlohmann/json.hpp>

#include "firmware-host/say/instrument.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

std::string spot_words(double at_m, const std::string& mark, sheet::Show show) {
  return mark.empty() ? sheet::show_place(at_m, show) : say::text(show, "mark {}", mark);
}

std::string reading_words(const sheet::ReadingEntry& reading, sheet::Show show) {
  const bool distance = reading.channel == Channel::distance;
  return say::text(show, "{} {} {} at {}", reading.instrument, say::channel_words(reading.channel, show),
                   say::reading_value(reading.channel, reading.value, show),
                   spot_words(reading.at_m, reading.mark, show)) +
         (distance ? say::text(show, ", set-up {}", reading.set_up)
                   : say::text(show, ", face {}", reading.face == 1 ? 1 : 2)) +
         (reading.mark.empty() ? say::text(show, ", edge {}", say::edge_words(reading.edge, show))
                               : std::string());
}

std::string booked_words(const book::BookedReading& booked, sheet::Show show) {
  return reading_words(booked.reading, show) +
         (booked.kept ? std::string() : say::said(show, ", set aside")) +
         (booked.reason.empty() ? "" : ": " + booked.reason);
}

nlohmann::ordered_json reading_json(const sheet::ReadingEntry& reading, book::Number entry) {
  nlohmann::ordered_json json{{"entry", entry},
                              {"time", reading.time},
                              {"instrument", reading.instrument},
                              {"channel", word(reading.channel)},
                              {"at_m", reading.at_m},
                              {"face", reading.face},
                              {"edge", say::word(reading.edge)},
                              {"set_up", reading.set_up},
                              {"value", reading.value},
                              {"sigma", reading.sigma}};
  if (!reading.mark.empty()) json["mark"] = reading.mark;
  return json;
}

}  // namespace hangtrue::daemon
