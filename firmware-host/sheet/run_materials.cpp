#include "firmware-host/sheet/run_draft.hpp"

#include <algorithm>

#include "firmware-host/sheet/creep_table.hpp"
#include "firmware-host/sheet/timber_grades.hpp"

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

// The strength class of a timber, where the sheet names one.
const TimberGrade* read_grade(Walk& table) {
  const auto name = table.text("grade", optional);
  if (!name) return nullptr;
  const TimberGrade* const grade = find_grade(*name);
  if (grade == nullptr) {
    std::vector<std::string> known;
    for (const TimberGrade& each : timber_grades()) known.emplace_back(each.name);
    const std::string near = nearest(*name, known);
    table.complain("grade",
                   "a class of EN 338 from C14 to C50 or D18 to D80, or of EN 14080 from GL20h to GL32h and "
                   "GL20c to GL32c" +
                       (near.empty() ? "" : "; did you mean " + in_quotes(near) + "?") +
                       "; or E, G and density instead");
  }
  return grade;
}

// k_def of a grade goes by the service class; what the sheet says itself stands before it.
double read_creep_of(const TimberGrade& grade, Walk& table) {
  if (table.has("k_def") || table.has("creep")) {
    if (table.has("service_class"))
      table.complain("service_class", "no such key beside k_def or creep, which say how it creeps");
    return read_creep(table);
  }
  const auto service_class = table.whole("service_class", optional, 1, 3);
  if (!table.has("service_class"))
    table.complain("service_class", "no such key",
                   "1 (heated indoors), 2 (under a roof) or 3 (outdoors), by which " +
                       std::string(grade.name) + " creeps; or k_def = ...");
  const CreepRow* const row = find_creep(grade.creeps_as, "");
  return service_class && row != nullptr ? row->by_class[*service_class - 1] : 0;
}

}  // namespace

void read_materials(RunDraft& draft, Walk& top) {
  for (auto& [name, table] : top.named_tables("material")) {
    Material material;
    const bool graded = table.has("grade");
    const TimberGrade* const grade = read_grade(table);
    const Need need = graded ? optional : required;
    const auto E = table.quantity("E", Kind::stress, need, Sign::positive);
    const auto G = table.quantity("G", Kind::stress, need, Sign::positive);
    material.E_Pa = E.value_or(grade != nullptr ? grade->E_Pa : 1);
    material.G_Pa = G.value_or(grade != nullptr ? grade->G_Pa : 1);
    if ((E || G) && material.G_Pa >= material.E_Pa && (grade != nullptr || (E && G)))
      table.complain("G", "a shear modulus below E (that of steel is about E/2.6, of wood E/16)");
    material.density_kg_per_m3 = table.quantity("density", Kind::density, need, Sign::positive)
                                     .value_or(grade != nullptr ? grade->density_kg_per_m3 : 0);
    material.expansion_per_K = table.quantity("expansion", Kind::expansion, optional, Sign::not_negative);
    material.creep = grade != nullptr ? read_creep_of(*grade, table) : read_creep(table);
    if (graded && grade == nullptr) table.know({"service_class"});
    table.close();
    draft.materials.emplace(name, material);
  }
}

}  // namespace hangtrue::sheet
