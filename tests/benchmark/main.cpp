// hangtrue_benchmark: hangtrue beside others' code that does the same, in one run. Prints tables; asserts nothing.
//   hangtrue_benchmark [beam] [filter] [shims] [decoding] [daemon] [book]      none named: all
#include <cstdio>
#include <functional>
#include <string_view>
#include <utility>

#include "tests/benchmark/side_by_side.hpp"

int main(int count, char** arguments) {
  namespace bench = hangtrue::bench;
  const std::pair<std::string_view, void (*)()> tables[] = {
      {"beam", bench::beam},         {"filter", bench::filter}, {"shims", bench::shim_search},
      {"decoding", bench::decoding}, {"daemon", bench::daemon}, {"book", bench::level_book}};
  for (int i = 1; i < count; ++i) {
    bool known = false;
    for (const auto& [name, run] : tables) known = known || name == arguments[i];
    if (!known) {
      std::fprintf(stderr, "hangtrue_benchmark: beam, filter, shims, decoding, daemon or book, not '%s'\n",
                   arguments[i]);
      return 2;
    }
  }
  std::printf(
      "Ratio: other's time over ours, median of turns taken in one run; above 1 ours is the faster.\n");
  for (const auto& [name, run] : tables) {
    bool wanted = count == 1;
    for (int i = 1; i < count; ++i) wanted = wanted || name == arguments[i];
    if (wanted) run();
  }
  return 0;
}
