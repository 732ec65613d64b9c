#include "firmware-host/job/change_candidates.hpp"

#include <algorithm>
#include <utility>

#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

std::vector<ChangeCandidate> change_candidates(const sheet::RunSheet& run, int stage) {
  using Kind = beam::ParameterKind;
  std::vector<ChangeCandidate> candidates;
  const auto add = [&](fit::Unknown unknown, double wide, double prior) {
    candidates.push_back({unknown, id_of(run, unknown, {}, {}), wide, prior});
  };
  const auto change = [&](Kind kind, int index, double wide) {
    add({fit::UnknownKind::change, {kind, std::int16_t(index)}, 0}, wide, wide);
  };
  const beam::Stage& now = run.beam_stages[std::size_t(stage)];
  for (int i = 0; i < int(run.supports.size()); ++i) {
    if (!now.lists_support(i)) continue;
    const beam::Support<double>& support = run.beam_supports[std::size_t(i)];
    if (support.rise.held) change(Kind::move_rise, i, kWide_m);
    if (support.pitch.held) change(Kind::move_pitch, i, kWide_rad);
    if (support.roll.held) change(Kind::move_roll, i, kWide_rad);
  }
  change(Kind::bending, 0, kWideStiffness);
  change(Kind::torsion, 0, kWideStiffness);
  for (int i = 0; i < int(run.loads.size()); ++i)
    if (now.lists_load(i)) change(Kind::load, i, kWideLoad);
  for (int i = 0; i < run.priors.bows; ++i) change(Kind::bow, i, kWide_m);
  for (int i = 0; i < int(run.marks.size()); ++i)
    add({fit::UnknownKind::mark_change, {}, std::int16_t(i)}, kWide_m, kStable_m);
  return candidates;
}

ChangeCandidate drift_share_candidate() {
  return {{fit::UnknownKind::drift_share, {}, 0}, {UnknownOf::drift_share}, 1, kCreepSigma};
}

ChangesSince changes_since(const std::vector<ChangeCandidate>& candidates, bool marks_tie) {
  ChangesSince since;
  for (const ChangeCandidate& each : candidates)
    if (each.unknown.kind == fit::UnknownKind::change)
      since.changes.push_back({each.unknown.shape, {0, each.prior}});
  since.mark_sigma_m = marks_tie ? kStable_m : 0;
  return since;
}

void keep_estimated(std::vector<ChangeCandidate>& candidates, const fit::UnknownList<double>& unknowns) {
  const fit::Unknown* const end = unknowns.unknown + unknowns.count;
  for (ChangeCandidate& each : candidates) {
    const fit::Unknown* const found = std::find(unknowns.unknown, end, each.unknown);
    each.column = found == end ? -1 : int(found - unknowns.unknown);
  }
  std::erase_if(candidates, [](const ChangeCandidate& each) { return each.column < 0; });
}

bool weigh(fit::Fit<double>& fit, const std::vector<ChangeCandidate>& candidates, change::Changes& out) {
  std::vector<int> columns;
  std::vector<double> wide, prior;
  for (const ChangeCandidate& each : candidates) {
    columns.push_back(each.column);
    wide.push_back(each.wide);
    prior.push_back(each.prior);
  }
  std::vector<double> triangle(columns.size() * columns.size()), right(columns.size());
  fit.information(columns, triangle, right);
  return out.begin(int(columns.size()), wide, prior, triangle, right);
}

int rank_of(UnknownOf of) {
  switch (of) {
    case UnknownOf::move_rise:
      return 0;
    case UnknownOf::move_pitch:
    case UnknownOf::move_roll:
      return 1;
    case UnknownOf::load:
      return 2;
    case UnknownOf::mark_height:
    case UnknownOf::bending:
    case UnknownOf::torsion:
      return 3;
    case UnknownOf::bow:
      return 4;
    default:
      return 5;
  }
}

UnknownId changed_quantity(UnknownId change) {
  change.change = false;
  switch (change.of) {
    case UnknownOf::move_rise:
      change.of = UnknownOf::support_rise;
      break;
    case UnknownOf::move_pitch:
      change.of = UnknownOf::support_pitch;
      break;
    case UnknownOf::move_roll:
      change.of = UnknownOf::support_roll;
      break;
    default:
      break;
  }
  return change;
}

}  // namespace hangtrue::job
