#include "firmware-host/daemon/survey_log.hpp"

#include <algorithm>
#include <utility>

namespace hangtrue::daemon {
namespace {

/// The next number that no survey has for its id.
Result<std::string, book::Fault> free_id(const book::Book& book) {
  const auto count = book.survey_count();
  if (!count.ok()) return count.fault();
  for (std::int64_t number = count.value() + 1;; ++number) {
    std::string id = std::to_string(number);
    const auto taken = book.survey(id);
    if (!taken.ok()) return taken.fault();
    if (!taken.value()) return id;
  }
}

}  // namespace

SurveyLog::SurveyLog(book::Book book, std::string path, OnTrouble on_trouble, std::chrono::seconds ahead)
    : book_(std::move(book)), path_(std::move(path)), on_trouble_(std::move(on_trouble)), ahead_(ahead) {}

Result<Done, book::Fault> SurveyLog::begin(const Sheets& sheets, const std::string& stage,
                                           const std::string& id) {
  const book::RunText run{sheets.run.file, sheets.run_text};
  const book::KitText kit{sheets.kit.file, sheets.kit_text};
  const auto run_number = book_.find(run);
  if (!run_number.ok()) return run_number.fault();
  const auto kit_number = book_.find(kit);
  if (!kit_number.ok()) return kit_number.fault();

  std::optional<book::SurveyRecord> former;  // the one asked for, or the last
  if (id.empty()) {
    auto last = book_.surveys(1);
    if (!last.ok()) return last.fault();
    if (!last.value().empty()) former = std::move(last.value().front());
  } else {
    auto named = book_.survey(id);
    if (!named.ok()) return named.fault();
    former = std::move(named).value();
  }
  if (former) {
    const bool same =
        !former->closed && former->begun.run == run_number.value() && former->begun.stage == stage;
    if (!id.empty() && !same)
      return book::Fault{
          book::Trouble::not_an_entry,
          "survey \"" + id + "\" is in " + path_ + " already, " +
              (former->closed ? "and closed"
                              : "of another run sheet or of stage \"" + former->begun.stage + "\"") +
              "; name the new one otherwise"};
    if (same) {
      survey_ = former->number;
      begun_ = former->begun;
      continued_ = true;
      return Done{};
    }
  }

  begun_ = {id, stage, run_number.value().value_or(0), kit_number.value().value_or(0)};
  if (id.empty()) {
    auto free = free_id(book_);
    if (!free.ok()) return free.fault();
    begun_.id = std::move(free).value();
  }
  if (begun_.run == 0) {
    const auto appended = write({{run, std::nullopt, now()}});
    if (!appended.ok()) return appended.fault();
    begun_.run = appended.value();
  }
  if (begun_.kit == 0) {
    const auto appended = write({{kit, std::nullopt, now()}});
    if (!appended.ok()) return appended.fault();
    begun_.kit = appended.value();
  }
  const auto appended = write({{begun_, std::nullopt, now()}});
  if (!appended.ok()) return appended.fault();
  survey_ = appended.value();
  return Done{};
}

Result<Done, book::Fault> SurveyLog::begin_next(const std::string& stage) {
  auto id = free_id(book_);
  if (!id.ok()) return id.fault();
  const book::SurveyBegun next{std::move(id).value(), stage, begun_.run, begun_.kit};
  const auto first = write({{book::SurveyClosed{}, survey_, now()}, {next, std::nullopt, now()}});
  if (!first.ok()) return first.fault();
  survey_ = first.value() + 1;
  begun_ = next;
  continued_ = false;
  return Done{};
}

Result<book::Number, book::Fault> SurveyLog::append(const std::vector<book::Content>& contents) {
  std::vector<book::Entry> entries;
  for (const book::Content& content : contents) entries.push_back({content, survey_, now()});
  return write(entries);
}

Result<book::Number, book::Fault> SurveyLog::set_aside(const std::vector<book::Number>& readings,
                                                       const std::string& reason) {
  std::vector<book::Content> contents;
  for (const book::Number reading : readings) contents.push_back(book::SetAside{reading, reason});
  return append(contents);
}

Result<book::Number, book::Fault> SurveyLog::write(const std::vector<book::Entry>& entries) {
  auto number = book_.append(entries);
  note(number.ok() ? nullptr : &number.fault());
  // A copy of the file alone, made by who knows of no log, then has all that was acknowledged; raw samples come too often for that.
  if (number.ok() && std::any_of(entries.begin(), entries.end(), [](const book::Entry& entry) {
        return !std::holds_alternative<book::Samples>(entry.content);
      }))
    book_.fold();
  return number;
}

void SurveyLog::look_after_book() {
  if (const auto place = book_.check_place(); !place.ok()) note(&place.fault());
}

Result<book::SealRecord, book::Fault> SurveyLog::seal() {
  auto sealed = book_.seal(now());
  note(sealed.ok() ? nullptr : &sealed.fault());
  return sealed;
}

void SurveyLog::note(const book::Fault* fault) {
  if (fault != nullptr && fault->trouble == book::Trouble::not_an_entry) return;  // the book is well
  if (fault != nullptr && trouble_ != fault->trouble) on_trouble_(true, fault->says);
  if (fault == nullptr && trouble_) on_trouble_(false, path_ + " can be written again");
  trouble_ = fault != nullptr ? std::optional(fault->trouble) : std::nullopt;
}

Result<job::CarriedInto, book::Fault> SurveyLog::taught(const Sheets& sheets) const {
  const auto record = book_.survey(id());
  if (!record.ok()) return record.fault();
  if (!record.value()) return job::CarriedInto{};
  return job::carried_into(book_, sheets.run, *record.value());
}

Result<std::optional<SurveyLog::Kept>, book::Fault> SurveyLog::survey(const std::string& id,
                                                                      const Sheets& sheets) const {
  auto record = book_.survey(id);
  if (!record.ok()) return record.fault();
  if (!record.value()) return std::optional<Kept>();
  auto readings = book_.readings(record.value()->number);
  if (!readings.ok()) return readings.fault();
  Kept kept{*std::move(record).value(), std::move(readings).value(), {}};
  if (kept.record.begun.run == begun_.run && sheets.run.stage(kept.record.begun.stage) >= 0) {
    auto history = job::fit_history(book_, sheets.run, kept.record);
    if (!history.ok()) return history.fault();
    kept.history = std::move(history).value();
  }
  return std::optional(std::move(kept));
}

Result<std::vector<book::BookedReading>, book::Fault> SurveyLog::readings() const {
  return book_.readings(survey_);
}

Result<std::optional<book::BookedCard>, book::Fault> SurveyLog::card_of(book::Number survey) const {
  auto cards = book_.cards(survey);
  if (!cards.ok()) return cards.fault();
  std::vector<book::BookedCard>& all = cards.value();
  if (all.empty()) return std::optional<book::BookedCard>();
  const auto marked =
      std::find_if(all.rbegin(), all.rend(), [](const book::BookedCard& card) { return !card.made.empty(); });
  return std::optional(std::move(marked == all.rend() ? all.back() : *marked));
}

Result<std::optional<SurveyLog::Promise>, book::Fault> SurveyLog::promise() const {
  std::optional<book::SurveyRecord> before;
  bool all = false;
  for (int most = 8; !before && !all; most *= 8) {  // hardly ever is it farther back than a few
    auto surveys = book_.surveys(most, begun_.run);
    if (!surveys.ok()) return surveys.fault();
    all = surveys.value().size() < std::size_t(most);
    for (book::SurveyRecord& survey : surveys.value())
      if (survey.number < survey_ && (survey.kept > 0 || survey.moves > 0)) before = std::move(survey);
  }
  if (!before || before->begun.stage != begun_.stage) return std::optional<Promise>();
  auto card = card_of(before->number);
  if (!card.ok()) return card.fault();
  if (!card.value() || card.value()->made.empty()) return std::optional<Promise>();
  return std::optional(Promise{before->begun.id, *std::move(card).value()});
}

Result<std::optional<book::SurveyRecord>, book::Fault> SurveyLog::earlier(const std::string& id) const {
  if (!id.empty()) return book_.survey(id);
  std::optional<book::SurveyRecord> found;
  bool all = false;
  for (int most = 8; !found && !all; most *= 8) {
    auto surveys = book_.surveys(most);
    if (!surveys.ok()) return surveys.fault();
    all = surveys.value().size() < std::size_t(most);
    for (book::SurveyRecord& survey : surveys.value())
      if (survey.number < survey_ && survey.kept > 0 && survey.begun.stage == begun_.stage)
        found = std::move(survey);
  }
  return found;
}

Result<job::Checks, book::Fault> SurveyLog::checks_of(book::Number survey, const Sheets& sheets) const {
  const auto all = book_.checks();
  if (!all.ok()) return all.fault();
  const auto entries = book_.entries(survey, {"set-up", "reading", "survey closed"});
  if (!entries.ok()) return entries.fault();
  return job::checks_for_survey(sheets.kit, all.value(), survey, entries.value());
}

Result<std::vector<std::string>, book::Fault> SurveyLog::notes() const {
  const auto surveys = book_.surveys();
  if (!surveys.ok()) return surveys.fault();
  std::vector<std::string> texts;
  for (const book::SurveyRecord& survey : surveys.value()) {
    const auto entries = book_.entries(survey.number, {"note"});
    if (!entries.ok()) return entries.fault();
    for (const book::NumberedEntry& entry : entries.value())
      if (const auto* const note = std::get_if<book::Note>(&entry.entry.content)) texts.push_back(note->text);
  }
  return texts;
}

Result<job::FoundByHand, book::Fault> SurveyLog::found_by_hand() const {
  const auto entries = book_.entries(survey_, {"tried by hand", "start told"});
  if (!entries.ok()) return entries.fault();
  return job::found_by_hand(entries.value());
}

Result<book::Naming, book::Fault> SurveyLog::naming() const {
  const auto entries = book_.entries(survey_, {"note"});
  if (!entries.ok()) return entries.fault();
  return book::naming(entries.value());
}

Result<book::SetUp, book::Fault> SurveyLog::last_set_up() const {
  const auto entries = book_.entries(survey_, {"set-up"});
  if (!entries.ok()) return entries.fault();
  book::SetUp last;
  for (const book::NumberedEntry& entry : entries.value())
    if (const auto* set_up = std::get_if<book::SetUp>(&entry.entry.content)) last = *set_up;
  return last;
}

}  // namespace hangtrue::daemon
