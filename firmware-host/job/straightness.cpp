#include "firmware-host/job/straightness.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/adjust/workspace.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

using Departure = adjust::Departure<double>;

/// Calls each(departure) for every three stations of one edge over which the sheet's straight-edge reaches.
void for_each_departure(const sheet::RunSheet& run, const auto& each) {
  const std::vector<double>& at = run.stations_m;
  const double reach_m = run.tolerance.per->length_m + kSamePlaceInWalk_m;
  for (int a = 0; a < int(at.size()); ++a)
    for (int c = a + 2; c < int(at.size()) && at[std::size_t(c)] - at[std::size_t(a)] <= reach_m; ++c)
      for (const int edge : {0, 1})
        for (int b = a + 1; b < c; ++b)
          each(Departure{
              2 * a + edge, 2 * b + edge, 2 * c + edge,
              (at[std::size_t(b)] - at[std::size_t(a)]) / (at[std::size_t(c)] - at[std::size_t(a)])});
}

double sigma_of(const adjust::Spread<double>& spread, const Departure& departure) {
  double squared = 0;
  for (int k = 0; k < spread.columns; ++k) {
    const auto row = [&](int point) { return spread.factor[std::size_t(point * spread.columns + k)]; };
    const double each = row(departure.middle) - (1 - departure.share) * row(departure.before) -
                        departure.share * row(departure.after);
    squared += each * each;
  }
  return std::sqrt(squared);
}

/// The problem with departures as check points of their own, two for each: what is under the straight-edge, and its mirror image,
/// on the height of the middle station.
class WithDepartures {
 public:
  WithDepartures(const sheet::RunSheet& run, const adjust::Problem<double>& problem,
                 const std::vector<Departure>& departures)
      : problem_(problem) {
    const double scale = run.tolerance.level_m / (2 * run.tolerance.per->gap_m);
    const int middle = 2 * int(run.stations_m.size() / 2);
    const auto extended = [&](std::span<const double> values) {
      std::vector<double> all(values.begin(), values.end());
      for (const Departure& departure : departures)
        for (const double sign : {scale, -scale})
          all.push_back(values[std::size_t(middle)] + sign * adjust::departure_of(departure, values));
      return all;
    };
    const auto keep = [&](std::span<const double> values) {
      if (values.empty()) return values;
      kept_.push_back(extended(values));
      return std::span<const double>(kept_.back());
    };
    kept_.reserve(1 + 3 * problem.places.size());
    problem_.height_m = keep(problem.height_m);
    places_.assign(problem.places.begin(), problem.places.end());
    for (adjust::Place<double>& place : places_)
      place.on_height = {keep(place.on_height.rise), keep(place.on_height.pitch), keep(place.on_height.roll)};
    problem_.places = places_;
  }
  [[nodiscard]] const adjust::Problem<double>& problem() const { return problem_; }

 private:
  adjust::Problem<double> problem_;
  std::vector<std::vector<double>> kept_;
  std::vector<adjust::Place<double>> places_;
};

}  // namespace

std::optional<Straightness> straightness(const sheet::RunSheet& run, std::span<const double> height_m,
                                         const adjust::Spread<double>& spread) {
  if (!run.tolerance.per) return std::nullopt;
  Straightness most;
  Departure worst;
  for_each_departure(run, [&](const Departure& departure) {
    const double size = std::abs(adjust::departure_of(departure, height_m));
    if (size <= most.departure_m) return;
    most.departure_m = size;
    worst = departure;
  });
  most.sigma_m = sigma_of(spread, worst);
  most.within = most.departure_m <= run.tolerance.per->gap_m;
  const auto station = [&](int point) { return run.stations_m[std::size_t(point / 2)]; };
  most.edge = worst.middle % 2 == 0 ? survey::Edge::left : survey::Edge::right;
  most.from_m = station(worst.before);
  most.at_m = station(worst.middle);
  most.to_m = station(worst.after);
  return most;
}

std::vector<Departure> departures_that_count(const sheet::RunSheet& run, std::span<const double> height_m,
                                             const adjust::Spread<double>& spread) {
  if (!run.tolerance.per) return {};
  struct Candidate {
    Departure departure;
    double sigmas_away;
  };
  std::vector<Candidate> likely;
  for_each_departure(run, [&](const Departure& departure) {
    const double away = run.tolerance.per->gap_m - std::abs(adjust::departure_of(departure, height_m));
    const double sigma = sigma_of(spread, departure);
    const double sigmas_away = sigma > 0  ? away / sigma
                               : away < 0 ? -std::numeric_limits<double>::infinity()
                                          : std::numeric_limits<double>::infinity();
    if (sigmas_away < kNeverDrawnSigmas) likely.push_back({departure, sigmas_away});
  });
  const std::size_t kept = std::min(likely.size(), kMostDepartures);
  std::partial_sort(likely.begin(), likely.begin() + std::ptrdiff_t(kept), likely.end(),
                    [](const Candidate& a, const Candidate& b) { return a.sigmas_away < b.sigmas_away; });
  std::vector<Departure> departures;
  for (std::size_t i = 0; i < kept; ++i) departures.push_back(likely[i].departure);
  return departures;
}

Result<adjust::Choice<double>, adjust::AdjustFault> choose_moves(const sheet::RunSheet& run,
                                                                 const adjust::Problem<double>& problem,
                                                                 adjust::Workspace<double>& workspace) {
  auto level_best = adjust::choose(problem, workspace);
  if (!level_best || !run.tolerance.per) return level_best;
  std::vector<double> height_m(problem.height_m.size());
  adjust::finished_heights<double>(problem, level_best.value(), height_m);
  if (straightness(run, height_m)->within) return level_best;

  // The worst as things are and after the moves that level it best; the worst of each place of the straight-edge.
  const std::size_t room =
      (std::size_t(adjust::kMaxPoints) - std::min<std::size_t>(adjust::kMaxPoints, problem.height_m.size())) /
      2;
  std::vector<std::pair<double, Departure>> worst;
  for_each_departure(run, [&](const Departure& departure) {
    const double size =
        std::max(std::abs(adjust::departure_of(departure, problem.height_m)),
                 std::abs(adjust::departure_of(departure, std::span<const double>(height_m))));
    if (!worst.empty() && worst.back().second.before == departure.before &&
        worst.back().second.after == departure.after) {
      if (size > worst.back().first) worst.back() = {size, departure};
    } else {
      worst.emplace_back(size, departure);
    }
  });
  std::sort(worst.begin(), worst.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  worst.resize(std::min({worst.size(), room, kMostDeparturesSearched}));
  std::vector<Departure> departures;
  for (const auto& [size, departure] : worst) departures.push_back(departure);
  const WithDepartures with(run, problem, departures);
  auto both = adjust::choose(with.problem(), workspace);
  if (!both) return level_best;
  adjust::Choice<double>& choice = both.value();
  if (choice.outcome != adjust::Outcome::proved_best && choice.outcome != adjust::Outcome::stopped_at_limit)
    return level_best;
  adjust::finished_heights<double>(problem, choice, height_m);
  choice.level_error_before_m = level_best.value().level_error_before_m;
  choice.level_error_after_m = adjust::level_error<double>(height_m, problem.target_m);
  choice.least_level_error_m = level_best.value().least_level_error_m;
  const bool keeps_both =
      choice.level_error_after_m <= run.tolerance.level_m && straightness(run, height_m)->within;
  return keeps_both ? both : level_best;
}

}  // namespace hangtrue::job
