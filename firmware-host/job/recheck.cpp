#include "firmware-host/job/recheck.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include <nlohmann/json.hpp>

#include "core/adjust/hold_point.hpp"
#include "core/fit/thresholds.hpp"
#include "firmware-host/job/rehearsed_clock.hpp"
#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {

namespace {

std::vector<double> places_read(const std::vector<sheet::ReadingEntry>& entries) {
  std::vector<double> at;
  for (const sheet::ReadingEntry& each : entries)
    if (each.mark.empty()) at.push_back(each.at_m);
  std::sort(at.begin(), at.end());
  at.erase(std::unique(at.begin(), at.end(), [](double a, double b) { return b - a < kSamePlaceRead_m; }),
           at.end());
  return at;
}

std::optional<double> mean_temperature_C(const BookedSurvey& survey) {
  double sum = 0;
  int count = 0;
  for (const book::BookedReading& each : survey.readings)
    if (each.taken.temperature_C) sum += *each.taken.temperature_C, ++count;
  if (count == 0) return std::nullopt;
  return sum / count;
}

bool reads(const BookedSurvey& survey, const sheet::Mark& mark) {
  return std::any_of(survey.readings.begin(), survey.readings.end(), [&](const book::BookedReading& each) {
    return each.kept && each.reading.mark == mark.name;
  });
}

// Its moves are then no more than what would still better the run.
bool is_ready_to_bolt(const book::BookedCard& card) {
  const nlohmann::json read = nlohmann::json::parse(card.card.json, nullptr, /*allow_exceptions=*/false);
  const auto answer = read.is_object() ? read.find("hold_point") : read.end();
  return answer != read.end() && *answer == adjust::short_name(adjust::HoldPoint::ready_to_bolt);
}

// By how much the survey's clock was ahead, in a rehearsal.
std::string clock_of(const BookedSurvey& survey) {
  for (const std::string& note : survey.notes)
    if (auto ahead = rehearsed_clock(note)) return *std::move(ahead);
  return {};
}

/// Sets of bearing supports at the earlier survey under which it is looked for what moved. No source: two are usual where it is
/// not clear what bears.
constexpr std::size_t kMostSupposed = 3;

/// One good survey in a thousand scatters more. No source: those between that and the fit's own test are told with a remark.
constexpr double kHoldsOnlyJust = 1e-3;

// Nothing is wrong with it but its chi-squared, and that by little.
bool holds_only_just(const FitReport& report) {
  const fit::SelfTest<double>& test = report.self_test;
  return test.outcome == fit::TestOutcome::fails && report.status == fit::Status::settled &&
         test.p_value >= kHoldsOnlyJust && test.largest_normalised <= fit::kGate &&
         test.largest_prior_normalised <= fit::kGate;
}

// Each step gives what stands in the way, or nothing.
using Obstacle = std::optional<Fault>;

class Comparison {
 public:
  Comparison(const book::Book& book, const sheet::RunSheet& run, std::optional<double> days,
             const sheet::KitSheet* kit)
      : book_(book), given_(run), days_(days), given_kit_(kit) {}

  Result<Recheck, Fault> compare(const std::string& from_id, const std::string& to_id) {
    if (auto obstacle = find(from_id, to_id)) return *std::move(obstacle);
    if (auto obstacle = fit_earlier()) return *std::move(obstacle);
    if (std::holds_alternative<std::monostate>(result_.why_not)) {
      if (auto obstacle = read_later()) return *std::move(obstacle);
      if (auto obstacle = look_under_each_set()) return *std::move(obstacle);
      conclude();
      describe_shape();
      if (!days_) follow();
    }
    gather_remarks();
    return std::move(result_);
  }

 private:
  Obstacle find(const std::string& from_id, const std::string& to_id);
  Obstacle find(Which which, const std::string& id, book::SurveyRecord& out) const;
  Obstacle read_time(const book::SurveyRecord& record, book::Time& out) const;
  Obstacle read_sheet(const book::SurveyRecord& survey, std::unique_ptr<sheet::RunSheet>& out) const;
  Obstacle same_run();
  void take_given_tolerance();
  Obstacle same_sheet(const sheet::RunSheet& earlier, const sheet::RunSheet& later, const std::string& given);
  [[nodiscard]] Obstacle same_supports() const;
  Obstacle note_given_kit(const book::SurveyRecord& survey);
  Obstacle fit_earlier();
  Obstacle learn();
  Obstacle suppose(const BearingOption& bore);
  Obstacle refit_earlier(std::optional<double> drift_share, std::vector<std::uint32_t> bore,
                         std::unique_ptr<SurveyFit>& out) const;
  [[nodiscard]] std::vector<std::uint32_t> bore_then(int stages) const;
  Obstacle not_moved(const FittedSurvey& from);
  [[nodiscard]] static Obstacle enough_places(const BookedSurvey& survey);
  Obstacle read_later();
  Obstacle look_under_each_set();
  Obstacle look_for_changes();
  struct Told {  // under one set
    std::vector<std::string> hang_free;
    std::vector<Cause> causes;
    double score;
  };
  void compare_what_is_told(const std::vector<Told>& told);
  [[nodiscard]] bool bears_as_then() const;
  void list_candidates(const beam::Solver<double>& solved, double bending_factor);
  void expect_drift();
  Obstacle fit_later();
  Obstacle fit_with(const std::vector<int>& named);
  [[nodiscard]] std::unique_ptr<SurveyFit> session_for(const std::vector<sheet::ReadingEntry>& entries,
                                                       int stage, const std::vector<int>& named) const;
  [[nodiscard]] std::vector<sheet::BearingRemark> bearing_then() const;
  void describe_shape();
  Obstacle test_changes();
  [[nodiscard]] std::vector<int> with_bending(const Causes& found) const;
  void conclude();
  [[nodiscard]] RecheckAnswer answer();
  [[nodiscard]] SurveyFit& then() const { return is_.then ? *is_.then : *earlier_.last().session; }
  [[nodiscard]] const CarriedState& carried() const {
    return is_.carried ? *is_.carried : *earlier_.carried.back();
  }
  void follow();
  void look_at_what_could_hide();
  void note_what_was_not_read();
  void gather_remarks();
  void note_warmth(std::optional<double> then_C, std::optional<double> now_C);

  const book::Book& book_;
  const sheet::RunSheet& given_;
  std::optional<double> days_;
  const sheet::KitSheet* given_kit_;
  std::unique_ptr<sheet::RunSheet> run_;  // of the later survey, by which both are read
  std::vector<book::SurveyRecord> surveys_;
  book::SurveyRecord from_record_, to_record_;
  History earlier_;
  std::unique_ptr<sheet::KitSheet> kit_;
  BookedSurvey later_;
  std::optional<Followed> level_error_;
  Recheck result_;

  // What is found where some of the earlier survey's one-way supports are taken not to bear. Members behind others refer to those.
  struct Supposed {
    std::vector<std::uint32_t> lifted;              // by stage: what does not bear now; empty: to be found
    std::unique_ptr<SurveyFit> then;                // the earlier survey's fit; nullptr: the history's
    std::unique_ptr<CarriedState> carried, taught;  // by it, of which `carried` as `then`
    std::shared_ptr<const DriftForecast> crept;     // by the earlier survey; nullptr: nothing
    double crept_share = 1;
    std::unique_ptr<SheetWithMore> sheet;  // of the later survey's fit
    std::vector<ChangeCandidate> candidates;
    std::vector<sheet::ReadingEntry> entries;  // of the later survey, less what had crept by the earlier
    std::vector<double> drift;                 // expected since, by entry; empty: none
    std::unique_ptr<SurveyFit> session;
    std::unique_ptr<DriftForecast> forecast;
    change::GlobalTest test;
    Causes found;
    std::vector<ChangeSeen> seen;
    std::vector<std::pair<UnknownId, UnknownId>> twins;
    double ln_weight = 0;

    // One cause more has to make it likelier by one over kAsLikely, as within one set.
    [[nodiscard]] double score() const {
      return ln_weight + double(found.causes.size()) * std::log(kAsLikely);
    }
  };
  // The likelier of two; one under which nothing changed only where it is far likelier: a change must not hide behind a set.
  [[nodiscard]] static bool prefer(const Supposed& one, const Supposed& other) {
    if (one.found.causes.empty() == other.found.causes.empty()) return one.score() > other.score();
    const double ahead = one.ln_weight - other.ln_weight;
    return ahead > (one.found.causes.empty() ? -std::log(kAsLikely) : std::log(kAsLikely));
  }
  Supposed is_;
};

// ---- what is compared ------------------------------------------------------------------------------------------------

Obstacle Comparison::find(Which which, const std::string& id, book::SurveyRecord& out) const {
  NoSuchSurvey none{which, id, {}};
  for (const book::SurveyRecord& each : surveys_) {
    if (each.begun.id == id) {
      out = each;
      return std::nullopt;
    }
    none.known.push_back(each.begun.id);
  }
  return NotComparable(std::move(none));
}

Obstacle Comparison::read_time(const book::SurveyRecord& record, book::Time& out) const {
  const std::optional<book::Time> time = time_of(record.time);
  if (!time) return NotComparable(TimeNotReadable{record.begun.id, record.time});
  out = *time;
  return std::nullopt;
}

Obstacle Comparison::find(const std::string& from_id, const std::string& to_id) {
  auto all = book_.surveys();
  if (!all.ok()) return all.fault();
  surveys_ = std::move(all).value();
  if (auto obstacle = find(Which::from, from_id, from_record_)) return obstacle;
  if (auto obstacle = find(Which::to, to_id, to_record_)) return obstacle;
  if (from_record_.number == to_record_.number) return NotComparable(SameSurvey{to_id});
  if (from_record_.number > to_record_.number) return NotComparable(WrongOrder{from_id, to_id});
  if (auto obstacle = same_run()) return obstacle;
  for (const book::SurveyRecord* each : {&from_record_, &to_record_})
    if (run_->stage(each->begun.stage) < 0)
      return NotComparable(StageNotOnLaterSheet{each->begun.id, each->begun.stage, run_->stages});
  result_.from = from_id;
  result_.to = to_id;
  if (auto obstacle = read_time(from_record_, result_.from_time)) return obstacle;
  if (auto obstacle = read_time(to_record_, result_.to_time)) return obstacle;
  if (days_)
    result_.to_time = result_.from_time + std::chrono::duration_cast<book::Time::duration>(
                                              std::chrono::duration<double, std::ratio<86400>>(*days_));
  if (result_.to_time < result_.from_time)
    return NotComparable(TimesReversed{from_id, to_id, result_.from_time, result_.to_time});
  result_.from_stage = run_->stage(from_record_.begun.stage);
  result_.to_stage = run_->stage(to_record_.begun.stage);
  return same_supports();
}

Obstacle Comparison::read_sheet(const book::SurveyRecord& survey,
                                std::unique_ptr<sheet::RunSheet>& out) const {
  const auto entry = book_.entry(survey.begun.run);
  if (!entry.ok()) return entry.fault();
  const auto* const text = std::get_if<book::RunText>(&entry.value().content);
  if (text == nullptr) return NotComparable(RunSheetNotInBook{survey.begun.run, survey.begun.id});
  sheet::RunSheetOrComplaints read = sheet::parse_run_sheet(text->text, text->file + " (in the book)");
  if (!read.sheet) return SheetNotReadable{std::move(read.complaints)};
  out = std::make_unique<sheet::RunSheet>(std::move(*read.sheet));
  return std::nullopt;
}

Obstacle Comparison::same_run() {
  std::unique_ptr<sheet::RunSheet> earlier;
  if (auto obstacle = read_sheet(to_record_, run_)) return obstacle;
  if (auto obstacle = read_sheet(from_record_, earlier)) return obstacle;
  if (auto obstacle = same_sheet(*earlier, *run_, "")) return obstacle;
  if (auto obstacle = same_sheet(*run_, given_, given_.file)) return obstacle;
  take_given_tolerance();
  return std::nullopt;
}

// A run's owner may ask for another tolerance than its builder had.
void Comparison::take_given_tolerance() {
  const sheet::Tolerance was = run_->tolerance;
  const std::string& stage = given_.stages[std::size_t(given_.tolerance.stage)];
  const std::string was_stage = run_->stages[std::size_t(was.stage)];
  if (const int index = run_->stage(stage); index >= 0) {
    run_->tolerance = given_.tolerance;
    run_->tolerance.stage = index;
  }
  result_.tolerance = run_->tolerance;
  if (was.level_m != run_->tolerance.level_m || was.stage != run_->tolerance.stage ||
      was.confidence != run_->tolerance.confidence || was.per != run_->tolerance.per)
    result_.remarks.push_back(
        NewTolerance{was, run_->tolerance, was_stage, run_->stages[std::size_t(run_->tolerance.stage)]});
}

// What does not matter becomes a remark.
Obstacle Comparison::same_sheet(const sheet::RunSheet& earlier, const sheet::RunSheet& later,
                                const std::string& given) {
  SheetsDiffer differ{from_record_.begun.id, to_record_.begun.id, given, {}};
  for (SheetChange& change : sheet_changes(earlier, later)) {
    if (change.entry.of == EntryOf::tolerance) continue;  // the given one counts
    if (change.matters)
      differ.changes.push_back(std::move(change));
    else
      result_.remarks.push_back(SheetDiffers{differ.earlier, differ.later, given, std::move(change)});
  }
  if (differ.changes.empty()) return std::nullopt;
  return NotComparable(std::move(differ));
}

Obstacle Comparison::same_supports() const {
  const auto [first, last] = std::minmax(result_.from_stage, result_.to_stage);
  const std::uint32_t supports = run_->beam_stages[std::size_t(first)].supports;
  for (int s = first + 1; s <= last; ++s)
    if (run_->beam_stages[std::size_t(s)].supports != supports)
      return NotComparable(
          OtherSupports{to_record_.begun.id, to_record_.begun.stage, from_record_.begun.stage});
  return std::nullopt;
}

// What the given kit sheet says otherwise of what that survey was read with.
Obstacle Comparison::note_given_kit(const book::SurveyRecord& survey) {
  if (given_kit_ == nullptr) return std::nullopt;
  const auto booked = booked_kit(book_, *run_, survey);
  if (!booked.ok()) return booked.fault();
  if (!booked.value()) return std::nullopt;
  const auto read = booked_survey(book_, *booked.value(), survey);
  if (!read.ok()) return read.fault();
  KitComparison compared = compare_kits(kept_readings(read.value()), *booked.value(), *given_kit_);
  if (auto* const cannot = std::get_if<KitCannot>(&compared)) return NotComparable(std::move(*cannot));
  std::vector<KitDiffers>& differs = std::get<std::vector<KitDiffers>>(compared);
  const auto said = std::find_if(result_.remarks.begin(), result_.remarks.end(),
                                 [](const Remark& each) { return std::holds_alternative<OtherKit>(each); });
  if (said == result_.remarks.end()) {
    result_.remarks.push_back(OtherKit{given_kit_->file, std::move(differs)});
    return std::nullopt;
  }
  std::vector<KitDiffers>& all = std::get<OtherKit>(*said).differs;
  for (KitDiffers& each : differs)
    if (std::find(all.begin(), all.end(), each) == all.end()) all.push_back(std::move(each));
  return std::nullopt;
}

// ---- the two fits ----------------------------------------------------------------------------------------------------

Obstacle Comparison::fit_earlier() {
  for (const book::SurveyRecord* each : {&from_record_, &to_record_})
    if (auto obstacle = note_given_kit(*each)) return obstacle;
  auto history = fit_history(book_, *run_, from_record_, given_kit_);
  if (!history.ok()) return history.fault();
  earlier_ = std::move(history).value();
  FittedSurvey& from = earlier_.surveys.back();
  if (const Fault* const fault = from.fault()) return *fault;
  if (auto obstacle = not_moved(from)) return obstacle;
  if (auto obstacle = enough_places(from.booked)) return obstacle;
  if (from.not_taught && std::holds_alternative<FitDoesNotHold>(from.not_taught->why) &&
      holds_only_just(from.session->report())) {
    earlier_.carried.back() = from.session->carry(0);
    from.not_taught.reset();
    result_.remarks.push_back(HoldsOnlyJust{from_record_.begun.id, from.session->report().self_test.p_value});
  }
  if (from.not_taught) result_.why_not = *from.not_taught;
  return std::nullopt;
}

// What the earlier survey taught, under what is supposed.
Obstacle Comparison::learn() {
  is_.taught = without(carried(), Forget::zeros);
  const CarriedState* const began = earlier_.began_from.back().get();
  if (began == nullptr || !began->drift) return std::nullopt;
  // That survey once more, with the share of creep that it found as known: what it taught then stands for the run as it was on
  // that day, together with that creep.
  is_.crept = began->drift;
  is_.crept_share = then().drift_share()->value;
  std::unique_ptr<SurveyFit> again;
  if (auto obstacle = refit_earlier(is_.crept_share, bore_then(then().stage() + 1), again)) return obstacle;
  is_.taught = without(*again->carry(0), Forget::zeros);
  return std::nullopt;
}

// The earlier survey's fit once more, with what bore at its stage and before it as known.
Obstacle Comparison::refit_earlier(std::optional<double> drift_share, std::vector<std::uint32_t> bore,
                                   std::unique_ptr<SurveyFit>& out) const {
  const FittedSurvey& from = earlier_.last();
  out = std::make_unique<SurveyFit>(*run_, given_kit_ != nullptr ? given_kit_ : earlier_.kits.back().get(),
                                    from.stage, earlier_.began_from.back().get());
  out->take_checks(from.booked.checks);
  out->take_bearing(std::move(bore));
  out->take_start(from.booked.found.starts_at);
  if (drift_share) out->take_drift_share(*drift_share);
  // Where nothing moved within its walk, nothing is looked for again.
  if (from.session->report().movements.empty()) out->expect_changes({});
  for (sheet::ReadingEntry& reading : kept_readings(from.booked)) out->add(std::move(reading));
  if (const auto fitted = out->fit(); !fitted) return fitted.fault();
  return std::nullopt;
}

// What did not bear at the first stages, by the earlier survey's fit.
std::vector<std::uint32_t> Comparison::bore_then(int stages) const {
  const beam::State<double> state = then().fitted().state();
  return {state.lifted, state.lifted + stages};
}

Obstacle Comparison::suppose(const BearingOption& bore) {
  is_ = {};
  if (auto obstacle = refit_earlier({}, bore.by_stage, is_.then)) return obstacle;
  is_.carried = is_.then->carry(0);
  return std::nullopt;
}

Obstacle Comparison::not_moved(const FittedSurvey& from) {
  if (!from.moved.empty()) {
    const bool marked = std::any_of(from.booked.cards.begin(), from.booked.cards.end(),
                                    [](const book::BookedCard& card) { return !card.made.empty(); });
    if (marked) return NotComparable(MovedAfterReadings{from_record_.begun.id, from.moved});
    if (!is_ready_to_bolt(from.booked.cards.back()))
      result_.remarks.push_back(UnmarkedMoves{from_record_.begun.id, from.moved});
  }
  for (const book::SurveyRecord& each : surveys_)
    if (each.number > from_record_.number && each.number < to_record_.number && each.moves > 0 &&
        each.begun.run == to_record_.begun.run)
      return NotComparable(MovedInBetween{each.begun.id});
  return std::nullopt;
}

Obstacle Comparison::enough_places(const BookedSurvey& survey) {
  std::vector<double> at = places_read(kept_readings(survey));
  if (int(at.size()) >= kLeastPlaces) return std::nullopt;
  return NotComparable(TooFewPlaces{survey.record.begun.id, std::move(at)});
}

void Comparison::expect_drift() {
  SurveyTimes times{result_.from_time, result_.from_time, result_.to_time};
  if (const auto loaded = time_of(earlier_.surveys.front().booked.record.time)) times.loaded = *loaded;
  is_.forecast = std::make_unique<DriftForecast>(*run_, result_.to_stage, then().fitted().state(), times);
  result_.drift = is_.forecast->expected();
  for (const double at : run_->stations_m)
    result_.drift.before_m.push_back(is_.crept ? is_.crept_share * is_.crept->height_m(at, 0) : 0);
}

Obstacle Comparison::read_later() {
  auto kit = booked_kit(book_, *run_, to_record_);
  if (!kit.ok()) return kit.fault();
  kit_ = std::move(kit).value();
  if (!kit_ && given_kit_ == nullptr) return NotComparable(KitNotInBook{to_record_.begun.id});
  auto later = booked_survey(book_, given_kit_ != nullptr ? *given_kit_ : *kit_, to_record_);
  if (!later.ok()) return later.fault();
  later_ = std::move(later).value();
  if (given_kit_ != nullptr) {
    if (kit_) read_by(*kit_, *given_kit_, later_);
    kit_ = std::make_unique<sheet::KitSheet>(*given_kit_);
  }
  if (auto obstacle = enough_places(later_)) return obstacle;
  for (const sheet::Mark& mark : run_->marks)
    if (reads(earlier_.last().booked, mark) && reads(later_, mark)) result_.marks.push_back(mark.name);
  result_.heights_compared = !result_.marks.empty();
  return std::nullopt;
}

// What moved under each set of bearing supports that the earlier survey's readings allow, as they bear now and, where that is
// otherwise, as if they bore as then; the likeliest is kept: its probability then, times how likely it makes what is read now.
Obstacle Comparison::look_under_each_set() {
  const std::vector<BearingOption> sets = earlier_.last().session->report().bearing;
  std::optional<Supposed> best;
  ExpectedDrift best_drift;
  std::vector<Told> told;
  const std::size_t count = std::clamp<std::size_t>(sets.size(), 1, kMostSupposed);
  for (std::size_t k = 0; k < count; ++k)
    for (const bool as_then : {false, true}) {
      is_ = {};
      auto obstacle = k > 0 ? suppose(sets[k]) : std::nullopt;
      if (as_then) is_.lifted = bore_then(result_.to_stage + 1);
      if (!obstacle) obstacle = look_for_changes();
      if (obstacle && !best) return obstacle;
      if (obstacle) break;  // the run could not be read so
      if (k < sets.size()) {
        is_.ln_weight += std::log(sets[k].probability);
        told.push_back({sets[k].lifted, is_.found.causes, is_.score()});
      }
      const bool stands_as_then = bears_as_then();
      if (!best || prefer(is_, *best)) {
        best = std::move(is_);
        best_drift = std::move(result_.drift);
      }
      if (stands_as_then) break;
    }
  is_ = *std::move(best);
  result_.drift = std::move(best_drift);
  if (result_.drift.cause == DriftCause::not_worked_out) result_.remarks.push_back(CreepNotWorkedOut{});
  std::erase_if(told, [&](const Told& each) { return each.score < is_.score() + std::log(kAsLikely); });
  compare_what_is_told(told);
  return std::nullopt;
}

// Also at another stage, where nothing is known of how it bore then.
bool Comparison::bears_as_then() const {
  if (result_.from_stage != result_.to_stage) return true;
  return is_.lifted == bore_then(result_.to_stage + 1);
}

// What another set as likely names would explain as well; where they differ it is said which supports matter.
void Comparison::compare_what_is_told(const std::vector<Told>& told) {
  BearingNotKnown unknown{from_record_.begun.id, {}};
  for (const Told& each : told)
    for (const std::string& support : each.hang_free) {
      const bool by_all = std::all_of(told.begin(), told.end(), [&](const Told& other) {
        return std::find(other.hang_free.begin(), other.hang_free.end(), support) != other.hang_free.end();
      });
      if (!by_all &&
          std::find(unknown.supports.begin(), unknown.supports.end(), support) == unknown.supports.end())
        unknown.supports.push_back(support);
    }
  const auto names = [](const std::vector<Cause>& causes, const UnknownId& id) {
    return std::any_of(causes.begin(), causes.end(), [&](const Cause& each) { return each.change.id == id; });
  };
  bool differ = false;
  for (const Told& each : told)
    for (Cause& named : is_.found.causes) {
      if (names(each.causes, named.change.id)) continue;
      differ = true;
      const auto add = [&](const UnknownId& id) {
        if (!names(is_.found.causes, id) &&
            std::find(named.or_else.begin(), named.or_else.end(), id) == named.or_else.end())
          named.or_else.push_back(id);
      };
      for (const Cause& other : each.causes) {
        if (names(is_.found.causes, other.change.id)) continue;
        add(other.change.id);
        for (const UnknownId& id : other.or_else) add(id);
      }
    }
  if (differ && !unknown.supports.empty()) result_.remarks.push_back(std::move(unknown));
}

Obstacle Comparison::look_for_changes() {
  if (auto obstacle = learn()) return obstacle;
  expect_drift();
  if (auto obstacle = fit_later()) return obstacle;
  return test_changes();
}

Obstacle Comparison::fit_later() {
  SurveyFit& earlier = then();
  const beam::State<double> state = earlier.fitted().state();
  if (!earlier.solver().solve(state))
    return Fault(beam::StageFault{beam::StageFaultCode::does_not_settle, earlier.stage()});
  list_candidates(earlier.solver(), state.bending_factor);
  std::vector<double> drift;
  std::vector<sheet::ReadingEntry> entries = kept_readings(later_);
  if (is_.crept) {
    const sheet::Survey survey = sheet::make_survey(entries, kit_.get(), run_->marks);
    for (std::size_t i = 0; i < entries.size(); ++i)
      entries[i].value -= is_.crept_share * is_.crept->on(survey.readings[i]);
  }
  if (is_.forecast->any()) {
    for (const survey::Reading<double>& reading :
         sheet::make_survey(entries, kit_.get(), run_->marks).readings)
      drift.push_back(is_.forecast->on(reading));
  }
  is_.entries = std::move(entries);
  is_.drift = std::move(drift);
  if (auto obstacle = fit_with({})) return obstacle;
  const beam::State<double> found = is_.session->fitted().state();
  is_.lifted.assign(found.lifted, found.lifted + result_.to_stage + 1);
  return std::nullopt;
}

// A softer run bends by the moments of this run: solved as it was, or as it has become.
void Comparison::list_candidates(const beam::Solver<double>& solved, double bending_factor) {
  is_.sheet = std::make_unique<SheetWithMore>(
      with_more_loads(*run_, result_.to_stage, solved, bending_factor, then().unknowns().count));
  is_.candidates = change_candidates(*is_.sheet, result_.to_stage);
  if (!result_.heights_compared)
    std::erase_if(is_.candidates,
                  [](const ChangeCandidate& each) { return each.id.of == UnknownOf::mark_height; });
}

// The later survey with what may have changed free that does not multiply anything else: moves, bows and marks, so that its shape is
// its own; and with what was named.
Obstacle Comparison::fit_with(const std::vector<int>& named) {
  is_.session = session_for(is_.entries, result_.to_stage, named);
  if (const auto fitted = is_.session->fit(); !fitted) return fitted.fault();
  return std::nullopt;
}

std::unique_ptr<SurveyFit> Comparison::session_for(const std::vector<sheet::ReadingEntry>& entries, int stage,
                                                   const std::vector<int>& named) const {
  std::vector<ChangeCandidate> free;
  for (int j = 0; j < int(is_.candidates.size()); ++j) {
    const ChangeCandidate& each = is_.candidates[std::size_t(j)];
    const bool linear = is_move(each.id.of) || each.id.of == UnknownOf::bow;
    if (linear || std::find(named.begin(), named.end(), j) != named.end()) free.push_back(each);
  }
  ChangesSince since = changes_since(*is_.sheet, free, result_.heights_compared);
  since.drift = is_.drift;
  since.drift_share_sigma = kCreepSigma;
  auto session = std::make_unique<SurveyFit>(is_.sheet->run, kit_.get(), stage, is_.taught.get());
  session->take_checks(later_.checks);
  // What is past stays as it was.
  session->take_bearing(stage == result_.to_stage && !is_.lifted.empty()
                            ? is_.lifted
                            : bore_then(std::min(stage, then().stage() + 1)));
  std::vector<sheet::BearingRemark> bearing;
  if (stage == result_.to_stage) bearing = bearing_then();
  bearing.insert(bearing.end(), later_.found.bearing.begin(), later_.found.bearing.end());
  session->take_answers(std::move(bearing));
  session->expect_changes(std::move(since));
  for (const sheet::ReadingEntry& each : entries) session->add(each);
  return session;
}

// What bears is likelier as it was than otherwise; none at another stage.
std::vector<sheet::BearingRemark> Comparison::bearing_then() const {
  if (result_.from_stage != result_.to_stage) return {};
  const std::uint32_t lifted = bore_then(result_.from_stage + 1).back();
  std::vector<sheet::BearingRemark> remarks;
  for (std::size_t i = 0; i < run_->supports.size(); ++i)
    if (run_->beam_supports[i].one_way() &&
        run_->beam_stages[std::size_t(result_.from_stage)].lists_support(int(i)))
      remarks.push_back({run_->supports[i].name, ((lifted >> i) & 1u) == 0});
  return remarks;
}

// ---- what is said of them --------------------------------------------------------------------------------------------

void Comparison::describe_shape() {
  const bool same_stage = result_.from_stage == result_.to_stage;
  ShapeChange shape = shape_change(*run_, *is_.session, same_stage ? &then().report().stations : nullptr,
                                   result_.drift, result_.heights_compared);
  result_.stations = std::move(shape.stations);
  result_.level = shape.level;
  result_.common_m = shape.common_m;
  result_.common_sigma_m = shape.common_sigma_m;
  level_error_ = std::move(shape.level_error);
  if (const auto& bearing = is_.session->report().bearing; !bearing.empty())
    result_.hang_free = bearing.front().lifted;
  const std::string& stage = run_->stages[std::size_t(std::max(run_->tolerance.stage, 0))];
  if (shape.level.straight && !shape.level.straight->within)
    result_.remarks.push_back(UnderStraightEdge{*shape.level.straight, *run_->tolerance.per, stage});
  if (shape.level.verdict == ToleranceVerdict::past && shape.level.to_m > run_->tolerance.level_m)
    result_.remarks.push_back(PastTolerance{shape.level.to_m, run_->tolerance.level_m, stage});
  if (shape.level.verdict == ToleranceVerdict::cannot_tell)
    result_.remarks.push_back(ToleranceNotTold{shape.level.to_m, shape.level.to_sigma_m,
                                               run_->tolerance.level_m, shape.level.chance_within, stage});
}

Obstacle Comparison::test_changes() {
  constexpr int kMostTurns = 2;  // no source: the second leaves a tenth of what the first left
  for (int turn = 1;; ++turn) {
    LaterFits fits(*is_.session, is_.candidates);
    const ChangeTests tests(fits.at_no_change(), is_.candidates);
    if (turn == 1) {
      is_.test = is_.found.rest = tests.global();
      is_.seen = tests.each();
      is_.twins = tests.twins();
    }
    if (is_.test.p_value < 1 - kRecheckConfidence)
      is_.found = find_causes(fits, *is_.sheet, tests, result_.heights_compared);
    std::vector<int> softened = with_bending(is_.found);
    if (softened.empty() || turn == kMostTurns) {
      is_.ln_weight = fits.ln_likely(is_.found.set);
      if (is_.forecast->any()) judge_drift(result_.drift, fits.drift_share(is_.found.set));
      break;
    }
    const auto state = fits.stand_at(softened);
    if (!state) break;
    list_candidates(is_.session->solver(), state->bending_factor);
    if (auto obstacle = fit_with({})) return obstacle;
  }
  if (!is_.found.set.empty()) return fit_with(is_.found.set);
  return std::nullopt;
}

// The set named, where a softer run is in it or may stand in the place of all of it; else none.
std::vector<int> Comparison::with_bending(const Causes& found) const {
  const auto bending = std::find_if(is_.candidates.begin(), is_.candidates.end(),
                                    [](const ChangeCandidate& each) { return each.flexibility; });
  const int index = int(bending - is_.candidates.begin());
  if (bending == is_.candidates.end() || found.set.empty()) return {};
  if (std::find(found.set.begin(), found.set.end(), index) != found.set.end()) return found.set;
  const std::vector<UnknownId>& others = found.causes.front().or_else;
  const bool instead =
      found.set.size() == 1 && std::find(others.begin(), others.end(), bending->id) != others.end();
  return instead ? std::vector<int>{index} : std::vector<int>{};
}

// Of what was supposed.
void Comparison::conclude() {
  result_.test = is_.test;
  result_.rest = is_.found.rest;
  result_.seen = std::move(is_.seen);
  result_.cannot_be_told_apart = std::move(is_.twins);
  result_.causes = std::move(is_.found.causes);
  result_.answer = answer();
  if (result_.answer == RecheckAnswer::cannot_tell) result_.causes.clear();
}

RecheckAnswer Comparison::answer() {
  const FitReport& report = is_.session->report();
  if (holds_only_just(report))
    result_.remarks.push_back(HoldsOnlyJust{to_record_.begun.id, report.self_test.p_value});
  else if (report.self_test.outcome == fit::TestOutcome::fails || report.status == fit::Status::not_settled) {
    is_.lifted.clear();
    result_.why_not = ReadingsContradict{likely_misreadings(
        *run_, *is_.session, is_.entries, [this](const std::vector<sheet::ReadingEntry>& entries, int stage) {
          return session_for(entries, stage, {});
        })};
    return RecheckAnswer::cannot_tell;
  }
  if (result_.test.degrees_of_freedom == 0) {
    result_.why_not = TooLittleRead{};
    return RecheckAnswer::cannot_tell;
  }
  if (result_.test.p_value >= 1 - kRecheckConfidence) return RecheckAnswer::nothing_moved;
  return result_.causes.empty() ? RecheckAnswer::moved_somehow : RecheckAnswer::moved;
}

// After the shape is described.
void Comparison::look_at_what_could_hide() {
  Unseen& unseen = result_.unseen;
  for (const ChangeSeen& each : result_.seen) {
    if (each.id.of != UnknownOf::move_rise) continue;
    const double size = each.can_be_seen ? each.smallest_detectable : std::numeric_limits<double>::infinity();
    if (size > unseen.rise_m) unseen.rise_m = size, unseen.support = each.id;
  }
  if (result_.heights_compared) unseen.whole_run_m = kFoundSigmas * result_.common_sigma_m;
  unseen.no_mark = !result_.heights_compared;
  const std::vector<double> read = places_read(is_.entries);
  for (const double at : run_->stations_m)
    unseen.places_not_read += std::none_of(
        read.begin(), read.end(), [&](double place) { return std::abs(place - at) < kSamePlaceRead_m; });
  const std::array<const BookedSurvey*, 2> both{&earlier_.last().booked, &later_};
  for (const BookedSurvey* const each : both) {
    std::size_t turned = 0, all = 0;
    for (const book::BookedReading& reading : each->readings)
      if (reading.kept && reading.reading.channel != Channel::distance)
        ++all, turned += reading.reading.face == -1;
    unseen.one_face = unseen.one_face || (all > 0 && (turned == 0 || turned == all));
  }
}

// Stretches of the run beyond what was read, and gaps in it, that are long beside the run.
void Comparison::note_what_was_not_read() {
  std::vector<double> at = places_read(is_.entries);
  at.insert(at.begin(), 0);
  at.push_back(run_->length_m);
  for (std::size_t i = 1; i < at.size(); ++i)
    if (at[i] - at[i - 1] > kLongGap * run_->length_m)
      result_.remarks.push_back(NotRead{result_.to, at[i - 1], at[i]});
}

void Comparison::follow() {
  if (result_.answer == RecheckAnswer::cannot_tell) return;
  std::vector<Followed> followed;
  for (const Cause& cause : result_.causes)
    if (cause.change.id.of == UnknownOf::move_rise)
      if (auto support =
              against_farthest_support(*run_, result_.to_stage, run_->support(cause.change.id.name)))
        followed.push_back(*std::move(support));
  if (level_error_) followed.push_back(*level_error_);
  result_.trends = follow_trends(
      book_, *run_,
      {surveys_between(*run_, surveys_, from_record_, to_record_), result_.to_stage, result_.from_time,
       time_of(earlier_.surveys.front().booked.record.time).value_or(result_.from_time)},
      carried(), then().fitted().state(), followed);
}

void Comparison::gather_remarks() {
  if (is_.session) {
    look_at_what_could_hide();
    note_what_was_not_read();
  }
  result_.from_clock = clock_of(earlier_.last().booked);
  result_.to_clock = clock_of(later_);
  if (!result_.from_clock.empty())
    result_.remarks.push_back(RehearsedClock{result_.from, result_.from_clock});
  if (!result_.to_clock.empty()) result_.remarks.push_back(RehearsedClock{result_.to, result_.to_clock});
  if (!from_record_.closed) result_.remarks.push_back(SurveyOpen{result_.from});
  if (!to_record_.closed) result_.remarks.push_back(SurveyOpen{result_.to});
  if (result_.from_stage != result_.to_stage)
    result_.remarks.push_back(OfTwoStages{result_.from, to_record_.begun.stage});
  const BookedSurvey& earlier = earlier_.last().booked;
  for (const Warning& warning : earlier.checks.warnings)
    result_.remarks.push_back(CheckWarning{Which::from, warning});
  for (const Warning& warning : later_.checks.warnings)
    result_.remarks.push_back(CheckWarning{Which::to, warning});
  note_warmth(mean_temperature_C(earlier), mean_temperature_C(later_));
}

// What the later survey's fit took off the readings; else that rods may have grown.
void Comparison::note_warmth(std::optional<double> then_C, std::optional<double> now_C) {
  if (is_.session && !is_.session->report().warmth.supports.empty()) {
    const Warmth& warmth = is_.session->report().warmth;
    const WarmthToCome by = warmth_to_come(*run_, result_.to_stage);
    if (is_.taught && is_.taught->temperature_C && warmth.mean_C)
      result_.remarks.push_back(WarmthTakenOff{warmth});
    else if (by.by_m > kWarmthMatters * run_->tolerance.level_m)
      result_.remarks.push_back(TemperatureNotRead{by});
    return;
  }
  if (then_C && now_C && std::abs(*now_C - *then_C) > kTemperatureFar_C)
    result_.remarks.push_back(OtherTemperature{*then_C, *now_C});
}

}  // namespace

bool Recheck::leaves_unexplained() const {
  return rest.degrees_of_freedom > 0 && rest.p_value < 1 - kRecheckConfidence;
}

Result<Recheck, Fault> recheck(const book::Book& book, const sheet::RunSheet& run, const std::string& from_id,
                               const std::string& to_id, std::optional<double> days,
                               const sheet::KitSheet* kit) {
  return Comparison(book, run, days, kit).compare(from_id, to_id);
}

}  // namespace hangtrue::job
