#include "core/fit/fit.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "core/fit/distribution.hpp"
#include "core/fit/fit_math.hpp"
#include "core/fit/thresholds.hpp"

namespace hangtrue::fit {
namespace {

/// So many readings let one more go out or come back at once. No source: a survey by hand has fewer, and is judged one at a time.
constexpr int kReadingsForEachAtOnce = 256;
/// Nearly as bad as the worst; clearly inside the gate. No source.
constexpr double kNearlyAsBad = 0.8;

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

// What a reading has of the instruments: derivatives by the unknowns behind those of the shape, not scaled yet.
template <class Scalar>
void observe_kit(const UnknownList<Scalar>& unknowns, const survey::Reading<Scalar>& reading,
                 std::size_t shape, std::span<Scalar> out) {
  const survey::ByKit<Scalar> by = survey::predicted_by_kit(reading);
  for (std::size_t j = shape; j < out.size(); ++j) {
    const Unknown& unknown = unknowns.unknown[j];
    out[j] = 0;
    if (unknown.kind == UnknownKind::zero && unknown.index == reading.zero) out[j] = by.zero;
    const bool by_mark = unknown.kind == UnknownKind::mark_height || unknown.kind == UnknownKind::mark_change;
    if (by_mark && unknown.index == reading.mark) out[j] = by.mark_height;
    if (unknown.kind == UnknownKind::drift_share) out[j] = by.drift_share;
    if (unknown.index != reading.set_up) continue;
    if (unknown.kind == UnknownKind::datum_height) out[j] = by.datum_height;
    if (unknown.kind == UnknownKind::datum_tilt) out[j] = by.datum_tilt;
  }
}

// The same of the run, but for the face, and as well.
template <class Scalar>
bool sees_the_same(const survey::Reading<Scalar>& a, const survey::Reading<Scalar>& b) {
  return a.channel == b.channel && a.at_m == b.at_m && a.edge == b.edge && a.base_m == b.base_m &&
         a.set_up == b.set_up && a.mark == b.mark && a.sigma == b.sigma;
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
  observe_kit(*problem_.unknowns, reading, shape, out);
  to_scaled(out);
}

template <class Scalar>
void Fit<Scalar>::height_row(int stage, Scalar at_m, Scalar across_m, std::span<Scalar> out) {
  const auto shape = static_cast<std::size_t>(shape_unknowns_);
  problem_.solver->height_derivatives(stage, at_m, across_m, out.first(shape));
  std::fill(out.begin() + shape_unknowns_, out.end(), Scalar(0));
  to_scaled(out);
}

// A place that is read on both faces, or again, is looked up once.
template <class Scalar>
Result<Done, FitFault> Fit<Scalar>::linearise(Readings readings, const Scalar* scaled) {
  if (const auto solved = solve_at(scaled); !solved) return solved.fault();
  const survey::Scene<Scalar> scene{problem_.solver, problem_.stage, problem_.run->length_m,
                                    problem_.width_m};
  const auto shape = static_cast<std::size_t>(shape_unknowns_);
  constexpr int kBack = 4;  // slope and roll are read by turns
  Scalar seen[kBack] = {};  // without what the zero error and the drift add
  for (int i = 0; i < readings_; ++i) {
    const auto at = static_cast<std::size_t>(i);
    const survey::Reading<Scalar>& reading = readings[at];
    const std::span<Scalar> derivatives = row(rows_, i);
    int like = i - 1;
    while (like >= 0 && i - like <= kBack &&
           !sees_the_same(readings[static_cast<std::size_t>(like)], reading))
      --like;
    if (like < 0 || i - like > kBack) {
      observe(reading, derivatives);
      for (Scalar& entry : derivatives) entry /= reading.sigma;
      survey::Reading<Scalar> bare = reading;
      bare.zero = -1;
      bare.drift = 0;
      seen[i % kBack] = survey::predicted(scene, bare, linear_kit_);
    } else {
      // A distance has no face, whatever a readings file says.
      const int faces = reading.face * readings[static_cast<std::size_t>(like)].face;
      const auto turned = Scalar(reading.channel == Channel::distance ? 1 : faces);
      const std::span<Scalar> known = row(rows_, like);
      for (std::size_t j = 0; j < shape; ++j) derivatives[j] = turned * known[j];
      observe_kit(*problem_.unknowns, reading, shape, derivatives);
      for (std::size_t j = shape; j < derivatives.size(); ++j)
        derivatives[j] = derivatives[j] * scale_[j] / reading.sigma;
      seen[i % kBack] = turned * seen[like % kBack];
    }
    const Scalar added = (reading.zero < 0 ? Scalar(0) : linear_kit_.zero[reading.zero]) +
                         linear_kit_.drift_share * reading.drift;
    const Scalar residual = reading.value - (seen[i % kBack] + added);
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

// One reading a turn goes out (the worst) or comes back (the best); true when any did. Of many readings those go together that are
// nearly as bad, or clearly inside again, so that the turns do not grow with the readings.
template <class Scalar>
bool Fit<Scalar>::judge_until_quiet(Judgements judgements) {
  bool changed = false;
  const int at_once = 1 + readings_ / kReadingsForEachAtOnce;
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
    if (worst == nullptr && best == nullptr) return changed;
    const Scalar least =
        worst != nullptr ? std::max(problem_.options.gate, Scalar(kNearlyAsBad) * std::abs(worst->normalised))
                         : Scalar(0);
    int more = at_once - 1;
    for (Judgement<Scalar>& judgement : judgements) {
      const Scalar size = std::abs(judgement.normalised);
      const bool with_worst = worst != nullptr && judgement.verdict == Verdict::kept && size >= least;
      const bool with_best = worst == nullptr && judgement.verdict == Verdict::beyond_gate &&
                             size <= Scalar(kNearlyAsBad * kBackInside) * problem_.options.gate;
      if (more == 0 || &judgement == worst || &judgement == best || !(with_worst || with_best)) continue;
      judgement.verdict = with_worst ? Verdict::beyond_gate : Verdict::kept;
      --more;
    }
    if (worst != nullptr)
      worst->verdict = Verdict::beyond_gate;
    else
      best->verdict = Verdict::kept;
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

#define HANGTRUE_INSTANTIATE(S)                                                                             \
  template std::size_t Fit<S>::storage_needed(int, int, int);                                               \
  template Result<Done, FitFault> Fit<S>::begin(const Problem<S>&, std::span<S>);                           \
  template Result<Judgement<S>, FitFault> Fit<S>::add(const survey::Reading<S>&);                           \
  template auto Fit<S>::run(Readings, std::span<const std::uint8_t>, Judgements)->Result<Status, FitFault>; \
  template void Fit<S>::place(const S*, beam::State<S>&, survey::KitState<S>&) const;                       \
  template Result<Done, FitFault> Fit<S>::solve_at(const S*);                                               \
  template void Fit<S>::to_scaled(std::span<S>) const;                                                      \
  template void Fit<S>::observe(const survey::Reading<S>&, std::span<S>);                                   \
  template void Fit<S>::height_row(int, S, S, std::span<S>);

HANGTRUE_INSTANTIATE(double)
HANGTRUE_INSTANTIATE(float)
#undef HANGTRUE_INSTANTIATE

}  // namespace hangtrue::fit
