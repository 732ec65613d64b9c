#include "firmware-host/job/change_candidates.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "firmware-host/job/recheck_thresholds.hpp"

namespace hangtrue::job {

namespace {

change::Belief belief(const Likely& likely, double more = 1, double less = 1) {
  change::Belief result;
  result.sigma = likely.size;
  result.ln_odds_more = std::log(likely.odds * more);
  result.ln_odds_less = std::log(likely.odds * less);
  return result;
}

double weight_on_N(const sheet::RunSheet& run, int listed, int stage) {
  double all = 0;
  for (int i = 0; i < listed; ++i)
    if (run.beam_stages[std::size_t(stage)].lists_load(i))
      all += std::abs(run.loads[std::size_t(i)].weight_N);
  return all;
}

}  // namespace

namespace {

// Adds loads to the sheet while there is room.
class MoreLoads {
 public:
  MoreLoads(const sheet::RunSheet& run, int stage)
      : stage_(std::size_t(stage)), result_{run, int(run.loads.size()), {}} {}

  bool add(sheet::LoadEntry entry, SheetWithMore::More more, std::vector<beam::LoadPart<double>> parts) {
    sheet::RunSheet& run = result_.run;
    const int load = int(run.loads.size());
    if (load == kMaxLoads || run.load_parts.size() + parts.size() > std::size_t(kMaxLoadParts) ||
        parts.empty())
      return false;
    entry.sigma = 0;
    run.loads.push_back(std::move(entry));
    result_.more.push_back(more);
    for (std::size_t s = stage_; s < run.beam_stages.size(); ++s)
      run.beam_stages[s].loads |= std::uint64_t(1) << load;
    for (beam::LoadPart<double>& part : parts) {
      part.load = load;
      run.load_parts.push_back(part);
    }
    return true;
  }
  bool add_again(SheetWithMore::Kind kind, int load) {
    std::vector<beam::LoadPart<double>> parts;
    for (const beam::LoadPart<double>& part : result_.run.load_parts)
      if (part.load == load) parts.push_back(part);
    return add(result_.run.loads[std::size_t(load)], {kind, load, 0}, std::move(parts));
  }
  [[nodiscard]] const SheetWithMore& sheet() const { return result_; }
  SheetWithMore take() { return std::move(result_); }

 private:
  std::size_t stage_;
  SheetWithMore result_;
};

// The curvature that the run has at the stage by its moments, straight between places close enough together.
std::vector<beam::LoadPart<double>> curvature(const sheet::RunSheet& run, int stage,
                                              const beam::Solver<double>& as_built, double bending_factor) {
  const double beside = 1e-9 * run.length_m;  // moments jump where a support holds in pitch
  std::vector<double> places;
  for (int k = 0; k <= kCurvatureParts; ++k) places.push_back(run.length_m * k / kCurvatureParts);
  for (const beam::Support<double>& each : run.beam_supports) places.push_back(each.at_m);
  for (const beam::Piece<double>& each : run.pieces) places.push_back(each.to_m);
  std::sort(places.begin(), places.end());
  std::vector<beam::LoadPart<double>> parts;
  std::size_t piece = 0;
  for (std::size_t k = 1; k < places.size(); ++k) {
    const double from = places[k - 1], to = places[k];
    if (to - from <= 4 * beside) continue;
    while (piece + 1 < run.pieces.size() && run.pieces[piece].to_m <= from + beside) ++piece;
    const double stiffness = bending_factor * run.pieces[piece].bending_N_m2;
    parts.push_back({0, beam::LoadKind::warmth, from, to,
                     as_built.at(stage, from + beside).moment_Nm / stiffness,
                     as_built.at(stage, to - beside).moment_Nm / stiffness, 0});
  }
  return parts;
}

}  // namespace

SheetWithMore with_more_loads(const sheet::RunSheet& run, int stage, const beam::Solver<double>& as_built,
                              double bending_factor, int unknowns) {
  using Kind = SheetWithMore::Kind;
  MoreLoads more(run, stage);
  const auto lists = [&](std::size_t s, int load) { return run.beam_stages[s].lists_load(load); };
  (void)more.add({.name = "softer", .permanent_share = 0}, {Kind::softer, -1, 0},
                 curvature(run, stage, as_built, bending_factor));
  for (int l = 0; l < int(run.loads.size()); ++l) {
    bool later = false;
    for (std::size_t s = std::size_t(stage) + 1; s < run.beam_stages.size(); ++s)
      later = later || lists(s, l);
    if (lists(std::size_t(stage), l))
      (void)more.add_again(Kind::more, l);
    else if (later && run.loads[std::size_t(l)].weight_N != 0)
      (void)more.add_again(Kind::later, l);
  }
  const auto stations = int(run.stations_m.size());
  const int needed = int(change_candidates(more.sheet(), stage).size());
  const int count =
      std::min(std::clamp(kMaxUnknowns - unknowns - needed - kUnknownsSpare, 0, kPlacesOfWeights), stations);
  for (int k = 0; k < count; ++k) {
    const double at =
        run.stations_m[std::size_t(count > 1 ? k * (stations - 1) / (count - 1) : stations / 2)];
    (void)more.add({.name = "unlisted", .permanent_share = 0}, {Kind::unlisted, -1, at},
                   {{0, beam::LoadKind::point, at, at, 1, 1, 0}});
  }
  return more.take();
}

std::vector<ChangeCandidate> change_candidates(const SheetWithMore& sheet, int stage) {
  using Kind = beam::ParameterKind;
  const sheet::RunSheet& run = sheet.run;
  std::vector<ChangeCandidate> candidates;
  const auto add = [&](fit::Unknown unknown, double wide, double prior, change::Belief belief) {
    candidates.push_back({unknown, id_of(run, unknown, {}, {}), wide, prior, belief});
  };
  const auto change = [&](Kind kind, int index, double wide, change::Belief belief) {
    add({fit::UnknownKind::change, {kind, std::int16_t(index)}, 0}, wide, kPriorOfWide * wide, belief);
  };
  constexpr double kNever = 0;
  const beam::Stage& now = run.beam_stages[std::size_t(stage)];
  for (int i = 0; i < int(run.supports.size()); ++i) {
    if (!now.lists_support(i)) continue;
    const beam::Support<double>& support = run.beam_supports[std::size_t(i)];
    if (support.rise.held) change(Kind::move_rise, i, kWide_m, belief(kLikelyRise, kTheOtherWay));
    if (support.pitch.held) change(Kind::move_pitch, i, kWide_rad, belief(kLikelyTurn));
    if (support.roll.held) change(Kind::move_roll, i, kWide_rad, belief(kLikelyTurn));
  }
  change(Kind::torsion, 0, kWideStiffness, belief(kLikelyTorsion, kTheOtherWay));
  const double weight = weight_on_N(run, sheet.listed, stage);
  const auto weights = std::count_if(
      sheet.more.begin(), sheet.more.end(),
      [](const SheetWithMore::More& each) { return each.kind == SheetWithMore::Kind::unlisted; });
  for (int i = 0; i < int(sheet.more.size()); ++i) {
    const SheetWithMore::More& more = sheet.more[std::size_t(i)];
    const int load = sheet.listed + i;
    switch (more.kind) {
      case SheetWithMore::Kind::more:
        change(Kind::load, load, kWideLoad,
               belief(run.loads[std::size_t(load)].is_member ? kLikelyOwnWeight : kLikelyContents));
        candidates.back().belief.least = kLeastLoad;
        break;
      case SheetWithMore::Kind::later:
        change(Kind::load, load, kWideLoad, belief(kLikelyLater, 1, kNever));
        break;
      case SheetWithMore::Kind::softer:
        change(Kind::load, load, kWideStiffness, belief(kLikelyStiffness, 1, kTheOtherWay));
        candidates.back().id = {.of = UnknownOf::bending, .change = true};
        candidates.back().flexibility = true;
        candidates.back().belief.least = kLeastSofter;
        break;
      case SheetWithMore::Kind::unlisted: {
        if (!(weight > 0)) break;
        const Likely likely{kLikelyWeight.size * weight, kLikelyWeight.odds / double(weights)};
        change(Kind::load, load, kWideWeight * weight, belief(likely, 1, kNever));
        candidates.back().id = {
            .of = UnknownOf::unlisted_load, .number = int(std::lround(1e3 * more.at_m)), .change = true};
        break;
      }
    }
  }
  for (int i = 0; i < run.priors.bows; ++i) change(Kind::bow, i, kWide_m, belief(kLikelyBow));
  for (int i = 0; i < int(run.marks.size()); ++i)
    add({fit::UnknownKind::mark_change, {}, std::int16_t(i)}, kWide_m, kStable_m, belief(kLikelyMark));
  return candidates;
}

ChangeCandidate drift_share_candidate() {
  return {{fit::UnknownKind::drift_share, {}, 0}, {UnknownOf::drift_share}, 1, kCreepSigma, {}};
}

ChangesSince changes_since(const SheetWithMore& sheet, const std::vector<ChangeCandidate>& candidates,
                           bool marks_tie) {
  ChangesSince since;
  since.listed_loads = sheet.listed;
  for (const ChangeCandidate& each : candidates)
    if (each.unknown.kind == fit::UnknownKind::change)
      since.changes.push_back({each.unknown.shape, {0, each.prior}});
  if (marks_tie) since.mark_sigma_m.assign(sheet.run.marks.size(), kStable_m);
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

bool is_move(UnknownOf of) {
  return of == UnknownOf::move_rise || of == UnknownOf::move_pitch || of == UnknownOf::move_roll;
}

UnknownId spring_of(UnknownId move) {
  move.of = move.of == UnknownOf::move_rise    ? UnknownOf::spring_rise
            : move.of == UnknownOf::move_pitch ? UnknownOf::spring_pitch
                                               : UnknownOf::spring_roll;
  return move;
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
