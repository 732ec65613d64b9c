// Cards of the surveys, the answers of the hold point, and the moves that were made.
#include <algorithm>

#include "firmware-host/json/shims.hpp"
#include "firmware-host/say/card.hpp"
#include "tools/report/as_built/writer.hpp"
#include "tools/report/common/charts.hpp"
#include "tools/report/common/moves.hpp"

namespace hangtrue::report {

namespace {

Table move_table(const AsBuiltWriter& of, const job::StoredCard& stored, const book::BookedCard& card) {
  const sheet::RunSheet& run = of.run;
  Table table{of.said("Moves of that card"), columns(of.said(">order|support|move|which is|made")), {}};
  for (const job::StoredMove& move : stored.moves) {
    const bool made = std::find(card.made.begin(), card.made.end(), move.order) != card.made.end();
    table.rows.push_back(
        {{std::to_string(move.order), move.support, pieces_words(run, move), turned_words(run, move),
          of.said(made ? "yes, marked as made" : "not marked as made")},
         false,
         !made});
  }
  return table;
}

std::string time_of(const Papers& papers, book::Number card) {
  for (const book::NumberedEntry& each : papers.entries)
    if (each.number == card) return ", " + minute_of(book::rfc3339(each.entry.time)) + " UTC";
  return "";
}

void add_card(AsBuiltWriter& of, const Papers& papers, const std::string& survey,
              const book::BookedCard& card) {
  const std::string head =
      of.text("Card of survey {} (entry {}{}): ", survey, card.number, time_of(papers, card.number));
  const auto read = json::read_card(card.card.json);
  if (!read) {
    of.document.add(Paragraph{of.text("It cannot be read: {}.", read.fault().says), head});
    return;
  }
  const job::StoredCard stored = say::for_people(of.run, read.value());
  of.document.add(
      Paragraph{typeset(stored.reason), head + upper(of.said(adjust::short_name(stored.hold_point))) + "."});
  Table table = move_table(of, stored, card);
  if (!table.rows.empty()) of.document.add(std::move(table));
}

}  // namespace

void AsBuiltWriter::moves() {
  document.add(Heading{said("Moves made and hold-point answers")});
  bool any = false;
  for (std::size_t s = 0; s < from.history.surveys.size(); ++s) {
    const job::BookedSurvey& booked = from.history.surveys[s].booked;
    const std::string& survey = booked.record.begun.id;
    int without = 0;  // earlier cards of which no move stands as made
    for (const book::BookedCard& card : booked.cards) {
      if (card.made.empty() && &card != &booked.cards.back()) {
        ++without;
        continue;
      }
      any = true;
      add_card(*this, from.papers[s], survey, card);
    }
    if (without > 0)
      document.add(Paragraph{
          without == 1 ? text("{} earlier card of survey {} of which no move stands as made: in the level "
                              "book.",
                              without, survey)
                       : text("{} earlier cards of survey {} of which no move stands as made: in the level "
                              "book.",
                              without, survey)});
  }
  if (any) {
    document.add(plan_view(run));
    document.add(Paragraph{letters_explained(run) + " " + say::sides_words(run.show)});
  } else {
    document.add(Paragraph{
        said("The level book holds no card of this run up to this survey, and no move is marked as made.")});
  }
}

}  // namespace hangtrue::report
