// store.hpp: what the parts of the level book share: its rules, an entry as it lies in the file, the open file. For book/ only.
#pragma once

#include <array>
#include <initializer_list>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <sqlite3.h>

#include "firmware-host/book/book.hpp"
#include "firmware-host/book/book_files.hpp"
#include "firmware-host/book/database.hpp"
#include "firmware-host/book/verified.hpp"
#include "firmware-host/book/writer_lock.hpp"

namespace hangtrue::book {

// The tables, indexes and triggers of the book's file, each with the schema that brought it. audit() compares the file with
// these very texts.
struct Rule {
  const char *name, *sql;
  int since;
};
inline constexpr std::array<Rule, 7> kRules{{
    {"entry",
     "CREATE TABLE entry (number INTEGER PRIMARY KEY, survey INTEGER, refers_to INTEGER, kind TEXT NOT NULL, "
     "time TEXT NOT NULL, body TEXT NOT NULL, hash TEXT NOT NULL) STRICT",
     1},
    {"entry_by_survey", "CREATE INDEX entry_by_survey ON entry (survey, kind)", 1},
    {"no_change",
     "CREATE TRIGGER no_change BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
     "only'); END",
     1},
    {"no_removal",
     "CREATE TRIGGER no_removal BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
     "only'); END",
     1},
    // A partial index: readings and samples, which are many, cost nothing here.
    {"entry_by_kind",
     "CREATE INDEX entry_by_kind ON entry (kind, survey, refers_to) WHERE kind NOT IN ('reading', 'samples')",
     2},
    // These hold the bodies as well, so that surveys are listed without reading an entry.
    {"survey_by_id", "CREATE INDEX survey_by_id ON entry (body, time) WHERE kind = 'survey begun'", 4},
    {"move_made", "CREATE INDEX move_made ON entry (survey, refers_to, body) WHERE kind = 'move made'", 4},
}};
/// The condition of entry_by_kind. SQLite uses a partial index only for a query that repeats its condition.
inline constexpr std::string_view kFew = "kind NOT IN ('reading', 'samples')";

/// A condition for the last so many of the entries that fulfil `these`; the index alone finds them.
[[nodiscard]] std::string the_last(const std::string& these, std::optional<int> most);

/// Stands for the hash before the first entry.
inline constexpr std::string_view kBeforeTheFirst =
    "0000000000000000000000000000000000000000000000000000000000000000";
inline constexpr std::string_view kColumns = "number, survey, refers_to, kind, time, body, hash";

/// An entry as it lies in the table.
struct Row {
  Number number = 0;
  std::optional<Number> survey, refers_to;
  std::string kind, time, body, hash;
};
[[nodiscard]] Row row_from(const Statement& statement);
/// The hash of the row, chained to the former one; see Chain in book.hpp.
[[nodiscard]] std::string chained(std::string_view former, const Row& row);
/// The time as it is written in a row; nothing where it is none.
[[nodiscard]] std::optional<Time> time_from(const std::string& text);
/// A text from the file, made fit to be shown: the file may hold any bytes.
[[nodiscard]] std::string plain(const std::string& text);

[[nodiscard]] Fault could_not_write(int code, const std::string& path, const std::string& message);
[[nodiscard]] Fault could_not_read(int code, const std::string& path, const std::string& message);

/// So many entries are in the log at most before it is folded into the file. No source: a copy of the file alone then lacks
/// little, and folding costs a few percent of what the appending itself does.
inline constexpr int kFoldEvery = 64;

/// The file, its lock and where its chain ends.
class Book::Store {
 public:
  Store(std::string path, std::optional<WriterLock> lock)
      : path_(std::move(path)), real_(real_path(path_)), lock_(std::move(lock)) {}
  ~Store();
  Store(const Store&) = delete;
  Store& operator=(const Store&) = delete;

  [[nodiscard]] Result<Done, Fault> make() const;
  [[nodiscard]] Result<Done, Fault> open(Database::Access access);
  [[nodiscard]] Result<Number, Fault> append(std::span<const Entry> entries);
  /// The log goes into the file, as far as no reader stands in the way.
  void fold();
  /// Nothing while the file at the path is the one that is open, and its log lies beside it; else the trouble, and what the book
  /// holds is kept in a rescue file.
  [[nodiscard]] std::optional<Fault> check_place();
  /// The audit of a book that was found whole before and has not changed since; nothing where that cannot be said.
  [[nodiscard]] std::optional<Audit> verified_before() const;
  [[nodiscard]] std::optional<Verified> settled_files() const;
  void remember(const Audit& audit, const std::optional<Verified>& before) const;
  /// Of a file that was opened to read.
  [[nodiscard]] bool log_may_be_missing() const { return log_may_be_missing_; }
  /// Calls on_row(Row) for each row of the query until it returns false.
  template <class OnRow>
  [[nodiscard]] Result<Done, Fault> each(const std::string& condition, std::initializer_list<Number> numbers,
                                         OnRow on_row) const;
  [[nodiscard]] Result<std::vector<NumberedEntry>, Fault> entries(
      const std::string& condition, std::initializer_list<Number> numbers) const;
  template <class Sheet>
  [[nodiscard]] Result<std::optional<Number>, Fault> find_sheet(const Sheet& sheet) const;
  /// The surveys whose first entries fulfil the condition, in order; `texts` are its parameters.
  [[nodiscard]] Result<std::vector<SurveyRecord>, Fault> surveys(
      const std::string& which, std::initializer_list<std::string> texts) const;
  /// Both add what is amiss to the audit's findings.
  [[nodiscard]] NotedAnswer compare(const NotedSeal& noted, const std::map<Number, std::string>& asked,
                                    Audit& audit) const;
  void check_rules(Audit& audit) const;
  /// What the file's schema has that is not that of a book of this schema, by type, name and text; one sentence each.
  [[nodiscard]] std::vector<std::string> foreign_rules(int schema) const;
  [[nodiscard]] Fault unreadable(int code) const { return could_not_read(code, path_, database_.message()); }

  /// The condition that an entry is a SurveyBegun, written so that SQLite uses an index.
  [[nodiscard]] std::string begun() const {
    return "kind = 'survey begun'" + (schema_ < 4 ? " AND " + std::string(kFew) : "");
  }
  [[nodiscard]] Number last() const { return last_; }
  [[nodiscard]] const std::string& last_hash() const { return last_hash_; }
  [[nodiscard]] const Database& database() const { return database_; }
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] const std::string& real() const { return real_; }

 private:
  [[nodiscard]] Result<Done, Fault> open_to_read();
  /// `former`: the hash of the entry before; looked up where it is empty.
  [[nodiscard]] bool is_linked(const Row& row, std::string former) const;
  [[nodiscard]] std::optional<Fault> hold_file();
  [[nodiscard]] std::optional<Fault> hold_log();
  void note_stamps();
  void note_as_verified();
  [[nodiscard]] std::optional<std::string> amiss();
  [[nodiscard]] std::optional<std::string> not_on_disk() const;
  [[nodiscard]] Fault taken_away(const std::string& amiss, std::span<const Row> rows);
  [[nodiscard]] std::string rescue(std::span<const Row> rows) const;
  void keep_rows(std::vector<Row> rows);
  [[nodiscard]] std::optional<Fault> identity();
  [[nodiscard]] std::optional<Fault> find_end();
  [[nodiscard]] std::optional<Fault> upgrade();
  [[nodiscard]] std::optional<Fault> objection(const Row& row, const Content& content,
                                               std::span<const Row> before) const;
  [[nodiscard]] Result<Row, Fault> row_for(const Entry& entry, std::span<const Row> before) const;

  std::string path_;  // as it was given
  std::string real_;  // without links: beside this one SQLite keeps the log
  std::optional<WriterLock> lock_;
  Database database_;
  Statement insert_;
  int schema_ = 0;
  mutable Number known_survey_ = 0;  // the last that was looked up and is one
  Number last_ = 0;
  std::string last_hash_{kBeforeTheFirst};
  bool end_is_certain_ = false;

  // Of a book that is written.
  int descriptor_ = -1;                       // SQLite's own, of the file; the lock lies on it
  std::optional<std::int64_t> data_version_;  // SQLite's count of what other connections have changed
  FileStamp file_, log_;                      // as we left them
  int log_frames_ = 0;                        // that the log has
  int since_fold_ = 0;                        // entries in the log
  std::vector<Row>
      kept_;  // of this session: what is not a raw sample, and all since the log was last folded whole
  std::string taken_away_;   // while the file is not ours: what was said of it
  bool open_ = false;        // all of it, to write
  bool was_closed_ = false;  // by its writer, before we opened it to write

  bool log_may_be_missing_ = false;  // of a book that is read
  FileId read_;                      // likewise: the file that is open
  mutable bool checks_links_ = false;
  bool noted_ =
      false;  // of one that is written: it was new, or noted as whole, and nobody else has changed it since
};

template <class OnRow>
Result<Done, Fault> Book::Store::each(const std::string& condition, std::initializer_list<Number> numbers,
                                      OnRow on_row) const {
  Statement statement;
  const std::string sql = "SELECT " + std::string(kColumns) + " FROM entry " + condition;
  int code = database_.prepare(sql, statement);
  if (code != SQLITE_OK) return unreadable(code);
  for (const Number number : numbers) statement.bind(number);
  Row row;
  while ((code = statement.step()) == SQLITE_ROW) {
    std::string former = std::move(row.hash);
    const Number before = row.number;
    row = row_from(statement);
    if (checks_links_ && !is_linked(row, before + 1 == row.number ? std::move(former) : std::string()))
      return Fault{Trouble::damaged,
                   path_ + " is damaged: entry " + std::to_string(row.number) + " does not fit the chain"};
    if (!on_row(row)) return Done{};
  }
  if (code != SQLITE_DONE) return unreadable(code);
  return Done{};
}

/// While it lives, everything is read as it was at one moment, whatever a writer appends meanwhile.
class Snapshot {
 public:
  explicit Snapshot(const Database& database)
      : database_(database), began_(database.run("BEGIN") == SQLITE_OK) {}
  ~Snapshot() {
    if (began_) static_cast<void>(database_.run("COMMIT"));  // it has only read: nothing can be lost
  }
  Snapshot(const Snapshot&) = delete;
  Snapshot& operator=(const Snapshot&) = delete;

 private:
  const Database& database_;
  bool began_;
};

}  // namespace hangtrue::book
