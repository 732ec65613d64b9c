// reference.hpp: reads the published check values in data/reference. A missing or malformed file throws.
#pragma once

#include <algorithm>
#include <cmath>
#include <fstream>
#include <map>
#include <stdexcept>
#include <string>
#include <vector>

namespace hangtrue::test {

inline std::ifstream open_reference(const std::string& name) {
  std::ifstream file(std::string(HANGTRUE_DATA_DIR) + "/reference/" + name);
  if (!file) throw std::runtime_error("data/reference/" + name + " is missing");
  return file;
}

using CsvRow = std::map<std::string, std::string>;

/// Lines that begin with # are provenance; the first other line names the columns. Fields may stand in
/// quotes.
inline std::vector<CsvRow> read_reference_csv(const std::string& name) {
  std::ifstream file = open_reference(name);
  std::vector<std::string> columns;
  std::vector<CsvRow> rows;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line.front() == '#') continue;
    std::vector<std::string> fields(1);
    bool quoted = false;
    for (const char c : line) {
      if (c == '"') {
        quoted = !quoted;
      } else if (c == ',' && !quoted) {
        fields.emplace_back();
      } else if (c != '\r') {
        fields.back() += c;
      }
    }
    if (columns.empty()) {
      columns = fields;
      continue;
    }
    if (fields.size() != columns.size())
      throw std::runtime_error("data/reference/" + name + ": wrong number of fields in: " + line);
    CsvRow& row = rows.emplace_back();
    for (std::size_t i = 0; i < fields.size(); ++i) row[columns[i]] = fields[i];
  }
  return rows;
}

/// Half a unit of the last figure of a printed value. Tables print at least `least_figures` significant
/// figures, also where a file has dropped trailing zeros.
inline double half_of_last_figure(const std::string& printed, int least_figures) {
  std::string digits;
  int decimals = 0;
  bool after_point = false;
  for (const char c : printed) {
    if (c == '.') after_point = true;
    if (c < '0' || c > '9') continue;
    if (digits.empty() && c == '0') {
      decimals += after_point ? 1 : 0;
      continue;
    }
    digits += c;
    decimals += after_point ? 1 : 0;
  }
  while (decimals > 0 && !digits.empty() && digits.back() == '0') {
    digits.pop_back();
    --decimals;
  }
  const int missing = std::max(0, least_figures - static_cast<int>(digits.size()));
  return 0.5 * std::pow(10.0, -(decimals + missing));
}

}  // namespace hangtrue::test
