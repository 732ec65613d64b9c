#include "firmware-host/job/plan.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numeric>
#include <tuple>

#include <nlohmann/json.hpp>

#include "core/change/change.hpp"
#include "firmware-host/job/recheck.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::job {

namespace {

constexpr double kEnough = 1.1;    // of what is best possible: more readings hardly help
constexpr double kWorth = 0.95;    // of the certainty: a further set-up, or an unknown, must bring it below
constexpr double kEndless = 1e-3;  // of a sigma: a reading repeated a million times
constexpr int kMostLeftOpen = 3;
constexpr std::size_t kMostExchanged = 40;  // stops; in a longer plan one place matters little
constexpr int kMostPasses = 3;
constexpr double kBetter = 0.999;

bool listed(const sheet::RunSheet& run, int stage, int support) {
  return run.beam_stages[std::size_t(stage)].lists_support(support);
}

const beam::Restraint<double>& restraint(const sheet::RunSheet& run, int support, int motion) {
  const beam::Support<double>& of = run.beam_supports[std::size_t(support)];
  return motion == 0 ? of.rise : motion == 1 ? of.pitch : of.roll;
}

sheet::Complaint too_many(const sheet::RunSheet& run) {
  return {run.file, 0, "run", "a run that cannot be planned for",
          "fewer supports, loads or instrument channels"};
}

// "a, b and c".
std::string in_a_row(const std::vector<std::string>& parts) {
  std::string text;
  for (std::size_t i = 0; i < parts.size(); ++i)
    text += (i == 0 ? "" : i + 1 == parts.size() ? " and " : ", ") + parts[i];
  return text;
}
std::string as_sentence(std::string text) {
  text[0] = char(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string name_of(const sheet::RunSheet& run, const sheet::Survey& survey,
                    const std::vector<std::string>& zeros, const fit::Unknown& unknown) {
  const auto index = std::size_t(std::max<std::int16_t>(unknown.index, 0));
  switch (unknown.kind) {
    case fit::UnknownKind::datum_height:
      return "set-up " + survey.set_ups[index] + ": datum height";
    case fit::UnknownKind::datum_tilt:
      return "set-up " + survey.set_ups[index] + ": datum tilt";
    case fit::UnknownKind::zero:
      return zeros[index] + ": zero";
    case fit::UnknownKind::mark_height:
      return "mark " + run.marks[index].name + ": height";
    default:
      return name_of(id_of(run, unknown.shape));
  }
}

// As a person would say it.
std::string plain_words(const sheet::RunSheet& run, const fit::Unknown& unknown, const std::string& name) {
  if (!fit::is_of_shape(unknown.kind)) {
    if (unknown.kind == fit::UnknownKind::zero) return "the zero error of " + name.substr(0, name.rfind(':'));
    const std::string of = name.substr(0, name.rfind(':'));
    return (unknown.kind == fit::UnknownKind::datum_tilt ? "the tilt of the laser's datum in "
                                                         : "the height of ") +
           of;
  }
  const auto index = std::size_t(std::max<std::int16_t>(unknown.shape.index, 0));
  const auto support = [&] { return run.supports[index].name; };
  using Kind = beam::ParameterKind;
  switch (unknown.shape.kind) {
    case Kind::offset_rise:
      return "how high " + support() + " stands";
    case Kind::offset_pitch:
      return "the pitch of " + support();
    case Kind::offset_roll:
      return "the roll of " + support();
    case Kind::spring_rise:
      return "how soft " + support() + " is in rise";
    case Kind::spring_pitch:
      return "how soft " + support() + " is in pitch";
    case Kind::spring_roll:
      return "how soft " + support() + " is in roll";
    case Kind::bending:
      return "the stiffness of the run in bending";
    case Kind::torsion:
      return "the stiffness of the run in torsion";
    case Kind::load:
      return "the weight of \"" + run.loads[index].name + '"';
    default:
      return name + " of the run as made";
  }
}

// One stand of an instrument, as the choice weighs it: both faces at once count as one reading without a zero error.
struct Offer {
  PlanStop stop;
  std::vector<const sheet::KitChannel*> channels;
};

class Planner {
 public:
  Planner(const sheet::RunSheet& run, const sheet::KitSheet& kit, const PlanWish& wish)
      : run_(run), kit_(kit), wish_(wish), solved_(run) {}

  PlanOrComplaint make() {
    if (solved_.trouble()) return {std::nullopt, say::complaint(run_, *solved_.trouble())};
    SurveyFit nothing(run_, &kit_, wish_.stage);
    if (const auto done = nothing.fit(); !done) return {std::nullopt, say::complaint(run_, done.fault())};
    if (!solved_.solver().solve(nothing.fitted().state())) return {std::nullopt, too_many(run_)};
    plan_.wish = wish_;
    const auto before = nothing.fitted().next_reading({});
    if (!before) return {std::nullopt, too_many(run_)};
    plan_.sigma_before_m = before.value().sigma_now_m;

    const bool laser =
        std::any_of(kit_.instruments.begin(), kit_.instruments.end(), [](const auto& instrument) {
          return std::any_of(instrument.channels.begin(), instrument.channels.end(), [](const auto& channel) {
            return channel.gives == Channel::distance && !channel.station_m;
          });
        });
    const int most_set_ups = laser ? (wish_.what == PlanFor::recheck ? 1 : kMostPlannedSetUps) : 0;
    for (int set_ups = std::min(1, most_set_ups); set_ups <= most_set_ups; ++set_ups) {
      Plan trial = plan_;
      if (!choose(set_ups, trial)) return {std::nullopt, too_many(run_)};
      if (set_ups > 1 && trial.certainty_m > kWorth * best_.certainty_m && !trial.reached) break;
      best_ = std::move(trial);
      if (best_.reached) break;
    }
    plan_ = std::move(best_);
    return {std::move(plan_), std::nullopt};
  }

  std::vector<sheet::ReadingEntry> readings(const std::vector<PlanStop>& stops) const {
    std::vector<sheet::ReadingEntry> entries;
    for (const PlanStop& stop : stops)
      for (int time = 0; time < stop.times; ++time)
        for (const int face : {1, -1}) {
          if (face < 0 && !stop.both_faces) continue;
          for (const Channel channel : stop.channels) entries.push_back(entry(stop, channel, face));
        }
    return entries;
  }

  [[nodiscard]] bool solve_at_prior() {
    if (solved_.trouble()) return false;
    SurveyFit nothing(run_, &kit_, wish_.stage);
    return nothing.fit().ok() && solved_.solver().solve(nothing.fitted().state()).ok();
  }

 private:
  sheet::ReadingEntry entry(const PlanStop& stop, Channel channel, int face) const {
    const sheet::KitChannel* const of = kit_.find(stop.instrument, channel);
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
  static survey::Reading<double> reading_of(const sheet::ReadingEntry& entry) {
    survey::Reading<double> reading;
    reading.channel = entry.channel;
    reading.edge = entry.edge;
    reading.face = std::int8_t(entry.face);
    reading.at_m = entry.at_m;
    reading.base_m = entry.base_m;
    reading.sigma = entry.sigma;
    return reading;
  }
  double predicted(const survey::Reading<double>& reading) const {
    return survey::predicted<double>({&solved_.solver(), wish_.stage, run_.length_m, run_.width_m}, reading,
                                     {});
  }

  // What is read whatever else is: instruments that stay; and the first reading of each set-up, without which no other of it
  // says anything.
  std::vector<PlanStop> given(int set_ups) const {
    std::vector<PlanStop> stops;
    for (const sheet::KitInstrument& instrument : kit_.instruments)
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
          stop.at_m = run_.stations_m[run_.stations_m.size() / 2];
          for (int s = 1; s <= set_ups; ++s) {
            stop.set_up = std::to_string(s);
            stops.push_back(stop);
          }
        }
      }
    return stops;
  }

  // Ways to read at a station: `stop.at_m` is open.
  std::vector<Offer> offers(int set_ups) const {
    std::vector<Offer> all;
    using survey::Edge;
    const std::vector<Edge> edges =
        run_.width_m > 0 ? std::vector{Edge::middle, Edge::left, Edge::right} : std::vector{Edge::middle};
    for (const sheet::KitInstrument& instrument : kit_.instruments) {
      Offer stand;
      stand.stop.instrument = instrument.name;
      stand.stop.both_faces = true;
      bool rolls = false;
      for (const sheet::KitChannel& channel : instrument.channels) {
        if (!is_measured_of_run(channel.gives) || channel.station_m) continue;
        if (channel.gives == Channel::distance) {
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
        } else {
          rolls = rolls || channel.gives == Channel::roll;
          stand.stop.channels.push_back(channel.gives);
          stand.channels.push_back(&channel);
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

  survey::Reading<double> weighed(const Offer& offer, const sheet::KitChannel& channel,
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

  bool choose(int set_ups, Plan& plan) {
    std::vector<PlanStop> stops = given(set_ups);
    const auto session = fitted(stops);
    if (session == nullptr) return false;
    const std::vector<Offer> all = offers(set_ups);
    std::vector<survey::Reading<double>> stands, distances;
    std::vector<const Offer*> stand_of, distance_of;
    for (const Offer& offer : all)
      for (const sheet::KitChannel* const channel : offer.channels) {
        (offer.stop.both_faces ? stands : distances).push_back(weighed(offer, *channel, session->survey()));
        (offer.stop.both_faces ? stand_of : distance_of).push_back(&offer);
      }
    if (!best_possible(set_ups, stands, distances, plan)) return false;

    fit::Fit<double>& fit = session->fitted();
    const std::size_t first_chosen = stops.size();
    int count = 0;
    for (const PlanStop& stop : stops) count += stop.readings();
    for (;;) {
      const auto stand = fit.next_reading(stands);
      const auto distance = fit.next_reading(distances);
      if (!stand || !distance) return false;
      const double now = stand.value().sigma_now_m;
      const bool sure = now <= wish_.wanted_m ||
                        (plan.sigma_at_best_m > wish_.wanted_m && now <= kEnough * plan.sigma_at_best_m);
      if (sure && wish_.what == PlanFor::levelling)
        break;  // for a recheck more is chosen, and shortened later
      const auto gain = [&](const fit::NextReadingGain<double>& of, int readings) {
        return of.reading.instrument < 0 ? -1 : (now * now - of.sigma_after_m * of.sigma_after_m) / readings;
      };
      const bool take_stand = gain(stand.value(), 2) >= gain(distance.value(), 1);
      const fit::NextReading best = (take_stand ? stand : distance).value().reading;
      if (best.instrument < 0) break;
      const Offer& offer = *(take_stand ? stand_of : distance_of)[std::size_t(best.instrument)];
      PlanStop stop = offer.stop;
      stop.at_m = run_.stations_m[std::size_t(best.station)];
      if (count + stop.readings() > kMostPlanned) break;
      count += stop.readings();
      stops.push_back(std::move(stop));
      for (const sheet::KitChannel* const channel : offer.channels) {
        survey::Reading<double> reading = weighed(offer, *channel, session->survey());
        reading.at_m = stops.back().at_m;
        reading.value = predicted(reading);
        if (!fit.add(reading)) return false;
      }
    }
    if (wish_.what == PlanFor::recheck) return shorten(stops, first_chosen, plan);
    for (const bool checked : {false, true}) {
      if (checked && wish_.least_redundancy <= 0) break;
      if (checked && !add_checks(stops)) return false;
      if (!improve(stops, checked)) return false;
      // Exchanges end where no single one helps; from an even walk they may end better.
      std::vector<PlanStop> even = evenly(stops);
      if (checked && !add_checks(even)) return false;
      if (!improve(even, checked)) return false;
      if (cost(even) <= cost(stops)) stops = std::move(even);
    }
    return conclude(stops, plan);
  }

  bool improve(std::vector<PlanStop>& stops, bool checked) const {
    std::size_t before = 0;
    do {
      before = stops.size();
      if (!exchange(stops, checked) || !shed(stops, checked)) return false;
    } while (stops.size() < before);
    return true;
  }

  // How far it falls short, then readings, then what is left open.
  std::tuple<double, int, double> cost(const std::vector<PlanStop>& stops) const {
    Addition now;
    if (!best_addition(stops, true, now)) return {std::numeric_limits<double>::infinity(), 0, 0};
    int readings = 0;
    for (const PlanStop& stop : stops) readings += stop.readings();
    return {std::max(now.sigma_now_m, wish_.wanted_m), readings, now.sigma_now_m};
  }

  // The same instruments as often, each spread evenly along the run.
  std::vector<PlanStop> evenly(const std::vector<PlanStop>& stops) const {
    std::vector<PlanStop> even = stops;
    const auto together = [](const PlanStop& a, const PlanStop& b) {
      return !a.stays && !b.stays && a.instrument == b.instrument && a.channels == b.channels &&
             a.set_up == b.set_up;
    };
    for (std::size_t k = 0; k < even.size(); ++k) {
      if (even[k].stays) continue;
      std::size_t nth = 0, count = 0;
      for (std::size_t i = 0; i < even.size(); ++i)
        if (together(even[i], even[k])) {
          nth += i < k ? 1 : 0;
          ++count;
        }
      const double share = count == 1 ? 0.5 : double(nth) / double(count - 1);
      even[k].at_m = run_.stations_m[std::size_t(std::lround(share * double(run_.stations_m.size() - 1)))];
      even[k].edge = survey::Edge::middle;
    }
    return even;
  }

  // The best place for one more stand of an inclinometer, or one more distance in a set-up that the stops have.
  struct Addition {
    PlanStop stop;
    double sigma_now_m = 0, sigma_m = 0;
    bool found = false;
  };
  bool best_addition(const std::vector<PlanStop>& stops, bool stand, Addition& out) const {
    const auto session = fitted(stops);
    if (session == nullptr) return false;
    const std::vector<Offer> all = offers(int(session->survey().set_ups.size()));
    std::vector<survey::Reading<double>> candidates;
    std::vector<const Offer*> of;
    for (const Offer& offer : all)
      for (const sheet::KitChannel* const channel : offer.channels) {
        if (offer.stop.both_faces != stand) continue;
        candidates.push_back(weighed(offer, *channel, session->survey()));
        of.push_back(&offer);
        if (stand || candidates.back().set_up >= 0) continue;
        candidates.pop_back();
        of.pop_back();
      }
    const auto best = session->fitted().next_reading(candidates);
    if (!best) return false;
    out.sigma_now_m = out.sigma_m = best.value().sigma_now_m;
    out.found = best.value().reading.instrument >= 0;
    if (!out.found) return true;
    out.stop = of[std::size_t(best.value().reading.instrument)]->stop;
    out.stop.at_m = run_.stations_m[std::size_t(best.value().reading.station)];
    out.sigma_m = best.value().sigma_after_m;
    return true;
  }

  // What was chosen early may stand better elsewhere, now that the others are known; where all are checked, they stay so.
  bool exchange(std::vector<PlanStop>& stops, bool checked) const {
    if (stops.size() > kMostExchanged) return true;
    Addition all;
    if (!best_addition(stops, true, all)) return false;
    double now = all.sigma_now_m;
    bool better = true;
    for (int pass = 0; pass < kMostPasses && better; ++pass) {
      better = false;
      for (std::size_t k = 0; k < stops.size(); ++k) {
        if (stops[k].stays) continue;
        std::vector<PlanStop> others = stops;
        others.erase(others.begin() + std::ptrdiff_t(k));
        Addition other;
        if (!best_addition(others, stops[k].both_faces, other)) return false;
        if (!other.found || !(other.sigma_m < kBetter * now)) continue;
        others = stops;
        others[k] = other.stop;
        if (checked && unchecked(others) != 0) continue;
        stops = std::move(others);
        now = other.sigma_m;
        better = true;
      }
    }
    return true;
  }

  // Those without which it is sure enough as well go, the one that matters least first.
  bool shed(std::vector<PlanStop>& stops, bool checked) const {
    if (stops.size() > kMostExchanged) return true;
    for (;;) {
      double least_m = wish_.wanted_m;
      std::vector<PlanStop> fewer;
      for (std::size_t k = 0; k < stops.size(); ++k) {
        if (stops[k].stays) continue;
        std::vector<PlanStop> others = stops;
        others.erase(others.begin() + std::ptrdiff_t(k));
        Addition without;
        if (!best_addition(others, true, without)) return false;
        if (without.sigma_now_m > least_m || (checked && unchecked(others) != 0)) continue;
        least_m = without.sigma_now_m;
        fewer = std::move(others);
      }
      if (fewer.empty()) return true;
      stops = std::move(fewer);
    }
  }

  // With every offer taken a million times at every station.
  bool best_possible(int set_ups, const std::vector<survey::Reading<double>>& stands,
                     const std::vector<survey::Reading<double>>& distances, Plan& plan) const {
    const auto session = fitted(given(set_ups));
    if (session == nullptr) return false;
    for (const auto* const some : {&stands, &distances})
      for (survey::Reading<double> reading : *some)
        for (const double x : run_.stations_m) {
          reading.at_m = x;
          reading.value = predicted(reading);
          reading.sigma *= kEndless;
          if (!session->fitted().add(reading)) return false;
        }
    const auto left = session->fitted().next_reading({});
    if (!left) return false;
    plan.sigma_at_best_m = left.value().sigma_now_m;
    return true;
  }

  static bool same_place(const PlanStop& a, const PlanStop& b) {
    return a.instrument == b.instrument && a.at_m == b.at_m && a.edge == b.edge && a.set_up == b.set_up &&
           a.channels == b.channels && a.stays == b.stays && a.mark == b.mark;
  }

  // Equal stops together, the only reading of a set-up left out, in the order of a walk.
  std::vector<PlanStop> tidy(const std::vector<PlanStop>& stops) const {
    std::vector<PlanStop> walk;
    for (const PlanStop& stop : stops) {
      const bool alone = !stop.stays && stop.channels.front() == Channel::distance &&
                         std::count_if(stops.begin(), stops.end(),
                                       [&](const PlanStop& each) { return each.set_up == stop.set_up; }) == 1;
      if (alone) continue;
      const auto same = std::find_if(walk.begin(), walk.end(),
                                     [&](const PlanStop& each) { return same_place(each, stop); });
      if (same == walk.end())
        walk.push_back(stop);
      else
        ++same->times;
    }
    if (wish_.what == PlanFor::recheck) add_marks(run_, walk);
    const auto place = [](const PlanStop& stop) {
      return std::tuple(stop.set_up.empty() ? std::string("1") : stop.set_up, !stop.mark.empty(), stop.at_m,
                        -int(stop.edge), stop.channels.front());
    };
    std::stable_sort(walk.begin(), walk.end(),
                     [&](const PlanStop& a, const PlanStop& b) { return place(a) < place(b); });
    return walk;
  }

  // One reading of each mark in each set-up.
  static void add_marks(const sheet::RunSheet& run, std::vector<PlanStop>& walk) {
    std::vector<PlanStop> marks;
    for (const PlanStop& stop : walk) {
      const bool first = stop.channels.front() == Channel::distance && !stop.stays &&
                         std::none_of(marks.begin(), marks.end(),
                                      [&](const PlanStop& each) { return each.set_up == stop.set_up; });
      if (!first) continue;
      for (const sheet::Mark& mark : run.marks) {
        marks.push_back(stop);
        marks.back().mark = mark.name;
        marks.back().at_m = mark.at_m;
        marks.back().edge = survey::Edge::middle;
        marks.back().times = 1;
      }
    }
    walk.insert(walk.end(), marks.begin(), marks.end());
  }

  // More, until no stop is left of which a mistake would hardly show.
  bool add_checks(std::vector<PlanStop>& stops) const {
    for (;;) {
      const std::vector<PlanStop> walk = tidy(stops);
      const auto session = fitted(walk);
      if (session == nullptr) return false;
      const Checked checked = check(*session, walk);
      if (checked.unchecked == 0) return true;
      const std::vector<double> read = places(walk);
      PlanStop more = checked.least != nullptr ? *checked.least : offers(1).front().stop;
      more.times = 1;
      if (int(session->readings().size()) + more.readings() > kMostPlanned) return true;
      if (too_few(read)) {
        more.at_m = farthest(read);
        stops.push_back(std::move(more));
        continue;
      }
      // One more where it tells most, if that shows mistakes as well as reading the same again.
      Addition addition;
      if (!best_addition(walk, more.both_faces, addition)) return false;
      stops.push_back(more);
      if (!addition.found) continue;
      const std::optional<int> same = unchecked(stops);
      stops.back() = addition.stop;
      const std::optional<int> elsewhere = unchecked(stops);
      if (!same || !elsewhere) return false;
      if (*elsewhere > *same) stops.back() = more;
    }
  }

  bool conclude(const std::vector<PlanStop>& stops, Plan& plan) const {
    std::vector<PlanStop> walk = tidy(stops);
    const auto session = fitted(walk);
    if (session == nullptr) return false;
    plan.readings = int(session->readings().size());
    plan.walk = std::move(walk);
    const auto now = session->fitted().next_reading({});
    if (!now) return false;
    plan.sigma_m = now.value().sigma_now_m;
    if (wish_.what == PlanFor::levelling) {
      plan.certainty_m = plan.sigma_m;
    } else {
      if (!find_movements(plan)) return false;
      plan.certainty_m = worst(plan.movements);
    }
    plan.reached = plan.certainty_m <= wish_.wanted_m;
    return find_left_open(*session, plan) && find_not_apart(*session, plan);
  }

  std::unique_ptr<SurveyFit> fitted(const std::vector<PlanStop>& stops) const {
    auto session = std::make_unique<SurveyFit>(run_, &kit_, wish_.stage);
    for (sheet::ReadingEntry& each : readings(stops)) session->add(std::move(each));
    return session->fit().ok() ? std::move(session) : nullptr;
  }

  // The stops of which a mistake would hardly show, and that where it would least; instruments that stay, and marks, apart.
  struct Checked {
    int unchecked = 0;
    const PlanStop* least = nullptr;
  };
  Checked check(SurveyFit& session, const std::vector<PlanStop>& walk) const {
    Checked result;
    double redundancy = wish_.least_redundancy;
    for (const PlanStop& stop : walk) {
      if (stop.stays || !stop.mark.empty()) continue;
      double here = wish_.least_redundancy;
      for (const Channel channel : stop.channels) {
        const double one = kit_.find(stop.instrument, channel)->sigma;
        const double variance = one * one / (stop.both_faces ? 2 : 1);
        here = std::min(here, 1 - variance_there(session, stop, channel) / variance);
      }
      if (here < wish_.least_redundancy) ++result.unchecked;
      if (here < redundancy || result.least == nullptr) {
        redundancy = here;
        result.least = &stop;
      }
    }
    // Too few places count as one more, as long as something can be carried to another.
    if (too_few(places(walk)) && !offers(1).empty()) ++result.unchecked;
    return result;
  }

  static std::vector<double> places(const std::vector<PlanStop>& walk) {
    std::vector<double> at;
    for (const PlanStop& stop : walk)
      if (stop.mark.empty()) at.push_back(stop.at_m);
    std::sort(at.begin(), at.end());
    at.erase(std::unique(at.begin(), at.end()), at.end());
    return at;
  }
  bool too_few(const std::vector<double>& read) const {
    return read.size() < std::min(std::size_t(kLeastPlaces), run_.stations_m.size());
  }
  // The station farthest from all of these.
  double farthest(const std::vector<double>& from) const {
    const auto nearest = [&](double x) {
      double least = run_.length_m;
      for (const double each : from) least = std::min(least, std::abs(x - each));
      return least;
    };
    return *std::max_element(run_.stations_m.begin(), run_.stations_m.end(),
                             [&](double a, double b) { return nearest(a) < nearest(b); });
  }
  std::optional<int> unchecked(const std::vector<PlanStop>& stops) const {
    const std::vector<PlanStop> walk = tidy(stops);
    const auto session = fitted(walk);
    if (session == nullptr) return std::nullopt;
    return check(*session, walk).unchecked;
  }

  // Variance of what the fit says that a reading should be, its zero error apart.
  double variance_there(SurveyFit& session, const PlanStop& stop, Channel channel) const {
    fit::Fit<double>& fit = session.fitted();
    const auto unknowns = std::size_t(fit.unknowns());
    std::vector<double> row(unknowns), other(unknowns);
    const auto less = [&](double factor) {
      for (std::size_t k = 0; k < unknowns; ++k) row[k] -= factor * other[k];
    };
    const double across = int(stop.edge) * run_.width_m / 2;
    switch (channel) {
      case Channel::roll:
        (void)fit.roll(stop.at_m, false, row);
        break;
      case Channel::slope: {
        // Without feet, as if they stood a thousandth of the run apart.
        const double base_m = kit_.find(stop.instrument, Channel::slope)->base_m;
        const double base = base_m > 0 ? std::min(base_m, run_.length_m) : run_.length_m * 1e-3;
        const double first = std::clamp(stop.at_m - base / 2, 0.0, run_.length_m - base);
        (void)fit.height(first + base, across, false, row);
        (void)fit.height(first, across, false, other);
        less(1);
        for (double& each : row) each /= base;
        break;
      }
      case Channel::distance: {
        (void)fit.height(stop.at_m, across, false, row);
        const auto& set_ups = session.survey().set_ups;
        const auto set_up = std::find(set_ups.begin(), set_ups.end(), stop.set_up) - set_ups.begin();
        for (int u = 0; u < session.unknowns().count; ++u) {
          const fit::Unknown& unknown = session.unknowns().unknown[u];
          if (unknown.index != set_up) continue;
          if (unknown.kind != fit::UnknownKind::datum_height && unknown.kind != fit::UnknownKind::datum_tilt)
            continue;
          fit.factor_row(u, other);
          less(unknown.kind == fit::UnknownKind::datum_height ? 1 : stop.at_m);
        }
        break;
      }
      case Channel::temperature:
      case Channel::station:
        break;
    }
    return std::inner_product(row.begin(), row.end(), row.begin(), 0.0);
  }

  // ---- what stays open ----------------------------------------------------------------------------------------------

  bool find_left_open(SurveyFit& session, Plan& plan) const {
    fit::Fit<double>& fit = session.fitted();
    const auto unknowns = std::size_t(fit.unknowns());
    const std::size_t points = 2 * run_.stations_m.size();
    std::vector<double> height(points), factor(points * unknowns), mean(unknowns), row(unknowns);
    if (!fit.finished(height, factor)) return false;
    for (std::size_t i = 0; i < points; ++i)
      for (std::size_t j = 0; j < unknowns; ++j) mean[j] += factor[i * unknowns + j] / double(points);
    for (std::size_t u = 0; u < unknowns; ++u) {
      fit.factor_row(int(u), row);
      const double variance = std::inner_product(row.begin(), row.end(), row.begin(), 0.0);
      double taken = 0;
      for (std::size_t i = 0; i < points; ++i) {
        double covariance = 0;
        for (std::size_t j = 0; j < unknowns; ++j)
          covariance += (factor[i * unknowns + j] - mean[j]) * row[j];
        taken += covariance * covariance / variance;
      }
      const double after = std::sqrt(std::max(0.0, plan.sigma_m * plan.sigma_m - taken / double(points)));
      if (!(after < kWorth * plan.sigma_m)) continue;
      const fit::Unknown& unknown = session.unknowns().unknown[u];
      const std::string name = named(session, unknown);
      plan.leaves_open.push_back({name, plain_words(run_, unknown, name), after});
    }
    std::stable_sort(
        plan.leaves_open.begin(), plan.leaves_open.end(),
        [](const LeavesOpen& a, const LeavesOpen& b) { return a.sigma_after_m < b.sigma_after_m; });
    if (plan.leaves_open.size() > std::size_t(kMostLeftOpen))
      plan.leaves_open.resize(std::size_t(kMostLeftOpen));
    return true;
  }

  // Zero errors are numbered as the kit lists its channels; without a reading of one, the survey does not name it.
  std::string named(const SurveyFit& session, const fit::Unknown& unknown) const {
    std::vector<std::string> zeros;
    for (const sheet::KitInstrument& instrument : kit_.instruments)
      for (const sheet::KitChannel& channel : instrument.channels)
        if (is_measured_of_run(channel.gives) && channel.zero_sigma > 0)
          zeros.push_back(instrument.name + ' ' + std::string(word(channel.gives)));
    const bool datum =
        unknown.kind == fit::UnknownKind::datum_height || unknown.kind == fit::UnknownKind::datum_tilt;
    if (datum && std::size_t(unknown.index) >= session.survey().set_ups.size()) return "";
    return name_of(run_, session.survey(), zeros, unknown);
  }

  // Not an instrument that is not read, nor a support that is not there.
  bool concerns(const SurveyFit& session, const fit::Unknown& unknown) const {
    if (unknown.kind == fit::UnknownKind::zero)
      return std::any_of(session.survey().readings.begin(), session.survey().readings.end(),
                         [&](const survey::Reading<double>& each) { return each.zero == unknown.index; });
    using Kind = beam::ParameterKind;
    const Kind kind = unknown.shape.kind;
    const bool of_support =
        kind <= Kind::offset_roll || (kind >= Kind::spring_rise && kind <= Kind::spring_roll);
    return !of_support || listed(run_, wish_.stage, unknown.shape.index);
  }

  bool find_not_apart(SurveyFit& session, Plan& plan) const {
    fit::Fit<double>& fit = session.fitted();
    const int unknowns = fit.unknowns();
    const beam::Stage now = run_.beam_stages[std::size_t(wish_.stage)];
    std::vector<int> group(std::size_t(unknowns), 0);
    std::iota(group.begin(), group.end(), 0);
    NotApart later{}, unseen{};
    std::vector<std::string> later_words;
    for (int i = 0; i < unknowns; ++i) {
      const fit::Unknown& one = session.unknowns().unknown[i];
      const std::string name = named(session, one);
      if (name.empty() || !concerns(session, one)) continue;
      if (fit.estimate(i).learned < kNotLearned) {
        const bool to_come = one.kind == fit::UnknownKind::shape &&
                             one.shape.kind == beam::ParameterKind::load && !now.lists_load(one.shape.index);
        (to_come ? later : unseen).names.push_back(name);
        if (to_come) later_words.push_back(plain_words(run_, one, name));
        continue;
      }
      for (int j = 0; j < i; ++j) {
        const double spread = fit.estimate(i).sigma * fit.estimate(j).sigma;
        if (std::abs(fit.covariance(i, j)) <= kNotApart * spread ||
            named(session, session.unknowns().unknown[j]).empty())
          continue;
        const int from = group[std::size_t(i)], to = group[std::size_t(j)];
        std::replace(group.begin(), group.end(), from, to);
      }
    }
    for (int g = 0; g < unknowns; ++g) {
      NotApart together;
      std::vector<std::string> words;
      for (int i = 0; i < unknowns; ++i) {
        if (group[std::size_t(i)] != g) continue;
        together.names.push_back(named(session, session.unknowns().unknown[i]));
        words.push_back(plain_words(run_, session.unknowns().unknown[i], together.names.back()));
      }
      if (words.size() < 2) continue;
      together.words = as_sentence(in_a_row(words)) + ": only what they do together shows.";
      plan.not_apart.push_back(std::move(together));
    }
    if (!later.names.empty()) {
      later.words = as_sentence(in_a_row(later_words)) + ": not on yet, so taken as the sheet has it.";
      plan.not_learned.push_back(std::move(later));
    }
    if (!unseen.names.empty()) {
      unseen.words = "Hardly learned, so taken as the sheet has it: " + in_a_row(unseen.names) + '.';
      plan.not_learned.push_back(std::move(unseen));
    }
    return true;
  }

  // ---- recheck ------------------------------------------------------------------------------------------------------

  static double worst(const std::vector<SmallestMovement>& movements) {
    double most = 0;
    for (const SmallestMovement& each : movements)
      if (each.motion == "rise") most = std::max(most, each.smallest);
    return most;
  }

  // As few of the stops, in the order they were chosen, as suffice.
  bool shorten(const std::vector<PlanStop>& stops, std::size_t first_chosen, Plan& plan) {
    const auto enough = [&](std::size_t count, bool& fits) {
      const std::vector<PlanStop> some(stops.begin(), stops.begin() + std::ptrdiff_t(count));
      std::vector<SmallestMovement> movements;
      double whole_run_m = 0;
      fits = fits && detectable(run_, tidy(some), movements, &SmallestMovement::smallest, whole_run_m);
      return fits && worst(movements) <= wish_.wanted_m;
    };
    bool fits = true;
    std::size_t least = first_chosen, most = stops.size();
    if (enough(most, fits))
      while (fits && least < most) {
        const std::size_t middle = (least + most) / 2;
        if (enough(middle, fits))
          most = middle;
        else
          least = middle + 1;
      }
    if (!fits) return false;
    std::vector<PlanStop> some(stops.begin(), stops.begin() + std::ptrdiff_t(most));
    return add_checks(some) && conclude(some, plan);
  }

  bool find_movements(Plan& plan) const {
    plan.movements.clear();
    if (!detectable(run_, plan.walk, plan.movements, &SmallestMovement::smallest, plan.whole_run_m))
      return false;
    sheet::RunSheet marked = run_;
    marked.marks = {{"before the run", -0.1 * run_.length_m}, {"beyond the run", 1.1 * run_.length_m}};
    std::vector<PlanStop> walk = plan.walk;
    std::erase_if(walk, [](const PlanStop& stop) { return !stop.mark.empty(); });
    add_marks(marked, walk);
    return detectable(marked, walk, plan.movements, &SmallestMovement::with_two_marks,
                      plan.whole_run_with_two_marks_m);
  }

  // Two surveys with these readings: the smallest movement of each support that the second would show, and of the run as a
  // whole, higher or lower.
  bool detectable(const sheet::RunSheet& run, const std::vector<PlanStop>& walk,
                  std::vector<SmallestMovement>& movements, double SmallestMovement::*into,
                  double& whole_run_m) const {
    const std::vector<sheet::ReadingEntry> entries = readings(walk);
    SurveyFit first(run, &kit_, wish_.stage);
    for (const sheet::ReadingEntry& each : entries) first.add(each);
    if (!first.fit()) return false;
    const auto taught = first.carry(0);
    taught->forget_zeros();  // they are taken anew

    ChangesSince since;
    using Kind = beam::ParameterKind;
    const auto change = [&](Kind kind, int index, double wide) {
      since.changes.push_back({{kind, std::int16_t(index)}, {0, wide}});
    };
    const beam::Stage& stage = run.beam_stages[std::size_t(wish_.stage)];
    for (int i = 0; i < int(run.supports.size()); ++i)
      for (int m = 0; m < 3; ++m)
        if (listed(run, wish_.stage, i) && restraint(run, i, m).held)
          change(Kind(int(Kind::move_rise) + m), i, m == 0 ? kWide_m : kWide_rad);
    const std::size_t moves = since.changes.size();
    change(Kind::bending, 0, kWideStiffness);
    change(Kind::torsion, 0, kWideStiffness);
    for (int i = 0; i < int(run.loads.size()); ++i)
      if (stage.lists_load(i)) change(Kind::load, i, kWideLoad);
    for (int i = 0; i < run.priors.bows; ++i) change(Kind::bow, i, kWide_m);
    since.mark_sigma_m = kStable_m;
    const std::vector<fit::Change<double>> changes = since.changes;

    SurveyFit second(run, &kit_, wish_.stage, taught.get());
    second.expect_changes(std::move(since));
    for (const sheet::ReadingEntry& each : entries) second.add(each);
    if (!second.fit()) return false;
    std::vector<int> unknowns;
    std::vector<double> wide, prior;
    std::vector<std::size_t> which;  // of `changes`
    for (int u = 0; u < second.unknowns().count; ++u) {
      const fit::Unknown& unknown = second.unknowns().unknown[u];
      if (unknown.kind != fit::UnknownKind::change && unknown.kind != fit::UnknownKind::mark_change) continue;
      unknowns.push_back(u);
      prior.push_back(second.unknowns().prior[u].sigma);
      wide.push_back(unknown.kind == fit::UnknownKind::mark_change ? kWide_m : prior.back());
      const auto found = std::find_if(changes.begin(), changes.end(), [&](const fit::Change<double>& each) {
        return unknown.kind == fit::UnknownKind::change && each.what == unknown.shape;
      });
      which.push_back(std::size_t(found - changes.begin()));
    }
    std::vector<double> triangle(unknowns.size() * unknowns.size()), right(unknowns.size());
    second.fitted().information(unknowns, triangle, right);
    const auto judge = std::make_unique<change::Changes>();
    if (!judge->begin(int(unknowns.size()), wide, prior, triangle, right)) return false;
    for (std::size_t k = 0; k < which.size(); ++k) {
      if (which[k] >= moves) continue;
      const beam::Parameter what = changes[which[k]].what;
      const std::string& support = run.supports[std::size_t(what.index)].name;
      constexpr const char* kMotions[] = {"rise", "pitch", "roll"};
      const std::string motion = kMotions[int(what.kind) - int(Kind::move_rise)];
      auto known = std::find_if(movements.begin(), movements.end(), [&](const SmallestMovement& each) {
        return each.support == support && each.motion == motion;
      });
      if (known == movements.end()) known = movements.insert(movements.end(), {support, motion});
      (*known).*into = judge->smallest_detectable(int(k), kRecheckConfidence, kRecheckPower);
    }
    // Mean change of height over the stations, two-sided normal test by itself.
    constexpr double kFound = 1.959964 + 0.841621;  // quantiles of 97.5 % and of the power, 80 %
    std::vector<double> mean(std::size_t(second.unknowns().count)), row(mean.size());
    for (const double x : run.stations_m) {
      if (!second.fitted().height(x, 0, true, row)) return false;
      for (std::size_t u = 0; u < row.size(); ++u) mean[u] += row[u] / double(run.stations_m.size());
    }
    const double size = kFound * std::sqrt(std::inner_product(mean.begin(), mean.end(), mean.begin(), 0.0));
    if (size < kWide_m) whole_run_m = size;
    return true;
  }

  const sheet::RunSheet& run_;
  const sheet::KitSheet& kit_;
  PlanWish wish_;
  SolvedRun solved_;  // at what is assumed before any reading
  Plan plan_, best_;
};

}  // namespace

int planned_stage(const sheet::RunSheet& run, PlanFor what) {
  const int finished = run.tolerance.stage;
  if (what == PlanFor::recheck) return finished;
  for (int stage = 0; stage < finished; ++stage)
    if (run.beam_stages[std::size_t(stage)].supports == run.beam_stages[std::size_t(finished)].supports)
      return stage;
  return finished;
}

PlanOrComplaint make_plan(const sheet::RunSheet& run, const sheet::KitSheet& kit, const PlanWish& wish) {
  const bool reads = std::any_of(kit.instruments.begin(), kit.instruments.end(), [](const auto& instrument) {
    return std::any_of(instrument.channels.begin(), instrument.channels.end(),
                       [](const auto& channel) { return is_measured_of_run(channel.gives); });
  });
  if (!reads)
    return {std::nullopt, sheet::Complaint{kit.file, 0, "instrument.channel", "no channel that reads the run",
                                           "at least one that gives slope, roll or distance"}};
  return Planner(run, kit, wish).make();
}

std::vector<sheet::ReadingEntry> planned_readings(const sheet::RunSheet& run, const sheet::KitSheet& kit,
                                                  const Plan& plan) {
  Planner planner(run, kit, plan.wish);
  return planner.solve_at_prior() ? planner.readings(plan.walk) : std::vector<sheet::ReadingEntry>{};
}

// ---- shown ------------------------------------------------------------------------------------------------------------

nlohmann::ordered_json plan_json(const sheet::RunSheet& run, const Plan& plan) {
  using Json = nlohmann::ordered_json;
  const auto finite = [](double value) { return std::isfinite(value) ? Json(value) : Json(); };
  Json json;
  json["run"] = run.title;
  json["stage"] = run.stages[std::size_t(plan.wish.stage)];
  json["for"] = plan.wish.what == PlanFor::levelling ? "levelling" : "recheck";
  json["wanted_m"] = plan.wish.wanted_m;
  json["reached"] = plan.reached;
  json["certainty_m"] = finite(plan.certainty_m);
  json["sigma_before_m"] = plan.sigma_before_m;
  json["sigma_m"] = plan.sigma_m;
  json["sigma_at_best_m"] = plan.sigma_at_best_m;
  json["readings"] = plan.readings;
  json["walk"] = Json::array();
  for (const PlanStop& stop : plan.walk) {
    Json channels = Json::array();
    for (const Channel channel : stop.channels) channels.push_back(word(channel));
    Json& one = json["walk"].emplace_back(Json{{"at_m", stop.at_m},
                                               {"instrument", stop.instrument},
                                               {"channels", channels},
                                               {"edge", say::word(stop.edge)},
                                               {"faces", stop.both_faces ? Json{1, -1} : Json{1}},
                                               {"times", stop.times},
                                               {"stays", stop.stays}});
    if (!stop.set_up.empty()) one["set_up"] = stop.set_up;
    if (!stop.mark.empty()) one["mark"] = stop.mark;
  }
  json["leaves_open"] = Json::array();
  for (const LeavesOpen& open : plan.leaves_open)
    json["leaves_open"].push_back({{"name", open.name}, {"sigma_if_known_m", open.sigma_after_m}});
  for (const auto& [key, groups] :
       {std::pair{"not_apart", &plan.not_apart}, {"not_learned", &plan.not_learned}}) {
    json[key] = Json::array();
    for (const NotApart& group : *groups)
      json[key].push_back({{"names", group.names}, {"words", group.words}});
  }
  if (plan.wish.what == PlanFor::recheck) {
    json["confidence"] = kRecheckConfidence;
    json["power"] = kRecheckPower;
    json["movements"] = Json::array();
    for (const SmallestMovement& each : plan.movements) {
      const std::string unit = each.motion == "rise" ? "_m" : "_rad";
      json["movements"].push_back({{"support", each.support},
                                   {"motion", each.motion},
                                   {"smallest" + unit, finite(each.smallest)},
                                   {"with_two_marks" + unit, finite(each.with_two_marks)}});
    }
    json["whole_run_m"] = finite(plan.whole_run_m);
    json["whole_run_with_two_marks_m"] = finite(plan.whole_run_with_two_marks_m);
  }
  return json;
}

namespace {

std::string counted(int count, const std::string& one) {
  return std::to_string(count) + ' ' + one + (count == 1 ? "" : "s");
}

std::string walk_view(const sheet::RunSheet& run, const Plan& plan) {
  std::string text;
  std::string set_up;
  for (const PlanStop& stop : plan.walk) {
    const std::string of = stop.set_up.empty() ? "1" : stop.set_up;
    if (of != set_up) {
      text += text.empty() ? "" : '\n' + say::folded("Set the laser up anew (set-up " + of + "), then:");
      text += say::column("at", 18) + say::column("instrument", 24) + say::column("read", 14) +
              say::column("edge", 8) + say::column("ways", 7) + "times\n";
      set_up = of;
    }
    std::string channels;
    for (const Channel channel : stop.channels)
      channels += (channels.empty() ? "" : ", ") + std::string(word(channel));
    const std::string at = stop.mark.empty() ? sheet::show_place(stop.at_m, run.show) : "mark " + stop.mark;
    text += say::column(at, 18) + say::column(stop.instrument, 24) + say::column(channels, 14) +
            say::column(stop.mark.empty() ? std::string(say::word(stop.edge)) : "", 8) +
            say::column(stop.stays        ? "stays"
                        : stop.both_faces ? "both"
                                          : "",
                        7) +
            std::to_string(stop.times) + '\n';
  }
  return text;
}

std::string movement(const std::string& motion, double size, sheet::Show show) {
  if (!std::isfinite(size)) return "not seen";
  return motion == "rise" ? sheet::show_fine(size, show) : sheet::show_slope(size, show);
}

std::string movements_view(const sheet::RunSheet& run, const Plan& plan) {
  std::string text = '\n' + say::heading("Smallest movement that two such surveys would show");
  text += say::column("support", 26) + say::column("motion", 10) + say::column("so", 16) +
          "with two stable marks\n";
  for (const SmallestMovement& each : plan.movements)
    text += say::column(each.support, 26) + say::column(each.motion, 10) +
            say::column(movement(each.motion, each.smallest, run.show), 16) +
            movement(each.motion, each.with_two_marks, run.show) + '\n';
  text += say::column("the whole run", 26) + say::column("rise", 10) +
          say::column(movement("rise", plan.whole_run_m, run.show), 16) +
          movement("rise", plan.whole_run_with_two_marks_m, run.show) + '\n';
  text += say::folded(
      "Found four times in five; chance alone makes a false alarm once in twenty, all that is looked at "
      "together. " +
      std::string(run.marks.empty() ? "The sheet has no stable mark"
                                    : "The marks of the sheet are read in each set-up") +
      "; the two marks would stand one beyond each end, and be read once in each survey.");
  return text;
}

}  // namespace

std::string plan_view(const sheet::RunSheet& run, const Plan& plan) {
  const auto fine = [&](double length) { return sheet::show_fine(length, run.show); };
  const bool levelling = plan.wish.what == PlanFor::levelling;
  const std::string stage = '"' + run.stages[std::size_t(plan.wish.stage)] + '"';
  std::string text = say::heading(run.title);
  text += say::folded(levelling ? "Where to read at stage " + stage +
                                      ", to know the heights of the finished run (less their mean) to +- " +
                                      fine(plan.wish.wanted_m) + ", one standard deviation."
                                : "Where to read at stage " + stage +
                                      ", now and at the recheck, to find any support that rose or "
                                      "sank by " +
                                      fine(plan.wish.wanted_m) + " in between.");
  const std::string effort = counted(plan.readings, "reading");
  if (levelling)
    text += say::folded((plan.reached ? "Reached with " + effort + ": +- " + fine(plan.sigma_m)
                                      : "Not reached: with " + effort + " +- " + fine(plan.sigma_m)) +
                        " (nothing read: +- " + fine(plan.sigma_before_m) +
                        "; read without end, with this kit and at this stage: +- " +
                        fine(plan.sigma_at_best_m) + ").");
  else
    text += say::folded(
        plan.reached ? "Reached with " + effort + " in each survey: " + fine(plan.certainty_m) + '.'
        : std::isfinite(plan.certainty_m)
            ? "Not reached: with " + effort + " in each survey " + fine(plan.certainty_m) + '.'
            : "Not reached: with " + effort + " in each survey some support could move by any size unseen.");
  text += '\n' + walk_view(run, plan);
  if (!levelling) text += movements_view(run, plan);
  if (levelling && !plan.leaves_open.empty()) {
    text += '\n' + say::heading(plan.reached ? "What leaves most open" : "What stands in the way");
    for (const LeavesOpen& open : plan.leaves_open)
      text += say::folded(
          as_sentence(open.words) + ": if it were known, +- " + fine(open.sigma_after_m) + '.', 2);
  }
  if (!plan.not_apart.empty() || !plan.not_learned.empty()) {
    text += '\n' + say::heading("What these readings cannot tell apart");
    for (const auto* const groups : {&plan.not_apart, &plan.not_learned})
      for (const NotApart& group : *groups) text += say::folded(group.words, 2);
  }
  return text + '\n' +
         say::folded(
             "All this rests on the run as the sheet predicts it and on the sigmas of sheet and kit. Ways: "
             "both is face 1 "
             "and face 2, the instrument turned round.");
}

}  // namespace hangtrue::job
