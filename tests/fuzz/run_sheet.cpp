// Any text as a run sheet: either a sheet whose indices are valid, or complaints that have words; never both,
// never neither.
#include <algorithm>
#include <cmath>

#include "firmware-host/sheet/run_sheet.hpp"
#include "tests/fuzz/fuzz.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using hangtrue::fuzz::require;
  const auto read = hangtrue::sheet::parse_run_sheet(hangtrue::fuzz::text_of(data, size), "fuzz.toml");
  require(read.sheet.has_value() == read.complaints.empty(), "a sheet or complaints");
  for (const auto& complaint : read.complaints)
    require(complaint.line >= 0 && !complaint.found.empty() && !complaint.expected.empty(),
            "a complaint has words");
  if (!read.sheet) return 0;
  const auto& sheet = *read.sheet;
  require(std::isfinite(sheet.length_m) && sheet.length_m > 0, "a run has a length");
  require(!sheet.stages.empty() && sheet.stages.size() == sheet.beam_stages.size(),
          "as many stages as names");
  require(!sheet.stations_m.empty() && std::ranges::is_sorted(sheet.stations_m), "stations in order");
  require(sheet.tolerance.stage >= 0 && std::size_t(sheet.tolerance.stage) < sheet.stages.size(),
          "a stage that there is");
  require(sheet.supports.size() == sheet.beam_supports.size(), "as many supports as names");
  for (const auto& support : sheet.supports)
    require(support.adjust.stock < int(sheet.stocks.size()), "a stock that there is");
  for (const auto& part : sheet.load_parts)
    require(part.load < int(sheet.loads.size()), "a load that there is");
  return 0;
}
