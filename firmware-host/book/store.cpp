#include "firmware-host/book/store.hpp"

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/sha256.hpp"

namespace hangtrue::book {
namespace {

void add_netstring(std::string& bytes, std::string_view part) {
  bytes += std::to_string(part.size());
  bytes += ':';
  bytes += part;
  bytes += ',';
}

std::string decimal(std::optional<Number> number) { return number ? std::to_string(*number) : std::string(); }

std::string set_schema(int schema) { return "PRAGMA user_version = " + std::to_string(schema); }

}  // namespace

std::string the_last(const std::string& these, std::optional<int> most) {
  if (!most) return these;
  return "number IN (SELECT number FROM entry WHERE " + these + " ORDER BY number DESC LIMIT " +
         std::to_string(*most) + ')';
}

Row row_from(const Statement& statement) {
  return {statement.integer(0), statement.maybe_integer(1), statement.maybe_integer(2), statement.text(3),
          statement.text(4),    statement.text(5),          statement.text(6)};
}

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
  // More than is ever written: earlier programs wrote what a wrong clock said.
  if (!date.ok() || year < 1600 || year > 2999) return std::nullopt;
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

/// Makes a new book under another name and renames it when it is whole, so that a file of the book's name is a whole book.
Result<Done, Fault> Book::Store::make() const {
  const std::string making = real_ + "-making";
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
  std::filesystem::rename(making, real_, error);
  if (error) return Fault{Trouble::cannot_write, path_ + " cannot be made: " + error.message()};
  return Done{};
}

Result<Done, Fault> Book::Store::open_to_read() {
  const auto lies = [this](const char* beside) { return stamp_of(real_ + beside); };
  const auto log = lies("-wal");
  // An empty log is one that a reader left behind, or the beginning of one that is written now.
  const bool has_log = log && (log->size > 0 || lies("-lock"));
  const auto readable = [this] {
    return database_.integer("SELECT count(*) FROM sqlite_schema").has_value();
  };
  if (const auto file = stamp_of(real_)) read_ = file->id;
  int code = database_.open(real_, Database::Access::read);
  bool unchanging = false;
  if (code == SQLITE_OK && !readable()) {
    if (lies("-journal")) {
      // A writer was killed between two ways of keeping its log. Only who may write can end that; no entry is touched.
      Database mending;
      if (mending.open(real_, Database::Access::write) == SQLITE_OK)
        static_cast<void>(mending.integer("SELECT count(*) FROM sqlite_schema"));
    } else if (!log) {
      // On a medium that cannot be written, SQLite reads only when it is told that nobody else writes there either.
      code = database_.open(real_, Database::Access::read_unchanging);
      unchanging = true;
    }
  }
  if (code != SQLITE_OK) return unreadable(code);
  if (const auto fault = identity()) return *fault;
  log_may_be_missing_ = !has_log && (unchanging || database_.text("PRAGMA journal_mode") == "wal");
  return Done{};
}

Result<Done, Fault> Book::Store::open(Database::Access access) {
  if (access == Database::Access::read) return open_to_read();
  const auto files = stamps_of(real_), note = files ? verified_note(files->file.id) : std::nullopt;
  const int code = database_.open(real_, access);
  if (code != SQLITE_OK) return unreadable(code);
  if (const auto fault = hold_file()) return *fault;
  if (const auto fault = identity()) return *fault;
  if (database_.read_only()) return Fault{Trouble::no_permission, path_ + " is read only"};
  if (const auto foreign = foreign_rules(schema_); !foreign.empty())
    return Fault{Trouble::damaged, path_ + " is damaged: " + foreign.front()};
  if (const auto fault = find_end()) return *fault;
  noted_ = last_ == 0 || (files && note && same_files(*files, *note) && files->file.id == file_.id &&
                          last_ == note->entries && last_hash_ == note->hash);
  was_closed_ = database_.text("PRAGMA journal_mode") == "delete";
  const auto mode = database_.text("PRAGMA journal_mode = WAL");
  if (!mode)
    return Fault{Trouble::cannot_write,
                 path_ + " cannot be opened to write just now: " + database_.message()};
  if (mode != "wal")
    return Fault{Trouble::cannot_write, path_ +
                                            " cannot be kept here: this file system has no shared memory for "
                                            "SQLite's write-ahead log (" +
                                            database_.message() + ")"};
  if (const int set = database_.run("PRAGMA synchronous = FULL;"); set != SQLITE_OK)
    return could_not_write(set, path_, database_.message());
  database_.count_log(log_frames_);
  if (const auto fault = upgrade()) return *fault;
  const int prepared = database_.prepare("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)", insert_);
  if (prepared != SQLITE_OK) return unreadable(prepared);
  if (const auto fault = hold_log()) return *fault;
  open_ = true;
  fold();  // what a former writer was killed with
  return Done{};
}

/// Where the log is folded whole, and the file says that there is none. A reader may stand in the way: then it stays as it is.
Book::Store::~Store() {
  insert_ = {};
  if (!open_ && !was_closed_) return;
  if (open_ && (!taken_away_.empty() || check_place())) {
    database_.leave_log();  // neither the file nor the log at the path need be ours
    return;
  }
  fold();
  database_.wait_for_nobody();
  if (database_.text("PRAGMA journal_mode = DELETE") == "delete" && open_) note_as_verified();
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
  if (schema < 1 ||
      !database_.integer("SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'entry'")
           .value_or(0))
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

namespace {

/// A time in the entry that no clock which is set can say.
std::optional<Time> wrong_time_in(const Entry& entry) {
  const auto wrong = [](Time time) {
    const auto year = std::chrono::year_month_day(std::chrono::floor<std::chrono::days>(time)).year();
    return year < kFirstYear || year > kLastYear;
  };
  if (wrong(entry.time)) return entry.time;
  if (const auto* const samples = std::get_if<Samples>(&entry.content); samples && wrong(samples->from))
    return samples->from;
  if (const auto* const taken = std::get_if<Taken>(&entry.content))
    if (const auto time = time_from(taken->reading.time); time && wrong(*time)) return time;
  return std::nullopt;
}

}  // namespace

Result<Row, Fault> Book::Store::row_for(const Entry& entry, std::span<const Row> before) const {
  auto body = body_of(entry.content);
  if (!body)
    return Fault{Trouble::not_an_entry, "a value that is no finite number has no place in a level book"};
  const auto* const card = std::get_if<Card>(&entry.content);
  if (body->size() > kLongestBody || (card != nullptr && !within_limits(card->json)))
    return Fault{Trouble::not_an_entry, "an entry longer than " + std::to_string(kLongestBody >> 20) +
                                            " MiB, or a card whose members lie more than " +
                                            std::to_string(kDeepestBody) +
                                            " deep, has no place in a level book"};
  if (const auto wrong = wrong_time_in(entry)) {
    const std::string says =
        *wrong < Time{} ? "a time beyond 2262" : rfc3339(*wrong);  // there the system's clock turns over
    return Fault{Trouble::clock_is_wrong,
                 "this computer's clock says " + says +
                     "; a level book takes times of 2020 to 2199 only, and nothing was written. "
                     "Set the clock, and take it again"};
  }
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
  const auto away = amiss();
  // After a commit that failed it is not known whether the entries are in the file: it is read again.
  if (!end_is_certain_ && !away)
    if (const auto fault = find_end()) return *fault;

  std::vector<Row> rows;
  for (const Entry& entry : entries) {
    auto row = row_for(entry, rows);
    if (!row.ok()) return row.fault();
    rows.push_back(std::move(row).value());
  }
  if (away) return taken_away(*away, rows);
  taken_away_.clear();

  const bool several = rows.size() > 1;  // a single statement is a transaction by itself
  int code = several ? database_.run("BEGIN IMMEDIATE") : SQLITE_OK;
  for (const Row& row : rows) {
    if (code != SQLITE_OK) break;
    insert_.bind(row.number).bind(row.survey).bind(row.refers_to);
    insert_.bind(row.kind).bind(row.time).bind(row.body).bind(row.hash);
    code = insert_.step();
    if (code == SQLITE_DONE) code = database_.changes() == 1 ? SQLITE_OK : SQLITE_CORRUPT;
    insert_.reset();
  }
  if (several && code == SQLITE_OK) code = database_.run("COMMIT");
  if (code != SQLITE_OK) {
    const Fault fault =
        code == SQLITE_CORRUPT
            ? Fault{Trouble::damaged, path_ + " is damaged: it did not take an entry that was written to it"}
            : could_not_write(code, path_, database_.message());
    if (database_.in_transaction())
      static_cast<void>(database_.run("ROLLBACK"));  // SQLite may have rolled back already
    end_is_certain_ = false;
    return fault;
  }
  last_ = rows.back().number;
  last_hash_ = rows.back().hash;
  const Number first = rows.front().number;
  auto gone = amiss();
  if (!gone) gone = not_on_disk();
  if (gone) {
    end_is_certain_ = false;
    return taken_away(*gone, rows);
  }
  log_ = stamp_of(real_ + "-wal").value_or(log_);
  keep_rows(std::move(rows));
  return first;
}

void Book::Store::keep_rows(std::vector<Row> rows) {
  bool at_rest = false;
  since_fold_ += static_cast<int>(rows.size());
  for (Row& row : rows) {
    at_rest = at_rest || row.kind == "survey begun" || row.kind == "survey closed" || row.kind == "seal";
    kept_.push_back(std::move(row));
  }
  if (at_rest || since_fold_ >= kFoldEvery) fold();
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

}  // namespace hangtrue::book
