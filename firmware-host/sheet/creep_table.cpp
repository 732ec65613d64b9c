#include "firmware-host/sheet/creep_table.hpp"

#include <array>

namespace hangtrue::sheet {
namespace {

constexpr std::array kRows = {
    CreepRow{"solid timber", "EN 14081-1", "", {0.60, 0.80, 2.00}},
    CreepRow{"glued laminated timber", "EN 14080", "", {0.60, 0.80, 2.00}},
    CreepRow{"LVL", "EN 14374, EN 14279", "", {0.60, 0.80, 2.00}},
    CreepRow{"plywood", "EN 636", "Part 1", {0.80, 0, 0}},
    CreepRow{"plywood", "EN 636", "Part 2", {0.80, 1.00, 0}},
    CreepRow{"plywood", "EN 636", "Part 3", {0.80, 1.00, 2.50}},
    CreepRow{"OSB", "EN 300", "OSB/2", {2.25, 0, 0}},
    CreepRow{"OSB", "EN 300", "OSB/3, OSB/4", {1.50, 2.25, 0}},
    CreepRow{"particleboard", "EN 312", "Part 4", {2.25, 0, 0}},
    CreepRow{"particleboard", "EN 312", "Part 5", {2.25, 3.00, 0}},
    CreepRow{"particleboard", "EN 312", "Part 6", {1.50, 0, 0}},
    CreepRow{"particleboard", "EN 312", "Part 7", {1.50, 2.25, 0}},
    CreepRow{"fibreboard, hard", "EN 622-2", "HB.LA", {2.25, 0, 0}},
    CreepRow{"fibreboard, hard", "EN 622-2", "HB.HLA1, HB.HLA2", {2.25, 3.00, 0}},
    CreepRow{"fibreboard, medium", "EN 622-3", "MBH.LA1, MBH.LA2", {3.00, 0, 0}},
    CreepRow{"fibreboard, medium", "EN 622-3", "MBH.HLS1, MBH.HLS2", {3.00, 4.00, 0}},
    CreepRow{"fibreboard, MDF", "EN 622-5", "MDF.LA", {2.25, 0, 0}},
    CreepRow{"fibreboard, MDF", "EN 622-5", "MDF.HLS", {2.25, 3.00, 0}},
};

bool among(std::string_view grades, std::string_view grade) {
  if (grades == grade) return true;
  constexpr std::string_view kComma = ", ";
  while (!grades.empty()) {
    const std::size_t comma = grades.find(kComma);
    if (grades.substr(0, comma) == grade) return true;
    if (comma == std::string_view::npos) break;
    grades.remove_prefix(comma + kComma.size());
  }
  return false;
}

}  // namespace

std::span<const CreepRow> creep_table() { return kRows; }

const CreepRow* find_creep(std::string_view material, std::string_view grade) {
  for (const CreepRow& row : kRows)
    if (row.material == material && among(row.grade, grade)) return &row;
  return nullptr;
}

}  // namespace hangtrue::sheet
