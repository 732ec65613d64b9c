#include "firmware-host/job/recheck.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include <nlohmann/json.hpp>

#include "core/adjust/hold_point.hpp"
#include "firmware-host/job/changes_under_set.hpp"
#include "firmware-host/job/recheck_thresholds.hpp"
#include "firmware-host/job/rehearsed_clock.hpp"

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
  Obstacle not_moved(const FittedSurvey& from);
  [[nodiscard]] static Obstacle enough_places(const BookedSurvey& survey);
  Obstacle read_later();
  Obstacle look_under_each_set();
  struct Told {  // under one set
    std::vector<std::string> hang_free;
    std::vector<Cause> causes;
    double score;
  };
  void compare_what_is_told(const std::vector<Told>& told);
  void describe_shape();
  void conclude();
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
  std::unique_ptr<sheet::KitSheet> kit_;
  BookedSurvey later_;
  std::optional<Followed> level_error_;
  Recheck result_;

  std::optional<TwoSurveys> two_;
  std::optional<ChangesUnderSet> is_;  // under the likeliest set
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
      from.session->report().holds_only_just()) {
    earlier_.carried.back() = from.session->carry(0);
    from.not_taught.reset();
    result_.remarks.push_back(HoldsOnlyJust{from_record_.begun.id, from.session->report().self_test.p_value});
  }
  if (from.not_taught) result_.why_not = *from.not_taught;
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
// otherwise, as if they bore as then; the likeliest is kept.
Obstacle Comparison::look_under_each_set() {
  SurveyTimes times{result_.from_time, result_.from_time, result_.to_time};
  if (const auto loaded = time_of(earlier_.surveys.front().booked.record.time)) times.loaded = *loaded;
  two_.emplace(TwoSurveys{*run_, earlier_, later_, kit_.get(), given_kit_, result_.from_stage,
                          result_.to_stage, times, int(result_.marks.size())});
  const std::vector<BearingOption>& sets = earlier_.last().session->report().bearing;
  std::optional<std::uint32_t> free_now;  // searched for once: moves are free meanwhile, whatever bore then
  std::vector<Told> told;
  const std::size_t count = std::clamp<std::size_t>(sets.size(), 1, kMostSupposed);
  for (std::size_t k = 0; k < count; ++k)
    for (const bool as_then : {false, true}) {
      ChangesUnderSet under(*two_);
      auto obstacle = k > 0 ? under.suppose(sets[k]) : std::nullopt;
      if (as_then)
        under.let_hang_free(under.hang_free_then());
      else if (free_now)
        under.let_hang_free(*free_now);
      if (!obstacle) obstacle = under.look();
      if (obstacle && !is_) return obstacle;
      if (obstacle) break;  // the run could not be read so
      if (k < sets.size()) {
        under.weigh_beforehand(std::log(sets[k].probability));
        told.push_back({sets[k].lifted, under.found().causes, under.score()});
      }
      if (!free_now && result_.from_stage == result_.to_stage) free_now = under.hang_free_now();
      const bool stands_as_then = under.bears_as_then();
      if (!is_ || under.likelier_than(*is_)) is_ = std::move(under);
      if (stands_as_then) break;
    }
  if (auto obstacle = is_->fit_what_was_named()) return obstacle;
  result_.drift = is_->drift();
  if (result_.drift.cause == DriftCause::not_worked_out) result_.remarks.push_back(CreepNotWorkedOut{});
  std::erase_if(told, [&](const Told& each) { return each.score < is_->score() + std::log(kAsLikely); });
  compare_what_is_told(told);
  return std::nullopt;
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
    for (Cause& named : is_->causes()) {
      if (names(each.causes, named.change.id)) continue;
      differ = true;
      const auto add = [&](const UnknownId& id) {
        if (!names(is_->causes(), id) &&
            std::find(named.or_else.begin(), named.or_else.end(), id) == named.or_else.end())
          named.or_else.push_back(id);
      };
      for (const Cause& other : each.causes) {
        if (names(is_->causes(), other.change.id)) continue;
        add(other.change.id);
        for (const UnknownId& id : other.or_else) add(id);
      }
    }
  if (differ && !unknown.supports.empty()) result_.remarks.push_back(std::move(unknown));
}

// ---- what is said of them --------------------------------------------------------------------------------------------

void Comparison::describe_shape() {
  const bool same_stage = result_.from_stage == result_.to_stage;
  ShapeChange shape = shape_change(*run_, is_->now(), same_stage ? &is_->then().report().stations : nullptr,
                                   result_.drift, result_.heights_compared);
  result_.stations = std::move(shape.stations);
  result_.level = shape.level;
  result_.common_m = shape.common_m;
  result_.common_sigma_m = shape.common_sigma_m;
  level_error_ = std::move(shape.level_error);
  if (const auto& bearing = is_->now().report().bearing; !bearing.empty())
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

void Comparison::conclude() {
  result_.test = is_->test();
  result_.rest = is_->found().rest;
  result_.seen = is_->seen();
  result_.cannot_be_told_apart = is_->twins();
  result_.causes = is_->found().causes;
  result_.heights_compared = is_->marks_tie();
  std::erase_if(result_.marks, [&](const std::string& mark) {
    return !is_->marks_tie() ||
           std::any_of(result_.causes.begin(), result_.causes.end(), [&](const Cause& each) {
             return each.change.id.of == UnknownOf::mark_height && each.change.id.name == mark;
           });
  });
  result_.answer = answer();
  if (result_.answer == RecheckAnswer::cannot_tell) result_.causes.clear();
}

RecheckAnswer Comparison::answer() {
  const FitReport& report = is_->now().report();
  if (report.holds_only_just())
    result_.remarks.push_back(HoldsOnlyJust{to_record_.begun.id, report.self_test.p_value});
  else if (report.self_test.outcome == fit::TestOutcome::fails || report.status == fit::Status::not_settled) {
    result_.why_not =
        ReadingsContradict{likely_misreadings(*run_, is_->now(), is_->entries(),
                                              [this](const std::vector<sheet::ReadingEntry>& entries,
                                                     int stage) { return is_->again(entries, stage); })};
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
  const std::vector<double> read = places_read(is_->entries());
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
  std::vector<double> at = places_read(is_->entries());
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
      is_->carried(), is_->then().fitted().state(), followed);
}

void Comparison::gather_remarks() {
  if (is_) {
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
  if (is_ && !is_->now().report().warmth.supports.empty()) {
    const Warmth& warmth = is_->now().report().warmth;
    const WarmthToCome by = warmth_to_come(*run_, result_.to_stage);
    if (is_->temperature_then_C() && warmth.mean_C)
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
