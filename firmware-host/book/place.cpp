// Whether what is written is where it is looked for: the file at the path, its log, and the entry in it. And what is done when
// it is not.
#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <thread>

#include <nlohmann/json.hpp>

#include "firmware-host/book/store.hpp"

namespace hangtrue::book {
namespace {

/// Entries of this session that are held for a rescue, raw samples aside. No source: more than a day's readings.
constexpr std::ptrdiff_t kMostKept = 10'000;

}  // namespace

/// The lock lies on the file that is written, by SQLite's own descriptor of it: whatever the file is called and whichever lock
/// file was removed, nobody else gets it, and it is gone with the process.
std::optional<Fault> Book::Store::hold_file() {
  const auto stamp = stamp_of(real_);
  const std::vector<int> open = stamp ? open_to_write(stamp->id) : std::vector<int>{};
  if (open.empty())
    return Fault{Trouble::taken_away, path_ + " was replaced or taken away as it was opened; try again"};
  for (const int descriptor : open)
    if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
      if (errno == EWOULDBLOCK)
        return Fault{Trouble::in_use, path_ + " is in use: another daemon writes in it"};
      return Fault{Trouble::cannot_write, path_ + " cannot be locked: " + std::strerror(errno)};
    }
  if (stamp->links > 1)
    return Fault{Trouble::cannot_write, path_ + " has " + std::to_string(stamp->links) +
                                            " names (hard links). Its log goes by the name, so that two "
                                            "names would make two books of it. Remove "
                                            "the other name; hangtrue copy makes a true copy"};
  descriptor_ = open.front();
  file_ = *stamp;
  return std::nullopt;
}

std::optional<Fault> Book::Store::hold_log() {
  // The first that is read opens the log.
  if (!database_.integer("SELECT count(*) FROM entry WHERE number < 0")) return unreadable(SQLITE_ERROR);
  const auto log = stamp_of(real_ + "-wal");
  if (!log || open_to_write(log->id).empty())
    return Fault{Trouble::taken_away, path_ + "-wal, its log, was taken away as it was opened; try again"};
  data_version_ = database_.integer("PRAGMA data_version");
  note_stamps();
  return std::nullopt;
}

void Book::Store::note_stamps() {
  if (const auto file = stamp_of(descriptor_)) file_ = *file;
  if (const auto log = stamp_of(real_ + "-wal")) log_ = *log;
}

void Book::Store::fold() {
  if (!open_ || amiss()) return;
  const bool whole = database_.fold();  // where a disk fails or a reader reads on, all stays in the log
  note_stamps();
  if (!whole) return;
  since_fold_ = 0;
  std::erase_if(kept_, [](const Row& row) { return row.kind == "samples"; });
  if (std::ssize(kept_) > kMostKept) kept_.erase(kept_.begin(), kept_.end() - kMostKept / 2);
}

/// What was found whole before, and nobody else has changed since, is whole now: closed, it need not be walked again.
void Book::Store::note_as_verified() {
  if (!noted_ || last_ < kLeastToNote) return;
  static_cast<void>(database_.close());
  std::this_thread::sleep_for(kChangesTell);
  auto files = stamps_of(real_);
  if (!files || files->log || files->file.id != file_.id || !changes_tell(*files)) return;
  files->schema = schema_;
  files->entries = last_;
  files->hash = last_hash_;
  keep_verified_note(*files);
}

/// What is wrong with the files at the path.
std::optional<std::string> Book::Store::amiss() {
  if (!open_) return std::nullopt;
  const auto named = stamp_of(path_), file = stamp_of(real_), log = stamp_of(real_ + "-wal");
  if (!named || !file) return path_ + " was taken away while it was written";
  if (named->id != file_.id || file->id != file_.id)
    return path_ + " was replaced by another file while it was written";
  if (!log) return path_ + "-wal, its log, was taken away while it was written";
  if (log->id != log_.id) return path_ + "-wal, its log, was replaced by another file while it was written";
  if (log->size < log_.size) return path_ + "-wal, its log, was cut off while it was written";
  if (!taken_away_.empty() && whole_frames(real_ + "-wal") < log_frames_)
    return path_ + "-wal, its log, is not whole";
  const auto data_version = database_.integer("PRAGMA data_version");
  if (file->size == file_.size && file->written_ns == file_.written_ns && data_version == data_version_)
    return std::nullopt;
  // Somebody else wrote in the file or in its log, or set its time. It is asked anew, by a connection that has nothing of it in memory.
  const std::string changed = path_ + " was changed by another program while it was written";
  const auto now = Book::open_to_read(path_);
  if (!now.ok()) return changed;
  const auto audit = now.value().audit();
  if (!audit.ok() || !audit.value().whole() || audit.value().entries != last_) return changed;
  const auto hash =
      now.value().store_->database().text("SELECT hash FROM entry ORDER BY number DESC LIMIT 1");
  if (last_ > 0 && hash != last_hash_) return changed;
  file_ = *file;
  log_ = *log;
  data_version_ = data_version;
  return std::nullopt;
}

/// What is wrong with the entry that was appended last: it is to be in the log, which is to be whole up to it.
std::optional<std::string> Book::Store::not_on_disk() const {
  if (whole_frames(real_ + "-wal") < log_frames_)
    return path_ + "-wal, its log, was cut off or overwritten while it was written";
  Statement statement;
  if (database_.prepare("SELECT number, hash FROM entry ORDER BY number DESC LIMIT 1", statement) !=
          SQLITE_OK ||
      statement.step() != SQLITE_ROW || statement.integer(0) != last_ || statement.text(1) != last_hash_)
    return path_ + " does not give back the entry that was written last";
  return std::nullopt;
}

std::optional<Fault> Book::Store::check_place() {
  if (const auto away = amiss()) return taken_away(*away, {});
  return std::nullopt;
}

Fault Book::Store::taken_away(const std::string& amiss, std::span<const Row> rows) {
  end_is_certain_ = false;
  if (taken_away_.empty()) taken_away_ = amiss + "; nothing is acknowledged. " + rescue(rows);
  return {Trouble::taken_away, taken_away_};
}

namespace {

/// "JOB-rescue.levelbook" beside "JOB.levelbook", "JOB-rescue-2.levelbook" ...: where nothing lies.
std::string free_name(const std::string& path, const std::string& extension) {
  const std::filesystem::path file(path);
  for (int number = 1;; ++number) {
    const std::string name = file.stem().string() + "-rescue" +
                             (number == 1 ? std::string() : '-' + std::to_string(number)) + extension;
    std::filesystem::path place = file.parent_path() / name;
    bool free = true;
    for (const char* beside : {"", "-wal", "-journal"}) free = free && !stamp_of(place.string() + beside);
    if (free) return place.string();
  }
}

/// Adds the rows that follow on what the file holds, and ends its log. Whether it is a whole book that ends with `last_hash`.
bool complete(const std::string& path, std::span<const Row> rows, const std::string& last_hash) {
  {
    Database database;
    Statement insert;
    if (database.open(path, Database::Access::write) != SQLITE_OK ||
        database.text("PRAGMA journal_mode = DELETE") != "delete" ||
        database.prepare("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)", insert) != SQLITE_OK)
      return false;
    Number last = database.integer("SELECT max(number) FROM entry").value_or(0);
    for (const Row& row : rows) {
      if (row.number != last + 1) continue;
      insert.bind(row.number).bind(row.survey).bind(row.refers_to);
      insert.bind(row.kind).bind(row.time).bind(row.body).bind(row.hash);
      if (insert.step() != SQLITE_DONE) return false;
      insert.reset();
      last = row.number;
    }
    if (database.text("SELECT hash FROM entry ORDER BY number DESC LIMIT 1").value_or("") != last_hash)
      return false;
  }
  const auto book = Book::open_to_read(path);
  if (!book.ok()) return false;
  const auto audit = book.value().audit();
  return audit.ok() && audit.value().whole();
}

/// The bytes of the file as it lies there, made one that needs no log: in the header the versions to write and to read by.
bool copy_bytes(int descriptor, const std::string& to) {
  std::ofstream out(to, std::ios::binary);
  std::vector<char> bytes(1 << 20);
  for (off_t at = 0;;) {
    const ssize_t read = ::pread(descriptor, bytes.data(), bytes.size(), at);
    if (read < 0) return false;
    if (read == 0) break;
    constexpr std::size_t kVersions = 18;  // SQLite's "Database File Format", section 1.3.3
    if (at == 0 && std::size_t(read) > kVersions + 1) bytes[kVersions] = bytes[kVersions + 1] = 1;
    out.write(bytes.data(), read);
    at += read;
  }
  return bool(out.flush());
}

void remove_book(const std::string& path) {
  for (const char* beside : {"", "-wal", "-shm", "-journal"}) ::unlink((path + beside).c_str());
}

}  // namespace

/// Keeps what the book holds in a new file beside it, and says where and how to go on. The file that is open may still be there
/// without a name, or be whole up to where its log was folded.
std::string Book::Store::rescue(std::span<const Row> rows) const {
  std::vector<Row> held(kept_);
  held.insert(held.end(), rows.begin(), rows.end());
  const std::string last_hash = held.empty() ? last_hash_ : held.back().hash;
  const std::string book = free_name(real_, std::filesystem::path(real_).extension().string());
  for (const bool as_bytes : {false, true}) {
    std::string ignored;  // the next way is tried
    const bool copied =
        as_bytes ? copy_bytes(descriptor_, book) : database_.copy_to(book, ignored) == SQLITE_OK;
    if (copied && complete(book, held, last_hash))
      return "The whole book, up to entry " + std::to_string(held.empty() ? last_ : held.back().number) +
             ", is kept in " + book +
             ". To go on: end this program, find out who takes the book away, and start again with --book " +
             book;
    remove_book(book);
  }
  const std::string text = free_name(real_, ".jsonl");
  std::ofstream out(text, std::ios::binary);
  for (const Row& row : held) {
    nlohmann::ordered_json json{{"number", row.number}, {"survey", nullptr}, {"refers_to", nullptr},
                                {"kind", row.kind},     {"time", row.time},  {"body", row.body},
                                {"hash", row.hash}};
    if (row.survey) json["survey"] = *row.survey;
    if (row.refers_to) json["refers_to"] = *row.refers_to;
    out << json.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
  }
  if (!out.flush())
    return "What was read since this program started could not be kept in a file beside it either (" + text +
           " cannot be written). Write down what the page shows, end this program, and keep the book "
           "elsewhere";
  return "The book itself could not be saved; the " + std::to_string(held.size()) +
         " entries of this session are kept in " + text +
         ", one a line. To go on: end this program, put an earlier copy of the book in its place or name "
         "another file, and "
         "read again";
}

}  // namespace hangtrue::book
