#include "firmware-host/sheet/run_draft.hpp"

#include <algorithm>
#include <tuple>

#include "core/quantity/units.hpp"
#include "firmware-host/sheet/thresholds.hpp"

namespace hangtrue::sheet {
namespace {

// The only one of the keys that the load has; complains where there is none, or more than one.
std::string one_of(Walk& table, std::vector<std::string> keys) {
  std::string found;
  int count = 0;
  for (const std::string& key : keys) {
    if (!table.has(key)) continue;
    found = key;
    ++count;
  }
  if (count == 1) return found;
  if (count == 0)
    table.complain(keys.front(), "no such key", "one of " + any_of(keys));
  else
    table.complain(found, "more than one of " + any_of(keys), "one of them");
  return "";
}

void read_point(Walk& table, beam::LoadPart<double>& part, LoadEntry& entry) {
  const std::string key = one_of(table, {"mass", "weight", "couple"});
  part.kind = beam::LoadKind::point;
  if (key == "mass") {
    part.begin = table.quantity(key, Kind::mass, required, Sign::positive).value_or(0) * kGravity_m_per_s2;
  } else if (key == "weight") {
    part.begin = table.quantity(key, Kind::force, required, Sign::not_zero).value_or(0);
  } else if (key == "couple") {
    part.kind = beam::LoadKind::couple;
    part.begin = table.quantity(key, Kind::couple, required).value_or(0);
  }
  if (part.kind == beam::LoadKind::point) entry.weight_N = part.begin;
}

void read_spread(Walk& table, const std::optional<std::pair<double, double>>& stretch,
                 beam::LoadPart<double>& part, LoadEntry& entry) {
  const std::string key = one_of(table, {"mass", "weight", "weight_per_length"});
  const double length = stretch ? stretch->second - stretch->first : 1;
  part.kind = beam::LoadKind::spread;
  if (key == "mass") {
    part.begin = part.end =
        table.quantity(key, Kind::mass, required, Sign::positive).value_or(0) * kGravity_m_per_s2 / length;
  } else if (key == "weight") {
    part.begin = part.end = table.quantity(key, Kind::force, required, Sign::not_zero).value_or(0) / length;
  } else if (key == "weight_per_length") {
    const toml::node* const node = table.node(key, required, "");
    if (node->is_array()) {
      if (const auto ends = table.pair(key, Kind::weight_per_length, required)) {
        std::tie(part.begin, part.end) = *ends;
        if (part.begin * part.end < 0 || part.begin + part.end == 0)
          table.complain(key, "two weights per length, both down or both up (below 0), not both 0");
      }
    } else {
      part.begin = part.end =
          table.quantity(key, Kind::weight_per_length, required, Sign::not_zero).value_or(0);
    }
  }
  entry.weight_N = (part.begin + part.end) / 2 * length;
}

void read_warmth(RunDraft& draft, Walk& table, const std::optional<std::pair<double, double>>& stretch,
                 int load) {
  (void)one_of(table, {"warmer_below", "mass", "weight", "weight_per_length"});
  const auto difference = table.quantity("warmer_below", Kind::temperature_difference, required);
  const bool has_depth = table.has("depth");
  const auto depth = table.quantity("depth", Kind::length, optional, Sign::positive);
  if (!stretch || !difference || (has_depth && !depth)) return;
  for (const Member& member : draft.members) {
    const bool met =
        member.placed && member.entry.from_m < stretch->second && member.entry.to_m > stretch->first;
    if (!met) continue;
    if (member.material == nullptr || !member.material->expansion_per_K) {
      if (member.material == nullptr && !member.given) continue;  // complained of at the member
      table.complain(
          "warmer_below",
          "a stretch over " + in_quotes(member.entry.name) + ", whose thermal expansion is not known",
          "expansion = \"12e-6 /K\" in the material of that member");
    }
    if (member.given && !depth)
      table.complain("depth", "no such key, and " + in_quotes(member.entry.name) + " has a given section",
                     "the depth over which the difference lies, " + std::string(example(Kind::length)));
  }
  draft.warmths.push_back({load, stretch->first, stretch->second, *difference, depth});
}

}  // namespace

void read_load(RunDraft& draft, Walk& table) {
  const int load = static_cast<int>(draft.sheet.loads.size());
  LoadEntry entry;
  entry.name = read_name(table, draft.load_names, "a name of its own among members and loads");
  entry.sigma = read_relative_sigma(table, "sigma", kDefaultLoadSigma);
  const auto permanent = table.share("permanent", optional, -1e-12, 1 + 1e-12, "a plain number from 0 to 1");

  beam::LoadPart<double> part;
  part.load = load;
  const bool at_a_point = table.has("at");
  const bool warm = table.has("warmer_below");
  if (at_a_point) {
    if (table.has("from") || table.has("to"))
      table.complain("at", "a place and a stretch", "either at, or from and to");
    if (const auto at = read_place(draft, table, "at")) part.from_m = part.to_m = *at;
    read_point(table, part, entry);
  } else if (table.has("from") || table.has("to")) {
    const auto stretch = read_stretch(draft, table);
    if (stretch) std::tie(part.from_m, part.to_m) = *stretch;
    if (warm)
      read_warmth(draft, table, stretch, load);
    else
      read_spread(table, stretch, part, entry);
  } else {
    table.complain("from", "no place", "from and to for a stretch, or at for a point");
    (void)one_of(table, {"mass", "weight", "weight_per_length", "couple", "warmer_below"});
  }
  if (warm) {
    if (permanent) table.complain("permanent", "no such key for warmth, which leaves no lasting load");
    if (table.has("across")) table.complain("across", "no such key for warmth");
  } else {
    part.across_m = table.quantity("across", Kind::length, optional).value_or(0);
    if (part.kind == beam::LoadKind::couple && part.across_m != 0)
      table.complain("across", "no such key for a couple");
    draft.sheet.load_parts.push_back(part);
  }
  entry.permanent_share = warm ? 0 : std::clamp(permanent.value_or(1), 0.0, 1.0);
  table.close();
  draft.sheet.loads.push_back(std::move(entry));
}

}  // namespace hangtrue::sheet
