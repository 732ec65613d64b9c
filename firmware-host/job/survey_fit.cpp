#include "firmware-host/job/survey_fit.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/fit/bearing.hpp"
#include "firmware-host/job/expected_drift.hpp"

namespace hangtrue::job {

namespace {

using Zero = CarriedState::Zero;

// One sigma of what each motion of a support called rigid may give.
beam::Motions<double> rigid_claim(const sheet::RunSheet& run) {
  const double length = run.length_m;
  double bend = 0, twist = 0, from = 0;  // mean flexibilities
  for (const beam::Piece<double>& piece : run.pieces) {
    bend += (piece.to_m - from) / piece.bending_N_m2 / length;
    twist += (piece.to_m - from) / piece.torsion_N_m2 / length;
    from = piece.to_m;
  }
  return {kRigidClaim * length * length * length * bend / 48, kRigidClaim * length * bend / 3,
          kRigidClaim * length * twist / 2};
}

fit::Priors<double> priors_of_sheet(const sheet::RunSheet& run) {
  fit::Priors<double> result;
  const beam::Motions<double> claim = rigid_claim(run);
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const sheet::SupportEntry& support = run.supports[i];
    const beam::Support<double>& beam = run.beam_supports[i];
    for (const beam::Motion m : beam::kMotions) {
      result.offset[i][m] = {support.offset_mean[m], support.offset_sigma[m]};
      result.later_offset[i][m] = {support.offset_mean[m], support.fit_up_sigma[int(m)]};
      result.log_spring[i][m] = {0, support.log_spring_sigma[m]};
      if (beam.restraint(m).held && beam.restraint(m).compliance == 0) result.give[i][m] = {0, claim[m]};
    }
  }
  result.bending = {1, run.priors.bending_sigma};
  result.torsion = {1, run.priors.torsion_sigma};
  for (std::size_t l = 0; l < run.loads.size(); ++l) result.load[l] = {1, run.loads[l].sigma};
  for (int b = 0; b < run.priors.bows; ++b) result.bow[b] = {0, run.priors.bow_sigma_m / ((b + 1) * (b + 1))};
  return result;
}

// Whether a load, a stiffness or a spring can be so at all.
bool can_be(const Quantity& off) {
  switch (off.kind) {
    case QuantityKind::factor:
      return off.value >= 1 / kLargestFactor - off.sigma && off.value <= kLargestFactor + off.sigma;
    case QuantityKind::log_factor:
      return std::abs(off.value) <= std::log(kLargestSpringFactor) + off.sigma;
    case QuantityKind::give:
    case QuantityKind::turning_give:
      return off.value >= -2 * off.sigma;
    case QuantityKind::height:
    case QuantityKind::slope:
    case QuantityKind::weight:
    case QuantityKind::share:
      break;
  }
  return true;
}

// When a reading was taken; one without a time counts as later than any check.
book::Time time_or_last(const sheet::ReadingEntry& entry) {
  return time_of(entry.time).value_or(book::Time::max());
}

}  // namespace

struct SurveyFit::Work {
  const sheet::RunSheet& run;
  const sheet::KitSheet* kit;
  int stage, finished;
  const CarriedState* given;               // what earlier surveys taught, or nullptr
  std::unique_ptr<CarriedState> replaced;  // of it, without the zero errors that later checks replace
  Checks checks;
  std::optional<ChangesSince> since;
  std::optional<double> given_drift_share;
  beam::Run<double> view;  // of `run`; the fit keeps a pointer to it
  SolvedRun mechanics;

  std::vector<sheet::ReadingEntry> entries;
  sheet::Survey survey;
  std::vector<Zero> zeros;
  std::vector<fit::Prior<double>> zero_priors;
  Warmth warmth;
  bool spare_set_up = false;  // a set-up that no reading uses yet, for weighing the next one
  std::vector<sheet::BearingRemark> answers;
  std::vector<std::uint32_t> bore;   // SurveyFit::take_bearing()
  std::optional<std::string> start;  // none: places are taken at their word
  bool planned = false;
  WalkOrder order;
  std::vector<std::uint8_t>
      before;  // by reading: it was read before something moved. The search for bearing sets keeps a view
  fit::Problem<double> subject;  // as the fit stands

  fit::UnknownList<double> unknowns;
  std::unique_ptr<fit::Fit<double>> fit = std::make_unique<fit::Fit<double>>();
  std::unique_ptr<fit::BearingSearch<double>> bearing = std::make_unique<fit::BearingSearch<double>>();
  std::vector<double> fit_storage;
  FitReport report;

  Work(const sheet::RunSheet& run_sheet, const sheet::KitSheet* kit_sheet, int at_stage,
       const CarriedState* from_earlier)
      : run(run_sheet),
        kit(kit_sheet),
        stage(at_stage),
        finished(std::max(at_stage, run_sheet.tolerance.stage)),
        given(from_earlier),
        view(run_sheet.run()),
        mechanics(run_sheet, kMaxUnknowns) {}

  /// Numbers the channel where it has no number yet.
  int number_of(const ChannelId& channel, double sigma);
  [[nodiscard]] int zero_of(const ChannelId& channel) const;
  Result<Done, Fault> number_channels();
  void apply_zero_checks();
  void follow_warmth();
  [[nodiscard]] std::vector<fit::Prior<double>> tilt_priors() const;
  [[nodiscard]] fit::Priors<double> priors();
  [[nodiscard]] bool has_name(const fit::Unknown& unknown) const;
  [[nodiscard]] fit::Problem<double> problem(const fit::Priors<double>& known);
  [[nodiscard]] Result<fit::Problem<double>, Fault> build();
  [[nodiscard]] fit::BearingFound found_by_hand() const;
  Result<Done, fit::FitFault> run_fit();
  Result<Done, Fault> fit_what_counts(const SurveyFit& self);
  [[nodiscard]] const DriftForecast* carried_drift() const {
    return given != nullptr ? given->drift.get() : nullptr;
  }
  [[nodiscard]] int drift_unknown() const;
  void describe_drift();
  void add_drift(std::span<double> height_m, std::span<double> factor);
  Result<Done, fit::FitFault> list_bearing();
  Result<Done, fit::FitFault> compare_finished(const std::vector<fit::BearingSet<double>>& sets);
  void list_causes(const SurveyFit& self);

  struct Candidates {
    std::vector<survey::Reading<double>> readings;
    std::vector<std::string> instruments;
    void offer(survey::Reading<double> reading, const std::string& instrument);
  };
  [[nodiscard]] Candidates candidates() const;
  Result<Done, fit::FitFault> find_next();
};

SurveyFit::SurveyFit(const sheet::RunSheet& run, const sheet::KitSheet* kit, int stage,
                     const CarriedState* carried)
    : work_(std::make_unique<Work>(run, kit, stage, carried)) {}
SurveyFit::~SurveyFit() = default;

const sheet::RunSheet& SurveyFit::run() const { return work_->run; }
int SurveyFit::stage() const { return work_->stage; }
int SurveyFit::finished_stage() const { return work_->finished; }
void SurveyFit::take_checks(Checks checks) { work_->checks = std::move(checks); }
void SurveyFit::expect_changes(ChangesSince changes) { work_->since = std::move(changes); }
void SurveyFit::take_drift_share(double share) { work_->given_drift_share = share; }
void SurveyFit::take_as_planned() { work_->planned = true; }
void SurveyFit::take_start(std::string support) { work_->start = std::move(support); }
const std::optional<std::string>& SurveyFit::start_told() const { return work_->start; }
void SurveyFit::take_answers(std::vector<sheet::BearingRemark> answers) {
  work_->answers = std::move(answers);
}
void SurveyFit::take_bearing(std::vector<std::uint32_t> by_stage) { work_->bore = std::move(by_stage); }
void SurveyFit::add(sheet::ReadingEntry reading) { work_->entries.push_back(std::move(reading)); }
bool SurveyFit::drop_last() {
  if (work_->entries.empty()) return false;
  work_->entries.pop_back();
  return true;
}
const std::vector<sheet::ReadingEntry>& SurveyFit::readings() const { return work_->entries; }
const FitReport& SurveyFit::report() const { return work_->report; }
fit::Fit<double>& SurveyFit::fitted() { return *work_->fit; }
const fit::UnknownList<double>& SurveyFit::unknowns() const { return work_->unknowns; }
const sheet::Survey& SurveyFit::survey() const { return work_->survey; }
beam::Solver<double>& SurveyFit::solver() { return work_->mechanics.solver(); }

UnknownId SurveyFit::id_of(const fit::Unknown& unknown) const {
  std::vector<ChannelId> zeros;
  for (const Zero& each : work_->zeros) zeros.push_back(each.channel);
  return job::id_of(work_->run, unknown, work_->survey.set_ups, zeros);
}

Fault fault_of(const fit::FitFault& fault, const SurveyFit& survey) {
  if (fault.code == fit::FitFaultCode::run_not_solvable) return fault.stage_fault;
  CannotFit cause{fault, std::nullopt};
  if (fault.code == fit::FitFaultCode::prior_not_usable && fault.index >= 0 &&
      fault.index < survey.unknowns().count)
    cause.unknown = survey.id_of(survey.unknowns().unknown[fault.index]);
  return cause;
}

bool FitReport::holds_only_just() const {
  return self_test.outcome == fit::TestOutcome::fails && status == fit::Status::settled &&
         self_test.p_value >= kHoldsOnlyJust && self_test.largest_normalised <= fit::kGate &&
         self_test.largest_prior_normalised <= fit::kGate;
}

// ---- what is known beforehand -------------------------------------------------------------------------------------

int SurveyFit::Work::zero_of(const ChannelId& channel) const {
  const auto known =
      std::find_if(zeros.begin(), zeros.end(), [&](const Zero& each) { return each.channel == channel; });
  return known == zeros.end() ? -1 : int(known - zeros.begin());
}

int SurveyFit::Work::number_of(const ChannelId& channel, double sigma) {
  if (const int known = zero_of(channel); known >= 0) return known;
  zeros.push_back({channel, sigma, std::nullopt});
  return int(zeros.size()) - 1;
}

// Zero errors keep their numbers from survey to survey: those carried first, then the kit's, then any other.
Result<Done, Fault> SurveyFit::Work::number_channels() {
  survey = sheet::make_survey(entries, kit, run.marks);
  zeros = given != nullptr ? given->zeros : std::vector<Zero>{};
  bool kit_has_distance = false;
  if (kit != nullptr)
    for (const sheet::KitInstrument& instrument : kit->instruments)
      for (const sheet::KitChannel& channel : instrument.channels) {
        kit_has_distance = kit_has_distance || channel.gives == Channel::distance;
        if (channel.zero_sigma > 0 && is_measured_of_run(channel.gives))
          number_of({instrument.name, channel.gives}, channel.zero_sigma);
      }
  for (std::size_t i = 0; i < survey.readings.size(); ++i)
    if (survey::Reading<double>& reading = survey.readings[i]; reading.zero >= 0)
      reading.zero = std::int16_t(number_of({entries[i].instrument, entries[i].channel},
                                            survey.zero_sigmas[std::size_t(reading.zero)]));
  spare_set_up = survey.set_ups.empty() && kit_has_distance;
  if (survey.set_ups.size() > std::size_t(kMaxSetUps) || zeros.size() > std::size_t(kMaxChannels))
    return Fault(TooManyInstruments{int(survey.set_ups.size()), int(zeros.size())});
  apply_zero_checks();
  return Done{};
}

// Priors of the zero errors: the sheet's, or those of checks. A check takes the place of what is carried only where it is
// later than the last reading behind that.
void SurveyFit::Work::apply_zero_checks() {
  zero_priors.clear();
  replaced.reset();
  for (std::size_t z = 0; z < zeros.size(); ++z) {
    zero_priors.push_back({0, zeros[z].sigma});
    const auto checked = std::find_if(checks.zeros.begin(), checks.zeros.end(), [&](const CheckedZero& each) {
      return each.channel == zeros[z].channel;
    });
    if (checked == checks.zeros.end()) continue;
    zero_priors.back() = {checked->zero, checked->sigma};
    if (given == nullptr || z >= given->zeros.size()) continue;
    if (const auto& read = zeros[z].read; read && *read >= checked->time) continue;
    if (!replaced) replaced = std::make_unique<CarriedState>(*given);
    replaced->forget_zero(int(z));
  }
}

// After the checks. How far rods and posts have grown since what is carried is known to its doubt.
void SurveyFit::Work::follow_warmth() {
  const std::optional<double> stood_C = given != nullptr ? given->temperature_C : std::nullopt;
  warmth = take_off_warmth(run, stage, entries, stood_C, survey.readings);
  if (!stood_C || !warmth.mean_C) return;
  if (!replaced) replaced = std::make_unique<CarriedState>(*given);
  for (const Grown& each : warmth.supports)
    replaced->rise_may_differ(run.support(each.support), each.sigma_m);
}

std::vector<fit::Prior<double>> SurveyFit::Work::tilt_priors() const {
  const double assumed = run.priors.datum_tilt_sigma;
  std::vector<fit::Prior<double>> result;
  for (const std::string& set_up : survey.set_ups) {
    result.push_back({0, assumed});
    const auto reading = std::find_if(entries.begin(), entries.end(), [&](const sheet::ReadingEntry& each) {
      return each.channel == Channel::distance && each.set_up == set_up;
    });
    const auto checked = std::find_if(checks.tilts.begin(), checks.tilts.end(), [&](const CheckedTilt& each) {
      return each.instrument == reading->instrument;
    });
    if (checked == checks.tilts.end()) continue;
    const auto placed = std::find_if(checks.set_ups.begin(), checks.set_ups.end(),
                                     [&](const PlacedSetUp& each) { return each.name == set_up; });
    if (placed != checks.set_ups.end() && placed->stands_at_m <= 0)
      result.back() = {checked->tilt_rad, checked->sigma_rad};
    else if (placed != checks.set_ups.end() && placed->stands_at_m >= run.length_m)
      result.back() = {-checked->tilt_rad, checked->sigma_rad};
    else
      result.back() = {0, std::hypot(assumed, checked->tilt_rad)};
  }
  if (spare_set_up) result.push_back({0, assumed});
  return result;
}

// Of all unknowns; with the drift that readings are expected to show written to them.
fit::Priors<double> SurveyFit::Work::priors() {
  fit::Priors<double> known = priors_of_sheet(run);
  const std::vector<fit::Prior<double>> tilts = tilt_priors();
  for (std::size_t s = 0; s < tilts.size(); ++s) {
    known.datum_height[s] = {0, run.priors.datum_height_sigma_m};
    known.datum_tilt[s] = tilts[s];
  }
  std::copy(zero_priors.begin(), zero_priors.end(), known.zero);
  for (const survey::Reading<double>& reading : survey.readings)
    if (reading.mark >= 0 && std::size_t(reading.mark) < run.marks.size())
      known.mark_height[reading.mark] = {0, run.priors.datum_height_sigma_m};
  if (const DriftForecast* const drift = carried_drift()) {
    for (survey::Reading<double>& reading : survey.readings) reading.drift = drift->on(reading);
    known.drift_share = {given_drift_share.value_or(1), given_drift_share ? 0 : kCreepSigma};
  }
  if (!since) return known;
  if (since->listed_loads >= 0)
    for (std::size_t l = std::size_t(since->listed_loads); l < run.loads.size(); ++l) known.load[l] = {0, 0};
  known.changes = since->changes;
  for (std::size_t m = 0; m < std::min(since->mark_sigma_m.size(), std::size_t(kMaxMarks)); ++m)
    if (known.mark_height[m].sigma > 0) known.mark_change[m] = {0, since->mark_sigma_m[m]};
  if (!since->drift.empty()) known.drift_share = {1, since->drift_share_sigma};
  for (std::size_t i = 0; i < std::min(survey.readings.size(), since->drift.size()); ++i)
    survey.readings[i].drift = since->drift[i];
  return known;
}

// ---- fit ----------------------------------------------------------------------------------------------------------

fit::Problem<double> SurveyFit::Work::problem(const fit::Priors<double>& known) {
  fit::Problem<double> problem;
  problem.run = &view;
  problem.solver = &mechanics.solver();
  problem.stage = stage;
  problem.finished_stage = finished;
  problem.width_m = run.width_m;
  problem.stations_m = run.stations_m;
  problem.unknowns = &unknowns;
  problem.carried = replaced ? &replaced->estimates : given != nullptr ? &given->estimates : nullptr;
  problem.base = fit::state_of_means(view, stage, known);
  if (since) problem.base.move_stage = stage;
  problem.kit = fit::kit_of_means(known);
  return problem;
}

// The spare set-up has none: nobody has placed it yet.
bool SurveyFit::Work::has_name(const fit::Unknown& unknown) const {
  const bool of_set_up =
      unknown.kind == fit::UnknownKind::datum_height || unknown.kind == fit::UnknownKind::datum_tilt;
  return !of_set_up || std::size_t(unknown.index) < survey.set_ups.size();
}

// The unknowns; without what rigid supports may give where there would be too many.
Result<fit::Problem<double>, Fault> SurveyFit::Work::build() {
  fit::Priors<double> known = priors();
  unknowns = {};
  if (!fit::build_unknowns(view, stage, finished, known, unknowns)) {
    for (beam::Motions<fit::Prior<double>>& give : known.give) give = {};
    unknowns = {};
    if (!fit::build_unknowns(view, stage, finished, known, unknowns)) return Fault(TooManyUnknowns{});
  }
  return problem(known);
}

fit::BearingFound SurveyFit::Work::found_by_hand() const {
  fit::BearingFound found;
  found.known_stages = int(std::min(bore.size(), run.stages.size()));
  std::copy_n(bore.begin(), found.known_stages, found.lifted);
  for (const sheet::BearingRemark& answer : answers)
    for (std::size_t i = 0; i < run.supports.size(); ++i) {
      if (run.supports[i].name != answer.support) continue;
      (answer.bears ? found.bears : found.hangs_free) |= 1u << i;
      (answer.bears ? found.hangs_free : found.bears) &= ~(1u << i);
    }
  return found;
}

// Of all readings but those that `before` marks: they were read before something moved.
Result<Done, fit::FitFault> SurveyFit::Work::run_fit() {
  report.judgements.resize(survey.readings.size());
  if (planned) {
    if (const auto begun = fit->begin(subject, fit_storage); !begun) return begun.fault();
    const auto ran = fit->run(survey.readings, before, report.judgements);
    if (!ran) return ran.fault();
    report.status = ran.value();
    report.self_test = fit->self_test();
    return Done{};
  }
  const auto ran = bearing->search(*fit, subject, fit_storage, survey.readings, before, report.judgements,
                                   found_by_hand(), since.has_value());
  if (!ran) return ran.fault();
  report.status = ran.value();
  report.self_test = fit->self_test();
  for (std::size_t i = 0; i < before.size(); ++i)
    if (before[i] != 0) report.judgements[i].verdict = fit::Verdict::before_movement;
  return Done{};
}

// Again and again without what was read before something moved, until nothing is found to have moved.
Result<Done, Fault> SurveyFit::Work::fit_what_counts(const SurveyFit& self) {
  before.assign(survey.readings.size(), 0);
  for (int turn = 0;; ++turn) {
    if (const auto ran = run_fit(); !ran) return fault_of(ran.fault(), self);
    // A recheck takes changes for what they are: its survey's own walk is judged where that survey is fitted by itself.
    if (planned || since || turn == kMostMovements || report.status != fit::Status::settled) return Done{};
    const auto moved = find_movement(WalkSubject{run, *fit, subject, survey, report.judgements, order});
    if (!moved) return moved.fault();
    if (!moved.value()) return Done{};
    const MovementAt& at = *moved.value();
    const auto last = std::size_t(order.order[std::size_t(at.position) - 1]);
    const UnknownId id = self.id_of(at.slip.what);
    report.movements.push_back(
        {id, {kind_of(id), at.test.size, at.test.sigma}, last + 1, entries[last].time, at.test.statistic});
    for (int k = 0; k < at.position; ++k) before[std::size_t(order.order[std::size_t(k)])] = 1;
  }
}

// The sets that remain, by what bears at the survey's stage. Open: what bears otherwise is likelier than the confidence asked for
// leaves, or some set leads to another finished run.
Result<Done, fit::FitFault> SurveyFit::Work::list_bearing() {
  report.bearing.clear();
  report.bearing_open = false;
  if (planned) return Done{};
  std::vector<fit::BearingSet<double>> sets;
  for (const fit::BearingSet<double>& set : bearing->sets())
    if (set.probability >= fit::kLeastSetProbability) sets.push_back(set);
  std::vector<std::uint32_t> told;
  double otherwise = 0;
  for (const fit::BearingSet<double>& set : sets) {
    const std::uint32_t lifted = set.lifted[stage];
    if (lifted != sets.front().lifted[stage]) otherwise += set.probability;
    const auto known = std::find(told.begin(), told.end(), lifted);
    if (known != told.end()) {
      report.bearing[std::size_t(known - told.begin())].probability += set.probability;
      continue;
    }
    told.push_back(lifted);
    BearingOption option{{}, set.probability, {set.lifted, set.lifted + stage + 1}};
    for (std::size_t i = 0; i < run.supports.size(); ++i)
      if (((lifted >> i) & 1u) != 0) option.lifted.push_back(run.supports[i].name);
    report.bearing.push_back(std::move(option));
  }
  report.bearing_open = otherwise > 1 - run.tolerance.confidence;
  if (sets.size() < 2 || report.bearing_open || !(run.tolerance.level_m > 0)) return Done{};
  return compare_finished(sets);
}

// Whether the finished runs of these sets differ by more than kMatters of the tolerance, but for their common height. The fit
// stands at the first again.
Result<Done, fit::FitFault> SurveyFit::Work::compare_finished(
    const std::vector<fit::BearingSet<double>>& sets) {
  const std::size_t points = 2 * run.stations_m.size();
  std::vector<double> first(points), other(points), unused(points * std::size_t(unknowns.count));
  if (const auto done = fit->finished(first, unused); !done) return done.fault();
  const std::vector<fit::Judgement<double>> judged = report.judgements;
  for (std::size_t k = 1; k < sets.size() && !report.bearing_open; ++k) {
    if (const auto stood = bearing->stand_at(sets[k]); !stood) return stood.fault();
    if (const auto done = fit->finished(other, unused); !done) return done.fault();
    for (std::size_t j = 0; j < points; ++j) other[j] -= first[j];
    const auto [least, most] = std::minmax_element(other.begin(), other.end());
    report.bearing_open = *most - *least > kMatters * run.tolerance.level_m;
  }
  const auto stood = bearing->stand_at(sets.front());
  report.judgements = judged;
  if (!stood) return stood.fault();
  return Done{};
}

Result<Done, Fault> SurveyFit::fit() {
  Work& work = *work_;
  if (work.mechanics.trouble()) return *work.mechanics.trouble();
  if (const auto numbered = work.number_channels(); !numbered) return numbered;
  work.follow_warmth();
  const auto built = work.build();
  if (!built) return built.fault();
  work.subject = built.value();
  work.fit_storage.resize(fit::Fit<double>::storage_needed(
      work.unknowns.count, int(work.survey.readings.size()), int(work.run.stations_m.size())));
  work.order = walk_order(work.entries);

  FitReport& report = work.report = FitReport{};
  report.stage = work.stage;
  report.warmth = work.warmth;
  if (const auto fitted = work.fit_what_counts(*this); !fitted) return fitted;
  if (const auto listed = work.list_bearing(); !listed) return fault_of(listed.fault(), *this);
  report.stations.resize(work.run.stations_m.size());
  if (const auto described = work.fit->describe(report.stations); !described)
    return fault_of(described.fault(), *this);
  work.describe_drift();
  for (int u = 0; u < work.unknowns.count; ++u)
    if (const fit::Unknown& unknown = work.unknowns.unknown[u]; work.has_name(unknown))
      report.parameters.push_back({id_of(unknown), work.fit->estimate(u)});
  report.repeats = pooled_repeats(work.entries, report.judgements);
  report.warnings = work.checks.warnings;
  if (work.since) return Done{};  // a recheck asks for neither
  if (report.self_test.outcome == fit::TestOutcome::fails) work.list_causes(*this);
  if (const auto found = work.find_next(); !found) return fault_of(found.fault(), *this);
  return Done{};
}

// ---- what crept ------------------------------------------------------------------------------------------------------

// Its column; -1: none, or its share is given.
int SurveyFit::Work::drift_unknown() const {
  const fit::Unknown* const end = unknowns.unknown + unknowns.count;
  const fit::Unknown* const found =
      std::find(unknowns.unknown, end, fit::Unknown{fit::UnknownKind::drift_share});
  return found == end ? -1 : int(found - unknowns.unknown);
}

std::optional<fit::Estimate<double>> SurveyFit::drift_share() const {
  if (work_->carried_drift() == nullptr) return std::nullopt;
  if (const int u = work_->drift_unknown(); u >= 0) return work_->fit->estimate(u);
  const double given = work_->given_drift_share.value_or(1);
  return fit::Estimate<double>{given, 0, given, 0, 0};
}

double SurveyFit::drift_height_m(double at_m, double across_m, std::span<double> row) const {
  const DriftForecast* const drift = work_->carried_drift();
  if (drift == nullptr) return 0;
  const double whole = drift->height_m(at_m, across_m);
  if (const int u = work_->drift_unknown(); u >= 0 && !row.empty()) {
    std::vector<double> of_share(row.size());
    work_->fit->factor_row(u, of_share);
    for (std::size_t k = 0; k < row.size(); ++k) row[k] += whole * of_share[k];
  }
  return drift_share()->value * whole;
}

void SurveyFit::Work::add_drift(std::span<double> height_m, std::span<double> factor) {
  const DriftForecast* const drift = carried_drift();
  if (drift == nullptr) return;
  const int u = drift_unknown();
  const auto columns = std::size_t(unknowns.count);
  std::vector<double> of_share(columns);
  if (u >= 0) fit->factor_row(u, of_share);
  const double share = u >= 0 ? fit->estimate(u).value : given_drift_share.value_or(1);
  for (std::size_t j = 0; j < height_m.size(); ++j) {
    const double across = (j % 2 == 0 ? 0.5 : -0.5) * run.width_m;
    const double whole = drift->height_m(run.stations_m[j / 2], across);
    height_m[j] += share * whole;
    for (std::size_t k = 0; k < columns; ++k) factor[j * columns + k] += whole * of_share[k];
  }
}

// It is sag: no shim cures it. Sigmas of slope and roll are those of the run as built, which are no smaller.
void SurveyFit::Work::describe_drift() {
  const DriftForecast* const drift = carried_drift();
  if (drift == nullptr) return;
  const int u = drift_unknown();
  const std::size_t stations = report.stations.size(), columns = std::size_t(unknowns.count);
  std::vector<double> of_share(columns), mean(columns), rows(stations * columns);
  if (u >= 0) fit->factor_row(u, of_share);
  const double share = u >= 0 ? fit->estimate(u).value : given_drift_share.value_or(1);
  for (std::size_t i = 0; i < stations; ++i) {
    fit::StationShape<double>& each = report.stations[i];
    const std::span<double> row(rows.data() + i * columns, columns);
    if (!fit->height(each.at_m, 0, false, row).ok()) return;
    const double whole = drift->height_m(each.at_m, 0);
    each.height_m += share * whole;
    each.sag_m += share * whole;
    each.slope_rad += share * drift->slope_rad(each.at_m);
    each.roll_rad += share * drift->roll_rad(each.at_m);
    for (std::size_t k = 0; k < columns; ++k) {
      row[k] += whole * of_share[k];
      mean[k] += row[k] / double(stations);
    }
  }
  for (std::size_t i = 0; i < stations; ++i) {
    double squares = 0, less_mean = 0;
    for (std::size_t k = 0; k < columns; ++k) {
      const double entry = rows[i * columns + k];
      squares += entry * entry;
      less_mean += (entry - mean[k]) * (entry - mean[k]);
    }
    report.stations[i].height_sigma_m = std::sqrt(squares);
    report.stations[i].height_less_mean_sigma_m = std::sqrt(less_mean);
  }
}

Result<Done, fit::FitFault> SurveyFit::finished(std::span<double> height_m, std::span<double> factor) {
  if (const auto done = work_->fit->finished(height_m, factor); !done) return done.fault();
  work_->add_drift(height_m, factor);
  return Done{};
}

Result<Done, fit::FitFault> SurveyFit::finished_after(std::span<const beam::Motions<double>> moves,
                                                      std::span<double> height_m, std::span<double> factor) {
  if (const auto done = work_->fit->finished_after(moves, height_m, factor); !done) return done.fault();
  work_->add_drift(height_m, factor);
  return Done{};
}

std::vector<UncheckedScale> SurveyFit::unchecked() const {
  return unchecked_scales(work_->kit, work_->checks, work_->entries);
}

WalkSubject SurveyFit::walk() {
  Work& work = *work_;
  return {work.run, *work.fit, work.subject, work.survey, work.report.judgements, work.order};
}

void SurveyFit::Work::list_causes(const SurveyFit& self) {
  fit::Cause<double> found[fit::kMaxCauses];
  const int count = fit->causes(survey.readings, report.judgements, found);
  double not_described = 0;
  for (const fit::Cause<double>& cause : std::span(found).first(std::size_t(count))) {
    LikelierCause likelier;
    likelier.kind = cause.kind;
    likelier.weight = cause.weight;
    if (cause.kind == fit::CauseKind::rough_channel && cause.index >= 0)
      likelier.channel = zeros[std::size_t(cause.index)].channel;
    if (cause.kind == fit::CauseKind::unknown_off) {
      const fit::Unknown& unknown = unknowns.unknown[cause.index];
      if (!has_name(unknown)) continue;
      likelier.unknown = self.id_of(unknown);
      likelier.off = {kind_of(*likelier.unknown), cause.value, cause.sigma};
    }
    if (likelier.unknown && !can_be(likelier.off)) {
      not_described += likelier.weight;
      continue;
    }
    report.causes.push_back(std::move(likelier));
  }
  if (!(not_described > 0)) return;
  // What would have to be where it cannot be speaks for something that the sheet does not describe.
  const auto chance = std::find_if(report.causes.begin(), report.causes.end(), [](const LikelierCause& each) {
    return each.kind == fit::CauseKind::none_of_these;
  });
  if (chance == report.causes.end()) return;
  chance->weight += not_described;
  std::stable_sort(report.causes.begin(), report.causes.end(),
                   [](const LikelierCause& a, const LikelierCause& b) { return a.weight > b.weight; });
}

// ---- next best reading --------------------------------------------------------------------------------------------

// On both faces, and at every edge that makes a difference.
void SurveyFit::Work::Candidates::offer(survey::Reading<double> reading, const std::string& instrument) {
  for (const int face : {1, -1}) {
    if (face == -1 && reading.channel == Channel::distance) continue;
    reading.face = std::int8_t(face);
    for (const survey::Edge edge : {survey::Edge::middle, survey::Edge::left, survey::Edge::right}) {
      if (reading.channel == Channel::roll && edge != survey::Edge::middle) continue;
      reading.edge = edge;
      readings.push_back(reading);
      instruments.push_back(instrument);
    }
  }
}

// All that the kit can read; without a kit, again what has been read already.
SurveyFit::Work::Candidates SurveyFit::Work::candidates() const {
  Candidates result;
  const auto last_set_up = std::int16_t(survey.set_ups.empty() ? 0 : survey.set_ups.size() - 1);
  if (kit != nullptr) {
    for (const sheet::KitInstrument& instrument : kit->instruments)
      for (const sheet::KitChannel& channel : instrument.channels) {
        if (!is_measured_of_run(channel.gives) || channel.station_m) continue;
        survey::Reading<double> reading;
        reading.channel = channel.gives;
        reading.base_m = channel.base_m;
        reading.sigma = channel.sigma;
        reading.set_up = reading.channel == Channel::distance ? last_set_up : std::int16_t(-1);
        reading.zero = std::int16_t(zero_of({instrument.name, channel.gives}));
        result.offer(reading, instrument.name);
      }
    return result;
  }
  for (std::size_t i = 0; i < survey.readings.size(); ++i) {
    const survey::Reading<double>& one = survey.readings[i];
    bool known = false;
    for (std::size_t c = 0; c < result.readings.size(); ++c)
      known = known ||
              (result.readings[c].channel == one.channel && result.instruments[c] == entries[i].instrument);
    if (known) continue;
    survey::Reading<double> reading = one;
    if (reading.channel == Channel::distance) reading.set_up = last_set_up;
    result.offer(reading, entries[i].instrument);
  }
  return result;
}

Result<Done, fit::FitFault> SurveyFit::Work::find_next() {
  const Candidates offered = candidates();
  if (offered.readings.empty()) return Done{};
  const auto gain = fit->next_reading(offered.readings);
  if (!gain) return gain.fault();
  const fit::NextReading best = gain.value().reading;
  if (best.instrument < 0 || best.station < 0) return Done{};
  const survey::Reading<double>& reading = offered.readings[std::size_t(best.instrument)];
  report.next = NextReading{run.stations_m[std::size_t(best.station)],
                            offered.instruments[std::size_t(best.instrument)],
                            reading.channel,
                            reading.face,
                            reading.edge,
                            gain.value().sigma_now_m,
                            gain.value().sigma_after_m};
  return Done{};
}

// ---- for the next survey ------------------------------------------------------------------------------------------

std::unique_ptr<CarriedState> SurveyFit::carry(std::uint32_t moved) {
  auto result = std::make_unique<CarriedState>();
  work_->fit->carry(moved, result->estimates);
  result->zeros = work_->zeros;
  result->temperature_C = work_->warmth.stood_C;
  for (std::size_t i = 0; i < work_->survey.readings.size(); ++i) {
    const int zero = work_->survey.readings[i].zero;
    if (zero < 0) continue;
    std::optional<book::Time>& read = result->zeros[std::size_t(zero)].read;
    read = std::max(read, std::optional(time_or_last(work_->entries[i])));
  }
  return result;
}

}  // namespace hangtrue::job
