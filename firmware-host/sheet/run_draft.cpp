#include "firmware-host/sheet/run_draft.hpp"

#include <cmath>

#include "firmware-host/sheet/format.hpp"
#include "firmware-host/sheet/thresholds.hpp"

namespace hangtrue::sheet {

std::optional<double> read_place(const RunDraft& draft, Walk& table, std::string_view key) {
  const auto place = table.quantity(key, Kind::length, required);
  if (!place || !draft.length_m) return std::nullopt;
  if (*place < -kSamePlace_m || *place > *draft.length_m + kSamePlace_m) {
    table.complain(key, "a place on the run, from 0 to " + draft.length_typed);
    return std::nullopt;
  }
  if (std::abs(*place) < kSamePlace_m) return 0.0;
  if (std::abs(*place - *draft.length_m) < kSamePlace_m) return *draft.length_m;
  return place;
}

std::optional<std::pair<double, double>> read_stretch(const RunDraft& draft, Walk& table) {
  const auto from = read_place(draft, table, "from");
  const auto to = read_place(draft, table, "to");
  if (!from || !to) return std::nullopt;
  if (*to <= *from + kSamePlace_m) {
    table.complain("to", "a place beyond from");
    return std::nullopt;
  }
  return std::pair{*from, *to};
}

std::string read_name(Walk& table, std::map<std::string, int>& taken, const char* expected) {
  const auto name = table.text("name", required);
  if (!name) return "";
  const auto [first, fresh] = taken.emplace(*name, table.line("name"));
  if (!fresh)
    table.complain("name",
                   in_quotes(*name) + ", which line " + std::to_string(first->second) + " has already",
                   expected);
  return *name;
}

double read_relative_sigma(Walk& table, std::string_view key, double otherwise) {
  return table.share(key, optional, 0, 1, "a plain number between 0 and 1: one standard deviation, relative")
      .value_or(otherwise);
}

}  // namespace hangtrue::sheet
