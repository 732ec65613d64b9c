// parts.hpp: what every report says alike: kit and checks, cautions, what the level book stands for; and words and figures
// of its own.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "firmware-host/job/history.hpp"
#include "firmware-host/job/stored_card.hpp"
#include "tools/report/document.hpp"

namespace hangtrue::report {

/// What a report says of the level book it was made from.
struct Record {
  std::string book_name;  // its file's name
  std::string as_of;      // time of its last entry
  book::Audit audit;
  std::vector<book::NumberedEntry> checks;  // Book::checks()
};

/// A survey as the book has it, and the kit it went by.
struct Papers {
  job::BookedSurvey booked;
  std::optional<sheet::KitSheet> kit;
  std::string run_file, kit_file;
  std::vector<book::NumberedEntry> entries;  // what was set aside, corrected, carded; clock jumps
};

/// With a true plus-minus.
[[nodiscard]] std::string typeset(std::string words);
/// "2026-09-14 08:30" of an RFC 3339 time.
[[nodiscard]] std::string minute_of(const std::string& time);
/// A shown quantity without its unit, for a column whose heading has it.
[[nodiscard]] std::string bare(const std::string& shown);
/// A sigma, to one digit more than show_fine() has in inches.
[[nodiscard]] std::string sigma_words(double length_m, sheet::Show show);
[[nodiscard]] std::string fine_unit(sheet::Show show);
[[nodiscard]] std::string fixed(double value, int digits);
[[nodiscard]] std::string p_words(double p);
/// "A", "B", ... as in the drawings.
[[nodiscard]] std::string letter(std::size_t support);
/// Supports of that stage for a drawing; and the names that all letters stand for.
[[nodiscard]] std::vector<Holding> holdings_at(const sheet::RunSheet& run, int stage);
[[nodiscard]] std::string holding_names(const sheet::RunSheet& run);
/// "K1", "K2", ...; the name itself where the kit does not have it.
[[nodiscard]] std::string instrument_mark(const sheet::KitSheet* kit, const std::string& name);
/// A quantity of the fit and its sigma, to the digits that matter.
[[nodiscard]] std::string quantity_value(const job::Quantity& quantity, sheet::Show show);
[[nodiscard]] std::string quantity_sigma(const job::Quantity& quantity, sheet::Show show);
/// "2 x 1 mm + 1 x 0.5 mm", "1 1/4 turns up": what a move of a card asks for; and its rise, pitch and roll.
[[nodiscard]] std::string pieces_words(const sheet::RunSheet& run, const job::StoredMove& move);
[[nodiscard]] std::string turned_words(const sheet::RunSheet& run, const job::StoredMove& move);
[[nodiscard]] std::string upper(std::string text);

/// Instruments, their calibration, the checks that count and what is amiss.
void add_kit(Document& document, const sheet::RunSheet& run, const Papers& papers, const Record& record);
void add_cautions(Document& document);
/// Seals that stand for everything up to that entry, the chain, and what the book cannot show.
void add_record(Document& document, const Record& record, book::Number last);
/// Of the latest seal that stands for everything up to there; nothing: not sealed.
[[nodiscard]] std::optional<book::SealRecord> seal_for(const Record& record, book::Number last);
[[nodiscard]] std::optional<Code> code_of(const book::SealRecord& seal);
/// Seal and its code onto the first page, or that there is none.
void add_seal(Title& title, const Record& record, book::Number last);
/// Name, paper, head and foot of every page.
[[nodiscard]] Document begin(const std::string& kind, const sheet::RunSheet& run, const std::string& survey,
                             const Record& record, Paper paper);

}  // namespace hangtrue::report
