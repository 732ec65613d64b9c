#include "firmware-host/sheet/timber_grades.hpp"

#include <array>

namespace hangtrue::sheet {
namespace {

constexpr std::string_view kSolid = "solid timber", kGlulam = "glued laminated timber";

constexpr TimberGrade solid(std::string_view name, double E_MPa, double G_MPa, double density) {
  return {name, E_MPa * 1e6, G_MPa * 1e6, density, kSolid};
}
constexpr TimberGrade glulam(std::string_view name, double E_MPa, double density) {
  return {name, E_MPa * 1e6, 650e6, density, kGlulam};
}

constexpr std::array kGrades = {
    solid("C14", 7000, 440, 350),    solid("C16", 8000, 500, 370),    solid("C18", 9000, 560, 380),
    solid("C20", 9500, 590, 400),    solid("C22", 10000, 630, 410),   solid("C24", 11000, 690, 420),
    solid("C27", 11500, 720, 430),   solid("C30", 12000, 750, 460),   solid("C35", 13000, 810, 470),
    solid("C40", 14000, 880, 480),   solid("C45", 15000, 940, 490),   solid("C50", 16000, 1000, 520),
    solid("D18", 9500, 590, 570),    solid("D24", 10000, 630, 580),   solid("D27", 10500, 660, 610),
    solid("D30", 11000, 690, 640),   solid("D35", 12000, 750, 650),   solid("D40", 13000, 810, 660),
    solid("D45", 13500, 840, 700),   solid("D50", 14000, 880, 740),   solid("D55", 15500, 970, 790),
    solid("D60", 17000, 1060, 840),  solid("D65", 18500, 1160, 900),  solid("D70", 20000, 1250, 960),
    solid("D75", 22000, 1380, 1020), solid("D80", 24000, 1500, 1080), glulam("GL20h", 8400, 370),
    glulam("GL22h", 10500, 410),     glulam("GL24h", 11500, 420),     glulam("GL26h", 12100, 445),
    glulam("GL28h", 12600, 460),     glulam("GL30h", 13600, 480),     glulam("GL32h", 14200, 490),
    glulam("GL20c", 10400, 390),     glulam("GL22c", 10400, 390),     glulam("GL24c", 11000, 400),
    glulam("GL26c", 12000, 420),     glulam("GL28c", 12500, 420),     glulam("GL30c", 13000, 430),
    glulam("GL32c", 13500, 440),
};

}  // namespace

std::span<const TimberGrade> timber_grades() { return kGrades; }

const TimberGrade* find_grade(std::string_view name) {
  for (const TimberGrade& grade : kGrades)
    if (grade.name == name) return &grade;
  return nullptr;
}

}  // namespace hangtrue::sheet
