#include "firmware-host/book/book.hpp"

#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <map>
#include <utility>

#include "firmware-host/book/body.hpp"
#include "firmware-host/book/sha256.hpp"
#include "firmware-host/book/store.hpp"

namespace hangtrue::book {
namespace {

/// What is wrong with what lies at the path. Asked before SQLite opens it, since SQLite takes an empty file for a new database.
std::optional<Fault> objection_to(const std::string& path, bool to_write, bool& exists) {
  if (path.empty() || path == ":memory:")
    return Fault{Trouble::not_a_file,
                 '"' + path + "\" is no name for a level book, which is a file; name one"};
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
  const std::string real = real_path(path);
  WriterLock::Refusal refusal{};
  int error = 0;
  auto lock = WriterLock::take(real, refusal, error);
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
  if (!exists) {
    // SQLite would take the log of a book that is gone for that of the new one.
    for (const char* beside : {"-wal", "-journal"})
      if (const auto log = stamp_of(real + beside); log && log->size > 0)
        return Fault{Trouble::cannot_write,
                     "there is no " + path + ", but " + path + beside +
                         ", the log of a book that was there: put the book back beside it, or "
                         "move the log away, or name another file for a new book"};
    if (const auto made = store->make(); !made.ok()) return made.fault();
  }
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

void Book::fold() { store_->fold(); }

Result<Done, Fault> Book::check_place() {
  if (const auto fault = store_->check_place()) return *fault;
  return Done{};
}

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
Result<std::vector<NumberedEntry>, Fault> Book::entries(Number survey,
                                                        std::initializer_list<std::string_view> kinds) const {
  std::string wanted;
  for (const std::string_view word : kinds)
    wanted += (wanted.empty() ? "'" : ", '") + std::string(word) + '\'';
  return store_->entries("WHERE survey = ?" + (wanted.empty() ? "" : " AND kind IN (" + wanted + ")"),
                         {survey});
}

Result<std::vector<NumberedEntry>, Fault> Book::checks() const {
  return store_->entries(
      "WHERE kind IN ('zero check', 'datum check', 'scale check') AND " + std::string(kFew), {});
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
      readings.back().reading.temperature_C = taken->temperature_C;
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
      reading.reading.temperature_C = reading.taken.temperature_C;
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

Naming naming(std::span<const NumberedEntry> entries) {
  Naming naming;
  const auto take = [](std::string& into, const std::string& said) {
    if (!said.empty()) into = said;
  };
  for (const NumberedEntry& each : entries)
    if (const auto* const note = std::get_if<Note>(&each.entry.content)) {
      take(naming.called, note->naming.called);
      take(naming.read_by, note->naming.read_by);
      take(naming.checked_by, note->naming.checked_by);
    }
  return naming;
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

}  // namespace hangtrue::book
