// Results of a fit: estimates, shape, the finished run, the next best reading, what is carried on.
#include <algorithm>
#include <cmath>

#include "core/fit/fit.hpp"
#include "core/fit/fit_math.hpp"
#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {
namespace {

bool is_offset_of(const Unknown& unknown, std::uint32_t supports) {
  const auto is_it = [&](beam::Motion motion) { return unknown.shape.kind == beam::kOffsets[motion]; };
  return unknown.kind == UnknownKind::shape &&
         std::any_of(beam::kMotions.begin(), beam::kMotions.end(), is_it) &&
         ((supports >> unknown.shape.index) & 1u) != 0;
}

}  // namespace

template <class Scalar>
Estimate<Scalar> Fit<Scalar>::estimate(int unknown) const {
  Scalar unit[kMaxUnknowns] = {};
  unit[unknown] = 1;
  Scalar before[kMaxUnknowns];
  (void)prior_.answer(all(before));
  const Scalar variance = filter_.variance(all(unit));
  const Scalar prior_variance = prior_.variance(all(unit));
  const Scalar scale = scale_[unknown];
  return {reference_[unknown] + scale * scaled_[unknown], scale * std::sqrt(variance),
          reference_[unknown] + scale * before[unknown], scale * std::sqrt(prior_variance),
          1 - variance / prior_variance};
}

template <class Scalar>
void Fit<Scalar>::factor_row(int unknown, std::span<Scalar> out) const {
  std::fill(out.begin(), out.end(), Scalar(0));
  out[static_cast<std::size_t>(unknown)] = scale_[unknown];
  filter_.whiten(out, out);
}

template <class Scalar>
void Fit<Scalar>::information(std::span<const int> unknowns, std::span<Scalar> triangle,
                              std::span<Scalar> right) {
  filter_.marginal(unknowns, trial_);
  const std::size_t n = unknowns.size();
  for (std::size_t i = 0; i < n; ++i) {
    const std::span<const Scalar> row = trial_.triangle_row(static_cast<int>(i));
    std::copy_n(row.begin(), n, triangle.begin() + static_cast<std::ptrdiff_t>(i * n));
    right[i] = trial_.right_side(static_cast<int>(i));
  }
}

template <class Scalar>
Scalar Fit<Scalar>::covariance(int unknown, int other) const {
  Scalar a[kMaxUnknowns] = {}, b[kMaxUnknowns] = {};
  a[unknown] = scale_[unknown];
  b[other] = scale_[other];
  filter_.whiten(all(a), all(a));
  filter_.whiten(all(b), all(b));
  return dot<Scalar>(all(a), all(b));
}

template <class Scalar>
beam::State<Scalar> Fit<Scalar>::state() const {
  beam::State<Scalar> state;
  survey::KitState<Scalar> kit;
  place(scaled_, state, kit);
  return state;
}

template <class Scalar>
survey::KitState<Scalar> Fit<Scalar>::kit() const {
  beam::State<Scalar> state;
  survey::KitState<Scalar> kit;
  place(scaled_, state, kit);
  return kit;
}

// What loads and bows contribute: heights are linear in them, so value times derivative. As many at a time as the solver has
// columns.
template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::describe_parts(std::span<StationShape<Scalar>> out) {
  beam::Solver<Scalar>& solver = *problem_.solver;
  const auto columns = static_cast<std::size_t>(std::max(shape_unknowns_, 1));
  const beam::State<Scalar> estimate_state = state();
  const int parts = problem_.run->loads + problem_.run->bows;
  for (int from = 0; from < parts; from += static_cast<int>(columns)) {
    beam::Parameter by[kMaxUnknowns];
    Scalar derivative[kMaxUnknowns];
    const std::size_t count = std::min(columns, static_cast<std::size_t>(parts - from));
    for (std::size_t k = 0; k < count; ++k) {
      const int part = from + static_cast<int>(k), loads = problem_.run->loads;
      by[k] = part < loads
                  ? beam::Parameter{beam::ParameterKind::load, static_cast<std::int16_t>(part)}
                  : beam::Parameter{beam::ParameterKind::bow, static_cast<std::int16_t>(part - loads)};
    }
    if (const auto solved = solver.solve(estimate_state, {by, count}); !solved)
      return FitFault{FitFaultCode::run_not_solvable, -1, solved.fault()};
    for (std::size_t i = 0; i < out.size(); ++i) {
      solver.height_derivatives(problem_.stage, problem_.stations_m[i], 0, {derivative, count});
      for (std::size_t k = 0; k < count; ++k) {
        if (by[k].kind == beam::ParameterKind::load)
          out[i].sag_m += derivative[k] * estimate_state.load_factor[by[k].index];
        else
          out[i].bow_m += derivative[k] * estimate_state.bow_m[by[k].index];
      }
    }
  }
  return Done{};
}

// The line through what the supports' zeros do.
template <class Scalar>
void describe_tilt(std::span<StationShape<Scalar>> out) {
  Scalar mean_x = 0, mean_h = 0, xx = 0, xh = 0;
  const auto zeros = [](const StationShape<Scalar>& each) { return each.height_m - each.sag_m - each.bow_m; };
  for (const StationShape<Scalar>& each : out) {
    mean_x += each.at_m / Scalar(out.size());
    mean_h += zeros(each) / Scalar(out.size());
  }
  for (const StationShape<Scalar>& each : out) {
    xx += (each.at_m - mean_x) * (each.at_m - mean_x);
    xh += (each.at_m - mean_x) * (zeros(each) - mean_h);
  }
  const Scalar tilt = xx > 0 ? xh / xx : Scalar(0);
  for (StationShape<Scalar>& each : out) {
    each.tilt_and_height_m = mean_h + tilt * (each.at_m - mean_x);
    each.bent_by_supports_m = zeros(each) - each.tilt_and_height_m;
  }
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::describe(std::span<StationShape<Scalar>> out) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (out.size() != problem_.stations_m.size()) return fault(FitFaultCode::storage_too_small);
  if (out.empty()) return Done{};
  for (StationShape<Scalar>& each : out) each = {};
  if (const auto described = describe_parts(out); !described) return described.fault();
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  const beam::Solver<Scalar>& solver = *problem_.solver;
  Scalar mean[kMaxUnknowns] = {};  // of the whitened height rows
  Scalar whitened[kMaxUnknowns];
  for (const Scalar at : problem_.stations_m) {
    height_row(problem_.stage, at, 0, all(whitened));
    filter_.whiten(all(whitened), all(whitened));
    for (int j = 0; j < unknowns_; ++j) mean[j] += whitened[j] / Scalar(out.size());
  }
  const auto shape = static_cast<std::size_t>(shape_unknowns_);
  for (std::size_t i = 0; i < out.size(); ++i) {
    StationShape<Scalar>& each = out[i];
    each.at_m = problem_.stations_m[i];
    const beam::Section<Scalar> section = solver.at(problem_.stage, each.at_m);
    each.height_m = section.height_m;
    each.slope_rad = section.slope_rad;
    each.roll_rad = section.roll_rad;
    each.sag_to_come_m = solver.height(problem_.finished_stage, each.at_m) - section.height_m;
    height_row(problem_.stage, each.at_m, 0, all(whitened));
    filter_.whiten(all(whitened), all(whitened));
    each.height_sigma_m = std::sqrt(squared<Scalar>(all(whitened)));
    for (int j = 0; j < unknowns_; ++j) whitened[j] -= mean[j];
    each.height_less_mean_sigma_m = std::sqrt(squared<Scalar>(all(whitened)));

    std::fill_n(whitened, unknowns_, Scalar(0));
    solver.slope_derivatives(problem_.stage, each.at_m, {whitened, shape});
    to_scaled(all(whitened));
    each.slope_sigma_rad = std::sqrt(filter_.variance(all(whitened)));
    std::fill_n(whitened, unknowns_, Scalar(0));
    solver.roll_derivatives(problem_.stage, each.at_m, {whitened, shape});
    to_scaled(all(whitened));
    each.roll_sigma_rad = std::sqrt(filter_.variance(all(whitened)));
  }
  describe_tilt(out);
  return Done{};
}

// Leaves in a row of derivatives by the scaled unknowns those by changes; returns what they come to.
template <class Scalar>
Scalar Fit<Scalar>::changes_of(std::span<Scalar> row) const {
  Scalar sum = 0;
  for (std::size_t j = 0; j < row.size(); ++j) {
    if (problem_.unknowns->unknown[j].kind != UnknownKind::change) row[j] = 0;
    sum += row[j] * (reference_[j] / scale_[j] + scaled_[j]);
  }
  return sum;
}

template <class Scalar>
Result<Scalar, FitFault> Fit<Scalar>::height(Scalar at_m, Scalar across_m, bool changes,
                                             std::span<Scalar> row) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (row.size() != static_cast<std::size_t>(unknowns_)) return fault(FitFaultCode::storage_too_small);
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  height_row(problem_.stage, at_m, across_m, row);
  const Scalar value = changes ? changes_of(row) : problem_.solver->height(problem_.stage, at_m, across_m);
  filter_.whiten(row, row);
  return value;
}

template <class Scalar>
Result<Scalar, FitFault> Fit<Scalar>::roll(Scalar at_m, bool changes, std::span<Scalar> row) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (row.size() != static_cast<std::size_t>(unknowns_)) return fault(FitFaultCode::storage_too_small);
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  std::fill(row.begin(), row.end(), Scalar(0));
  problem_.solver->roll_derivatives(problem_.stage, at_m,
                                    row.first(static_cast<std::size_t>(shape_unknowns_)));
  to_scaled(row);
  const Scalar value = changes ? changes_of(row) : problem_.solver->at(problem_.stage, at_m).roll_rad;
  filter_.whiten(row, row);
  return value;
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::expected(const survey::Reading<Scalar>& reading, std::span<Scalar> row) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (row.size() != static_cast<std::size_t>(unknowns_)) return fault(FitFaultCode::storage_too_small);
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  observe(reading, row);
  filter_.whiten(row, row);
  return Done{};
}

// Mean heights of the finished check points and their rows by the scaled unknowns, the solver standing at the estimate.
template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::finished_rows(std::span<Scalar> height_m, std::span<Scalar> rows) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  const std::size_t points = 2 * problem_.stations_m.size();
  if ((!height_m.empty() && height_m.size() != points) || rows.size() != finish_.size())
    return fault(FitFaultCode::storage_too_small);
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  const Scalar half = problem_.width_m / 2;
  for (std::size_t j = 0; j < points; ++j) {
    const Scalar at = problem_.stations_m[j / 2], across = j % 2 == 0 ? half : -half;
    if (!height_m.empty()) height_m[j] = problem_.solver->height(problem_.finished_stage, at, across);
    height_row(problem_.finished_stage, at, across, row(rows, static_cast<int>(j)));
  }
  return Done{};
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::finished(std::span<Scalar> height_m, std::span<Scalar> factor) {
  if (const auto done = finished_rows(height_m, factor); !done) return done.fault();
  for (std::size_t j = 0; j < 2 * problem_.stations_m.size(); ++j) {
    const std::span<Scalar> out = row(factor, static_cast<int>(j));
    filter_.whiten(out, out);
  }
  return Done{};
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::finished_after(std::span<const beam::Motions<Scalar>> moves,
                                                   std::span<Scalar> height_m, std::span<Scalar> factor) {
  if (moves.size() != problem_.run->supports.size()) return fault(FitFaultCode::storage_too_small);
  const beam::State<Scalar> as_it_stands = problem_.base;
  std::copy(moves.begin(), moves.end(), problem_.base.move);
  problem_.base.move_stage = problem_.stage;
  const auto moves_something = [](const beam::Motions<Scalar>& move) {
    return move.rise != 0 || move.pitch != 0 || move.roll != 0;
  };
  if (std::any_of(moves.begin(), moves.end(), moves_something))  // what bears then is found anew
    problem_.base.bearing_given = std::min(problem_.base.bearing_given, problem_.stage);
  const Result<Done, FitFault> done = finished(height_m, factor);
  problem_.base = as_it_stands;
  return done;
}

// A reading with whitened row w takes w w' / (1 + w'w) from the covariance of the whitened unknowns (rank-one
// update), so it takes w'Mw / (1 + w'w) from the trace that M = sum over points of (row less mean)(row less
// mean)' has.
template <class Scalar>
Result<NextReadingGain<Scalar>, FitFault> Fit<Scalar>::next_reading(Readings instruments) {
  for (std::size_t k = 0; k < instruments.size(); ++k) {
    survey::Reading<Scalar> anywhere = instruments[k];
    anywhere.at_m = 0;
    anywhere.value = 0;
    if (const auto checked = check(anywhere, problem_.run->length_m, static_cast<int>(k)); !checked)
      return checked.fault();
  }
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  const int points = 2 * static_cast<int>(problem_.stations_m.size());
  NextReadingGain<Scalar> best;
  if (points == 0) return best;
  if (const auto done = finished({}, finish_); !done) return done.fault();

  Scalar mean[kMaxUnknowns] = {};
  for (int i = 0; i < points; ++i)
    for (int j = 0; j < unknowns_; ++j)
      mean[j] += row(finish_, i)[static_cast<std::size_t>(j)] / Scalar(points);
  std::fill(moment_.begin(), moment_.end(), Scalar(0));
  Scalar trace = 0;
  Scalar centred[kMaxUnknowns];
  for (int i = 0; i < points; ++i) {
    for (int j = 0; j < unknowns_; ++j) centred[j] = row(finish_, i)[static_cast<std::size_t>(j)] - mean[j];
    trace += squared<Scalar>(all(centred));
    for (int a = 0; a < unknowns_; ++a)
      for (int b = 0; b < unknowns_; ++b)
        row(moment_, a)[static_cast<std::size_t>(b)] += centred[a] * centred[b];
  }

  Scalar most = -1;
  Scalar whitened[kMaxUnknowns];
  for (std::size_t i = 0; i < problem_.stations_m.size(); ++i) {
    for (std::size_t k = 0; k < instruments.size(); ++k) {
      survey::Reading<Scalar> reading = instruments[k];
      reading.at_m = problem_.stations_m[i];
      observe(reading, all(whitened));
      for (int j = 0; j < unknowns_; ++j) whitened[j] /= reading.sigma;
      filter_.whiten(all(whitened), all(whitened));
      Scalar taken = 0;
      for (int j = 0; j < unknowns_; ++j) taken += whitened[j] * dot<Scalar>(row(moment_, j), all(whitened));
      taken /= 1 + squared<Scalar>(all(whitened));
      if (taken <= most + kSameGain<Scalar> * std::abs(most)) continue;  // of equal ones the first
      most = taken;
      best.reading = {static_cast<int>(i), static_cast<int>(k)};
    }
  }
  best.sigma_now_m = std::sqrt(trace / Scalar(points));
  best.sigma_after_m = std::sqrt(std::max(trace - std::max(most, Scalar(0)), Scalar(0)) / Scalar(points));
  return best;
}

template <class Scalar>
void Fit<Scalar>::carry(std::uint32_t moved_supports, Carried<Scalar>& out) {
  out.count = 0;
  if (status_ == Status::not_run) return;
  int kept[kMaxUnknowns];
  for (int j = 0; j < unknowns_; ++j) {
    const Unknown& unknown = problem_.unknowns->unknown[j];
    const bool lasts = unknown.kind == UnknownKind::shape || unknown.kind == UnknownKind::zero ||
                       unknown.kind == UnknownKind::mark_height;
    if (!lasts || is_offset_of(unknown, moved_supports)) continue;
    out.unknown[out.count] = unknown;
    out.reference[out.count] = reference_[j];
    out.scale[out.count] = scale_[j];
    kept[out.count++] = j;
  }
  if (out.count > 0) filter_.marginal({kept, static_cast<std::size_t>(out.count)}, out.information);
}

// For tests of the readings among themselves -------------------------------------------------------------------

template <class Scalar>
Scalar Fit<Scalar>::log_evidence(ConstJudgements judgements) const {
  Scalar strays = 0;
  for (const Judgement<Scalar>& each : judgements)
    if (each.verdict == Verdict::beyond_gate) strays += 1;
  return -self_test_.chi_squared / 2 + prior_.log_determinant() - filter_.log_determinant() -
         Scalar(kStrayCost) * strays;
}

template <class Scalar>
auto Fit<Scalar>::contact(int stage, int support) -> Result<Contact, FitFault> {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  const auto found = problem_.solver->contact(stage, support);
  Scalar row[kMaxUnknowns] = {};
  problem_.solver->contact_derivatives(stage, support, {row, static_cast<std::size_t>(shape_unknowns_)});
  to_scaled(all(row));
  return Contact{found.bears, found.margin, std::sqrt(filter_.variance(all(row)))};
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::effects_of(std::span<const beam::Parameter> moves, Readings readings,
                                               std::span<Scalar> by_reading, std::span<Scalar> finished) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  const std::size_t count = moves.size(), points = 2 * problem_.stations_m.size();
  if (by_reading.size() != readings.size() * count || finished.size() != points * count)
    return fault(FitFaultCode::storage_too_small);
  beam::Solver<Scalar>& solver = *problem_.solver;
  beam::State<Scalar> estimate = state();
  if (estimate.move_stage < 0) estimate.move_stage = problem_.stage;
  if (const auto solved = solver.solve(estimate, moves); !solved)
    return FitFault{FitFaultCode::run_not_solvable, -1, solved.fault()};
  const survey::Scene<Scalar> scene{problem_.solver, problem_.stage, problem_.run->length_m,
                                    problem_.width_m};
  Scalar scratch[kMaxUnknowns];
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const std::span<Scalar> row = by_reading.subspan(i * count, count);
    survey::predicted_by_shape<Scalar>(scene, readings[i], row, {scratch, count});
    for (Scalar& entry : row) entry /= readings[i].sigma;
  }
  const Scalar half = problem_.width_m / 2;
  for (std::size_t j = 0; j < points; ++j)
    solver.height_derivatives(problem_.finished_stage, problem_.stations_m[j / 2], j % 2 == 0 ? half : -half,
                              finished.subspan(j * count, count));
  return solve_at(scaled_);
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::linear_row(const survey::Reading<Scalar>& reading,
                                               std::span<Scalar> out) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  observe(reading, out);
  for (Scalar& entry : out) entry /= reading.sigma;
  return Done{};
}

#define HANGTRUE_INSTANTIATE(S)                                                                            \
  template Estimate<S> Fit<S>::estimate(int) const;                                                        \
  template void Fit<S>::factor_row(int, std::span<S>) const;                                               \
  template void Fit<S>::information(std::span<const int>, std::span<S>, std::span<S>);                     \
  template S Fit<S>::covariance(int, int) const;                                                           \
  template beam::State<S> Fit<S>::state() const;                                                           \
  template survey::KitState<S> Fit<S>::kit() const;                                                        \
  template Result<Done, FitFault> Fit<S>::describe(std::span<StationShape<S>>);                            \
  template Result<S, FitFault> Fit<S>::height(S, S, bool, std::span<S>);                                   \
  template Result<S, FitFault> Fit<S>::roll(S, bool, std::span<S>);                                        \
  template Result<Done, FitFault> Fit<S>::expected(const survey::Reading<S>&, std::span<S>);               \
  template Result<Done, FitFault> Fit<S>::finished_rows(std::span<S>, std::span<S>);                       \
  template Result<Done, FitFault> Fit<S>::finished(std::span<S>, std::span<S>);                            \
  template Result<Done, FitFault> Fit<S>::finished_after(std::span<const beam::Motions<S>>, std::span<S>,  \
                                                         std::span<S>);                                    \
  template auto Fit<S>::next_reading(Readings)->Result<NextReadingGain<S>, FitFault>;                      \
  template void Fit<S>::carry(std::uint32_t, Carried<S>&);                                                 \
  template S Fit<S>::log_evidence(ConstJudgements) const;                                                  \
  template auto Fit<S>::contact(int, int)->Result<Contact, FitFault>;                                      \
  template auto Fit<S>::effects_of(std::span<const beam::Parameter>, Readings, std::span<S>, std::span<S>) \
      ->Result<Done, FitFault>;                                                                            \
  template Result<Done, FitFault> Fit<S>::linear_row(const survey::Reading<S>&, std::span<S>);

HANGTRUE_INSTANTIATE(double)
HANGTRUE_INSTANTIATE(float)
#undef HANGTRUE_INSTANTIATE

}  // namespace hangtrue::fit
