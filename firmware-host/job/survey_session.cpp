#include "firmware-host/job/survey_session.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include <nlohmann/json.hpp>

#include "core/adjust/workspace.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::job {

namespace {

// A one-way support stays engaged as long as it is not pulled on. One that has just engaged carries nothing yet, which is
// no fault; below 0 only by rounding.
constexpr double kLeastForce_N = -1e-6;

fit::Priors<double> priors(const sheet::RunSheet& run, const std::vector<fit::Prior<double>>& datum_tilts,
                           const std::vector<fit::Prior<double>>& zeros) {
  fit::Priors<double> result;
  for (std::size_t i = 0; i < run.supports.size(); ++i) {
    const sheet::SupportEntry& support = run.supports[i];
    for (int m = 0; m < 3; ++m) {
      result.offset[i][m] = {support.offset_mean[m], support.offset_sigma[m]};
      const double later = std::min(support.offset_sigma[m], m == 0 ? kLaterHome_m : kLaterHome_rad);
      const bool home = (m == 0   ? run.beam_supports[i].rise
                         : m == 1 ? run.beam_supports[i].pitch
                                  : run.beam_supports[i].roll)
                            .pulled_home;
      result.later_offset[i][m] = {0, home ? later : 0};
      result.log_spring[i][m] = {0, support.log_spring_sigma[m]};
    }
  }
  result.bending = {1, run.priors.bending_sigma};
  result.torsion = {1, run.priors.torsion_sigma};
  for (std::size_t l = 0; l < run.loads.size(); ++l) result.load[l] = {1, run.loads[l].sigma};
  for (int b = 0; b < run.priors.bows; ++b) result.bow[b] = {0, run.priors.bow_sigma_m / ((b + 1) * (b + 1))};
  for (std::size_t s = 0; s < datum_tilts.size(); ++s) {
    result.datum_height[s] = {0, run.priors.datum_height_sigma_m};
    result.datum_tilt[s] = datum_tilts[s];
  }
  std::copy(zeros.begin(), zeros.end(), result.zero);
  return result;
}

// When a reading was taken; one without a time counts as later than any check.
book::Time time_or_last(const sheet::ReadingEntry& entry) {
  return time_of(entry.time).value_or(book::Time::max());
}

}  // namespace

struct SurveySession::Work {
  const sheet::RunSheet& run;
  const sheet::KitSheet* kit;
  int stage, finished;
  const Lasting* lasting;
  std::unique_ptr<fit::Carried<double>>
      carried;  // of `lasting`, without the zero errors that a later check replaces
  Checks checks;
  std::optional<Since> since;
  beam::Run<double> view;  // of `run`; the fit keeps a pointer to it

  SolvedRun mechanics;
  // The same run with every one-way support taken as holding both ways: linear, for the choice of moves.
  sheet::RunSheet linear_sheet;
  SolvedRun linear;

  std::vector<sheet::ReadingEntry> entries;
  sheet::Survey survey;
  std::vector<std::string> zeros;
  std::vector<double> zero_sigmas;
  std::vector<fit::Prior<double>> zero_priors;
  bool spare_set_up = false;  // a set-up that no reading uses yet, for weighing the next one

  fit::UnknownList<double> unknowns;
  std::unique_ptr<fit::Fit<double>> fit = std::make_unique<fit::Fit<double>>();
  std::unique_ptr<adjust::Workspace<double>> workspace;
  std::vector<double> fit_storage;
  FitReport report;
  Card card;

  Work(const sheet::RunSheet& run_sheet, const sheet::KitSheet* kit_sheet, int at_stage,
       const Lasting* from_earlier)
      : run(run_sheet),
        kit(kit_sheet),
        stage(at_stage),
        finished(std::max(at_stage, run_sheet.tolerance.stage)),
        lasting(from_earlier),
        view(run_sheet.run()),
        mechanics(run_sheet, kMaxUnknowns),
        linear_sheet(both_ways(run_sheet)),
        linear(linear_sheet, 3 * kMaxSupports + 1) {}

  static sheet::RunSheet both_ways(sheet::RunSheet sheet) {
    for (beam::Support<double>& support : sheet.beam_supports) support.holds = beam::Holds::both;
    return sheet;
  }

  std::optional<sheet::Complaint> number_channels();
  void apply_zero_checks();
  [[nodiscard]] std::vector<fit::Prior<double>> tilt_priors() const;
  void pool_repeats();
  [[nodiscard]] sheet::Complaint complaint_of(const fit::FitFault& fault) const;
  [[nodiscard]] std::string name_of(const fit::Unknown& unknown) const;
  void name_causes();
  std::optional<sheet::Complaint> find_next();
  [[nodiscard]] std::vector<double> finished_edges(const beam::State<double>& state, bool* solved);
  void note_troubles(const beam::State<double>& state);
};

SurveySession::SurveySession(const sheet::RunSheet& run, const sheet::KitSheet* kit, int stage,
                             const Lasting* lasting)
    : work_(std::make_unique<Work>(run, kit, stage, lasting)) {}
SurveySession::~SurveySession() = default;

int SurveySession::stage() const { return work_->stage; }
void SurveySession::take_checks(Checks checks) { work_->checks = std::move(checks); }
void SurveySession::compare(Since since) { work_->since = std::move(since); }
fit::Fit<double>& SurveySession::fitted() { return *work_->fit; }
const fit::UnknownList<double>& SurveySession::unknowns() const { return work_->unknowns; }
const sheet::Survey& SurveySession::survey() const { return work_->survey; }
void SurveySession::add(sheet::ReadingEntry reading) { work_->entries.push_back(std::move(reading)); }
bool SurveySession::drop_last() {
  if (work_->entries.empty()) return false;
  work_->entries.pop_back();
  return true;
}
const std::vector<sheet::ReadingEntry>& SurveySession::readings() const { return work_->entries; }
const FitReport& SurveySession::report() const { return work_->report; }
const Card& SurveySession::card() const { return work_->card; }

// ---- fit ----------------------------------------------------------------------------------------------------------

// Zero errors keep their numbers from stage to stage: those carried first, then the kit's, then any other.
std::optional<sheet::Complaint> SurveySession::Work::number_channels() {
  survey = sheet::make_survey(entries, kit, run.marks);
  zeros = lasting != nullptr ? lasting->zeros : std::vector<std::string>{};
  zero_sigmas = lasting != nullptr ? lasting->zero_sigmas : std::vector<double>{};
  const auto number = [&](const std::string& name, double sigma) {
    const auto known = std::find(zeros.begin(), zeros.end(), name);
    if (known != zeros.end()) return int(known - zeros.begin());
    zeros.push_back(name);
    zero_sigmas.push_back(sigma);
    return int(zeros.size()) - 1;
  };
  bool kit_has_distance = false;
  if (kit != nullptr)
    for (const sheet::KitInstrument& instrument : kit->instruments)
      for (const sheet::KitChannel& channel : instrument.channels) {
        kit_has_distance = kit_has_distance || channel.gives == Channel::distance;
        if (channel.zero_sigma > 0 && is_measured_of_run(channel.gives))
          number(instrument.name + ' ' + std::string(word(channel.gives)), channel.zero_sigma);
      }
  for (survey::Reading<double>& reading : survey.readings)
    if (reading.zero >= 0)
      reading.zero = std::int16_t(
          number(survey.zeros[std::size_t(reading.zero)], survey.zero_sigmas[std::size_t(reading.zero)]));
  spare_set_up = survey.set_ups.empty() && kit_has_distance;
  if (survey.set_ups.size() > std::size_t(kMaxSetUps) || zeros.size() > std::size_t(kMaxChannels))
    return sheet::Complaint{
        run.file, 0, "survey",
        std::to_string(survey.set_ups.size()) + " set-ups and " + std::to_string(zeros.size()) + " channels",
        "at most " + std::to_string(kMaxSetUps) + " and " + std::to_string(kMaxChannels)};
  apply_zero_checks();
  return std::nullopt;
}

// Priors of the zero errors: the sheet's, or those of checks; and which carried ones a later check replaces.
void SurveySession::Work::apply_zero_checks() {
  zero_priors.clear();
  carried.reset();
  for (std::size_t z = 0; z < zeros.size(); ++z) {
    zero_priors.push_back({0, zero_sigmas[z]});
    const auto checked = std::find_if(checks.zeros.begin(), checks.zeros.end(),
                                      [&](const CheckedZero& each) { return each.channel == zeros[z]; });
    if (checked == checks.zeros.end()) continue;
    zero_priors.back() = {checked->zero, checked->sigma};
    if (lasting == nullptr || z >= lasting->zeros_read.size()) continue;
    const std::optional<book::Time>& read = lasting->zeros_read[z];
    if (read && *read >= checked->time)
      continue;  // what is carried knows better, and keeps the prior's place
    if (!carried) carried = std::make_unique<fit::Carried<double>>(lasting->carried);
    const fit::Unknown zero{fit::UnknownKind::zero, {}, std::int16_t(z)};
    fit::Unknown* const end = carried->unknown + carried->count;
    // No list holds such an index, so the fit forgets what was carried of it.
    if (fit::Unknown* const found = std::find(carried->unknown, end, zero); found != end) found->index = -1;
  }
}

std::vector<fit::Prior<double>> SurveySession::Work::tilt_priors() const {
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

// Groups of readings that the fit kept, all else alike; where sigmas differ within a group, its mean is weighted.
void SurveySession::Work::pool_repeats() {
  constexpr double kSamePlace_m = 1e-6;
  const auto alike = [](const sheet::ReadingEntry& a, const sheet::ReadingEntry& b) {
    return a.channel == b.channel && a.instrument == b.instrument && a.edge == b.edge && a.face == b.face &&
           a.set_up == b.set_up && std::abs(a.at_m - b.at_m) < kSamePlace_m;
  };
  struct Pool {
    Repeats repeats;
    fit::PooledScatter scatter;  // in stated sigmas
    double variances = 0;
    int readings = 0;
  };
  std::vector<Pool> pools;
  std::vector<bool> grouped(entries.size());
  for (std::size_t first = 0; first < entries.size(); ++first) {
    std::vector<const sheet::ReadingEntry*> group;
    for (std::size_t i = first; i < entries.size(); ++i) {
      if (grouped[i] || report.judgements[i].verdict != fit::Verdict::kept ||
          !alike(entries[first], entries[i]))
        continue;
      grouped[i] = true;
      group.push_back(&entries[i]);
    }
    if (group.size() < 2) continue;
    const std::string name = group.front()->instrument + ' ' + std::string(say::word(group.front()->channel));
    auto pool =
        std::find_if(pools.begin(), pools.end(), [&](const Pool& each) { return each.repeats.name == name; });
    if (pool == pools.end()) pool = pools.insert(pools.end(), Pool{{name, group.front()->channel}, {}});
    double weights = 0, mean = 0, squares = 0;
    for (const sheet::ReadingEntry* each : group) {
      const double weight = 1 / (each->sigma * each->sigma);
      weights += weight;
      mean += weight * each->value;
      pool->variances += each->sigma * each->sigma;
      ++pool->readings;
    }
    mean /= weights;
    for (const sheet::ReadingEntry* each : group)
      squares += (each->value - mean) * (each->value - mean) / (each->sigma * each->sigma);
    pool->scatter.add(squares, int(group.size()) - 1);
  }
  for (Pool& pool : pools) {
    const fit::Scatter scatter = pool.scatter.scatter();
    const fit::ScatterTest test = fit::test_scatter(scatter, 1, kAlarmConfidence);
    pool.repeats.groups = scatter.groups;
    pool.repeats.degrees_of_freedom = scatter.degrees_of_freedom;
    pool.repeats.stated_sigma = std::sqrt(pool.variances / pool.readings);
    pool.repeats.pooled_sigma = scatter.sigma * pool.repeats.stated_sigma;
    pool.repeats.p_value = test.p_value;
    pool.repeats.verdict = test.verdict;
    report.repeats.push_back(std::move(pool.repeats));
  }
}

std::optional<sheet::Complaint> SurveySession::fit() {
  Work& work = *work_;
  if (work.mechanics.trouble()) return say::complaint(work.run, *work.mechanics.trouble());
  if (work.linear.trouble()) return say::complaint(work.run, *work.linear.trouble());
  if (auto complaint = work.number_channels()) return complaint;

  const beam::Run<double>& view = work.view;
  fit::Priors<double> known = priors(work.run, work.tilt_priors(), work.zero_priors);
  for (const survey::Reading<double>& reading : work.survey.readings)
    if (reading.mark >= 0 && std::size_t(reading.mark) < work.run.marks.size())
      known.mark_height[reading.mark] = {0, work.run.priors.datum_height_sigma_m};
  if (work.since) {
    known.changes = work.since->changes;
    for (int m = 0; m < kMaxMarks; ++m)
      if (known.mark_height[m].sigma > 0) known.mark_change[m] = {0, work.since->mark_sigma_m};
    known.drift_share = {1, work.since->drift_share_sigma};
    for (std::size_t i = 0; i < std::min(work.survey.readings.size(), work.since->drift.size()); ++i)
      work.survey.readings[i].drift = work.since->drift[i];
  }
  work.unknowns = {};
  if (!fit::build_unknowns(view, work.stage, work.finished, known, work.unknowns))
    return sheet::Complaint{work.run.file, 0, "run",
                            "more than " + std::to_string(kMaxUnknowns) + " unknowns",
                            "fewer supports, loads, set-ups or instrument channels"};

  fit::Problem<double> problem;
  problem.run = &view;
  problem.solver = &work.mechanics.solver();
  problem.stage = work.stage;
  problem.finished_stage = work.finished;
  problem.width_m = work.run.width_m;
  problem.stations_m = work.run.stations_m;
  problem.unknowns = &work.unknowns;
  problem.carried = work.carried              ? work.carried.get()
                    : work.lasting != nullptr ? &work.lasting->carried
                                              : nullptr;
  problem.base = fit::state_of_means(view, work.stage, known);
  if (work.since) problem.base.move_stage = work.stage;
  problem.kit = fit::kit_of_means(known);
  work.fit_storage.resize(fit::Fit<double>::storage_needed(
      work.unknowns.count, int(work.survey.readings.size()), int(work.run.stations_m.size())));
  if (const auto begun = work.fit->begin(problem, work.fit_storage); !begun)
    return work.complaint_of(begun.fault());

  FitReport& report = work.report = FitReport{};
  report.stage = work.stage;
  report.judgements.resize(work.survey.readings.size());
  const auto ran = work.fit->run(work.survey.readings, {}, report.judgements);
  if (!ran) return work.complaint_of(ran.fault());
  report.status = ran.value();
  report.self_test = work.fit->self_test();
  report.stations.resize(work.run.stations_m.size());
  if (const auto described = work.fit->describe(report.stations); !described)
    return work.complaint_of(described.fault());
  for (int u = 0; u < work.unknowns.count; ++u) {
    std::string name = work.name_of(work.unknowns.unknown[u]);
    if (!name.empty()) report.parameters.push_back({std::move(name), work.fit->estimate(u)});
  }
  if (report.self_test.outcome == fit::TestOutcome::fails) work.name_causes();
  work.pool_repeats();
  report.warnings = work.checks.warnings;
  return work.find_next();
}

sheet::Complaint SurveySession::Work::complaint_of(const fit::FitFault& fault) const {
  return say::complaint(run, CannotFit{fault, std::nullopt});
}

std::string SurveySession::Work::name_of(const fit::Unknown& unknown) const {
  switch (unknown.kind) {
    case fit::UnknownKind::shape:
      return say::parameter_name(run, unknown.shape);
    case fit::UnknownKind::change:
      return say::parameter_name(run, unknown.shape) + " changed";
    case fit::UnknownKind::datum_height:
    case fit::UnknownKind::datum_tilt: {
      if (std::size_t(unknown.index) >= survey.set_ups.size()) return {};
      const bool height = unknown.kind == fit::UnknownKind::datum_height;
      return "set-up " + survey.set_ups[std::size_t(unknown.index)] +
             (height ? ": datum height" : ": datum tilt");
    }
    case fit::UnknownKind::zero:
      return zeros[std::size_t(unknown.index)] + ": zero";
    case fit::UnknownKind::mark_height:
      return "mark " + run.marks[std::size_t(unknown.index)].name + ": height";
    case fit::UnknownKind::mark_change:
      return "mark " + run.marks[std::size_t(unknown.index)].name + ": height changed";
    case fit::UnknownKind::drift_share:
      return "expected drift";
  }
  return {};
}

void SurveySession::Work::name_causes() {
  fit::Cause<double> found[fit::kMaxCauses];
  const int count = fit->causes(survey.readings, report.judgements, found);
  for (int i = 0; i < count; ++i) {
    const fit::Cause<double>& cause = found[i];
    NamedCause named;
    named.weight = cause.weight;
    switch (cause.kind) {
      case fit::CauseKind::none_of_these:
        named.words = "chance, or something that is not modelled";
        break;
      case fit::CauseKind::stray_readings:
        named.words = "stray readings: those set aside";
        break;
      case fit::CauseKind::rough_channel:
        named.words =
            (cause.index >= 0 ? zeros[std::size_t(cause.index)] : std::string("the distance readings")) +
            " scatters more than stated";
        break;
      case fit::CauseKind::unknown_off: {
        const fit::Unknown& unknown = unknowns.unknown[cause.index];
        const std::string name = name_of(unknown);
        if (name.empty()) continue;
        named.words = say::cause_words(run, unknown, name, cause.value, cause.sigma);
        break;
      }
    }
    report.causes.push_back(std::move(named));
  }
}

std::optional<sheet::Complaint> SurveySession::Work::find_next() {
  std::vector<survey::Reading<double>> candidates;
  std::vector<std::string> instruments;
  const auto zero_of = [&](const std::string& name) {
    const auto known = std::find(zeros.begin(), zeros.end(), name);
    return std::int16_t(known == zeros.end() ? -1 : known - zeros.begin());
  };
  const auto offer = [&](survey::Reading<double> reading, const std::string& instrument) {
    const bool faces = reading.channel != Channel::distance;
    for (const int face : {1, -1}) {
      if (face == -1 && !faces) continue;
      reading.face = std::int8_t(face);
      for (const survey::Edge edge : {survey::Edge::middle, survey::Edge::left, survey::Edge::right}) {
        if (reading.channel == Channel::roll && edge != survey::Edge::middle) continue;
        reading.edge = edge;
        candidates.push_back(reading);
        instruments.push_back(instrument);
      }
    }
  };
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
        reading.zero = zero_of(instrument.name + ' ' + std::string(word(channel.gives)));
        offer(reading, instrument.name);
      }
  } else {
    for (std::size_t i = 0; i < survey.readings.size(); ++i) {
      const survey::Reading<double>& one = survey.readings[i];
      bool known = false;
      for (std::size_t c = 0; c < candidates.size(); ++c)
        known = known || (candidates[c].channel == one.channel && instruments[c] == entries[i].instrument);
      if (known) continue;
      survey::Reading<double> reading = one;
      if (reading.channel == Channel::distance) reading.set_up = last_set_up;
      offer(reading, entries[i].instrument);
    }
  }
  if (candidates.empty()) return std::nullopt;
  const auto gain = fit->next_reading(candidates);
  if (!gain) return complaint_of(gain.fault());
  const fit::NextReading best = gain.value().reading;
  if (best.instrument < 0 || best.station < 0) return std::nullopt;
  const survey::Reading<double>& reading = candidates[std::size_t(best.instrument)];
  report.next = NextReading{run.stations_m[std::size_t(best.station)],
                            instruments[std::size_t(best.instrument)],
                            reading.channel,
                            reading.face,
                            reading.edge,
                            gain.value().sigma_now_m,
                            gain.value().sigma_after_m};
  return std::nullopt;
}

std::unique_ptr<Lasting> SurveySession::lasting(std::uint32_t moved) {
  auto result = std::make_unique<Lasting>();
  work_->fit->carry(moved, result->carried);
  result->zeros = work_->zeros;
  result->zero_sigmas = work_->zero_sigmas;
  result->zeros_read.resize(work_->zeros.size());
  if (work_->lasting != nullptr)
    std::copy(work_->lasting->zeros_read.begin(), work_->lasting->zeros_read.end(),
              result->zeros_read.begin());
  for (std::size_t i = 0; i < work_->survey.readings.size(); ++i) {
    const int zero = work_->survey.readings[i].zero;
    if (zero < 0) continue;
    std::optional<book::Time>& read = result->zeros_read[std::size_t(zero)];
    read = std::max(read, std::optional(time_or_last(work_->entries[i])));
  }
  return result;
}

// ---- card ---------------------------------------------------------------------------------------------------------

// Finished heights with one-way supports as they are: station 0 left, station 0 right, station 1 left ...
std::vector<double> SurveySession::Work::finished_edges(const beam::State<double>& state, bool* solved) {
  std::vector<double> heights;
  *solved = mechanics.solver().solve(state).ok();
  if (!*solved) return heights;
  for (const double x : run.stations_m)
    for (const double across : {run.width_m / 2, -run.width_m / 2})
      heights.push_back(mechanics.solver().height(finished, x, across));
  return heights;
}

// Supports that go unloaded or over their rating in any stage from now to the finished one.
void SurveySession::Work::note_troubles(const beam::State<double>& state) {
  if (!mechanics.solver().solve(state)) return;
  for (int s = stage; s <= finished; ++s)
    for (int i = 0; i < int(run.supports.size()); ++i) {
      if (!run.beam_stages[std::size_t(s)].lists_support(i)) continue;
      const beam::SupportAction<double> action = mechanics.solver().support(s, i);
      const std::optional<double> rating = run.supports[std::size_t(i)].rating_N;
      const std::string& name = run.supports[std::size_t(i)].name;
      if (!action.engaged) card.troubles.push_back({name, run.stages[std::size_t(s)], 0, std::nullopt});
      if (rating && std::abs(action.force_N) > *rating)
        card.troubles.push_back({name, run.stages[std::size_t(s)], action.force_N, rating});
    }
}

std::optional<sheet::Complaint> SurveySession::make_card() {
  Work& work = *work_;
  const sheet::RunSheet& run = work.run;
  if (!(run.tolerance.level_m > 0))
    return sheet::Complaint{run.file, 0, "tolerance.level", "none",
                            "how level the finished run must be, such as \"1.5 mm\""};
  const std::size_t points = 2 * run.stations_m.size();
  const auto unknowns = std::size_t(work.unknowns.count);
  std::vector<double> height(points), factor(points * unknowns);
  if (const auto done = work.fit->finished(height, factor); !done) return work.complaint_of(done.fault());
  Card& card = work.card = Card{};

  // What each move does, with every one-way support holding both ways.
  beam::State<double> state = work.fit->state();
  state.move_stage = work.stage;
  std::vector<beam::Parameter> parameters{{beam::ParameterKind::bending, 0}};
  struct Column {
    int support, motion;
  };
  std::vector<Column> columns;
  std::vector<int> adjustable;
  for (int i = 0; i < int(run.supports.size()); ++i) {
    const sheet::Adjust& adjust = run.supports[std::size_t(i)].adjust;
    if (adjust.by == sheet::AdjustBy::nothing) continue;
    bool listed = false;
    for (int s = work.stage; s <= work.finished; ++s)
      listed = listed || run.beam_stages[std::size_t(s)].lists_support(i);
    if (!listed) continue;
    adjustable.push_back(i);
    for (int m = 0; m < 3; ++m) {
      if ((m == 1 && !adjust.pitch) || (m == 2 && !adjust.roll)) continue;
      parameters.push_back({beam::ParameterKind(int(beam::ParameterKind::move_rise) + m), std::int16_t(i)});
      columns.push_back({i, m});
    }
  }
  beam::Solver<double>& linear = work.linear.solver();
  if (const auto solved = linear.solve(state, parameters); !solved)
    return say::complaint(run, solved.fault());

  std::vector<double> linear_height(points), row(parameters.size()), sag(points);
  std::vector<std::vector<double>> on_height(columns.size(), std::vector<double>(points));
  for (std::size_t s = 0; s < run.stations_m.size(); ++s)
    for (int edge = 0; edge < 2; ++edge) {
      const double across = edge == 0 ? run.width_m / 2 : -run.width_m / 2;
      const std::size_t point = 2 * s + std::size_t(edge);
      linear_height[point] = linear.height(work.finished, run.stations_m[s], across);
      linear.height_derivatives(work.finished, run.stations_m[s], across, row);
      sag[point] = -row[0] * state.bending_factor;  // all of what stiffness would take away
      for (std::size_t c = 0; c < columns.size(); ++c) on_height[c][point] = row[1 + c];
    }

  // At the supports that are engaged now, to say what a move does to the others.
  struct AtSupport {
    int support;
    std::vector<double> height, force;
  };
  std::vector<AtSupport> at_supports;
  for (int i = 0; i < int(run.supports.size()); ++i) {
    if (!run.beam_stages[std::size_t(work.stage)].lists_support(i)) continue;
    AtSupport at{i, std::vector<double>(parameters.size()), std::vector<double>(parameters.size())};
    linear.height_derivatives(work.stage, run.beam_supports[std::size_t(i)].at_m, 0, at.height);
    linear.force_derivatives(work.stage, i, at.force);
    at_supports.push_back(std::move(at));
  }

  // Forces that must stay within limits, in every stage from now on: ratings, and one-way supports stay engaged, lifts too: a
  // run whose lift goes free hangs on what is left.
  std::vector<adjust::ForceLimit<double>> forces;
  std::vector<std::vector<double>> on_force(columns.size());
  for (int s = work.stage; s <= work.finished; ++s)
    for (int i = 0; i < int(run.supports.size()); ++i) {
      if (!run.beam_stages[std::size_t(s)].lists_support(i) || !run.beam_supports[std::size_t(i)].rise.held)
        continue;
      const bool one_way = run.beam_supports[std::size_t(i)].holds != beam::Holds::both;
      const std::optional<double> rating = run.supports[std::size_t(i)].rating_N;
      adjust::ForceLimit<double> limit;
      limit.support = i;
      limit.stage = s;
      limit.now_N = linear.support(s, i).force_N;
      limit.while_moving = s == work.stage;
      if (rating) {
        limit.greatest_N = *rating;
        limit.least_N = -*rating;
      }
      if (one_way) limit.least_N = kLeastForce_N;
      if (!std::isfinite(limit.least_N) && !std::isfinite(limit.greatest_N)) continue;
      linear.force_derivatives(s, i, row);
      for (std::size_t c = 0; c < columns.size(); ++c) on_force[c].push_back(row[1 + c]);
      forces.push_back(limit);
    }

  std::vector<std::vector<adjust::PieceKind<double>>> kinds;
  std::vector<adjust::Stock<double>> stocks;
  for (const sheet::Stock& stock : run.stocks) {
    kinds.emplace_back();
    for (const sheet::PieceOfStock& piece : stock.pieces)
      kinds.back().push_back({piece.thickness_m, piece.count});
  }
  for (std::size_t i = 0; i < run.stocks.size(); ++i) {
    stocks.push_back({kinds[i], run.stocks[i].most});
    if (run.stocks[i].highest_m) stocks.back().highest_m = *run.stocks[i].highest_m;
  }

  std::vector<adjust::Place<double>> places;
  for (const int i : adjustable) {
    const sheet::SupportEntry& support = run.supports[std::size_t(i)];
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
    for (std::size_t c = 0; c < columns.size(); ++c) {
      if (columns[c].support != i) continue;
      place.on_height[columns[c].motion] = on_height[c];
      place.on_force[columns[c].motion] = on_force[c];
    }
    places.push_back(place);
  }

  adjust::Problem<double> problem;
  problem.height_m = linear_height;
  problem.forces = forces;
  problem.stocks = stocks;
  problem.places = places;
  problem.target_m = run.tolerance.target_height_m;
  if (!work.workspace) work.workspace = std::make_unique<adjust::Workspace<double>>();
  // Where nothing was measured, or the fit did not settle, nothing can be promised: no move is looked for.
  if (work.report.status == fit::Status::settled) {
    const auto chosen = adjust::choose(problem, *work.workspace);
    if (!chosen) return say::complaint(run, chosen.fault());
    card.choice = chosen.value();
  }

  // As things are, and after the moves, one-way supports as they then are.
  const adjust::Spread<double> spread{factor, int(unknowns)};
  const std::optional<double> target = run.tolerance.target_height_m;
  const auto split = [](const std::vector<double>& edges, std::vector<double>& left,
                        std::vector<double>& right) {
    for (std::size_t i = 0; i < edges.size(); ++i) (i % 2 == 0 ? left : right).push_back(edges[i]);
  };
  bool solved = false;
  const std::vector<double> before = work.finished_edges(state, &solved);
  if (!solved)
    return say::complaint(run, beam::StageFault{beam::StageFaultCode::does_not_settle, work.stage});
  card.before = adjust::prospect<double>(before, spread, run.tolerance.level_m, target);
  split(before, card.left_before_m, card.right_before_m);
  work.note_troubles(state);

  const bool choice_exists = card.choice.outcome == adjust::Outcome::proved_best ||
                             card.choice.outcome == adjust::Outcome::stopped_at_limit;
  beam::State<double> moved = state;
  for (int k = 0; k < card.choice.moves; ++k) {
    const adjust::Move<double>& move = card.choice.move[std::size_t(k)];
    moved.move[move.support] = {move.rise_m, move.pitch_rad, move.roll_rad};
  }
  std::vector<double> after = work.finished_edges(moved, &solved);
  // A card lists no move whose own result, solved anew, is worse than none; one that cures a support may cost level.
  const bool worse =
      !solved || (card.troubles.empty() && adjust::level_error<double>(after, target) >
                                               adjust::level_error<double>(before, target) + 1e-9);
  if (worse) {
    card.choice.moves = 0;
    moved = state;
    after = before;
  }
  std::vector<double> factor_after(points * unknowns);
  std::vector<beam::Motions<double>> moves(moved.move, moved.move + run.supports.size());
  if (const auto done = work.fit->finished_after(moves, height, factor_after); !done)
    return work.complaint_of(done.fault());
  const adjust::Spread<double> spread_after{factor_after, int(unknowns)};
  card.after = adjust::prospect<double>(after, spread_after, run.tolerance.level_m, target);
  split(after, card.left_m, card.right_m);

  for (int i = 0; i < int(run.supports.size()); ++i) {
    if (!run.beam_stages[std::size_t(work.finished)].lists_support(i)) continue;
    card.reactions.push_back({run.supports[std::size_t(i)].name, {}, {}});
  }
  const auto react = [&](const beam::State<double>& at, beam::SupportAction<double> Reaction::*which) {
    if (!work.mechanics.solver().solve(at)) return;
    for (Reaction& reaction : card.reactions)
      reaction.*which = work.mechanics.solver().support(work.finished, run.support(reaction.support));
  };
  react(state, &Reaction::before);
  react(moved, &Reaction::after);

  card.order = adjust::order_moves(problem, card.choice, *work.workspace);
  for (const bool later : {false, true})
    for (int t = 0; t < card.order.turns; ++t) {
      const adjust::Turn<double>& turn = card.order.turn[std::size_t(t)];
      const adjust::Move<double>& move = card.choice.move[std::size_t(turn.move)];
      CardMove entry{move, turn, run.supports[std::size_t(move.support)].name, std::nullopt, {}};
      if (!run.beam_stages[std::size_t(work.stage)].lists_support(move.support)) {
        for (int s = work.finished; s > work.stage; --s)
          if (run.beam_stages[std::size_t(s)].lists_support(move.support)) entry.stage = s;
      }
      for (const AtSupport& at : at_supports) {
        if (at.support == move.support || entry.stage) continue;
        Effect effect{run.supports[std::size_t(at.support)].name};
        for (std::size_t c = 0; c < columns.size(); ++c) {
          if (columns[c].support != move.support) continue;
          const double by = moved.move[move.support][columns[c].motion];
          effect.rise_m += at.height[1 + c] * by;
          effect.force_N += at.force[1 + c] * by;
        }
        entry.effects.push_back(std::move(effect));
      }
      if (entry.stage.has_value() == later) card.moves.push_back(std::move(entry));
    }

  adjust::HoldPointInput input;
  input.confidence = run.tolerance.confidence;
  input.chance_now = card.before.chance;
  input.chance_after = card.after.chance;
  input.level_error_now_m = card.before.level_error_m;
  input.level_error_after_m = card.after.level_error_m;
  input.tolerance_m = run.tolerance.level_m;
  input.choice_exists = choice_exists;
  input.moves = card.choice.moves;
  input.search_stopped = card.choice.outcome == adjust::Outcome::stopped_at_limit ||
                         card.choice.outcome == adjust::Outcome::none_found;
  input.fit_holds = work.report.self_test.outcome == fit::TestOutcome::holds &&
                    work.report.status != fit::Status::not_settled;
  input.has_readings = work.report.self_test.degrees_of_freedom > 0;
  for (const SupportTrouble& trouble : card.troubles)
    (trouble.rating_N ? input.support_over_rating : input.support_unloaded) = true;
  card.hold_point = adjust::hold_point(input);
  card.reason = say::reason_words(run, card);

  if (card.hold_point.answer == adjust::HoldPoint::shims_cannot && choice_exists) {
    const auto cure = adjust::find_cure<double>(problem, sag, run.tolerance.level_m, *work.workspace);
    if (cure) card.advice.push_back(say::cure_words(run, cure.value()));
  }
  if (card.hold_point.answer == adjust::HoldPoint::read_again) {
    if (work.report.next && work.report.next->sigma_after_m < 0.99 * work.report.next->sigma_now_m)
      card.advice.push_back(say::next_words(run, *work.report.next));
    // What leaves most open; and the load that would help most if it were weighed, where that is worth the trouble.
    const double now = card.after.level_error_sigma_m;
    constexpr double kWorthIt = 0.95;
    int load = -1, open = -1;
    double with_load = kWorthIt * now, with_open = kWorthIt * now;
    std::vector<double> own(unknowns);
    for (int u = 0; u < work.unknowns.count; ++u) {
      const fit::Unknown& unknown = work.unknowns.unknown[u];
      work.fit->factor_row(u, own);
      const double sigma =
          adjust::sigma_if_measured<double>(card.after, spread_after, own, 0, target.has_value());
      const bool is_load =
          unknown.kind == fit::UnknownKind::shape && unknown.shape.kind == beam::ParameterKind::load;
      if (is_load && sigma < with_load) {
        with_load = sigma;
        load = unknown.shape.index;
      }
      if (sigma < with_open) {
        with_open = sigma;
        open = u;
      }
    }
    if (open >= 0)
      card.advice.push_back(say::open_words(run, work.name_of(work.unknowns.unknown[open]), now, with_open));
    if (load >= 0) card.advice.push_back(say::weighing_words(run, load, now, with_load));
  }
  return std::nullopt;
}

// ---- JSON ---------------------------------------------------------------------------------------------------------

nlohmann::ordered_json fit_json(const sheet::RunSheet& run, const FitReport& report) {
  using Json = nlohmann::ordered_json;
  Json json;
  json["stage"] = run.stages[std::size_t(report.stage)];
  json["status"] = say::word(report.status);
  const auto column = [&](const char* name, auto member) {
    Json values = Json::array();
    for (const fit::StationShape<double>& station : report.stations) values.push_back(station.*member);
    json[name] = std::move(values);
  };
  using Shape = fit::StationShape<double>;
  column("at_m", &Shape::at_m);
  column("height_m", &Shape::height_m);
  column("height_sigma_m", &Shape::height_sigma_m);
  column("height_less_mean_sigma_m", &Shape::height_less_mean_sigma_m);
  column("slope_rad", &Shape::slope_rad);
  column("slope_sigma_rad", &Shape::slope_sigma_rad);
  column("roll_rad", &Shape::roll_rad);
  column("roll_sigma_rad", &Shape::roll_sigma_rad);
  column("tilt_and_height_m", &Shape::tilt_and_height_m);
  column("bent_by_supports_m", &Shape::bent_by_supports_m);
  column("sag_m", &Shape::sag_m);
  column("bow_m", &Shape::bow_m);
  column("sag_to_come_m", &Shape::sag_to_come_m);
  Json parameters = Json::array();
  for (const NamedEstimate& named : report.parameters)
    parameters.push_back({{"name", named.name},
                          {"value", named.estimate.value},
                          {"sigma", named.estimate.sigma},
                          {"prior_value", named.estimate.prior_value},
                          {"prior_sigma", named.estimate.prior_sigma},
                          {"learned", named.estimate.learned}});
  json["parameters"] = std::move(parameters);
  json["chi_squared"] = report.self_test.chi_squared;
  json["degrees_of_freedom"] = report.self_test.degrees_of_freedom;
  json["p_value"] = report.self_test.p_value;
  json["holds"] = report.self_test.outcome == fit::TestOutcome::holds;
  Json aside = Json::array();
  for (std::size_t i = 0; i < report.judgements.size(); ++i)
    if (report.judgements[i].verdict != fit::Verdict::kept)
      aside.push_back({{"row", i + 1},
                       {"reason", say::aside_words(report.judgements[i])},
                       {"normalised", report.judgements[i].normalised}});
  json["set_aside"] = std::move(aside);
  Json causes = Json::array();
  for (const NamedCause& cause : report.causes)
    causes.push_back({{"cause", cause.words}, {"weight", cause.weight}});
  json["causes"] = std::move(causes);
  Json repeats = Json::array();
  for (const Repeats& each : report.repeats)
    repeats.push_back({{"channel", each.name},
                       {"groups", each.groups},
                       {"degrees_of_freedom", each.degrees_of_freedom},
                       {"pooled_sigma", each.pooled_sigma},
                       {"stated_sigma", each.stated_sigma},
                       {"p_value", each.p_value},
                       {"verdict", say::word(each.verdict)}});
  json["repeats"] = std::move(repeats);
  json["warnings"] = say::warnings(report.warnings, run.show);
  if (report.next)
    json["next_reading"] = {{"at_m", report.next->at_m},
                            {"channel", say::word(report.next->channel)},
                            {"sigma_after_m", report.next->sigma_after_m},
                            {"sigma_now_m", report.next->sigma_now_m},
                            {"instrument", report.next->instrument},
                            {"face", report.next->face},
                            {"edge", say::word(report.next->edge)}};
  else
    json["next_reading"] = nullptr;
  return json;
}

nlohmann::ordered_json shims_json(const sheet::RunSheet& run, const Card& card) {
  using Json = nlohmann::ordered_json;
  Json moves = Json::array();
  int order = 0;
  for (const CardMove& entry : card.moves) {
    Json pieces = Json::array();
    const sheet::Adjust& adjust = run.supports[std::size_t(entry.move.support)].adjust;
    for (int k = 0; k < entry.move.stacks; ++k) {
      const adjust::Stack<double>& stack = entry.move.stack[std::size_t(k)];
      const sheet::Stock& stock = run.stocks[std::size_t(adjust.stock)];
      for (std::size_t kind = 0; kind < stock.pieces.size(); ++kind)
        if (stack.count[kind] > 0)
          pieces.push_back({{"where", say::word(stack.where)},
                            {"thickness_m", stock.pieces[kind].thickness_m},
                            {"count", int(stack.count[kind])}});
    }
    Json move{{"order", ++order},
              {"support", entry.support},
              {"rise_m", entry.move.rise_m},
              {"pitch_rad", entry.move.pitch_rad},
              {"roll_rad", entry.move.roll_rad},
              {"pieces", std::move(pieces)},
              {"turns", entry.move.turns},
              {"limits_hold", entry.turn.limits_hold},
              {"level_error_m", entry.turn.level_error_after_m}};
    Json effects = Json::array();
    for (const Effect& effect : entry.effects)
      effects.push_back(
          {{"support", effect.support}, {"rise_m", effect.rise_m}, {"force_N", effect.force_N}});
    move["effects"] = std::move(effects);
    if (entry.stage) move["when_stage"] = run.stages[std::size_t(*entry.stage)];
    moves.push_back(std::move(move));
  }
  Json reactions = Json::array();
  for (const Reaction& reaction : card.reactions)
    reactions.push_back({{"support", reaction.support},
                         {"force_before_N", reaction.before.force_N},
                         {"force_after_N", reaction.after.force_N},
                         {"moment_before_Nm", reaction.before.moment_Nm},
                         {"moment_after_Nm", reaction.after.moment_Nm}});
  return {{"hold_point", adjust::short_name(card.hold_point.answer)},
          {"reason", card.reason},
          {"advice", card.advice},
          {"level_error_before_m", card.before.level_error_m},
          {"level_error_before_sigma_m", card.before.drawn_sigma_m},
          {"chance_within_tolerance_before", card.before.chance},
          {"level_error_after_m", card.after.level_error_m},
          {"level_error_after_sigma_m", card.after.drawn_sigma_m},
          {"chance_within_tolerance", card.after.chance},
          {"proved_best", card.choice.outcome == adjust::Outcome::proved_best},
          {"fit_holds", card.hold_point.numbers.fit_holds},
          {"moves", std::move(moves)},
          {"reactions", std::move(reactions)},
          {"finished", {{"at_m", run.stations_m}, {"left_m", card.left_m}, {"right_m", card.right_m}}}};
}

}  // namespace hangtrue::job
