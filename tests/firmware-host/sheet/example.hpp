// example.hpp: a whole run sheet, for tests.
#pragma once

#include <string>

namespace hangtrue::sheet {

inline const std::string kExample = R"(title = "Reading-room bridge shelf"
show  = "metric"
length = "4200 mm"
width  = "380 mm"
stations = { every = "300 mm" }
[tolerance]
level = "1.5 mm"
stage = "in use"
confidence = 0.95
span_ratio = 360
[material.steel]
E = "210 GPa"
G = "81 GPa"
density = "7850 kg/m3"
[[member]]
name = "spine"
from = "0 mm"
to = "4200 mm"
material = "steel"
section = { shape = "hollow rectangle", depth = "80 mm", width = "40 mm", wall = "4 mm", corner = "8 mm" }
[[load]]
name = "carcasses"
from = "0 mm"
to = "4200 mm"
mass = "62 kg"
across = "20 mm"
sigma = 0.05
[[load]]
name = "books"
at = "2 m"
weight = "400 N"
[[support]]
name = "wall bracket"
at = "0 mm"
rise  = "12 kN/mm"
pitch = "18 kN m/rad"
roll  = "rigid"
holds = "both"
bolt_rows = { along = "120 mm", across = "150 mm" }
adjust = { by = "shims", stock = "van", rise = ["0 mm", "8 mm"], pitch = true, roll = true }
[[support]]
name = "east rod"
at = "3900 mm"
rise = "9 kN/mm"
pitch = "free"
roll = "free"
holds = "pull"
adjust = { by = "rod", thread = "1.75 mm", step = "1/4 turn", rise = ["-10 mm", "10 mm"] }
[[stage]]
name = "hung"
supports = ["wall bracket", "east rod"]
loads = ["spine", "carcasses"]
[[stage]]
name = "in use"
supports = ["wall bracket", "east rod"]
loads = ["spine", "carcasses", "books"]
[stock.van]
pieces = [ { thickness = "0.5 mm", count = 12 }, { thickness = "1 mm", count = 12 }, { thickness = "3 mm", count = 6 } ]
most = 4
)";

}  // namespace hangtrue::sheet
