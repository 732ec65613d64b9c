#include "firmware-host/job/recheck.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

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

// Each step gives what stands in the way, or nothing.
using Obstacle = std::optional<Fault>;

class Comparison {
 public:
  Comparison(const book::Book& book, const sheet::RunSheet& run, std::optional<double> days)
      : book_(book), given_(run), days_(days) {}

  Result<Recheck, Fault> compare(const std::string& from_id, const std::string& to_id) {
    if (auto obstacle = find(from_id, to_id)) return *std::move(obstacle);
    if (auto obstacle = fit_earlier()) return *std::move(obstacle);
    if (std::holds_alternative<std::monostate>(result_.why_not)) {
      expect_drift();
      if (auto obstacle = fit_later()) return *std::move(obstacle);
      describe_shape();
      test_changes();
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
  Obstacle same_sheet(const sheet::RunSheet& earlier, const sheet::RunSheet& later, const std::string& given);
  [[nodiscard]] Obstacle same_supports() const;
  Obstacle fit_earlier();
  Obstacle not_moved(const FittedSurvey& from);
  [[nodiscard]] static Obstacle enough_places(const BookedSurvey& survey);
  void expect_drift();
  Obstacle fit_later();
  void linearise_at_no_change();
  void describe_shape();
  void test_changes();
  [[nodiscard]] RecheckAnswer answer();
  void follow();
  void gather_remarks();

  const book::Book& book_;
  const sheet::RunSheet& given_;
  std::optional<double> days_;
  std::unique_ptr<sheet::RunSheet> run_;  // of the later survey, by which both are read
  std::vector<book::SurveyRecord> surveys_;
  book::SurveyRecord from_record_, to_record_;
  History earlier_;
  std::unique_ptr<CarriedState> taught_;
  std::unique_ptr<sheet::KitSheet> kit_;
  BookedSurvey later_;
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
  return same_sheet(*run_, given_, given_.file);
}

// What does not matter becomes a remark.
Obstacle Comparison::same_sheet(const sheet::RunSheet& earlier, const sheet::RunSheet& later,
                                const std::string& given) {
  SheetsDiffer differ{from_record_.begun.id, to_record_.begun.id, given, {}};
  for (SheetChange& change : sheet_changes(earlier, later)) {
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

// ---- the two fits ----------------------------------------------------------------------------------------------------

Obstacle Comparison::fit_earlier() {
  auto history = fit_history(book_, *run_, from_record_);
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
  return std::nullopt;
}

Obstacle Comparison::not_moved(const FittedSurvey& from) {
  if (!from.moved.empty()) {
    const bool marked = std::any_of(from.booked.cards.begin(), from.booked.cards.end(),
                                    [](const book::BookedCard& card) { return !card.made.empty(); });
    if (marked) return NotComparable(MovedAfterReadings{from_record_.begun.id, from.moved});
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
  if (result_.drift.cause == DriftCause::not_worked_out) result_.remarks.push_back(CreepNotWorkedOut{});
}

Obstacle Comparison::fit_later() {
  auto kit = booked_kit(book_, *run_, to_record_);
  if (!kit.ok()) return kit.fault();
  kit_ = std::move(kit).value();
  if (!kit_) return NotComparable(KitNotInBook{to_record_.begun.id});
  auto later = booked_survey(book_, *kit_, to_record_);
  if (!later.ok()) return later.fault();
  later_ = std::move(later).value();
  if (auto obstacle = enough_places(later_)) return obstacle;
  for (const sheet::Mark& mark : run_->marks)
    if (reads(earlier_.last().booked, mark) && reads(later_, mark)) result_.marks.push_back(mark.name);
  result_.heights_compared = !result_.marks.empty();

  candidates_ = change_candidates(*run_, result_.to_stage);
  ChangesSince since = changes_since(candidates_, result_.heights_compared);
  const std::vector<sheet::ReadingEntry> entries = kept_readings(later_);
  if (forecast_->any()) {
    for (const survey::Reading<double>& reading :
         sheet::make_survey(entries, kit_.get(), run_->marks).readings)
      since.drift.push_back(forecast_->on(reading));
    since.drift_share_sigma = kCreepSigma;
  }
  session_ = std::make_unique<SurveyFit>(*run_, kit_.get(), result_.to_stage, taught_.get());
  session_->take_checks(later_.checks);
  session_->expect_changes(std::move(since));
  for (const sheet::ReadingEntry& each : entries) session_->add(each);
  if (const auto fitted = session_->fit(); !fitted) return fitted.fault();
  keep_estimated(candidates_, session_->unknowns());
  return std::nullopt;
}

// The changes are tested where there are none: linearised at what the earlier survey left, since along what can hardly be
// told apart (a heavier load, a softer beam) the fit with all of them free goes far. Which readings count, that fit says.
void Comparison::linearise_at_no_change() {
  const std::vector<fit::Judgement<double>>& judged = session_->report().judgements;
  std::vector<std::uint8_t> aside;
  for (const fit::Judgement<double>& each : judged) aside.push_back(each.verdict != fit::Verdict::kept);
  std::vector<fit::Judgement<double>> unused(judged.size());
  session_->fitted().set_options({std::numeric_limits<double>::infinity(), 1});
  (void)session_->fitted().run(session_->survey().readings, aside, unused);
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
  if (shape.level.past_tolerance)
    result_.remarks.push_back(PastTolerance{shape.level.to_m, run_->tolerance.level_m});
}

void Comparison::test_changes() {
  linearise_at_no_change();
  const ChangeTests tests(session_->fitted(), candidates_, result_.heights_compared);
  result_.test = tests.global();
  result_.rest = tests.rest();
  result_.seen = tests.each();
  result_.cannot_be_told_apart = tests.twins();
  result_.causes = tests.causes();
  result_.answer = answer();
  if (result_.answer == RecheckAnswer::cannot_tell) result_.causes.clear();
  if (forecast_->any())
    judge_drift(result_.drift, tests.drift_share(session_->fitted(), session_->unknowns()));
}

RecheckAnswer Comparison::answer() {
  const FitReport& report = session_->report();
  if (report.self_test.outcome == fit::TestOutcome::fails || report.status == fit::Status::not_settled) {
    result_.why_not = ReadingsContradict{};
    return RecheckAnswer::cannot_tell;
  }
  if (result_.test.degrees_of_freedom == 0) {
    result_.why_not = TooLittleRead{};
    return RecheckAnswer::cannot_tell;
  }
  if (result_.test.p_value >= 1 - kRecheckConfidence) return RecheckAnswer::nothing_moved;
  return result_.causes.empty() ? RecheckAnswer::moved_somehow : RecheckAnswer::moved;
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
      {surveys_between(surveys_, from_record_, to_record_), result_.to_stage, result_.from_time},
      *earlier_.carried.back(), followed);
}

void Comparison::gather_remarks() {
  if (result_.from_stage != result_.to_stage)
    result_.remarks.push_back(OfTwoStages{result_.from, to_record_.begun.stage});
  const BookedSurvey& earlier = earlier_.last().booked;
  for (const Warning& warning : earlier.checks.warnings)
    result_.remarks.push_back(CheckWarning{Which::from, warning});
  for (const Warning& warning : later_.checks.warnings)
    result_.remarks.push_back(CheckWarning{Which::to, warning});
  const auto then_C = mean_temperature_C(earlier), now_C = mean_temperature_C(later_);
  if (then_C && now_C && std::abs(*now_C - *then_C) > kTemperatureFar_C)
    result_.remarks.push_back(OtherTemperature{*then_C, *now_C});
}

}  // namespace

bool Recheck::leaves_unexplained() const {
  return rest.degrees_of_freedom > 0 && rest.p_value < 1 - kRecheckConfidence;
}

Result<Recheck, Fault> recheck(const book::Book& book, const sheet::RunSheet& run, const std::string& from_id,
                               const std::string& to_id, std::optional<double> days) {
  return Comparison(book, run, days).compare(from_id, to_id);
}

}  // namespace hangtrue::job
