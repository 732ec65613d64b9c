#include "firmware-host/daemon/moves_on_job.hpp"

#include <algorithm>

#include "firmware-host/json/fit.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {
namespace {

/// Why moves of this card are not to be made, or nothing.
std::optional<Told> objection(const Sheets& sheets, const job::StoredCard& card) {
  if (!card.fit_holds)
    return sheets.both([](const sheet::RunSheet& run) {
      return say::unusable_card("it does not say whether its fit holds", run.show);
    });
  if (!*card.fit_holds)
    return sheets.told("the readings do not hold together: no move is to be made by this card");
  if (!card.moves_may_be_made()) return sheets.told("this card says read again first");
  return std::nullopt;
}

bool is_later(const job::StoredMove& move) { return move.when_stage.has_value(); }

bool is_among(const std::vector<int>& made, int order) {
  return std::find(made.begin(), made.end(), order) != made.end();
}

}  // namespace

void MovesOnJob::from_book() {
  on_job_.reset();
  promised_.reset();
  const auto on_job = log_.card_on_job();
  if (on_job.ok() && on_job.value() && !on_job.value()->made.empty())
    on_job_ =
        OnJob{on_job.value()->number, json::read_card(on_job.value()->card.json), on_job.value()->made, true};
  const auto promise = log_.promise();
  if (!promise.ok() || !promise.value()) return;
  const book::BookedCard& card = promise.value()->card;
  const auto stored = json::read_card(card.card.json);
  if (!stored.ok())
    return announcer_.say(Event::trouble, "entry " + std::to_string(card.number) + ", the card of survey " +
                                              promise.value()->survey +
                                              ", is not compared with what is found now. " +
                                              say::unusable_card(stored.fault().says));
  // Those for a later stage are still to come.
  for (const job::StoredMove& move : stored.value().moves)
    if (!is_later(move) && !is_among(card.made, move.order)) return;
  promised_ = {promise.value()->survey, stored.value()};
}

std::optional<Answer> MovesOnJob::stand_against(const char* command) const {
  if (!are_being_made()) return std::nullopt;
  return refused(
      command,
      on_job_->made.empty()
          ? sheets_.told(
                "moves of the card are being made, and it must not change meanwhile; give up ends that")
          : sheets_.told(
                "moves of the card were made, so what was read before is of another shape; read again "
                "begins a new survey, not made takes a tick back"));
}

Answer MovesOnJob::put_card(SurveyUnderWay& survey) {
  if (const auto no = stand_against("card")) return *no;
  if (survey.readings() == 0)
    return refused("card", sheets_.told("nothing has been read in this survey; take readings first"));
  if (const auto without = survey.make_card()) return refused("card", *without);
  const nlohmann::ordered_json shims = json::shims_json(*survey.shims());
  announcer_.say_lines(say::card_view(sheets_.run, survey.report(), survey.card()));
  // A card that the book cannot keep is shown all the same; on_trouble has said why. No move of it can be ticked then.
  const auto kept = log_.append({book::Card{shims.dump()}});
  if (kept.ok()) on_job_ = OnJob{kept.value(), *survey.shims(), {}, false, survey.shown_shims()};
  Answer answer = answered(
      Event::result, {},
      {{"stage", log_.stage()}, {"fit", json::fit_json(sheets_.run, survey.report())}, {"shims", shims}});
  answer.words = (kept.ok() ? sheets_.told("the card is in the book")
                            : sheets_.told("the card is not in the book, which cannot be written"))
                     .words;
  return answer;
}

Answer MovesOnJob::begin(SurveyUnderWay& survey) {
  constexpr const char* command = "begin moves";
  if (const auto no = stand_against(command)) return *no;
  if (!survey.shims() || survey.readings() == 0)
    return refused(command, survey.no_fit().empty() ? sheets_.told("nothing has been read in this survey")
                                                    : survey.no_fit());
  const job::StoredCard& card = *survey.shims();
  if (const auto why_not = objection(sheets_, card)) return refused(command, *why_not);
  if (std::all_of(card.moves.begin(), card.moves.end(), is_later))
    return refused(command, sheets_.told("the card has no move for this stage"));
  on_job_.reset();  // of readings that may be others by now
  Answer answer = put_card(survey);
  if (!answer.done) return answer;
  if (!on_job_) {
    announcer_.say(answer);
    return refused(command, sheets_.told("the card is not in the book, which cannot be written"));
  }
  on_job_->begun = true;
  return answer;
}

Answer MovesOnJob::mark(const MarkMove& move) {
  const char* const command = move.made ? "made" : "not made";
  if (!on_job_) return refused(command, sheets_.told("no card is on the job; card puts one there"));
  if (!on_job_->card)
    return refused(command, sheets_.both([&](const sheet::RunSheet& run) {
      return say::unusable_card(on_job_->card.fault().says, run.show);
    }));
  const job::StoredCard& card = on_job_->card.value();
  const std::vector<job::StoredMove>& moves = card.moves;
  const auto found = std::find_if(moves.begin(), moves.end(),
                                  [&](const job::StoredMove& each) { return each.order == move.order; });
  if (found == moves.end())
    return refused(command,
                   moves.size() == 1
                       ? sheets_.told("move {}, but the card has {} move", move.order, moves.size())
                       : sheets_.told("move {}, but the card has {} moves", move.order, moves.size()));
  if (is_among(on_job_->made, move.order) == move.made)
    return refused(command, move.made ? sheets_.told("move {} is ticked as made already", move.order)
                                      : sheets_.told("move {} is not ticked as made", move.order));
  if (const auto why_not = objection(sheets_, card); why_not && move.made) return refused(command, *why_not);
  if (is_later(*found))
    return refused(command, sheets_.told("move {} is made only when stage \"{}\" begins", move.order,
                                         *found->when_stage));
  if (const auto written =
          log_.append({book::MoveMade{on_job_->entry, move.order, found->support, move.made}});
      !written.ok())
    return refused(command, sheets_.told(written.fault()));
  if (move.made)
    on_job_->made.push_back(move.order);
  else
    std::erase(on_job_->made, move.order);
  return answered(Event::made, sheets_.both([&](const sheet::RunSheet& run) {
    return std::to_string(move.order) + ": " + found->support + ", " +
           say::motion_words(found->rise_m, found->pitch_rad, found->roll_rad, run.show) +
           (move.made ? std::string() : say::said(run.show, ", not made after all"));
  }),
                  {{"order", move.order},
                   {"support", found->support},
                   {"rise_m", found->rise_m},
                   {"pitch_rad", found->pitch_rad},
                   {"roll_rad", found->roll_rad},
                   {"made", move.made}});
}

bool MovesOnJob::give_up() {
  if (!on_job_ || !on_job_->begun || !on_job_->made.empty()) return false;
  on_job_.reset();
  return true;
}

}  // namespace hangtrue::daemon
