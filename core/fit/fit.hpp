// fit.hpp: the best estimate of a run's shape and of everything that makes it, from the readings of one
// survey.
//
// Model    readings = predicted(unknowns) + noise, noise ~ N(0, sigma^2), independent; each unknown has a
//          Gaussian prior (unknowns.hpp), or comes from an earlier stage's survey with its covariance
//          (Carried).
// Method   Gauss-Newton over the information filter, from the readings kept by the caller, with steps halved
//          where chi-squared would rise; unknowns are scaled by their priors inside.
// Gate     a reading whose normalised residual is beyond the gate is set aside, the largest first, one at a
//          time; after every change all are judged again, and one that fits (within nine tenths of the gate)
//          is put back. Normalised: residual / sqrt(sigma^2 - h P h') for a kept reading, / sqrt(sigma^2 + h
//          P h') for one set aside; the two agree, as both leave the reading itself out. Strays are few: when
//          more than a tenth of the readings would go (never more than a quarter, two may), or when another
//          cause than strays explains the lot better (causes()), all are kept and the self-test fails.
//          Nothing is dropped in silence: every reading has its Judgement.
// Units    SI, rad; sigma is one standard deviation; signs as in core/beam/run.hpp.
// Memory   the object itself (some hundred KB: not for the stack) and the caller's storage; no heap, no
//          exceptions.
// Source   W. Baarda, A testing procedure for use in geodetic networks, 1968 (normalised residuals); G. J.
//          Bierman 1977 (see information_filter.hpp). From memory.
//
//   Fit<double> fit;                         // make_unique, or static
//   fit.begin(problem, storage);             // now at the prior
//   fit.add(reading);                        // live: one more reading, as the survey goes on
//   fit.run(readings, by_hand, judgements);  // at leisure: from all readings, re-linearised and judged again
//   fit.describe(shape);  fit.finished(height, factor);  fit.next_reading(instruments);
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <span>

#include "core/beam/solver.hpp"
#include "core/fit/information_filter.hpp"
#include "core/fit/thresholds.hpp"
#include "core/fit/unknowns.hpp"
#include "core/survey/observation.hpp"

namespace hangtrue::fit {

enum class Status : std::uint8_t {
  not_run,     // begin() has not succeeded: no result is valid
  prior_only,  // no reading kept: every result is what was assumed beforehand, nothing is measured
  live,  // readings came in by add() since the last run(): linearised where that one, or the prior, left off
  settled,     // run(): the last step was below 1e-8 of a sigma (float: 1e-3); results are its
  not_settled  // run(): the steps did not end; results are of the last point and are not to be relied on
};

enum class FitFaultCode : std::uint8_t {
  run_not_solvable,       // stage_fault says why; at the prior mean, or wherever the first step begins
  no_unknowns,            // an empty list
  unknowns_out_of_order,  // shape parameters must come first; index: unknown
  prior_not_usable,       // a mean not finite, a sigma not finite or <= 0; index: unknown
  stage_not_there,        // survey's or finished stage outside the run's, or finished before the survey
  width_not_usable,       // negative or not finite
  station_off_run,        // not finite or outside 0 ... length; index: station
  reading_not_finite,     // value, place, base or sigma; index: reading
  sigma_not_positive,     // index: reading
  reading_off_run,        // outside 0 ... length and no distance to a mark, or base negative; index: reading
  no_such_instrument,     // set-up, zero or mark index beyond limits.hpp; index: reading
  face_not_usable,        // neither 1 nor -1; index: reading
  storage_too_small,      // less than storage_needed(), or spans of unequal size
  not_begun               // run() or add() before begin()
};
struct FitFault {
  FitFaultCode code{};
  int index = -1;
  beam::StageFault stage_fault{};
};

enum class Verdict : std::uint8_t {
  not_judged,      // no fit has seen it
  kept,            // used
  beyond_gate,     // set aside: |normalised| > gate
  by_hand,         // set aside because the caller said so, whatever its residual
  before_movement  // set aside because the run moved after it was read; given by the caller
};
template <class Scalar>
struct Judgement {
  Verdict verdict = Verdict::not_judged;
  Scalar residual = 0;    // value - predicted, rad or m
  Scalar normalised = 0;  // in sigmas, see "Gate"; 0 where nothing else speaks of what this reading says
};

template <class Scalar>
struct Options {
  Scalar gate = Scalar(kGate);            // sigmas
  int most_iterations = kMostIterations;  // Gauss-Newton steps in a row
};

/// What an earlier stage's survey taught, as far as it lasts. Made by Fit::carry.
template <class Scalar>
struct Carried {
  Unknown unknown[kMaxUnknowns];
  Scalar reference[kMaxUnknowns];  // unknown = reference + scale * (what the filter is over)
  Scalar scale[kMaxUnknowns];
  int count = 0;
  InformationFilter<Scalar, kMaxUnknowns> information;
};

template <class Scalar>
struct Problem {
  const beam::Run<Scalar>* run = nullptr;
  beam::Solver<Scalar>* solver = nullptr;  // of that run, created with a column a shape unknown, at least 1
  int stage = 0;                           // of the survey
  int finished_stage = 0;                  // whose shape is wanted, >= stage
  Scalar width_m = 0;
  std::span<const Scalar> stations_m;
  const UnknownList<Scalar>* unknowns = nullptr;
  const Carried<Scalar>* carried = nullptr;  // takes the place of the list's priors for the unknowns it holds
  beam::State<Scalar> base;                  // values of what is not unknown (state_of_means), moves made
  survey::KitState<Scalar> kit;              // likewise (kit_of_means)
  Options<Scalar> options;
};

/// An unknown after the fit.
template <class Scalar>
struct Estimate {
  Scalar value, sigma;
  Scalar prior_value, prior_sigma;
  Scalar learned;  // 1 - (sigma / prior_sigma)^2: share of the prior variance that the readings took away
};

/// The shape at one station at the survey's stage, on the reference line.
/// height = tilt_and_height + bent_by_supports + sag + bow, exactly as the model stands (up to one-way
/// supports that change their state).
template <class Scalar>
struct StationShape {
  Scalar at_m;
  Scalar height_m, height_sigma_m;  // includes the common height
  Scalar height_less_mean_sigma_m;  // of the height less the mean over the stations
  Scalar slope_rad, slope_sigma_rad;
  Scalar roll_rad, roll_sigma_rad;
  Scalar tilt_and_height_m;   // straight line (least squares over the stations) through what the supports'
                              // zeros do
  Scalar bent_by_supports_m;  // the rest of that: supports that force the run out of straight
  Scalar sag_m;               // elastic, under the loads of this stage; shims do not cure it
  Scalar bow_m;               // stress-free, as made
  Scalar sag_to_come_m;       // height at the finished stage less height now
};

enum class TestOutcome : std::uint8_t {
  nothing_to_test,  // no reading kept
  holds,            // settled (or live), p_value >= 0.01, no kept reading and no prior beyond the gate
  fails             // one of these is not so: the numbers are not to be relied on; see causes()
};
template <class Scalar>
struct SelfTest {
  TestOutcome outcome = TestOutcome::nothing_to_test;
  Scalar chi_squared = 0;      // of kept readings, and the prior's terms
  int degrees_of_freedom = 0;  // readings kept: each prior is an observation of its unknown
  Scalar p_value = 1;
  Scalar largest_normalised = 0;  // among the kept, by size
  int largest_reading = -1;
  // (estimate - prior) / sqrt(prior_sigma^2 - sigma^2), by size: in a long survey chi-squared alone would not
  // see one unknown far outside its prior. 0 for an unknown of which nothing was learned.
  Scalar largest_prior_normalised = 0;
  int largest_unknown = -1;
  int beyond_gate = 0;  // readings set aside by the gate
  int by_hand = 0;
};

enum class CauseKind : std::uint8_t {
  none_of_these,  // chance, or something not modelled
  unknown_off,    // index: unknown, further from its prior than the prior allows
  rough_channel,  // index: instrument channel (-1: readings without one) that scatters more than stated
  stray_readings  // those beyond the gate are strays, and all else is as stated
};
template <class Scalar>
struct Cause {
  CauseKind kind{};
  int index = -1;
  Scalar weight = 0;  // 0 ... 1; all causes together 1
  Scalar value = 0;   // unknown_off: its value if this is the cause; rough_channel: factor on sigma
  Scalar sigma = 0;   // of that value; unknown_off only
};
inline constexpr int kMaxCauses = kMaxUnknowns + kMaxChannels + 3;

struct NextReading {
  int station = -1;     // -1: no instrument, or no station
  int instrument = -1;  // index into those given
};
template <class Scalar>
struct NextReadingGain {
  NextReading reading;
  Scalar sigma_now_m = 0;    // r.m.s. over the finished check points of the sigma of the height less the mean
  Scalar sigma_after_m = 0;  // the same with that reading taken
};

template <class Scalar>
class Fit {
 public:
  /// Scalars of storage for a problem of this size.
  [[nodiscard]] static std::size_t storage_needed(int unknowns, int readings, int stations);

  /// Checks the problem and stands at the prior. Problem's pointers, its spans and `storage` must outlive the
  /// fit.
  [[nodiscard]] Result<Done, FitFault> begin(const Problem<Scalar>& problem, std::span<Scalar> storage);

  /// For the next run(). With most_iterations 1 and by_hand for what is not to count, what information() then gives is
  /// linearised at the prior.
  void set_options(const Options<Scalar>& options) { problem_.options = options; }

  /// One reading into the filter, linearised at the estimate as it stands. It enters if it is inside the
  /// gate. The caller keeps it for run().
  [[nodiscard]] Result<Judgement<Scalar>, FitFault> add(const survey::Reading<Scalar>& reading);

  /// From all readings anew. `by_hand`: empty, or one entry a reading, not 0: to be set aside. `judgements`:
  /// one a reading. At most as many readings as storage_needed() was asked for.
  [[nodiscard]] Result<Status, FitFault> run(std::span<const survey::Reading<Scalar>> readings,
                                             std::span<const std::uint8_t> by_hand,
                                             std::span<Judgement<Scalar>> judgements);

  // Results, after begin(): none depends on another having been called, but each leaves the solver solved at
  // the estimate, with derivatives by the shape unknowns.
  // -------------------------------------------------------------

  [[nodiscard]] Status status() const { return status_; }
  [[nodiscard]] int unknowns() const { return unknowns_; }
  [[nodiscard]] Estimate<Scalar> estimate(int unknown) const;
  [[nodiscard]] Scalar covariance(int unknown, int other) const;
  /// The unknown's row of the same factor that finished() gives: its product with a check point's row is the
  /// covariance of the two. out: unknowns() entries.
  void factor_row(int unknown, std::span<Scalar> out) const;
  /// What is known of these alone, the others taken out: R and z with R'R the information (prior included) over them,
  /// each less its prior mean and in prior sigmas, and R times the estimate = z. triangle: as many rows of as many
  /// entries; right: as many.
  void information(std::span<const int> unknowns, std::span<Scalar> triangle, std::span<Scalar> right);
  /// The estimate as state and kit.
  [[nodiscard]] beam::State<Scalar> state() const;
  [[nodiscard]] survey::KitState<Scalar> kit() const;
  [[nodiscard]] SelfTest<Scalar> self_test() const { return self_test_; }

  /// One entry a station.
  [[nodiscard]] Result<Done, FitFault> describe(std::span<StationShape<Scalar>> out);

  /// The height at the survey's stage, or (`changes`) what the changes since the earlier survey add to it, and its row of
  /// the same factor as factor_row(): unknowns() entries.
  [[nodiscard]] Result<Scalar, FitFault> height(Scalar at_m, Scalar across_m, bool changes,
                                                std::span<Scalar> row);
  /// Likewise the roll.
  [[nodiscard]] Result<Scalar, FitFault> roll(Scalar at_m, bool changes, std::span<Scalar> row);
  /// What `reading` should be, as a row of the same factor: the sum of its squares is the variance of that. Its own value and
  /// sigma are not used; without a channel of `zero` its instrument's zero error is not in it.
  [[nodiscard]] Result<Done, FitFault> expected(const survey::Reading<Scalar>& reading,
                                                std::span<Scalar> row);

  /// Check points of the finished stage: station 0 left edge, station 0 right edge, station 1 left ...
  /// height_m: 2 * stations, their mean heights. factor: 2 * stations rows of unknowns() entries; factor *
  /// factor' is their covariance, m^2.
  [[nodiscard]] Result<Done, FitFault> finished(std::span<Scalar> height_m, std::span<Scalar> factor);
  /// The same after moves of the supports' zeros (one a support) made at the survey's stage: what a move does
  /// depends on stiffness too, so that its uncertainty is not that of the run as it stands.
  [[nodiscard]] Result<Done, FitFault> finished_after(std::span<const beam::Motions<Scalar>> moves,
                                                      std::span<Scalar> height_m, std::span<Scalar> factor);

  /// After run(), with its readings and judgements: the likelier causes, the likeliest first; returns how
  /// many of `out` (kMaxCauses suffice) are filled. Each cause relaxes one assumption (a prior, or a
  /// channel's sigma, by 3, 10 or 30, a stray by up to 100,000, equally likely) and weighs how much likelier that makes the readings
  /// (Gaussian evidence, linearised at the estimate, over all readings that are not set aside by hand);
  /// none_of_these is as likely beforehand as all others together, and these are equally likely. Of use where
  /// the self-test fails.
  [[nodiscard]] int causes(std::span<const survey::Reading<Scalar>> readings,
                           std::span<const Judgement<Scalar>> judgements, std::span<Cause<Scalar>> out);

  /// Which of `instruments` (readings whose value and place do not matter) at which station would most reduce
  /// the uncertainty of the finished shape.
  [[nodiscard]] Result<NextReadingGain<Scalar>, FitFault> next_reading(
      std::span<const survey::Reading<Scalar>> instruments);

  // For tests of the readings among themselves (bearing.hpp, walk.hpp), after run().
  // -------------------------------------------------------------

  /// ln of how likely the readings are by this model, but for what all models of the same readings share: Gaussian evidence,
  /// linearised at the estimate. A reading beyond its gate costs kStrayCost.
  [[nodiscard]] Scalar log_evidence(std::span<const Judgement<Scalar>> judgements) const;
  /// A one-way support that `stage` (up to the survey's) lists: its margin (beam::Solver::Contact) with its sigma.
  struct Contact {
    bool bears = false;
    Scalar margin = 0, sigma = 0;
  };
  [[nodiscard]] Result<Contact, FitFault> contact(int stage, int support);
  /// What moves of supports' zeros at the survey's stage do to each reading, in its sigmas, and to each check point of the
  /// finished stage: readings x moves, 2 stations x moves. At most kMaxUnknowns moves, and as many as the solver has columns.
  [[nodiscard]] Result<Done, FitFault> effects_of(std::span<const beam::Parameter> moves,
                                                  std::span<const survey::Reading<Scalar>> readings,
                                                  std::span<Scalar> by_reading, std::span<Scalar> finished);
  /// Of the finished check points mean heights (or empty: not wanted) and rows by the scaled unknowns, not whitened.
  [[nodiscard]] Result<Done, FitFault> finished_rows(std::span<Scalar> height_m, std::span<Scalar> rows);
  /// Derivatives of any reading by the scaled unknowns, in its sigmas.
  [[nodiscard]] Result<Done, FitFault> linear_row(const survey::Reading<Scalar>& reading,
                                                  std::span<Scalar> out);
  /// That row of a reading of run(); and what row times scaled unknowns should be, with a sigma of 1.
  [[nodiscard]] std::span<const Scalar> reading_row(int reading) const { return row(rows_, reading); }
  [[nodiscard]] Scalar reading_target(int reading) const {
    return targets_[static_cast<std::size_t>(reading)];
  }
  /// The estimate over the scaled unknowns: unknowns() entries.
  void estimate_scaled(std::span<Scalar> out) const { std::copy_n(scaled_, out.size(), out.begin()); }
  /// What is known before any reading, over the scaled unknowns.
  [[nodiscard]] const InformationFilter<Scalar, kMaxUnknowns>& prior_information() const { return prior_; }

  /// What lasts to the next survey: shape unknowns, zero errors and marks; no datums, no changes; no offsets of supports
  /// whose bit is set in `moved_supports`.
  void carry(std::uint32_t moved_supports, Carried<Scalar>& out);

 private:
  using Filter = InformationFilter<Scalar, kMaxUnknowns>;
  using Readings = std::span<const survey::Reading<Scalar>>;
  using Judgements = std::span<Judgement<Scalar>>;
  using ConstJudgements = std::span<const Judgement<Scalar>>;

  [[nodiscard]] std::span<Scalar> row(std::span<Scalar> of, int i) const {
    const auto size = static_cast<std::size_t>(unknowns_);
    return of.subspan(static_cast<std::size_t>(i) * size, size);
  }
  [[nodiscard]] std::span<Scalar> all(Scalar* of) const { return {of, static_cast<std::size_t>(unknowns_)}; }
  [[nodiscard]] std::span<const Scalar> all(const Scalar* of) const {
    return {of, static_cast<std::size_t>(unknowns_)};
  }

  void load_prior();
  void place(const Scalar* scaled, beam::State<Scalar>& state, survey::KitState<Scalar>& kit) const;
  Result<Done, FitFault> solve_at(const Scalar* scaled);
  void observe(const survey::Reading<Scalar>& reading, std::span<Scalar> out);
  void height_row(int stage, Scalar at_m, Scalar across_m, std::span<Scalar> out);
  void to_scaled(std::span<Scalar> shape_part) const;
  Scalar changes_of(std::span<Scalar> row) const;
  Result<Done, FitFault> linearise(Readings readings, const Scalar* scaled);
  [[nodiscard]] Scalar misfit(ConstJudgements judgements) const;
  void refilter(ConstJudgements judgements);
  Result<bool, FitFault> settle(Readings readings, ConstJudgements judgements);
  void judge(Judgements judgements) const;
  bool judge_until_quiet(Judgements judgements);
  [[nodiscard]] bool strays_explain_it(Readings readings, ConstJudgements judgements);
  void conclude(ConstJudgements judgements);
  void test(Scalar chi_squared);
  Result<Done, FitFault> describe_parts(std::span<StationShape<Scalar>> out);
  [[nodiscard]] Scalar evidence_with(ConstJudgements judgements, const survey::Reading<Scalar>* readings,
                                     int channel, Scalar factor);

  Problem<Scalar> problem_;
  Status status_ = Status::not_run;
  SelfTest<Scalar> self_test_;
  int unknowns_ = 0;
  int shape_unknowns_ = 0;
  int most_readings_ = 0;
  int readings_ = 0;
  beam::Parameter parameters_[kMaxUnknowns];
  Scalar reference_[kMaxUnknowns] = {};  // unknown = reference + scale * scaled
  Scalar scale_[kMaxUnknowns] = {};
  Scalar scaled_[kMaxUnknowns] = {};     // the estimate
  Scalar linear_[kMaxUnknowns] = {};     // where the solver stands and the rows were linearised
  survey::KitState<Scalar> linear_kit_;  // likewise
  Filter prior_, filter_, trial_;
  std::span<Scalar> rows_;     // readings x unknowns: by the scaled unknowns, divided by sigma
  std::span<Scalar> targets_;  // readings: what row . scaled should be
  std::span<Scalar> sigmas_;   // readings
  std::span<Scalar> finish_;   // 2 * stations x unknowns: whitened
  std::span<Scalar> moment_;   // unknowns x unknowns
};

// Instantiated for double and float in fit.cpp, results.cpp and causes.cpp.

}  // namespace hangtrue::fit
