// Played pairs at length: tools/trials recheck.
//   [tried] [from SEED] N [KIND ...]   N pairs of each kind (of all, or of those named), their table
//   [tried] show KIND SHEET SEED       one pair: what was done, what is said
//   book SHEET N                       rechecks in a book of N surveys, how long they take
// tried: at every visit a person says which supports bear. from: other pairs; 1 unless said.
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iostream>
#include <stdexcept>
#include <thread>

#include "firmware-host/say/recheck.hpp"
#include "tests/trials_of_the_recheck/pairs.hpp"

namespace {

using namespace hangtrue;
using namespace hangtrue::recheck_trials;

Happened kind_named(const std::string& text) {
  std::string all;
  for (int k = 0; k < kHappened; ++k) {
    if (name(Happened(k)) == text) return Happened(k);
    all += "\n  " + std::string(name(Happened(k)));
  }
  throw std::runtime_error("no kind \"" + text + "\"; there are:" + all);
}

int whole(const std::string& text) {
  char* end = nullptr;
  const long value = std::strtol(text.c_str(), &end, 10);
  if (end == text.c_str() || *end != '\0' || value < 0 || value > 1'000'000)
    throw std::runtime_error("\"" + text + "\" is no number from 0 to 1,000,000");
  return int(value);
}

void tell(const std::vector<hold_trials::Ground>& grounds, const Played& played) {
  const auto& ground = grounds[played.sheet];
  std::cout << "\"" << name(played.what) << "\" \"" << ground.sheet.name << "\" " << played.seed << "  in "
            << std::lround(1e3 * played.took_s) << " ms\n  true:";
  for (const Done1& each : played.truth)
    std::cout << "  " << (each.name.empty() ? "a weight" : each.name) << " by " << each.size;
  std::cout << "\n  said: " << played.says << '\n';
  for (const job::Cause& cause : played.recheck.causes) {
    std::cout << "  named: " << job::name_of(cause.change.id) << " " << cause.change.change.value << " +- "
              << cause.change.change.sigma << "; or:";
    for (const auto& id : cause.or_else) std::cout << " " << job::name_of(id) << ",";
    std::cout << '\n';
  }
}

}  // namespace

int main(int count, char** words) try {
  std::vector<std::string> given(words + 1, words + count);
  const bool tried = !given.empty() && given[0] == "tried";
  if (tried) given.erase(given.begin());
  int first_seed = 1;
  if (given.size() >= 2 && given[0] == "from") {
    first_seed = whole(given[1]);
    given.erase(given.begin(), given.begin() + 2);
  }
  const auto grounds = recheck_grounds();
  if (given.size() == 4 && given[0] == "show") {
    for (std::size_t g = 0; g < grounds.size(); ++g) {
      if (grounds[g].sheet.name != given[2]) continue;
      auto played = play(grounds[g], kind_named(given[1]), std::uint64_t(whole(given[3])), tried);
      if (!played) throw std::runtime_error("that sheet has no such pair");
      played->sheet = g;
      tell(grounds, *played);
      if (played->compared) std::cout << say::recheck_view(grounds[g].run, played->recheck);
      return 0;
    }
    throw std::runtime_error("no sheet \"" + given[2] + "\"");
  }
  if (given.size() == 3 && given[0] == "book") {
    for (const auto& ground : grounds) {
      if (ground.sheet.name != given[1]) continue;
      const LongBook told = long_book(ground, whole(given[2]), std::uint64_t(first_seed));
      std::cout << "first to last " << 1e3 * told.first_to_last_s << " ms: " << told.first_to_last
                << "\nlast two " << 1e3 * told.last_two_s << " ms: " << told.last_two << '\n';
      return 0;
    }
    throw std::runtime_error("no sheet \"" + given[1] + "\"");
  }
  std::vector<Happened> kinds;
  for (std::size_t i = 1; i < given.size(); ++i) kinds.push_back(kind_named(given[i]));
  if (kinds.empty())
    for (int k = 0; k < kHappened; ++k) kinds.push_back(Happened(k));
  const int workers = int(std::clamp(std::thread::hardware_concurrency(), 1u, 8u));
  const auto played = play_all(grounds, kinds, given.empty() ? 24 : whole(given[0]),
                               std::uint64_t(first_seed), workers, tried);
  print_table(std::cout, played);
  std::cout << "\nNot named as it was:\n";
  for (const Played& each : played)
    if (!each.truth.empty() ? !each.right(true) : each.alarm()) tell(grounds, each);
  std::cout << "\nNamed beside another:\n";
  for (const Played& each : played)
    if (!each.truth.empty() && each.right(true) && !each.right(false)) tell(grounds, each);
  const auto slowest = std::max_element(played.begin(), played.end(),
                                        [](const Played& a, const Played& b) { return a.took_s < b.took_s; });
  if (slowest == played.end()) return 0;
  std::cout << "\nThe slowest:\n";
  tell(grounds, *slowest);
  return 0;
} catch (const std::exception& fault) {
  std::cerr << "tools/trials recheck: " << fault.what() << '\n';
  return 2;
}
