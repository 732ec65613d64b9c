#include "firmware-host/daemon/stand.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {
namespace {

Result<Spot, std::string> mark_named(const sheet::RunSheet& run, const std::string& name) {
  std::string marks;
  for (const sheet::Mark& mark : run.marks) {
    if (lower(mark.name) == lower(name)) return Spot{mark.at_m, mark.name};
    marks += (marks.empty() ? "; or a mark of the run sheet: " : ", ") + mark.name;
  }
  return '"' + name + "\" is no length with its unit, such as 1200 mm" +
         (marks.empty() ? ", and the run sheet names no mark" : marks);
}

}  // namespace

Result<Spot, std::string> spot_of(const sheet::RunSheet& run, const GoToStation& where) {
  const std::vector<double>& stations = run.stations_m;
  if (!where.mark.empty()) return mark_named(run, where.mark);
  if (where.number) {
    if (*where.number >= 1 && std::size_t(*where.number) <= stations.size())
      return Spot{stations[std::size_t(*where.number) - 1], {}};
    return "number " + std::to_string(*where.number) + ", but the run has stations 1 to " +
           std::to_string(stations.size());
  }
  const double x = *where.at_m;
  if (!(x >= -kOnStation_m && x <= run.length_m + kOnStation_m))
    return sheet::show_place(x, run.show) + " is off the run, which ends at " +
           sheet::show_place(run.length_m, run.show);
  const auto nearest = std::min_element(stations.begin(), stations.end(), [&](double a, double b) {
    return std::abs(a - x) < std::abs(b - x);
  });
  if (nearest != stations.end() && std::abs(*nearest - x) <= kOnStation_m) return Spot{*nearest, {}};
  return "no station at " + sheet::show_place(x, run.show) +
         (nearest == stations.end() ? std::string()
                                    : "; the nearest is at " + sheet::show_place(*nearest, run.show));
}

Answer Stand::go_to(const GoToStation& where, const Instruments& instruments) {
  const auto spot = spot_of(sheets_.run, where);
  if (!spot.ok()) {
    // Whoever said it is no longer at the former place, so that nothing must be taken there.
    place_.at_m.reset();
    place_.mark.clear();
    return refused("station", spot.fault());
  }
  place_.at_m = spot.value().at_m;
  place_.mark = spot.value().mark;
  place_.told = false;
  notice_.clear();
  Answer answer = here();
  if (!place_.mark.empty()) return answer;  // only the laser is there
  for (std::size_t i = 0; i < instruments.size(); ++i) {
    const auto tells = instruments.tells(i);
    if (!tells || sheets_.run.stations_m[*tells] == *place_.at_m || !instruments.state(i).speaks) continue;
    answer.warnings.push_back(
        differ(instruments.kit(i).name, sheets_.run.stations_m[*tells],
               ", but " + spot_words(*place_.at_m, {}) + " was said by hand, and counts now"));
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
      return refused("set-up", noted.fault().says);
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
  return answered(
      Event::here,
      (place_.mark.empty() ? "station " : "") + words() + ", stage " + log_.stage() + ", survey " + log_.id(),
      std::move(more));
}

std::optional<std::string> Stand::told(const std::string& instrument, std::size_t station) {
  const Place before = place_;
  place_.at_m = sheets_.run.stations_m[station];
  place_.mark.clear();
  place_.told = true;
  notice_.clear();
  if (!before.at_m || before.told || (before.at_m == place_.at_m && before.mark.empty())) return std::nullopt;
  return differ(
      instrument, *place_.at_m,
      ", which counts now, but " + spot_words(*before.at_m, before.mark) + " was said by hand before");
}

const std::string& Stand::differ(const std::string& instrument, double tells_m, const std::string& how) {
  notice_ =
      instrument + " tells " + sheet::show_place(tells_m, sheets_.run.show) + how + ": see which is right.";
  return notice_;
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
    notice_ = "The program was started anew. Face " + std::string(place_.face == 1 ? "1" : "2") +
              " and edge " + edge_word() +
              " are those of the last reading: say where the instruments stand now.";
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

std::string Stand::words() const {
  if (!place_.mark.empty()) return spot_words(*place_.at_m, place_.mark) + ", set-up " + place_.set_up;
  return (place_.at_m ? spot_words(*place_.at_m, {}) : "not said yet") + ", face " +
         (place_.face == 1 ? "1" : "2") + ", edge " + edge_word() + ", set-up " + place_.set_up;
}

std::string Stand::spot_words(double at_m, const std::string& mark) const {
  return daemon::spot_words(at_m, mark, sheets_.run.show);
}

}  // namespace hangtrue::daemon
