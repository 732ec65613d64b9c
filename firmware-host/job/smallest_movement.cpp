#include "firmware-host/job/smallest_movement.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numeric>

#include "firmware-host/job/change_candidates.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

// Mean change of height over the stations, two-sided normal test by itself. None where the fit cannot tell.
std::optional<double> whole_run_m(const sheet::RunSheet& run, fit::Fit<double>& fit) {
  std::vector<double> mean(std::size_t(fit.unknowns())), row(mean.size());
  for (const double x : run.stations_m) {
    if (!fit.height(x, 0, true, row)) return std::nullopt;
    for (std::size_t u = 0; u < row.size(); ++u) mean[u] += row[u] / double(run.stations_m.size());
  }
  const double size =
      kFoundSigmas * std::sqrt(std::inner_product(mean.begin(), mean.end(), mean.begin(), 0.0));
  return size < kWide_m ? size : std::numeric_limits<double>::infinity();
}

}  // namespace

double worst_rise_m(const Movements& movements) {
  double most = 0;
  for (const Movement& each : movements.of_supports)
    if (each.id.of == UnknownOf::move_rise) most = std::max(most, each.smallest);
  return most;
}

std::optional<Movements> smallest_movements(const sheet::RunSheet& run, const sheet::KitSheet& kit, int stage,
                                            const std::vector<sheet::ReadingEntry>& readings) {
  SurveyFit first(run, &kit, stage);
  first.take_as_planned();
  for (const sheet::ReadingEntry& each : readings) first.add(each);
  if (!first.fit()) return std::nullopt;
  const std::unique_ptr<CarriedState> taught = without(*first.carry(0), Forget::zeros);

  const beam::State<double> state = first.fitted().state();
  if (!first.solver().solve(state)) return std::nullopt;
  const SheetWithMore sheet =
      with_more_loads(run, stage, first.solver(), state.bending_factor, first.unknowns().count);
  std::vector<ChangeCandidate> candidates = change_candidates(sheet, stage);
  SurveyFit second(sheet.run, &kit, stage, taught.get());
  second.take_as_planned();
  second.expect_changes(changes_since(sheet, candidates, true));
  for (const sheet::ReadingEntry& each : readings) second.add(each);
  if (!second.fit()) return std::nullopt;
  keep_estimated(candidates, second.unknowns());
  const auto changes = std::make_unique<change::Changes>();
  if (!weigh(second.fitted(), candidates, *changes)) return std::nullopt;

  Movements found;
  for (std::size_t k = 0; k < candidates.size(); ++k)
    if (is_move(candidates[k].id.of))
      found.of_supports.push_back(
          {candidates[k].id, changes->smallest_detectable(int(k), kRecheckConfidence, kRecheckPower)});
  const std::optional<double> whole = whole_run_m(run, second.fitted());
  if (!whole) return std::nullopt;
  found.whole_run_m = *whole;
  return found;
}

}  // namespace hangtrue::job
