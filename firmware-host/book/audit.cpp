#include <algorithm>
#include <map>
#include <string>
#include <thread>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/short_form.hpp"
#include "firmware-host/book/store.hpp"

namespace hangtrue::book {
namespace {

/// "table", "index" or "trigger": the second word of what makes it, as sqlite_schema has it.
std::string type_of(const Rule& rule) {
  const std::string sql = rule.sql;
  const std::size_t from = sql.find(' ') + 1;
  std::string type = sql.substr(from, sql.find(' ', from) - from);
  for (char& c : type) c = static_cast<char>(c - 'A' + 'a');
  return type;
}

}  // namespace

Result<Audit, Fault> Book::verify() const {
  if (auto audit = store_->verified_before()) return *std::move(audit);
  return audit();
}

Result<Audit, Fault> Book::audit(std::span<const NotedSeal> noted) const {
  const auto files = store_->settled_files();
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
    audit.last_time = plain(row.time);
    audit.last_hash = row.hash;
    audit.ends_at_rest = row.kind == "seal" || row.kind == "survey closed";
    former = row.hash;
    return true;
  });
  if (!walked.ok())
    bad(audit.entries + 1, nullptr, "or what follows it cannot be read: " + walked.fault().says);
  audit.log_may_be_missing = store_->log_may_be_missing();
  if (audit.log_may_be_missing && walked.ok() && audit.entries == 0 && !audit.first_bad)
    audit.findings.push_back(
        "the file holds no entry, and no log lies beside it: all that was written is missing");
  for (const NotedSeal& it : noted) audit.noted.push_back(store_->compare(it, asked, audit));
  store_->check_rules(audit);
  store_->remember(audit, files);
  return audit;
}

std::optional<Audit> Book::Store::verified_before() const {
  if (lock_) return std::nullopt;  // who writes has looked before
  const auto files = stamps_of(real_);
  const auto note = files ? verified_note(files->file.id) : std::nullopt;
  if (!note || !same_files(*files, *note) || files->file.id != read_) return std::nullopt;
  const Snapshot snapshot(database_);
  Statement last;
  if (database_.prepare("SELECT number, hash, time, kind FROM entry ORDER BY number DESC LIMIT 1", last) !=
          SQLITE_OK ||
      last.step() != SQLITE_ROW || last.integer(0) != note->entries || last.text(1) != note->hash ||
      schema_ != note->schema || !foreign_rules(schema_).empty())
    return std::nullopt;
  Audit audit;
  audit.schema = schema_;
  audit.entries = note->entries;
  audit.last_time = plain(last.text(2));
  audit.ends_at_rest = last.text(3) == "seal" || last.text(3) == "survey closed";
  audit.log_may_be_missing = log_may_be_missing_;
  checks_links_ = true;
  const auto read =
      each("WHERE kind = 'seal' AND " + std::string(kFew) + " ORDER BY number", {}, [&](const Row& row) {
        audit.seals.push_back({row.number, row.hash, row.time});
        return true;
      });
  if (!read.ok()) return std::nullopt;
  return audit;
}

std::optional<Verified> Book::Store::settled_files() const {
  auto files = lock_ ? std::nullopt : stamps_of(real_);
  if (!files) return files;
  if (!changes_tell(*files) && files->file.size > kLongFile) {
    std::this_thread::sleep_for(kChangesTell);
    files = stamps_of(real_);
  }
  if (files) files->settled = changes_tell(*files);
  return files;
}

void Book::Store::remember(const Audit& audit, const std::optional<Verified>& before) const {
  if (lock_ || !audit.whole() || audit.entries < kLeastToNote || !before || before->file.id != read_) return;
  Verified verified = *before;
  verified.schema = audit.schema;
  verified.entries = audit.entries;
  verified.hash = audit.last_hash;
  // A change while the book was walked would have the time of the one before it, had that just been.
  const auto now = stamps_of(real_);
  if (before->settled && now && same_files(*before, *now)) keep_verified_note(verified);
}

bool Book::Store::is_linked(const Row& row, std::string former) const {
  if (former.empty() && row.number > 1) {
    Statement before;
    if (database_.prepare("SELECT hash FROM entry WHERE number = ?", before) == SQLITE_OK &&
        before.bind(row.number - 1).step() == SQLITE_ROW)
      former = before.text(0);
  }
  if (row.number == 1) former = kBeforeTheFirst;
  return chained(former, row) == row.hash;
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

std::vector<std::string> Book::Store::foreign_rules(int schema) const {
  std::vector<std::string> findings;
  std::vector<const Rule*> lacking;
  for (const Rule& rule : kRules)
    if (rule.since <= schema) lacking.push_back(&rule);
  Statement statement;
  int code = database_.prepare("SELECT type, name, tbl_name, sql FROM sqlite_schema", statement);
  while (code == SQLITE_OK && (code = statement.step()) == SQLITE_ROW) {
    code = SQLITE_OK;
    const std::string type = statement.text(0), name = statement.text(1);
    const auto own = std::find_if(lacking.begin(), lacking.end(), [&](const Rule* rule) {
      return type_of(*rule) == type && rule->name == name;
    });
    if (own == lacking.end()) {
      findings.push_back("the file holds the " + plain(type) + " \"" + plain(name) +
                         "\", which is none of its own");
    } else if (statement.text(3) == (*own)->sql && statement.text(2) == "entry") {
      lacking.erase(own);
    }
  }
  if (code != SQLITE_DONE) findings.push_back("the file's own rules cannot be read: " + database_.message());
  for (const Rule* rule : lacking)
    findings.push_back("the file's own rule \"" + std::string(rule->name) + "\" was changed or removed");
  return findings;
}

void Book::Store::check_rules(Audit& audit) const {
  for (std::string& finding : foreign_rules(audit.schema)) audit.findings.push_back(std::move(finding));
  const auto integrity = database_.text("PRAGMA integrity_check");
  if (integrity != "ok")
    audit.findings.push_back("SQLite finds the file damaged: " + integrity.value_or("it cannot be checked"));
}

}  // namespace hangtrue::book
