// man.hpp: manual pages in the language of man(7), from the parsers and from the table of keys.
//
// No page has a date: the same sources give the same bytes.
#pragma once

#include <string>

#include "firmware-host/sheet/keys.hpp"

namespace CLI {
class App;
}  // namespace CLI

namespace hangtrue::docs {

/// hangtrue(1): every subcommand with its options.
[[nodiscard]] std::string command_page(const CLI::App& app);
/// hangtrued(8).
[[nodiscard]] std::string daemon_page(const CLI::App& app);
/// hangtrue-run-sheet(5), hangtrue-kit-sheet(5): every key, and the units.
[[nodiscard]] std::string sheet_page(sheet::SheetSort sort);

}  // namespace hangtrue::docs
