#include "firmware-host/daemon/stand.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {
namespace {

Result<Spot, Told> mark_named(const Sheets& sheets, const std::string& name) {
  std::string marks;
  for (const sheet::Mark& mark : sheets.run.marks) {
    if (lower(mark.name) == lower(name)) return Spot{mark.at_m, mark.name};
    marks += (marks.empty() ? "" : ", ") + mark.name;
  }
  return marks.empty() ? sheets.told(
                             "\"{}\" is no length with its unit, such as 1200 mm, and the run sheet names "
                             "no mark",
                             name)
                       : sheets.told(
                             "\"{}\" is no length with its unit, such as 1200 mm; or a mark of the run "
                             "sheet: {}",
                             name, marks);
}

}  // namespace

Result<Spot, Told> spot_of(const Sheets& sheets, const GoToStation& where) {
  const sheet::RunSheet& run = sheets.run;
  const std::vector<double>& stations = run.stations_m;
  if (!where.mark.empty()) return mark_named(sheets, where.mark);
  const auto place = [](double at_m, const sheet::RunSheet& of) { return sheet::show_place(at_m, of.show); };
  if (where.number) {
    if (*where.number >= 1 && std::size_t(*where.number) <= stations.size())
      return Spot{stations[std::size_t(*where.number) - 1], {}};
    return sheets.told("number {}, but the run has stations 1 to {}", *where.number, stations.size());
  }
  const double x = *where.at_m;
  if (!(x >= -kOnStation_m && x <= run.length_m + kOnStation_m))
    return sheets.both([&](const sheet::RunSheet& of) {
      return say::text(of.show, "{} is off the run, which ends at {}", place(x, of), place(of.length_m, of));
    });
  const auto nearest = std::min_element(stations.begin(), stations.end(), [&](double a, double b) {
    return std::abs(a - x) < std::abs(b - x);
  });
  if (nearest != stations.end() && std::abs(*nearest - x) <= kOnStation_m) return Spot{*nearest, {}};
  return sheets.both([&](const sheet::RunSheet& of) {
    return say::text(of.show, "no station at {}", place(x, of)) +
           (nearest == stations.end() ? std::string()
                                      : say::text(of.show, "; the nearest is at {}", place(*nearest, of)));
  });
}

Answer Stand::go_to(const GoToStation& where, const Instruments& instruments) {
  const auto spot = spot_of(sheets_, where);
  if (!spot.ok()) {
    // Whoever said it is no longer at the former place, so that nothing must be taken there.
    place_.at_m.reset();
    place_.mark.clear();
    return refused("station", spot.fault());
  }
  place_.at_m = spot.value().at_m;
  place_.mark = spot.value().mark;
  place_.told = false;
  notice_ = {};
  Answer answer = here();
  if (!place_.mark.empty()) return answer;  // only the laser is there
  for (std::size_t i = 0; i < instruments.size(); ++i) {
    const auto tells = instruments.tells(i);
    if (!tells || sheets_.run.stations_m[*tells] == *place_.at_m || !instruments.state(i).speaks) continue;
    answer.warnings.push_back(differ(instruments.kit(i).name, sheets_.run.stations_m[*tells],
                                     sheets_.both([&](const sheet::RunSheet& run) {
                                       return say::text(run.show, ", but {} was said by hand, and counts now",
                                                        spot_words(*place_.at_m, {}, run.show));
                                     })));
  }
  return answer;
}

Answer Stand::go_to(const job::PlanStop& stop, const Instruments& instruments) {
  if (stop.mark.empty()) place_.edge = stop.edge;
  return stop.mark.empty() ? go_to(GoToStation{stop.at_m, std::nullopt, {}}, instruments)
                           : go_to(GoToStation{std::nullopt, std::nullopt, stop.mark}, instruments);
}

bool Stand::is_at(const job::PlanStop& stop) const {
  return place_.at_m && place_.mark == stop.mark && std::abs(*place_.at_m - stop.at_m) <= kOnStation_m;
}

Answer Stand::turn(const TurnFace& face) {
  place_.face = face.face;
  return here();
}

Answer Stand::choose(const ChooseEdge& edge) {
  place_.edge = edge.edge;
  return here();
}

Answer Stand::place(const PlaceSetUp& set_up) {
  const bool moved = set_up.stands_at_m && set_up.stands_at_m != place_.laser_at_m;
  const bool is_new = set_up.name != place_.set_up || !place_.set_up_noted || moved;
  if (is_new) {
    if (const auto noted = log_.append({book::SetUp{set_up.name, set_up.stands_at_m}}); !noted.ok())
      return refused("set-up", sheets_.told(noted.fault()));
    place_.set_up_noted = true;
    place_.laser_at_m = set_up.stands_at_m;
  }
  place_.set_up = set_up.name;
  Answer answer = here();
  answer.other_checks = is_new;  // a checked datum counts by where its laser stands
  return answer;
}

Answer Stand::here() const {
  nlohmann::ordered_json more{{"face", place_.face},
                              {"edge", edge_word()},
                              {"set_up", place_.set_up},
                              {"stage", log_.stage()},
                              {"survey", log_.id()}};
  if (place_.at_m) more["at_m"] = *place_.at_m;
  if (!place_.mark.empty()) more["mark"] = place_.mark;
  return answered(Event::here,
                  (place_.mark.empty() ? sheets_.told("station ") : Told()) + words() +
                      sheets_.told(", stage {}, survey {}", log_.stage(), log_.id()),
                  std::move(more));
}

std::optional<std::string> Stand::told(const std::string& instrument, std::size_t station) {
  const Place before = place_;
  place_.at_m = sheets_.run.stations_m[station];
  place_.mark.clear();
  place_.told = true;
  notice_ = {};
  if (!before.at_m || before.told || (before.at_m == place_.at_m && before.mark.empty())) return std::nullopt;
  return differ(instrument, *place_.at_m, sheets_.both([&](const sheet::RunSheet& run) {
    return say::text(run.show, ", which counts now, but {} was said by hand before",
                     spot_words(*before.at_m, before.mark, run.show));
  }));
}

const std::string& Stand::differ(const std::string& instrument, double tells_m, const Told& how) {
  notice_ = sheets_.both([&](const sheet::RunSheet& run) {
    return say::text(run.show, "{} tells {}", instrument, sheet::show_place(tells_m, run.show));
  }) + how + sheets_.told(": see which is right.");
  return notice_.text;
}

void Stand::from_book(const std::vector<book::BookedReading>& readings, const book::SetUp& set_up) {
  place_.set_up_noted = !set_up.name.empty();
  if (place_.set_up_noted) {
    place_.set_up = set_up.name;
    place_.laser_at_m = set_up.stands_at_m;
  }
  if (!log_.continued() || place_.at_m) return;
  for (auto each = readings.rbegin(); each != readings.rend(); ++each) {
    const sheet::ReadingEntry& reading = each->reading;
    if (!reading.mark.empty()) continue;
    const sheet::KitChannel* const channel = sheets_.kit.find(reading.instrument, reading.channel);
    if (channel == nullptr || channel->station_m) continue;
    if (reading.channel != Channel::distance) place_.face = reading.face;
    if (reading.edge != channel->edge) place_.edge = reading.edge;
    notice_ = sheets_.both([&](const sheet::RunSheet& run) {
      return say::text(run.show,
                       "The program was started anew. Face {} and edge {} are those of the last reading: say "
                       "where the instruments stand now.",
                       place_.face == 1 ? 1 : 2, edge_words(run.show));
    });
    return;
  }
}

std::string Stand::edge_word() const {
  if (place_.edge) return std::string(say::word(*place_.edge));
  std::optional<survey::Edge> of_all;
  for (const sheet::KitInstrument& kit : sheets_.kit.instruments)
    for (const sheet::KitChannel& channel : kit.channels) {
      if (!is_measured_of_run(channel.gives) || channel.station_m) continue;
      if (of_all && *of_all != channel.edge) return "as in the kit sheet";
      of_all = channel.edge;
    }
  return std::string(say::word(of_all.value_or(survey::Edge::middle)));
}

std::string Stand::edge_words(sheet::Show show) const { return say::said(show, edge_word()); }

Told Stand::words() const {
  return sheets_.both([&](const sheet::RunSheet& run) {
    const sheet::Show show = run.show;
    if (!place_.mark.empty())
      return say::text(show, "{}, set-up {}", spot_words(*place_.at_m, place_.mark, show), place_.set_up);
    return say::text(show, "{}, face {}, edge {}, set-up {}",
                     place_.at_m ? spot_words(*place_.at_m, {}, show) : say::said(show, "not said yet"),
                     place_.face == 1 ? 1 : 2, edge_words(show), place_.set_up);
  });
}

}  // namespace hangtrue::daemon
