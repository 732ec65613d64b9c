#include "firmware-host/sheet/run_sheet.hpp"

#include <algorithm>
#include <functional>

#include "core/quantity/limits.hpp"
#include "firmware-host/sheet/run_draft.hpp"

namespace hangtrue::sheet {
namespace {

void read_top(RunDraft& draft, Walk& top) {
  draft.sheet.title = top.text("title", optional).value_or("Run");
  if (const auto show = top.word("show", optional, {"metric", "imperial"}))
    draft.sheet.show = *show == 1 ? Show::imperial : Show::metric;
  if (const auto language = top.word("language", optional, {"en", "de"}))
    draft.sheet.language = *language == 1 ? Language::german : Language::english;
  draft.length_m = top.quantity("length", Kind::length, required, Sign::positive);
  draft.sheet.length_m = draft.length_m.value_or(0);
  if (draft.length_m) draft.length_typed = top.text("length", optional).value_or("");
  draft.sheet.width_m = top.quantity("width", Kind::length, optional, Sign::positive).value_or(0);
}

void read_priors(RunDraft& draft, Walk& top) {
  auto table = top.table("prior", optional);
  if (!table) return;
  Priors& priors = draft.sheet.priors;
  priors.bending_sigma = read_relative_sigma(*table, "bending", priors.bending_sigma);
  priors.torsion_sigma = read_relative_sigma(*table, "torsion", priors.torsion_sigma);
  priors.bow_sigma_m =
      table->quantity("bow", Kind::length, optional, Sign::positive).value_or(priors.bow_sigma_m);
  priors.bows = table->whole("bows", optional, 0, kMaxBows).value_or(priors.bows);
  priors.datum_height_sigma_m = table->quantity("datum_height", Kind::length, optional, Sign::positive)
                                    .value_or(priors.datum_height_sigma_m);
  priors.datum_tilt_sigma =
      table->quantity("datum_tilt", Kind::slope, optional, Sign::positive).value_or(priors.datum_tilt_sigma);
  table->close();
}

void check_sizes(const RunSheet& sheet, Walk& top) {
  const auto at_most = [&](const char* key, std::size_t count, int most, const char* what) {
    if (count > static_cast<std::size_t>(most))
      top.complain(key, std::to_string(count) + " " + what, "at most " + std::to_string(most));
  };
  at_most("support", sheet.supports.size(), kMaxSupports, "supports");
  at_most("stage", sheet.stages.size(), kMaxStages, "stages");
  at_most("mark", sheet.marks.size(), kMaxMarks, "marks");
  at_most("load", sheet.loads.size(), kMaxLoads, "loads, members' own weights among them");
  std::size_t unknowns = 2 + sheet.loads.size() + static_cast<std::size_t>(sheet.priors.bows);
  for (const auto& support : sheet.beam_supports)
    for (const auto& motion : {support.rise, support.pitch, support.roll})
      unknowns += (motion.held ? 1u : 0u) + (motion.held && motion.compliance > 0 ? 1u : 0u);
  at_most("support", unknowns, kMaxUnknowns, "unknowns from supports, springs, loads and bows");
}

int index_of(const auto& entries, std::string_view wanted, auto name) {
  const auto found = std::find_if(entries.begin(), entries.end(),
                                  [&](const auto& each) { return std::invoke(name, each) == wanted; });
  return found == entries.end() ? -1 : static_cast<int>(found - entries.begin());
}

}  // namespace

beam::Run<double> RunSheet::run() const {
  beam::Run<double> run;
  run.length_m = length_m;
  run.pieces = pieces;
  run.load_parts = load_parts;
  run.loads = static_cast<int>(loads.size());
  run.supports = beam_supports;
  run.stages = beam_stages;
  run.bows = priors.bows;
  run.shear_centre_m = shear_centre_m;
  return run;
}

int RunSheet::stage(std::string_view name) const { return index_of(stages, name, std::identity()); }
int RunSheet::support(std::string_view name) const { return index_of(supports, name, &SupportEntry::name); }
int RunSheet::load(std::string_view name) const { return index_of(loads, name, &LoadEntry::name); }
int RunSheet::mark(std::string_view name) const { return index_of(marks, name, &Mark::name); }

RunSheet for_people(RunSheet sheet) {
  sheet.show.language = sheet.language;
  return sheet;
}

RunSheetOrComplaints parse_run_sheet(std::string_view text, const std::string& shown_name) {
  RunDraft draft;
  draft.sink.file = draft.sheet.file = shown_name;
  if (const auto root = parse_toml(text, draft.sink)) {
    Walk top(*root, "", draft.sink);
    read_top(draft, top);
    read_materials(draft, top);
    read_stocks(draft, top);
    for (Walk& table : top.tables("member", required)) read_member(draft, table);
    add_own_weights(draft);
    for (Walk& table : top.tables("load", optional)) read_load(draft, table);
    for (Walk& table : top.tables("support", required)) read_support(draft, table);
    for (Walk& table : top.tables("stage", required)) read_stage(draft, table);
    read_stations(draft, top);
    read_tolerance(draft, top);
    for (Walk& table : top.tables("mark", optional)) read_mark(draft, table);
    read_priors(draft, top);
    top.close();
    check_sizes(draft.sheet, top);
    build_pieces(draft, top);
  }
  if (!draft.sink.complaints.empty()) return {std::nullopt, draft.sink.taken_in_order()};
  return {std::move(draft.sheet), {}};
}

RunSheetOrComplaints read_run_sheet(const std::string& path) {
  Sink sink;
  sink.file = path;
  const auto text = read_text_file(path, sink);
  if (!text) return {std::nullopt, std::move(sink.complaints)};
  return parse_run_sheet(*text, path);
}

}  // namespace hangtrue::sheet
