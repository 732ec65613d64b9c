#include "firmware-host/sheet/run_sheet.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "core/beam/section.hpp"
#include "core/quantity/limits.hpp"
#include "core/quantity/units.hpp"
#include "firmware-host/sheet/creep_table.hpp"
#include "firmware-host/sheet/walk.hpp"

namespace hangtrue::sheet {
namespace {

// Places nearer than this are one place: far below what can be measured, far above rounding of units.
constexpr double kSamePlace_m = 1e-9;

constexpr double kDefaultLoadSigma = 0.05;
constexpr double kDefaultMemberWeightSigma = 0.03;
constexpr double kDefaultRiseSigma_m = 0.020;
constexpr double kDefaultTurnSigma_rad = 0.020;
constexpr double kDefaultLogSpringSigma = 0.3;
constexpr double kDefaultLiftStep_m = 0.001;
constexpr double kFarthestMark_m = 100;  // beyond either end of the run: farther than any laser here reads
constexpr std::size_t kLongestMark = 60;
constexpr int kDefaultSpaces = 10;  // between stations, where the sheet names none

struct Material {
  double E_Pa = 0, G_Pa = 0, density_kg_per_m3 = 0, creep = 0;
  std::optional<double> expansion_per_K;
};

// A member as the sheet has it, with what it gives to stiffness.
struct Member {
  MemberEntry entry;
  int line = 0;
  const Material* material = nullptr;
  bool placed = false;  // from and to are known
  bool given = false;
  double bending_N_m2 = 0, torsion_N_m2 = 0, shear_N = std::numeric_limits<double>::infinity();
  double area_m2 = 0, second_moment_m4 = 0;
  double weight_N_per_m = 0, weight_sigma = kDefaultMemberWeightSigma, across_m = 0;

  [[nodiscard]] double creep() const { return material != nullptr ? material->creep : 0.0; }
  [[nodiscard]] bool covers(double from_m, double to_m) const {
    return entry.from_m <= from_m + kSamePlace_m && entry.to_m >= to_m - kSamePlace_m;
  }
};

std::string lower(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return text;
}

struct Warmth {
  int load;
  double from_m, to_m, warmer_below_K;
  std::optional<double> depth_m;
};

struct Stiffness {
  double bending_N_m2 = 0, torsion_N_m2 = 0, shear_N = 0;
};

// A stretch of the run with the members that carry over it.
struct Stretch {
  double from_m = 0, to_m = 0;
  std::vector<const Member*> members;

  // Neutral height of the members that act as one. `crept`: every E divided by 1 + creep.
  [[nodiscard]] double neutral_up_m(bool crept) const {
    double weight = 0, moment = 0;
    for (const Member* const member : members) {
      if (!member->entry.as_one) continue;
      const double stiffness = member->material->E_Pa * member->area_m2 / (crept ? 1 + member->creep() : 1);
      weight += stiffness;
      moment += stiffness * member->entry.up_m;
    }
    return weight > 0 ? moment / weight : 0;
  }
  // Its part of EI, parallel axis included.
  [[nodiscard]] double bending_share(const Member& member, bool crept) const {
    double bending = member.bending_N_m2;
    if (member.entry.as_one) {
      const double arm = member.entry.up_m - neutral_up_m(crept);
      bending += member.material->E_Pa * member.area_m2 * arm * arm;
    }
    return bending / (crept ? 1 + member.creep() : 1);
  }
  [[nodiscard]] Stiffness stiffness(bool crept) const {
    Stiffness sum;
    for (const Member* const member : members) {
      const double softer = crept ? 1 + member->creep() : 1;
      sum.bending_N_m2 += bending_share(*member, crept);
      sum.torsion_N_m2 += member->torsion_N_m2 / softer;
      sum.shear_N += member->shear_N / softer;
    }
    return sum;
  }
  // Depth over which a difference in temperature lies: its own, or of all that act as one with it; 0 where unknown.
  [[nodiscard]] double depth_m(const Member& member) const {
    if (!member.entry.as_one) return member.entry.depth_m;
    double top = -std::numeric_limits<double>::infinity(), bottom = -top;
    for (const Member* const other : members) {
      if (!other->entry.as_one) continue;
      top = std::max(top, other->entry.up_m + other->entry.depth_m / 2);
      bottom = std::min(bottom, other->entry.up_m - other->entry.depth_m / 2);
    }
    return top - bottom;
  }
};

class RunReader {
 public:
  RunReader(std::string_view text, const std::string& shown_name) : text_(text) { sink_.file = shown_name; }

  RunSheetOrComplaints read() {
    const auto root = parse_toml(text_, sink_);
    if (root) {
      Walk top(*root, "", sink_);
      read_top(top);
      read_materials(top);
      read_stocks(top);
      for (Walk& table : top.tables("member", Need::required)) read_member(table);
      add_own_weights();
      for (Walk& table : top.tables("load", Need::optional)) read_load(table);
      for (Walk& table : top.tables("support", Need::required)) read_support(table);
      for (Walk& table : top.tables("stage", Need::required)) read_stage(table);
      read_tolerance(top);
      read_stations(top);
      for (Walk& table : top.tables("mark", Need::optional)) read_mark(table);
      read_priors(top);
      top.close();
      check_sizes(top);
      build_pieces(top);
    }
    RunSheetOrComplaints result;
    if (sink_.complaints.empty()) {
      sheet_.file = sink_.file;
      result.sheet = std::move(sheet_);
    } else {
      result.complaints = sink_.taken_in_order();
    }
    return result;
  }

 private:
  static constexpr auto required = Need::required;
  static constexpr auto optional = Need::optional;

  void read_top(Walk& top) {
    sheet_.title = top.text("title", optional).value_or("Run");
    if (const auto show = top.word("show", optional, {"metric", "imperial"}))
      sheet_.show = *show == 1 ? Show::imperial : Show::metric;
    length_m_ = top.quantity("length", Kind::length, required, Sign::positive);
    sheet_.length_m = length_m_.value_or(0);
    sheet_.width_m = top.quantity("width", Kind::length, optional, Sign::positive).value_or(0);
  }

  // -- materials and stock ------------------------------------------------------------------------------------------

  void read_materials(Walk& top) {
    for (auto& [name, table] : top.named_tables("material")) {
      Material material;
      const auto E = table.quantity("E", Kind::stress, required, Sign::positive);
      const auto G = table.quantity("G", Kind::stress, required, Sign::positive);
      if (E && G && *G >= *E)
        table.complain("G", "a shear modulus below E (that of steel is about E/2.6, of wood E/16)");
      material.E_Pa = E.value_or(1);
      material.G_Pa = G.value_or(1);
      material.density_kg_per_m3 =
          table.quantity("density", Kind::density, required, Sign::positive).value_or(0);
      material.expansion_per_K = table.quantity("expansion", Kind::expansion, optional, Sign::not_negative);
      material.creep = read_creep(table);
      table.close();
      materials_.emplace(name, material);
    }
  }

  double read_creep(Walk& table) {
    const auto k_def = table.number("k_def", optional, -1e-12, 100, "a plain number, 0 or more, such as 0.6");
    if (!table.has("creep")) return k_def.value_or(0);
    if (table.has("k_def")) table.complain("creep", "both k_def and creep", "one of the two");
    auto creep = table.table("creep", optional);
    if (!creep) return 0;
    const auto material = creep->text("material", required);
    const auto grade = creep->text("grade", optional);
    const auto service_class = creep->whole("service_class", required, 1, 3);
    creep->close();
    if (!material) return 0;
    const CreepRow* const row = find_creep(*material, grade.value_or(""));
    if (row == nullptr) {
      std::vector<std::string> materials, grades;
      for (const CreepRow& each : creep_table()) {
        if (std::find(materials.begin(), materials.end(), each.material) == materials.end())
          materials.emplace_back(each.material);
        if (each.material == *material && !each.grade.empty()) grades.emplace_back(each.grade);
      }
      if (std::find(materials.begin(), materials.end(), *material) == materials.end())
        creep->complain("material", any_of(materials) + " (EN 1995-1-1 Table 3.2), or k_def = ... instead");
      else if (grades.empty())
        creep->complain("grade", "no grade: this material has one row in EN 1995-1-1 Table 3.2");
      else
        creep->complain("grade", any_of(grades) + " (EN 1995-1-1 Table 3.2)");
      return 0;
    }
    if (!service_class) return 0;
    const double value = row->by_class[*service_class - 1];
    if (value <= 0)
      creep->complain("service_class", "a class that EN 1995-1-1 Table 3.2 has for this material and grade");
    return value;
  }

  void read_stocks(Walk& top) {
    for (auto& [name, table] : top.named_tables("stock")) {
      Stock stock;
      stock.name = name;
      for (Walk& each : table.tables("pieces", required)) {
        const auto thickness = each.quantity("thickness", Kind::length, required, Sign::positive);
        const auto count = each.whole("count", required, 0, 100000);
        if (thickness) {
          const auto same = [&](const PieceOfStock& other) {
            return std::abs(other.thickness_m - *thickness) < kSamePlace_m;
          };
          if (std::any_of(stock.pieces.begin(), stock.pieces.end(), same))
            each.complain("thickness", "each thickness once in a stock");
          stock.pieces.push_back(
              {*thickness, count.value_or(0), each.text("thickness", optional).value_or("")});
        }
        each.close();
      }
      stock.most = table.whole("most", optional, 1, 100).value_or(4);
      stock.highest_m = table.quantity("highest", Kind::length, optional, Sign::positive);
      table.close();
      sheet_.stocks.push_back(std::move(stock));
    }
  }

  // -- places -------------------------------------------------------------------------------------------------------

  // A place on the run, snapped to its ends.
  std::optional<double> read_place(Walk& table, std::string_view key) {
    const auto place = table.quantity(key, Kind::length, required);
    if (!place || !length_m_) return std::nullopt;
    if (*place < -kSamePlace_m || *place > *length_m_ + kSamePlace_m) {
      table.complain(key, "a place on the run, from 0 to " + show_length(*length_m_, sheet_.show));
      return std::nullopt;
    }
    if (std::abs(*place) < kSamePlace_m) return 0.0;
    if (std::abs(*place - *length_m_) < kSamePlace_m) return *length_m_;
    return place;
  }

  std::optional<std::pair<double, double>> read_stretch(Walk& table) {
    const auto from = read_place(table, "from");
    const auto to = read_place(table, "to");
    if (!from || !to) return std::nullopt;
    if (*to <= *from + kSamePlace_m) {
      table.complain("to", "a place beyond from");
      return std::nullopt;
    }
    return std::pair{*from, *to};
  }

  // A name that no other of its sort has; empty where it is missing (already complained of).
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

  // -- members ------------------------------------------------------------------------------------------------------

  void read_member(Walk& table) {
    Member member;
    member.line = table.line();
    member.entry.name = read_name(table, load_names_, "a name of its own among members and loads");
    if (const auto stretch = read_stretch(table)) {
      std::tie(member.entry.from_m, member.entry.to_m) = *stretch;
      member.placed = true;
    }
    member.entry.as_one = table.word("acts", optional, {"side by side", "as one"}) == 1;
    if (const auto up = table.quantity("up", Kind::length, member.entry.as_one ? required : optional)) {
      member.entry.up_m = *up;
      if (!member.entry.as_one && !table.has("acts"))
        table.complain("up", "acts = \"as one\" beside it: only then does the height of a centroid count");
    }
    member.weight_sigma = read_relative_sigma(table, "weight_sigma", kDefaultMemberWeightSigma);
    member.across_m = table.quantity("across", Kind::length, optional).value_or(0);

    auto section = table.table("section", required);
    const auto shape = !section ? std::nullopt
                                : section->word("shape", required,
                                                {"hollow rectangle", "solid rectangle", "round", "tube",
                                                 "flat plate", "angle", "channel", "given"});
    member.given = shape == kGiven;
    read_material_of(table, member);
    if (shape == kGiven) {
      read_given(*section, table, member);
    } else if (shape) {
      read_shape(*section, *shape, member);
    }
    if (section && shape) section->close();
    table.close();
    members_.push_back(std::move(member));
  }

  void read_material_of(Walk& table, Member& member) {
    const auto name = table.text("material", member.given ? optional : required);
    if (!name) return;
    member.entry.material = *name;
    const auto found = materials_.find(*name);
    if (found != materials_.end()) {
      member.material = &found->second;
      return;
    }
    std::vector<std::string> names;
    for (const auto& [each, material] : materials_) names.push_back(each);
    table.complain("material", names.empty() ? "a [material." + *name + "] in this sheet"
                                             : "a material of this sheet: " + any_of(names));
  }

  void read_given(Walk& section, Walk& table, Member& member) {
    member.bending_N_m2 =
        section.quantity("EI", Kind::flexural_rigidity, required, Sign::positive).value_or(1);
    member.torsion_N_m2 =
        section.quantity("GJ", Kind::flexural_rigidity, required, Sign::positive).value_or(1);
    if (const auto shear = section.quantity("GA", Kind::force, optional, Sign::positive))
      member.shear_N = *shear;
    member.weight_N_per_m =
        section.quantity("weight_per_length", Kind::weight_per_length, optional, Sign::positive).value_or(0);
    member.entry.bending_N_m2 = member.bending_N_m2;
    if (member.entry.as_one) {
      table.complain("acts", "\"side by side\": a given section has no area of its own to act as one");
      member.entry.as_one = false;
    }
  }

  static constexpr int kHollow = 0, kSolid = 1, kRound = 2, kTube = 3, kPlate = 4, kAngle = 5, kChannel = 6,
                       kGiven = 7;

  void read_shape(Walk& section, int shape, Member& member) {
    bool complete = true;
    const auto size = [&](const char* key) {
      const auto value = section.quantity(key, Kind::length, required, Sign::positive);
      complete = complete && value.has_value();
      return value.value_or(0);
    };
    const auto radius = [&](const char* key) {
      const bool written = section.has(key);
      const auto value = section.quantity(key, Kind::length, optional, Sign::not_negative);
      complete = complete && value.has_value() == written;
      return value;
    };
    const double E = member.material != nullptr ? member.material->E_Pa : 1;
    const double G = member.material != nullptr ? member.material->G_Pa : 1;
    const double poisson = beam::poisson_ratio(E, G);
    std::optional<beam::SectionResult<double>> properties;
    switch (shape) {
      case kHollow: {
        const double depth = size("depth"), width = size("width"), wall = size("wall");
        const double outside = radius("corner").value_or(0);
        const bool spaced = section.has("inside corner");
        const double inside =
            radius(spaced ? "inside corner" : "inside_corner").value_or(std::max(0.0, outside - wall));
        if (complete) properties = beam::hollow_rectangle(depth, width, wall, outside, inside, poisson);
        break;
      }
      case kSolid: {
        const double depth = size("depth"), width = size("width");
        if (complete) properties = beam::solid_rectangle(depth, width);
        break;
      }
      case kRound: {
        const double diameter = size("diameter");
        if (complete) properties = beam::round_bar(diameter, poisson);
        break;
      }
      case kTube: {
        const double diameter = size("diameter"), wall = size("wall");
        if (complete) properties = beam::tube(diameter, wall, poisson);
        break;
      }
      case kPlate: {
        const double width = size("width"), thickness = size("thickness");
        if (complete) properties = beam::flat_plate(width, thickness);
        break;
      }
      case kAngle: {
        const double depth = size("depth"), width = size("width"), thickness = size("thickness");
        if (complete) properties = beam::angle(depth, width, thickness);
        break;
      }
      case kChannel: {
        const double depth = size("depth"), width = size("width"), web = size("web"), flange = size("flange");
        if (complete) properties = beam::channel(depth, width, web, flange);
        break;
      }
      default:
        break;
    }
    const auto shear_area = section.quantity("shear_area", Kind::area, optional, Sign::positive);
    if (!properties) return;
    if (!*properties) {
      complain_of_section(section, shape, properties->fault());
      return;
    }
    const auto& found = properties->value();
    member.area_m2 = found.area_m2;
    member.second_moment_m4 = found.second_moment_vertical_m4;
    member.bending_N_m2 = E * found.second_moment_vertical_m4;
    member.torsion_N_m2 = G * found.torsion_constant_m4;
    member.shear_N = G * shear_area.value_or(found.shear_area_m2);
    member.entry.section_modulus_m3 = found.section_modulus_m3;
    member.entry.bending_N_m2 = member.bending_N_m2;
    member.entry.depth_m = found.depth_m;
    if (member.material != nullptr)
      member.weight_N_per_m = found.area_m2 * member.material->density_kg_per_m3 * kGravity_m_per_s2;
  }

  static void complain_of_section(Walk& section, int shape, beam::SectionFault fault) {
    switch (fault) {
      case beam::SectionFault::not_positive:
        section.complain("shape", "dimensions that leave no section", "sizes more than 0");
        break;
      case beam::SectionFault::wall_too_thick: {
        const char* const key = shape == kAngle ? "thickness" : shape == kChannel ? "web" : "wall";
        section.complain(key, shape == kAngle || shape == kChannel
                                  ? "a wall thinner than the section is deep and wide"
                                  : "a wall of less than half the smaller side");
        break;
      }
      case beam::SectionFault::corner_too_large:
        section.complain(
            section.has("corner") ? "corner" : "inside_corner",
            "a corner radius that the sides and the wall leave room for (outside at most half the smaller "
            "side)");
        break;
      case beam::SectionFault::poisson_out_of_range:
        section.complain("shape", "a material whose E and G do not go together",
                         "E/(2G) - 1 between 0 and 0.5");
        break;
    }
  }

  // -- loads --------------------------------------------------------------------------------------------------------

  double read_relative_sigma(Walk& table, std::string_view key, double otherwise) {
    return table
        .number(key, optional, 0, 1, "a plain number between 0 and 1: one standard deviation, relative")
        .value_or(otherwise);
  }

  void add_own_weights() {
    for (const Member& member : members_) {
      if (member.weight_N_per_m <= 0 || !member.placed) {
        if (!member.entry.name.empty()) weightless_.insert(member.entry.name);
        continue;
      }
      const int load = static_cast<int>(sheet_.loads.size());
      LoadEntry entry;
      entry.name = member.entry.name;
      entry.sigma = member.weight_sigma;
      entry.weight_N = member.weight_N_per_m * (member.entry.to_m - member.entry.from_m);
      entry.is_member = true;
      sheet_.loads.push_back(entry);
      sheet_.load_parts.push_back({load, beam::LoadKind::spread, member.entry.from_m, member.entry.to_m,
                                   member.weight_N_per_m, member.weight_N_per_m, member.across_m});
    }
  }

  void read_load(Walk& table) {
    const int load = static_cast<int>(sheet_.loads.size());
    LoadEntry entry;
    entry.name = read_name(table, load_names_, "a name of its own among members and loads");
    entry.sigma = read_relative_sigma(table, "sigma", kDefaultLoadSigma);
    const auto permanent =
        table.number("permanent", optional, -1e-12, 1 + 1e-12, "a plain number from 0 to 1");

    beam::LoadPart<double> part;
    part.load = load;
    const bool at_a_point = table.has("at");
    const bool warm = table.has("warmer_below");
    if (at_a_point) {
      if (table.has("from") || table.has("to"))
        table.complain("at", "a place and a stretch", "either at, or from and to");
      if (const auto at = read_place(table, "at")) part.from_m = part.to_m = *at;
      read_point(table, part, entry);
    } else if (table.has("from") || table.has("to")) {
      const auto stretch = read_stretch(table);
      if (stretch) std::tie(part.from_m, part.to_m) = *stretch;
      if (warm)
        read_warmth(table, stretch, load);
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
      sheet_.load_parts.push_back(part);
    }
    entry.permanent_share = warm ? 0 : std::clamp(permanent.value_or(1), 0.0, 1.0);
    table.close();
    sheet_.loads.push_back(std::move(entry));
  }

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
      part.begin = table.quantity(key, Kind::force, required, Sign::positive).value_or(0);
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
      part.begin = part.end = table.quantity(key, Kind::force, required, Sign::positive).value_or(0) / length;
    } else if (key == "weight_per_length") {
      const toml::node* const node = table.node(key, required, "");
      if (node->is_array()) {
        if (const auto ends = table.pair(key, Kind::weight_per_length, required)) {
          std::tie(part.begin, part.end) = *ends;
          if (part.begin < 0 || part.end < 0 || part.begin + part.end <= 0)
            table.complain(key, "two weights per length, neither negative, not both 0");
        }
      } else {
        part.begin = part.end =
            table.quantity(key, Kind::weight_per_length, required, Sign::positive).value_or(0);
      }
    }
    entry.weight_N = (part.begin + part.end) / 2 * length;
  }

  void read_warmth(Walk& table, const std::optional<std::pair<double, double>>& stretch, int load) {
    (void)one_of(table, {"warmer_below", "mass", "weight", "weight_per_length"});
    const auto difference = table.quantity("warmer_below", Kind::temperature_difference, required);
    const bool has_depth = table.has("depth");
    const auto depth = table.quantity("depth", Kind::length, optional, Sign::positive);
    if (!stretch || !difference || (has_depth && !depth)) return;
    for (const Member& member : members_) {
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
    warmths_.push_back({load, stretch->first, stretch->second, *difference, depth});
  }

  // -- supports -----------------------------------------------------------------------------------------------------

  void read_support(Walk& table) {
    SupportEntry entry;
    beam::Support<double> support;
    entry.name = read_name(table, support_names_, "a name of its own among supports");
    if (const auto at = read_place(table, "at")) support.at_m = *at;
    read_restraint(table, "rise", Kind::stiffness, support.rise);
    read_restraint(table, "pitch", Kind::turning_stiffness, support.pitch);
    read_restraint(table, "roll", Kind::turning_stiffness, support.roll);
    const bool readable = support.rise.held || support.pitch.held || support.roll.held || unread_motion_;
    if (!readable)
      table.complain("rise", "a support that is free in rise, pitch and roll",
                     "at least one motion that it holds");
    if (const auto holds = table.word("holds", optional, {"both", "push", "pull"}))
      support.holds = static_cast<beam::Holds>(*holds);
    if (support.holds != beam::Holds::both && !support.rise.held && !unread_motion_)
      table.complain("holds", "\"both\": a support that is free in rise neither pushes nor pulls");
    read_pulled_home(table, support);
    if (auto rows = table.table("bolt_rows", optional)) {
      entry.bolt_rows_along_m = rows->quantity("along", Kind::length, optional, Sign::positive);
      entry.bolt_rows_across_m = rows->quantity("across", Kind::length, optional, Sign::positive);
      if (!rows->has("along") && !rows->has("across"))
        rows->complain("along", "no distance", "along, across or both");
      rows->close();
    }
    entry.rating_N = table.quantity("rating", Kind::force, optional, Sign::positive);
    if (auto adjust = table.table("adjust", optional)) read_adjust(*adjust, table, support, entry);
    read_fit_up(table, entry);
    read_support_prior(table, entry);
    table.close();
    unread_motion_ = false;
    sheet_.supports.push_back(std::move(entry));
    sheet_.beam_supports.push_back(support);
  }

  void read_restraint(Walk& table, const char* key, Kind kind, beam::Restraint<double>& restraint) {
    const std::string expected =
        std::string("\"rigid\", \"free\" or ") + std::string(name(kind)) + ", " + std::string(example(kind));
    const toml::node* const node = table.node(key, required, expected);
    const auto* const text = node != nullptr ? node->as_string() : nullptr;
    if (text != nullptr && text->get() == "free") return;
    if (text != nullptr && text->get() == "rigid") {
      restraint.held = true;
      return;
    }
    if (node == nullptr) {
      unread_motion_ = true;
      return;
    }
    const auto stiffness =
        text != nullptr ? parse_quantity(text->get(), kind) : QuantityFault{"a number without a unit"};
    unread_motion_ = unread_motion_ || !stiffness || !(stiffness.value() > 0);
    if (!stiffness) {
      table.complain(key, shown(*node) + " (" + stiffness.fault().what + ")", expected);
    } else if (!(stiffness.value() > 0)) {
      table.complain(key, expected + ", more than 0");
    } else {
      restraint.held = true;
      restraint.compliance = 1 / stiffness.value();
    }
  }

  void read_pulled_home(Walk& table, beam::Support<double>& support) {
    for (const TextAt& motion : table.texts("pulled_home", optional)) {
      beam::Restraint<double>* const restraint = motion.text == "rise"    ? &support.rise
                                                 : motion.text == "pitch" ? &support.pitch
                                                 : motion.text == "roll"  ? &support.roll
                                                                          : nullptr;
      if (restraint == nullptr)
        sink_.add(motion.line, motion.path, in_quotes(motion.text), "\"rise\", \"pitch\" or \"roll\"");
      else if (!restraint->held && !unread_motion_)
        sink_.add(motion.line, motion.path, in_quotes(motion.text), "a motion that this support holds");
      else if (restraint == &support.rise && support.holds != beam::Holds::both)
        sink_.add(motion.line, motion.path, in_quotes(motion.text),
                  "\"pitch\" or \"roll\": bolts draw home only where the support holds both ways");
      else
        restraint->pulled_home = true;
    }
  }

  void read_adjust(Walk& adjust, Walk& table, const beam::Support<double>& support, SupportEntry& entry) {
    Adjust& to = entry.adjust;
    const auto by = adjust.word("by", required, {"shims", "rod", "lift"});
    if (const auto rise = adjust.pair("rise", Kind::length, required)) {
      std::tie(to.rise_from_m, to.rise_to_m) = *rise;
      if (to.rise_to_m <= to.rise_from_m)
        adjust.complain("rise", "its travel, lowest first, such as [\"0 mm\", \"8 mm\"]");
    }
    if (!support.rise.held && !unread_motion_)
      table.complain("adjust", "a way to raise a support that is free in rise", "a support that holds rise");
    if (by == 0) {
      to.by = AdjustBy::shims;
      read_shims(adjust, support, entry);
    } else if (by == 1) {
      to.by = AdjustBy::rod;
      to.thread_m = adjust.quantity("thread", Kind::length, required, Sign::positive).value_or(1);
      to.step_turns = adjust.quantity("step", Kind::turns, required, Sign::positive).value_or(1);
    } else if (by == 2) {
      to.by = AdjustBy::lift;
      to.step_m =
          adjust.quantity("step", Kind::length, optional, Sign::positive).value_or(kDefaultLiftStep_m);
    }
    if (by) adjust.close();
  }

  void read_shims(Walk& adjust, const beam::Support<double>& support, SupportEntry& entry) {
    if (const auto name = adjust.text("stock", required)) {
      std::vector<std::string> names;
      for (std::size_t i = 0; i < sheet_.stocks.size(); ++i) {
        names.push_back(sheet_.stocks[i].name);
        if (sheet_.stocks[i].name == *name) entry.adjust.stock = static_cast<int>(i);
      }
      if (entry.adjust.stock < 0)
        adjust.complain("stock", names.empty() ? "a [stock." + *name + "] in this sheet"
                                               : "a stock of this sheet: " + any_of(names));
    }
    entry.adjust.pitch = adjust.flag("pitch").value_or(false);
    entry.adjust.roll = adjust.flag("roll").value_or(false);
    if (entry.adjust.pitch && !entry.bolt_rows_along_m)
      adjust.complain("pitch", "true without bolt_rows",
                      "bolt_rows = { along = ... }: the rows between which a taper acts");
    if (entry.adjust.roll && !entry.bolt_rows_across_m)
      adjust.complain("roll", "true without bolt_rows",
                      "bolt_rows = { across = ... }: the rows between which a taper acts");
    if (entry.adjust.pitch && !support.pitch.held && !unread_motion_)
      adjust.complain("pitch", "false: this support is free in pitch");
    if (entry.adjust.roll && !support.roll.held && !unread_motion_)
      adjust.complain("roll", "false: this support is free in roll");
  }

  // One length, of the rise, or a table of those motions that the sheet knows better than the defaults.
  void read_fit_up(Walk& table, SupportEntry& entry) {
    constexpr const char* kExpected =
        "a length for the rise, such as \"0.5 mm\", or { rise = \"0.5 mm\", pitch = \"0.5 mm/m\", roll = "
        "\"0.5 "
        "mm/m\" }";
    const toml::node* const node = table.node("fit_up", optional, kExpected);
    if (node == nullptr) return;
    double* const to = entry.fit_up_sigma;
    if (node->is_string()) {
      to[0] = table.quantity("fit_up", Kind::length, optional, Sign::not_negative).value_or(to[0]);
    } else if (node->is_table() && !node->as_table()->empty()) {
      auto motions = table.table("fit_up", optional);
      to[0] = motions->quantity("rise", Kind::length, optional, Sign::not_negative).value_or(to[0]);
      to[1] = motions->quantity("pitch", Kind::slope, optional, Sign::not_negative).value_or(to[1]);
      to[2] = motions->quantity("roll", Kind::angle, optional, Sign::not_negative).value_or(to[2]);
      motions->close();
    } else {
      table.complain("fit_up", shown(*node) + (node->is_number() ? " (a number without a unit)" : ""),
                     kExpected);
    }
  }

  void read_support_prior(Walk& table, SupportEntry& entry) {
    entry.offset_sigma = {kDefaultRiseSigma_m, kDefaultTurnSigma_rad, kDefaultTurnSigma_rad};
    entry.log_spring_sigma = {kDefaultLogSpringSigma, kDefaultLogSpringSigma, kDefaultLogSpringSigma};
    auto prior = table.table("prior", optional);
    if (!prior) return;
    const auto take = [&](const char* key, Kind kind, Sign sign, double& to) {
      to = prior->quantity(key, kind, optional, sign).value_or(to);
    };
    take("rise", Kind::length, Sign::positive, entry.offset_sigma.rise);
    take("pitch", Kind::slope, Sign::positive, entry.offset_sigma.pitch);
    take("roll", Kind::angle, Sign::positive, entry.offset_sigma.roll);
    take("rise_mean", Kind::length, Sign::any, entry.offset_mean.rise);
    take("pitch_mean", Kind::slope, Sign::any, entry.offset_mean.pitch);
    take("roll_mean", Kind::angle, Sign::any, entry.offset_mean.roll);
    if (const auto spring =
            prior->number("spring", optional, 0, 10,
                          "a plain number more than 0: sigma of the logarithm of a spring's factor"))
      entry.log_spring_sigma = {*spring, *spring, *spring};
    prior->close();
  }

  // -- stages -------------------------------------------------------------------------------------------------------

  void read_stage(Walk& table) {
    beam::Stage stage;
    const std::string name = read_name(table, stage_names_, "a name of its own among stages");
    std::vector<std::string> supports, loads;
    for (const SupportEntry& each : sheet_.supports) supports.push_back(each.name);
    for (const LoadEntry& each : sheet_.loads) loads.push_back(each.name);

    const auto listed = table.texts("supports", required);
    for (const TextAt& each : listed)
      if (const auto bit = find_listed(each, supports, "support", stage.supports))
        stage.supports |= std::uint32_t{1} << *bit;
    if (listed.empty() && table.has("supports"))
      table.complain("supports", "at least one support: nothing else holds the run");
    for (const TextAt& each : table.texts("loads", required)) {
      if (weightless_.count(each.text) > 0) {
        if (members_of(each.text) != nullptr && members_of(each.text)->given)
          sink_.add(each.line, each.path,
                    in_quotes(each.text) + ", a given section without weight_per_length",
                    "a load, or weight_per_length in that section");
        continue;
      }
      if (const auto bit = find_listed(each, loads, "load", stage.loads))
        stage.loads |= std::uint64_t{1} << *bit;
    }
    check_rigid_twice(table, stage);
    table.close();
    sheet_.stages.push_back(name);
    sheet_.beam_stages.push_back(stage);
  }

  const Member* members_of(const std::string& name) const {
    for (const Member& member : members_)
      if (member.entry.name == name) return &member;
    return nullptr;
  }

  template <class Bits>
  std::optional<int> find_listed(const TextAt& written, const std::vector<std::string>& names,
                                 const std::string& what, Bits taken) {
    const auto found = std::find(names.begin(), names.end(), written.text);
    if (found == names.end()) {
      std::string expected = "a " + what + " of this sheet";
      const std::string near = nearest(written.text, names);
      if (!near.empty())
        expected += "; did you mean " + in_quotes(near) + "?";
      else if (!names.empty())
        expected += ": " + any_of(names);
      sink_.add(written.line, written.path, in_quotes(written.text) + ", no " + what + " of this sheet",
                expected);
      return std::nullopt;
    }
    const auto index = static_cast<int>(found - names.begin());
    if (index >= static_cast<int>(sizeof(Bits) * 8)) return std::nullopt;  // too many; complained of as such
    if (((taken >> index) & Bits{1}) != 0) {
      sink_.add(written.line, written.path, in_quotes(written.text) + " a second time",
                "each " + what + " once in a stage");
      return std::nullopt;
    }
    return index;
  }

  // Where two rigid restraints hold one motion at one place, nothing tells which of them carries.
  void check_rigid_twice(Walk& table, const beam::Stage& stage) {
    const auto rigid = [](const beam::Restraint<double>& restraint) {
      return restraint.held && restraint.compliance == 0;
    };
    for (std::size_t i = 0; i < sheet_.beam_supports.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const auto& a = sheet_.beam_supports[j];
        const auto& b = sheet_.beam_supports[i];
        if (i >= 32 || !stage.lists_support(static_cast<int>(i)) || !stage.lists_support(static_cast<int>(j)))
          continue;
        if (std::abs(a.at_m - b.at_m) > kSamePlace_m) continue;
        const char* const motion = rigid(a.rise) && rigid(b.rise)     ? "rise"
                                   : rigid(a.pitch) && rigid(b.pitch) ? "pitch"
                                   : rigid(a.roll) && rigid(b.roll)   ? "roll"
                                                                      : nullptr;
        if (motion != nullptr)
          table.complain("supports",
                         in_quotes(sheet_.supports[j].name) + " and " + in_quotes(sheet_.supports[i].name) +
                             ", both rigid in " + motion + " at the same place",
                         "at most one of them in a stage, or a stiffness instead of \"rigid\"");
      }
    }
  }

  // -- the rest -----------------------------------------------------------------------------------------------------

  void read_tolerance(Walk& top) {
    Tolerance& tolerance = sheet_.tolerance;
    tolerance.stage = std::max(0, static_cast<int>(sheet_.stages.size()) - 1);
    auto table = top.table("tolerance", optional);
    if (!table) return;
    tolerance.level_m = table->quantity("level", Kind::length, required, Sign::positive).value_or(0);
    if (const auto name = table->text("stage", optional)) {
      const auto found = std::find(sheet_.stages.begin(), sheet_.stages.end(), *name);
      if (found == sheet_.stages.end()) {
        const std::string near = nearest(*name, sheet_.stages);
        table->complain("stage", near.empty()
                                     ? "a stage of this sheet: " + any_of(sheet_.stages)
                                     : "a stage of this sheet; did you mean " + in_quotes(near) + "?");
      } else {
        tolerance.stage = static_cast<int>(found - sheet_.stages.begin());
      }
    }
    tolerance.confidence =
        table->number("confidence", optional, 0, 1, "a plain number between 0 and 1, such as 0.95")
            .value_or(0.95);
    tolerance.span_ratio =
        table->number("span_ratio", optional, 0, 1e9, "a plain number more than 0, such as 360");
    tolerance.span_ratio_source = table->text("source", optional).value_or("");
    tolerance.target_height_m = table->quantity("target_height", Kind::length, optional);
    table->close();
  }

  void read_stations(Walk& top) {
    const toml::node* const node = top.node("stations", optional, "");
    if (node == nullptr) {
      if (length_m_) {
        for (int i = 0; i <= kDefaultSpaces; ++i)
          sheet_.stations_m.push_back(*length_m_ * i / kDefaultSpaces);
      }
      return;
    }
    if (node->is_table()) {
      auto table = *top.table("stations", required);
      const auto every = table.quantity("every", Kind::length, required, Sign::positive);
      table.close();
      if (every && length_m_) place_stations(table, *every);
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
      if (!place || !length_m_) continue;
      const int at = static_cast<int>(element.source().begin.line);
      if (*place < -kSamePlace_m || *place > *length_m_ + kSamePlace_m)
        sink_.add(at, path, shown(element),
                  "a place on the run, from 0 to " + show_length(*length_m_, sheet_.show));
      else if (!sheet_.stations_m.empty() && *place <= sheet_.stations_m.back() + kSamePlace_m)
        sink_.add(at, path, shown(element), "a place beyond the station before it");
      else
        sheet_.stations_m.push_back(std::clamp(*place, 0.0, *length_m_));
    }
    if (list->size() < 2) top.complain("stations", "at least two places");
    if (list->size() > kMaxStations)
      top.complain("stations", "a list of " + std::to_string(list->size()),
                   "at most " + std::to_string(kMaxStations) + " places");
  }

  // The start, each step from it, and the end, even where the last step is shorter.
  void place_stations(Walk& table, double every_m) {
    const double steps = *length_m_ / every_m;
    if (!(steps <= kMaxStations - 1)) {
      table.complain("every", "a distance that gives at most " + std::to_string(kMaxStations) + " stations");
      return;
    }
    for (int i = 0; i * every_m < *length_m_ - kSamePlace_m; ++i) sheet_.stations_m.push_back(i * every_m);
    sheet_.stations_m.push_back(*length_m_);
  }

  // A mark's name may be given where a place is asked for; so it must not read as a place.
  void read_mark(Walk& table) {
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
      else if (std::any_of(sheet_.marks.begin(), sheet_.marks.end(), same))
        table.complain("name", in_quotes(*name) + " a second time",
                       "a name of its own among marks, not by upper and lower case alone");
      else if (name->size() > kLongestMark || name->front() == ' ' || name->back() == ' ' ||
               name->find("  ") != std::string::npos)
        table.complain("name", "at most " + std::to_string(kLongestMark) +
                                   " characters, single spaces between words alone");
    }
    if (at && length_m_ && !(*at >= -kFarthestMark_m && *at <= *length_m_ + kFarthestMark_m))
      table.complain("at", "a place at most " + show_length(kFarthestMark_m, sheet_.show) +
                               " beyond either end of the run");
    sheet_.marks.push_back({name.value_or(""), at.value_or(0)});
  }

  void read_priors(Walk& top) {
    auto table = top.table("prior", optional);
    if (!table) return;
    Priors& priors = sheet_.priors;
    priors.bending_sigma = read_relative_sigma(*table, "bending", priors.bending_sigma);
    priors.torsion_sigma = read_relative_sigma(*table, "torsion", priors.torsion_sigma);
    priors.bow_sigma_m =
        table->quantity("bow", Kind::length, optional, Sign::positive).value_or(priors.bow_sigma_m);
    priors.bows = table->whole("bows", optional, 0, kMaxBows).value_or(priors.bows);
    priors.datum_height_sigma_m = table->quantity("datum_height", Kind::length, optional, Sign::positive)
                                      .value_or(priors.datum_height_sigma_m);
    priors.datum_tilt_sigma = table->quantity("datum_tilt", Kind::slope, optional, Sign::positive)
                                  .value_or(priors.datum_tilt_sigma);
    table->close();
  }

  void check_sizes(Walk& top) {
    const auto at_most = [&](const char* key, std::size_t count, int most, const char* what) {
      if (count > static_cast<std::size_t>(most))
        top.complain(key, std::to_string(count) + " " + what, "at most " + std::to_string(most));
    };
    at_most("support", sheet_.supports.size(), kMaxSupports, "supports");
    at_most("stage", sheet_.stages.size(), kMaxStages, "stages");
    at_most("mark", sheet_.marks.size(), kMaxMarks, "marks");
    at_most("load", sheet_.loads.size(), kMaxLoads, "loads, members' own weights among them");
    std::size_t unknowns = 2 + sheet_.loads.size() + static_cast<std::size_t>(sheet_.priors.bows);
    for (const auto& support : sheet_.beam_supports)
      for (const auto& motion : {support.rise, support.pitch, support.roll})
        unknowns += (motion.held ? 1u : 0u) + (motion.held && motion.compliance > 0 ? 1u : 0u);
    at_most("support", unknowns, kMaxUnknowns, "unknowns from supports, springs, loads and bows");
  }

  // -- pieces -------------------------------------------------------------------------------------------------------

  void build_pieces(Walk& top) {
    if (!length_m_ || members_.empty() ||
        !std::all_of(members_.begin(), members_.end(), [](const Member& m) { return m.placed; }))
      return;
    std::vector<double> places = {0, *length_m_};
    for (const Member& member : members_) {
      places.push_back(member.entry.from_m);
      places.push_back(member.entry.to_m);
    }
    std::sort(places.begin(), places.end());
    places.erase(
        std::unique(places.begin(), places.end(), [](double a, double b) { return b - a < kSamePlace_m; }),
        places.end());
    places.back() = *length_m_;

    std::vector<Stretch> stretches;
    for (std::size_t i = 1; i < places.size(); ++i) {
      Stretch stretch{places[i - 1], places[i], {}};
      for (const Member& member : members_)
        if (member.covers(stretch.from_m, stretch.to_m)) stretch.members.push_back(&member);
      if (stretch.members.empty())
        top.complain("member",
                     "nothing that carries from " + show_length(stretch.from_m, sheet_.show) + " to " +
                         show_length(stretch.to_m, sheet_.show),
                     "a [[member]] over every stretch of the run");
      stretches.push_back(std::move(stretch));
    }
    if (!sink_.complaints.empty()) return;
    for (const Stretch& stretch : stretches) add_piece(stretch);
    for (const Warmth& warmth : warmths_) add_warmth(stretches, warmth);
    for (const Member& member : members_) sheet_.members.push_back(member.entry);
  }

  void add_piece(const Stretch& stretch) {
    const Stiffness now = stretch.stiffness(false);
    const Stiffness later = stretch.stiffness(true);
    beam::Piece<double> piece;
    piece.to_m = stretch.to_m;
    piece.bending_N_m2 = now.bending_N_m2;
    piece.torsion_N_m2 = now.torsion_N_m2;
    piece.shear_N = now.shear_N;
    piece.bending_creep = std::max(0.0, now.bending_N_m2 / later.bending_N_m2 - 1);
    piece.torsion_creep = std::max(0.0, now.torsion_N_m2 / later.torsion_N_m2 - 1);
    piece.shear_creep = std::isfinite(now.shear_N) ? std::max(0.0, now.shear_N / later.shear_N - 1) : 0;
    sheet_.pieces.push_back(piece);
    for (const Member* const member : stretch.members) {
      if (member->entry.section_modulus_m3 <= 0) continue;
      const double arm =
          member->entry.as_one ? std::abs(member->entry.up_m - stretch.neutral_up_m(false)) : 0;
      const double outermost = arm + member->second_moment_m4 / member->entry.section_modulus_m3;
      sheet_.bending_stresses.push_back({static_cast<int>(member - members_.data()), stretch.from_m,
                                         stretch.to_m,
                                         member->material->E_Pa * outermost / now.bending_N_m2});
    }
  }

  // Each member alone would take alpha * dT / depth; together they take the mean, weighted by what they give to EI.
  void add_warmth(const std::vector<Stretch>& stretches, const Warmth& warmth) {
    for (const Stretch& stretch : stretches) {
      beam::LoadPart<double> part;
      part.load = warmth.load;
      part.kind = beam::LoadKind::warmth;
      part.from_m = std::max(stretch.from_m, warmth.from_m);
      part.to_m = std::min(stretch.to_m, warmth.to_m);
      if (part.to_m <= part.from_m + kSamePlace_m) continue;
      double bending = 0, moment = 0;
      for (const Member* const member : stretch.members) {
        const double share = stretch.bending_share(*member, false);
        const double depth = warmth.depth_m ? *warmth.depth_m : stretch.depth_m(*member);
        bending += share;
        moment += share * *member->material->expansion_per_K * warmth.warmer_below_K / depth;
      }
      part.begin = part.end = moment / bending;
      sheet_.load_parts.push_back(part);
    }
  }

  std::string_view text_;
  Sink sink_;
  RunSheet sheet_;
  std::optional<double> length_m_;
  std::map<std::string, Material> materials_;
  std::vector<Member> members_;
  std::vector<Warmth> warmths_;
  std::map<std::string, int> load_names_, support_names_, stage_names_;
  std::set<std::string> weightless_;  // members that bring no load
  bool unread_motion_ = false;        // of the support being read: some motion could not be read
};

template <class Entries, class Name>
int index_of(const Entries& entries, std::string_view wanted, Name name) {
  for (std::size_t i = 0; i < entries.size(); ++i)
    if (name(entries[i]) == wanted) return static_cast<int>(i);
  return -1;
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
  return run;
}

int RunSheet::stage(std::string_view name) const {
  return index_of(stages, name, [](const std::string& each) -> const std::string& { return each; });
}
int RunSheet::support(std::string_view name) const {
  return index_of(supports, name, [](const SupportEntry& each) -> const std::string& { return each.name; });
}
int RunSheet::load(std::string_view name) const {
  return index_of(loads, name, [](const LoadEntry& each) -> const std::string& { return each.name; });
}
int RunSheet::mark(std::string_view name) const {
  return index_of(marks, name, [](const Mark& each) -> const std::string& { return each.name; });
}

RunSheetOrComplaints parse_run_sheet(std::string_view text, const std::string& shown_name) {
  return RunReader(text, shown_name).read();
}

RunSheetOrComplaints read_run_sheet(const std::string& path) {
  Sink sink;
  sink.file = path;
  const auto text = read_text_file(path, sink);
  if (!text) return {std::nullopt, std::move(sink.complaints)};
  return parse_run_sheet(*text, path);
}

}  // namespace hangtrue::sheet
