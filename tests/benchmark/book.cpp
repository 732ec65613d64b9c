// The level book: durable readings a second beside bare SQLite, and how long the list of many surveys takes.
#include <fcntl.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <system_error>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "tests/benchmark/side_by_side.hpp"

namespace hangtrue::bench {

namespace {

using Clock = std::chrono::steady_clock;
constexpr int kReadings = 500;  // a turn

double seconds_since(Clock::time_point begin) {
  return std::chrono::duration<double>(Clock::now() - begin).count();
}

/// A directory of its own, gone in the end.
class Directory {
 public:
  Directory() {
    std::string pattern = (std::filesystem::temp_directory_path() / "hangtrue-bench-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr)
      throw std::system_error(errno, std::generic_category(), "making " + pattern);
    path_ = pattern;
  }
  ~Directory() {
    std::error_code ignored;  // a leftover in the temporary directory does no harm
    std::filesystem::remove_all(path_, ignored);
  }
  Directory(const Directory&) = delete;
  Directory& operator=(const Directory&) = delete;
  [[nodiscard]] std::string operator/(const char* name) const { return (path_ / name).string(); }

 private:
  std::filesystem::path path_;
};

book::Entry reading(int i, std::optional<book::Number> survey) {
  return {book::Taken{.reading = {.time = "2026-09-14T08:30:00.250000Z",
                                  .set_up = "A",
                                  .instrument = "walking inclinometer",
                                  .channel = Channel::slope,
                                  .at_m = 0.3 * (i % 14),
                                  .face = i % 2 == 0 ? 1 : -1,
                                  .edge = survey::Edge::middle,
                                  .value = 1e-6 * i - 3.3e-4,
                                  .sigma = 2e-5,
                                  .base_m = 0.25},
                      .samples = 20,
                      .spread = 1.7e-5,
                      .temperature_C = 18.5},
          survey};
}

template <class Value>
Value need(Result<Value, book::Fault> result) {
  if (!result.ok()) throw std::runtime_error(result.fault().says);
  return std::move(result).value();
}

book::Number begin_survey(book::Book& book) {
  need(book.append({book::RunText{"run.toml", "invented"}, std::nullopt}));
  need(book.append({book::KitText{"kit.toml", "invented"}, std::nullopt}));
  return need(book.append({book::SurveyBegun{"1", "hung", 1, 2}, std::nullopt}));
}

struct Close {
  void operator()(sqlite3* connection) const { sqlite3_close(connection); }
  void operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
};
using Connection = std::unique_ptr<sqlite3, Close>;
using Prepared = std::unique_ptr<sqlite3_stmt, Close>;

Connection open(const std::string& path) {
  sqlite3* connection = nullptr;
  if (sqlite3_open(path.c_str(), &connection) != SQLITE_OK) throw std::runtime_error("opening " + path);
  return Connection(connection);
}
void run(const Connection& connection, const char* sql) {
  if (sqlite3_exec(connection.get(), sql, nullptr, nullptr, nullptr) != SQLITE_OK)
    throw std::runtime_error(sqlite3_errmsg(connection.get()));
}
Prepared prepare(const Connection& connection, const char* sql) {
  sqlite3_stmt* statement = nullptr;
  if (sqlite3_prepare_v2(connection.get(), sql, -1, &statement, nullptr) != SQLITE_OK)
    throw std::runtime_error(sqlite3_errmsg(connection.get()));
  return Prepared(statement);
}

/// The rows of a book, as bare SQLite is to insert them: hashes and bodies are there already.
class BareRows {
 public:
  /// A table, indexes and triggers like those of `book`, and its readings.
  BareRows(const std::string& book, const std::string& path) : connection_(open(path)) {
    run(connection_, "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL");
    const Connection source = open(book);
    const Prepared schema = prepare(source, "SELECT sql FROM sqlite_schema");
    while (sqlite3_step(schema.get()) == SQLITE_ROW)
      run(connection_, reinterpret_cast<const char*>(sqlite3_column_text(schema.get(), 0)));
    const Prepared rows = prepare(source, "SELECT kind, time, body, hash FROM entry WHERE kind = 'reading'");
    while (sqlite3_step(rows.get()) == SQLITE_ROW) {
      std::array<std::string, 4>& row = rows_.emplace_back();
      for (int column = 0; column < 4; ++column)
        row[std::size_t(column)] = reinterpret_cast<const char*>(sqlite3_column_text(rows.get(), column));
    }
    insert_ = prepare(connection_, "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)");
  }
  [[nodiscard]] double insert() {
    const Clock::time_point begin = Clock::now();
    for (const std::array<std::string, 4>& row : rows_) {
      sqlite3_bind_int64(insert_.get(), 1, ++number_);
      sqlite3_bind_int64(insert_.get(), 2, 3);
      sqlite3_bind_null(insert_.get(), 3);
      for (int column = 0; column < 4; ++column)
        sqlite3_bind_text(insert_.get(), 4 + column, row[std::size_t(column)].c_str(), -1, SQLITE_STATIC);
      if (sqlite3_step(insert_.get()) != SQLITE_DONE)
        throw std::runtime_error(sqlite3_errmsg(connection_.get()));
      sqlite3_reset(insert_.get());
    }
    return seconds_since(begin);
  }

 private:
  Connection connection_;
  Prepared insert_;
  std::vector<std::array<std::string, 4>> rows_;
  book::Number number_ = 0;
};

/// Appending 4 KiB to a file and fdatasync(), as often a turn.
double bare_syncs(const std::string& path) {
  const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  const std::array<char, 4096> block{};
  const Clock::time_point begin = Clock::now();
  for (int i = 0; i < kReadings; ++i)
    if (::write(file, block.data(), block.size()) != ssize_t(block.size()) || ::fdatasync(file) != 0)
      throw std::system_error(errno, std::generic_category(), "writing " + path);
  const double seconds = seconds_since(begin);
  ::close(file);
  return seconds;
}

std::string show_rate(double seconds) {
  char text[32];
  std::snprintf(text, sizeof text, "%.0f /s", kReadings / seconds);
  return text;
}

void durable_readings() {
  const Directory directory;
  {
    book::Book rows = need(book::Book::open(directory / "rows.levelbook"));
    const book::Number survey = begin_survey(rows);
    std::vector<book::Entry> entries;
    for (int i = 0; i < kReadings; ++i) entries.push_back(reading(i, survey));
    need(rows.append(entries));
  }
  book::Book ours = need(book::Book::open(directory / "ours.levelbook"));
  const book::Number survey = begin_survey(ours);
  BareRows bare(directory / "rows.levelbook", directory / "bare.sqlite");
  const Times times = side_by_side_self_timed(
      [&] {
        const Clock::time_point begin = Clock::now();
        for (int i = 0; i < kReadings; ++i) need(ours.append(reading(i, survey)));
        return seconds_since(begin);
      },
      [&] { return bare.insert(); }, 21);
  print_row({"readings, each on disk", show_rate(times.ours_s), show_rate(times.other_s),
             show_ratio(times.ratio), "", "ratio >= 0.8", aim_if(times.ratio >= 0.8)});
  std::vector<double> syncs;
  for (int turn = 0; turn < 5; ++turn) syncs.push_back(bare_syncs(directory / "syncs"));
  print_row({"  4 KiB appended and fdatasync() alone", "", show_rate(median(syncs)), "", "", ""});
}

void list_of_surveys() {
  constexpr int kSurveys = 10'000, kReadingsEach = 30;
  const book::Card card{R"({"moves":[{"order":1,"support":"post"},{"order":2,"support":"post"}]})"};
  const Directory directory;
  {
    book::Book book = need(book::Book::open(directory / "B.levelbook"));
    std::vector<book::Entry> entries;
    entries.push_back({book::RunText{"run.toml", "invented"}, std::nullopt});
    entries.push_back({book::KitText{"kit.toml", "invented"}, std::nullopt});
    book::Number next = 3;
    for (int i = 0; i < kSurveys; ++i) {
      const book::Number survey = next;
      entries.push_back({book::SurveyBegun{std::to_string(i), "hung", 1, 2}, std::nullopt});
      for (int k = 0; k < kReadingsEach; ++k) entries.push_back(reading(k, survey));
      entries.push_back({book::SetAside{survey + 1, "knocked"}, survey});
      entries.push_back({card, survey});
      for (const int order : {1, 2}) entries.push_back({book::MoveMade{survey + 32, order, "post"}, survey});
      entries.push_back({book::SurveyClosed{}, survey});
      next = survey + kReadingsEach + 6;
      if (i % 10 == 9) {
        need(book.append(entries));
        entries.clear();
        need(book.seal());
        ++next;
      }
    }
  }
  const book::Book book = need(book::Book::open_to_read(directory / "B.levelbook"));
  std::vector<double> lists, last, seals, finds;
  for (int turn = 0; turn < 11; ++turn) {
    lists.push_back(seconds_for([&] {
      if (need(book.surveys()).size() != kSurveys) throw std::runtime_error("surveys are missing");
    }));
    last.push_back(seconds_for([&] {
      if (need(book.surveys(50)).size() != 50) throw std::runtime_error("surveys are missing");
    }));
    seals.push_back(seconds_for([&] {
      if (need(book.seals(50)).size() != 50) throw std::runtime_error("seals are missing");
    }));
    finds.push_back(seconds_for([&] {
      if (!need(book.find(book::RunText{"", "invented"}))) throw std::runtime_error("the sheet is missing");
    }));
  }
  print_row({"list of 10,000 surveys, 300,000 readings, 20,000 moves", show_time(median(lists)), "", "", "",
             "below 100 ms", aim_if(median(lists) < 0.1)});
  print_row({"  the last 50 of them, as the page shows", show_time(median(last)), "", "", "", "below 10 ms",
             aim_if(median(last) < 0.01)});
  print_row({"  the last 50 of 1,000 seals", show_time(median(seals)), "", "", "", ""});
  print_row({"  find a sheet in that book", show_time(median(finds)), "", "", "", ""});
}

}  // namespace

void level_book() {
  print_heading(
      "Level book: durable readings a second; a long list of surveys",
      {"Ours: Book::append of one reading: JSON, SHA-256 chain, one transaction.",
       "Other: the same rows, bodies and hashes made before, by a prepared INSERT of SQLite.",
       "Both: same table, index and triggers, write-ahead log, synchronous FULL, one transaction each.",
       std::to_string(kReadings) +
           " readings a turn, by the clock on the wall: most of it is waiting for the disk."});
  durable_readings();
  list_of_surveys();
}

}  // namespace hangtrue::bench
