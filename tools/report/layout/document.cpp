#include "tools/report/layout/document.hpp"

#include <algorithm>

namespace hangtrue::report {

std::vector<Column> columns(const std::string& headings) {
  std::vector<Column> result;
  for (std::size_t start = 0; start <= headings.size();) {
    const std::size_t end = std::min(headings.find('|', start), headings.size());
    std::string one = headings.substr(start, end - start);
    const Align align = one.starts_with('>')   ? Align::right
                        : one.starts_with('^') ? Align::centre
                                               : Align::left;
    result.push_back({align == Align::left ? one : one.substr(1), align});
    start = end + 1;
  }
  return result;
}

}  // namespace hangtrue::report
