// reports.hpp: the documents that can be made of a level book: as-built record, shim card to print, recheck.
//
// Pure: sheets, fits and what the book has -> pieces of a document. Nothing is read or written here.
#pragma once

#include <string>
#include <vector>

#include "firmware-host/job/card.hpp"
#include "firmware-host/job/history.hpp"
#include "firmware-host/job/recheck.hpp"
#include "tools/report/common/papers.hpp"
#include "tools/report/layout/document.hpp"

namespace hangtrue::report {

struct AsBuilt {
  const sheet::RunSheet& run;
  const job::History& history;        // its last survey, fitted, is the one reported on
  const std::vector<Papers>& papers;  // one a survey of it
  const job::Card* card;              // of the last, as things are; nullptr: `no_card` says why
  std::string no_card;
  Record record;
  std::vector<std::string> remarks;  // such as how the sheet differs from the survey's own
};
[[nodiscard]] Document as_built(const AsBuilt& from, Paper paper);

/// One page, in letters as large as it holds.
[[nodiscard]] Document shim_card(const AsBuilt& from, Paper paper);

struct Rechecked {
  const sheet::RunSheet& run;
  const job::Recheck& recheck;
  Papers from, to;
  Record record;
  std::vector<std::string> remarks;
};
[[nodiscard]] Document recheck_report(const Rechecked& from, Paper paper);

}  // namespace hangtrue::report
