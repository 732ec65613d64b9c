#include <algorithm>
#include <map>
#include <string>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/short_form.hpp"
#include "firmware-host/book/store.hpp"

namespace hangtrue::book {

Result<Audit, Fault> Book::audit(std::span<const NotedSeal> noted) const {
  const Snapshot snapshot(store_->database());
  Audit audit;
  // The schema as it is now: since the book was opened a writer may have upgraded it.
  audit.schema = static_cast<int>(store_->database().integer("PRAGMA user_version").value_or(0));
  std::string former(kBeforeTheFirst);
  std::map<Number, std::string>
      asked;  // of each seal asked about what the book has there: a short form, or nothing
  const auto bad = [&audit](Number number, const Row* row, const std::string& why) {
    audit.first_bad = number;
    std::string which = "entry " + std::to_string(number);
    if (row != nullptr) {
      audit.first_bad_kind = plain(row->kind);
      audit.first_bad_time = plain(row->time);
      which += " (" + audit.first_bad_kind + ", " + audit.first_bad_time + ')';
    }
    audit.findings.push_back(which + ' ' + why);
    return false;  // all that follows depends on it: one finding is enough
  };
  const auto walked = store_->each("ORDER BY number", {}, [&](const Row& row) {
    const Number expected = audit.entries + 1;
    if (row.number != expected) return bad(expected, nullptr, "is missing");
    if (chained(former, row) != row.hash)
      return bad(row.number, &row, "does not fit the chain: it, or the one before it, was changed");
    const auto content = content_from(row.kind, row.body, row.refers_to);
    if (!content || !time_from(row.time))
      return bad(row.number, &row, "cannot be read as what it says it is");
    const auto* const seal = std::get_if<Seal>(&*content);
    if (seal != nullptr) {
      if (seal->entries != row.number - 1 || seal->hash != former)
        return bad(row.number, &row, "is a seal over another book");
      audit.seals.push_back({row.number, row.hash, row.time});
    }
    if (std::any_of(noted.begin(), noted.end(), [&](const NotedSeal& it) { return it.number == row.number; }))
      asked[row.number] = seal != nullptr ? short_form(row.hash) : std::string();
    ++audit.entries;
    former = row.hash;
    return true;
  });
  if (!walked.ok())
    bad(audit.entries + 1, nullptr, "or what follows it cannot be read: " + walked.fault().says);
  for (const NotedSeal& it : noted) audit.noted.push_back(store_->compare(it, asked, audit));
  store_->check_rules(audit);
  return audit;
}

NotedAnswer Book::Store::compare(const NotedSeal& noted, const std::map<Number, std::string>& asked,
                                 Audit& audit) const {
  const std::string which = "the seal noted as " + std::to_string(noted.number) + ' ' + noted.short_form;
  const auto found = asked.find(noted.number);
  if (found == asked.end()) {
    if (audit.first_bad) {
      audit.findings.push_back(which + " cannot be compared: the chain breaks before it");
      return NotedAnswer::no_seal;
    }
    audit.findings.push_back(which + " is not in the book, which ends with entry " +
                             std::to_string(audit.entries) +
                             ": its end was cut off, or this is another book");
    return NotedAnswer::cut_off;
  }
  if (found->second == noted.short_form) return NotedAnswer::matches;
  if (found->second.empty()) {
    audit.findings.push_back(which +
                             " is no seal in this book: it was written anew, or this is another book");
    return NotedAnswer::no_seal;
  }
  audit.findings.push_back(
      which + " is " + found->second +
      " in this book: it was written anew, this is another book, or the note is mistaken");
  return NotedAnswer::differs;
}

void Book::Store::check_rules(Audit& audit) const {
  std::string known;
  for (const Rule& rule : kRules) {
    if (rule.since > audit.schema) continue;
    known += (known.empty() ? "'" : ", '") + std::string(rule.name) + '\'';
    if (database_.text("SELECT sql FROM sqlite_schema WHERE name = '" + std::string(rule.name) + "'") !=
        rule.sql)
      audit.findings.push_back("the file's own rule \"" + std::string(rule.name) +
                               "\" was changed or removed");
  }
  if (const auto name = database_.text("SELECT name FROM sqlite_schema WHERE name NOT IN (" + known + ")"))
    audit.findings.push_back("the file holds \"" + plain(*name) + "\", which is none of its own");
  const auto integrity = database_.text("PRAGMA integrity_check");
  if (integrity != "ok")
    audit.findings.push_back("SQLite finds the file damaged: " + integrity.value_or("it cannot be checked"));
}

}  // namespace hangtrue::book
