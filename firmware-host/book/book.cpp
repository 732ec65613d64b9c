#include "firmware-host/book/book.hpp"

#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <map>
#include <utility>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/database.hpp"
#include "firmware-host/book/sha256.hpp"
#include "firmware-host/book/short_form.hpp"
#include "firmware-host/book/writer_lock.hpp"

namespace hangtrue::book {
namespace {

// The tables, indexes and triggers of the book's file, each with the schema that brought it. audit() compares the file with
// these very texts.
struct Rule {
  const char *name, *sql;
  int since;
};
constexpr std::array<Rule, 7> kRules{{
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
constexpr std::string_view kFew = "kind NOT IN ('reading', 'samples')";

/// A condition for the last so many of the entries that fulfil `these`; the index alone finds them.
std::string the_last(const std::string& these, std::optional<int> most) {
  if (!most) return these;
  return "number IN (SELECT number FROM entry WHERE " + these + " ORDER BY number DESC LIMIT " +
         std::to_string(*most) + ')';
}

constexpr std::string_view kBeforeTheFirst =
    "0000000000000000000000000000000000000000000000000000000000000000";
constexpr std::string_view kColumns = "number, survey, refers_to, kind, time, body, hash";

/// An entry as it lies in the table.
struct Row {
  Number number = 0;
  std::optional<Number> survey, refers_to;
  std::string kind, time, body, hash;
};

Row row_from(const Statement& statement) {
  return {statement.integer(0), statement.maybe_integer(1), statement.maybe_integer(2), statement.text(3),
          statement.text(4),    statement.text(5),          statement.text(6)};
}

void add_netstring(std::string& bytes, std::string_view part) {
  bytes += std::to_string(part.size());
  bytes += ':';
  bytes += part;
  bytes += ',';
}

std::string decimal(std::optional<Number> number) { return number ? std::to_string(*number) : std::string(); }

std::string chained(std::string_view former, const Row& row) {
  std::string bytes;
  bytes.reserve(row.body.size() + 256);
  // Named: temporaries within the list of a range-for would be gone before the loop begins.
  const std::string number = decimal(row.number), survey = decimal(row.survey),
                    refers_to = decimal(row.refers_to);
  for (const std::string_view part :
       {former, std::string_view(number), std::string_view(survey), std::string_view(refers_to),
        std::string_view(row.kind), std::string_view(row.time), std::string_view(row.body)})
    add_netstring(bytes, part);
  return sha256(bytes);
}

/// A text from the file, made fit to be shown: the file may hold any bytes.
std::string plain(const std::string& text) {
  constexpr std::size_t kLongest = 40;
  std::string shown = text.substr(0, kLongest);
  for (char& c : shown)
    if (c < 0x20 || c > 0x7E) c = '?';
  return shown;
}

std::optional<Time> time_from(const std::string& text) {
  int year = 0, hour = 0, minute = 0, second = 0, microsecond = 0, end = 0;
  unsigned month = 0, day = 0;
  if (std::sscanf(text.c_str(), "%4d-%2u-%2uT%2d:%2d:%2d.%6dZ%n", &year, &month, &day, &hour, &minute,
                  &second, &microsecond, &end) != 7 ||
      static_cast<std::size_t>(end) != text.size())
    return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(month),
                                         std::chrono::day(day)};
  // Time counts nanoseconds and reaches from 1677 to 2262: these years lie well within.
  if (!date.ok() || year < 1700 || year > 2200) return std::nullopt;
  return Time(std::chrono::sys_days(date)) + std::chrono::hours(hour) + std::chrono::minutes(minute) +
         std::chrono::seconds(second) + std::chrono::microseconds(microsecond);
}

Fault could_not_write(int code, const std::string& path, const std::string& message) {
  if (code == SQLITE_FULL)
    return {Trouble::full, path + ": no space left; nothing of this entry was written"};
  if (code == SQLITE_READONLY || code == SQLITE_PERM)
    return {Trouble::no_permission, path + " cannot be written: " + message};
  return {Trouble::cannot_write, path + " cannot be written now: " + message};
}

Fault could_not_read(int code, const std::string& path, const std::string& message) {
  switch (code) {
    case SQLITE_NOTADB:
      return {Trouble::foreign, path + " is no level book"};
    case SQLITE_CORRUPT:
      return {Trouble::damaged, path + " is damaged: " + message};
    default:
      return {Trouble::cannot_read, path + " cannot be read: " + message};
  }
}

/// What is wrong with what lies at the path. Asked before SQLite opens it, since SQLite takes an empty file for a new database.
std::optional<Fault> objection_to(const std::string& path, bool to_write, bool& exists) {
  struct stat file {};
  exists = ::stat(path.c_str(), &file) == 0;
  if (!exists) {
    if (errno == ENOENT || errno == ENOTDIR) return std::nullopt;
    return Fault{errno == EACCES ? Trouble::no_permission : Trouble::cannot_read,
                 path + " cannot be reached: " + std::strerror(errno)};
  }
  if (S_ISDIR(file.st_mode)) return Fault{Trouble::not_a_file, path + " is a directory; name a file"};
  if (!S_ISREG(file.st_mode)) return Fault{Trouble::not_a_file, path + " is no regular file"};
  if (file.st_size == 0)
    return Fault{Trouble::foreign,
                 path + " is empty, and no level book; for a new book name a file that is not there yet"};
  if (::access(path.c_str(), R_OK) != 0) return Fault{Trouble::no_permission, path + " may not be read"};
  if (to_write && ::access(path.c_str(), W_OK) != 0)
    return Fault{Trouble::no_permission, path + " is read only; a level book that is kept must be writable"};
  return std::nullopt;
}

}  // namespace

std::string rfc3339(Time time) {
  const auto day = std::chrono::floor<std::chrono::days>(time);
  const std::chrono::year_month_day date(day);
  const std::chrono::hh_mm_ss clock(std::chrono::floor<std::chrono::microseconds>(time - day));
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%04d-%02u-%02uT%02d:%02d:%02d.%06dZ",
                static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                static_cast<unsigned>(date.day()), static_cast<int>(clock.hours().count()),
                static_cast<int>(clock.minutes().count()), static_cast<int>(clock.seconds().count()),
                static_cast<int>(clock.subseconds().count()));
  return text.data();
}

/// The file, its lock and where its chain ends.
class Book::Store {
 public:
  Store(std::string path, std::optional<WriterLock> lock) : path_(std::move(path)), lock_(std::move(lock)) {}

  [[nodiscard]] Result<Done, Fault> make() const;
  [[nodiscard]] Result<Done, Fault> open(Database::Access access);
  [[nodiscard]] Result<Number, Fault> append(std::span<const Entry> entries);
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
  [[nodiscard]] Fault unreadable(int code) const { return could_not_read(code, path_, database_.message()); }

  /// The condition that an entry is a SurveyBegun, written so that SQLite uses an index.
  [[nodiscard]] std::string begun() const {
    return "kind = 'survey begun'" + (schema_ < 4 ? " AND " + std::string(kFew) : "");
  }
  [[nodiscard]] Number last() const { return last_; }
  [[nodiscard]] const std::string& last_hash() const { return last_hash_; }
  [[nodiscard]] const Database& database() const { return database_; }
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  [[nodiscard]] std::optional<Fault> identity();
  [[nodiscard]] std::optional<Fault> find_end();
  [[nodiscard]] std::optional<Fault> upgrade();
  [[nodiscard]] std::optional<Fault> objection(const Row& row, const Content& content,
                                               std::span<const Row> before) const;
  [[nodiscard]] Result<Row, Fault> row_for(const Entry& entry, std::span<const Row> before) const;

  std::string path_;
  std::optional<WriterLock> lock_;
  Database database_;
  Statement insert_;
  int schema_ = 0;
  mutable Number known_survey_ = 0;  // the last that was looked up and is one
  Number last_ = 0;
  std::string last_hash_{kBeforeTheFirst};
  bool end_is_certain_ = false;
};

namespace {

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

std::string set_schema(int schema) { return "PRAGMA user_version = " + std::to_string(schema); }

}  // namespace

/// Makes a new book under another name and renames it when it is whole, so that a file of the book's name is a whole book.
Result<Done, Fault> Book::Store::make() const {
  const std::string making = path_ + "-making";
  std::error_code error;                   // if it cannot be removed, making it anew says why
  std::filesystem::remove(making, error);  // what an interrupted attempt left; we hold the lock
  Database database;
  int code = database.open(making, Database::Access::create);
  const std::string identity =
      "PRAGMA application_id = " + std::to_string(kApplication) + "; " + set_schema(kSchema);
  if (code == SQLITE_OK) code = database.run("PRAGMA synchronous = FULL;");
  if (code == SQLITE_OK) code = database.run("BEGIN;");
  for (const Rule& rule : kRules)
    if (code == SQLITE_OK) code = database.run(rule.sql);
  if (code == SQLITE_OK) code = database.run(identity.c_str());
  if (code == SQLITE_OK) code = database.run("COMMIT;");
  const std::string message = database.message();
  const int closed = database.close();
  if (code == SQLITE_OK) code = closed;
  if (code != SQLITE_OK) {
    std::error_code ignored;  // what is left of the attempt does no harm: the next one removes it
    std::filesystem::remove(making, ignored);
    return could_not_write(code, path_, message);
  }
  std::filesystem::rename(making, path_, error);
  if (error) return Fault{Trouble::cannot_write, path_ + " cannot be made: " + error.message()};
  return Done{};
}

Result<Done, Fault> Book::Store::open(Database::Access access) {
  int code = database_.open(path_, access);
  // On a medium that cannot be written, SQLite reads only when it is told that nobody else writes there either.
  if (access == Database::Access::read && code == SQLITE_OK &&
      !database_.integer("SELECT count(*) FROM sqlite_schema") && !std::filesystem::exists(path_ + "-wal"))
    code = database_.open(path_, Database::Access::read_unchanging);
  if (code != SQLITE_OK) return unreadable(code);
  if (const auto fault = identity()) return *fault;
  if (access == Database::Access::read) return Done{};
  if (database_.read_only()) return Fault{Trouble::no_permission, path_ + " is read only"};
  if (database_.text("PRAGMA journal_mode = WAL") != "wal")
    return Fault{Trouble::cannot_write, path_ +
                                            " cannot be kept here: this file system has no shared memory for "
                                            "SQLite's write-ahead log (" +
                                            database_.message() + ")"};
  if (const int set = database_.run("PRAGMA synchronous = FULL;"); set != SQLITE_OK)
    return could_not_write(set, path_, database_.message());
  if (const auto fault = find_end()) return *fault;
  if (const auto fault = upgrade()) return *fault;
  const int prepared = database_.prepare("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)", insert_);
  if (prepared != SQLITE_OK) return unreadable(prepared);
  return Done{};
}

std::optional<Fault> Book::Store::identity() {
  Statement statement;
  int code = database_.prepare("PRAGMA application_id", statement);
  if (code == SQLITE_OK) code = statement.step();
  if (code != SQLITE_ROW) return unreadable(code);
  if (statement.integer(0) != kApplication)
    return Fault{Trouble::foreign, path_ + " is a database, but no level book"};
  const std::int64_t schema = database_.integer("PRAGMA user_version").value_or(0);
  if (schema > kSchema)
    return Fault{Trouble::newer, path_ + " was written by a later version (book format " +
                                     std::to_string(schema) + ", this program knows " +
                                     std::to_string(kSchema) + ")"};
  if (schema < 1 || !database_.integer("SELECT count(*) FROM sqlite_schema WHERE name = 'entry'").value_or(0))
    return Fault{Trouble::damaged, path_ + " calls itself a level book, but holds no entries table"};
  schema_ = static_cast<int>(schema);
  return std::nullopt;
}

/// Makes the book one of the latest schema, in one transaction that touches no entry.
std::optional<Fault> Book::Store::upgrade() {
  if (schema_ == kSchema) return std::nullopt;
  int code = database_.run("BEGIN IMMEDIATE");
  for (const Rule& rule : kRules)
    if (code == SQLITE_OK && rule.since > schema_) code = database_.run(rule.sql);
  if (code == SQLITE_OK) code = database_.run(set_schema(kSchema).c_str());
  if (code == SQLITE_OK) code = database_.run("COMMIT");
  if (code != SQLITE_OK) {
    Fault fault = could_not_write(code, path_, database_.message());
    fault.says += " (on the way from book format " + std::to_string(schema_) + " to " +
                  std::to_string(kSchema) + "; it is as it was)";
    if (database_.in_transaction()) static_cast<void>(database_.run("ROLLBACK"));
    return fault;
  }
  schema_ = kSchema;
  return std::nullopt;
}

/// The last entry must at least agree with itself; audit() walks the whole chain.
std::optional<Fault> Book::Store::find_end() {
  Row last, former;
  former.hash = kBeforeTheFirst;
  const auto read = each("ORDER BY number DESC LIMIT 2", {}, [&](Row row) {
    (last.number == 0 ? last : former) = std::move(row);
    return true;
  });
  if (!read.ok()) return read.fault();
  if (last.number == 0) {
    last.hash = kBeforeTheFirst;
  } else if (former.number != last.number - 1 || chained(former.hash, last) != last.hash) {
    return Fault{Trouble::damaged, path_ + " is damaged: its last entry, " + std::to_string(last.number) +
                                       ", does not fit the chain"};
  }
  last_ = last.number;
  last_hash_ = last.hash;
  end_is_certain_ = true;
  return std::nullopt;
}

/// What is wrong with the entry that the row refers to. `before`: rows that are to be appended together with it.
std::optional<Fault> Book::Store::objection(const Row& row, const Content& content,
                                            std::span<const Row> before) const {
  struct Target {
    std::string kind;
    std::optional<Number> survey;
    std::string body;
  };
  const auto target = [&](Number number) {
    std::optional<Target> found;
    if (number > last_) {
      const auto place = static_cast<std::size_t>(number - last_ - 1);
      if (place < before.size()) found = Target{before[place].kind, before[place].survey, before[place].body};
      return found;
    }
    Statement statement;
    if (database_.prepare("SELECT kind, survey, body FROM entry WHERE number = ?", statement) == SQLITE_OK &&
        statement.bind(number).step() == SQLITE_ROW)
      found = Target{statement.text(0), statement.maybe_integer(1), statement.text(2)};
    return found;
  };
  if (row.survey && *row.survey != known_survey_) {
    const auto begun = target(*row.survey);
    if (!begun || begun->kind != "survey begun")
      return Fault{Trouble::not_an_entry, "there is no survey " + decimal(row.survey) + " in " + path_};
    if (*row.survey <= last_) known_survey_ = *row.survey;
  }
  if (row.refers_to) {
    const auto* const move = std::get_if<MoveMade>(&content);
    const std::string wanted = move != nullptr ? "card" : "reading";
    const std::string which = "entry " + decimal(row.refers_to) + " of " + path_;
    const auto found = target(*row.refers_to);
    if (!found || found->kind != wanted || found->survey != row.survey)
      return Fault{Trouble::not_an_entry,
                   which + " is no " + wanted + ' ' +
                       (row.survey ? "of survey " + decimal(row.survey) : "outside of surveys")};
    if (move != nullptr) {
      const auto card = content_from(found->kind, found->body, {});
      const std::vector<CardMove> moves = card ? moves_of(std::get<Card>(*card)) : std::vector<CardMove>{};
      if (std::none_of(moves.begin(), moves.end(), [&](const CardMove& it) {
            return it.order == move->order && it.support == move->support;
          }))
        return Fault{Trouble::not_an_entry, which + " is a card that has no move " +
                                                std::to_string(move->order) + " at \"" + move->support + '"'};
    }
  }
  return std::nullopt;
}

Result<Row, Fault> Book::Store::row_for(const Entry& entry, std::span<const Row> before) const {
  auto body = body_of(entry.content);
  if (!body)
    return Fault{Trouble::not_an_entry, "a value that is no finite number has no place in a level book"};
  Row row{last_ + static_cast<Number>(before.size()) + 1,
          entry.survey,
          refers_to(entry.content),
          std::string(kind(entry.content)),
          rfc3339(entry.time),
          std::move(*body),
          {}};
  if (auto fault = objection(row, entry.content, before)) return *std::move(fault);
  row.hash = chained(before.empty() ? last_hash_ : before.back().hash, row);
  return row;
}

Result<Number, Fault> Book::Store::append(std::span<const Entry> entries) {
  if (!lock_) return Fault{Trouble::no_permission, path_ + " was opened to read only"};
  if (entries.empty()) return Fault{Trouble::not_an_entry, "nothing to append"};
  // After a commit that failed it is not known whether the entries are in the file: it is read again.
  if (!end_is_certain_)
    if (const auto fault = find_end()) return *fault;

  std::vector<Row> rows;
  for (const Entry& entry : entries) {
    auto row = row_for(entry, rows);
    if (!row.ok()) return row.fault();
    rows.push_back(std::move(row).value());
  }

  const bool several = rows.size() > 1;  // a single statement is a transaction by itself
  int code = several ? database_.run("BEGIN IMMEDIATE") : SQLITE_OK;
  for (const Row& row : rows) {
    if (code != SQLITE_OK) break;
    insert_.bind(row.number).bind(row.survey).bind(row.refers_to);
    insert_.bind(row.kind).bind(row.time).bind(row.body).bind(row.hash);
    code = insert_.step();
    insert_.reset();
    if (code == SQLITE_DONE) code = SQLITE_OK;
  }
  if (several && code == SQLITE_OK) code = database_.run("COMMIT");
  if (code != SQLITE_OK) {
    const Fault fault = could_not_write(code, path_, database_.message());
    if (database_.in_transaction())
      static_cast<void>(database_.run("ROLLBACK"));  // SQLite may have rolled back already
    end_is_certain_ = false;
    return fault;
  }
  last_ = rows.back().number;
  last_hash_ = rows.back().hash;
  return rows.front().number;
}

template <class OnRow>
Result<Done, Fault> Book::Store::each(const std::string& condition, std::initializer_list<Number> numbers,
                                      OnRow on_row) const {
  Statement statement;
  const std::string sql = "SELECT " + std::string(kColumns) + " FROM entry " + condition;
  int code = database_.prepare(sql, statement);
  if (code != SQLITE_OK) return unreadable(code);
  for (const Number number : numbers) statement.bind(number);
  while ((code = statement.step()) == SQLITE_ROW)
    if (!on_row(row_from(statement))) return Done{};
  if (code != SQLITE_DONE) return unreadable(code);
  return Done{};
}

template <class Sheet>
Result<std::optional<Number>, Fault> Book::Store::find_sheet(const Sheet& sheet) const {
  std::optional<Number> found;
  // This finds the member and never a text within the body: there quotes are escaped.
  const std::string digest = "\"sha256\":\"" + sha256(sheet.text) + '"';
  const auto read = each("WHERE kind = '" + std::string(kind(sheet)) + "' AND " + std::string(kFew) +
                             " AND instr(body, '" + digest + "') > 0 ORDER BY number DESC",
                         {}, [&](const Row& row) {
                           const auto content = content_from(row.kind, row.body, row.refers_to);
                           if (content && std::get<Sheet>(*content).text == sheet.text) found = row.number;
                           return !found;
                         });
  if (!read.ok()) return read.fault();
  return found;
}

Book::Book(std::unique_ptr<Store> store) : store_(std::move(store)) {}
Book::Book(Book&&) noexcept = default;
Book& Book::operator=(Book&&) noexcept = default;
Book::~Book() = default;

Result<Book, Fault> Book::open(const std::string& path) {
  bool exists = false;
  if (const auto fault = objection_to(path, /*to_write=*/true, exists)) return *fault;
  WriterLock::Refusal refusal{};
  int error = 0;
  auto lock = WriterLock::take(path, refusal, error);
  if (!lock) {
    if (refusal == WriterLock::Refusal::held)
      return Fault{Trouble::in_use, path + " is in use: another daemon writes in it"};
    const Trouble trouble = error == ENOENT || error == ENOTDIR ? Trouble::absent
                            : error == EACCES || error == EROFS ? Trouble::no_permission
                            : error == ENOSPC                   ? Trouble::full
                                                                : Trouble::cannot_write;
    return Fault{trouble, "a level book cannot be kept at " + path + ": " + std::strerror(error)};
  }
  auto store = std::make_unique<Store>(path, std::move(lock));
  // Asked again: until the lock was ours, somebody else might have made it.
  if (const auto fault = objection_to(path, /*to_write=*/true, exists)) return *fault;
  if (!exists)
    if (const auto made = store->make(); !made.ok()) return made.fault();
  if (const auto opened = store->open(Database::Access::write); !opened.ok()) return opened.fault();
  return Book(std::move(store));
}

Result<Book, Fault> Book::open_to_read(const std::string& path) {
  bool exists = false;
  if (const auto fault = objection_to(path, /*to_write=*/false, exists)) return *fault;
  if (!exists) return Fault{Trouble::absent, "there is no " + path};
  auto store = std::make_unique<Store>(path, std::nullopt);
  if (const auto opened = store->open(Database::Access::read); !opened.ok()) return opened.fault();
  return Book(std::move(store));
}

Result<Number, Fault> Book::append(const Entry& entry) { return store_->append(std::span(&entry, 1)); }
Result<Number, Fault> Book::append(std::span<const Entry> entries) { return store_->append(entries); }

Result<SealRecord, Fault> Book::seal(Time time) {
  const Entry entry{Seal{store_->last(), store_->last_hash()}, std::nullopt, time};
  const auto number = append(entry);
  if (!number.ok()) return number.fault();
  return SealRecord{number.value(), store_->last_hash(), rfc3339(entry.time)};
}

Result<Entry, Fault> Book::entry(Number number) const {
  std::optional<Entry> found;
  const auto read = store_->each("WHERE number = ?", {number}, [&](const Row& row) {
    const auto content = content_from(row.kind, row.body, row.refers_to);
    const auto time = time_from(row.time);
    if (content && time) found = Entry{*content, row.survey, *time};
    return true;
  });
  if (!read.ok()) return read.fault();
  if (!found)
    return Fault{Trouble::not_an_entry, store_->path() + " has no readable entry " + std::to_string(number)};
  return *std::move(found);
}

Result<std::vector<NumberedEntry>, Fault> Book::Store::entries(const std::string& condition,
                                                               std::initializer_list<Number> numbers) const {
  std::vector<NumberedEntry> entries;
  std::optional<Fault> bad;
  const auto read = each(condition + " ORDER BY number", numbers, [&](const Row& row) {
    auto content = content_from(row.kind, row.body, row.refers_to);
    const auto time = time_from(row.time);
    if (content && time)
      entries.push_back({row.number, {*std::move(content), row.survey, *time}});
    else
      bad = Fault{Trouble::damaged,
                  path_ + " is damaged: entry " + std::to_string(row.number) + " cannot be read"};
    return !bad;
  });
  if (!read.ok()) return read.fault();
  if (bad) return *bad;
  return entries;
}

Result<std::vector<NumberedEntry>, Fault> Book::entries(Number survey,
                                                        std::initializer_list<std::string_view> kinds) const {
  std::string wanted;
  for (const std::string_view word : kinds)
    wanted += (wanted.empty() ? "'" : ", '") + std::string(word) + '\'';
  return store_->entries("WHERE survey = ?" + (wanted.empty() ? "" : " AND kind IN (" + wanted + ")"),
                         {survey});
}

Result<std::vector<NumberedEntry>, Fault> Book::checks() const {
  return store_->entries("WHERE kind IN ('zero check', 'datum check') AND " + std::string(kFew), {});
}

Result<std::vector<SealRecord>, Fault> Book::seals(std::optional<int> last) const {
  std::vector<SealRecord> seals;
  const auto read =
      store_->each("WHERE " + the_last("kind = 'seal' AND " + std::string(kFew), last) + " ORDER BY number",
                   {}, [&](const Row& row) {
                     seals.push_back({row.number, row.hash, row.time});
                     return true;
                   });
  if (!read.ok()) return read.fault();
  return seals;
}

Result<std::vector<SurveyRecord>, Fault> Book::surveys(std::optional<int> last,
                                                       std::optional<Number> run) const {
  // This finds the member and never a text within the body: there quotes are escaped.
  const std::string by_run = !run ? "" : " AND instr(body, '\"run\":" + std::to_string(*run) + ",') > 0";
  return store_->surveys(the_last(store_->begun() + by_run, last), {});
}

Result<std::optional<SurveyRecord>, Fault> Book::survey(const std::string& id) const {
  // body_of() writes the id first. So the bodies with this id lie between `from` with a quote behind it and `from` with '#', the
  // next character.
  const std::string body = *body_of(SurveyBegun{id, {}, 0, 0});
  const std::string from = body.substr(0, body.find("\",\"stage\":"));
  auto found = store_->surveys(store_->begun() + " AND body >= ?1 AND body < ?2", {from + '"', from + '#'});
  if (!found.ok()) return found.fault();
  if (found.value().empty()) return std::optional<SurveyRecord>();
  return std::optional(std::move(found.value().front()));
}

Result<std::int64_t, Fault> Book::survey_count() const {
  const auto count = store_->database().integer("SELECT count(*) FROM entry WHERE " + store_->begun());
  if (!count) return store_->unreadable(SQLITE_ERROR);
  return *count;
}

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

Result<std::vector<BookedReading>, Fault> Book::readings(Number survey) const {
  const auto all = entries(survey, {"reading", "set aside", "put back", "corrected"});
  if (!all.ok()) return all.fault();
  return booked_readings(all.value());
}

std::vector<BookedReading> booked_readings(std::span<const NumberedEntry> entries) {
  std::vector<BookedReading> readings;
  std::map<Number, std::size_t> place;
  for (const auto& [number, entry] : entries) {
    if (const auto* taken = std::get_if<Taken>(&entry.content)) {
      place[number] = readings.size();
      readings.push_back({number, *taken, taken->reading, true, {}});
      continue;
    }
    const auto of = place.find(refers_to(entry.content).value_or(0));
    if (of == place.end()) continue;
    BookedReading& reading = readings[of->second];
    if (const auto* aside = std::get_if<SetAside>(&entry.content)) {
      reading.kept = false;
      reading.reason = aside->reason;
    } else if (const auto* back = std::get_if<PutBack>(&entry.content)) {
      reading.kept = true;
      reading.reason = back->reason;
    } else if (const auto* corrected = std::get_if<Corrected>(&entry.content)) {
      reading.reading = corrected->by;
      reading.reason = corrected->reason;
    }
  }
  return readings;
}

Result<std::vector<BookedCard>, Fault> Book::cards(Number survey) const {
  const auto all = entries(survey, {"card", "move made"});
  if (!all.ok()) return all.fault();
  return booked_cards(all.value());
}

std::vector<BookedCard> booked_cards(std::span<const NumberedEntry> entries) {
  std::vector<BookedCard> cards;
  for (const auto& [number, entry] : entries) {
    if (const auto* const card = std::get_if<Card>(&entry.content))
      cards.push_back({number, *card, moves_of(*card), {}});
    const auto* const move = std::get_if<MoveMade>(&entry.content);
    if (move == nullptr) continue;
    for (BookedCard& card : cards) {
      if (card.number != move->card) continue;
      std::erase(card.made, move->order);
      if (move->made) card.made.push_back(move->order);
    }
  }
  return cards;
}

Result<std::optional<Number>, Fault> Book::find(const RunText& run) const { return store_->find_sheet(run); }
Result<std::optional<Number>, Fault> Book::find(const KitText& kit) const { return store_->find_sheet(kit); }

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
