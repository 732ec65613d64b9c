// creep_table.hpp: k_def by material and service class. Under lasting load, deformation grows to (1 + k_def) times its first value.
//
// Source  EN 1995-1-1:2004 (Eurocode 5), Table 3.2; the same values, row by row, with where each was seen, are in
//         data/reference/kdef.csv, and a test compares the two.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace hangtrue::sheet {

struct CreepRow {
  std::string_view material;  // "particleboard"
  std::string_view standard;  // "EN 312"
  std::string_view grade;     // "Part 5"; several apart by ", "; empty where there are no grades
  double by_class[3];         // service class 1, 2, 3; 0: not tabulated, the material is not for that class
};

[[nodiscard]] std::span<const CreepRow> creep_table();

/// The row of that material and grade, or nullptr.
[[nodiscard]] const CreepRow* find_creep(std::string_view material, std::string_view grade);

}  // namespace hangtrue::sheet
