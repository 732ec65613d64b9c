#include "firmware-host/job/trend.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "core/change/trend.hpp"
#include "core/fit/distribution.hpp"
#include "firmware-host/job/expected_drift.hpp"

namespace hangtrue::job {

namespace {

constexpr double kYear_days = 365.25;

// The line, and when the limit is reached. False where there are too few surveys.
bool finish(Trend& trend) {
  const auto line = change::fit_line(trend.days, trend.value, trend.sigma);
  if (!line || line->degrees_of_freedom < 1) return false;
  trend.per_year = line->rate * kYear_days;
  trend.per_year_sigma = line->rate_sigma * kYear_days;
  trend.p_value = std::erfc(std::abs(line->rate / line->rate_sigma) / std::sqrt(2.0));
  trend.misfit_p = fit::chi_squared_tail(line->misfit, line->degrees_of_freedom);
  if (!trend.limit) return true;
  trend.past_limit = trend.value.back() >= *trend.limit;
  if (trend.past_limit) return true;
  const change::Crossing reached =
      change::crossing(*line, *trend.limit, trend.days.back(), kRecheckConfidence);
  trend.reached_from_days = reached.from_days;
  trend.reached_to_days = reached.to_days;
  return true;
}

bool same_supports_between(const sheet::RunSheet& run, int a, int b) {
  if (a < 0 || b < 0) return false;
  const auto [first, last] = std::minmax(a, b);
  for (int s = first; s <= last; ++s)
    if (run.beam_stages[std::size_t(s)].supports != run.beam_stages[std::size_t(first)].supports)
      return false;
  return true;
}

/// How much more the difference is at that stage than at the survey's, and the variance that its loads leave in that.
struct CarriedOver {
  double more_m = 0, variance = 0;
};
CarriedOver carried_over(SurveyFit& session, const Followed& followed, int stage) {
  CarriedOver result;
  if (stage == session.stage()) return result;
  beam::Solver<double>& solver = session.solver();
  const auto more = [&](const beam::State<double>& state) {
    if (!solver.solve(state)) return std::numeric_limits<double>::quiet_NaN();
    const auto difference = [&](int at_stage) {
      return solver.height(at_stage, followed.high.at_m, followed.high.across_m) -
             solver.height(at_stage, followed.low.at_m, followed.low.across_m);
    };
    return difference(stage) - difference(session.stage());
  };
  const beam::State<double> found = session.fitted().state();
  result.more_m = more(found);
  for (const UnknownEstimate& each : session.report().parameters) {
    if (each.id.of != UnknownOf::load || each.id.change) continue;
    beam::State<double> heavier = found;
    heavier.load_factor[std::size_t(session.run().load(each.id.name))] += each.estimate.sigma;
    const double effect = more(heavier) - result.more_m;
    result.variance += effect * effect;
  }
  (void)solver.solve(found);
  return result;
}

// One survey's value of one trend.
void add(SurveyFit& session, const Followed& followed, int stage, const std::string& survey, double days,
         Trend& trend) {
  fit::Fit<double>& fit = session.fitted();
  const auto unknowns = std::size_t(fit.unknowns());
  std::vector<double> a(unknowns), b(unknowns);
  const auto high = fit.height(followed.high.at_m, followed.high.across_m, false, a);
  const auto low = fit.height(followed.low.at_m, followed.low.across_m, false, b);
  if (!high.ok() || !low.ok()) return;
  const double crept = session.drift_height_m(followed.high.at_m, followed.high.across_m, a) -
                       session.drift_height_m(followed.low.at_m, followed.low.across_m, b);
  const CarriedOver over = carried_over(session, followed, stage);
  double variance = over.variance;
  for (std::size_t u = 0; u < unknowns; ++u) variance += (a[u] - b[u]) * (a[u] - b[u]);
  if (!std::isfinite(over.more_m + variance)) return;
  trend.surveys.push_back(survey);
  trend.days.push_back(days);
  trend.value.push_back(high.value() - low.value() + crept + over.more_m);
  trend.sigma.push_back(std::sqrt(variance));
}

}  // namespace

bool Trend::goes() const { return p_value < 1 - kRecheckConfidence; }
bool Trend::goes_evenly() const { return !(misfit_p < 1 - kRecheckConfidence); }

std::optional<Followed> against_farthest_support(const sheet::RunSheet& run, int stage, int support) {
  const double at = run.beam_supports[std::size_t(support)].at_m;
  double against = at;
  for (int i = 0; i < int(run.supports.size()); ++i) {
    const double other = run.beam_supports[std::size_t(i)].at_m;
    if (run.beam_stages[std::size_t(stage)].lists_support(i) && std::abs(other - at) > std::abs(against - at))
      against = other;
  }
  if (against == at) return std::nullopt;
  return Followed{AgainstFarthestSupport{run.supports[std::size_t(support)].name},
                  {at, 0},
                  {against, 0},
                  std::nullopt,
                  ""};
}

std::vector<book::SurveyRecord> surveys_between(const sheet::RunSheet& run,
                                                const std::vector<book::SurveyRecord>& all,
                                                const book::SurveyRecord& from,
                                                const book::SurveyRecord& to) {
  const int stage = run.stage(to.begun.stage);
  std::vector<book::SurveyRecord> found;
  for (const book::SurveyRecord& each : all)
    if (each.number >= from.number && each.number <= to.number && each.kept > 0 &&
        each.begun.run == to.begun.run && same_supports_between(run, run.stage(each.begun.stage), stage))
      found.push_back(each);
  if (found.size() <= kMostSurveys) return found;
  std::vector<book::SurveyRecord> spread;
  for (std::size_t k = 0; k < kMostSurveys; ++k)
    spread.push_back(found[k * (found.size() - 1) / (kMostSurveys - 1)]);
  return spread;
}

std::vector<Trend> follow_trends(const book::Book& book, const sheet::RunSheet& run, const TrendSurveys& over,
                                 const CarriedState& carried, const beam::State<double>& state,
                                 const std::vector<Followed>& followed) {
  std::vector<Trend> trends;
  if (over.surveys.size() < kLeastForTrend) return trends;
  for (const Followed& each : followed) {
    Trend& trend = trends.emplace_back();
    trend.of = each.of;
    trend.began = over.began;
    trend.limit = each.limit_m;
    trend.limit_stage = each.limit_stage;
  }
  const std::unique_ptr<CarriedState> from = without(carried, Forget::offsets_and_zeros);
  for (const book::SurveyRecord& record : over.surveys) {
    const std::optional<book::Time> time = time_of(record.time);
    const auto kit = booked_kit(book, run, record);
    if (!time || !kit.ok() || !kit.value()) continue;
    const auto booked = booked_survey(book, *kit.value(), record);
    if (!booked.ok()) continue;
    from->drift = drift_since(run, over.stage, state, over.loaded, *time);
    SurveyFit session(run, kit.value().get(), run.stage(record.begun.stage), from.get());
    session.take_checks(booked.value().checks);
    for (sheet::ReadingEntry& entry : kept_readings(booked.value())) session.add(std::move(entry));
    if (!session.fit() || session.report().self_test.outcome == fit::TestOutcome::fails) continue;
    for (std::size_t k = 0; k < followed.size(); ++k)
      add(session, followed[k], over.stage, record.begun.id, days_between(over.began, *time), trends[k]);
  }
  std::vector<Trend> told;
  for (Trend& each : trends)
    if (finish(each)) told.push_back(std::move(each));
  return told;
}

}  // namespace hangtrue::job
