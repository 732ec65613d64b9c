#include "firmware-host/sheet/run_draft.hpp"

#include <algorithm>
#include <cmath>

#include "firmware-host/sheet/thresholds.hpp"

namespace hangtrue::sheet {
namespace {

template <class Bits>
std::optional<int> find_listed(RunDraft& draft, const TextAt& written, const std::vector<std::string>& names,
                               const std::string& what, Bits taken) {
  const auto found = std::find(names.begin(), names.end(), written.text);
  if (found == names.end()) {
    std::string expected = "a " + what + " of this sheet";
    const std::string near = nearest(written.text, names);
    if (!near.empty())
      expected += "; did you mean " + in_quotes(near) + "?";
    else if (!names.empty())
      expected += ": " + any_of(names);
    draft.sink.add(written.line, written.path, in_quotes(written.text) + ", no " + what + " of this sheet",
                   expected);
    return std::nullopt;
  }
  const auto index = static_cast<int>(found - names.begin());
  if (index >= static_cast<int>(sizeof(Bits) * 8)) return std::nullopt;  // too many; complained of as such
  if (((taken >> index) & Bits{1}) != 0) {
    draft.sink.add(written.line, written.path, in_quotes(written.text) + " a second time",
                   "each " + what + " once in a stage");
    return std::nullopt;
  }
  return index;
}

// Where two rigid restraints hold one motion at one place, nothing tells which of them carries.
void check_rigid_twice(const RunSheet& sheet, Walk& table, const beam::Stage& stage) {
  const auto rigid = [](const beam::Restraint<double>& restraint) {
    return restraint.held && restraint.compliance == 0;
  };
  for (std::size_t i = 0; i < sheet.beam_supports.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      const auto& a = sheet.beam_supports[j];
      const auto& b = sheet.beam_supports[i];
      if (i >= 32 || !stage.lists_support(static_cast<int>(i)) || !stage.lists_support(static_cast<int>(j)))
        continue;
      if (std::abs(a.at_m - b.at_m) > kSamePlace_m) continue;
      const bool one_rise = std::abs(a.across_m - b.across_m) <= kSamePlace_m;
      const char* const motion = rigid(a.rise) && rigid(b.rise) && one_rise ? "rise"
                                 : rigid(a.pitch) && rigid(b.pitch)         ? "pitch"
                                 : rigid(a.roll) && rigid(b.roll)           ? "roll"
                                                                            : nullptr;
      if (motion != nullptr)
        table.complain("supports",
                       in_quotes(sheet.supports[j].name) + " and " + in_quotes(sheet.supports[i].name) +
                           ", both rigid in " + motion + " at the same place",
                       "at most one of them in a stage, or a stiffness instead of \"rigid\"");
    }
  }
}

}  // namespace

void read_stage(RunDraft& draft, Walk& table) {
  beam::Stage stage;
  const std::string name = read_name(table, draft.stage_names, "a name of its own among stages");
  std::vector<std::string> supports, loads;
  for (const SupportEntry& each : draft.sheet.supports) supports.push_back(each.name);
  for (const LoadEntry& each : draft.sheet.loads) loads.push_back(each.name);

  const auto listed = table.texts("supports", required);
  for (const TextAt& each : listed)
    if (const auto bit = find_listed(draft, each, supports, "support", stage.supports))
      stage.supports |= std::uint32_t{1} << *bit;
  if (listed.empty() && table.has("supports"))
    table.complain("supports", "at least one support: nothing else holds the run");
  for (const TextAt& each : table.texts("loads", required)) {
    const auto without_load = std::find_if(
        draft.members.begin(), draft.members.end(),
        [&](const Member& member) { return member.entry.name == each.text && !member.brings_load(); });
    if (without_load != draft.members.end()) {
      if (without_load->given)
        draft.sink.add(each.line, each.path,
                       in_quotes(each.text) + ", a given section without weight_per_length",
                       "a load, or weight_per_length in that section");
      continue;
    }
    if (const auto bit = find_listed(draft, each, loads, "load", stage.loads))
      stage.loads |= std::uint64_t{1} << *bit;
  }
  check_rigid_twice(draft.sheet, table, stage);
  table.close();
  draft.sheet.stages.push_back(name);
  draft.sheet.beam_stages.push_back(stage);
}

namespace {

std::optional<StraightEdge> parse_straight_edge(std::string_view text) {
  constexpr std::string_view kOver = " over ";
  const std::size_t over = text.find(kOver);
  if (over == std::string_view::npos) return std::nullopt;
  const auto gap = parse_quantity(text.substr(0, over), Kind::length);
  const auto length = parse_quantity(text.substr(over + kOver.size()), Kind::length);
  if (!gap || !length || !(gap.value() > 0) || !(length.value() > gap.value())) return std::nullopt;
  return StraightEdge{gap.value(), length.value()};
}

/// Below a shorter one there is no station between, and nothing would ever be found. True where the stations could not be read.
bool reaches_over_three(const std::vector<double>& stations_m, double length_m) {
  for (std::size_t i = 0; i + 2 < stations_m.size(); ++i)
    if (stations_m[i + 2] - stations_m[i] <= length_m * (1 + 1e-9)) return true;  // but for rounding
  return stations_m.empty();
}

}  // namespace

void read_tolerance(RunDraft& draft, Walk& top) {
  Tolerance& tolerance = draft.sheet.tolerance;
  tolerance.stage = std::max(0, static_cast<int>(draft.sheet.stages.size()) - 1);
  auto table = top.table("tolerance", optional);
  if (!table) return;
  tolerance.level_m = table->quantity("level", Kind::length, required, Sign::positive).value_or(0);
  if (const auto name = table->text("stage", optional)) {
    if (const int named = draft.sheet.stage(*name); named >= 0) {
      tolerance.stage = named;
    } else {
      const std::string near = nearest(*name, draft.sheet.stages);
      table->complain("stage", near.empty() ? "a stage of this sheet: " + any_of(draft.sheet.stages)
                                            : "a stage of this sheet; did you mean " + in_quotes(near) + "?");
    }
  }
  tolerance.confidence =
      table->share("confidence", optional, 0, 1, "a plain number between 0 and 1, such as 0.95")
          .value_or(0.95);
  tolerance.span_ratio =
      table->number("span_ratio", optional, 0, 1e9, "a plain number more than 0, such as 360");
  tolerance.span_ratio_source = table->text("source", optional).value_or("");
  tolerance.target_height_m = table->quantity("target_height", Kind::length, optional);
  if (const auto per = table->text("per", optional)) {
    tolerance.per = parse_straight_edge(*per);
    if (!tolerance.per)
      table->complain("per", "how far a straight-edge of a length may depart, such as \"2 mm over 2 m\"");
    else if (!reaches_over_three(draft.sheet.stations_m, tolerance.per->length_m))
      table->complain(
          "per",
          "a straight-edge that reaches over three stations: a longer one, or stations closer together");
  }
  if (const auto after = table->text("after", optional)) {
    tolerance.after_days = parse_days(*after);
    if (!tolerance.after_days)
      table->complain("after",
                      "a stretch of time from a day to a hundred years, such as \"1 year\" or \"26 weeks\"");
  }
  table->close();
}

}  // namespace hangtrue::sheet
