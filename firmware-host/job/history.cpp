#include "firmware-host/job/history.hpp"

#include <algorithm>
#include <utility>

#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/quantity.hpp"
#include "firmware-host/say/table.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::job {

namespace {

constexpr double kTaught = 0.9;  // of the sigma as assumed: what got less is not worth a line

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

bool longer_than_a_visit(const std::string& earlier, const std::string& later) {
  const auto from = time_of(earlier), to = time_of(later);
  return from && to && *to - *from > kSameVisit;
}

// What is told so far, and what the next chapter begins from.
class Telling {
 public:
  Telling(const book::Book& book, const sheet::RunSheet& run) : book_(book), run_(run) {}

  // nullptr kit: the book's.
  Result<Done, book::Fault> add(const book::SurveyRecord& record, const sheet::KitSheet* kit) {
    if (kit == nullptr) {
      auto booked = booked_kit(book_, run_, record);
      if (!booked.ok()) return booked.fault();
      if (booked.value())
        story_.kits.push_back(std::move(booked).value());
      else
        story_.kits.push_back(std::make_unique<sheet::KitSheet>());
      kit = story_.kits.back().get();
    }
    auto booked = booked_survey(book_, run_, *kit, record);
    if (!booked.ok()) return booked.fault();
    Chapter chapter;
    chapter.booked = std::move(booked).value();
    chapter.stage = run_.stage(record.begun.stage);
    const auto marks = book_.entries(record.number, {"move made"});
    if (!marks.ok()) return marks.fault();
    chapter.moved = moved_by(chapter.booked.cards, !marks.value().empty());
    std::unique_ptr<CarriedState> taught;
    if (chapter.stage < 0) {
      chapter.trouble =
          "survey " + record.begun.id + ": the run sheet has no stage \"" + record.begun.stage + '"';
    } else {
      began_from_.push_back(beginning(chapter.stage, record.time));
      fit(chapter, *kit);
      if (chapter.trouble.empty()) {
        taught = chapter.session->carry(0);
        left_ = Left{chapter.stage, record.time, !chapter.moved.empty()};
        last_taught_ = std::make_unique<CarriedState>(*taught);
      } else if (!chapter.moved.empty() && left_) {
        left_->moved = true;  // it taught nothing, but the run was moved
      }
    }
    story_.chapters.push_back(std::move(chapter));
    story_.lasting.push_back(std::move(taught));
    return Done{};
  }

  // What a survey of that stage, begun then, starts from; nothing: the sheets alone.
  std::unique_ptr<CarriedState> beginning(int stage, const std::string& time) const {
    if (!last_taught_ || !left_) return nullptr;
    const bool back = stage < left_->stage && supports_at(run_, stage) != supports_at(run_, left_->stage);
    const Forget forget = longer_than_a_visit(left_->time, time) ? Forget::offsets_and_zeros
                          : left_->moved || back                 ? Forget::offsets
                                                                 : Forget::nothing;
    return lasting_for(*last_taught_, forget);
  }

  [[nodiscard]] std::string trouble() const {
    for (auto each = story_.chapters.rbegin(); each != story_.chapters.rend(); ++each)
      if (!each->trouble.empty()) return each->trouble;
    return {};
  }
  Story take() {
    story_.began_from = std::move(began_from_);
    return std::move(story_);
  }

 private:
  void fit(Chapter& chapter, const sheet::KitSheet& kit) {
    const std::string id = "survey " + chapter.booked.record.begun.id;
    chapter.session = std::make_unique<SurveyFit>(run_, &kit, chapter.stage, began_from_.back().get());
    chapter.session->take_checks(chapter.booked.checks);
    for (const book::BookedReading& booked : chapter.booked.readings)
      if (booked.kept) chapter.session->add(booked.reading);
    if (const auto fitted = chapter.session->fit(); !fitted)
      chapter.complaint = say::complaint(run_, fitted.fault());
    if (chapter.complaint) {
      chapter.session.reset();
      chapter.trouble = id + " cannot be fitted: " + chapter.complaint->text();
      return;
    }
    if (chapter.session->report().self_test.outcome == fit::TestOutcome::fails)
      chapter.trouble = id + ": its fit does not hold, so nothing of it is carried on";
  }

  struct Left {
    int stage;
    std::string time;
    bool moved;
  };
  const book::Book& book_;
  const sheet::RunSheet& run_;
  Story story_;
  std::vector<std::unique_ptr<CarriedState>> began_from_;
  std::unique_ptr<CarriedState> last_taught_;
  std::optional<Left> left_;
};

Result<std::vector<book::SurveyRecord>, book::Fault> former(const book::Book& book,
                                                            const book::SurveyRecord& survey) {
  auto all = book.surveys();
  if (!all.ok()) return all.fault();
  std::erase_if(all.value(), [&](const book::SurveyRecord& each) {
    return each.begun.run != survey.begun.run || each.number >= survey.number || each.kept == 0;
  });
  if (all.value().size() > kMostChapters)
    all.value().erase(all.value().begin(), all.value().end() - std::ptrdiff_t(kMostChapters));
  return all;
}

}  // namespace

std::unique_ptr<CarriedState> lasting_for(const CarriedState& from, Forget what) {
  auto result = std::make_unique<CarriedState>(from);
  if (what == Forget::offsets || what == Forget::offsets_and_zeros) result->forget_offsets();
  if (what == Forget::zeros || what == Forget::offsets_and_zeros) result->forget_zeros();
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

Result<BookedSurvey, book::Fault> booked_survey(const book::Book& book, const sheet::RunSheet& run,
                                                const sheet::KitSheet& kit,
                                                const book::SurveyRecord& survey) {
  BookedSurvey result;
  result.record = survey;
  auto readings = book.readings(survey.number);
  if (!readings.ok()) return readings.fault();
  result.readings = std::move(readings).value();
  auto cards = book.cards(survey.number);
  if (!cards.ok()) return cards.fault();
  result.cards = std::move(cards).value();
  const auto checks = book.checks();
  if (!checks.ok()) return checks.fault();
  const auto entries = book.entries(survey.number, {"set-up", "reading", "survey closed", "note"});
  if (!entries.ok()) return entries.fault();
  for (const book::NumberedEntry& each : entries.value()) {
    if (const auto* const set_up = std::get_if<book::SetUp>(&each.entry.content))
      result.set_ups.push_back(*set_up);
    if (const auto* const note = std::get_if<book::Note>(&each.entry.content))
      result.notes.push_back(note->text);
  }
  result.checks = checks_for_survey(kit, checks.value(), survey.number, entries.value());
  return result;
}

Result<Story, book::Fault> tell_story(const book::Book& book, const sheet::RunSheet& run,
                                      const book::SurveyRecord& survey, const sheet::KitSheet* kit) {
  const auto before = former(book, survey);
  if (!before.ok()) return before.fault();
  Telling telling(book, run);
  for (const book::SurveyRecord& each : before.value())
    if (const auto added = telling.add(each, nullptr); !added.ok()) return added.fault();
  if (const auto added = telling.add(survey, kit); !added.ok()) return added.fault();
  return telling.take();
}

Result<Taught, book::Fault> taught_before(const book::Book& book, const sheet::RunSheet& run,
                                          const book::SurveyRecord& survey) {
  const auto before = former(book, survey);
  if (!before.ok()) return before.fault();
  Telling telling(book, run);
  for (const book::SurveyRecord& each : before.value())
    if (const auto added = telling.add(each, nullptr); !added.ok()) return added.fault();
  const int stage = run.stage(survey.begun.stage);
  return Taught{stage < 0 ? nullptr : telling.beginning(stage, survey.time), telling.trouble()};
}

std::string story_view(const sheet::RunSheet& run, const Story& story) {
  constexpr std::size_t kMostColumns = 3;
  std::vector<const Chapter*> told;
  for (const Chapter& chapter : story.chapters)
    if (chapter.session && (chapter.trouble.empty() || &chapter == &story.last())) told.push_back(&chapter);
  if (told.size() < 2 || !story.last().session) return {};
  const auto named = [](const Chapter& chapter, const UnknownId& id) -> const UnknownEstimate* {
    const std::vector<UnknownEstimate>& all = chapter.session->report().parameters;
    const auto found =
        std::find_if(all.begin(), all.end(), [&](const UnknownEstimate& each) { return each.id == id; });
    return found == all.end() ? nullptr : &*found;
  };
  const std::size_t first = told.size() - std::min(told.size(), kMostColumns);
  std::string text =
      "What each survey taught (sigma)\n" + say::column("", 32) + say::right_set("assumed", 12);
  for (std::size_t k = first; k < told.size(); ++k)
    text += say::right_set(told[k]->booked.record.begun.id + ", " + told[k]->booked.record.begun.stage, 18);
  text += '\n';
  for (const UnknownEstimate& last : story.last().session->report().parameters) {
    const UnknownEstimate* earliest = nullptr;
    for (const Chapter* chapter : told)
      if (earliest == nullptr) earliest = named(*chapter, last.id);
    if (earliest == &last || !(last.estimate.sigma < kTaught * earliest->estimate.prior_sigma)) continue;
    const auto shown = [&](double sigma) { return say::sigma({kind_of(last.id), 0, sigma}, run.show); };
    text += say::column(name_of(last.id), 32) + say::right_set(shown(earliest->estimate.prior_sigma), 12);
    for (std::size_t k = first; k < told.size(); ++k) {
      const UnknownEstimate* const then = named(*told[k], last.id);
      text += say::right_set(then == nullptr ? "" : shown(then->estimate.sigma), 18);
    }
    text += '\n';
  }
  return text;
}

}  // namespace hangtrue::job
