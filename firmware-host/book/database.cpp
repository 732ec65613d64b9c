#include "firmware-host/book/database.hpp"

#include <sqlite3.h>

namespace hangtrue::book {
namespace {

/// RFC 8089, with what would end the path escaped (RFC 3986).
std::string file_uri(const std::string& path) {
  std::string uri = "file:";
  for (const char c : path) {
    switch (c) {
      case '%':
        uri += "%25";
        break;
      case '?':
        uri += "%3f";
        break;
      case '#':
        uri += "%23";
        break;
      default:
        uri += c;
    }
  }
  return uri;
}

}  // namespace

Statement& Statement::bind(std::int64_t value) {
  sqlite3_bind_int64(statement_.get(), ++bound_, value);
  return *this;
}

Statement& Statement::bind(std::optional<std::int64_t> value) {
  if (value) return bind(*value);
  sqlite3_bind_null(statement_.get(), ++bound_);
  return *this;
}

Statement& Statement::bind(std::string_view text) {
  sqlite3_bind_text64(statement_.get(), ++bound_, text.data(), text.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
  return *this;
}

int Statement::step() { return sqlite3_step(statement_.get()); }

void Statement::reset() {
  sqlite3_reset(statement_.get());  // returns the code of the last step again, which the caller has seen
  sqlite3_clear_bindings(statement_.get());
  bound_ = 0;
}

std::int64_t Statement::integer(int column) const { return sqlite3_column_int64(statement_.get(), column); }

std::optional<std::int64_t> Statement::maybe_integer(int column) const {
  if (sqlite3_column_type(statement_.get(), column) == SQLITE_NULL) return std::nullopt;
  return integer(column);
}

std::string Statement::text(int column) const {
  const unsigned char* const text = sqlite3_column_text(statement_.get(), column);
  if (text == nullptr) return {};
  return {reinterpret_cast<const char*>(text),
          static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column))};
}

void Statement::Finalize::operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }

int Database::open(const std::string& path, Access access) {
  const bool reads = access == Access::read || access == Access::read_unchanging;
  const int flags = (reads ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE) |
                    (access == Access::create ? SQLITE_OPEN_CREATE : 0) | SQLITE_OPEN_NOMUTEX |
                    SQLITE_OPEN_URI;
  const std::string uri = file_uri(path) + (access == Access::read_unchanging ? "?immutable=1" : "");
  sqlite3* connection = nullptr;
  const int code = sqlite3_open_v2(uri.c_str(), &connection, flags, nullptr);
  connection_.reset(connection);  // it is there even when opening failed, and holds the message
  if (code != SQLITE_OK) return code;
  sqlite3_extended_result_codes(connection, 0);
  sqlite3_limit(connection, SQLITE_LIMIT_LENGTH,
                64 << 20);                 // bytes: no entry is as long; others may have put one there
  sqlite3_busy_timeout(connection, 5000);  // milliseconds: longer than a reader at a checkpoint takes
  // Others may have tampered with the file: nothing that its schema says is run.
  sqlite3_db_config(connection, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  sqlite3_db_config(connection, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
  return SQLITE_OK;
}

int Database::close() { return sqlite3_close_v2(connection_.release()); }

void Database::count_log(int& frames) {
  sqlite3_wal_hook(
      connection_.get(),
      [](void* count, sqlite3*, const char*, int now) {
        *static_cast<int*>(count) = now;
        return SQLITE_OK;
      },
      &frames);
}

bool Database::fold() const {
  int in_log = -1, in_file = -1;
  return sqlite3_wal_checkpoint_v2(connection_.get(), "main", SQLITE_CHECKPOINT_PASSIVE, &in_log, &in_file) ==
             SQLITE_OK &&
         in_log == in_file;
}

void Database::leave_log() {
  sqlite3_db_config(connection_.get(), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
}

void Database::wait_for_nobody() { sqlite3_busy_timeout(connection_.get(), 0); }

std::int64_t Database::changes() const { return sqlite3_changes(connection_.get()); }

int Database::copy_to(const std::string& path, std::string& message) const {
  Database copy;
  int code = copy.open(path, Access::create);
  if (code == SQLITE_OK) {
    sqlite3_backup* const copying =
        sqlite3_backup_init(copy.connection_.get(), "main", connection_.get(), "main");
    if (copying != nullptr) {
      static_cast<void>(sqlite3_backup_step(copying, /*all pages*/ -1));  // finish() gives its code
      code = sqlite3_backup_finish(copying);
    } else {
      code = sqlite3_errcode(copy.connection_.get());
    }
  }
  message = copy.message();
  const int closed = copy.close();
  return code == SQLITE_OK ? closed : code;
}

int Database::run(const char* sql) const {
  return sqlite3_exec(connection_.get(), sql, nullptr, nullptr, nullptr);
}

int Database::prepare(std::string_view sql, Statement& statement) const {
  sqlite3_stmt* prepared = nullptr;
  const int code =
      sqlite3_prepare_v2(connection_.get(), sql.data(), static_cast<int>(sql.size()), &prepared, nullptr);
  statement.statement_.reset(prepared);
  statement.bound_ = 0;
  return code;
}

std::optional<std::int64_t> Database::integer(std::string_view sql) const {
  Statement statement;
  if (prepare(sql, statement) != SQLITE_OK || statement.step() != SQLITE_ROW) return std::nullopt;
  return statement.integer(0);
}

std::optional<std::string> Database::text(std::string_view sql) const {
  Statement statement;
  if (prepare(sql, statement) != SQLITE_OK || statement.step() != SQLITE_ROW) return std::nullopt;
  return statement.text(0);
}

bool Database::in_transaction() const { return sqlite3_get_autocommit(connection_.get()) == 0; }

bool Database::read_only() const { return sqlite3_db_readonly(connection_.get(), "main") == 1; }

std::string Database::message() const {
  return connection_ ? sqlite3_errmsg(connection_.get()) : "no memory to open it";
}

void Database::Close::operator()(sqlite3* connection) const { sqlite3_close_v2(connection); }

}  // namespace hangtrue::book
