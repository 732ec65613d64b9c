// timber_grades.hpp: mean stiffness and density of timber by its strength class, so that nobody has to look them up.
//
// Source  EN 338:2016, Table 1, softwoods C14 to C50: E_m,0,mean, G_mean and rho_mean; seen in two public tables that quote it.
//         EN 338:2016, Table 3, hardwoods D18 to D80: the same; from memory, not checked against the standard (G is E / 16 to the printed
//         digit throughout, as the standard derives it).
//         EN 14080:2013, Tables 4 and 5, glued laminated timber GL20 to GL32, combined (c) and homogeneous (h): E_0,g,mean,
//         G_g,mean and rho_g,mean; from memory, not checked against the standard.
//         How it creeps: creep_table.hpp, "solid timber" and "glued laminated timber".
#pragma once

#include <span>
#include <string_view>

namespace hangtrue::sheet {

struct TimberGrade {
  std::string_view name;       // "C24", "GL24h"
  double E_Pa, G_Pa;           // along the grain
  double density_kg_per_m3;    // mean
  std::string_view creeps_as;  // material of the creep table
};

[[nodiscard]] std::span<const TimberGrade> timber_grades();
/// nullptr where there is none of that name.
[[nodiscard]] const TimberGrade* find_grade(std::string_view name);

}  // namespace hangtrue::sheet
