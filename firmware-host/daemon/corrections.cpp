#include "firmware-host/daemon/corrections.hpp"

#include <cmath>
#include <set>
#include <utility>

#include "firmware-host/daemon/overloaded.hpp"
#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/daemon/stand.hpp"
#include "firmware-host/job/takes.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::daemon {

Result<Corrections::Readings, Told> Corrections::meant(const Meant& what) const {
  const auto all = log_.readings();
  if (!all.ok()) return sheets_.told(all.fault());
  const Readings& booked = all.value();
  const std::vector<std::vector<std::size_t>> takes = job::takes_of(booked);
  for (auto take = takes.rbegin(); take != takes.rend(); ++take)
    for (const std::size_t i : *take) {
      if (what.entry == 0 ? !booked[i].kept : booked[i].number != what.entry) continue;
      if (!what.whole_take) return Readings{booked[i]};
      Readings whole;
      for (const std::size_t k : *take) whole.push_back(booked[k]);
      return whole;
    }
  if (what.entry == 0) return sheets_.told("nothing that counts has been taken in this survey");
  return sheets_.told("entry {} is no reading of this survey; readings lists them", what.entry);
}

bool Corrections::moves_last_take(const Correct& command, double from_m, const std::string& from_mark) const {
  if (!command.what.whole_take || !std::holds_alternative<GoToStation>(command.to)) return false;
  const auto last = meant({0, true}), these = meant(command.what);
  if (!last.ok() || !these.ok()) return false;
  return last.value().back().number == these.value().back().number &&
         std::abs(last.value().back().reading.at_m - from_m) <= job::kSamePlace_m &&
         last.value().back().reading.mark == from_mark;
}

Result<sheet::ReadingEntry, Told> Corrections::set_right(sheet::ReadingEntry reading,
                                                         const Correct& command) const {
  using Right = Result<sheet::ReadingEntry, Told>;
  const bool distance = reading.channel == Channel::distance;
  return std::visit(Overloaded{[&](const GoToStation& where) -> Right {
                                 const auto spot = spot_of(sheets_, where);
                                 if (!spot.ok()) return spot.fault();
                                 if (!spot.value().mark.empty() && !distance)
                                   return sheets_.told("only a distance is read at a mark");
                                 reading.at_m = spot.value().at_m;
                                 reading.mark = spot.value().mark;
                                 if (!reading.mark.empty())
                                   reading.edge = survey::Edge::middle;  // it has none
                                 return std::move(reading);
                               },
                               [&](const TurnFace& turned) -> Right {
                                 if (distance) return sheets_.told("a distance has no face");
                                 reading.face = turned.face;
                                 return std::move(reading);
                               },
                               [&](const ChooseEdge& side) -> Right {
                                 if (!reading.mark.empty()) return sheets_.told("a mark has no edge");
                                 reading.edge = side.edge;
                                 return std::move(reading);
                               },
                               [&](const PlaceSetUp& set_up) -> Right {
                                 if (!distance) return sheets_.told("only a distance has a set-up");
                                 reading.set_up = set_up.name;
                                 return std::move(reading);
                               }},
                    command.to);
}

/// Of a whole take: what of it has no face, edge or set-up is left as it is.
Result<std::vector<book::Content>, Told> Corrections::corrected(const Readings& readings,
                                                                const Correct& command) const {
  std::set<int> faces;
  for (const book::BookedReading& each : readings) {
    const sheet::KitChannel* const channel = sheets_.kit.find(each.reading.instrument, each.reading.channel);
    if (command.what.whole_take && channel != nullptr && channel->station_m)
      return sheets_.told("these are of instruments that stay where they are");
    if (each.reading.channel != Channel::distance) faces.insert(each.reading.face);
  }
  if (std::holds_alternative<TurnFace>(command.to) && faces.size() > 1)
    return sheets_.told("both faces are in it; correct the entries of one face, one by one");
  std::vector<book::Content> contents;
  Told objection;
  for (const book::BookedReading& each : readings) {
    auto right = set_right(each.reading, command);
    if (!right.ok() && std::holds_alternative<GoToStation>(command.to)) return right.fault();
    if (!right.ok())
      objection = right.fault();
    else
      contents.push_back(
          book::Corrected{each.number, std::move(right).value(), "said wrongly, corrected by hand"});
  }
  if (contents.empty()) return objection;
  return contents;
}

Answer Corrections::set_right(const Correct& command) {
  const auto former = meant(command.what);
  if (!former.ok()) return refused("correct", former.fault());
  const auto right = corrected(former.value(), command);
  if (!right.ok()) return refused("correct", right.fault());
  return write("correct", former.value(), right.value(), sheets_.both([&](const sheet::RunSheet& run) {
    return reading_words(std::get<book::Corrected>(right.value().back()).by, run.show);
  }));
}

Answer Corrections::set_aside(const SetAsideEntry& command) {
  const auto former = meant(command.what);
  if (!former.ok()) return refused("set aside", former.fault());
  const Readings& readings = former.value();
  std::vector<book::Content> contents;
  for (const book::BookedReading& each : readings)
    if (each.kept) contents.push_back(book::SetAside{each.number, command.reason});
  if (contents.empty())
    return refused("set aside", sheets_.told("entry {} is set aside already: {}", readings.back().number,
                                             readings.back().reason));
  return write("set aside", readings, contents, sheets_.both([&](const sheet::RunSheet& run) {
    return say::text(run.show, "{}, set aside: {}", reading_words(readings.back().reading, run.show),
                     command.reason);
  }));
}

Answer Corrections::put_back(const PutBackEntry& command) {
  const auto former = meant(command.what);
  if (!former.ok()) return refused("put back", former.fault());
  const Readings& readings = former.value();
  std::vector<book::Content> contents;
  for (const book::BookedReading& each : readings)
    if (!each.kept) contents.push_back(book::PutBack{each.number, command.reason});
  if (contents.empty())
    return refused("put back", sheets_.told("entry {} is not set aside", readings.back().number));
  return write("put back", readings, contents, sheets_.both([&](const sheet::RunSheet& run) {
    return say::text(run.show, "{}, kept again: {}", reading_words(readings.back().reading, run.show),
                     command.reason);
  }));
}

Answer Corrections::write(const char* command, const Readings& readings,
                          const std::vector<book::Content>& contents, const Told& says) {
  if (const auto no = moves_.stand_against(command)) return *no;
  if (const auto written = log_.append(contents); !written.ok())
    return refused(command, sheets_.told(written.fault()));
  const book::Number first = readings.front().number;
  Answer answer = answered(
      Event::corrected,
      (readings.size() == 1 ? sheets_.told("{}: ", first)
                            : sheets_.told("{} to {}, one take of {} readings; the last of them: ", first,
                                           readings.back().number, readings.size())) +
          says);
  answer.other_readings = true;
  return answer;
}

Answer Corrections::list(const Announcer& announcer) const {
  const auto all = log_.readings();
  if (!all.ok()) return refused("readings", sheets_.told(all.fault()));
  for (const book::BookedReading& booked : all.value())
    announcer.say(Event::reading,
                  std::to_string(booked.number) + ": " + booked_words(booked, sheets_.run.show));
  return listed(Event::reading);
}

}  // namespace hangtrue::daemon
