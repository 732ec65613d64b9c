// sheets.hpp: the two sheets that the daemon goes by, each with its whole text for the book.
#pragma once

#include <string>
#include <variant>
#include <vector>

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
};

/// The sheets, or everything that is wrong with them: a run that nothing holds and a text pattern that is
/// none among it.
[[nodiscard]] std::variant<Sheets, std::vector<sheet::Complaint>> load_sheets(const std::string& run_path,
                                                                              const std::string& kit_path);

}  // namespace hangtrue::daemon
