#include "firmware-host/book/book.hpp"

#include <fcntl.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

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
#include "firmware-host/book/writer_lock.hpp"

namespace hangtrue::book {
namespace {

// What the book's file is made of. audit() compares the file with these very texts.
constexpr std::array<std::pair<const char*, const char*>, 4> kRules{{
    {"entry",
     "CREATE TABLE entry (number INTEGER PRIMARY KEY, survey INTEGER, refers_to INTEGER, kind TEXT NOT NULL, "
     "time TEXT NOT NULL, body TEXT NOT NULL, hash TEXT NOT NULL) STRICT"},
    {"entry_by_survey", "CREATE INDEX entry_by_survey ON entry (survey, kind)"},
    {"no_change",
     "CREATE TRIGGER no_change BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
     "only'); "
     "END"},
    {"no_removal",
     "CREATE TRIGGER no_removal BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'a level book is append "
     "only'); "
     "END"},
}};

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
  // Named, since a range-for lets temporaries inside its list die before the first turn.
  const std::string number = decimal(row.number), survey = decimal(row.survey),
                    refers_to = decimal(row.refers_to);
  for (const std::string_view part :
       {former, std::string_view(number), std::string_view(survey), std::string_view(refers_to),
        std::string_view(row.kind), std::string_view(row.time), std::string_view(row.body)})
    add_netstring(bytes, part);
  return sha256(bytes);
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
  if (!date.ok()) return std::nullopt;
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

/// What lies at the path, before SQLite sees it: it would take an empty file for a new database.
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
  template <class Sheet>
  [[nodiscard]] Result<std::optional<Number>, Fault> find_sheet(const Sheet& sheet) const;
  [[nodiscard]] Fault unreadable(int code) const { return could_not_read(code, path_, database_.message()); }

  [[nodiscard]] Number last() const { return last_; }
  [[nodiscard]] const std::string& last_hash() const { return last_hash_; }
  [[nodiscard]] const Database& database() const { return database_; }
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  [[nodiscard]] std::optional<Fault> identity() const;
  [[nodiscard]] std::optional<Fault> find_end();
  [[nodiscard]] Result<Row, Fault> row_for(const Entry& entry, Number number, std::string_view former) const;

  std::string path_;
  std::optional<WriterLock> lock_;
  Database database_;
  mutable Statement insert_;
  Number last_ = 0;
  std::string last_hash_{kBeforeTheFirst};
  bool end_is_certain_ = false;
};

/// A new book comes into being whole, under another name, and is then given its own: a book that exists is a book.
Result<Done, Fault> Book::Store::make() const {
  const std::string making = path_ + "-making";
  std::error_code error;                   // if it cannot be removed, making it anew says why
  std::filesystem::remove(making, error);  // of one that was interrupted; we hold the lock
  Database database;
  int code = database.open(making, Database::Access::create);
  const std::string identity = "PRAGMA application_id = " + std::to_string(kApplication) +
                               "; PRAGMA user_version = " + std::to_string(kSchema) + ";";
  if (code == SQLITE_OK) code = database.run("PRAGMA synchronous = FULL;");
  if (code == SQLITE_OK) code = database.run("BEGIN;");
  for (const auto& [name, sql] : kRules)
    if (code == SQLITE_OK) code = database.run(sql);
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
  // On a medium that cannot be written even reading wants a word: that nobody else writes there either.
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
  const int prepared = database_.prepare("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)", insert_);
  if (prepared != SQLITE_OK) return unreadable(prepared);
  return Done{};
}

std::optional<Fault> Book::Store::identity() const {
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

Result<Row, Fault> Book::Store::row_for(const Entry& entry, Number number, std::string_view former) const {
  auto body = body_of(entry.content);
  if (!body)
    return Fault{Trouble::not_an_entry, "a value that is no finite number has no place in a level book"};
  Row row{number,
          entry.survey,
          refers_to(entry.content),
          std::string(kind(entry.content)),
          rfc3339(entry.time),
          std::move(*body),
          {}};
  if (row.survey && (*row.survey < 1 || *row.survey >= number))
    return Fault{Trouble::not_an_entry, "there is no survey " + decimal(row.survey) + " in " + path_};
  if (row.refers_to && (*row.refers_to < 1 || *row.refers_to >= number))
    return Fault{Trouble::not_an_entry, "there is no entry " + decimal(row.refers_to) + " in " + path_};
  row.hash = chained(former, row);
  return row;
}

Result<Number, Fault> Book::Store::append(std::span<const Entry> entries) {
  if (!lock_) return Fault{Trouble::no_permission, path_ + " was opened to read only"};
  if (entries.empty()) return Fault{Trouble::not_an_entry, "nothing to append"};
  // After a commit that failed nobody knows whether it came to be; the file does.
  if (!end_is_certain_)
    if (const auto fault = find_end()) return *fault;

  std::vector<Row> rows;
  for (const Entry& entry : entries) {
    auto row = row_for(entry, last_ + static_cast<Number>(rows.size()) + 1,
                       rows.empty() ? last_hash_ : rows.back().hash);
    if (!row.ok()) return row.fault();
    rows.push_back(std::move(row).value());
  }

  int code = database_.run("BEGIN IMMEDIATE");
  for (const Row& row : rows) {
    if (code != SQLITE_OK) break;
    insert_.bind(row.number).bind(row.survey).bind(row.refers_to);
    insert_.bind(row.kind).bind(row.time).bind(row.body).bind(row.hash);
    code = insert_.step();
    insert_.reset();
    if (code == SQLITE_DONE) code = SQLITE_OK;
  }
  if (code == SQLITE_OK) code = database_.run("COMMIT");
  if (code != SQLITE_OK) {
    const Fault fault = could_not_write(code, path_, database_.message());
    if (database_.in_transaction())
      static_cast<void>(database_.run("ROLLBACK"));  // may have happened by itself
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
  const std::string condition = "WHERE kind = '" + std::string(kind(sheet)) + "' ORDER BY number";
  const auto read = each(condition, {}, [&](const Row& row) {
    const auto content = content_from(row.kind, row.body, row.refers_to);
    if (content && std::get<Sheet>(*content).text == sheet.text) found = row.number;
    return true;
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
  // Looked at again now that nobody else can make it.
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

Result<SealRecord, Fault> Book::seal() {
  const Entry entry{Seal{store_->last(), store_->last_hash()}, std::nullopt};
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

Result<std::vector<NumberedEntry>, Fault> Book::entries(Number survey,
                                                        std::initializer_list<std::string_view> kinds) const {
  std::string wanted;
  for (const std::string_view word : kinds)
    wanted += (wanted.empty() ? "'" : ", '") + std::string(word) + '\'';
  std::vector<NumberedEntry> entries;
  std::optional<Fault> bad;
  const auto read = store_->each(
      "WHERE survey = ?" + (wanted.empty() ? "" : " AND kind IN (" + wanted + ")") + " ORDER BY number",
      {survey}, [&](const Row& row) {
        auto content = content_from(row.kind, row.body, row.refers_to);
        const auto time = time_from(row.time);
        if (content && time) {
          entries.push_back({row.number, {*std::move(content), row.survey, *time}});
          return true;
        }
        bad = Fault{Trouble::damaged,
                    store_->path() + " is damaged: entry " + std::to_string(row.number) + " cannot be read"};
        return false;
      });
  if (!read.ok()) return read.fault();
  if (bad) return *bad;
  return entries;
}

Result<std::vector<SurveyRecord>, Fault> Book::surveys() const {
  std::vector<SurveyRecord> surveys;
  std::map<Number, std::size_t> place;
  std::optional<Fault> bad;
  const auto read = store_->each(
      "WHERE kind IN ('survey begun', 'survey closed', 'reading') ORDER BY number", {}, [&](const Row& row) {
        const auto content = content_from(row.kind, row.body, row.refers_to);
        const auto* begun = content ? std::get_if<SurveyBegun>(&*content) : nullptr;
        const auto of = row.survey ? place.find(*row.survey) : place.end();
        if (begun != nullptr) {
          place[row.number] = surveys.size();
          surveys.push_back({row.number, *begun, row.time, false, 0});
        } else if (content && of != place.end()) {
          if (std::holds_alternative<SurveyClosed>(*content))
            surveys[of->second].closed = true;
          else
            ++surveys[of->second].readings;
        } else {
          bad = Fault{Trouble::damaged, store_->path() + " is damaged: entry " + std::to_string(row.number) +
                                            " belongs to no survey"};
        }
        return !bad;
      });
  if (!read.ok()) return read.fault();
  if (bad) return *bad;
  return surveys;
}

Result<std::vector<BookedReading>, Fault> Book::readings(Number survey) const {
  const auto all = entries(survey, {"reading", "set aside", "put back", "corrected"});
  if (!all.ok()) return all.fault();
  std::vector<BookedReading> readings;
  std::map<Number, std::size_t> place;
  for (const auto& [number, entry] : all.value()) {
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

Result<std::optional<Number>, Fault> Book::find(const RunText& run) const { return store_->find_sheet(run); }
Result<std::optional<Number>, Fault> Book::find(const KitText& kit) const { return store_->find_sheet(kit); }

Result<Audit, Fault> Book::audit() const {
  Audit audit;
  std::string former(kBeforeTheFirst);
  const auto bad = [&audit](Number number, const std::string& why) {
    if (!audit.first_bad) audit.first_bad = number;
    audit.findings.push_back("entry " + std::to_string(number) + " " + why);
    return false;  // what follows hangs on it: one finding says it all
  };
  const auto walked = store_->each("ORDER BY number", {}, [&](const Row& row) {
    const Number expected = audit.entries + 1;
    if (row.number != expected) return bad(expected, "is missing");
    ++audit.entries;
    if (chained(former, row) != row.hash)
      return bad(row.number, "does not fit the chain: it, or the one before it, was changed");
    const auto content = content_from(row.kind, row.body, row.refers_to);
    if (!content || !time_from(row.time)) return bad(row.number, "cannot be read as a " + row.kind);
    if (const auto* seal = std::get_if<Seal>(&*content)) {
      if (seal->entries != row.number - 1 || seal->hash != former)
        return bad(row.number, "is a seal over another book");
      audit.seals.push_back({row.number, row.hash, row.time});
    }
    former = row.hash;
    return true;
  });
  if (!walked.ok()) audit.findings.push_back(walked.fault().says);
  for (const auto& [name, sql] : kRules) {
    const auto found =
        store_->database().text("SELECT sql FROM sqlite_schema WHERE name = '" + std::string(name) + "'");
    if (found != sql)
      audit.findings.push_back("the file's own rule \"" + std::string(name) + "\" was changed or removed");
  }
  const auto integrity = store_->database().text("PRAGMA integrity_check");
  if (integrity != "ok")
    audit.findings.push_back("SQLite finds the file damaged: " + integrity.value_or("it cannot be checked"));
  return audit;
}

}  // namespace hangtrue::book
