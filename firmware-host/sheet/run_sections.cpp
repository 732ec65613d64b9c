#include "firmware-host/sheet/run_draft.hpp"

#include <algorithm>

#include "core/beam/section.hpp"
#include "core/quantity/units.hpp"
#include "firmware-host/sheet/designation.hpp"

namespace hangtrue::sheet {
namespace {

// In the order in which read_section() asks for their words.
constexpr int kHollow = 0, kSolid = 1, kRound = 2, kTube = 3, kPlate = 4, kAngle = 5, kChannel = 6,
              kGiven = 7;

void complain_of_section(Walk& section, int shape, beam::SectionFault fault) {
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
      if (shape == kChannel) {
        section.complain("root", "a fillet that the flange and half of the web leave room for");
        break;
      }
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

void read_given(Walk& section, Walk& table, Member& member) {
  member.bending_N_m2 = section.quantity("EI", Kind::flexural_rigidity, required, Sign::positive).value_or(1);
  member.torsion_N_m2 = section.quantity("GJ", Kind::flexural_rigidity, required, Sign::positive).value_or(1);
  if (const auto shear = section.quantity("GA", Kind::force, optional, Sign::positive))
    member.shear_N = *shear;
  if (const auto warping = section.quantity("EIw", Kind::warping_rigidity, optional, Sign::positive))
    member.warping_N_m4 = *warping;
  member.weight_N_per_m =
      section.quantity("weight_per_length", Kind::weight_per_length, optional, Sign::positive).value_or(0);
  member.entry.bending_N_m2 = member.bending_N_m2;
  if (member.entry.as_one) {
    table.complain("acts", "\"side by side\": a given section has no area of its own to act as one");
    member.entry.as_one = false;
  }
}

int shape_of(const Designation& designation) {
  switch (designation.shape) {
    case Designation::Shape::hollow_rectangle:
      return kHollow;
    case Designation::Shape::tube:
      return kTube;
    case Designation::Shape::channel:
      return kChannel;
  }
  return kHollow;
}

// A section as its designation has it; what the sheet says of a size or radius itself stands before it.
std::optional<double> of_designation(const std::optional<Designation>& of, std::string_view key) {
  if (!of) return std::nullopt;
  if (key == "depth" || key == "diameter") return of->depth_m;
  if (key == "width") return of->width_m;
  if (key == "wall" || key == "web") return of->wall_m;
  if (key == "flange") return of->flange_m;
  return std::nullopt;
}

void read_shape(Walk& section, int shape, const std::optional<Designation>& designation, Member& member) {
  bool complete = true;
  const auto size = [&](const char* key) {
    const auto designated = of_designation(designation, key);
    if (designated && !section.has(key)) return *designated;
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
      const bool as_designated = designation && !section.has("corner") && !section.has("wall");
      const double outside = radius("corner").value_or(designation ? designation->corner_m : 0);
      const bool spaced = section.has("inside corner");
      const double inside =
          radius(spaced ? "inside corner" : "inside_corner")
              .value_or(as_designated ? designation->inside_corner_m : std::max(0.0, outside - wall));
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
      const double root = radius("root").value_or(designation ? designation->root_m : 0);
      if (complete) properties = beam::channel(depth, width, web, flange, root);
      break;
    }
    default:
      break;
  }
  std::optional<int> upright;
  if (shape == kAngle || shape == kChannel) upright = section.word("upright", optional, {"left", "right"});
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
  member.warping_N_m4 = E * found.warping_constant_m6;
  if (upright) member.shear_centre_m = *upright == 0 ? found.shear_centre_m : -found.shear_centre_m;
  member.shear_N = G * shear_area.value_or(found.shear_area_m2);
  member.entry.section_modulus_m3 = found.section_modulus_m3;
  member.entry.bending_N_m2 = member.bending_N_m2;
  member.entry.depth_m = found.depth_m;
  if (member.material != nullptr)
    member.weight_N_per_m = found.area_m2 * member.material->density_kg_per_m3 * kGravity_m_per_s2;
}

void read_material_of(const RunDraft& draft, Walk& table, Member& member) {
  const auto name = table.text("material", member.given ? optional : required);
  if (!name) return;
  member.entry.material = *name;
  const auto found = draft.materials.find(*name);
  if (found != draft.materials.end()) {
    member.material = &found->second;
    return;
  }
  std::vector<std::string> names;
  for (const auto& [each, material] : draft.materials) names.push_back(each);
  table.complain("material", names.empty() ? "a [material." + *name + "] in this sheet"
                                           : "a material of this sheet: " + any_of(names));
}

}  // namespace

// "RHS 180x80x6" in the place of a table, or as its shape: the sheet's table may then say what is different.
void read_section(const RunDraft& draft, Walk& table, Member& member) {
  constexpr const char* kExpected =
      "a table such as { shape = \"hollow rectangle\", ... }, or a designation such as \"RHS 180x80x6\", "
      "\"SHS 80x4 EN "
      "10210\", \"CHS 60.3x4\" or \"UPE 180\"";
  const toml::node* const node = table.node("section", required, kExpected);
  toml::table of_text;
  std::optional<Walk> section;
  if (node != nullptr && node->is_string()) {
    of_text.insert("shape", node->as_string()->get());
    section = table.standing_for("section", of_text);
  } else if (node != nullptr && !node->is_table()) {
    table.complain("section", kExpected);
  } else if (node != nullptr) {
    section = table.table("section", required);
  }
  std::optional<Designation> designation;
  if (section && section->has("shape"))
    if (const toml::node* const shape = section->node("shape", optional, ""); shape->is_string())
      designation = parse_designation(shape->as_string()->get());
  if (section && !of_text.empty() && !designation) {
    table.complain("section", kExpected);
    section.reset();
  }
  const auto shape = !section      ? std::nullopt
                     : designation ? std::optional(shape_of(*designation))
                                   : section->word("shape", required,
                                                   {"hollow rectangle", "solid rectangle", "round", "tube",
                                                    "flat plate", "angle", "channel", "given"});
  member.given = shape == kGiven;
  read_material_of(draft, table, member);
  if (!shape) {
    if (section) {  // which keys a section may have depends on its shape
      section->know({"depth", "width", "wall", "corner", "inside corner", "inside_corner", "diameter",
                     "thickness", "web", "flange", "root", "upright", "shear_area", "EI", "GJ", "GA", "EIw",
                     "weight_per_length"});
      section->close();
    }
    return;
  }
  if (member.given)
    read_given(*section, table, member);
  else
    read_shape(*section, *shape, designation, member);
  section->close();
}

}  // namespace hangtrue::sheet
