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
// File       one SQLite file; beside it, while in use, its log "-wal", "-shm" and "-lock" (a reader may leave an empty "-wal" and a
//            "-shm" behind: what was acknowledged is in the file itself by then). The log is folded into the file where a
//            survey begins and ends, at a seal, and after some entries. Closing ends the log and says so in the file's header
//            (journal mode DELETE); a header that speaks of a log where none lies means that the log may be missing.
//            application_id kApplication, user_version its schema, one STRICT table `entry` with an index by survey and
//            kind, and triggers that refuse change and removal.
// Place      before an entry is acknowledged the file at the path is the one that is open, its log lies beside it and is
//            whole up to the entry, and the entry is read back. Else there is Trouble::taken_away, and what the book holds
//            is kept in a new file beside it, NAME-rescue.
// Schemas    1  the kinds up to and with "seal".
//            2  + "zero check", "datum check", "clock jump"; a set-up may say where it stands; + an index by kind of all entries
//                 that are neither readings nor samples.
//            3  + "move made".
//            4  + a reading's "mark": such a reading is of a stable mark off the run, and earlier programs would take it for one
//                 of the run; + indexes for listing and finding surveys.
//            5  + "scale check", "tried by hand", "start told".
//            The chain and its canonical form are the same in all, and an entry's body is read the same way: a member
//            that came later may be absent. open() makes a book of a former schema one of the latest in one transaction,
//            which touches no entry; open_to_read() reads every schema as it is. A later schema than kSchema is refused.
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
inline constexpr std::int32_t kSchema = 5;

using Number = std::int64_t;  // of an entry; the first is 1, without gaps
/// Microseconds, as the book has them: nanoseconds would end in 2262, and a clock may stand anywhere.
using Time = std::chrono::sys_time<std::chrono::microseconds>;

[[nodiscard]] inline Time now() {
  return std::chrono::floor<std::chrono::microseconds>(std::chrono::system_clock::now());
}

/// Times that are written lie in these years; a clock that stands elsewhere is wrong. Any of 1600 to 2999 is read.
inline constexpr std::chrono::year kFirstYear{2020}, kLastYear{2199};

/// "2026-09-14T08:30:00.250000Z".
[[nodiscard]] std::string rfc3339(Time time);

// What an entry can say. The word is its kind in the book.

/// "run": a run sheet, whole.
struct RunText {
  std::string file, text;
};
/// "kit": a kit sheet, whole.
struct KitText {
  std::string file, text;
};
/// "survey begun"
struct SurveyBegun {
  std::string id;  // as people call it: "1", "as-built"; unique in the book
  std::string stage;
  Number run = 0, kit = 0;  // entries of the sheets it goes by
};
/// "set-up": the laser datum was placed (anew).
struct SetUp {
  std::string name;
  std::optional<double> stands_at_m;  // where the laser stands along the run; may be off it
};
/// "samples": raw, as they came; SI.
struct Samples {
  std::string instrument, channel;
  Time from{};
  std::vector<std::int64_t> after_us;  // since `from`
  std::vector<double> values;          // as many
};
/// "reading"
struct Taken {
  sheet::ReadingEntry reading;  // `time` in it is that of the settled window
  int samples = 0;              // how many were averaged
  double spread = 0;            // standard deviation of a single one of them
  std::optional<double> temperature_C;
};
/// "set aside"
struct SetAside {
  Number reading = 0;
  std::string reason;
};
/// "put back"
struct PutBack {
  Number reading = 0;
  std::string reason;
};
/// "corrected": stands in the place of what `reading` was measured to be. `reading` is the entry of the reading itself, also
/// when it was corrected before; the last correction counts. A correction does not change whether the reading is set aside.
struct Corrected {
  Number reading = 0;
  sheet::ReadingEntry by;
  std::string reason;
};
/// "card": the shim card as shown.
struct Card {
  std::string json;
};
/// "move made": a move of a card was made on the job, or was not after all; the last entry on each move counts.
struct MoveMade {
  Number card = 0;  // the entry of the card
  int order = 0;    // of the move on it, from 1
  std::string support;
  bool made = true;  // false: not made after all
};
/// What a survey is called, who read, and who checked as a second person; empty: not said.
struct Naming {
  std::string called, read_by, checked_by;
};
/// "note"
struct Note {
  std::string text;
  Naming naming =
      {};  // where the note says any of it; the last of each counts. Programs before it read the text alone
};
/// "survey closed"
struct SurveyClosed {};
/// "seal": the chain up to here; written by seal().
struct Seal {
  Number entries = 0;
  std::string hash;
};
/// "zero check": places read both ways round; SI.
struct ZeroCheck {
  std::string instrument, channel;
  std::vector<double> face_1, face_2;  // as many; pair i at one place
  double zero = 0, sigma = 0;          // the channel's zero error: what it reads too much
  std::optional<double> temperature_C;
};
/// "datum check": two places on the run, both read from a first and from a second set-up of the datum.
struct DatumCheck {
  std::string instrument;
  double near_m = 0, far_m = 0;                      // the places, along the run
  std::vector<double> near_1, far_1, near_2, far_2;  // m; the distances read
  double tilt_rad = 0, sigma_rad = 0;                // of the datum plane
  std::optional<double> temperature_C;
};
/// "scale check": a channel read before and after a known length was put under it; SI.
struct ScaleCheck {
  std::string instrument, channel;
  // As many; pair i of one round. Slope: with the piece under the foot nearer to the end of the run. Roll: under that of the
  // left edge. Distance: at a first place, and at one that lies higher.
  std::vector<double> before, with;
  double length_m = 0;  // thickness of the piece, or how much higher the second place lies
  double feet_m = 0;    // distance between the feet, along for slope, across for roll; 0 for a distance
  double scale = 0, sigma = 0;  // the change that was read over the one that is due
  bool sound = false;           // scale, unit and sign are right: it counts
  std::string lines_hash;       // of the channel's lines in the kit sheet that it went by
  std::optional<double> temperature_C;
};
/// "clock jump": the wall clock against the monotonic one.
struct ClockJump {
  double seconds = 0;  // > 0: it was set forward
};

/// "tried by hand": whether a one-way support bears at this survey's stage; the last entry on each support counts.
struct TriedByHand {
  std::string support;
  bool bears = false;  // else it hangs free
};
/// "start told": the support nearest to the end where the places of this survey begin; the last one counts.
struct StartTold {
  std::string support;
};

using Content = std::variant<RunText, KitText, SurveyBegun, SetUp, Samples, Taken, SetAside, PutBack,
                             Corrected, Card, Note, SurveyClosed, Seal, ZeroCheck, DatumCheck, ClockJump,
                             MoveMade, ScaleCheck, TriedByHand, StartTold>;

struct Entry {
  Content content;
  // The entry of its SurveyBegun; none for sheets, seals, the beginning itself, and checks outside of a survey.
  std::optional<Number> survey;
  Time time = now();
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
  int kept = 0;      // not set aside, or put back
  int moves = 0;     // of cards, that stand as made
  Number last = 0;   // its last entry; of a closed one that which closed it
};

struct BookedReading {
  Number number = 0;
  Taken taken;                  // as first written
  sheet::ReadingEntry reading;  // with the last correction applied
  bool kept = true;             // false: set aside and not put back
  std::string reason;           // of the last correction, setting aside or putting back
};

/// A move that a card asks for.
struct CardMove {
  int order = 0;
  std::string support;
};
struct BookedCard {
  Number number = 0;
  Card card;
  std::vector<CardMove> moves;  // that it asks for
  std::vector<int> made;        // orders of those that stand as made
};

struct SealRecord {
  Number number = 0;       // its own entry; it stands for everything before that
  std::string hash, time;  // of its own entry
};

/// A seal as somebody noted it elsewhere: its number and the short form of its hash (short_form.hpp).
struct NotedSeal {
  Number number = 0;
  std::string short_form;
};
enum class NotedAnswer {
  matches,
  differs,  // there is a seal of that number, with another hash: the book was written anew, at least up to there
  no_seal,  // an entry of another kind, or one that cannot be read
  cut_off   // the book ends before
};

struct Audit {
  int schema = 0;                              // of the file
  Number entries = 0;                          // walked
  std::optional<Number> first_bad;             // the first entry that does not fit
  std::string first_bad_kind, first_bad_time;  // as they lie in the file; empty where there is none
  std::vector<std::string> findings;           // one sentence each; empty: the book is whole
  std::vector<SealRecord> seals;
  std::vector<NotedAnswer> noted;  // one for each seal asked about; what is amiss is a finding too
  /// The file was not closed by its writer, and no log lies beside it: what was written last may be in a log that was left
  /// behind. Books that programs before this one closed look the same.
  bool log_may_be_missing = false;
  /// Its last entry closes a survey, or seals: there the log is always folded into the file.
  bool ends_at_rest = false;
  std::string last_time, last_hash;  // of its last entry, as they lie in the file; empty: there is none
  [[nodiscard]] bool whole() const { return findings.empty(); }
};

enum class Trouble {
  absent,          // no such file (opening to read), or no directory to put it in
  not_a_file,      // a directory or a device
  no_permission,   // to read, or to write ("read only")
  foreign,         // empty, or another kind of file, or another program's database
  newer,           // written by a later version
  damaged,         // a level book, but broken
  in_use,          // another daemon writes in it
  clock_is_wrong,  // the time to be written lies outside kFirstYear to kLastYear
  taken_away,  // the file at the path is no longer the one that is open, or its log is gone: nothing is acknowledged
  full,          // no space left: nothing of the entry was written
  cannot_write,  // any other failure to write: nothing of the entry is acknowledged
  cannot_read,
  not_an_entry  // the entry points at nothing fitting, or holds a number that is none
};
struct Fault {
  Trouble trouble;
  std::string says;
};

/// Of one survey's entries: its readings in the order in which they were taken, and what became of each.
[[nodiscard]] std::vector<BookedReading> booked_readings(std::span<const NumberedEntry> entries);

/// Of one survey's entries: what it is called, and its persons.
[[nodiscard]] Naming naming(std::span<const NumberedEntry> entries);

/// Of one survey's entries: its cards in order, and which of their moves were made.
[[nodiscard]] std::vector<BookedCard> booked_cards(std::span<const NumberedEntry> entries);

/// What a card's JSON lists as its moves; nothing where it is none.
[[nodiscard]] std::vector<CardMove> moves_of(const Card& card);

class Book {
 public:
  /// Opens the book to write, or makes it when nothing is there. A book of a former schema becomes one of the latest.
  [[nodiscard]] static Result<Book, Fault> open(const std::string& path);
  /// Opens an existing book to read; never changes it.
  [[nodiscard]] static Result<Book, Fault> open_to_read(const std::string& path);

  Book(Book&&) noexcept;
  Book& operator=(Book&&) noexcept;
  ~Book();

  /// The entry's number, once it is on disk. What sets aside, puts back or corrects must point at a reading of its own
  /// survey, a move made at a card of it that has such a move, and what belongs to a survey at the beginning of one.
  Result<Number, Fault> append(const Entry& entry);
  /// All or none, in this order; the number of the first. At least one.
  Result<Number, Fault> append(std::span<const Entry> entries);
  /// What is in the log only goes into the file itself, so that a copy of the file alone has it. Done by itself where a survey
  /// begins and ends, at a seal, and after some entries. A reader may stand in the way; then it is done later.
  void fold();
  /// Whether the file at the path is still the one that is open, and its log beside it; append() asks the same.
  [[nodiscard]] Result<Done, Fault> check_place();
  /// Appends a seal over everything so far.
  Result<SealRecord, Fault> seal(Time time = now());

  /// In order; or only the last so many; or only those that go by that entry's run sheet.
  [[nodiscard]] Result<std::vector<SurveyRecord>, Fault> surveys(std::optional<int> last = {},
                                                                 std::optional<Number> run = {}) const;
  /// The one of that id, if the book holds it.
  [[nodiscard]] Result<std::optional<SurveyRecord>, Fault> survey(const std::string& id) const;
  [[nodiscard]] Result<std::int64_t, Fault> survey_count() const;
  /// Of one survey by the number of its beginning, in the order in which they were taken.
  [[nodiscard]] Result<std::vector<BookedReading>, Fault> readings(Number survey) const;
  /// Likewise.
  [[nodiscard]] Result<std::vector<BookedCard>, Fault> cards(Number survey) const;
  /// One entry; trouble not_an_entry where there is none.
  [[nodiscard]] Result<Entry, Fault> entry(Number number) const;
  /// Everything that belongs to one survey, its beginning left out, in order; or only what is of these kinds.
  [[nodiscard]] Result<std::vector<NumberedEntry>, Fault> entries(
      Number survey, std::initializer_list<std::string_view> kinds = {}) const;
  /// All zero checks, datum checks and scale checks, of whichever survey or none, in order.
  [[nodiscard]] Result<std::vector<NumberedEntry>, Fault> checks() const;
  /// As they lie in the book, unchecked; audit() checks them. In order; or only the last so many.
  [[nodiscard]] Result<std::vector<SealRecord>, Fault> seals(std::optional<int> last = {}) const;
  /// The last sheet with exactly this text, if the book holds it.
  [[nodiscard]] Result<std::optional<Number>, Fault> find(const RunText& run) const;
  [[nodiscard]] Result<std::optional<Number>, Fault> find(const KitText& kit) const;

  /// Walks the chain, asks SQLite about the file, and compares seals that were noted elsewhere. A Fault only when the
  /// file cannot be read at all.
  [[nodiscard]] Result<Audit, Fault> audit(std::span<const NotedSeal> noted = {}) const;

  /// The same without seals noted elsewhere, at once for a long book that was found whole before and has not changed since
  /// (verified.hpp). From then on every entry that is read is checked against its neighbour's hash.
  [[nodiscard]] Result<Audit, Fault> verify() const;

  /// A true copy of the whole book as it is at this moment, at a path where nothing lies; one file, itself whole, or none. The
  /// audit of the copy, which is whole.
  [[nodiscard]] Result<Audit, Fault> copy_to(const std::string& path) const;

 private:
  class Store;
  explicit Book(std::unique_ptr<Store> store);
  std::unique_ptr<Store> store_;
};

}  // namespace hangtrue::book
