#include "firmware-host/daemon/survey_under_way.hpp"

#include <algorithm>
#include <utility>

#include "firmware-host/job/checks.hpp"
#include "firmware-host/job/takes.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {

std::optional<std::vector<book::BookedReading>> SurveyUnderWay::begin(int stage) {
  lasting_ = lasting_from_before();
  session_ = std::make_unique<job::SurveyFit>(sheets_.run, &sheets_.kit, stage, lasting_.get());
  job::SurveyFit sheet_alone(sheets_.run, nullptr, stage);
  predicted_ = sheet_alone.fit() ? job::FitReport{} : sheet_alone.report();
  plan(stage);
  take_checks();
  take_found_by_hand();
  auto all = log_.readings();
  if (!all.ok()) {
    announcer_.say(Event::trouble, all.fault().says);
    return std::nullopt;
  }
  for (const book::BookedReading& booked : all.value())
    if (booked.kept) session_->add(booked.reading);
  return std::move(all).value();
}

/// Where to read at that stage, to a sixth of the tolerance. A sheet without a tolerance, or a kit that reads nothing, has no plan.
void SurveyUnderWay::plan(int stage) {
  if (planned_stage_ == stage) return;
  planned_stage_ = stage;
  plan_.reset();
  if (!(sheets_.run.tolerance.level_m > 0)) return;
  auto made = job::make_plan(sheets_.run, sheets_.kit,
                             {job::PlanFor::levelling, stage,
                              job::kLevellingShare * sheets_.run.tolerance.level_m, job::kLeastRedundancy});
  if (made.ok()) plan_ = std::move(made).value();
}

std::optional<job::WalkProgress> SurveyUnderWay::walk() const {
  if (!plan_) return std::nullopt;
  return job::walk_progress(*plan_, session_->readings());
}

/// What earlier surveys of this run taught (job/history.hpp).
std::unique_ptr<job::CarriedState> SurveyUnderWay::lasting_from_before() const {
  auto taught = log_.taught(sheets_);
  if (!taught.ok()) {
    announcer_.say(Event::trouble, "nothing is carried on from earlier surveys: " + taught.fault().says);
    return nullptr;
  }
  if (taught.value().not_taken)
    announcer_.say(Event::warning, say::not_taught(sheets_.run, *taught.value().not_taken));
  return std::move(taught.value().state);
}

void SurveyUnderWay::take_checks() {
  const auto all = log_.checks();
  auto checks = log_.checks_of_survey(sheets_);
  if (!all.ok() || !checks.ok())
    return announcer_.say(Event::trouble, "no check of an instrument counts: " +
                                              (all.ok() ? checks.fault() : all.fault()).says);
  job::Occasion today;
  today.date = book::rfc3339(log_.now()).substr(0, 10);
  for (std::size_t i = 0; i < instruments_.size(); ++i)
    today.instruments.push_back({instruments_.kit(i).name, instruments_.line(i).temperature_C(now_us())});
  const std::vector<job::Warning> found = job::check_warnings(sheets_.kit, all.value(), today);
  warnings_ = say::warnings(found, sheets_.run.show);
  shown_warnings_ = say::warnings(found, sheets_.shown.show);
  session_->take_checks(std::move(checks).value());
}

void SurveyUnderWay::take_found_by_hand() {
  auto found = log_.found_by_hand();
  if (!found.ok())
    return announcer_.say(Event::trouble, "nothing that was found by hand counts: " + found.fault().says);
  session_->take_answers(std::move(found.value().bearing));
  session_->take_start(std::move(found.value().starts_at));
}

const sheet::SupportEntry* SurveyUnderWay::support_named(const std::string& name) const {
  const auto& all = sheets_.run.supports;
  const auto found = std::find_if(all.begin(), all.end(), [&](const sheet::SupportEntry& each) {
    return lower(each.name) == lower(name);
  });
  return found == all.end() ? nullptr : &*found;
}

Answer SurveyUnderWay::told(const char* command, const book::Content& content, const Told& what) {
  if (const auto kept = log_.append({content}); !kept.ok())
    return refused(command, sheets_.told(kept.fault()));
  take_found_by_hand();
  Answer answer = answered(Event::told, what);
  answer.other_readings = true;
  return answer;
}

Answer SurveyUnderWay::say_what_bears(const SayWhatBears& found) {
  const char* const command = found.bears ? "bears" : "hangs free";
  const sheet::SupportEntry* const support = support_named(found.support);
  if (support == nullptr) return refused(command, no_support(found.support));
  const auto index = std::size_t(support - sheets_.run.supports.data());
  if (((sheets_.run.beam_stages[std::size_t(stage())].supports >> index) & 1u) == 0)
    return refused(command,
                   sheets_.told("{} does not hold the run at stage {}", support->name, log_.stage()));
  if (!sheets_.run.beam_supports[index].one_way())
    return refused(command,
                   sheets_.told("{} holds both ways and cannot hang free; only one that pushes or pulls "
                                "alone is asked about",
                                support->name));
  return told(
      command, book::TriedByHand{support->name, found.bears},
      found.bears ? sheets_.told("{} bears", support->name) : sheets_.told("{} hangs free", support->name));
}

Told SurveyUnderWay::no_support(const std::string& name) const {
  return sheets_.both([&](const sheet::RunSheet& run) {
    return say::text(run.show, "\"{}\" is no support of the run sheet; these are: {}", name,
                     say::supports_of(run));
  });
}

Answer SurveyUnderWay::say_start(const SayStart& where) {
  const sheet::SupportEntry* const support = support_named(where.support);
  if (support == nullptr) return refused("start at", no_support(where.support));
  return told("start at", book::StartTold{support->name},
              sheets_.told("the places begin at {}", support->name));
}

Answer SurveyUnderWay::name(const NameSurvey& told) {
  using What = NameSurvey::What;
  const std::string words = told.what == What::called    ? "called"
                            : told.what == What::read_by ? "read by"
                                                         : "checked by";
  book::Note note{words + ' ' + told.name};
  (told.what == What::called    ? note.naming.called
   : told.what == What::read_by ? note.naming.read_by
                                : note.naming.checked_by) = told.name;
  if (const auto kept = log_.append({note}); !kept.ok()) return refused(words, sheets_.told(kept.fault()));
  Answer answer = answered(Event::told, sheets_.both([&](const sheet::RunSheet& run) {
    return say::text(run.show, "survey {}: {} {}", log_.id(), say::said(run.show, words), told.name);
  }));
  answer.changes = false;
  return answer;
}

void SurveyUnderWay::tell_warnings() {
  for (const std::string& warning : warnings_)
    if (warned_.insert(warning).second) announcer_.say(Event::warning, warning);
}

void SurveyUnderWay::add_take(std::vector<sheet::ReadingEntry> readings) {
  for (sheet::ReadingEntry& reading : readings) session_->add(std::move(reading));
}

Answer SurveyUnderWay::undo() {
  const auto all = log_.readings();
  if (!all.ok()) return refused("undo", sheets_.told(all.fault()));
  const std::vector<book::BookedReading>& booked = all.value();
  std::vector<book::Number> last;
  for (const std::vector<std::size_t>& take : job::takes_of(booked)) {
    if (std::none_of(take.begin(), take.end(), [&](std::size_t i) { return booked[i].kept; })) continue;
    last.clear();
    for (const std::size_t i : take)
      if (booked[i].kept) last.push_back(booked[i].number);
  }
  if (last.empty()) return refused("undo", sheets_.told("nothing has been taken in this survey"));
  if (const auto aside = log_.set_aside(last, "undone by hand"); !aside.ok())
    return refused("undo", sheets_.told(aside.fault()));
  for (std::size_t k = 0; k < last.size(); ++k) session_->drop_last();
  Answer answer = answered(Event::undone, sheets_.told("{} readings set aside, entries {} to {}", last.size(),
                                                       last.front(), last.back()));
  answer.other_readings = true;
  return answer;
}

void SurveyUnderWay::fit() {
  card_.reset();
  shims_.reset();
  shown_shims_.reset();
  no_fit_ = {};
  if (const auto fitted = session_->fit(); !fitted)
    no_fit_ = sheets_.told("no fit: ") + sheets_.told(fitted.fault());
  else if (auto made = job::make_card(*session_); !made)
    no_fit_ = sheets_.told("no card: ") + sheets_.told(made.fault());
  else
    card_ = std::move(made).value();
  if (card_) store_card();
  if (session_->readings().empty()) return;
  if (!no_fit_.empty()) return announcer_.say(Event::live, no_fit_.text);
  const job::Card& card = *card_;
  const fit::SelfTest<double>& test = session_->report().self_test;
  announcer_.say(Event::live,
                 std::to_string(test.degrees_of_freedom) + " readings kept, " +
                     std::to_string(test.beyond_gate) + " set aside; finished level error as things are " +
                     sheet::show_fine(card.before.level_error_m, sheets_.run.show) + " +- " +
                     sheet::show_fine(card.before.drawn_sigma_m, sheets_.run.show),
                 {{"readings_kept", test.degrees_of_freedom},
                  {"set_aside", test.beyond_gate},
                  {"level_error_m", card.before.level_error_m},
                  {"level_error_sigma_m", card.before.drawn_sigma_m}});
}

void SurveyUnderWay::store_card() {
  shims_ = json::stored_card(sheets_.run, session_->report(), *card_);
  shown_shims_ = json::stored_card(sheets_.shown, session_->report(), *card_);
}

std::optional<Told> SurveyUnderWay::make_card() {
  if (const auto fitted = session_->fit(); !fitted) return sheets_.told(fitted.fault());
  auto made = job::make_card(*session_);
  if (!made) return sheets_.told(made.fault());
  card_ = std::move(made).value();
  store_card();
  return std::nullopt;
}

}  // namespace hangtrue::daemon
