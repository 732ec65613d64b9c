#include <algorithm>
#include <string>
#include <vector>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/store.hpp"

namespace hangtrue::book {

// Counts by the indexes alone: a reading's body is not even looked at.
Result<std::vector<SurveyRecord>, Fault> Book::Store::surveys(
    const std::string& which, std::initializer_list<std::string> texts) const {
  const Snapshot snapshot(database_);
  std::vector<SurveyRecord> surveys;
  Statement statement;
  int code = database_.prepare(
      "SELECT number, time, body,"
      " (SELECT count(*) FROM entry WHERE survey = begun.number AND kind = 'reading')"
      " FROM entry AS begun WHERE " +
          which,
      statement);
  if (code != SQLITE_OK) return unreadable(code);
  for (const std::string& text : texts) statement.bind(text);
  while ((code = statement.step()) == SQLITE_ROW) {
    const Number number = statement.integer(0);
    auto content = content_from("survey begun", statement.text(2), std::nullopt);
    if (!content)
      return Fault{Trouble::damaged,
                   path_ + " is damaged: entry " + std::to_string(number) + " cannot be read"};
    const auto readings = static_cast<int>(statement.integer(3));
    surveys.push_back({number, std::get<SurveyBegun>(*std::move(content)), statement.text(1), false, readings,
                       readings, 0, number});
  }
  if (code != SQLITE_DONE) return unreadable(code);
  if (surveys.empty()) return surveys;
  std::sort(surveys.begin(), surveys.end(),
            [](const SurveyRecord& a, const SurveyRecord& b) { return a.number < b.number; });
  const std::string of_these = " AND survey BETWEEN " + std::to_string(surveys.front().number) + " AND " +
                               std::to_string(surveys.back().number);
  /// Calls on_row(its survey) for each row whose first column is the number of one of these.
  const auto each_of_these = [&](const std::string& sql, auto on_row) {
    code = database_.prepare(sql, statement);
    if (code != SQLITE_OK) return false;
    while ((code = statement.step()) == SQLITE_ROW) {
      const Number number = statement.integer(0);
      const auto of =
          std::lower_bound(surveys.begin(), surveys.end(), number,
                           [](const SurveyRecord& survey, Number wanted) { return survey.number < wanted; });
      if (of != surveys.end() && of->number == number) on_row(*of);
    }
    return code == SQLITE_DONE;
  };
  const std::string few = " AND " + std::string(kFew) + of_these;
  const bool read =
      each_of_these("SELECT survey, number FROM entry WHERE kind = 'survey closed'" + few,
                    [&](SurveyRecord& of) {
                      of.last = statement.integer(1);
                      of.closed = true;
                    }) &&
      // Of each reading that was ever set aside, what was said last.
      each_of_these(
          "SELECT survey, kind = 'set aside', max(number) FROM entry AS said WHERE kind IN ('set aside', "
          "'put back')" +
              few +
              " AND EXISTS (SELECT 1 FROM entry INDEXED BY entry_by_survey"
              " WHERE survey = said.survey AND kind = 'reading' AND number = said.refers_to)"
              " GROUP BY refers_to",
          [&](SurveyRecord& of) { of.kept -= statement.integer(1) != 0 ? 1 : 0; }) &&
      // Likewise of each move.
      each_of_these(
          "SELECT survey, json_extract(body, '$.made'), max(number) FROM entry WHERE kind = 'move made'" +
              (schema_ < 4 ? few : of_these) + " GROUP BY refers_to, json_extract(body, '$.order')",
          [&](SurveyRecord& of) { of.moves += statement.integer(1) != 0 ? 1 : 0; });
  if (!read) return unreadable(code);
  code = database_.prepare("SELECT max(number) FROM entry WHERE survey = ?", statement);
  for (auto of = surveys.begin(); code == SQLITE_OK && of != surveys.end(); ++of) {
    if (of->closed) continue;
    if (const int step = statement.bind(of->number).step(); step != SQLITE_ROW) return unreadable(step);
    of->last = statement.maybe_integer(0).value_or(of->number);
    statement.reset();
  }
  if (code != SQLITE_OK) return unreadable(code);
  return surveys;
}

}  // namespace hangtrue::book
