// Any kind (the first line) and any bytes as the body of a level book's entry: a body that can be read is written again as one that
// reads the same, and what a card lists can be asked of it; no depth and no number brings the program down.
#include "firmware-host/book/body.hpp"
#include "tests/fuzz/fuzz.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace hangtrue;
  std::string_view body = fuzz::text_of(data, size);
  const std::string_view kind = fuzz::take_to('\n', body);
  const auto content = book::content_from(kind, body, 4);
  if (!content) return 0;
  fuzz::require(book::kind(*content) == kind, "it is of the kind that it was read as");
  if (const auto* const card = std::get_if<book::Card>(&*content)) (void)book::moves_of(*card);
  const auto written = book::body_of(*content);
  if (!written) return 0;  // a number that is not finite: such a body is read, but never written
  const auto again = book::content_from(kind, *written, 4);
  fuzz::require(again.has_value(), "what was written can be read");
  fuzz::require(book::body_of(*again) == written, "and is written alike");
  return 0;
}
