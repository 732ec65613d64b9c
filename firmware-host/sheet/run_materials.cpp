#include "firmware-host/sheet/run_draft.hpp"

#include <algorithm>

#include "firmware-host/sheet/creep_table.hpp"

namespace hangtrue::sheet {
namespace {

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

}  // namespace

void read_materials(RunDraft& draft, Walk& top) {
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
    draft.materials.emplace(name, material);
  }
}

}  // namespace hangtrue::sheet
