// database.hpp: the little of SQLite that the level book needs: one connection, prepared statements, plain codes.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace hangtrue::book {

/// A prepared statement. bind in order, step, read columns; reset to use it again. Codes are SQLite's own.
class Statement {
 public:
  Statement& bind(std::int64_t value);
  Statement& bind(std::optional<std::int64_t> value);
  Statement& bind(std::string_view text);

  [[nodiscard]] int step();  // SQLITE_ROW, SQLITE_DONE, or what went wrong
  void reset();

  [[nodiscard]] std::int64_t integer(int column) const;
  [[nodiscard]] std::optional<std::int64_t> maybe_integer(int column) const;
  [[nodiscard]] std::string text(int column) const;

 private:
  friend class Database;
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const;
  };
  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
  int bound_ = 0;
};

class Database {
 public:
  enum class Access {
    read,
    read_unchanging,  // nobody writes to it, and nobody can: without lock and write-ahead log
    write,
    create
  };

  /// SQLITE_OK or the code; message() says more either way.
  [[nodiscard]] int open(const std::string& path, Access access);
  [[nodiscard]] int close();
  /// From now on `frames` holds how many frames the write-ahead log has after each commit, and SQLite folds the log into the file
  /// only when fold() asks for it.
  void count_log(int& frames);
  /// What the log has goes into the file, as far as no reader stands in the way. True: all of it.
  [[nodiscard]] bool fold() const;
  /// Closing leaves the log and the file as they lie there.
  void leave_log();
  /// Does not wait for others any more.
  void wait_for_nobody();
  /// How many rows the last statement that ended has inserted.
  [[nodiscard]] std::int64_t changes() const;
  /// Everything as it is at this moment, into the empty file at `path`; the code.
  [[nodiscard]] int copy_to(const std::string& path, std::string& message) const;

  [[nodiscard]] int run(const char* sql) const;
  /// The code of preparing it; `statement` is usable only with SQLITE_OK.
  [[nodiscard]] int prepare(std::string_view sql, Statement& statement) const;
  /// The first column of the first row.
  [[nodiscard]] std::optional<std::int64_t> integer(std::string_view sql) const;
  [[nodiscard]] std::optional<std::string> text(std::string_view sql) const;

  [[nodiscard]] bool in_transaction() const;
  [[nodiscard]] bool read_only() const;
  [[nodiscard]] std::string message() const;

 private:
  struct Close {
    void operator()(sqlite3* connection) const;
  };
  std::unique_ptr<sqlite3, Close> connection_;
};

}  // namespace hangtrue::book
