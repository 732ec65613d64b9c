// papers.hpp: what a document is made from, besides fits: surveys as the level book has them, and the book itself.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "firmware-host/job/history.hpp"

namespace hangtrue::report {

/// What a document says of the level book it was made from.
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

}  // namespace hangtrue::report
