// The shim card on one page, to be read with gloves on and in bad light.
#include <algorithm>

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/words.hpp"
#include "tools/report/page.hpp"
#include "tools/report/reports.hpp"

namespace hangtrue::report {

namespace {

/// Stack by stack; U+2028 begins a line.
std::string each_on_its_line(std::string pieces) {
  for (std::size_t at = 0; (at = pieces.find("; ", at)) != std::string::npos;)
    pieces.replace(at, 2, "\xE2\x80\xA8");
  return pieces;
}

Document card_of_size(const AsBuilt& from, Paper paper, double text_pt, std::size_t most_advice) {
  const sheet::RunSheet& run = from.run;
  const job::Card& card = *from.card;
  const job::StoredCard stored = json::stored_card(run, card);
  const job::FitReport& fit = from.history.last().session->report();
  const book::SurveyRecord& record = from.history.last().booked.record;
  Document document = begin("Shim card", run, "survey " + record.begun.id, from.record, paper);
  document.numbered = false;
  document.text_pt = text_pt;
  const std::string read_at = std::string(minute_of(from.history.last().booked.readings.back().reading.time));
  document.add(Title{"Shim card",
                     run.title,
                     {{"Survey", record.begun.id + ", stage \"" + record.begun.stage + "\""},
                      {"Last reading", read_at.empty() ? "no time" : read_at + " UTC"}}});
  const adjust::HoldPoint answer = card.hold_point.answer;
  document.add(Box{"May the final bolts be tightened?",
                   upper(std::string(adjust::short_name(answer))) +
                       (answer == adjust::HoldPoint::ready_to_bolt ? " (level alone)" : ""),
                   {say::to_do_words(answer), typeset(stored.reason)},
                   true});

  if (stored.moves.empty()) {
    document.add(Paragraph{fit.status == fit::Status::settled ? "No move would make it better."
                                                              : "No move can be advised from this.",
                           "Moves."});
  } else {
    document.add(Heading{say::moves_heading(fit.self_test.outcome == fit::TestOutcome::holds, answer)});
    Table moves{"", columns("|at|do|take care|made"), {}};
    moves.size = 1;
    for (const job::StoredMove& move : stored.moves) {
      const std::string& name = move.support;
      const int support = run.support(name);
      const sheet::AdjustBy by =
          support < 0 ? sheet::AdjustBy::nothing : run.supports[std::size_t(support)].adjust.by;
      std::string care = say::slacken_words(by, name);
      if (!move.limits_known_to_hold()) care += " " + say::keep_words(false, name);
      if (move.when_stage) care = "When stage \"" + *move.when_stage + "\" begins. " + care;
      moves.rows.push_back(
          {{std::to_string(move.order), name,
            each_on_its_line(pieces_words(run, move)) + "\xE2\x80\xA8(" + turned_words(run, move) + ")", care,
            "\xE2\x98\x90"}});
    }
    document.add(std::move(moves));
    document.add(Paragraph{say::keep_words(true, "")});
  }
  const auto fine = [&](double length) { return sheet::show_fine(length, run.show); };
  Table expected{"",
                 columns("finished level error|>expected|>sigma|chance to be within " +
                         sheet::show_length(run.tolerance.level_m, run.show)),
                 {}};
  expected.size = 1;
  expected.rows.push_back({{"as things are", fine(card.before.level_error_m), fine(card.before.drawn_sigma_m),
                            say::percent(card.before.chance)}});
  if (!card.moves.empty())
    expected.rows.push_back({{"after the moves", fine(card.after.level_error_m),
                              fine(card.after.drawn_sigma_m), say::percent(card.after.chance)}});
  document.add(std::move(expected));
  std::vector<std::string> advice;
  for (const std::string& each : stored.advice)
    if (!each.empty() && advice.size() < most_advice) advice.push_back(typeset(each));
  for (const job::LikelierCause& cause : fit.causes)
    if (advice.size() < most_advice)
      advice.push_back("Likelier cause (" + say::percent(cause.weight) +
                       "): " + typeset(say::cause_words(cause, run.show)));
  if (!advice.empty()) document.add(Items{advice});
  add_cautions(document);
  return document;
}

}  // namespace

Document shim_card(const AsBuilt& from, Paper paper) {
  // As large as one page holds it.
  for (const double text_pt : {17.0, 16.0, 15.0, 14.0, 13.0, 12.0, 11.0, 10.0, 9.0, 8.0}) {
    Document document = card_of_size(from, paper, text_pt, text_pt > 10 ? 4 : 2);
    if (Pages(document).count() == 1) return document;
  }
  return card_of_size(from, paper, 9, 0);
}

}  // namespace hangtrue::report
