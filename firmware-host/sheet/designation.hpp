// designation.hpp: a hollow section by its designation: "RHS 180x80x6", "SHS 80x4", "CHS 60.3x4".
//
// Order    RHS depth (upright) x width x wall; SHS side x wall, or side x side x wall; CHS diameter x wall; in mm.
// Standard "EN 10219" (cold formed) or "EN 10210" (hot finished) may stand behind it, or those words. Where none does it is taken
//          for cold formed, which is what is sold most, and has the lesser stiffness of the two.
// Corners  EN 10219-2: outside 2 t up to 6 mm of wall, 2.5 t up to 10 mm, 3 t above; inside t less. EN 10210-2: outside 1.5 t,
//          inside 1.0 t. These are the radii from which both standards compute their tables (from memory; they reproduce
//          data/reference/sections.csv to the printed figures).
#pragma once

#include <optional>
#include <string_view>

namespace hangtrue::sheet {

struct Designation {
  bool round = false;
  double depth_m = 0, width_m = 0, wall_m = 0;  // round: depth is the diameter
  double corner_m = 0, inside_corner_m = 0;
};

/// Nothing where it is none.
[[nodiscard]] std::optional<Designation> parse_designation(std::string_view text);

}  // namespace hangtrue::sheet
