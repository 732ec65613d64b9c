// The shim card on one page, to be read with gloves on and in bad light.
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/say/words.hpp"
#include "tools/report/common/charts.hpp"
#include "tools/report/common/figures.hpp"
#include "tools/report/common/moves.hpp"
#include "tools/report/common/record.hpp"
#include "tools/report/layout/pages.hpp"
#include "tools/report/reports.hpp"

namespace hangtrue::report {

namespace {

constexpr const char* kNewLine = "\xE2\x80\xA8";  // U+2028
constexpr const char* kToTick = "\xE2\x98\x90";   // U+2610, an empty box

/// A stack on each line.
std::string each_on_its_line(std::string pieces) {
  for (std::size_t at = 0; (at = pieces.find("; ", at)) != std::string::npos;)
    pieces.replace(at, 2, kNewLine);
  return pieces;
}

Row row_of(const sheet::RunSheet& run, const job::StoredMove& move) {
  const int support = run.support(move.support);
  const sheet::AdjustBy by =
      support < 0 ? sheet::AdjustBy::nothing : run.supports[std::size_t(support)].adjust.by;
  std::string care = say::slacken_words(by, move.support, run.show);
  if (!move.limits_known_to_hold()) care += " " + say::keep_words(false, move.support, run.show);
  if (move.when_stage) care = say::text(run.show, "When stage \"{}\" begins. {}", *move.when_stage, care);
  return {{std::to_string(move.order), move.support,
           each_on_its_line(pieces_words(run, move)) + kNewLine + "(" + turned_words(run, move) + ")", care,
           kToTick}};
}

void add_moves(Document& document, const sheet::RunSheet& run, const job::StoredCard& card,
               const job::FitReport& fit) {
  if (card.moves.empty()) {
    document.add(Paragraph{
        say::said(run.show, fit.status == fit::Status::settled ? "No move would make it better."
                                                               : "No move can be advised from this."),
        say::said(run.show, "Moves.")});
    return;
  }
  document.add(Heading{say::moves_heading(fit.self_test.outcome == fit::TestOutcome::holds, card.hold_point,
                                          card.open && card.open->first_setting, run.show)});
  Table moves{"", columns(say::said(run.show, "|at|do|take care|made")), {}};
  moves.size = 1;
  for (const job::StoredMove& move : card.moves) moves.rows.push_back(row_of(run, move));
  document.add(std::move(moves));
  document.add(plan_view(run));
  document.add(Paragraph{letters_explained(run) + " " + say::sides_words(run.show) + " " +
                         say::keep_words(true, "", run.show)});
}

// All of it, however small the print: what is open, and what does not count.
void add_open(Document& document, const job::StoredOpen& open, sheet::Show show) {
  std::vector<std::string> lines;
  for (const job::StoredDoubt& doubt : open.doubts) lines.push_back(typeset(doubt.says + " " + doubt.next));
  for (const job::StoredAside& each : open.set_aside)
    lines.push_back(say::text(show, "Reading {} set aside: {}.", each.row, typeset(each.reason)));
  if (lines.empty()) return;
  document.add(Heading{say::said(show, "To settle before the final bolts")});
  document.add(Items{lines});
}

Table expected_level(const sheet::RunSheet& run, const job::StoredCard& card) {
  const Figures figures{run.show};
  Table expected{"",
                 columns(say::text(run.show, "finished level error|>expected|>sigma|chance to be within {}",
                                   figures.length(run.tolerance.level_m))),
                 {}};
  expected.size = 1;
  const auto add = [&](const char* when, const job::LevelForecast& forecast) {
    expected.rows.push_back({{say::said(run.show, when), figures.fine(forecast.level_error_m),
                              figures.fine(forecast.sigma_m), say::percent(forecast.chance, run.show)}});
  };
  add("as things are", card.before);
  if (!card.moves.empty()) add("after the moves", card.after);
  return expected;
}

void add_advice(Document& document, const job::StoredCard& card, const job::FitReport& fit, sheet::Show show,
                std::size_t most) {
  std::vector<std::string> advice;
  for (const std::string& each : card.advice)
    if (!each.empty() && advice.size() < most) advice.push_back(typeset(each));
  for (const job::LikelierCause& cause : fit.causes)
    if (advice.size() < most)
      advice.push_back(say::text(show, "Likelier cause ({}): {}", say::percent(cause.weight, show),
                                 typeset(say::cause_words(cause, show))));
  if (!advice.empty()) document.add(Items{advice});
}

Document card_of_size(const AsBuilt& from, Paper paper, double text_pt, std::size_t most_advice) {
  const job::BookedSurvey& booked = from.history.last().booked;
  const book::SurveyBegun& begun = booked.record.begun;
  const job::FitReport& fit = from.history.last().session->report();
  const job::StoredCard card = json::stored_card(from.run, fit, *from.card);
  const sheet::Show show = from.run.show;
  Document document = begin(say::said(show, "Shim card"), from.run, say::text(show, "survey {}", begun.id),
                            from.record, paper);
  document.numbered = false;
  document.text_pt = text_pt;
  const std::string read_at = minute_of(booked.readings.back().reading.time);
  document.add(Title{
      say::said(show, "Shim card"),
      from.run.title,
      {{say::said(show, "Survey"),
        say::text(show, "{}, stage \"{}\"", survey_name(begun.id, booked.naming), begun.stage)},
       {say::said(show, "Last reading"), read_at.empty() ? say::said(show, "no time") : read_at + " UTC"}}});
  document.add(
      Box{say::said(show, "May the final bolts be tightened?"),
          upper(say::said(show, adjust::short_name(card.hold_point))) +
              (card.hold_point == adjust::HoldPoint::ready_to_bolt ? say::said(show, " (level alone)") : ""),
          {say::to_do_words(card.hold_point, from.run.show), typeset(card.reason)},
          true});
  if (card.open) add_open(document, *card.open, show);
  add_moves(document, from.run, card, fit);
  document.add(expected_level(from.run, card));
  add_advice(document, card, fit, from.run.show, most_advice);
  add_cautions(document, show);
  add_signatures(document, booked.naming, show);
  return document;
}

}  // namespace

Document shim_card(const AsBuilt& from, Paper paper) {
  // As large as one page holds it.
  for (const double text_pt : {17.0, 16.0, 15.0, 14.0, 13.0, 12.0, 11.0, 10.0, 9.0, 8.0}) {
    Document document = card_of_size(from, paper, text_pt, text_pt > 10 ? 4 : 2);
    if (Pages(document).count() == 1) return document;
  }
  for (const double text_pt : {9.0, 8.0, 7.0}) {
    Document document = card_of_size(from, paper, text_pt, 0);
    if (Pages(document).count() == 1) return document;
  }
  return card_of_size(from, paper, 9, 0);
}

}  // namespace hangtrue::report
