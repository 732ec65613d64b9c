#include "firmware-host/daemon/record.hpp"

#include "firmware-host/book/short_form.hpp"
#include "firmware-host/daemon/reading_words.hpp"
#include "firmware-host/daemon/thresholds.hpp"
#include "firmware-host/job/card.hpp"
#include "firmware-host/say/card.hpp"
#include "firmware-host/say/complaint.hpp"
#include "firmware-host/say/fit.hpp"
#include "firmware-host/say/history.hpp"
#include "firmware-host/say/table.hpp"

namespace hangtrue::daemon {

page::Record record_topic(const SurveyLog& log) {
  page::Record record;
  record.book = log.path();
  if (const auto surveys = log.surveys(kMostListed); surveys.ok())
    for (auto each = surveys.value().rbegin(); each != surveys.value().rend(); ++each)
      record.surveys.push_back({each->begun.id, each->begun.stage, each->time, each->kept,
                                each->readings - each->kept, each->moves, !each->closed});
  if (const auto seals = log.seals(kMostListed); seals.ok())
    for (auto each = seals.value().rbegin(); each != seals.value().rend(); ++each)
      record.seals.push_back({each->number, book::short_form(each->hash), each->time});
  return record;
}

std::string record_text(const SurveyLog& log, const Sheets& sheets, const std::string& survey) {
  const auto found = log.survey(survey, sheets);
  if (!found.ok()) return found.fault().says + '\n';
  if (!found.value()) return "";
  const SurveyLog::Kept& of = *found.value();
  std::string text = sheets.run.title + ": survey " + survey + ", stage \"" + of.record.begun.stage +
                     "\", begun " + of.record.time + (of.record.closed ? "" : ", still open") +
                     "\nLevel book " + log.path() + "\n\n";
  if (!of.history) {
    text += "It goes by another run sheet than the one this program was started with.\n\n";
  } else if (job::SurveyFit* const session = of.history->last().session.get(); session == nullptr) {
    text += "No fit: " + say::not_taught(sheets.run, *of.history->last().not_taught) + "\n\n";
  } else {
    text += say::fit_view(sheets.run, session->report()) + '\n';
    if (const auto card = job::make_card(*session); !card)
      text += "No card: " + say::complaint(sheets.run, card.fault()).text() + "\n\n";
    else
      text += say::card_view(sheets.run, session->report(), card.value()) + '\n';
  }
  text += "Readings\n";
  for (const book::BookedReading& booked : of.readings)
    text += say::folded("  " + std::to_string(booked.number) + "  " + booked.reading.time + "  " +
                            booked_words(booked, sheets.run.show),
                        6);
  return text;
}

}  // namespace hangtrue::daemon
