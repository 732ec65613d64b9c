#include "firmware-host/job/history.hpp"

#include <algorithm>
#include <utility>

#include "firmware-host/job/expected_drift.hpp"
#include "firmware-host/job/other_kit.hpp"

namespace hangtrue::job {

namespace {

// Supports that a survey's cards moved after its readings. `marked`: whether any move was ever marked, made or not.
std::vector<std::string> moved_by(const std::vector<book::BookedCard>& cards, bool marked) {
  std::vector<std::string> moved;
  for (const book::BookedCard& card : cards)
    for (const book::CardMove& move : card.moves)
      if ((marked ? std::count(card.made.begin(), card.made.end(), move.order) > 0
                  : &card == &cards.back()) &&
          std::find(moved.begin(), moved.end(), move.support) == moved.end())
        moved.push_back(move.support);
  return moved;
}

std::uint32_t supports_at(const sheet::RunSheet& run, int stage) {
  return run.beam_stages[std::size_t(stage)].supports;
}

// A time that cannot be read counts as long ago, and so does one before that of the survey before: the clock was set back.
bool longer_than_a_visit(std::optional<book::Time> from, std::optional<book::Time> to) {
  return !from || !to || *to - *from > kSameVisit || *from - *to > kClockSetBack;
}

// As CarriedState forgets: no list of unknowns holds such an index.
void forget_marks(CarriedState& carried) {
  for (int k = 0; k < carried.estimates.count; ++k)
    if (fit::Unknown& each = carried.estimates.unknown[k]; each.kind == fit::UnknownKind::mark_height)
      each.index = -1;
}

// The surveys fitted so far, and what the next one begins from.
class HistoryFit {
 public:
  HistoryFit(const book::Book& book, const sheet::RunSheet& run) : book_(book), run_(run) {}

  // nullptr kit: the book's.
  Result<Done, book::Fault> add(const book::SurveyRecord& record, const sheet::KitSheet* given) {
    auto own = booked_kit(book_, run_, record);
    if (!own.ok()) return own.fault();
    history_.kits.push_back(own.value() ? std::move(own).value() : std::make_unique<sheet::KitSheet>());
    const sheet::KitSheet* const booked_by = history_.kits.back().get();
    const sheet::KitSheet* const kit = given != nullptr ? given : booked_by;
    auto booked = booked_survey(book_, *kit, record);
    if (!booked.ok()) return booked.fault();
    FittedSurvey survey;
    survey.booked = std::move(booked).value();
    if (given != nullptr) read_by(*booked_by, *given, survey.booked);
    survey.stage = run_.stage(record.begun.stage);
    if (history_.surveys.empty()) loaded_ = time_of(record.time);
    const auto marks = book_.entries(record.number, {"move made"});
    if (!marks.ok()) return marks.fault();
    survey.moved = moved_by(survey.booked.cards, !marks.value().empty());
    std::unique_ptr<CarriedState> taught;
    if (survey.stage < 0) {
      survey.not_taught = NotTaught{record.begun.id, StageNotOnSheet{record.begun.stage}};
      began_from_.push_back(nullptr);
    } else {
      began_from_.push_back(beginning(survey.stage, time_of(record.time)));
      fit(survey, *kit);
      if (!survey.not_taught) {
        taught = survey.session->carry(0);
        left_ =
            Left{survey.stage, time_of(record.time), !survey.moved.empty(), survey.session->fitted().state()};
        last_taught_ = std::make_unique<CarriedState>(*taught);
      } else if (!survey.moved.empty() && left_) {
        left_->moved = true;  // it taught nothing, but the run was moved
      }
    }
    history_.surveys.push_back(std::move(survey));
    history_.carried.push_back(std::move(taught));
    return Done{};
  }

  // What a survey of that stage, begun then, starts from; none: from the sheets alone.
  std::unique_ptr<CarriedState> beginning(int stage, std::optional<book::Time> begun) const {
    if (!last_taught_ || !left_) return nullptr;
    const bool back = stage < left_->stage && supports_at(run_, stage) != supports_at(run_, left_->stage);
    const Forget forgotten = longer_than_a_visit(left_->begun, begun) ? Forget::offsets_and_zeros
                             : left_->moved || back                   ? Forget::offsets
                                                                      : Forget::nothing;
    auto begins = without(*last_taught_, forgotten);
    if (loaded_ && begun) begins->drift = drift_since(run_, left_->stage, left_->state, *loaded_, *begun);
    return begins;
  }

  [[nodiscard]] std::optional<NotTaught> last_not_taught() const {
    for (auto each = history_.surveys.rbegin(); each != history_.surveys.rend(); ++each)
      if (each->not_taught) return each->not_taught;
    return std::nullopt;
  }
  History take() {
    history_.began_from = std::move(began_from_);
    return std::move(history_);
  }

 private:
  // Of several marks one that moved since contradicts the others: then none is taken to stand where it stood.
  void fit(FittedSurvey& survey, const sheet::KitSheet& kit) {
    fit_once(survey, kit);
    if (run_.marks.size() < 2 || !began_from_.back() || !survey.session ||
        !sets_a_mark_aside(*survey.session))
      return;
    forget_marks(*began_from_.back());
    survey.not_taught.reset();
    fit_once(survey, kit);
  }
  static bool sets_a_mark_aside(const SurveyFit& session) {
    const std::vector<fit::Judgement<double>>& judgements = session.report().judgements;
    for (std::size_t i = 0; i < judgements.size(); ++i)
      if (session.survey().readings[i].mark >= 0 && judgements[i].verdict == fit::Verdict::beyond_gate)
        return true;
    return false;
  }
  void fit_once(FittedSurvey& survey, const sheet::KitSheet& kit) {
    const std::string& id = survey.booked.record.begun.id;
    survey.session = std::make_unique<SurveyFit>(run_, &kit, survey.stage, began_from_.back().get());
    survey.session->take_checks(survey.booked.checks);
    survey.session->take_answers(survey.booked.found.bearing);
    survey.session->take_start(survey.booked.found.starts_at);
    for (sheet::ReadingEntry& reading : kept_readings(survey.booked)) survey.session->add(std::move(reading));
    if (const auto fitted = survey.session->fit(); !fitted) {
      survey.not_taught = NotTaught{id, fitted.fault()};
      survey.session.reset();
      return;
    }
    if (survey.session->report().self_test.outcome == fit::TestOutcome::fails)
      survey.not_taught = NotTaught{id, FitDoesNotHold{}};
  }

  struct Left {
    int stage;
    std::optional<book::Time> begun;
    bool moved;
    beam::State<double> state;  // as its fit found it
  };
  const book::Book& book_;
  const sheet::RunSheet& run_;
  History history_;
  std::vector<std::unique_ptr<CarriedState>> began_from_;
  std::unique_ptr<CarriedState> last_taught_;
  std::optional<Left> left_;
  std::optional<book::Time> loaded_;  // the history's first survey
};

Result<std::vector<book::SurveyRecord>, book::Fault> former(const book::Book& book,
                                                            const book::SurveyRecord& survey) {
  auto all = book.surveys();
  if (!all.ok()) return all.fault();
  std::erase_if(all.value(), [&](const book::SurveyRecord& each) {
    return each.begun.run != survey.begun.run || each.number >= survey.number || each.kept == 0;
  });
  // The first stays: what creeps counts from it.
  if (all.value().size() > kMostSurveys)
    all.value().erase(all.value().begin() + 1, all.value().end() - std::ptrdiff_t(kMostSurveys - 1));
  return all;
}

}  // namespace

FoundByHand found_by_hand(const std::vector<book::NumberedEntry>& entries) {
  FoundByHand found;
  for (const book::NumberedEntry& each : entries) {
    if (const auto* const tried = std::get_if<book::TriedByHand>(&each.entry.content))
      found.bearing.push_back({tried->support, tried->bears});
    if (const auto* const told = std::get_if<book::StartTold>(&each.entry.content))
      found.starts_at = told->support;
  }
  return found;
}

std::vector<sheet::ReadingEntry> kept_readings(const BookedSurvey& survey) {
  std::vector<sheet::ReadingEntry> entries;
  for (const book::BookedReading& each : survey.readings)
    if (each.kept) entries.push_back(each.reading);
  return entries;
}

void read_by(const sheet::KitSheet& booked, const sheet::KitSheet& given, BookedSurvey& survey) {
  for (book::BookedReading& each : survey.readings) read_by(booked, given, each.reading);
}

std::unique_ptr<CarriedState> without(const CarriedState& from, Forget forgotten) {
  auto result = std::make_unique<CarriedState>(from);
  if (forgotten == Forget::offsets || forgotten == Forget::offsets_and_zeros) result->forget_offsets();
  if (forgotten == Forget::zeros || forgotten == Forget::offsets_and_zeros) result->forget_zeros();
  return result;
}

Result<std::unique_ptr<sheet::KitSheet>, book::Fault> booked_kit(const book::Book& book,
                                                                 const sheet::RunSheet& run,
                                                                 const book::SurveyRecord& survey) {
  const auto entry = book.entry(survey.begun.kit);
  if (!entry.ok()) return entry.fault();
  std::unique_ptr<sheet::KitSheet> kit;
  if (const auto* const text = std::get_if<book::KitText>(&entry.value().content)) {
    sheet::KitSheetOrComplaints read = sheet::parse_kit_sheet(text->text, text->file + " (in the book)", run);
    if (read.sheet) kit = std::make_unique<sheet::KitSheet>(std::move(*read.sheet));
  }
  return kit;
}

Result<BookedSurvey, book::Fault> booked_survey(const book::Book& book, const sheet::KitSheet& kit,
                                                const book::SurveyRecord& survey) {
  BookedSurvey result;
  result.record = survey;
  auto cards = book.cards(survey.number);
  if (!cards.ok()) return cards.fault();
  result.cards = std::move(cards).value();
  const auto checks = book.checks();
  if (!checks.ok()) return checks.fault();
  const auto entries = book.entries(survey.number, {"set-up", "reading", "set aside", "put back", "corrected",
                                                    "survey closed", "note", "tried by hand", "start told"});
  if (!entries.ok()) return entries.fault();
  result.readings = book::booked_readings(entries.value());
  for (const book::NumberedEntry& each : entries.value()) {
    if (const auto* const set_up = std::get_if<book::SetUp>(&each.entry.content))
      result.set_ups.push_back(*set_up);
    if (const auto* const note = std::get_if<book::Note>(&each.entry.content))
      result.notes.push_back(note->text);
  }
  result.naming = book::naming(entries.value());
  result.found = found_by_hand(entries.value());
  result.checks = checks_for_survey(kit, checks.value(), survey.number, entries.value());
  return result;
}

Result<History, book::Fault> fit_history(const book::Book& book, const sheet::RunSheet& run,
                                         const book::SurveyRecord& survey, const sheet::KitSheet* kit) {
  const auto before = former(book, survey);
  if (!before.ok()) return before.fault();
  HistoryFit fit(book, run);
  for (const book::SurveyRecord& each : before.value())
    if (const auto added = fit.add(each, nullptr); !added.ok()) return added.fault();
  if (const auto added = fit.add(survey, kit); !added.ok()) return added.fault();
  return fit.take();
}

Result<CarriedInto, book::Fault> carried_into(const book::Book& book, const sheet::RunSheet& run,
                                              const book::SurveyRecord& survey) {
  const auto before = former(book, survey);
  if (!before.ok()) return before.fault();
  HistoryFit fit(book, run);
  for (const book::SurveyRecord& each : before.value())
    if (const auto added = fit.add(each, nullptr); !added.ok()) return added.fault();
  const int stage = run.stage(survey.begun.stage);
  return CarriedInto{stage < 0 ? nullptr : fit.beginning(stage, time_of(survey.time)), fit.last_not_taught()};
}

}  // namespace hangtrue::job
