#include "firmware-host/job/recheck.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include <nlohmann/json.hpp>

#include "core/adjust/hold_point.hpp"
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
      expect_drift();
      if (auto obstacle = fit_later()) return *std::move(obstacle);
      if (auto obstacle = test_changes()) return *std::move(obstacle);
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
  Obstacle take_off_what_crept();
  Obstacle not_moved(const FittedSurvey& from);
  [[nodiscard]] static Obstacle enough_places(const BookedSurvey& survey);
  void expect_drift();
  Obstacle fit_later();
  Obstacle fit_with(const std::vector<int>& named);
  [[nodiscard]] std::unique_ptr<SurveyFit> session_for(const std::vector<sheet::ReadingEntry>& entries,
                                                       int stage, const std::vector<int>& named) const;
  [[nodiscard]] std::vector<sheet::BearingRemark> bearing_then() const;
  void describe_shape();
  Obstacle test_changes();
  [[nodiscard]] RecheckAnswer answer();
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
  std::unique_ptr<CarriedState> taught_;
  std::shared_ptr<const DriftForecast> crept_;  // by the earlier survey; nullptr: nothing
  double crept_share_ = 1;
  std::optional<SheetWithMore> sheet_;  // of the later survey's fit
  std::unique_ptr<sheet::KitSheet> kit_;
  BookedSurvey later_;
  std::vector<sheet::ReadingEntry> entries_;  // of the later survey, less what had crept by the earlier
  std::vector<double> drift_;                 // expected since, by entry; empty: none
  std::unique_ptr<SurveyFit> session_;
  std::vector<ChangeCandidate> candidates_;
  std::unique_ptr<DriftForecast> forecast_;
  std::optional<Followed> level_error_;
  Recheck result_;
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
  const FittedSurvey& from = earlier_.last();
  if (const Fault* const fault = from.fault()) return *fault;
  if (auto obstacle = not_moved(from)) return obstacle;
  if (auto obstacle = enough_places(from.booked)) return obstacle;
  if (from.not_taught)
    result_.why_not = *from.not_taught;
  else
    taught_ = without(*earlier_.carried.back(), Forget::zeros);
  if (taught_ && earlier_.began_from.back() && earlier_.began_from.back()->drift)
    return take_off_what_crept();
  return std::nullopt;
}

// The earlier survey once more, with the share of creep that it found as known: what it taught then stands for the run as it was
// on that day, together with that creep.
Obstacle Comparison::take_off_what_crept() {
  const FittedSurvey& from = earlier_.last();
  crept_ = earlier_.began_from.back()->drift;
  crept_share_ = from.session->drift_share()->value;
  SurveyFit again(*run_, given_kit_ != nullptr ? given_kit_ : earlier_.kits.back().get(), from.stage,
                  earlier_.began_from.back().get());
  again.take_checks(from.booked.checks);
  again.take_answers(from.booked.found.bearing);
  again.take_start(from.booked.found.starts_at);
  again.take_drift_share(crept_share_);
  for (sheet::ReadingEntry& reading : kept_readings(from.booked)) again.add(std::move(reading));
  if (const auto fitted = again.fit(); !fitted) return fitted.fault();
  taught_ = without(*again.carry(0), Forget::zeros);
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
  forecast_ = std::make_unique<DriftForecast>(*run_, result_.to_stage,
                                              earlier_.last().session->fitted().state(), times);
  result_.drift = forecast_->expected();
  for (const double at : run_->stations_m)
    result_.drift.before_m.push_back(crept_ ? crept_share_ * crept_->height_m(at, 0) : 0);
  if (result_.drift.cause == DriftCause::not_worked_out) result_.remarks.push_back(CreepNotWorkedOut{});
}

Obstacle Comparison::fit_later() {
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

  SurveyFit& then = *earlier_.last().session;
  const beam::State<double> state = then.fitted().state();
  if (!then.solver().solve(state))
    return Fault(beam::StageFault{beam::StageFaultCode::does_not_settle, then.stage()});
  sheet_ =
      with_more_loads(*run_, result_.to_stage, then.solver(), state.bending_factor, then.unknowns().count);
  candidates_ = change_candidates(*sheet_, result_.to_stage);
  if (!result_.heights_compared)
    std::erase_if(candidates_,
                  [](const ChangeCandidate& each) { return each.id.of == UnknownOf::mark_height; });
  std::vector<double> drift;
  std::vector<sheet::ReadingEntry> entries = kept_readings(later_);
  if (crept_) {
    const sheet::Survey survey = sheet::make_survey(entries, kit_.get(), run_->marks);
    for (std::size_t i = 0; i < entries.size(); ++i)
      entries[i].value -= crept_share_ * crept_->on(survey.readings[i]);
  }
  if (forecast_->any()) {
    for (const survey::Reading<double>& reading :
         sheet::make_survey(entries, kit_.get(), run_->marks).readings)
      drift.push_back(forecast_->on(reading));
  }
  entries_ = std::move(entries);
  drift_ = std::move(drift);
  return fit_with({});
}

// The later survey with what may have changed free that does not multiply anything else: moves, bows and marks, so that its shape is
// its own; and with what was named.
Obstacle Comparison::fit_with(const std::vector<int>& named) {
  session_ = session_for(entries_, result_.to_stage, named);
  if (const auto fitted = session_->fit(); !fitted) return fitted.fault();
  return std::nullopt;
}

std::unique_ptr<SurveyFit> Comparison::session_for(const std::vector<sheet::ReadingEntry>& entries, int stage,
                                                   const std::vector<int>& named) const {
  std::vector<ChangeCandidate> free;
  for (int j = 0; j < int(candidates_.size()); ++j) {
    const ChangeCandidate& each = candidates_[std::size_t(j)];
    const bool linear = is_move(each.id.of) || each.id.of == UnknownOf::bow;
    if (linear || std::find(named.begin(), named.end(), j) != named.end()) free.push_back(each);
  }
  ChangesSince since = changes_since(*sheet_, free, result_.heights_compared);
  since.drift = drift_;
  since.drift_share_sigma = kCreepSigma;
  auto session = std::make_unique<SurveyFit>(sheet_->run, kit_.get(), stage, taught_.get());
  session->take_checks(later_.checks);
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
  std::vector<sheet::BearingRemark> remarks;
  if (result_.from_stage != result_.to_stage) return remarks;
  const std::uint32_t lifted = earlier_.last().session->fitted().state().lifted[result_.from_stage];
  for (std::size_t i = 0; i < run_->supports.size(); ++i)
    if (run_->beam_supports[i].one_way() &&
        run_->beam_stages[std::size_t(result_.from_stage)].lists_support(int(i)))
      remarks.push_back({run_->supports[i].name, ((lifted >> i) & 1u) == 0});
  return remarks;
}

// ---- what is said of them --------------------------------------------------------------------------------------------

void Comparison::describe_shape() {
  const bool same_stage = result_.from_stage == result_.to_stage;
  ShapeChange shape =
      shape_change(*run_, *session_, same_stage ? &earlier_.last().session->report().stations : nullptr,
                   result_.drift, result_.heights_compared);
  result_.stations = std::move(shape.stations);
  result_.level = shape.level;
  result_.common_m = shape.common_m;
  result_.common_sigma_m = shape.common_sigma_m;
  level_error_ = std::move(shape.level_error);
  if (const auto& bearing = session_->report().bearing; !bearing.empty())
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
  std::vector<int> named;
  {
    LaterFits fits(*session_, candidates_);
    const ChangeTests tests(fits.at_no_change(), candidates_);
    result_.test = result_.rest = tests.global();
    result_.seen = tests.each();
    result_.cannot_be_told_apart = tests.twins();
    if (result_.test.p_value < 1 - kRecheckConfidence) {
      Causes found = find_causes(fits, *sheet_, tests, result_.heights_compared);
      result_.rest = found.rest;
      result_.causes = std::move(found.causes);
      named = std::move(found.set);
    }
    if (forecast_->any()) judge_drift(result_.drift, fits.drift_share(named));
  }
  if (!named.empty())
    if (auto obstacle = fit_with(named)) return obstacle;
  result_.answer = answer();
  if (result_.answer == RecheckAnswer::cannot_tell) result_.causes.clear();
  return std::nullopt;
}

RecheckAnswer Comparison::answer() {
  const FitReport& report = session_->report();
  if (report.self_test.outcome == fit::TestOutcome::fails || report.status == fit::Status::not_settled) {
    result_.why_not = ReadingsContradict{likely_misreadings(
        *run_, *session_, entries_, [this](const std::vector<sheet::ReadingEntry>& entries, int stage) {
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
  const std::vector<double> read = places_read(entries_);
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
  std::vector<double> at = places_read(entries_);
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
      *earlier_.carried.back(), earlier_.last().session->fitted().state(), followed);
}

void Comparison::gather_remarks() {
  if (session_) {
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
  if (session_ && !session_->report().warmth.supports.empty()) {
    const Warmth& warmth = session_->report().warmth;
    const WarmthToCome by = warmth_to_come(*run_, result_.to_stage);
    if (taught_ && taught_->temperature_C && warmth.mean_C)
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
