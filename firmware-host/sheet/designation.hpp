// designation.hpp: a hollow section or a channel by its designation: "RHS 180x80x6", "SHS 80x4", "CHS 60.3x4", "UPE 180".
//
// Order    RHS depth (upright) x width x wall; SHS side x wall, or side x side x wall; CHS diameter x wall; in mm.
// Standard "EN 10219" (cold formed) or "EN 10210" (hot finished) may stand behind it, or those words. Where none does it is taken
//          for cold formed, which is what is sold most, and has the lesser stiffness of the two.
// Corners  EN 10219-2: outside 2 t up to 6 mm of wall, 2.5 t up to 10 mm, 3 t above; inside t less. EN 10210-2: outside 1.5 t,
//          inside 1.0 t. These are the radii from which both standards compute their tables (from memory; they reproduce
//          data/reference/sections.csv to the printed figures).
// UPE      channels with parallel flanges of EN 10365, UPE 80 to UPE 400, by their depth in mm; "EN 10365" may stand behind it. Sizes
//          as in data/reference/channels_upe.csv, which says where they were read.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace hangtrue::sheet {

struct Designation {
  enum class Shape : std::uint8_t { hollow_rectangle, tube, channel } shape = Shape::hollow_rectangle;
  double depth_m = 0, width_m = 0, wall_m = 0;  // tube: depth is the diameter; channel: the wall is its web
  double corner_m = 0, inside_corner_m = 0;     // hollow rectangle
  double flange_m = 0, root_m = 0;              // channel
};

/// Nothing where it is none.
[[nodiscard]] std::optional<Designation> parse_designation(std::string_view text);

}  // namespace hangtrue::sheet
