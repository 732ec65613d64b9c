#include <algorithm>
#include <charconv>

#include "core/quantity/limits.hpp"
#include "firmware-host/sheet/run_draft.hpp"
#include "firmware-host/sheet/thresholds.hpp"

namespace hangtrue::sheet {
namespace {

std::string lower(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return text;
}

// The start, each step from it, and the end, even where the last step is shorter.
void place_stations(RunDraft& draft, Walk& table, double every_m) {
  const double steps = *draft.length_m / every_m;
  if (!(steps <= kMaxStations - 1)) {
    table.complain("every", "a distance that gives at most " + std::to_string(kMaxStations) + " stations");
    return;
  }
  for (int i = 0; i * every_m < *draft.length_m - kSamePlace_m; ++i)
    draft.sheet.stations_m.push_back(i * every_m);
  draft.sheet.stations_m.push_back(*draft.length_m);
}

}  // namespace

void read_stations(RunDraft& draft, Walk& top) {
  const toml::node* const node = top.node("stations", optional, "");
  if (node == nullptr) {
    if (draft.length_m) {
      for (int i = 0; i <= kDefaultSpaces; ++i)
        draft.sheet.stations_m.push_back(*draft.length_m * i / kDefaultSpaces);
    }
    return;
  }
  if (node->is_table()) {
    auto table = *top.table("stations", required);
    const auto every = table.quantity("every", Kind::length, required, Sign::positive);
    table.close();
    if (every && draft.length_m) place_stations(draft, table, *every);
    return;
  }
  const toml::array* const list = node->as_array();
  if (list == nullptr) {
    top.complain("stations", "{ every = \"300 mm\" }, or a list of places");
    return;
  }
  int index = 0;
  for (const toml::node& element : *list) {
    const std::string path = "stations[" + std::to_string(++index) + "]";
    const auto place = top.quantity_of(element, path, Kind::length, Sign::any);
    if (!place || !draft.length_m) continue;
    const int at = static_cast<int>(element.source().begin.line);
    if (*place < -kSamePlace_m || *place > *draft.length_m + kSamePlace_m)
      draft.sink.add(at, path, shown(element), "a place on the run, from 0 to " + draft.length_typed);
    else if (!draft.sheet.stations_m.empty() && *place <= draft.sheet.stations_m.back() + kSamePlace_m)
      draft.sink.add(at, path, shown(element), "a place beyond the station before it");
    else
      draft.sheet.stations_m.push_back(std::clamp(*place, 0.0, *draft.length_m));
  }
  if (list->size() < 2) top.complain("stations", "at least two places");
  if (list->size() > kMaxStations)
    top.complain("stations", "a list of " + std::to_string(list->size()),
                 "at most " + std::to_string(kMaxStations) + " places");
}

// A mark's name may be given where a place is asked for; so it must not read as a place.
void read_mark(RunDraft& draft, Walk& table) {
  const auto name = table.text("name", required);
  const auto at = table.quantity("at", Kind::length, required);
  table.close();
  if (name) {
    const auto same = [&](const Mark& other) { return lower(other.name) == lower(*name); };
    int number = 0;
    const char* const end = name->data() + name->size();
    const auto [stopped, error] = std::from_chars(name->data(), end, number);
    if (parse_quantity(*name, Kind::length).ok())
      table.complain("name", in_quotes(*name) + ", which reads as a length",
                     "a name that is no place along the run, such as \"lintel\"");
    else if (error != std::errc::invalid_argument && stopped == end)
      table.complain("name", in_quotes(*name) + ", which reads as a station's number",
                     "a name with a letter in it, such as \"mark " + *name + '"');
    else if (std::any_of(draft.sheet.marks.begin(), draft.sheet.marks.end(), same))
      table.complain("name", in_quotes(*name) + " a second time",
                     "a name of its own among marks, not by upper and lower case alone");
    else if (name->size() > kLongestMark || name->front() == ' ' || name->back() == ' ' ||
             name->find("  ") != std::string::npos)
      table.complain("name", "at most " + std::to_string(kLongestMark) +
                                 " characters, single spaces between words alone");
  }
  if (at && draft.length_m && !(*at >= -kFarthestMark_m && *at <= *draft.length_m + kFarthestMark_m))
    table.complain("at", "a place at most " + show_length(kFarthestMark_m, draft.sheet.show) +
                             " beyond either end of the run");
  draft.sheet.marks.push_back({name.value_or(""), at.value_or(0)});
}

}  // namespace hangtrue::sheet
