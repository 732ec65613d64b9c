#include "firmware-host/daemon/corrections.hpp"

#include <utility>

#include "firmware-host/daemon/overloaded.hpp"
#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/daemon/stand.hpp"

namespace hangtrue::daemon {

Result<book::BookedReading, std::string> Corrections::booked(book::Number entry) const {
  const auto all = log_.readings();
  if (!all.ok()) return all.fault().says;
  for (const book::BookedReading& booked : all.value())
    if (booked.number == entry) return booked;
  return "entry " + std::to_string(entry) + " is no reading of this survey; readings lists them";
}

Result<sheet::ReadingEntry, std::string> Corrections::set_right(sheet::ReadingEntry reading,
                                                                const Correct& command) const {
  using Right = Result<sheet::ReadingEntry, std::string>;
  const bool distance = reading.channel == Channel::distance;
  return std::visit(Overloaded{[&](const GoToStation& where) -> Right {
                                 const auto spot = spot_of(sheets_.run, where);
                                 if (!spot.ok()) return spot.fault();
                                 if (!spot.value().mark.empty() && !distance)
                                   return std::string("only a distance is read at a mark");
                                 reading.at_m = spot.value().at_m;
                                 reading.mark = spot.value().mark;
                                 if (!reading.mark.empty())
                                   reading.edge = survey::Edge::middle;  // it has none
                                 return std::move(reading);
                               },
                               [&](const TurnFace& turned) -> Right {
                                 if (distance) return std::string("a distance has no face");
                                 reading.face = turned.face;
                                 return std::move(reading);
                               },
                               [&](const ChooseEdge& side) -> Right {
                                 if (!reading.mark.empty()) return std::string("a mark has no edge");
                                 reading.edge = side.edge;
                                 return std::move(reading);
                               },
                               [&](const PlaceSetUp& set_up) -> Right {
                                 if (!distance) return std::string("only a distance has a set-up");
                                 reading.set_up = set_up.name;
                                 return std::move(reading);
                               }},
                    command.to);
}

Answer Corrections::set_right(const Correct& command) {
  const auto former = booked(command.entry);
  if (!former.ok()) return refused("correct", former.fault());
  const auto right = set_right(former.value().reading, command);
  if (!right.ok()) return refused("correct", right.fault());
  return write(command.entry, "correct",
               book::Corrected{command.entry, right.value(), "said wrongly, corrected by hand"},
               reading_words(right.value(), sheets_.run.show));
}

Answer Corrections::set_aside(const SetAsideEntry& command) {
  const auto former = booked(command.entry);
  if (!former.ok()) return refused("set aside", former.fault());
  if (!former.value().kept)
    return refused("set aside", "entry " + std::to_string(command.entry) +
                                    " is set aside already: " + former.value().reason);
  return write(command.entry, "set aside", book::SetAside{command.entry, command.reason},
               reading_words(former.value().reading, sheets_.run.show) + ", set aside: " + command.reason);
}

Answer Corrections::put_back(const PutBackEntry& command) {
  const auto former = booked(command.entry);
  if (!former.ok()) return refused("put back", former.fault());
  if (former.value().kept)
    return refused("put back", "entry " + std::to_string(command.entry) + " is not set aside");
  return write(command.entry, "put back", book::PutBack{command.entry, command.reason},
               reading_words(former.value().reading, sheets_.run.show) + ", kept again: " + command.reason);
}

Answer Corrections::write(book::Number entry, const char* command, const book::Content& content,
                          const std::string& says) {
  if (const auto no = moves_.stand_against(command)) return *no;
  if (const auto written = log_.append({content}); !written.ok())
    return refused(command, written.fault().says);
  Answer answer = answered(Event::corrected, std::to_string(entry) + ": " + says);
  answer.other_readings = true;
  return answer;
}

Answer Corrections::list(const Announcer& announcer) const {
  const auto all = log_.readings();
  if (!all.ok()) return refused("readings", all.fault().says);
  for (const book::BookedReading& booked : all.value())
    announcer.say(Event::reading,
                  std::to_string(booked.number) + ": " + booked_words(booked, sheets_.run.show));
  return listed(Event::reading);
}

}  // namespace hangtrue::daemon
