// survey_fit.hpp: the readings of one survey in, the fit and its report out.
//
// Units     SI, radians; signs as in core/beam/run.hpp; sigma is one standard deviation.
// Priors    of the run sheet and the kit sheet; of the checks in the book where take_checks() was called (checks.hpp says
//           which counts); of earlier surveys where a carried state is given.
// Later     A support that engages after the survey's stage takes the run as it then is, but for its fit-up: how far its bolts
//           draw the run. Where it is pulled home that is the sigma of its own zero.
// Rigid     is a claim: what a support called rigid gives is an unknown, one sigma of it kRigidClaim of the run's own flexibility:
//           L^3 / 48 EI in rise, L / 3 EI in pitch, L / 2 GJ in roll. Left out where there are too many unknowns.
// Creep     what a carried state expects the run to have done since it was built (CarriedState::drift) is added to what readings
//           should be; its share is an unknown of sigma kCreepSigma, unless take_drift_share() gives it. The report's stations,
//           finished() and finished_after() have it in their heights, so that a run that crept is not told to be as it was built.
// Warmth    what rods and posts grow by, reading by reading, is taken off the readings (warmth.hpp): the shape is as at the
//           temperature at which what is carried stood, else at the mean of the survey's own readings.
// Bearing   which one-way supports bear is found (core/fit/bearing.hpp).
// Movement  what moved while the run was read is found (walk_check.hpp); what was read before it does not count.
// Finished  the sheet's tolerance stage, or the survey's own where that is later.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/fit/fit.hpp"
#include "firmware-host/job/carried_state.hpp"
#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/fault.hpp"
#include "firmware-host/job/quantity.hpp"
#include "firmware-host/job/repeats.hpp"
#include "firmware-host/job/scale_check.hpp"
#include "firmware-host/job/solved_run.hpp"
#include "firmware-host/job/thresholds.hpp"
#include "firmware-host/job/walk_check.hpp"
#include "firmware-host/job/warmth.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/readings.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::job {

struct UnknownEstimate {
  UnknownId id;
  fit::Estimate<double> estimate;

  /// As found; and as assumed before any reading.
  [[nodiscard]] Quantity found() const { return {kind_of(id), estimate.value, estimate.sigma}; }
  [[nodiscard]] Quantity assumed() const { return {kind_of(id), estimate.prior_value, estimate.prior_sigma}; }
};

struct NextReading {
  double at_m = 0;
  std::string instrument;
  Channel channel = Channel::slope;
  int face = 1;
  survey::Edge edge = survey::Edge::middle;
  double sigma_now_m = 0,
         sigma_after_m = 0;  // r.m.s. over the finished check points, of the height less the mean
};

/// A likelier cause of a fit that does not hold.
struct LikelierCause {
  fit::CauseKind kind{};
  std::optional<UnknownId> unknown;  // unknown_off: which one is further off than its prior allows
  Quantity off;                      // likewise: its value if this is the cause
  std::optional<ChannelId>
      channel;        // rough_channel: that scatters; none: distances, which have no zero error
  double weight = 0;  // 0 ... 1
};

/// Which one-way supports of the survey's stage do not bear, and how probable that is.
struct BearingOption {
  std::vector<std::string> lifted;
  double probability = 0;
  std::vector<std::uint32_t>
      by_stage;  // likewise in the likeliest such set, a bit a support, up to the survey's stage
};

struct FitReport {
  int stage = 0;
  fit::Status status = fit::Status::not_run;
  std::vector<UnknownEstimate> parameters;
  std::vector<fit::StationShape<double>> stations;
  std::vector<fit::Judgement<double>> judgements;  // one a reading, in order
  fit::SelfTest<double> self_test;
  std::vector<LikelierCause> causes;     // only where the self-test fails
  std::optional<NextReading> next;       // none without an instrument
  std::vector<Repeats> repeats;          // one a channel that has any
  std::vector<Warning> warnings;         // of the checks taken
  std::vector<BearingOption> bearing;    // the likeliest first; one where the readings settle it
  bool bearing_open = false;             // what remains leads to different answers
  std::vector<FoundMovement> movements;  // within the walk, in the order they were found
  Warmth warmth;                         // taken off the readings

  /// Its self-test fails by chi-squared alone, and by little: one good survey in a hundred scatters so, one in a thousand more.
  [[nodiscard]] bool holds_only_just() const;
};

/// Changes since an earlier survey, as unknowns of a later one's fit (recheck.hpp).
struct ChangesSince {
  std::vector<fit::Change<double>> changes;
  int listed_loads = -1;  // loads behind these were not on: their factor is what changed alone; -1: none
  std::vector<double>
      mark_sigma_m;  // by mark of the sheet: prior of its change where it is read; none, 0: it stands still
  std::vector<double> drift;     // by reading, in order: what is expected to have been added meanwhile
  double drift_share_sigma = 0;  // prior of the share of it that came, whose mean is 1
};

class SurveyFit {
 public:
  /// `kit` may be nullptr. `carried`: from an earlier survey, or nullptr. All must outlive it.
  SurveyFit(const sheet::RunSheet& run, const sheet::KitSheet* kit, int stage,
            const CarriedState* carried = nullptr);
  ~SurveyFit();
  SurveyFit(const SurveyFit&) = delete;
  SurveyFit& operator=(const SurveyFit&) = delete;

  [[nodiscard]] const sheet::RunSheet& run() const;
  [[nodiscard]] int stage() const;
  [[nodiscard]] int finished_stage() const;
  /// Checks of the instruments to start from, from the next fit() on; in the place of those taken before.
  void take_checks(Checks checks);
  /// What was found by hand at this survey's stage; the last answer for a support counts. From the next fit() on.
  void take_answers(std::vector<sheet::BearingRemark> answers);
  /// What is known not to have borne, a bit a support, by stage: the first of the run's. From the next fit() on nothing else is
  /// looked for there.
  void take_bearing(std::vector<std::uint32_t> by_stage);
  /// Where places were told one by one, as to the daemon, somebody has to say where they begin: a support, the one nearest to
  /// that end; empty: nobody said. Without this call places are taken at their word. From the next fit() on.
  void take_start(std::string support);
  [[nodiscard]] const std::optional<std::string>& start_told() const;
  /// For plans, whose readings are predicted: what bears is as the sheet has it, and nothing is looked for that moved.
  void take_as_planned();
  /// From the next fit() on. The carried state must be that of the earlier survey.
  void expect_changes(ChangesSince changes);
  /// From the next fit() on: the share of the carried drift that came, as known.
  void take_drift_share(double share);
  void add(sheet::ReadingEntry reading);
  /// Takes back the last reading; false when there is none.
  bool drop_last();
  [[nodiscard]] const std::vector<sheet::ReadingEntry>& readings() const;

  /// Fits all readings so far.
  [[nodiscard]] Result<Done, Fault> fit();

  // After a fit() without fault.
  // -------------------------------------------------------------

  [[nodiscard]] const FitReport& report() const;
  [[nodiscard]] fit::Fit<double>& fitted();
  [[nodiscard]] const fit::UnknownList<double>& unknowns() const;
  [[nodiscard]] UnknownId id_of(const fit::Unknown& unknown) const;
  /// The readings as the fit took them.
  [[nodiscard]] const sheet::Survey& survey() const;
  /// Channels of these readings whose scale, unit and sign nobody checked.
  [[nodiscard]] std::vector<UncheckedScale> unchecked() const;
  /// What the walk's checks need.
  [[nodiscard]] WalkSubject walk();
  /// The solver that the fit works with; every result of the fit leaves it solved at the estimate.
  [[nodiscard]] beam::Solver<double>& solver();
  /// Fit::finished() and finished_after(), what crept included.
  [[nodiscard]] Result<Done, fit::FitFault> finished(std::span<double> height_m, std::span<double> factor);
  [[nodiscard]] Result<Done, fit::FitFault> finished_after(std::span<const beam::Motions<double>> moves,
                                                           std::span<double> height_m,
                                                           std::span<double> factor);
  /// The share of the carried drift that came; its sigma is 0 where it was given. None: nothing was expected.
  [[nodiscard]] std::optional<fit::Estimate<double>> drift_share() const;
  /// What crept adds to the height there; and, where `row` is given, to its row of the fit's factor.
  [[nodiscard]] double drift_height_m(double at_m, double across_m, std::span<double> row = {}) const;
  /// For the next survey; without the offsets of supports whose bit is set in `moved`.
  [[nodiscard]] std::unique_ptr<CarriedState> carry(std::uint32_t moved);

 private:
  struct Work;
  std::unique_ptr<Work> work_;
};

/// What stood in the way of a fit: fit::FitFault, with the unknown that it speaks of.
[[nodiscard]] Fault fault_of(const fit::FitFault& fault, const SurveyFit& survey);

}  // namespace hangtrue::job
