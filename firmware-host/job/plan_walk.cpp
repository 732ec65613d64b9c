#include "firmware-host/job/plan_walk.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>
#include <utility>

namespace hangtrue::job {

namespace {

using survey::Edge;

survey::Reading<double> reading_of(const sheet::ReadingEntry& entry) {
  survey::Reading<double> reading;
  reading.channel = entry.channel;
  reading.edge = entry.edge;
  reading.face = std::int8_t(entry.face);
  reading.at_m = entry.at_m;
  reading.base_m = entry.base_m;
  reading.sigma = entry.sigma;
  return reading;
}

bool same_place(const PlanStop& a, const PlanStop& b) {
  return a.instrument == b.instrument && a.at_m == b.at_m && a.edge == b.edge && a.set_up == b.set_up &&
         a.channels == b.channels && a.stays == b.stays && a.mark == b.mark;
}

}  // namespace

Result<Done, Fault> PlanGround::solve(double& sigma_before_m) {
  if (solved_.trouble()) return *solved_.trouble();
  SurveyFit nothing(run, &kit, wish.stage);
  nothing.take_as_planned();
  if (const auto fitted = nothing.fit(); !fitted) return fitted.fault();
  if (!solved_.solver().solve(nothing.fitted().state())) return Fault(CannotPlan{});
  const auto before = nothing.fitted().next_reading({});
  if (!before) return Fault(CannotPlan{});
  sigma_before_m = before.value().sigma_now_m;
  return Done{};
}

int PlanGround::most_set_ups() const {
  const bool laser = std::any_of(kit.instruments.begin(), kit.instruments.end(), [](const auto& instrument) {
    return std::any_of(instrument.channels.begin(), instrument.channels.end(), [](const auto& channel) {
      return channel.gives == Channel::distance && !channel.station_m;
    });
  });
  return !laser ? 0 : wish.what == PlanFor::recheck ? 1 : kMostPlannedSetUps;
}

Stops PlanGround::given(int set_ups) const {
  Stops stops;
  for (const sheet::KitInstrument& instrument : kit.instruments)
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (!is_measured_of_run(channel.gives)) continue;
      PlanStop stop;
      stop.instrument = instrument.name;
      stop.channels = {channel.gives};
      if (channel.station_m) {
        stop.at_m = *channel.station_m;
        stop.edge = channel.edge;
        stop.stays = true;
        if (channel.gives == Channel::distance) stop.set_up = "1";
        stops.push_back(stop);
      } else if (channel.gives == Channel::distance) {
        stop.at_m = run.stations_m[run.stations_m.size() / 2];
        for (int s = 1; s <= set_ups; ++s) {
          stop.set_up = std::to_string(s);
          stops.push_back(stop);
        }
      }
    }
  return stops;
}

std::vector<Offer> PlanGround::offers(int set_ups) const {
  std::vector<Offer> all;
  const std::vector<Edge> edges =
      run.width_m > 0 ? std::vector{Edge::middle, Edge::left, Edge::right} : std::vector{Edge::middle};
  for (const sheet::KitInstrument& instrument : kit.instruments) {
    Offer stand;
    stand.stop.instrument = instrument.name;
    stand.stop.both_faces = true;
    bool rolls = false;
    for (const sheet::KitChannel& channel : instrument.channels) {
      if (!is_measured_of_run(channel.gives) || channel.station_m) continue;
      if (channel.gives != Channel::distance) {
        rolls = rolls || channel.gives == Channel::roll;
        stand.stop.channels.push_back(channel.gives);
        stand.channels.push_back(&channel);
        continue;
      }
      Offer distance;
      distance.stop.instrument = instrument.name;
      distance.stop.channels = {Channel::distance};
      distance.channels = {&channel};
      for (int s = 1; s <= set_ups; ++s)
        for (const Edge edge : edges) {
          distance.stop.set_up = std::to_string(s);
          distance.stop.edge = edge;
          all.push_back(distance);
        }
    }
    if (stand.channels.empty()) continue;
    // Slopes at the edges tell the twist where no roll does.
    for (const Edge edge : rolls ? std::vector{Edge::middle} : edges) {
      stand.stop.edge = edge;
      all.push_back(stand);
    }
  }
  return all;
}

survey::Reading<double> PlanGround::weighed(const Offer& offer, const sheet::KitChannel& channel,
                                            const sheet::Survey& survey) const {
  survey::Reading<double> reading;
  reading.channel = channel.gives;
  reading.edge = offer.stop.edge;
  reading.base_m = channel.base_m;
  if (offer.stop.both_faces) {
    reading.sigma = channel.sigma / std::sqrt(2.0);
    return reading;
  }
  reading.sigma = channel.sigma;
  for (std::size_t i = 0; i < survey.entries.size(); ++i)
    if (survey.entries[i].instrument == offer.stop.instrument &&
        survey.entries[i].set_up == offer.stop.set_up && survey.entries[i].channel == Channel::distance) {
      reading.set_up = survey.readings[i].set_up;
      reading.zero = survey.readings[i].zero;
    }
  return reading;
}

double PlanGround::predicted(const survey::Reading<double>& reading) const {
  return survey::predicted<double>({&solved_.solver(), wish.stage, run.length_m, run.width_m}, reading, {});
}

sheet::ReadingEntry PlanGround::entry(const PlanStop& stop, Channel channel, int face) const {
  const sheet::KitChannel* const of = kit.find(stop.instrument, channel);
  sheet::ReadingEntry entry;
  entry.set_up = channel == Channel::distance ? stop.set_up : "";
  entry.instrument = stop.instrument;
  entry.channel = channel;
  entry.at_m = stop.at_m;
  entry.mark = stop.mark;
  entry.face = face;
  entry.edge = stop.edge;
  entry.sigma = of->sigma;
  entry.base_m = of->base_m;
  entry.value = stop.mark.empty() ? predicted(reading_of(entry)) : 0;
  return entry;
}

std::vector<sheet::ReadingEntry> PlanGround::readings(const Stops& stops) const {
  std::vector<sheet::ReadingEntry> entries;
  for (const PlanStop& stop : stops)
    for (int time = 0; time < stop.times; ++time)
      for (const int face : {1, -1}) {
        if (face < 0 && !stop.both_faces) continue;
        for (const Channel channel : stop.channels) entries.push_back(entry(stop, channel, face));
      }
  return entries;
}

std::unique_ptr<SurveyFit> PlanGround::fitted(const Stops& stops) const {
  auto session = std::make_unique<SurveyFit>(run, &kit, wish.stage);
  session->take_as_planned();
  for (sheet::ReadingEntry& each : readings(stops)) session->add(std::move(each));
  return session->fit().ok() ? std::move(session) : nullptr;
}

Stops PlanGround::tidy(const Stops& stops) const {
  Stops walk;
  for (const PlanStop& stop : stops) {
    const bool alone = !stop.stays && stop.channels.front() == Channel::distance &&
                       std::count_if(stops.begin(), stops.end(),
                                     [&](const PlanStop& each) { return each.set_up == stop.set_up; }) == 1;
    if (alone) continue;
    const auto same =
        std::find_if(walk.begin(), walk.end(), [&](const PlanStop& each) { return same_place(each, stop); });
    if (same == walk.end())
      walk.push_back(stop);
    else
      ++same->times;
  }
  if (wish.what == PlanFor::recheck) add_marks(run, walk);
  const auto place = [](const PlanStop& stop) {
    return std::tuple(stop.set_up.empty() ? std::string("1") : stop.set_up, !stop.mark.empty(), stop.at_m,
                      -int(stop.edge), stop.channels.front());
  };
  std::stable_sort(walk.begin(), walk.end(),
                   [&](const PlanStop& a, const PlanStop& b) { return place(a) < place(b); });
  return walk;
}

void add_marks(const sheet::RunSheet& run, Stops& walk) {
  Stops marks;
  for (const PlanStop& stop : walk) {
    const bool first = stop.channels.front() == Channel::distance && !stop.stays &&
                       std::none_of(marks.begin(), marks.end(),
                                    [&](const PlanStop& each) { return each.set_up == stop.set_up; });
    if (!first) continue;
    for (const sheet::Mark& mark : run.marks) {
      marks.push_back(stop);
      marks.back().mark = mark.name;
      marks.back().at_m = mark.at_m;
      marks.back().edge = Edge::middle;
      marks.back().times = 1;
    }
  }
  walk.insert(walk.end(), marks.begin(), marks.end());
}

std::vector<double> places_of(const Stops& walk) {
  std::vector<double> at;
  for (const PlanStop& stop : walk)
    if (stop.mark.empty()) at.push_back(stop.at_m);
  std::sort(at.begin(), at.end());
  at.erase(std::unique(at.begin(), at.end()), at.end());
  return at;
}

Stops closing_of(const Stops& walk) {
  std::string last_set_up;
  for (const PlanStop& stop : walk)
    if (!stop.set_up.empty()) last_set_up = stop.set_up;
  std::map<std::string, std::vector<double>> places;  // by instrument
  const auto counts = [&](const PlanStop& stop) {
    return !stop.stays && stop.mark.empty() && (stop.set_up.empty() || stop.set_up == last_set_up);
  };
  for (const PlanStop& stop : walk)
    if (counts(stop)) places[stop.instrument].push_back(stop.at_m);
  Stops closing;
  for (auto& [instrument, at_m] : places) {
    std::sort(at_m.begin(), at_m.end());
    at_m.erase(std::unique(at_m.begin(), at_m.end()), at_m.end());
    const double half_way = (at_m.front() + at_m.back()) / 2;
    const double middle = *std::min_element(at_m.begin(), at_m.end(), [&](double a, double b) {
      return std::abs(a - half_way) < std::abs(b - half_way);
    });
    for (const double place : std::set<double>{at_m.front(), middle, at_m.back()}) {
      const auto read = std::find_if(walk.begin(), walk.end(), [&](const PlanStop& stop) {
        return counts(stop) && stop.instrument == instrument && stop.at_m == place;
      });
      closing.push_back(*read);
      closing.back().times = 1;
    }
  }
  std::stable_sort(closing.begin(), closing.end(),
                   [](const PlanStop& a, const PlanStop& b) { return a.at_m < b.at_m; });
  return closing;
}

int readings_of(const Stops& stops) {
  int count = 0;
  for (const PlanStop& stop : stops) count += stop.readings();
  return count;
}

}  // namespace hangtrue::job
