// book.hpp: the level book: what was measured, when, with what, and what was made of it. Append only.
//
// Contract   append() returns an entry's number once the entry is on disk (SQLite, WAL, synchronous FULL), and a
//            Fault when it is not; of several entries appended together all are there or none. Nothing is ever
//            changed or taken out: a correction is a new entry that points at the former one. One writer at a time;
//            any number of readers meanwhile.
// Chain      every entry carries a hash over the former entry's hash and its own content:
//                hash = SHA-256(former hash | number | survey | refers_to | kind | time | body)
//            former hash: 64 lower-case hexadecimal digits, all 0 before the first entry. Each of the seven parts is
//            written as a netstring (D. J. Bernstein, 1997): its length in bytes in decimal, ':', the bytes, ','.
//            number, survey, refers_to: decimal; absent: the empty string. kind: one of the words below. time: RFC
//            3339, UTC, microseconds. body: JSON (RFC 8259), UTF-8, exactly the bytes that are stored; numbers are
//            decimals that read back as the same double.
// Limits     the chain shows any change to an entry, and any that was taken out or put between. It cannot show
//            that its last entries were cut off, or that somebody wrote it all anew: that takes a seal (number and
//            hash) noted outside of the book.
// Units      SI and radians in all bodies, as in the names of their members.
// File       one SQLite file; beside it, while in use, "-wal", "-shm" and "-lock". application_id kApplication,
//            user_version kSchema, one STRICT table `entry`.
// Errors     a Fault with its kind and a sentence fit to be shown; no exceptions but for memory.
#pragma once

#include <chrono>
#include <cstdint>
#include <initializer_list>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/quantity/result.hpp"
#include "firmware-host/sheet/readings.hpp"

namespace hangtrue::book {

inline constexpr std::int32_t kApplication = 0x6C766C62;  // "lvlb"
inline constexpr std::int32_t kSchema = 1;

using Number = std::int64_t;  // of an entry; the first is 1, without gaps
using Time = std::chrono::system_clock::time_point;

/// "2026-09-14T08:30:00.250000Z".
[[nodiscard]] std::string rfc3339(Time time);

// What an entry can say. The word is its kind in the book.

struct RunText {
  std::string file, text;
};  // "run": a run sheet, whole
struct KitText {
  std::string file, text;
};                    // "kit": a kit sheet, whole
struct SurveyBegun {  // "survey begun"
  std::string id;     // as people call it: "1", "as-built"; unique in the book
  std::string stage;
  Number run = 0, kit = 0;  // entries of the sheets it goes by
};
struct SetUp {
  std::string name;
};                // "set-up": the laser datum was placed (anew)
struct Samples {  // "samples": raw, as they came; SI
  std::string instrument, channel;
  Time from{};
  std::vector<std::int64_t> after_us;  // since `from`
  std::vector<double> values;          // as many
};
struct Taken {                  // "reading"
  sheet::ReadingEntry reading;  // `time` in it is that of the settled window
  int samples = 0;              // how many were averaged
  double spread = 0;            // standard deviation of a single one of them
  std::optional<double> temperature_C;
};
struct SetAside {
  Number reading = 0;
  std::string reason;
};  // "set aside"
struct PutBack {
  Number reading = 0;
  std::string reason;
};                  // "put back"
struct Corrected {  // "corrected": stands in the place of `reading`
  Number reading = 0;
  sheet::ReadingEntry by;
  std::string reason;
};
struct Card {
  std::string json;
};  // "card": the shim card as shown
struct Note {
  std::string text;
};                       // "note"
struct SurveyClosed {};  // "survey closed"
struct Seal {
  Number entries = 0;
  std::string hash;
};  // "seal": the chain up to here; written by seal()

using Content = std::variant<RunText, KitText, SurveyBegun, SetUp, Samples, Taken, SetAside, PutBack,
                             Corrected, Card, Note, SurveyClosed, Seal>;

struct Entry {
  Content content;
  std::optional<Number>
      survey;  // the entry of its SurveyBegun; none for sheets, seals and the beginning itself
  Time time = std::chrono::system_clock::now();
};

/// The word for what an entry says: "reading", "set aside" ...
[[nodiscard]] std::string_view kind(const Content& content);

// What a book answers.

struct NumberedEntry {
  Number number = 0;
  Entry entry;
};

struct SurveyRecord {
  Number number = 0;  // of its SurveyBegun
  SurveyBegun begun;
  std::string time;
  bool closed = false;
  int readings = 0;  // taken, those set aside included
};

struct BookedReading {
  Number number = 0;
  Taken taken;                  // as first written
  sheet::ReadingEntry reading;  // with the last correction applied
  bool kept = true;             // false: set aside and not put back
  std::string reason;           // of the last correction, setting aside or putting back
};

struct SealRecord {
  Number number = 0;
  std::string hash, time;
};

struct Audit {
  Number entries = 0;                 // walked
  std::optional<Number> first_bad;    // the first entry that does not fit
  std::vector<std::string> findings;  // one sentence each; empty: the book is whole
  std::vector<SealRecord> seals;
  [[nodiscard]] bool whole() const { return findings.empty(); }
};

enum class Trouble {
  absent,         // no such file (opening to read), or no directory to put it in
  not_a_file,     // a directory or a device
  no_permission,  // to read, or to write ("read only")
  foreign,        // empty, or another kind of file, or another program's database
  newer,          // written by a later version
  damaged,        // a level book, but broken
  in_use,         // another daemon writes in it
  full,           // no space left: nothing of the entry was written
  cannot_write,   // any other failure to write: nothing of the entry is acknowledged
  cannot_read,
  not_an_entry  // the entry points at nothing, or holds a number that is none
};
struct Fault {
  Trouble trouble;
  std::string says;
};

class Book {
 public:
  /// Opens the book to write, or makes it when nothing is there.
  [[nodiscard]] static Result<Book, Fault> open(const std::string& path);
  /// Opens an existing book to read; never changes it.
  [[nodiscard]] static Result<Book, Fault> open_to_read(const std::string& path);

  Book(Book&&) noexcept;
  Book& operator=(Book&&) noexcept;
  ~Book();

  /// The entry's number, once it is on disk.
  Result<Number, Fault> append(const Entry& entry);
  /// All or none, in this order; the number of the first. At least one.
  Result<Number, Fault> append(std::span<const Entry> entries);
  /// Appends a seal over everything so far.
  Result<SealRecord, Fault> seal();

  [[nodiscard]] Result<std::vector<SurveyRecord>, Fault> surveys() const;
  /// Of one survey by the number of its beginning, in the order in which they were taken.
  [[nodiscard]] Result<std::vector<BookedReading>, Fault> readings(Number survey) const;
  /// One entry; trouble not_an_entry where there is none.
  [[nodiscard]] Result<Entry, Fault> entry(Number number) const;
  /// Everything that belongs to one survey, its beginning left out, in order; or only what is of these kinds.
  [[nodiscard]] Result<std::vector<NumberedEntry>, Fault> entries(
      Number survey, std::initializer_list<std::string_view> kinds = {}) const;
  /// The last sheet with exactly this text, if the book holds it.
  [[nodiscard]] Result<std::optional<Number>, Fault> find(const RunText& run) const;
  [[nodiscard]] Result<std::optional<Number>, Fault> find(const KitText& kit) const;

  /// Walks the chain and asks SQLite about the file. A Fault only when the file cannot be read at all.
  [[nodiscard]] Result<Audit, Fault> audit() const;

 private:
  class Store;
  explicit Book(std::unique_ptr<Store> store);
  std::unique_ptr<Store> store_;
};

}  // namespace hangtrue::book
