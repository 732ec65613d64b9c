#include "firmware-host/job/settings.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "firmware-host/job/prediction.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

// Motions of a support, in the order of beam::Motions and of the kinds of move.
constexpr std::array kMoves{beam::ParameterKind::move_rise, beam::ParameterKind::move_pitch,
                            beam::ParameterKind::move_roll};

sheet::RunSheet both_ways(sheet::RunSheet sheet) {
  for (beam::Support<double>& support : sheet.beam_supports) support.holds = beam::Holds::both;
  return sheet;
}

}  // namespace

Settings::Settings(const sheet::RunSheet& run, int stage, int finished)
    : run_(run),
      stage_(stage),
      finished_(finished),
      linear_sheet_(both_ways(run)),
      linear_(linear_sheet_, int(kMoves.size()) * kMaxSupports + 1) {}

Result<Done, Fault> Settings::find(beam::State<double> state, const std::vector<double>& more_m) {
  state.move_stage = stage_;
  const std::vector<beam::Parameter> parameters = list_motions();
  if (const auto solved = linear_.solver().solve(state, parameters); !solved) return Fault(solved.fault());
  find_influence(state);
  limit_forces();
  list_stocks();
  list_places();
  for (std::size_t point = 0; point < more_m.size(); ++point) height_m_[point] += more_m[point];
  problem_.height_m = height_m_;
  problem_.forces = forces_;
  problem_.stocks = stocks_;
  problem_.places = places_;
  problem_.target_m = run_.tolerance.target_height_m;
  return Done{};
}

// ---- influence ----------------------------------------------------------------------------------------------------

// What can be set, from now to the finished stage; as parameters behind that of the bending stiffness.
std::vector<beam::Parameter> Settings::list_motions() {
  std::vector<beam::Parameter> parameters{{beam::ParameterKind::bending, 0}};
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    const sheet::Adjust& adjust = run_.supports[std::size_t(i)].adjust;
    if (adjust.by == sheet::AdjustBy::nothing) continue;
    bool listed = false;
    for (int s = stage_; s <= finished_; ++s) listed = listed || engaged(s, i);
    if (!listed) continue;
    adjustable_.push_back(i);
    const bool can[] = {true, adjust.pitch, adjust.roll};
    for (std::size_t m = 0; m < kMoves.size(); ++m) {
      if (!can[m]) continue;
      parameters.push_back({kMoves[m], std::int16_t(i)});
      motions_.push_back({i, int(m), std::vector<double>(2 * run_.stations_m.size()), {}});
    }
  }
  return parameters;
}

void Settings::find_influence(const beam::State<double>& state) {
  const beam::Solver<double>& linear = linear_.solver();
  std::vector<double> row(1 + motions_.size());  // by the bending stiffness, then by each motion
  height_m_ = edge_heights(run_, linear, finished_);
  sag_m_.resize(height_m_.size());
  for (std::size_t point = 0; point < height_m_.size(); ++point) {
    linear.height_derivatives(finished_, run_.stations_m[point / 2], across_m(run_, point), row);
    sag_m_[point] = -row[0] * state.bending_factor;
    for (std::size_t c = 0; c < motions_.size(); ++c) motions_[c].on_height[point] = row[1 + c];
  }
  for (int i = 0; i < int(run_.supports.size()); ++i) {
    if (!engaged(stage_, i)) continue;
    AtSupport at{i, {}, {}};
    const beam::Support<double>& support = run_.beam_supports[std::size_t(i)];
    linear.height_derivatives(stage_, support.at_m, support.across_m, row);
    at.rise.assign(row.begin() + 1, row.end());
    linear.force_derivatives(stage_, i, row);
    at.force.assign(row.begin() + 1, row.end());
    at_supports_.push_back(std::move(at));
  }
}

std::vector<Effect> Settings::effects(int support, const beam::Motions<double>& move) const {
  std::vector<Effect> result;
  for (const AtSupport& at : at_supports_) {
    if (at.support == support) continue;
    Effect effect{run_.supports[std::size_t(at.support)].name};
    for (std::size_t c = 0; c < motions_.size(); ++c) {
      if (motions_[c].support != support) continue;
      const double by = move[motions_[c].motion];
      effect.rise_m += at.rise[c] * by;
      effect.force_N += at.force[c] * by;
    }
    result.push_back(std::move(effect));
  }
  return result;
}

// ---- limits -------------------------------------------------------------------------------------------------------

void Settings::limit_forces() {
  const beam::Solver<double>& linear = linear_.solver();
  std::vector<double> row(1 + motions_.size());
  for (int s = stage_; s <= finished_; ++s)
    for (int i = 0; i < int(run_.supports.size()); ++i) {
      const beam::Support<double>& support = run_.beam_supports[std::size_t(i)];
      if (!engaged(s, i) || !support.rise.held) continue;
      adjust::ForceLimit<double> limit;
      limit.support = i;
      limit.stage = s;
      limit.now_N = linear.support(s, i).force_N;
      limit.while_moving = s == stage_;
      if (const std::optional<double> rating = run_.supports[std::size_t(i)].rating_N) {
        limit.greatest_N = *rating;
        limit.least_N = -*rating;
      }
      if (support.holds != beam::Holds::both) limit.least_N = kLeastForce_N;
      if (!std::isfinite(limit.least_N) && !std::isfinite(limit.greatest_N)) continue;
      linear.force_derivatives(s, i, row);
      for (std::size_t c = 0; c < motions_.size(); ++c) motions_[c].on_force.push_back(row[1 + c]);
      forces_.push_back(limit);
    }
}

// ---- stock and places ---------------------------------------------------------------------------------------------

void Settings::list_stocks() {
  for (const sheet::Stock& stock : run_.stocks) {
    kinds_.emplace_back();
    for (const sheet::PieceOfStock& piece : stock.pieces)
      kinds_.back().push_back({piece.thickness_m, piece.count});
  }
  for (std::size_t i = 0; i < run_.stocks.size(); ++i) {
    stocks_.push_back({kinds_[i], run_.stocks[i].most});
    if (run_.stocks[i].highest_m) stocks_.back().highest_m = *run_.stocks[i].highest_m;
  }
}

void Settings::list_places() {
  for (const int i : adjustable_) {
    const sheet::SupportEntry& support = run_.supports[std::size_t(i)];
    const sheet::Adjust& adjust = support.adjust;
    adjust::Place<double> place;
    place.support = i;
    place.by = adjust.by == sheet::AdjustBy::shims ? adjust::By::shims
               : adjust.by == sheet::AdjustBy::rod ? adjust::By::rod
                                                   : adjust::By::lift;
    place.rise_from_m = adjust.rise_from_m;
    place.rise_to_m = adjust.rise_to_m;
    place.stock = std::max(adjust.stock, 0);
    place.pitch = adjust.pitch;
    place.roll = adjust.roll;
    place.along_m = support.bolt_rows_along_m.value_or(0);
    place.across_m = support.bolt_rows_across_m.value_or(0);
    place.layout = adjust::layout_for(place.along_m > 0, place.across_m > 0, adjust.pitch, adjust.roll);
    place.step_m = adjust.by == sheet::AdjustBy::rod ? adjust.thread_m * adjust.step_turns : adjust.step_m;
    place.step_turns = adjust.step_turns;
    for (const Motion& each : motions_) {
      if (each.support != i) continue;
      place.on_height[each.motion] = each.on_height;
      place.on_force[each.motion] = each.on_force;
    }
    places_.push_back(place);
  }
}

}  // namespace hangtrue::job
