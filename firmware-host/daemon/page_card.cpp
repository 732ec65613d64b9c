#include "firmware-host/daemon/page_topics.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/doubts.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"

namespace hangtrue::daemon {
namespace {

std::optional<double> if_finite(double value) {
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

page::LevelError level_error(const job::LevelForecast& forecast, sheet::Show show) {
  return {if_finite(forecast.level_error_m), if_finite(forecast.sigma_m),
          sheet::show_fine(forecast.level_error_m, show), sheet::show_fine(forecast.sigma_m, show),
          std::isfinite(forecast.chance) ? say::percent(forecast.chance, show) : "-"};
}

page::Move move_of(const sheet::RunSheet& run, const job::StoredMove& stored, std::span<const int> made) {
  page::Move move;
  move.order = stored.order;
  move.support = stored.support;
  const int support = run.support(move.support);
  move.by = support < 0 ? sheet::AdjustBy::nothing : run.supports[std::size_t(support)].adjust.by;
  move.rise_m = stored.rise_m;
  move.pitch_rad = stored.pitch_rad;
  move.roll_rad = stored.roll_rad;
  move.does = say::motion_words(stored.rise_m, stored.pitch_rad, stored.roll_rad, run.show);
  for (const job::StoredPiece& piece : stored.pieces)
    move.pieces.push_back(
        {piece.where, piece.thickness_m, say::piece_name(run, support, piece.thickness_m), piece.count});
  if (move.by == sheet::AdjustBy::rod) {
    move.turns = stored.turns;
    move.turns_words = say::turns_words(stored.turns, run.show);
  }
  move.slacken = say::slacken_words(move.by, move.support, run.show);
  move.keep = say::keep_words(stored.limits_known_to_hold(), move.support, run.show);
  for (const job::Effect& effect : stored.effects)
    if (const std::string then = say::effect_words(effect, run.show); !then.empty())
      move.then.push_back(then);
  move.when_stage = stored.when_stage.value_or("");
  move.level_after = stored.level_error_m ? sheet::show_fine(*stored.level_error_m, run.show) : "-";
  move.made = std::find(made.begin(), made.end(), move.order) != made.end();
  return move;
}

}  // namespace

page::Card card_topic(const sheet::RunSheet& run, const job::StoredCard& stored, std::int64_t entry,
                      std::span<const int> made) {
  page::Card card;
  card.entry = entry;
  card.hold_point = adjust::short_name(stored.hold_point);
  card.reason = stored.reason;
  const bool holds = stored.fit_known_to_hold();
  card.says = say::to_do_words(stored.hold_point, run.show);
  card.moves_are =
      say::moves_heading(holds, stored.hold_point, stored.open && stored.open->first_setting, run.show);
  card.trusted = stored.moves_may_be_made();
  if (stored.open) {
    for (const job::StoredDoubt& doubt : stored.open->doubts)
      if (doubt.kind == "too little read") card.missing = doubt.says + ' ' + doubt.next;
    for (const job::StoredDoubt& doubt : stored.open->doubts)
      card.advice.push_back(doubt.says + ' ' + doubt.next);
    for (const job::StoredAside& each : stored.open->set_aside)
      card.advice.push_back(say::text(run.show, "Reading {} set aside: {}.", each.row, each.reason));
  }
  for (const job::StoredMove& move : stored.moves) card.moves.push_back(move_of(run, move, made));
  if (card.moves.empty()) card.moves_are.clear();
  const auto later = [](const page::Move& move) { return !move.when_stage.empty(); };
  if (!card.moves.empty() && card.trusted && std::all_of(card.moves.begin(), card.moves.end(), later))
    card.says = say::text(run.show,
                          "Nothing more can be set in this stage. What is left is made when stage \"{}\" "
                          "begins. Tighten no final bolt before.",
                          card.moves.front().when_stage);
  card.before = level_error(stored.before, run.show);
  card.after = level_error(stored.after, run.show);
  for (const std::string& advice : stored.advice)
    if (!advice.empty()) card.advice.push_back(advice);
  return card;
}

std::vector<page::HandQuestion> hand_questions(const sheet::RunSheet& run,
                                               const std::vector<job::Doubt>& doubts) {
  std::vector<page::HandQuestion> questions;
  for (const job::Doubt& doubt : doubts) {
    if (const auto* const open = std::get_if<job::BearingIsOpen>(&doubt))
      for (const std::string& support : open->supports)
        questions.push_back({say::is_it_tight(run, support),
                             {{say::bears_words(support, true, run.show), support + " bears"},
                              {say::bears_words(support, false, run.show), support + " hangs free"}}});
    const auto* const start = std::get_if<job::ReadFromOtherEnd>(&doubt);
    if (start == nullptr || start->why != job::StartDoubt::nobody_said) continue;
    page::HandQuestion asked{say::where_it_begins(run.show), {}};
    for (const sheet::SupportEntry& support : run.supports)
      asked.answers.push_back({say::begins_at(support.name, run.show), "start at " + support.name});
    questions.push_back(std::move(asked));
  }
  return questions;
}

page::Card unusable_card(std::int64_t entry, const std::string& why, sheet::Show show) {
  page::Card card;
  card.entry = entry;
  card.reason = say::unusable_card(why, show);
  return card;
}

std::optional<page::Compared> compared(const sheet::RunSheet& run, const std::string& survey,
                                       const job::StoredCard& promised, const job::Card& found) {
  const double promised_m = promised.after.level_error_m, promised_sigma_m = promised.after.sigma_m;
  // The promise counts on moves of later stages too, where the card has such; then what is found counts on those as well.
  const bool later = std::any_of(promised.moves.begin(), promised.moves.end(),
                                 [](const job::StoredMove& move) { return move.when_stage.has_value(); });
  const adjust::Prospect<double>& prospect = later ? found.after : found.before;
  const double found_m = prospect.level_error_m, found_sigma_m = prospect.drawn_sigma_m;
  const double sigma_m = std::hypot(promised_sigma_m, found_sigma_m);
  if (!std::isfinite(promised_m) || !std::isfinite(sigma_m) || !std::isfinite(found_m)) return std::nullopt;
  const auto fine = [&](double length_m) { return sheet::show_fine(length_m, run.show); };
  page::Compared result;
  result.survey = survey;
  result.promised = fine(promised_m);
  result.promised_sigma = fine(promised_sigma_m);
  result.found = fine(found_m);
  result.found_sigma = fine(found_sigma_m);
  result.agrees = std::abs(found_m - promised_m) <= kPromiseKept_sigmas * sigma_m;
  const std::string which =
      say::said(run.show, later ? "Counting those that later stages bring, the moves " : "The moves ");
  result.words =
      which +
      say::said(run.show,
                result.agrees
                    ? "did what the card promised, as far as the readings can tell."
                    : "did not do what the card promised: look whether each was made as it says, at its own "
                      "support and the right way, and whether anything else was touched.");
  return result;
}

}  // namespace hangtrue::daemon
