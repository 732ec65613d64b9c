#include "core/fit/fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/fit/distribution.hpp"
#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {
namespace {

template <class Scalar>
Scalar dot(std::span<const Scalar> a, std::span<const Scalar> b) {
  Scalar sum = 0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
  return sum;
}

template <class Scalar>
Scalar squared(std::span<const Scalar> a) {
  return dot<Scalar>(a, a);
}

// ln(sum of exp): 10 ** (what Gaussian evidences are) does not fit a float.
template <class Scalar>
Scalar log_mean_exp(std::span<const Scalar> logs) {
  const Scalar most = *std::max_element(logs.begin(), logs.end());
  Scalar sum = 0;
  for (const Scalar log : logs) sum += std::exp(log - most);
  return most + std::log(sum / Scalar(logs.size()));
}

template <class Scalar>
Scalar log_choose(int n, int k) {
  return std::lgamma(Scalar(n + 1)) - std::lgamma(Scalar(k + 1)) - std::lgamma(Scalar(n - k + 1));
}

FitFault fault(FitFaultCode code, int index = -1) { return {code, index, {}}; }

template <class Scalar>
Result<Done, FitFault> check(const survey::Reading<Scalar>& reading, Scalar length_m, int index) {
  if (!std::isfinite(reading.value) || !std::isfinite(reading.at_m) || !std::isfinite(reading.base_m) ||
      !std::isfinite(reading.sigma) || !std::isfinite(reading.drift))
    return fault(FitFaultCode::reading_not_finite, index);
  if (!(reading.sigma > 0)) return fault(FitFaultCode::sigma_not_positive, index);
  const bool on_mark = reading.mark >= 0 && reading.channel == Channel::distance;
  if ((!on_mark && (reading.at_m < 0 || reading.at_m > length_m)) || reading.base_m < 0)
    return fault(FitFaultCode::reading_off_run, index);
  if (reading.set_up >= kMaxSetUps || reading.zero >= kMaxChannels || reading.mark >= kMaxMarks)
    return fault(FitFaultCode::no_such_instrument, index);
  if (reading.face != 1 && reading.face != -1) return fault(FitFaultCode::face_not_usable, index);
  return Done{};
}

template <class Scalar>
Result<Done, FitFault> check(const Problem<Scalar>& problem) {
  const int stages = static_cast<int>(problem.run->stages.size());
  if (problem.stage < 0 || problem.finished_stage < problem.stage || problem.finished_stage >= stages)
    return fault(FitFaultCode::stage_not_there);
  if (!std::isfinite(problem.width_m) || problem.width_m < 0) return fault(FitFaultCode::width_not_usable);
  for (std::size_t i = 0; i < problem.stations_m.size(); ++i)
    if (!(problem.stations_m[i] >= 0 && problem.stations_m[i] <= problem.run->length_m))
      return fault(FitFaultCode::station_off_run, static_cast<int>(i));
  if (problem.unknowns->count <= 0) return fault(FitFaultCode::no_unknowns);
  for (int j = 0; j < problem.unknowns->count; ++j) {
    const Prior<Scalar>& prior = problem.unknowns->prior[j];
    if (!std::isfinite(prior.mean) || !std::isfinite(prior.sigma) || !(prior.sigma > 0))
      return fault(FitFaultCode::prior_not_usable, j);
    if (j > 0 && is_of_shape(problem.unknowns->unknown[j].kind) &&
        !is_of_shape(problem.unknowns->unknown[j - 1].kind))
      return fault(FitFaultCode::unknowns_out_of_order, j);
  }
  return Done{};
}

bool is_offset_of(const Unknown& unknown, std::uint32_t supports) {
  const auto is_it = [&](beam::Motion motion) { return unknown.shape.kind == beam::kOffsets[motion]; };
  return unknown.kind == UnknownKind::shape &&
         std::any_of(beam::kMotions.begin(), beam::kMotions.end(), is_it) &&
         ((supports >> unknown.shape.index) & 1u) != 0;
}

}  // namespace

// Setting up -------------------------------------------------------------------------------------------------

template <class Scalar>
std::size_t Fit<Scalar>::storage_needed(int unknowns, int readings, int stations) {
  const auto p = static_cast<std::size_t>(unknowns);
  const auto n = static_cast<std::size_t>(readings);
  const auto points = 2 * static_cast<std::size_t>(stations);
  return n * (p + 2) + points * p + p * p;
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::begin(const Problem<Scalar>& problem, std::span<Scalar> storage) {
  status_ = Status::not_run;
  self_test_ = {};
  readings_ = 0;
  if (const auto checked = check(problem); !checked) return checked.fault();
  problem_ = problem;
  unknowns_ = problem.unknowns->count;
  const auto p = static_cast<std::size_t>(unknowns_);
  const std::size_t points = 2 * problem.stations_m.size();
  const std::size_t fixed = points * p + p * p;
  if (storage.size() < fixed) return fault(FitFaultCode::storage_too_small);
  finish_ = storage.first(points * p);
  moment_ = storage.subspan(points * p, p * p);
  const std::size_t readings = (storage.size() - fixed) / (p + 2);
  most_readings_ = static_cast<int>(readings);
  rows_ = storage.subspan(fixed, readings * p);
  targets_ = storage.subspan(fixed + readings * p, readings);
  sigmas_ = storage.subspan(fixed + readings * (p + 1), readings);

  shape_unknowns_ = 0;
  for (int j = 0; j < unknowns_; ++j) {
    const Unknown& unknown = problem.unknowns->unknown[j];
    if (is_of_shape(unknown.kind)) parameters_[shape_unknowns_++] = unknown.shape;
    reference_[j] = problem.unknowns->prior[j].mean;
    scale_[j] = problem.unknowns->prior[j].sigma;
  }
  load_prior();
  filter_ = prior_;
  (void)prior_.answer(all(scaled_));  // a proper prior determines every unknown
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  status_ = Status::prior_only;
  return Done{};
}

// Over the scaled unknowns an independent prior is mean 0, sigma 1. What was carried enters as the rows of
// its triangle.
template <class Scalar>
void Fit<Scalar>::load_prior() {
  const UnknownList<Scalar>& list = *problem_.unknowns;
  int kept[kMaxUnknowns];    // of the carried unknowns: those that are in the list
  int column[kMaxUnknowns];  // and where
  int carried = 0;
  bool is_carried[kMaxUnknowns] = {};
  if (problem_.carried != nullptr) {
    for (int k = 0; k < problem_.carried->count; ++k) {
      const Unknown* end = list.unknown + list.count;
      const Unknown* found = std::find(list.unknown, end, problem_.carried->unknown[k]);
      if (found == end) continue;
      column[carried] = static_cast<int>(found - list.unknown);
      is_carried[column[carried]] = true;
      kept[carried++] = k;
    }
  }

  prior_.start(unknowns_);
  for (int j = 0; j < unknowns_; ++j)
    if (!is_carried[j]) prior_.know(j, 0, 1);
  if (carried == 0) return;
  const Carried<Scalar>& from = *problem_.carried;
  from.information.marginal({kept, static_cast<std::size_t>(carried)}, trial_);
  for (int i = 0; i < carried; ++i) {
    Scalar row[kMaxUnknowns] = {};
    Scalar value = trial_.right_side(i);
    for (int k = 0; k < carried; ++k) {
      const Scalar entry = trial_.triangle_row(i)[static_cast<std::size_t>(k)] / from.scale[kept[k]];
      row[column[k]] = entry * scale_[column[k]];
      value -= entry * (reference_[column[k]] - from.reference[kept[k]]);
    }
    prior_.add(all(row), value, 1);
  }
}

template <class Scalar>
void Fit<Scalar>::place(const Scalar* scaled, beam::State<Scalar>& state,
                        survey::KitState<Scalar>& kit) const {
  state = problem_.base;
  kit = problem_.kit;
  for (int j = 0; j < unknowns_; ++j)
    assign(problem_.unknowns->unknown[j], reference_[j] + scale_[j] * scaled[j], state, kit);
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::solve_at(const Scalar* scaled) {
  beam::State<Scalar> state;
  survey::KitState<Scalar> kit;
  place(scaled, state, kit);
  const auto solved = problem_.solver->solve(state, {parameters_, static_cast<std::size_t>(shape_unknowns_)});
  if (!solved) return FitFault{FitFaultCode::run_not_solvable, -1, solved.fault()};
  std::copy_n(scaled, unknowns_, linear_);
  linear_kit_ = kit;
  return Done{};
}

// Rows -------------------------------------------------------------------------------------------------------

template <class Scalar>
void Fit<Scalar>::to_scaled(std::span<Scalar> out) const {
  for (std::size_t j = 0; j < out.size(); ++j) out[j] *= scale_[j];
}

// Derivatives of the predicted value by the scaled unknowns.
template <class Scalar>
void Fit<Scalar>::observe(const survey::Reading<Scalar>& reading, std::span<Scalar> out) {
  Scalar scratch[kMaxUnknowns];
  const survey::Scene<Scalar> scene{problem_.solver, problem_.stage, problem_.run->length_m,
                                    problem_.width_m};
  const auto shape = static_cast<std::size_t>(shape_unknowns_);
  survey::predicted_by_shape<Scalar>(scene, reading, out.first(shape), {scratch, shape});
  const survey::ByKit<Scalar> by = survey::predicted_by_kit(reading);
  for (std::size_t j = shape; j < out.size(); ++j) {
    const Unknown& unknown = problem_.unknowns->unknown[j];
    out[j] = 0;
    if (unknown.kind == UnknownKind::zero && unknown.index == reading.zero) out[j] = by.zero;
    const bool by_mark = unknown.kind == UnknownKind::mark_height || unknown.kind == UnknownKind::mark_change;
    if (by_mark && unknown.index == reading.mark) out[j] = by.mark_height;
    if (unknown.kind == UnknownKind::drift_share) out[j] = by.drift_share;
    if (unknown.index != reading.set_up) continue;
    if (unknown.kind == UnknownKind::datum_height) out[j] = by.datum_height;
    if (unknown.kind == UnknownKind::datum_tilt) out[j] = by.datum_tilt;
  }
  to_scaled(out);
}

template <class Scalar>
void Fit<Scalar>::height_row(int stage, Scalar at_m, Scalar across_m, std::span<Scalar> out) {
  const auto shape = static_cast<std::size_t>(shape_unknowns_);
  problem_.solver->height_derivatives(stage, at_m, across_m, out.first(shape));
  std::fill(out.begin() + shape_unknowns_, out.end(), Scalar(0));
  to_scaled(out);
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::linearise(Readings readings, const Scalar* scaled) {
  if (const auto solved = solve_at(scaled); !solved) return solved.fault();
  const survey::Scene<Scalar> scene{problem_.solver, problem_.stage, problem_.run->length_m,
                                    problem_.width_m};
  for (int i = 0; i < readings_; ++i) {
    const auto at = static_cast<std::size_t>(i);
    const survey::Reading<Scalar>& reading = readings[at];
    const std::span<Scalar> derivatives = row(rows_, i);
    observe(reading, derivatives);
    for (Scalar& entry : derivatives) entry /= reading.sigma;
    const Scalar residual = reading.value - survey::predicted(scene, reading, linear_kit_);
    targets_[at] = residual / reading.sigma + dot<Scalar>(derivatives, all(linear_));
    sigmas_[at] = reading.sigma;
  }
  return Done{};
}

// Chi-squared where the rows were linearised.
template <class Scalar>
Scalar Fit<Scalar>::misfit(ConstJudgements judgements) const {
  Scalar sum = 0;
  for (int i = 0; i < unknowns_; ++i) {
    const Scalar off = prior_.right_side(i) - dot<Scalar>(prior_.triangle_row(i), all(linear_));
    sum += off * off;
  }
  for (int i = 0; i < readings_; ++i) {
    const auto at = static_cast<std::size_t>(i);
    if (judgements[at].verdict != Verdict::kept) continue;
    const Scalar off = targets_[at] - dot<Scalar>(row(rows_, i), all(linear_));
    sum += off * off;
  }
  return sum;
}

template <class Scalar>
void Fit<Scalar>::refilter(ConstJudgements judgements) {
  filter_ = prior_;
  for (int i = 0; i < readings_; ++i) {
    const auto at = static_cast<std::size_t>(i);
    if (judgements[at].verdict == Verdict::kept) filter_.add(row(rows_, i), targets_[at], 1);
  }
  (void)filter_.answer(all(scaled_));  // determined: the prior is
}

// Gauss-Newton -----------------------------------------------------------------------------------------------

template <class Scalar>
Result<bool, FitFault> Fit<Scalar>::settle(Readings readings, ConstJudgements judgements) {
  if (!linearise(readings,
                 scaled_)) {  // judging may have led where the run cannot be solved: from the prior, then
    (void)prior_.answer(all(scaled_));
    if (const auto done = linearise(readings, scaled_); !done) return done.fault();
  }
  for (int iteration = 0; iteration < problem_.options.most_iterations; ++iteration) {
    const Scalar before = misfit(judgements);
    refilter(judgements);
    Scalar from[kMaxUnknowns], step[kMaxUnknowns];
    for (int j = 0; j < unknowns_; ++j) {
      from[j] = linear_[j];
      step[j] = scaled_[j] - from[j];
    }
    Scalar length = 0;  // squared, in sigmas of the estimate
    for (int i = 0; i < unknowns_; ++i) {
      const Scalar along = dot<Scalar>(filter_.triangle_row(i), all(step));
      length += along * along;
    }
    if (length <= kShortStep<Scalar> * kShortStep<Scalar>) return true;

    Scalar share = 1;
    bool taken = false;
    for (int halving = 0; halving < kMostHalvings && !taken; ++halving, share /= 2) {
      Scalar next[kMaxUnknowns];
      for (int j = 0; j < unknowns_; ++j) next[j] = from[j] + share * step[j];
      if (!linearise(readings, next)) continue;
      taken = misfit(judgements) <= before + kRoundingOfMisfit<Scalar> * (1 + before);
    }
    if (!taken) {
      if (const auto done = linearise(readings, from); !done) return done.fault();
      refilter(judgements);
      std::copy_n(from, unknowns_, scaled_);
      return false;
    }
  }
  std::copy_n(linear_, unknowns_, scaled_);
  return false;
}

// Judging ----------------------------------------------------------------------------------------------------

template <class Scalar>
void Fit<Scalar>::judge(Judgements judgements) const {
  for (int i = 0; i < readings_; ++i) {
    const auto at = static_cast<std::size_t>(i);
    Judgement<Scalar>& judgement = judgements[at];
    const Scalar known = filter_.variance(row(rows_, i));
    const Scalar off = targets_[at] - dot<Scalar>(row(rows_, i), all(scaled_));
    const Scalar variance = judgement.verdict == Verdict::kept ? 1 - known : 1 + known;
    judgement.residual = off * sigmas_[at];
    judgement.normalised = variance > kLeastRedundancy<Scalar> ? off / std::sqrt(variance) : Scalar(0);
  }
}

// One reading a turn goes out (the worst) or comes back (the best); true when any did.
template <class Scalar>
bool Fit<Scalar>::judge_until_quiet(Judgements judgements) {
  bool changed = false;
  for (int turn = 0; turn < 2 * readings_ + kMostRounds; ++turn) {
    judge(judgements);
    Judgement<Scalar>* worst = nullptr;
    Judgement<Scalar>* best = nullptr;
    for (Judgement<Scalar>& judgement : judgements) {
      const Scalar size = std::abs(judgement.normalised);
      if (judgement.verdict == Verdict::kept && size > problem_.options.gate &&
          (worst == nullptr || size > std::abs(worst->normalised)))
        worst = &judgement;
      if (judgement.verdict == Verdict::beyond_gate && size <= Scalar(kBackInside) * problem_.options.gate &&
          (best == nullptr || size < std::abs(best->normalised)))
        best = &judgement;
    }
    if (worst != nullptr) {
      worst->verdict = Verdict::beyond_gate;
    } else if (best != nullptr) {
      best->verdict = Verdict::kept;
    } else {
      return changed;
    }
    changed = true;
    refilter(judgements);
  }
  judge(judgements);
  return changed;
}

template <class Scalar>
Result<Status, FitFault> Fit<Scalar>::run(Readings readings, std::span<const std::uint8_t> by_hand,
                                          Judgements judgements) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (readings.size() > static_cast<std::size_t>(most_readings_) || judgements.size() != readings.size() ||
      (!by_hand.empty() && by_hand.size() != readings.size()))
    return fault(FitFaultCode::storage_too_small);
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (const auto checked = check(readings[i], problem_.run->length_m, static_cast<int>(i)); !checked)
      return checked.fault();
    const bool aside = !by_hand.empty() && by_hand[i] != 0;
    judgements[i] = {aside ? Verdict::by_hand : Verdict::kept, 0, 0};
  }
  readings_ = static_cast<int>(readings.size());
  (void)prior_.answer(all(scaled_));

  const auto count = [&](Verdict verdict) {
    return static_cast<int>(std::count_if(judgements.begin(), judgements.end(),
                                          [&](const auto& each) { return each.verdict == verdict; }));
  };
  const int judged = readings_ - count(Verdict::by_hand);
  const int most_strays = std::max(1, std::min(judged / 4, std::max(2, judged / 10)));
  const auto take_all_back = [&] {
    for (Judgement<Scalar>& each : judgements)
      if (each.verdict == Verdict::beyond_gate) each.verdict = Verdict::kept;
  };
  // A gross blunder must not drag the iteration away before any gate has looked at it: judged once as the prior sees it,
  // unless too many would go.
  if (const auto done = linearise(readings, scaled_); !done) {
    status_ = Status::not_run;
    return done.fault();
  }
  refilter(judgements);
  (void)judge_until_quiet(judgements);
  if (count(Verdict::beyond_gate) > most_strays) take_all_back();
  (void)prior_.answer(all(scaled_));

  bool judging = true;
  for (int round = 0;; ++round) {
    const auto settled = settle(readings, judgements);
    if (!settled) {
      status_ = Status::not_run;
      return settled.fault();
    }
    status_ = settled.value() ? Status::settled : Status::not_settled;
    if (!judging || round == kMostRounds) {
      judge(judgements);
      break;
    }
    const bool changed = judge_until_quiet(judgements);
    const int strays = count(Verdict::beyond_gate);
    if (strays > most_strays || (!changed && strays > 0 && !strays_explain_it(readings, judgements))) {
      take_all_back();
      judging = false;
    } else if (!changed) {
      break;
    }
  }
  if (count(Verdict::kept) == 0) status_ = Status::prior_only;
  conclude(judgements);
  return status_;
}

// False when some unknown or some channel explains better what is beyond the gate.
template <class Scalar>
bool Fit<Scalar>::strays_explain_it(Readings readings, ConstJudgements judgements) {
  conclude(judgements);
  Cause<Scalar> found[kMaxCauses];
  const int count = causes(readings, judgements, found);
  return count == 0 || found[0].kind == CauseKind::stray_readings ||
         found[0].kind == CauseKind::none_of_these;
}

template <class Scalar>
void Fit<Scalar>::conclude(ConstJudgements judgements) {
  self_test_ = {};
  for (int i = 0; i < readings_; ++i) {
    const Judgement<Scalar>& each = judgements[static_cast<std::size_t>(i)];
    if (each.verdict == Verdict::beyond_gate) ++self_test_.beyond_gate;
    if (each.verdict == Verdict::by_hand) ++self_test_.by_hand;
    if (each.verdict != Verdict::kept) continue;
    ++self_test_.degrees_of_freedom;
    if (self_test_.largest_reading < 0 || std::abs(each.normalised) > self_test_.largest_normalised) {
      self_test_.largest_normalised = std::abs(each.normalised);
      self_test_.largest_reading = i;
    }
  }
  if (self_test_.degrees_of_freedom == 0) return;
  test(status_ == Status::not_settled ? misfit(judgements) : filter_.sum_of_squares());
}

// What the self-test says, its counts and largest residual being there.
template <class Scalar>
void Fit<Scalar>::test(Scalar chi_squared) {
  self_test_.chi_squared = chi_squared;
  self_test_.p_value = Scalar(chi_squared_tail(chi_squared, self_test_.degrees_of_freedom));
  self_test_.largest_prior_normalised = 0;
  self_test_.largest_unknown = -1;
  for (int j = 0; j < unknowns_; ++j) {
    const Estimate<Scalar> known = estimate(j);
    if (!(known.learned > kLeastRedundancy<Scalar>)) continue;
    const Scalar off =
        std::abs(known.value - known.prior_value) / (known.prior_sigma * std::sqrt(known.learned));
    if (off <= self_test_.largest_prior_normalised) continue;
    self_test_.largest_prior_normalised = off;
    self_test_.largest_unknown = j;
  }
  const bool holds = status_ != Status::not_settled && self_test_.p_value >= Scalar(0.01) &&
                     self_test_.largest_normalised <= problem_.options.gate &&
                     self_test_.largest_prior_normalised <= problem_.options.gate;
  self_test_.outcome = holds ? TestOutcome::holds : TestOutcome::fails;
}

template <class Scalar>
Result<Judgement<Scalar>, FitFault> Fit<Scalar>::add(const survey::Reading<Scalar>& reading) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (const auto checked = check(reading, problem_.run->length_m, 0); !checked) return checked.fault();
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  const survey::Scene<Scalar> scene{problem_.solver, problem_.stage, problem_.run->length_m,
                                    problem_.width_m};
  Scalar derivatives[kMaxUnknowns];
  observe(reading, all(derivatives));
  Judgement<Scalar> judgement;
  judgement.residual = reading.value - survey::predicted(scene, reading, linear_kit_);
  const Scalar variance = reading.sigma * reading.sigma + filter_.variance(all(derivatives));
  judgement.normalised = judgement.residual / std::sqrt(variance);
  const Scalar size = std::abs(judgement.normalised);
  if (size > problem_.options.gate) {
    judgement.verdict = Verdict::beyond_gate;
    ++self_test_.beyond_gate;
    return judgement;
  }
  judgement.verdict = Verdict::kept;
  const Scalar target = judgement.residual + dot<Scalar>(all(derivatives), all(linear_));
  filter_.add(all(derivatives), target, reading.sigma);
  (void)filter_.answer(all(scaled_));
  status_ = Status::live;
  ++self_test_.degrees_of_freedom;
  self_test_.largest_normalised = std::max(self_test_.largest_normalised, size);
  test(filter_.sum_of_squares());
  return judgement;
}

// Results ----------------------------------------------------------------------------------------------------

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

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::describe(std::span<StationShape<Scalar>> out) {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (out.size() != problem_.stations_m.size()) return fault(FitFaultCode::storage_too_small);
  if (out.empty()) return Done{};
  beam::Solver<Scalar>& solver = *problem_.solver;
  const auto columns = static_cast<std::size_t>(std::max(shape_unknowns_, 1));

  // What loads and bows contribute: heights are linear in them, so value times derivative. As many at a time
  // as the solver has columns.
  for (StationShape<Scalar>& each : out) each = {};
  const beam::State<Scalar> estimate_state = state();
  const int parts = problem_.run->loads + problem_.run->bows;
  for (int from = 0; from < parts; from += static_cast<int>(columns)) {
    beam::Parameter by[kMaxUnknowns];
    Scalar derivative[kMaxUnknowns];
    const std::size_t count = std::min(columns, static_cast<std::size_t>(parts - from));
    const auto load_of = [&](std::size_t k) { return from + static_cast<int>(k); };
    for (std::size_t k = 0; k < count; ++k) {
      const int load = load_of(k);
      by[k] = load < problem_.run->loads
                  ? beam::Parameter{beam::ParameterKind::load, static_cast<std::int16_t>(load)}
                  : beam::Parameter{beam::ParameterKind::bow,
                                    static_cast<std::int16_t>(load - problem_.run->loads)};
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

  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
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

  // The line through what the supports' zeros do.
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

// Whitened height rows of the finished check points, the solver standing at the estimate.
template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::finish_rows() {
  if (status_ == Status::not_run) return fault(FitFaultCode::not_begun);
  if (const auto solved = solve_at(scaled_); !solved) return solved.fault();
  const Scalar half = problem_.width_m / 2;
  for (std::size_t i = 0; i < problem_.stations_m.size(); ++i) {
    for (int side = 0; side < 2; ++side) {
      const std::span<Scalar> out = row(finish_, 2 * static_cast<int>(i) + side);
      height_row(problem_.finished_stage, problem_.stations_m[i], side == 0 ? half : -half, out);
      filter_.whiten(out, out);
    }
  }
  return Done{};
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::finished(std::span<Scalar> height_m, std::span<Scalar> factor) {
  if (height_m.size() != 2 * problem_.stations_m.size() || factor.size() != finish_.size())
    return fault(FitFaultCode::storage_too_small);
  if (const auto done = finish_rows(); !done) return done.fault();
  const Scalar half = problem_.width_m / 2;
  for (std::size_t i = 0; i < problem_.stations_m.size(); ++i) {
    height_m[2 * i] = problem_.solver->height(problem_.finished_stage, problem_.stations_m[i], half);
    height_m[2 * i + 1] = problem_.solver->height(problem_.finished_stage, problem_.stations_m[i], -half);
  }
  std::copy(finish_.begin(), finish_.end(), factor.begin());
  return Done{};
}

template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::finished_after(std::span<const beam::Motions<Scalar>> moves,
                                                   std::span<Scalar> height_m, std::span<Scalar> factor) {
  if (moves.size() != problem_.run->supports.size()) return fault(FitFaultCode::storage_too_small);
  const beam::State<Scalar> as_it_stands = problem_.base;
  std::copy(moves.begin(), moves.end(), problem_.base.move);
  problem_.base.move_stage = problem_.stage;
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
  if (const auto done = finish_rows(); !done) return done.fault();
  const int points = 2 * static_cast<int>(problem_.stations_m.size());
  NextReadingGain<Scalar> best;
  if (points == 0) return best;

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

// Causes -----------------------------------------------------------------------------------------------------

// ln of the Gaussian evidence, but for what all causes share, of all readings that are not set aside by hand,
// with sigma times `factor` for those of `channel` (or, where `readings` is null, for those beyond the gate).
// Leaves the filter in trial_.
template <class Scalar>
Scalar Fit<Scalar>::evidence_with(ConstJudgements judgements, const survey::Reading<Scalar>* readings,
                                  int channel, Scalar factor) {
  trial_ = prior_;
  Scalar widened = 0;
  for (int i = 0; i < readings_; ++i) {
    const auto at = static_cast<std::size_t>(i);
    const Verdict verdict = judgements[at].verdict;
    if (verdict == Verdict::by_hand) continue;
    const bool rough = readings == nullptr ? verdict == Verdict::beyond_gate : readings[i].zero == channel;
    trial_.add(row(rows_, i), targets_[at], rough ? factor : Scalar(1));
    if (rough) widened += 1;
  }
  return -trial_.sum_of_squares() / 2 + prior_.log_determinant() - trial_.log_determinant() -
         widened * std::log(factor);
}

template <class Scalar>
int Fit<Scalar>::causes(Readings readings, ConstJudgements judgements, std::span<Cause<Scalar>> out) {
  const bool has_run = status_ == Status::settled || status_ == Status::not_settled;
  if (!has_run || readings.size() != static_cast<std::size_t>(readings_) ||
      judgements.size() != readings.size())
    return 0;
  constexpr std::size_t kScales = std::size(kRelaxations);
  int count = 0;
  const auto push = [&](const Cause<Scalar>& cause) {  // weight: its logarithm, for now
    if (static_cast<std::size_t>(count) < out.size()) out[static_cast<std::size_t>(count++)] = cause;
  };

  const Scalar as_stated = evidence_with(judgements, nullptr, 0, 1);
  push({CauseKind::none_of_these, -1, 0, 0, 0});

  // An unknown whose prior is wider by a variance c: the prior's information loses gamma * a a', a =
  // information * unit vector, gamma = c / (1 + c * unit' information unit). The evidence is then a Gaussian
  // integral over u = a . (unknowns - prior mean), which the posterior knows to be N(mean_u, variance_u).
  Scalar answer[kMaxUnknowns], before[kMaxUnknowns];
  (void)trial_.answer(all(answer));
  (void)prior_.answer(all(before));
  for (int j = 0; j < unknowns_; ++j) {
    const UnknownKind kind = problem_.unknowns->unknown[j].kind;
    if (kind == UnknownKind::datum_height || kind == UnknownKind::mark_height) continue;
    const auto at = static_cast<std::size_t>(j);
    Scalar unit[kMaxUnknowns] = {}, direction[kMaxUnknowns] = {};
    unit[j] = 1;
    Scalar information = 0;
    for (int i = 0; i <= j; ++i) {
      const std::span<const Scalar> triangle = prior_.triangle_row(i);
      information += triangle[at] * triangle[at];
      for (int k = i; k < unknowns_; ++k)
        direction[k] += triangle[at] * triangle[static_cast<std::size_t>(k)];
    }
    Scalar mean_u = 0;
    for (int k = 0; k < unknowns_; ++k) mean_u += direction[k] * (answer[k] - before[k]);
    const Scalar prior_variance = prior_.variance(all(unit));
    trial_.whiten(all(direction), all(direction));
    trial_.whiten(all(unit), all(unit));
    const Scalar variance_u = squared<Scalar>(all(direction));
    const Scalar variance = squared<Scalar>(all(unit));
    const Scalar shared = dot<Scalar>(all(unit), all(direction));

    Cause<Scalar> cause{CauseKind::unknown_off, j, 0, 0, 0};
    Scalar logs[kScales];
    std::size_t best = 0;
    for (std::size_t k = 0; k < kScales; ++k) {
      const Scalar scale = Scalar(kRelaxations[k]);
      const Scalar wider = (scale * scale - 1) * prior_variance;
      const Scalar gamma = wider / (1 + wider * information);
      const Scalar left = std::max(1 - gamma * variance_u, std::numeric_limits<Scalar>::epsilon());
      logs[k] = (gamma * mean_u * mean_u / left - std::log(1 + wider * information) - std::log(left)) / 2;
      if (k > 0 && logs[k] <= logs[best]) continue;
      best = k;
      cause.value = reference_[j] + scale_[j] * (answer[j] + shared * gamma * mean_u / left);
      cause.sigma = scale_[j] * std::sqrt(variance + shared * shared * gamma / left);
    }
    cause.weight = log_mean_exp<Scalar>(logs);
    push(cause);
  }

  for (int channel = -1; channel < kMaxChannels; ++channel) {
    if (std::none_of(readings.begin(), readings.end(),
                     [&](const auto& each) { return each.zero == channel; }))
      continue;
    Cause<Scalar> cause{CauseKind::rough_channel, channel, 0, 0, 0};
    Scalar logs[kScales];
    for (std::size_t k = 0; k < kScales; ++k) {
      const Scalar factor = Scalar(kRelaxations[k]);
      logs[k] = evidence_with(judgements, readings.data(), channel, factor) - as_stated;
      if (k == 0 || logs[k] > *std::max_element(logs, logs + k)) cause.value = factor;
    }
    cause.weight = log_mean_exp<Scalar>(logs);
    push(cause);
  }

  if (self_test_.beyond_gate > 0) {
    Scalar logs[std::size(kStrayFactors)];
    for (std::size_t k = 0; k < std::size(kStrayFactors); ++k)
      logs[k] = evidence_with(judgements, nullptr, 0, Scalar(kStrayFactors[k])) - as_stated;
    const int tried = self_test_.beyond_gate + self_test_.degrees_of_freedom;
    const Scalar which = log_choose<Scalar>(tried, self_test_.beyond_gate);
    push({CauseKind::stray_readings, -1, log_mean_exp<Scalar>(logs) - which, 0, 0});
  }

  const std::span<Cause<Scalar>> found = out.first(static_cast<std::size_t>(count));
  if (found.empty()) return 0;
  found[0].weight = std::log(Scalar(std::max(count - 1, 1)));
  Scalar most = found[0].weight;
  for (const Cause<Scalar>& cause : found) most = std::max(most, cause.weight);
  Scalar sum = 0;
  for (Cause<Scalar>& cause : found) sum += cause.weight = std::exp(cause.weight - most);
  for (Cause<Scalar>& cause : found) cause.weight /= sum;
  for (std::size_t i = 1; i < found.size(); ++i)  // insertion: equal weights keep their order
    for (std::size_t k = i; k > 0 && found[k - 1].weight < found[k].weight; --k)
      std::swap(found[k - 1], found[k]);
  return count;
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

template class Fit<double>;
template class Fit<float>;

}  // namespace hangtrue::fit
