#include "firmware-host/job/walk_check.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <memory>
#include <numeric>
#include <tuple>

#include "core/survey/observation.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

using sheet::ReadingEntry;

bool same_place(const ReadingEntry& a, const ReadingEntry& b) {
  return a.mark == b.mark && std::abs(a.at_m - b.at_m) <= kSamePlaceInWalk_m;
}

bool same_reading(const ReadingEntry& a, const ReadingEntry& b) {
  return same_place(a, b) && a.instrument == b.instrument && a.channel == b.channel && a.edge == b.edge;
}

// A walk and its storage. The filter in it is large: on the heap.
struct Tests {
  std::vector<double> storage;
  std::unique_ptr<fit::Walk<double>> walk = std::make_unique<fit::Walk<double>>();
  std::vector<fit::Slip> slips;

  Result<Done, Fault> begin(const WalkSubject& subject, std::span<const survey::Reading<double>> readings,
                            std::span<const int> order, bool with_strays) {
    slips = slips_of(subject);
    const int points = 2 * int(subject.problem.stations_m.size());
    storage.resize(fit::Walk<double>::storage_needed(subject.fit.unknowns(), int(readings.size()),
                                                     int(slips.size()), points));
    fit::Walk<double>::Given given;
    given.fit = &subject.fit;
    given.problem = subject.problem;
    given.readings = readings;
    given.judgements = subject.judgements;
    given.order = order;
    given.slips = slips;
    given.with_strays = with_strays;
    given.with_target = subject.run.tolerance.target_height_m.has_value();
    if (const auto begun = walk->begin(given, storage); !begun) {
      if (begun.fault().code == fit::FitFaultCode::run_not_solvable) return Fault(begun.fault().stage_fault);
      return Fault(CannotFit{begun.fault(), std::nullopt});
    }
    return Done{};
  }
};

double kept_chi_squared(const WalkSubject& subject, int& strays) {
  strays = subject.fit.self_test().beyond_gate;
  return subject.fit.self_test().chi_squared;
}

}  // namespace

WalkOrder walk_order(const std::vector<ReadingEntry>& readings) {
  WalkOrder walk;
  walk.order.resize(readings.size());
  std::iota(walk.order.begin(), walk.order.end(), 0);
  const auto time = [&](int i) { return time_of(readings[std::size_t(i)].time); };
  const bool timed =
      std::all_of(walk.order.begin(), walk.order.end(), [&](int i) { return time(i).has_value(); });
  if (timed) {
    std::vector<book::Time> times;
    for (const int i : walk.order) times.push_back(*time(i));
    std::stable_sort(walk.order.begin(), walk.order.end(),
                     [&](int a, int b) { return times[std::size_t(a)] < times[std::size_t(b)]; });
  }
  int stop = -1;
  for (std::size_t k = 0; k < walk.order.size(); ++k) {
    const bool goes_on =
        k > 0 && same_place(readings[std::size_t(walk.order[k])], readings[std::size_t(walk.order[k - 1])]);
    walk.begins.push_back(goes_on ? 0 : 1);
    if (!goes_on) {
      ++stop;
      walk.first_of_stop.push_back(int(k));
    }
    walk.stop.push_back(stop);
  }
  return walk;
}

std::vector<fit::Slip> slips_of(const WalkSubject& subject) {
  std::vector<fit::Slip> slips;
  const auto& run = *subject.problem.run;
  const int stage = subject.problem.stage;
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    if (!run.stages[std::size_t(stage)].lists_support(int(i))) continue;
    if (!subject.problem.solver->support(stage, int(i)).engaged) continue;
    for (const beam::Motion motion : beam::kMotions)
      if (run.supports[i].restraint(motion).held)
        slips.push_back({{fit::UnknownKind::shape, {beam::kMoves[motion], std::int16_t(i)}, 0}});
  }
  bool set_up_used[kMaxSetUps] = {}, zero_used[kMaxChannels] = {};
  for (const survey::Reading<double>& reading : subject.survey.readings) {
    if (reading.set_up >= 0) set_up_used[reading.set_up] = true;
    if (reading.zero >= 0) zero_used[reading.zero] = true;
  }
  for (int s = 0; s < kMaxSetUps; ++s)
    if (set_up_used[s])
      for (const fit::UnknownKind kind : {fit::UnknownKind::datum_height, fit::UnknownKind::datum_tilt})
        slips.push_back({{kind, {}, std::int16_t(s)}});
  for (int z = 0; z < kMaxChannels; ++z)
    if (zero_used[z]) slips.push_back({{fit::UnknownKind::zero, {}, std::int16_t(z)}});
  return slips;
}

// Among the readings kept; and, where some are beyond their gate, among all, if one movement explains them better than that
// they are strays. A single last reading cannot tell the two apart.
Result<std::optional<MovementAt>, Fault> find_movement(const WalkSubject& subject) {
  std::optional<MovementAt> none;
  Tests tests;
  const auto& readings = subject.survey.readings;
  for (const bool with_strays : {false, true}) {
    int strays = 0;
    const double kept = kept_chi_squared(subject, strays);
    if (with_strays && strays < 2) break;
    if (const auto begun = tests.begin(subject, readings, subject.walk.order, with_strays); !begun)
      return begun.fault();
    const fit::Movement<double> most = tests.walk->movement();
    if (!most.found()) continue;
    // Where the fit fails for another reason, some slip always looks better than none.
    const double excess = tests.walk->chi_squared() - subject.fit.self_test().degrees_of_freedom;
    if (most.test.statistic < kExplains * excess) continue;
    if (with_strays) {
      const double with_slip =
          tests.walk->chi_squared() - most.test.statistic + 2 * std::log(double(std::max(most.tried, 1)));
      if (with_slip >= kept + 2 * fit::kStrayCost * strays) continue;
    }
    return std::optional(MovementAt{tests.slips[std::size_t(most.slip)], most.position, most.test});
  }
  return none;
}

// ---- closing ------------------------------------------------------------------------------------------------------

namespace {

// Stops at the end that read once more what an earlier stop had; how many.
int closing_stops(const WalkSubject& subject) {
  const auto& entries = subject.survey.entries;
  const WalkOrder& walk = subject.walk;
  const int stops = int(walk.first_of_stop.size());
  const auto end_of = [&](int stop) {
    return stop + 1 < stops ? walk.first_of_stop[std::size_t(stop) + 1] : int(walk.order.size());
  };
  const auto repeats = [&](int stop) {
    for (int k = walk.first_of_stop[std::size_t(stop)]; k < end_of(stop); ++k)
      for (int before = 0; before < walk.first_of_stop[std::size_t(stop)]; ++before)
        if (same_reading(entries[std::size_t(walk.order[std::size_t(k)])],
                         entries[std::size_t(walk.order[std::size_t(before)])]))
          return true;
    return false;
  };
  int count = 0;
  while (count < stops && repeats(stops - 1 - count)) ++count;
  return count;
}

std::vector<double> places_read(const WalkSubject& subject) {
  std::vector<double> places;
  for (const ReadingEntry& entry : subject.survey.entries)
    if (entry.mark.empty()) places.push_back(entry.at_m);
  std::sort(places.begin(), places.end());
  const auto near = [](double a, double b) { return b - a <= kSamePlaceInWalk_m; };
  places.erase(std::unique(places.begin(), places.end(), near), places.end());
  return places;
}

// First, middle and last of the places: within a quarter of the walk's span of either end, and between.
bool spans(const std::vector<double>& places, const std::vector<double>& of) {
  if (of.size() < 2) return false;
  const double span = of.back() - of.front();
  bool first = false, middle = false, last = false;
  for (const double at : places) {
    const double share = (at - of.front()) / span;
    first = first || share <= kEndOfWalk;
    last = last || share >= 1 - kEndOfWalk;
    middle = middle || (share > kEndOfWalk && share < 1 - kEndOfWalk);
  }
  return first && last && (middle || of.size() < 3);
}

// What the instruments read at a place, once more, as planned readings.
std::vector<survey::Reading<double>> once_more(const WalkSubject& subject, double at_m) {
  std::vector<survey::Reading<double>> again;
  std::vector<const ReadingEntry*> seen;
  for (std::size_t i = 0; i < subject.survey.entries.size(); ++i) {
    const ReadingEntry& entry = subject.survey.entries[i];
    if (!entry.mark.empty() || std::abs(entry.at_m - at_m) > kSamePlaceInWalk_m) continue;
    const bool known = std::any_of(seen.begin(), seen.end(), [&](const ReadingEntry* other) {
      return same_reading(*other, entry) && other->face == entry.face;
    });
    if (known) continue;
    seen.push_back(&entry);
    again.push_back(subject.survey.readings[i]);
  }
  return again;
}

}  // namespace

Result<std::vector<double>, Fault> closing_places(const WalkSubject& subject) {
  const std::vector<double> places = places_read(subject);
  if (places.empty()) return std::vector<double>{};
  const double matters_m = kMatters * subject.run.tolerance.level_m;
  const WalkOrder& walk = subject.walk;
  const int stops = int(walk.first_of_stop.size()), closing = closing_stops(subject);
  Tests tests;
  if (closing > 0) {
    std::vector<double> closed_at;
    for (int stop = stops - closing; stop < stops; ++stop)
      closed_at.push_back(
          subject.survey.entries[std::size_t(walk.order[std::size_t(walk.first_of_stop[std::size_t(stop)])])]
              .at_m);
    if (spans(closed_at, places)) return std::vector<double>{};
    if (const auto begun = tests.begin(subject, subject.survey.readings, walk.order, false); !begun)
      return begun.fault();
    const int last = walk.first_of_stop[std::size_t(stops - std::min(closing, kClosingStops))];
    if (tests.walk->blind(last, matters_m, walk.begins).slip < 0) return std::vector<double>{};
  }
  const double first = places.front(), end = places.back(), middle = places[places.size() / 2];
  std::vector<std::vector<double>> choices{{middle}, {first}, {end}, {first, end}};
  for (std::vector<double>& choice : choices) {
    std::vector<survey::Reading<double>> readings = subject.survey.readings;
    std::vector<int> order = walk.order;
    std::vector<std::uint8_t> begins = walk.begins;
    for (const double at : choice)
      for (const survey::Reading<double>& again : once_more(subject, at)) {
        order.push_back(int(readings.size()));
        begins.push_back(1);
        readings.push_back(again);
      }
    if (const auto begun = tests.begin(subject, readings, order, false); !begun) return begun.fault();
    if (tests.walk->blind(int(walk.order.size()), matters_m, begins).slip < 0) return std::move(choice);
  }
  std::vector<double> three{first, middle, end};
  three.erase(std::unique(three.begin(), three.end()), three.end());
  return three;
}

// ---- strays -------------------------------------------------------------------------------------------------------

std::vector<std::size_t> strays_together(const WalkSubject& subject) {
  const WalkOrder& walk = subject.walk;
  const auto& entries = subject.survey.entries;
  std::vector<int> positions;
  int last_counted = -1;
  for (std::size_t k = 0; k < walk.order.size(); ++k) {
    const fit::Verdict verdict = subject.judgements[std::size_t(walk.order[k])].verdict;
    if (verdict == fit::Verdict::beyond_gate) positions.push_back(int(k));
    if (verdict == fit::Verdict::beyond_gate || verdict == fit::Verdict::kept) last_counted = int(k);
  }
  if (positions.empty()) return {};
  const auto entry = [&](int position) -> const ReadingEntry& {
    return entries[std::size_t(walk.order[std::size_t(position)])];
  };
  bool together = walk.stop[std::size_t(positions.back())] == walk.stop[std::size_t(last_counted)];
  std::map<std::pair<std::string, Channel>, int> of_channel;
  for (std::size_t a = 0; a < positions.size(); ++a) {
    for (std::size_t b = 0; b < a; ++b)
      together = together || same_place(entry(positions[a]), entry(positions[b])) ||
                 walk.stop[std::size_t(positions[a])] - walk.stop[std::size_t(positions[b])] <= 1;
    together = together ||
               ++of_channel[{entry(positions[a]).instrument, entry(positions[a]).channel}] >= kStraysOfOne;
  }
  std::vector<std::size_t> rows;
  if (together)
    for (const int position : positions) rows.push_back(std::size_t(walk.order[std::size_t(position)]) + 1);
  std::sort(rows.begin(), rows.end());
  return rows;
}

// ---- readings that check one another ---------------------------------------------------------------------------------

namespace {

// Each reading alone, each stop and each place, a channel each; every set once.
std::vector<ReadingGroup> groups_of(const WalkSubject& subject) {
  std::map<std::vector<int>, ReadingGroup> groups;
  std::map<std::tuple<std::string, Channel, long>, ReadingGroup> by_stop, by_place;
  const auto& entries = subject.survey.entries;
  const std::vector<double> places = places_read(subject);
  for (std::size_t k = 0; k < subject.walk.order.size(); ++k) {
    const int i = subject.walk.order[k];
    if (subject.judgements[std::size_t(i)].verdict != fit::Verdict::kept) continue;
    const ReadingEntry& entry = entries[std::size_t(i)];
    const ReadingGroup alone{{entry.instrument, entry.channel}, entry.at_m, {i}};
    groups.try_emplace(alone.members, alone);
    const auto into = [&](auto& of, long number) {
      ReadingGroup& group = of[{entry.instrument, entry.channel, number}];
      group.channel = alone.channel;
      group.at_m = entry.at_m;
      group.members.push_back(i);
    };
    into(by_stop, subject.walk.stop[k]);
    if (!entry.mark.empty()) continue;
    const auto place = std::lower_bound(places.begin(), places.end(), entry.at_m - kSamePlaceInWalk_m);
    into(by_place, long(place - places.begin()));
  }
  for (auto* of : {&by_stop, &by_place})
    for (auto& [key, group] : *of) {
      std::sort(group.members.begin(), group.members.end());
      groups.try_emplace(group.members, group);
    }
  std::vector<ReadingGroup> all;
  for (auto& [members, group] : groups) all.push_back(std::move(group));
  return all;
}

}  // namespace

Result<CrossCheck, Fault> cross_check(const WalkSubject& subject) {
  CrossCheck result;
  Tests tests;
  if (const auto begun = tests.begin(subject, subject.survey.readings, subject.walk.order, false); !begun)
    return begun.fault();
  const std::vector<ReadingGroup> groups = groups_of(subject);
  const double many = fit::beyond(int(groups.size())), margin = fit::noticed_margin();
  double largest = many * many;
  for (const ReadingGroup& group : groups) {
    const fit::Tested<double> test = tests.walk->shift(group.members);
    const bool alone = group.members.size() == 1;
    if (!alone && test.sigma > 0 && test.statistic > largest) {
      largest = test.statistic;
      const QuantityKind kind =
          group.channel.channel == Channel::distance ? QuantityKind::height : QuantityKind::slope;
      result.off = PlaceOff{group, {kind, test.size, test.sigma}};
    }
    const double sigmas = (alone ? std::max(fit::kGate, many) : many) + margin;
    if (!(test.harm_m > kNoHarm)) continue;
    const double unnoticed_m =
        test.sigma > 0 ? test.harm_m * test.sigma * sigmas : std::numeric_limits<double>::infinity();
    if (!result.least || unnoticed_m > result.least->unnoticed_m)
      result.least = LeastChecked{group, unnoticed_m};
  }
  return result;
}

// ---- the other end ------------------------------------------------------------------------------------------------

Result<double, Fault> evidence_of(
    const WalkSubject& subject,
    const std::function<void(const sheet::ReadingEntry&, survey::Reading<double>&)>& change) {
  const survey::Scene<double> scene{subject.problem.solver, subject.problem.stage, subject.run.length_m,
                                    subject.run.width_m};
  const survey::KitState<double> kit = subject.fit.kit();
  const std::size_t p = std::size_t(subject.fit.unknowns());
  std::vector<double> row(p), linear(p);
  subject.fit.estimate_scaled(linear);
  auto filter =
      std::make_unique<fit::InformationFilter<double, kMaxUnknowns>>(subject.fit.prior_information());
  for (std::size_t i = 0; i < subject.survey.readings.size(); ++i) {
    if (subject.judgements[i].verdict != fit::Verdict::kept) continue;
    survey::Reading<double> reading = subject.survey.readings[i];
    change(subject.survey.entries[i], reading);
    if (const auto done = subject.fit.linear_row(reading, row); !done)
      return Fault(CannotFit{done.fault(), std::nullopt});
    double target = (reading.value - survey::predicted(scene, reading, kit)) / reading.sigma;
    for (std::size_t k = 0; k < p; ++k) target += row[k] * linear[k];
    filter->add(row, target, 1);
  }
  return -filter->sum_of_squares() / 2 - filter->log_determinant();
}

Result<Mirrored, Fault> reads_mirrored(const WalkSubject& subject) {
  const auto read = evidence_of(subject, [](const auto&, auto&) {});
  if (!read) return read.fault();
  double best = -std::numeric_limits<double>::infinity();
  for (const bool signs_too : {true, false}) {
    const auto mirrored =
        evidence_of(subject, [&](const sheet::ReadingEntry&, survey::Reading<double>& reading) {
          if (reading.mark >= 0) return;
          reading.at_m = subject.run.length_m - reading.at_m;
          reading.edge = survey::Edge(-int(reading.edge));
          if (signs_too && reading.channel != Channel::distance) reading.face = std::int8_t(-reading.face);
        });
    if (!mirrored) return mirrored.fault();
    best = std::max(best, mirrored.value());
  }
  const double lead = best - read.value();
  return lead > kSure ? Mirrored::fits_better : lead > -kSure ? Mirrored::open : Mirrored::excluded;
}

}  // namespace hangtrue::job
