#include "firmware-host/daemon/survey_under_way.hpp"

#include <utility>

#include "firmware-host/job/checks.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/checks.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/history.hpp"

namespace hangtrue::daemon {

std::optional<std::vector<book::BookedReading>> SurveyUnderWay::begin(int stage) {
  lasting_ = lasting_from_before();
  session_ = std::make_unique<job::SurveyFit>(sheets_.run, &sheets_.kit, stage, lasting_.get());
  job::SurveyFit sheet_alone(sheets_.run, nullptr, stage);
  predicted_ = sheet_alone.fit() ? job::FitReport{} : sheet_alone.report();
  take_checks();
  takes_.clear();
  auto all = log_.readings();
  if (!all.ok()) {
    announcer_.say(Event::trouble, all.fault().says);
    return std::nullopt;
  }
  // One take is one append; before the next, the samples that led to it were written.
  book::Number last = 0;
  for (const book::BookedReading& booked : all.value()) {
    if (booked.number != last + 1 || takes_.empty()) takes_.emplace_back();
    last = booked.number;
    if (!booked.kept) continue;
    session_->add(booked.reading);
    takes_.back().push_back(booked.number);
  }
  std::erase_if(takes_, [](const auto& take) { return take.empty(); });
  return std::move(all).value();
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
  warnings_ = say::warnings(job::check_warnings(sheets_.kit, all.value(), today), sheets_.run.show);
  session_->take_checks(std::move(checks).value());
}

void SurveyUnderWay::tell_warnings() {
  for (const std::string& warning : warnings_)
    if (warned_.insert(warning).second) announcer_.say(Event::warning, warning);
}

void SurveyUnderWay::add_take(std::vector<sheet::ReadingEntry> readings, std::vector<book::Number> entries) {
  for (sheet::ReadingEntry& reading : readings) session_->add(std::move(reading));
  takes_.push_back(std::move(entries));
}

Answer SurveyUnderWay::undo() {
  if (takes_.empty()) return refused("undo", "nothing has been taken in this survey");
  const std::vector<book::Number> last = takes_.back();
  if (const auto aside = log_.set_aside(last, "undone by hand"); !aside.ok())
    return refused("undo", aside.fault().says);
  takes_.pop_back();
  for (std::size_t k = 0; k < last.size(); ++k) session_->drop_last();
  Answer answer =
      answered(Event::undone, std::to_string(last.size()) + " readings set aside, entries " +
                                  std::to_string(last.front()) + " to " + std::to_string(last.back()));
  answer.other_readings = true;
  return answer;
}

void SurveyUnderWay::fit() {
  card_.reset();
  shims_.reset();
  no_fit_.clear();
  if (const auto fitted = session_->fit(); !fitted)
    no_fit_ = "no fit: " + say::complaint(sheets_.run, fitted.fault()).text();
  else if (auto made = job::make_card(*session_); !made)
    no_fit_ = "no card: " + say::complaint(sheets_.run, made.fault()).text();
  else
    card_ = std::move(made).value();
  if (card_) shims_ = json::stored_card(sheets_.run, session_->report(), *card_);
  if (session_->readings().empty()) return;
  if (!no_fit_.empty()) return announcer_.say(Event::live, no_fit_);
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

std::optional<std::string> SurveyUnderWay::make_card() {
  if (const auto fitted = session_->fit(); !fitted) return say::complaint(sheets_.run, fitted.fault()).text();
  auto made = job::make_card(*session_);
  if (!made) return say::complaint(sheets_.run, made.fault()).text();
  card_ = std::move(made).value();
  shims_ = json::stored_card(sheets_.run, session_->report(), *card_);
  return std::nullopt;
}

}  // namespace hangtrue::daemon
