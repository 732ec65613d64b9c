// sheets.hpp: the two sheets that the daemon goes by, each with its whole text for the book.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "firmware-host/book/book.hpp"
#include "firmware-host/daemon/told.hpp"
#include "firmware-host/job/fault.hpp"
#include "firmware-host/say/language.hpp"
#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/sheet/run_sheet.hpp"

namespace hangtrue::daemon {

struct Sheets {
  sheet::RunSheet run;
  std::string run_text;
  sheet::KitSheet kit;
  std::string kit_text;
  sheet::RunSheet shown = sheet::for_people(run);  // for what only the page shows

  /// The sentence with its values, for terminal and phone.
  template <class... Values>
  [[nodiscard]] Told told(fmt::format_string<const Values&...> english, const Values&... values) const {
    return {say::text(run.show, english, values...), say::text(shown.show, english, values...)};
  }
  /// What is worded by the sheet: words(run), words(shown).
  template <class Words>
  [[nodiscard]] Told both(const Words& words) const {
    return {words(run), words(shown)};
  }
  /// Why nothing can be worked out; why the book does not answer. A phone of another language is told that the computer says more.
  [[nodiscard]] Told told(const job::Fault& fault) const;
  [[nodiscard]] Told told(const book::Fault& fault) const;
};

/// The sheets, or everything that is wrong with them: a run that nothing holds and a text pattern that is
/// none among it.
[[nodiscard]] std::variant<Sheets, std::vector<sheet::Complaint>> load_sheets(const std::string& run_path,
                                                                              const std::string& kit_path);

}  // namespace hangtrue::daemon
