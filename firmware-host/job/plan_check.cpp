#include "firmware-host/job/plan_check.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <span>

namespace hangtrue::job {

namespace {

// Variance of what the fit says that a reading should be, its zero error apart.
double variance_there(SurveyFit& session, const PlanStop& stop, const sheet::KitChannel& channel) {
  survey::Reading<double> reading;
  reading.channel = channel.gives;
  reading.edge = stop.edge;
  reading.at_m = stop.at_m;
  reading.base_m = channel.base_m;
  const std::vector<std::string>& set_ups = session.survey().set_ups;
  const auto set_up = std::find(set_ups.begin(), set_ups.end(), stop.set_up);
  if (channel.gives == Channel::distance && set_up != set_ups.end())
    reading.set_up = std::int16_t(set_up - set_ups.begin());
  std::vector<double> row(std::size_t(session.fitted().unknowns()));
  (void)session.fitted().expected(reading, row);
  return std::inner_product(row.begin(), row.end(), row.begin(), 0.0);
}

// Of the channel of a stop that the others check least.
double redundancy_of(const PlanGround& ground, SurveyFit& session, const PlanStop& stop) {
  double least = ground.wish.least_redundancy;
  for (const Channel gives : stop.channels) {
    const sheet::KitChannel& channel = *ground.kit.find(stop.instrument, gives);
    const double variance = channel.sigma * channel.sigma / (stop.both_faces ? 2 : 1);
    least = std::min(least, 1 - variance_there(session, stop, channel) / variance);
  }
  return least;
}

// The unknowns of one survey, by name. Zero errors are numbered as the kit lists its channels; a datum without a reading has
// no name, and is of no concern.
class Unknowns {
 public:
  Unknowns(const PlanGround& ground, SurveyFit& session) : ground_(ground), session_(session) {
    for (const sheet::KitInstrument& instrument : ground.kit.instruments)
      for (const sheet::KitChannel& channel : instrument.channels)
        if (is_measured_of_run(channel.gives) && channel.zero_sigma > 0)
          zeros_.push_back({instrument.name, channel.gives});
  }

  [[nodiscard]] const fit::Unknown& operator[](int u) const { return session_.unknowns().unknown[u]; }
  [[nodiscard]] UnknownId id(int u) const {
    return id_of(ground_.run, (*this)[u], session_.survey().set_ups, zeros_);
  }
  [[nodiscard]] bool is_named(int u) const {
    const fit::Unknown& unknown = (*this)[u];
    const bool datum =
        unknown.kind == fit::UnknownKind::datum_height || unknown.kind == fit::UnknownKind::datum_tilt;
    return !datum || std::size_t(unknown.index) < session_.survey().set_ups.size();
  }
  // Not an instrument that is not read, nor a support that is not there.
  [[nodiscard]] bool concerns(int u) const {
    const fit::Unknown& unknown = (*this)[u];
    if (unknown.kind == fit::UnknownKind::zero)
      return std::any_of(session_.survey().readings.begin(), session_.survey().readings.end(),
                         [&](const survey::Reading<double>& each) { return each.zero == unknown.index; });
    if (!fit::is_of_shape(unknown.kind)) return true;
    using Kind = beam::ParameterKind;
    const Kind kind = unknown.shape.kind;
    const bool of_support =
        kind <= Kind::offset_roll || (kind >= Kind::spring_rise && kind <= Kind::spring_roll);
    return !of_support || now().lists_support(unknown.shape.index);
  }
  [[nodiscard]] bool is_load_to_come(int u) const {
    const fit::Unknown& unknown = (*this)[u];
    return unknown.kind == fit::UnknownKind::shape && unknown.shape.kind == beam::ParameterKind::load &&
           !now().lists_load(unknown.shape.index);
  }

 private:
  [[nodiscard]] const beam::Stage& now() const {
    return ground_.run.beam_stages[std::size_t(ground_.wish.stage)];
  }

  const PlanGround& ground_;
  SurveyFit& session_;
  std::vector<ChannelId> zeros_;
};

bool find_left_open(const PlanGround& ground, SurveyFit& session, const Unknowns& named, Plan& plan) {
  fit::Fit<double>& fit = session.fitted();
  const auto unknowns = std::size_t(fit.unknowns());
  const std::size_t points = 2 * ground.run.stations_m.size();
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
      for (std::size_t j = 0; j < unknowns; ++j) covariance += (factor[i * unknowns + j] - mean[j]) * row[j];
      taken += covariance * covariance / variance;
    }
    const double after = std::sqrt(std::max(0.0, plan.sigma_m * plan.sigma_m - taken / double(points)));
    if (after < kWorth * plan.sigma_m) plan.leaves_open.push_back({named.id(int(u)), after});
  }
  std::stable_sort(
      plan.leaves_open.begin(), plan.leaves_open.end(),
      [](const LeavesOpen& a, const LeavesOpen& b) { return a.sigma_after_m < b.sigma_after_m; });
  if (plan.leaves_open.size() > kMostLeftOpen) plan.leaves_open.resize(kMostLeftOpen);
  return true;
}

void find_not_apart(fit::Fit<double>& fit, const Unknowns& named, Plan& plan) {
  const int unknowns = fit.unknowns();
  std::vector<int> group(std::size_t(unknowns), 0);
  std::iota(group.begin(), group.end(), 0);
  NotLearned later{NotLearnedBecause::not_on_yet, {}}, unseen{NotLearnedBecause::not_seen, {}};
  for (int i = 0; i < unknowns; ++i) {
    if (!named.is_named(i) || !named.concerns(i)) continue;
    if (fit.estimate(i).learned < kNotLearned) {
      (named.is_load_to_come(i) ? later : unseen).unknowns.push_back(named.id(i));
      continue;
    }
    for (int j = 0; j < i; ++j) {
      const double spread = fit.estimate(i).sigma * fit.estimate(j).sigma;
      if (std::abs(fit.covariance(i, j)) <= kNotApart * spread || !named.is_named(j)) continue;
      const int from = group[std::size_t(i)], to = group[std::size_t(j)];
      std::replace(group.begin(), group.end(), from, to);
    }
  }
  for (int g = 0; g < unknowns; ++g) {
    std::vector<UnknownId> together;
    for (int i = 0; i < unknowns; ++i)
      if (group[std::size_t(i)] == g) together.push_back(named.id(i));
    if (together.size() > 1) plan.not_apart.push_back(std::move(together));
  }
  for (NotLearned* const each : {&later, &unseen})
    if (!each->unknowns.empty()) plan.not_learned.push_back(std::move(*each));
}

}  // namespace

Checked check(const PlanGround& ground, SurveyFit& session, const Stops& walk) {
  Checked result;
  double least = ground.wish.least_redundancy;
  for (const PlanStop& stop : walk) {
    if (stop.stays || !stop.mark.empty()) continue;
    const double here = redundancy_of(ground, session, stop);
    if (here < ground.wish.least_redundancy) ++result.unchecked;
    if (here < least || result.least == nullptr) {
      least = here;
      result.least = &stop;
    }
  }
  if (too_few_places(ground, places_of(walk)) && !ground.offers(1).empty()) ++result.unchecked;
  return result;
}

std::optional<int> unchecked(const PlanGround& ground, const Stops& stops) {
  const Stops walk = ground.tidy(stops);
  const auto session = ground.fitted(walk);
  if (session == nullptr) return std::nullopt;
  return check(ground, *session, walk).unchecked;
}

bool too_few_places(const PlanGround& ground, const std::vector<double>& places) {
  return places.size() < std::min(std::size_t(kLeastPlaces), ground.run.stations_m.size());
}

double farthest_from(const PlanGround& ground, const std::vector<double>& places) {
  const auto nearest = [&](double x) {
    double least = ground.run.length_m;
    for (const double each : places) least = std::min(least, std::abs(x - each));
    return least;
  };
  return *std::max_element(ground.run.stations_m.begin(), ground.run.stations_m.end(),
                           [&](double a, double b) { return nearest(a) < nearest(b); });
}

bool find_what_stays_open(const PlanGround& ground, SurveyFit& session, Plan& plan) {
  const Unknowns named(ground, session);
  if (!find_left_open(ground, session, named, plan)) return false;
  find_not_apart(session.fitted(), named, plan);
  return true;
}

}  // namespace hangtrue::job
