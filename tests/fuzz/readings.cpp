// Any text as a readings CSV: either readings or complaints that have words; and readings written again are
// read again, alike.
#include <cmath>
#include <sstream>

#include "firmware-host/sheet/readings.hpp"
#include "tests/fuzz/sheets.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace hangtrue;
  const auto read = sheet::parse_readings(fuzz::text_of(data, size), "fuzz.csv", fuzz::run(), &fuzz::kit());
  fuzz::require(read.entries.has_value() == read.complaints.empty(), "readings or complaints");
  for (const auto& complaint : read.complaints)
    fuzz::require(complaint.line >= 0 && !complaint.found.empty() && !complaint.expected.empty(),
                  "a complaint has words");
  if (!read.entries) return 0;
  std::ostringstream written;
  sheet::write_readings(written, *read.entries);
  const auto again = sheet::parse_readings(written.str(), "again.csv", fuzz::run(), &fuzz::kit());
  if (!again.entries) std::fputs(sheet::text(again.complaints).c_str(), stderr);
  fuzz::require(again.entries.has_value(), "what was written can be read");
  fuzz::require(again.entries->size() == read.entries->size(), "as many readings");
  for (std::size_t i = 0; i < read.entries->size(); ++i) {
    const sheet::ReadingEntry &first = (*read.entries)[i], &second = (*again.entries)[i];
    fuzz::require(std::isfinite(first.value) && first.sigma > 0, "values are finite, sigmas positive");
    fuzz::require(first.time == second.time && first.set_up == second.set_up &&
                      first.instrument == second.instrument && first.channel == second.channel &&
                      first.at_m == second.at_m && first.face == second.face && first.edge == second.edge &&
                      first.value == second.value && first.sigma == second.sigma,
                  "readings alike");
  }
  (void)sheet::make_survey(*read.entries, &fuzz::kit());
  return 0;
}
