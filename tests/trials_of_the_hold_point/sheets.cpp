#include "tests/trials_of_the_hold_point/sheets.hpp"

#include <stdexcept>

namespace hangtrue::hold_trials {
namespace {

// ---- kits ------------------------------------------------------------------------------------------------------------

const std::string kInclinometer = R"(
[[instrument]]
name = "walking inclinometer"
port = "/dev/serial/by-id/walking-inclinometer"
speaks = "xdr"
[[instrument.channel]]
transducer = "PITCH"
gives = "slope"
base = "250 mm"
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
CHECKED
[[instrument.channel]]
transducer = "ROLL"
gives = "roll"
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
CHECKED
)";

const std::string kRoughInclinometer = R"(
[[instrument]]
name = "walking inclinometer"
port = "/dev/serial/by-id/walking-inclinometer"
speaks = "xdr"
[[instrument.channel]]
transducer = "PITCH"
gives = "slope"
base = "12 in"
sigma = "0.0005 in/ft"
zero_sigma = "0.005 in/ft"
CHECKED
[[instrument.channel]]
transducer = "ROLL"
gives = "roll"
sigma = "0.0005 in/ft"
zero_sigma = "0.005 in/ft"
CHECKED
)";

const std::string kLaser = R"(
[[instrument]]
name = "laser"
port = "/dev/serial/by-id/laser"
speaks = "line"
[[instrument.channel]]
transducer = "{number} mm"
unit = "mm"
gives = "distance"
sigma = "0.2 mm"
CHECKED
)";

const std::string kLaserInInches = R"(
[[instrument]]
name = "laser"
port = "/dev/serial/by-id/laser"
speaks = "line"
[[instrument.channel]]
transducer = "{number} in"
unit = "in"
gives = "distance"
sigma = "0.008 in"
CHECKED
)";

// ---- runs ------------------------------------------------------------------------------------------------------------

const std::string kMetric = R"(
[prior]
bending = 0.04
torsion = 0.10
bow = "0.8 mm"
datum_tilt = "0.2 mm/m"
[material.steel]
E = "210 GPa"
G = "81 GPa"
density = "7850 kg/m3"
[stock.van]
pieces = [ { thickness = "0.5 mm", count = 16 }, { thickness = "1 mm", count = 16 }, { thickness = "3 mm", count = 12 } ]
most = 4
)";

const std::string kImperial = R"(
[prior]
bending = 0.04
torsion = 0.10
bow = "1/32 in"
datum_tilt = "0.0024 in/ft"
[material.steel]
E = "29000 ksi"
G = "11200 ksi"
density = "490 lb/ft3"
[stock.box]
pieces = [ { thickness = "1/64 in", count = 16 }, { thickness = "1/32 in", count = 16 }, { thickness = "1/8 in", count = 12 } ]
most = 4
)";

// A bracket and one rod.
const std::string kCounterShelf = R"(
title = "Shelf over a counter"
length = "3600 mm"
width = "360 mm"
stations = { every = "300 mm" }
tolerance = { level = "2 mm", stage = "in use" }
member = [ { name = "spine", from = "0 mm", to = "3600 mm", material = "steel", section = { shape = "hollow rectangle", depth = "140 mm", width = "70 mm", wall = "5 mm", corner = "10 mm" } } ]
load = [
  { name = "carcasses", from = "0 mm", to = "3600 mm", mass = "50 kg", across = "20 mm", sigma = 0.05 },
  { name = "doors", from = "300 mm", to = "3300 mm", mass = "20 kg", across = "-120 mm", sigma = 0.03 },
  { name = "books", from = "300 mm", to = "3300 mm", mass = "60 kg", across = "-10 mm", sigma = 0.10 } ]
support = [
  { name = "wall bracket", at = "0 mm", rise = "25 kN/mm", pitch = "60 kN m/rad", roll = "40 kN m/rad", bolt_rows = { along = "120 mm", across = "150 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", pitch = "3 mm/m", roll = "3 mm/m", spring = 0.15 } },
  { name = "east rod", at = "3400 mm", rise = "9 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.75 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "3 mm", spring = 0.15 } },
  { name = "west lift", at = "800 mm", rise = "4 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "4 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "east lift", at = "2800 mm", rise = "4 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "4 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["west lift", "east lift"], loads = ["spine", "carcasses"] },
  { name = "first fixed", supports = ["wall bracket", "east lift"], loads = ["spine", "carcasses"] },
  { name = "bolted", supports = ["wall bracket", "east rod"], loads = ["spine", "carcasses"] },
  { name = "dressed", supports = ["wall bracket", "east rod"], loads = ["spine", "carcasses", "doors"] },
  { name = "in use", supports = ["wall bracket", "east rod"], loads = ["spine", "carcasses", "doors", "books"] } ]
)";

// A bracket and two rods.
const std::string kCabinetRow = R"(
title = "Cabinet row on two rods"
length = "4500 mm"
width = "320 mm"
stations = { every = "375 mm" }
tolerance = { level = "2 mm", stage = "in use" }
member = [ { name = "rail", from = "0 mm", to = "4500 mm", material = "steel", section = { shape = "hollow rectangle", depth = "120 mm", width = "60 mm", wall = "5 mm", corner = "10 mm" } } ]
load = [
  { name = "cabinets", from = "0 mm", to = "4500 mm", mass = "85 kg", across = "15 mm", sigma = 0.05 },
  { name = "fronts", from = "0 mm", to = "4500 mm", mass = "30 kg", across = "-110 mm", sigma = 0.04 },
  { name = "crockery", from = "200 mm", to = "4300 mm", mass = "110 kg", sigma = 0.12 } ]
support = [
  { name = "wall bracket", at = "0 mm", rise = "30 kN/mm", pitch = "40 kN m/rad", roll = "40 kN m/rad", bolt_rows = { along = "100 mm", across = "140 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", pitch = "2 mm/m", roll = "3 mm/m", spring = 0.15 } },
  { name = "near rod", at = "2300 mm", rise = "10 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.5 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "far rod", at = "4300 mm", rise = "10 kN/mm", pitch = "free", roll = "30 kN m/rad", holds = "pull", fit_up = "0.3 mm", adjust = { by = "rod", thread = "1.5 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "near lift", at = "900 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "4 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "far lift", at = "3600 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "4 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["near lift", "far lift"], loads = ["rail", "cabinets"] },
  { name = "first fixed", supports = ["wall bracket", "far lift"], loads = ["rail", "cabinets"] },
  { name = "bolted", supports = ["wall bracket", "near rod", "far rod"], loads = ["rail", "cabinets"] },
  { name = "dressed", supports = ["wall bracket", "near rod", "far rod"], loads = ["rail", "cabinets", "fronts"] },
  { name = "in use", supports = ["wall bracket", "near rod", "far rod"], loads = ["rail", "cabinets", "fronts", "crockery"] } ]
)";

// A bracket and three rods; three lifts.
const std::string kBarCanopy = R"(
title = "Canopy on three rods"
length = "5600 mm"
width = "400 mm"
stations = { every = "400 mm" }
tolerance = { level = "2.5 mm", stage = "in use" }
member = [ { name = "beam", from = "0 mm", to = "5600 mm", material = "steel", section = { shape = "hollow rectangle", depth = "120 mm", width = "60 mm", wall = "5 mm", corner = "10 mm" } } ]
load = [
  { name = "racks", from = "0 mm", to = "5600 mm", mass = "90 kg", across = "10 mm", sigma = 0.05 },
  { name = "lights", from = "400 mm", to = "5200 mm", mass = "18 kg", sigma = 0.05 },
  { name = "bottles", from = "400 mm", to = "5200 mm", mass = "140 kg", across = "-8 mm", sigma = 0.10 } ]
support = [
  { name = "wall bracket", at = "0 mm", rise = "25 kN/mm", pitch = "free", roll = "45 kN m/rad", bolt_rows = { across = "150 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", roll = "3 mm/m", spring = 0.15 } },
  { name = "rod one", at = "1900 mm", rise = "10 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.75 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "rod two", at = "3700 mm", rise = "10 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.75 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "rod three", at = "5400 mm", rise = "10 kN/mm", pitch = "free", roll = "30 kN m/rad", holds = "pull", adjust = { by = "rod", thread = "1.75 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "lift one", at = "700 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "lift two", at = "2700 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "lift three", at = "4900 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["lift one", "lift two", "lift three"], loads = ["beam", "racks"] },
  { name = "first fixed", supports = ["wall bracket", "lift two", "lift three"], loads = ["beam", "racks"] },
  { name = "bolted", supports = ["wall bracket", "rod one", "rod two", "rod three"], loads = ["beam", "racks"] },
  { name = "dressed", supports = ["wall bracket", "rod one", "rod two", "rod three"], loads = ["beam", "racks", "lights"] },
  { name = "in use", supports = ["wall bracket", "rod one", "rod two", "rod three"], loads = ["beam", "racks", "lights", "bottles"] } ]
)";

// Nothing but four rods.
const std::string kHangingRow = R"(
title = "Row on four rods"
length = "6000 mm"
width = "300 mm"
stations = { every = "500 mm" }
tolerance = { level = "2.5 mm", stage = "in use" }
member = [ { name = "rail", from = "0 mm", to = "6000 mm", material = "steel", section = { shape = "hollow rectangle", depth = "100 mm", width = "60 mm", wall = "5 mm", corner = "10 mm" } } ]
load = [
  { name = "boxes", from = "0 mm", to = "6000 mm", mass = "120 kg", across = "10 mm", sigma = 0.05 },
  { name = "doors", from = "0 mm", to = "6000 mm", mass = "40 kg", across = "-60 mm", sigma = 0.05 },
  { name = "goods", from = "200 mm", to = "5800 mm", mass = "120 kg", sigma = 0.10 } ]
support = [
  { name = "rod one", at = "200 mm", rise = "12 kN/mm", pitch = "free", roll = "25 kN m/rad", holds = "pull", adjust = { by = "rod", thread = "1.5 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "rod two", at = "2000 mm", rise = "12 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.5 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "rod three", at = "4000 mm", rise = "12 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.5 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "rod four", at = "5800 mm", rise = "12 kN/mm", pitch = "free", roll = "25 kN m/rad", holds = "pull", adjust = { by = "rod", thread = "1.5 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "west lift", at = "1000 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "east lift", at = "5000 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["west lift", "east lift"], loads = ["rail", "boxes"] },
  { name = "bolted", supports = ["rod one", "rod two", "rod three", "rod four"], loads = ["rail", "boxes"] },
  { name = "dressed", supports = ["rod one", "rod two", "rod three", "rod four"], loads = ["rail", "boxes", "doors"] },
  { name = "in use", supports = ["rod one", "rod two", "rod three", "rod four"], loads = ["rail", "boxes", "doors", "goods"] } ]
)";

// Rigid bracket and rigid post; three lifts.
const std::string kReadingTable = R"(
title = "Bridge between a wall and a post"
length = "4200 mm"
width = "380 mm"
stations = { every = "300 mm" }
tolerance = { level = "2 mm", stage = "in use" }
member = [ { name = "spine", from = "0 mm", to = "4200 mm", material = "steel", section = { shape = "hollow rectangle", depth = "160 mm", width = "80 mm", wall = "5 mm", corner = "10 mm" } } ]
load = [
  { name = "carcasses", from = "0 mm", to = "4200 mm", mass = "62 kg", across = "20 mm", sigma = 0.05 },
  { name = "doors", from = "300 mm", to = "3900 mm", mass = "24 kg", across = "-150 mm", sigma = 0.03 },
  { name = "books", from = "300 mm", to = "3900 mm", mass = "70 kg", across = "-10 mm", sigma = 0.10 } ]
support = [
  { name = "wall bracket", at = "0 mm", rise = "rigid", pitch = "rigid", roll = "rigid", bolt_rows = { along = "120 mm", across = "150 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], pitch = true, roll = true }, prior = { rise = "3 mm", pitch = "2 mm/m", roll = "3 mm/m" } },
  { name = "post plate", at = "4000 mm", rise = "rigid", pitch = "free", roll = "rigid", bolt_rows = { across = "120 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", roll = "3 mm/m" } },
  { name = "lift one", at = "500 mm", rise = "4 kN/mm", pitch = "free", roll = "60 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "lift two", at = "2100 mm", rise = "4 kN/mm", pitch = "free", roll = "60 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "lift three", at = "3700 mm", rise = "4 kN/mm", pitch = "free", roll = "60 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["lift one", "lift two", "lift three"], loads = ["spine", "carcasses"] },
  { name = "first fixed", supports = ["wall bracket", "lift two", "lift three"], loads = ["spine", "carcasses"] },
  { name = "bolted", supports = ["wall bracket", "post plate"], loads = ["spine", "carcasses"] },
  { name = "dressed", supports = ["wall bracket", "post plate"], loads = ["spine", "carcasses", "doors"] },
  { name = "in use", supports = ["wall bracket", "post plate"], loads = ["spine", "carcasses", "doors", "books"] } ]
)";

// Three seats that only push.
const std::string kOnSeats = R"(
title = "Worktop on three seats"
length = "3200 mm"
width = "340 mm"
stations = { every = "320 mm" }
tolerance = { level = "2 mm", stage = "in use" }
member = [ { name = "frame", from = "0 mm", to = "3200 mm", material = "steel", section = { shape = "hollow rectangle", depth = "80 mm", width = "60 mm", wall = "4 mm", corner = "8 mm" } } ]
load = [
  { name = "top", from = "0 mm", to = "3200 mm", mass = "120 kg", across = "10 mm", sigma = 0.04 },
  { name = "sink", at = "900 mm", mass = "35 kg", across = "-30 mm", sigma = 0.05 },
  { name = "use", from = "200 mm", to = "3000 mm", mass = "80 kg", sigma = 0.15 } ]
support = [
  { name = "west seat", at = "100 mm", rise = "20 kN/mm", pitch = "free", roll = "30 kN m/rad", holds = "push", bolt_rows = { across = "200 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "2 mm", roll = "3 mm/m", spring = 0.15 } },
  { name = "middle seat", at = "1700 mm", rise = "20 kN/mm", pitch = "free", roll = "free", holds = "push", adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "east seat", at = "3100 mm", rise = "20 kN/mm", pitch = "free", roll = "30 kN m/rad", holds = "push", bolt_rows = { across = "200 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "2 mm", roll = "3 mm/m", spring = 0.15 } },
  { name = "west lift", at = "600 mm", rise = "4 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "east lift", at = "2600 mm", rise = "4 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["west lift", "east lift"], loads = ["frame", "top"] },
  { name = "on its seats", supports = ["west seat", "middle seat", "east seat"], loads = ["frame", "top"] },
  { name = "dressed", supports = ["west seat", "middle seat", "east seat"], loads = ["frame", "top", "sink"] },
  { name = "in use", supports = ["west seat", "middle seat", "east seat"], loads = ["frame", "top", "sink", "use"] } ]
)";

// A flange that is pulled home to a wall.
const std::string kFlange = R"(
title = "Shelf with a flange pulled home"
length = "3300 mm"
width = "320 mm"
stations = { every = "300 mm" }
tolerance = { level = "2.5 mm", stage = "in use" }
member = [ { name = "spine", from = "0 mm", to = "3300 mm", material = "steel", section = { shape = "hollow rectangle", depth = "120 mm", width = "80 mm", wall = "5 mm", corner = "10 mm" } } ]
load = [
  { name = "boxes", from = "0 mm", to = "3300 mm", mass = "48 kg", across = "15 mm", sigma = 0.05 },
  { name = "doors", from = "300 mm", to = "3000 mm", mass = "20 kg", across = "-110 mm", sigma = 0.03 },
  { name = "books", from = "300 mm", to = "3000 mm", mass = "50 kg", sigma = 0.10 } ]
support = [
  { name = "flange", at = "0 mm", rise = "30 kN/mm", pitch = "20 kN m/rad", roll = "40 kN m/rad", pulled_home = ["pitch"], fit_up = { rise = "0.4 mm", pitch = "0.8 mm/m" }, bolt_rows = { along = "120 mm", across = "150 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], pitch = true, roll = true }, prior = { rise = "3 mm", pitch = "2 mm/m", roll = "3 mm/m", spring = 0.15 } },
  { name = "post", at = "3000 mm", rise = "14 kN/mm", pitch = "free", roll = "20 kN m/rad", bolt_rows = { across = "120 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "west lift", at = "700 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "east lift", at = "2500 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["west lift", "east lift"], loads = ["spine", "boxes"] },
  { name = "first fixed", supports = ["west lift", "post"], loads = ["spine", "boxes"] },
  { name = "bolted", supports = ["flange", "post"], loads = ["spine", "boxes"] },
  { name = "dressed", supports = ["flange", "post"], loads = ["spine", "boxes", "doors"] },
  { name = "in use", supports = ["flange", "post"], loads = ["spine", "boxes", "doors", "books"] } ]
)";

// Two rails side by side, springy brackets at both ends, a rod between them.
const std::string kTwoRails = R"(
title = "Two rails between brackets"
length = "5000 mm"
width = "420 mm"
stations = { every = "500 mm" }
tolerance = { level = "2 mm", stage = "in use" }
member = [
  { name = "left rail", from = "0 mm", to = "5000 mm", material = "steel", section = { shape = "hollow rectangle", depth = "100 mm", width = "50 mm", wall = "4 mm", corner = "8 mm" } },
  { name = "right rail", from = "0 mm", to = "5000 mm", material = "steel", section = { shape = "hollow rectangle", depth = "100 mm", width = "50 mm", wall = "4 mm", corner = "8 mm" } } ]
load = [
  { name = "trays", from = "0 mm", to = "5000 mm", mass = "80 kg", sigma = 0.05 },
  { name = "lamp", at = "1500 mm", mass = "12 kg", across = "60 mm", sigma = 0.05 },
  { name = "plants", from = "500 mm", to = "4500 mm", mass = "90 kg", across = "20 mm", sigma = 0.12 } ]
support = [
  { name = "west bracket", at = "0 mm", rise = "20 kN/mm", pitch = "30 kN m/rad", roll = "30 kN m/rad", bolt_rows = { across = "150 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", pitch = "2 mm/m", roll = "3 mm/m", spring = 0.2 } },
  { name = "east bracket", at = "5000 mm", rise = "20 kN/mm", pitch = "30 kN m/rad", roll = "30 kN m/rad", bolt_rows = { across = "150 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", pitch = "2 mm/m", roll = "3 mm/m", spring = 0.2 } },
  { name = "middle rod", at = "2600 mm", rise = "8 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.5 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "near lift", at = "1200 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "far lift", at = "3900 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "3 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["near lift", "far lift"], loads = ["left rail", "right rail", "trays"] },
  { name = "first fixed", supports = ["west bracket", "far lift"], loads = ["left rail", "right rail", "trays"] },
  { name = "bolted", supports = ["west bracket", "east bracket", "middle rod"], loads = ["left rail", "right rail", "trays"] },
  { name = "dressed", supports = ["west bracket", "east bracket", "middle rod"], loads = ["left rail", "right rail", "trays", "lamp"] },
  { name = "in use", supports = ["west bracket", "east bracket", "middle rod"], loads = ["left rail", "right rail", "trays", "lamp", "plants"] } ]
)";

// In inches: a bracket and a post.
const std::string kBackBar = R"(
title = "Back bar"
show = "imperial"
length = "10 ft"
width = "14 in"
stations = { every = "12 in" }
tolerance = { level = "5/64 in", stage = "in use" }
member = [ { name = "beam", from = "0 in", to = "10 ft", material = "steel", section = { shape = "hollow rectangle", depth = "5 in", width = "3 in", wall = "3/16 in", corner = "3/8 in" } } ]
load = [
  { name = "racks", from = "0 in", to = "10 ft", mass = "110 lb", across = "3/4 in", sigma = 0.05 },
  { name = "glass", from = "6 in", to = "9 ft", mass = "40 lb", across = "-3 in", sigma = 0.05 },
  { name = "bottles", from = "6 in", to = "9 ft", mass = "150 lb", sigma = 0.10 } ]
support = [
  { name = "end bracket", at = "0 in", rise = "140000 lbf/in", pitch = "530000 lbf in/rad", roll = "400000 lbf in/rad", bolt_rows = { along = "5 in", across = "6 in" }, adjust = { by = "shims", stock = "box", rise = ["0 in", "3/8 in"], roll = true }, prior = { rise = "1/8 in", pitch = "0.03 in/ft", roll = "0.15 deg", spring = 0.15 } },
  { name = "ceiling post", at = "9 ft 4 in", rise = "60000 lbf/in", pitch = "free", roll = "300000 lbf in/rad", bolt_rows = { across = "5 in" }, adjust = { by = "shims", stock = "box", rise = ["0 in", "3/8 in"], roll = true }, prior = { rise = "1/8 in", roll = "0.15 deg", spring = 0.15 } },
  { name = "near lift", at = "2 ft 6 in", rise = "22000 lbf/in", pitch = "free", roll = "500000 lbf in/rad", holds = "push", adjust = { by = "lift", step = "1/32 in", rise = ["-3/8 in", "3/8 in"] }, prior = { rise = "1/8 in", roll = "0.1 deg", spring = 0.15 } },
  { name = "far lift", at = "8 ft", rise = "22000 lbf/in", pitch = "free", roll = "500000 lbf in/rad", holds = "push", adjust = { by = "lift", step = "1/32 in", rise = ["-3/8 in", "3/8 in"] }, prior = { rise = "1/8 in", roll = "0.1 deg", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["near lift", "far lift"], loads = ["beam", "racks"] },
  { name = "first fixed", supports = ["end bracket", "far lift"], loads = ["beam", "racks"] },
  { name = "bolted", supports = ["end bracket", "ceiling post"], loads = ["beam", "racks"] },
  { name = "dressed", supports = ["end bracket", "ceiling post"], loads = ["beam", "racks", "glass"] },
  { name = "in use", supports = ["end bracket", "ceiling post"], loads = ["beam", "racks", "glass", "bottles"] } ]
)";

// In inches: a rigid bracket and two rods; three lifts.
const std::string kSignBeam = R"(
title = "Sign beam"
show = "imperial"
length = "15 ft"
width = "12 in"
stations = { every = "15 in" }
tolerance = { level = "3/32 in", stage = "in use" }
member = [ { name = "beam", from = "0 in", to = "15 ft", material = "steel", section = { shape = "hollow rectangle", depth = "5 in", width = "3 in", wall = "3/16 in", corner = "3/8 in" } } ]
load = [
  { name = "boxes", from = "0 in", to = "15 ft", mass = "180 lb", across = "1/2 in", sigma = 0.05 },
  { name = "panels", from = "6 in", to = "14 ft", mass = "70 lb", across = "-2 in", sigma = 0.05 },
  { name = "lamps", from = "6 in", to = "14 ft", mass = "120 lb", sigma = 0.10 } ]
support = [
  { name = "end bracket", at = "0 in", rise = "rigid", pitch = "300000 lbf in/rad", roll = "rigid", bolt_rows = { across = "6 in" }, adjust = { by = "shims", stock = "box", rise = ["0 in", "3/8 in"], roll = true }, prior = { rise = "1/8 in", pitch = "0.03 in/ft", roll = "0.15 deg", spring = 0.15 } },
  { name = "rod one", at = "7 ft", rise = "55000 lbf/in", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1/13 in", step = "1/4 turn", rise = ["-1/4 in", "1/4 in"] }, prior = { rise = "1/12 in", spring = 0.15 } },
  { name = "rod two", at = "14 ft", rise = "55000 lbf/in", pitch = "free", roll = "250000 lbf in/rad", holds = "pull", adjust = { by = "rod", thread = "1/13 in", step = "1/4 turn", rise = ["-1/4 in", "1/4 in"] }, prior = { rise = "1/12 in", roll = "0.1 deg", spring = 0.15 } },
  { name = "lift one", at = "2 ft", rise = "25000 lbf/in", pitch = "free", roll = "500000 lbf in/rad", holds = "push", adjust = { by = "lift", step = "1/32 in", rise = ["-3/8 in", "3/8 in"] }, prior = { rise = "1/10 in", roll = "0.1 deg", spring = 0.15 } },
  { name = "lift two", at = "7 ft 6 in", rise = "25000 lbf/in", pitch = "free", roll = "500000 lbf in/rad", holds = "push", adjust = { by = "lift", step = "1/32 in", rise = ["-3/8 in", "3/8 in"] }, prior = { rise = "1/10 in", roll = "0.1 deg", spring = 0.15 } },
  { name = "lift three", at = "13 ft", rise = "25000 lbf/in", pitch = "free", roll = "500000 lbf in/rad", holds = "push", adjust = { by = "lift", step = "1/32 in", rise = ["-3/8 in", "3/8 in"] }, prior = { rise = "1/10 in", roll = "0.1 deg", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["lift one", "lift two", "lift three"], loads = ["beam", "boxes"] },
  { name = "first fixed", supports = ["end bracket", "lift two", "lift three"], loads = ["beam", "boxes"] },
  { name = "bolted", supports = ["end bracket", "rod one", "rod two"], loads = ["beam", "boxes"] },
  { name = "dressed", supports = ["end bracket", "rod one", "rod two"], loads = ["beam", "boxes", "panels"] },
  { name = "in use", supports = ["end bracket", "rod one", "rod two"], loads = ["beam", "boxes", "panels", "lamps"] } ]
)";

// In inches: rigid brackets at both ends, a springy post between them.
const std::string kBetweenWalls = R"(
title = "Beam between two walls"
show = "imperial"
length = "13 ft"
width = "15 in"
stations = { every = "13 in" }
tolerance = { level = "5/64 in", stage = "in use" }
member = [ { name = "beam", from = "0 in", to = "13 ft", material = "steel", section = { shape = "hollow rectangle", depth = "4 in", width = "3 in", wall = "3/16 in", corner = "3/8 in" } } ]
load = [
  { name = "shelves", from = "0 in", to = "13 ft", mass = "150 lb", across = "1/2 in", sigma = 0.05 },
  { name = "glass", from = "6 in", to = "12 ft", mass = "50 lb", across = "-2 in", sigma = 0.05 },
  { name = "records", from = "6 in", to = "12 ft", mass = "220 lb", sigma = 0.10 } ]
support = [
  { name = "west bracket", at = "0 in", rise = "rigid", pitch = "rigid", roll = "rigid", bolt_rows = { along = "5 in", across = "6 in" }, adjust = { by = "shims", stock = "box", rise = ["0 in", "3/8 in"], roll = true }, prior = { rise = "1/10 in", pitch = "0.02 in/ft", roll = "0.15 deg" } },
  { name = "east bracket", at = "13 ft", rise = "rigid", pitch = "free", roll = "rigid", bolt_rows = { along = "5 in", across = "6 in" }, adjust = { by = "shims", stock = "box", rise = ["0 in", "3/8 in"], roll = true }, prior = { rise = "1/10 in", roll = "0.15 deg" } },
  { name = "post", at = "6 ft", rise = "40000 lbf/in", pitch = "free", roll = "free", holds = "push", adjust = { by = "shims", stock = "box", rise = ["0 in", "3/8 in"] }, prior = { rise = "1/16 in", spring = 0.2 } },
  { name = "near lift", at = "3 ft", rise = "22000 lbf/in", pitch = "free", roll = "500000 lbf in/rad", holds = "push", adjust = { by = "lift", step = "1/32 in", rise = ["-3/8 in", "3/8 in"] }, prior = { rise = "1/8 in", roll = "0.1 deg", spring = 0.15 } },
  { name = "far lift", at = "10 ft", rise = "22000 lbf/in", pitch = "free", roll = "500000 lbf in/rad", holds = "push", adjust = { by = "lift", step = "1/32 in", rise = ["-3/8 in", "3/8 in"] }, prior = { rise = "1/8 in", roll = "0.1 deg", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["near lift", "far lift"], loads = ["beam", "shelves"] },
  { name = "first fixed", supports = ["west bracket", "far lift"], loads = ["beam", "shelves"] },
  { name = "bolted", supports = ["west bracket", "east bracket", "post"], loads = ["beam", "shelves"] },
  { name = "dressed", supports = ["west bracket", "east bracket", "post"], loads = ["beam", "shelves", "glass"] },
  { name = "in use", supports = ["west bracket", "east bracket", "post"], loads = ["beam", "shelves", "glass", "records"] } ]
)";

// A bracket, a rod and a post plate; three lifts; thinner before the rod than behind it.
const std::string kStepped = R"(
title = "Stepped rail"
length = "4800 mm"
width = "350 mm"
stations = ["0 mm", "300 mm", "800 mm", "1200 mm", "1600 mm", "2100 mm", "2400 mm", "2900 mm", "3300 mm", "3700 mm", "4100 mm", "4500 mm", "4800 mm"]
tolerance = { level = "2 mm", stage = "in use" }
member = [
  { name = "thin rail", from = "0 mm", to = "1800 mm", material = "steel", section = { shape = "hollow rectangle", depth = "100 mm", width = "60 mm", wall = "5 mm", corner = "10 mm" } },
  { name = "deep rail", from = "1800 mm", to = "4800 mm", material = "steel", section = { shape = "hollow rectangle", depth = "140 mm", width = "60 mm", wall = "5 mm", corner = "10 mm" } } ]
load = [
  { name = "cases", from = "0 mm", to = "4800 mm", mass = "85 kg", across = "15 mm", sigma = 0.05 },
  { name = "fronts", from = "1000 mm", to = "4600 mm", mass = "26 kg", across = "-120 mm", sigma = 0.04 },
  { name = "stores", from = "200 mm", to = "4600 mm", mass = "100 kg", sigma = 0.12 } ]
support = [
  { name = "bracket", at = "0 mm", rise = "rigid", pitch = "free", roll = "35 kN m/rad", bolt_rows = { across = "150 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], roll = true }, prior = { rise = "3 mm", roll = "3 mm/m", spring = 0.15 } },
  { name = "rod", at = "1800 mm", rise = "9 kN/mm", pitch = "free", roll = "free", holds = "pull", adjust = { by = "rod", thread = "1.75 mm", step = "1/4 turn", rise = ["-6 mm", "6 mm"] }, prior = { rise = "2 mm", spring = 0.15 } },
  { name = "post plate", at = "4600 mm", rise = "20 kN/mm", pitch = "50 kN m/rad", roll = "30 kN m/rad", bolt_rows = { along = "120 mm", across = "120 mm" }, adjust = { by = "shims", stock = "van", rise = ["0 mm", "10 mm"], pitch = true, roll = true }, prior = { rise = "3 mm", pitch = "3 mm/m", roll = "3 mm/m", spring = 0.15 } },
  { name = "lift one", at = "600 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "lift two", at = "2400 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } },
  { name = "lift three", at = "4200 mm", rise = "5 kN/mm", pitch = "free", roll = "50 kN m/rad", holds = "push", adjust = { by = "lift", step = "1 mm", rise = ["-10 mm", "10 mm"] }, prior = { rise = "2 mm", roll = "2 mm/m", spring = 0.15 } } ]
stage = [
  { name = "on lifts", supports = ["lift one", "lift two", "lift three"], loads = ["thin rail", "deep rail", "cases"] },
  { name = "first fixed", supports = ["bracket", "lift two", "lift three"], loads = ["thin rail", "deep rail", "cases"] },
  { name = "bolted", supports = ["bracket", "rod", "post plate"], loads = ["thin rail", "deep rail", "cases"] },
  { name = "dressed", supports = ["bracket", "rod", "post plate"], loads = ["thin rail", "deep rail", "cases", "fronts"] },
  { name = "in use", supports = ["bracket", "rod", "post plate"], loads = ["thin rail", "deep rail", "cases", "fronts", "stores"] } ]
)";

[[noreturn]] void complain(const std::vector<sheet::Complaint>& complaints) {
  throw std::runtime_error(sheet::text(complaints));
}

}  // namespace

const std::vector<TrialSheet>& trial_sheets() {
  const auto both = kInclinometer + kLaser, both_imperial = kRoughInclinometer + kLaserInInches;
  const std::vector<std::string> lifts{"on lifts"}, before{"on lifts", "first fixed"};
  static const std::vector<TrialSheet> all{
      {"counter shelf", kCounterShelf + kMetric, kInclinometer, before, "bolted"},
      {"cabinet row", kCabinetRow + kMetric, both, before, "bolted"},
      {"bar canopy", kBarCanopy + kMetric, kInclinometer, before, "bolted"},
      {"hanging row", kHangingRow + kMetric, both, lifts, "bolted"},
      {"reading table", kReadingTable + kMetric, kInclinometer, before, "bolted"},
      {"on seats", kOnSeats + kMetric, kInclinometer, lifts, "on its seats"},
      {"flange", kFlange + kMetric, both, before, "bolted"},
      {"two rails", kTwoRails + kMetric, kInclinometer, before, "bolted"},
      {"back bar", kBackBar + kImperial, kRoughInclinometer, before, "bolted"},
      {"sign beam", kSignBeam + kImperial, both_imperial, before, "bolted"},
      {"between walls", kBetweenWalls + kImperial, both_imperial, before, "bolted"},
      {"stepped rail", kStepped + kMetric, kInclinometer, before, "bolted"},
  };
  return all;
}

sheet::RunSheet read_run(const TrialSheet& from) {
  auto read = sheet::parse_run_sheet(from.run, from.name);
  if (!read.sheet) complain(read.complaints);
  return std::move(*read.sheet);
}

std::string kit_text(const TrialSheet& from, bool scale_checked) {
  std::string text = from.kit;
  const std::string mark = "CHECKED", line = scale_checked ? "scale_checked = 2026-11-02" : "";
  for (std::size_t at = text.find(mark); at != std::string::npos; at = text.find(mark, at + line.size()))
    text.replace(at, mark.size(), line);
  return text;
}

sheet::KitSheet read_kit(const TrialSheet& from, const sheet::RunSheet& run, bool scale_checked) {
  auto read = sheet::parse_kit_sheet(kit_text(from, scale_checked), from.name + ", kit", run);
  if (!read.sheet) complain(read.complaints);
  return std::move(*read.sheet);
}

}  // namespace hangtrue::hold_trials
