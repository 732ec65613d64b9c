// Any pattern (the first line) on any bytes: all are accounted for, numbers are finite, units lie in the
// line, and the result does not depend on how the bytes are cut.
#include <cmath>

#include "firmware-host/wire/line_pattern.hpp"
#include "firmware-host/wire/line_reader.hpp"
#include "tests/fuzz/fuzz.hpp"

namespace {

using namespace hangtrue;

struct Reading {
  const wire::LinePattern& pattern;
  wire::LineReader reader{};
  std::string told{};  // every number with its unit

  void push(std::string_view chunk) {
    reader.push(chunk, [this](std::string_view line) {
      const wire::LineMatch match = pattern.match(line);
      fuzz::require(std::isfinite(match.number), "numbers are finite");
      if (match.fit != wire::LineMatch::Fit::once) {
        fuzz::require(match.number == 0 && match.unit.empty(), "what does not fit gives nothing");
        return false;
      }
      fuzz::require(pattern.has_unit()
                        ? line.find(match.unit) != std::string_view::npos && !match.unit.empty()
                        : match.unit.empty(),
                    "the unit stands in the line");
      told.append(std::to_string(match.number)).append(match.unit).append(1, '\n');
      return true;
    });
    const wire::LineReader::Counts& counts = reader.counts();
    fuzz::require(counts.in == counts.used + counts.dropped_in_all() + reader.pending(),
                  "every byte is accounted for");
  }
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::string_view bytes = fuzz::text_of(data, size);
  const auto pattern = wire::LinePattern::compile(fuzz::take_to('\n', bytes));
  if (!pattern.ok()) return 0;
  Reading whole{pattern.value()}, pieces{pattern.value()};
  whole.push(bytes);
  fuzz::in_chunks(bytes, static_cast<std::uint32_t>(size),
                  [&pieces](std::string_view chunk) { pieces.push(chunk); });
  fuzz::require(whole.told == pieces.told && whole.reader.counts().dropped == pieces.reader.counts().dropped,
                "the result does not depend on how the bytes are cut");
  return 0;
}
