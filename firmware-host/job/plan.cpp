#include "firmware-host/job/plan.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <tuple>
#include <utility>

#include "firmware-host/job/plan_check.hpp"
#include "firmware-host/job/plan_walk.hpp"
#include "firmware-host/job/smallest_movement.hpp"

namespace hangtrue::job {

namespace {

Stops without_stop(Stops stops, std::size_t k) {
  stops.erase(stops.begin() + std::ptrdiff_t(k));
  return stops;
}

// What can be read, as the fit weighs it; [i] belongs to the offer[i]. Stands are inclinometers, read both ways round.
struct Weighed {
  std::vector<survey::Reading<double>> readings;
  std::vector<const Offer*> offers;
};
Weighed weighed(const PlanGround& ground, const std::vector<Offer>& all, bool stands,
                const sheet::Survey& survey) {
  Weighed result;
  for (const Offer& offer : all) {
    if (offer.stop.both_faces != stands) continue;
    for (const sheet::KitChannel* const channel : offer.channels) {
      result.readings.push_back(ground.weighed(offer, *channel, survey));
      result.offers.push_back(&offer);
    }
  }
  return result;
}

// A step that gives false meets a run of which no plan can be made.
class Choice {
 public:
  explicit Choice(const PlanGround& ground) : ground_(ground) {}

  // The best plan with so many set-ups of the laser.
  bool make(int set_ups, Plan& plan) const;

 private:
  bool greedy(int set_ups, Plan& plan, Stops& stops) const;
  bool find_best_possible(int set_ups, const Weighed& stands, const Weighed& distances, Plan& plan) const;
  bool improve(Stops& stops, bool checked) const;
  [[nodiscard]] std::tuple<double, int, double> cost(const Stops& stops) const;
  [[nodiscard]] Stops evenly(const Stops& stops) const;
  bool exchange(Stops& stops, bool checked) const;
  bool shed(Stops& stops, bool checked) const;
  bool add_checks(Stops& stops) const;
  bool conclude(const Stops& stops, Plan& plan) const;
  bool shorten(const Stops& stops, std::size_t first_chosen, Plan& plan) const;
  bool find_movements(Plan& plan) const;
  [[nodiscard]] std::optional<double> worst_rise_of(const Stops& stops) const;

  // The best place for one more stand of an inclinometer, or one more distance in a set-up that the stops have.
  struct Addition {
    PlanStop stop;
    double sigma_now_m = 0, sigma_m = 0;
    bool found = false;
  };
  bool best_addition(const Stops& stops, bool stand, Addition& out) const;

  const PlanGround& ground_;
};

bool Choice::make(int set_ups, Plan& plan) const {
  Stops stops = ground_.given(set_ups);
  const std::size_t first_chosen = stops.size();
  if (!greedy(set_ups, plan, stops)) return false;
  if (ground_.wish.what == PlanFor::recheck) return shorten(stops, first_chosen, plan);
  for (const bool checked : {false, true}) {
    if (checked && ground_.wish.least_redundancy <= 0) break;
    if (checked && !add_checks(stops)) return false;
    if (!improve(stops, checked)) return false;
    // Exchanges end where no single one helps; from an even walk they may end better.
    Stops even = evenly(stops);
    if (checked && !add_checks(even)) return false;
    if (!improve(even, checked)) return false;
    if (cost(even) <= cost(stops)) stops = std::move(even);
  }
  return conclude(stops, plan);
}

// Each time what takes most variance away a reading. For a recheck more is chosen than levelling needs, and shortened later.
bool Choice::greedy(int set_ups, Plan& plan, Stops& stops) const {
  const PlanWish& wish = ground_.wish;
  const auto session = ground_.fitted(stops);
  if (session == nullptr) return false;
  const std::vector<Offer> all = ground_.offers(set_ups);
  const Weighed stands = weighed(ground_, all, true, session->survey());
  const Weighed distances = weighed(ground_, all, false, session->survey());
  if (!find_best_possible(set_ups, stands, distances, plan)) return false;

  fit::Fit<double>& fit = session->fitted();
  int count = readings_of(stops);
  for (;;) {
    const auto stand = fit.next_reading(stands.readings);
    const auto distance = fit.next_reading(distances.readings);
    if (!stand || !distance) return false;
    const double now = stand.value().sigma_now_m;
    const bool sure = now <= wish.wanted_m ||
                      (plan.sigma_at_best_m > wish.wanted_m && now <= kEnough * plan.sigma_at_best_m);
    if (sure && wish.what == PlanFor::levelling) return true;
    const auto gain = [&](const fit::NextReadingGain<double>& of, int readings) {
      return of.reading.instrument < 0 ? -1 : (now * now - of.sigma_after_m * of.sigma_after_m) / readings;
    };
    const bool take_stand = gain(stand.value(), 2) >= gain(distance.value(), 1);
    const fit::NextReading best = (take_stand ? stand : distance).value().reading;
    if (best.instrument < 0) return true;
    const Offer& offer = *(take_stand ? stands : distances).offers[std::size_t(best.instrument)];
    PlanStop stop = offer.stop;
    stop.at_m = ground_.run.stations_m[std::size_t(best.station)];
    if (count + stop.readings() > kMostPlanned) return true;
    count += stop.readings();
    stops.push_back(std::move(stop));
    for (const sheet::KitChannel* const channel : offer.channels) {
      survey::Reading<double> reading = ground_.weighed(offer, *channel, session->survey());
      reading.at_m = stops.back().at_m;
      reading.value = ground_.predicted(reading);
      if (!fit.add(reading)) return false;
    }
  }
}

// With every offer taken a million times at every station.
bool Choice::find_best_possible(int set_ups, const Weighed& stands, const Weighed& distances,
                                Plan& plan) const {
  const auto session = ground_.fitted(ground_.given(set_ups));
  if (session == nullptr) return false;
  for (const Weighed* const some : {&stands, &distances})
    for (survey::Reading<double> reading : some->readings)
      for (const double x : ground_.run.stations_m) {
        reading.at_m = x;
        reading.value = ground_.predicted(reading);
        reading.sigma *= kEndless;
        if (!session->fitted().add(reading)) return false;
      }
  const auto left = session->fitted().next_reading({});
  if (!left) return false;
  plan.sigma_at_best_m = left.value().sigma_now_m;
  return true;
}

bool Choice::improve(Stops& stops, bool checked) const {
  std::size_t before = 0;
  do {
    before = stops.size();
    if (!exchange(stops, checked) || !shed(stops, checked)) return false;
  } while (stops.size() < before);
  return true;
}

// How far it falls short, then readings, then what is left open.
std::tuple<double, int, double> Choice::cost(const Stops& stops) const {
  Addition now;
  if (!best_addition(stops, true, now)) return {std::numeric_limits<double>::infinity(), 0, 0};
  return {std::max(now.sigma_now_m, ground_.wish.wanted_m), readings_of(stops), now.sigma_now_m};
}

// The same instruments as often, each spread evenly along the run.
Stops Choice::evenly(const Stops& stops) const {
  Stops even = stops;
  const auto together = [](const PlanStop& a, const PlanStop& b) {
    return !a.stays && !b.stays && a.instrument == b.instrument && a.channels == b.channels &&
           a.set_up == b.set_up;
  };
  const std::vector<double>& stations = ground_.run.stations_m;
  for (std::size_t k = 0; k < even.size(); ++k) {
    if (even[k].stays) continue;
    std::size_t nth = 0, count = 0;
    for (std::size_t i = 0; i < even.size(); ++i)
      if (together(even[i], even[k])) {
        nth += i < k ? 1 : 0;
        ++count;
      }
    const double share = count == 1 ? 0.5 : double(nth) / double(count - 1);
    even[k].at_m = stations[std::size_t(std::lround(share * double(stations.size() - 1)))];
    even[k].edge = survey::Edge::middle;
  }
  return even;
}

bool Choice::best_addition(const Stops& stops, bool stand, Addition& out) const {
  const auto session = ground_.fitted(stops);
  if (session == nullptr) return false;
  const std::vector<Offer> all = ground_.offers(int(session->survey().set_ups.size()));
  Weighed candidates = weighed(ground_, all, stand, session->survey());
  for (std::size_t i = candidates.readings.size(); !stand && i-- > 0;) {
    if (candidates.readings[i].set_up >= 0) continue;
    candidates.readings.erase(candidates.readings.begin() + std::ptrdiff_t(i));
    candidates.offers.erase(candidates.offers.begin() + std::ptrdiff_t(i));
  }
  const auto best = session->fitted().next_reading(candidates.readings);
  if (!best) return false;
  out.sigma_now_m = out.sigma_m = best.value().sigma_now_m;
  out.found = best.value().reading.instrument >= 0;
  if (!out.found) return true;
  out.stop = candidates.offers[std::size_t(best.value().reading.instrument)]->stop;
  out.stop.at_m = ground_.run.stations_m[std::size_t(best.value().reading.station)];
  out.sigma_m = best.value().sigma_after_m;
  return true;
}

// What was chosen early may stand better elsewhere, now that the others are known; where all are checked, they stay so.
bool Choice::exchange(Stops& stops, bool checked) const {
  if (stops.size() > kMostExchanged) return true;
  Addition all;
  if (!best_addition(stops, true, all)) return false;
  double now = all.sigma_now_m;
  bool better = true;
  for (int pass = 0; pass < kMostPasses && better; ++pass) {
    better = false;
    for (std::size_t k = 0; k < stops.size(); ++k) {
      if (stops[k].stays) continue;
      Addition other;
      if (!best_addition(without_stop(stops, k), stops[k].both_faces, other)) return false;
      if (!other.found || !(other.sigma_m < kBetter * now)) continue;
      Stops changed = stops;
      changed[k] = other.stop;
      if (checked && unchecked(ground_, changed) != 0) continue;
      stops = std::move(changed);
      now = other.sigma_m;
      better = true;
    }
  }
  return true;
}

// Those without which it is sure enough as well go, the one that matters least first.
bool Choice::shed(Stops& stops, bool checked) const {
  if (stops.size() > kMostExchanged) return true;
  for (;;) {
    double least_m = ground_.wish.wanted_m;
    Stops fewer;
    for (std::size_t k = 0; k < stops.size(); ++k) {
      if (stops[k].stays) continue;
      Stops others = without_stop(stops, k);
      Addition without;
      if (!best_addition(others, true, without)) return false;
      if (without.sigma_now_m > least_m || (checked && unchecked(ground_, others) != 0)) continue;
      least_m = without.sigma_now_m;
      fewer = std::move(others);
    }
    if (fewer.empty()) return true;
    stops = std::move(fewer);
  }
}

// More, until no stop is left of which a mistake would hardly show.
bool Choice::add_checks(Stops& stops) const {
  for (;;) {
    const Stops walk = ground_.tidy(stops);
    const auto session = ground_.fitted(walk);
    if (session == nullptr) return false;
    const Checked checked = check(ground_, *session, walk);
    if (checked.unchecked == 0) return true;
    const std::vector<double> read = places_of(walk);
    PlanStop more = checked.least != nullptr ? *checked.least : ground_.offers(1).front().stop;
    more.times = 1;
    if (int(session->readings().size()) + more.readings() > kMostPlanned) return true;
    if (too_few_places(ground_, read)) {
      more.at_m = farthest_from(ground_, read);
      stops.push_back(std::move(more));
      continue;
    }
    // One more where it tells most, if that shows mistakes as well as reading the same again.
    Addition addition;
    if (!best_addition(walk, more.both_faces, addition)) return false;
    stops.push_back(more);
    if (!addition.found) continue;
    const std::optional<int> same = unchecked(ground_, stops);
    stops.back() = addition.stop;
    const std::optional<int> elsewhere = unchecked(ground_, stops);
    if (!same || !elsewhere) return false;
    if (*elsewhere > *same) stops.back() = more;
  }
}

bool Choice::conclude(const Stops& stops, Plan& plan) const {
  plan.walk = ground_.tidy(stops);
  const auto session = ground_.fitted(plan.walk);
  if (session == nullptr) return false;
  plan.readings = int(session->readings().size());
  const auto now = session->fitted().next_reading({});
  if (!now) return false;
  plan.sigma_m = plan.certainty_m = now.value().sigma_now_m;
  if (ground_.wish.what == PlanFor::recheck && !find_movements(plan)) return false;
  plan.reached = plan.certainty_m <= ground_.wish.wanted_m;
  return find_what_stays_open(ground_, *session, plan);
}

// ---- recheck ---------------------------------------------------------------------------------------------------------

std::optional<double> Choice::worst_rise_of(const Stops& stops) const {
  const std::optional<Movements> movements =
      smallest_movements(ground_.run, ground_.kit, ground_.wish.stage, ground_.readings(ground_.tidy(stops)));
  if (!movements) return std::nullopt;
  return worst_rise_m(*movements);
}

// As few of the stops, in the order they were chosen, as suffice.
bool Choice::shorten(const Stops& stops, std::size_t first_chosen, Plan& plan) const {
  const auto first = [&](std::size_t count) {
    return Stops(stops.begin(), stops.begin() + std::ptrdiff_t(count));
  };
  std::size_t least = first_chosen, most = stops.size();
  std::optional<double> found_m = worst_rise_of(stops);
  if (!found_m) return false;
  if (*found_m <= ground_.wish.wanted_m)
    while (least < most) {
      const std::size_t middle = (least + most) / 2;
      found_m = worst_rise_of(first(middle));
      if (!found_m) return false;
      if (*found_m <= ground_.wish.wanted_m)
        most = middle;
      else
        least = middle + 1;
    }
  Stops some = first(most);
  return add_checks(some) && conclude(some, plan);
}

bool Choice::find_movements(Plan& plan) const {
  const sheet::RunSheet& run = ground_.run;
  sheet::RunSheet marked = run;
  marked.marks = {{"before the run", -kMarkBeyond * run.length_m},
                  {"beyond the run", (1 + kMarkBeyond) * run.length_m}};
  Stops walk = plan.walk;
  std::erase_if(walk, [](const PlanStop& stop) { return !stop.mark.empty(); });
  add_marks(marked, walk);
  const int stage = ground_.wish.stage;
  const auto so = smallest_movements(run, ground_.kit, stage, ground_.readings(plan.walk));
  const auto with_marks = smallest_movements(marked, ground_.kit, stage, ground_.readings(walk));
  if (!so || !with_marks) return false;
  for (const Movement& each : so->of_supports) plan.movements.push_back({each.id, each.smallest});
  for (std::size_t k = 0; k < plan.movements.size(); ++k)
    plan.movements[k].with_two_marks = with_marks->of_supports[k].smallest;
  plan.whole_run_m = so->whole_run_m;
  plan.whole_run_with_two_marks_m = with_marks->whole_run_m;
  plan.certainty_m = worst_rise_m(*so);
  return true;
}

// So many of them at most, spread evenly, first and last among them.
std::vector<double> spread(const std::vector<double>& stations_m, std::size_t most) {
  if (stations_m.size() <= most) return stations_m;
  std::vector<double> some;
  for (std::size_t i = 0; i < most; ++i) some.push_back(stations_m[i * (stations_m.size() - 1) / (most - 1)]);
  return some;
}

}  // namespace

int planned_stage(const sheet::RunSheet& run, PlanFor what) {
  const int finished = run.tolerance.stage;
  if (what == PlanFor::recheck) return finished;
  for (int stage = 0; stage < finished; ++stage)
    if (run.beam_stages[std::size_t(stage)].supports == run.beam_stages[std::size_t(finished)].supports)
      return stage;
  return finished;
}

Result<Plan, Fault> make_plan(const sheet::RunSheet& run, const sheet::KitSheet& kit, const PlanWish& wish) {
  const bool reads = std::any_of(kit.instruments.begin(), kit.instruments.end(), [](const auto& instrument) {
    return std::any_of(instrument.channels.begin(), instrument.channels.end(),
                       [](const auto& channel) { return is_measured_of_run(channel.gives); });
  });
  if (!reads) return Fault(NoChannelReadsTheRun{kit.file});
  sheet::RunSheet fewer = run;
  fewer.stations_m = spread(run.stations_m, kMostPlannedStations);
  PlanGround ground(fewer, kit, wish);
  Plan begun, best;
  begun.wish = wish;
  if (const auto solved = ground.solve(begun.sigma_before_m); !solved) return solved.fault();
  const Choice choice(ground);
  const int most = ground.most_set_ups();
  for (int set_ups = std::min(1, most); set_ups <= most; ++set_ups) {
    Plan trial = begun;
    if (!choice.make(set_ups, trial)) return Fault(CannotPlan{});
    if (set_ups > 1 && trial.certainty_m > kWorth * best.certainty_m && !trial.reached) break;
    best = std::move(trial);
    if (best.reached) break;
  }
  best.closing = closing_of(best.walk);
  return best;
}

std::vector<sheet::ReadingEntry> planned_readings(const sheet::RunSheet& run, const sheet::KitSheet& kit,
                                                  const Plan& plan) {
  PlanGround ground(run, kit, plan.wish);
  double unused = 0;
  if (!ground.solve(unused)) return {};
  return ground.readings(plan.walk);
}

}  // namespace hangtrue::job
